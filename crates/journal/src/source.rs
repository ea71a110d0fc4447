//! Where takes are copied from.

use std::fs;
use std::io::{self, Read, Write};
use std::path::Path;

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::reader::Shelf;
use crate::take_file::{TAKE, is_of_a_take};
use crate::take_id::TakeId;
use crate::tasks::WrittenTasks;
use disk::{Disk, Fresh, HIDDEN};

/// What went out of a journal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exported {
    /// How many takes.
    pub takes: usize,
    /// What is damaged, and went out as it is, and what stayed here, in words.
    pub told: Vec<String>,
}

/// Why a file of a take could not be copied.
pub(crate) enum CopyFault {
    /// It cannot be read where it comes from: other takes there may be whole.
    There(JournalError),
    /// It cannot be written here: nor can any other.
    Here(JournalError),
}

impl From<CopyFault> for JournalError {
    fn from(fault: CopyFault) -> Self {
        match fault {
            CopyFault::There(error) | CopyFault::Here(error) => error,
        }
    }
}

/// Where takes come from.
pub(crate) trait Source {
    /// Its takes, in the order of names.
    fn ids(&self) -> Vec<TakeId>;
    /// All but the sound of one.
    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError>;
    /// The files of one, and in words what lies beside them that a take does not have.
    fn files(&mut self, id: &TakeId) -> Result<(Vec<String>, Vec<String>), JournalError>;
    /// Copies a file of one.
    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault>;
    /// The tasks of its players.
    fn tasks(&mut self) -> Result<WrittenTasks, JournalError>;
}

/// A shelf as a source.
pub(crate) struct Folders {
    pub shelf: Shelf,
    /// Whether links are followed: in one's own journal they were made by its owner.
    pub own: bool,
}

impl Folders {
    /// Whether the takes of a name are reached by no link, or links are followed.
    pub(crate) fn reaches(&self, id: &TakeId) -> bool {
        let take = self.shelf.0.path(id);
        self.own || ![&take, disk::folder_of(&take)].into_iter().any(|path| path.is_symlink())
    }
}

impl Folders {
    fn ordinary(&self, path: &Path) -> io::Result<()> {
        if self.own { Ok(()) } else { disk::file_itself(path) }
    }
}

impl Source for Folders {
    fn ids(&self) -> Vec<TakeId> {
        let entries = self.shelf.entries();
        let reached = entries.iter().filter(|entry| self.reaches(&entry.id));
        reached.map(|entry| entry.id.clone()).collect()
    }

    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError> {
        let path = self.shelf.0.path(id).join(TAKE);
        self.ordinary(&path).map_err(|error| JournalError::reading(&error, &path))?;
        self.shelf.take(id)
    }

    fn files(&mut self, id: &TakeId) -> Result<(Vec<String>, Vec<String>), JournalError> {
        files(&self.shelf.0.path(id), self.own)
    }

    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault> {
        let from = self.shelf.0.path(id).join(file);
        let there = |error| CopyFault::There(JournalError::reading(&error, &from));
        let mut file = self.ordinary(&from).and_then(|()| disk::open(&from)).map_err(there)?;
        copied(disk, to, |out| pour(&mut file, out, there, to))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let tasks = self.shelf.tasks();
        let path = tasks.path();
        if disk::is_there(path) {
            self.ordinary(path).map_err(|error| JournalError::reading(&error, path))?;
        }
        tasks.read()?.checked(path)
    }
}

/// Makes a file of what `fill` writes, and sees to it that it stays.
pub(crate) fn copied(
    disk: &Disk,
    to: &Path,
    fill: impl FnOnce(&mut Fresh) -> Result<(), CopyFault>,
) -> Result<(), CopyFault> {
    let here = |error| CopyFault::Here(JournalError::of(&error, to));
    let mut out = disk.begin(to).map_err(here)?;
    fill(&mut out)?;
    out.put().map_err(here)
}

/// Copies all of `from`. `there` says what a fault in reading it is; `to` is the name of what is written.
pub(crate) fn pour(
    from: &mut impl Read,
    out: &mut impl Write,
    there: impl Fn(io::Error) -> CopyFault,
    to: &Path,
) -> Result<(), CopyFault> {
    let mut bytes = vec![0; 1 << 16];
    loop {
        match from.read(&mut bytes) {
            Ok(0) => return Ok(()),
            Ok(count) => out
                .write_all(&bytes[..count])
                .map_err(|error| CopyFault::Here(JournalError::of(&error, to)))?,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => {}
            Err(error) => return Err(there(error)),
        }
    }
}

/// Names of the files of a take in its folder, and in words what else lies there. `linked` says whether what a link
/// leads to is a file.
pub(crate) fn files(
    folder: &Path,
    linked: bool,
) -> Result<(Vec<String>, Vec<String>), JournalError> {
    let failed = |error: io::Error| JournalError::reading(&error, folder);
    let (mut names, mut others) = (Vec::new(), Vec::new());
    for entry in fs::read_dir(folder).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let kind = entry.file_type().map_err(failed)?;
        let file = kind.is_file() || linked && kind.is_symlink() && entry.path().is_file();
        if file && is_of_a_take(&name) {
            names.push(name);
        } else if !name.starts_with(HIDDEN) {
            let what = if kind.is_symlink() { "a link" } else { "no file of a take" };
            others.push(format!("{} is {what}", entry.path().display()));
        }
    }
    names.sort();
    others.sort();
    Ok((names, others))
}
