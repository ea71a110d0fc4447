//! Where takes come from: the folders of a journal, or one file.

use std::fs;
use std::io;
use std::path::Path;

use crate::disk::Disk;
use crate::error::JournalError;
use crate::exchange::Imported;
use crate::parcel::Parcel;
use crate::shelf::Shelf;
use crate::take_id::TakeId;
use crate::tasks::WrittenTasks;
use crate::written::TakeFile;

/// Where takes come from.
pub(crate) trait Source {
    /// Its takes, in the order of names.
    fn ids(&self) -> Vec<TakeId>;
    /// All but the sound of one.
    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError>;
    /// The files of one.
    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError>;
    /// Copies a file of one.
    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path)
    -> Result<(), JournalError>;
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

    fn copy(
        &mut self,
        id: &TakeId,
        file: &str,
        disk: &Disk,
        to: &Path,
    ) -> Result<(), JournalError> {
        let from = self.0.0.path(id).join(file);
        disk.copy(&from, to).map_err(|error| JournalError::of(&error, to))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let tasks = self.0.tasks();
        tasks.read()?.checked(tasks.path())
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

/// The takes that lie in `from`, a journal or the file that one was put into, and what of it cannot be read.
pub(crate) fn source(from: &Path) -> Result<(Box<dyn Source>, Imported), JournalError> {
    let mut imported = Imported::default();
    if from.is_dir() {
        let shelf = Shelf::open(from)?;
        shelf.refresh()?;
        imported.unread = shelf.unread();
        return Ok((Box::new(Folders(shelf)), imported));
    }
    let mut parcel = Parcel::open(from)?;
    imported.left_out = std::mem::take(&mut parcel.left_out);
    Ok((Box::new(parcel), imported))
}
