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
    /// The folder of the journal is gone.
    #[error("the folder of the takes is gone; bring it back or choose another: {}", path.display())]
    Gone {
        /// The folder.
        path: PathBuf,
    },
    /// Another window writes in this journal.
    #[error("another window of evenwave keeps takes in this folder; close it, or choose another folder: {}", path.display())]
    InUse {
        /// The folder.
        path: PathBuf,
    },
    /// The system says something else.
    #[error("takes cannot be kept ({reason}): {}", path.display())]
    Failed {
        /// What it said.
        reason: String,
        /// The folder or file.
        path: PathBuf,
    },
    /// A take cannot be understood.
    #[error("line {line}, column {column}: {reason}; it is left as it is: {}", path.display())]
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
    /// A take of a later version of evenwave.
    #[error("version {version} is of a later evenwave; it is left as it is: {}", path.display())]
    Later {
        /// The version.
        version: u32,
        /// The file.
        path: PathBuf,
    },
}

impl JournalError {
    /// What the system said of `path`.
    pub(crate) fn of(error: &io::Error, path: &Path) -> Self {
        let path = path.to_owned();
        match error.kind() {
            io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => Self::Full { path },
            io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
                Self::Forbidden { path }
            }
            io::ErrorKind::NotFound => Self::Gone { path },
            _ => Self::Failed {
                reason: error.to_string(),
                path,
            },
        }
    }
}
