//! What can go wrong with a journal, in words that say what to do.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Why something could not be done with a journal.
#[derive(Debug, Error)]
pub enum JournalError {
    /// There is no room on the disk.
    #[error("the disk is full: make room; what was kept so far is safe: {}", path.display())]
    Full {
        /// What was being written.
        path: PathBuf,
    },
    /// It may not be written there.
    #[error("this folder may not be written to; choose another one for takes: {}", path.display())]
    Forbidden {
        /// The folder or file.
        path: PathBuf,
    },
    /// It may not be read.
    #[error("this may not be read; change its permissions, or copy it to where it may: {}", path.display())]
    Closed {
        /// The folder or file.
        path: PathBuf,
    },
    /// The folder of the journal is gone.
    #[error("the folder of the takes is gone; bring it back or choose another: {}", path.display())]
    Gone {
        /// The folder.
        path: PathBuf,
    },
    /// There is no such take, or it has no sound.
    #[error("this is not there any more; look whether it was moved or deleted: {}", path.display())]
    Missing {
        /// The folder or file.
        path: PathBuf,
    },
    /// Another window writes in this journal.
    #[error("another window of evenwave keeps takes in this folder; close it, or choose another folder: {}", path.display())]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// Something was to be deleted that a link leads to.
    #[error("this is a link, and nothing is deleted through a link; take the link away, or delete by hand what it leads to: {}", path.display())]
    Linked {
        /// The link.
        path: PathBuf,
    },
    /// The take went wrong before, and goes no further.
    #[error("this take went wrong and goes no further; what was kept so far is mended when the journal is opened next: {}", path.display())]
    Stopped {
        /// Its folder.
        path: PathBuf,
    },
    /// A take that broke off on another computer which shares this folder, not long ago.
    #[error("a take is being played on the computer \"{computer}\", or broke off there; open the journal there, or wait a day: {}", path.display())]
    Elsewhere {
        /// Which computer.
        computer: String,
        /// Its folder.
        path: PathBuf,
    },
    /// The system says something else.
    #[error("takes cannot be kept or read there ({reason}); look what stands there, or choose another place: {}", path.display())]
    Failed {
        /// What it said.
        reason: String,
        /// The folder or file.
        path: PathBuf,
    },
    /// The system has no trash here.
    #[error("this cannot be put into the trash ({reason}); it can only be deleted for good: {}", path.display())]
    NoTrash {
        /// What the system said.
        reason: String,
        /// What was to be deleted.
        path: PathBuf,
    },
    /// A take cannot be understood.
    #[error("line {line}, column {column}: {reason}; it is left as it is: mend that place, or bring the file back from a copy: {}", path.display())]
    Unwritten {
        /// What is wrong.
        reason: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// The file.
        path: PathBuf,
    },
    /// Sound that cannot be understood.
    #[error("this sound cannot be read ({reason}); it is left as it is: {}", path.display())]
    Unheard {
        /// What is wrong.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// Sound that is not what its take says of it.
    #[error("{words}: {}", path.display())]
    Damaged {
        /// What is wrong.
        words: String,
        /// The file.
        path: PathBuf,
    },
    /// A take of a later version of evenwave.
    #[error("version {version} is of a later evenwave; it is left as it is: {}", path.display())]
    Later {
        /// The version.
        version: u32,
        /// The file.
        path: PathBuf,
    },
    /// Takes are only copied into a folder or file that is new, or a folder that is empty.
    #[error("this is there already, and nothing is written over; choose a new name: {}", path.display())]
    Occupied {
        /// The folder or file.
        path: PathBuf,
    },
    /// A zip, or something in it, cannot be read.
    #[error("this cannot be taken over from the zip: {reason}: {}", path.display())]
    Parcel {
        /// What is wrong.
        reason: String,
        /// The file, or its place in the zip.
        path: PathBuf,
    },
}

impl JournalError {
    /// What the system said of `path`, which was to be written.
    pub(crate) fn of(error: &io::Error, path: &Path) -> Self {
        let path = path.to_owned();
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full { path },
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Self::Forbidden { path }
            }
            io::ErrorKind::NotFound => Self::Gone { path },
            _ => Self::Failed { reason: error.to_string(), path },
        }
    }

    /// What the system said of `path`, which was to be read.
    pub(crate) fn reading(error: &io::Error, path: &Path) -> Self {
        match error.kind() {
            io::ErrorKind::NotFound => Self::Missing { path: path.to_owned() },
            io::ErrorKind::PermissionDenied => Self::Closed { path: path.to_owned() },
            _ => Self::of(error, path),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_not_be_read_is_told_apart_from_what_may_not_be_written() {
        let error = io::Error::from(io::ErrorKind::PermissionDenied);
        let path = Path::new("2026-11-25");
        let read = JournalError::reading(&error, path).to_string();
        assert!(read.contains("may not be read") && read.ends_with("2026-11-25"), "{read}");
        let written = JournalError::of(&error, path).to_string();
        assert!(written.contains("may not be written to"), "{written}");
    }
}
