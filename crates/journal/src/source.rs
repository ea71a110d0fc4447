//! Where takes are copied from.

use std::fs;
use std::io::{self, Read, Write};
use std::path::Path;

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::reader::Shelf;
use crate::take_id::TakeId;
use crate::tasks::WrittenTasks;
use disk::{Disk, Fresh};

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
    /// The files of one.
    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError>;
    /// Copies a file of one.
    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault>;
    /// The tasks of its players.
    fn tasks(&mut self) -> Result<WrittenTasks, JournalError>;
}

/// A shelf as a source.
pub(crate) struct Folders(pub Shelf);

impl Source for Folders {
    fn ids(&self) -> Vec<TakeId> {
        self.0.entries().iter().map(|entry| entry.id.clone()).collect()
    }

    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError> {
        self.0.take(id)
    }

    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError> {
        files(&self.0.0.path(id))
    }

    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault> {
        let from = self.0.0.path(id).join(file);
        let there = |error| CopyFault::There(JournalError::reading(&error, &from));
        let mut file = disk::open(&from).map_err(there)?;
        copied(disk, to, |out| pour(&mut file, out, there, to))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let tasks = self.0.tasks();
        tasks.read()?.checked(tasks.path())
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

/// Names of the files in a folder, but no folders.
pub(crate) fn files(folder: &Path) -> Result<Vec<String>, JournalError> {
    let work = || -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            if entry.path().is_file()
                && let Ok(name) = entry.file_name().into_string()
            {
                names.push(name);
            }
        }
        names.sort();
        Ok(names)
    };
    work().map_err(|error| JournalError::reading(&error, folder))
}
