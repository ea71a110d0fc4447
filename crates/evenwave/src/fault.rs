//! What can end a command early.

use std::io;
use std::process::ExitCode;

use thiserror::Error;

use crate::words::aside;

/// Why a command ended without having done all it was asked to.
#[derive(Debug, Error)]
pub enum Fault {
    /// The command line asks for what cannot be: exit status 2.
    #[error("{0}")]
    Usage(String),
    /// Something could not be read, written or opened: exit status 1.
    #[error("{0}")]
    Failed(String),
    /// A take or a journal cannot be read or written: exit status 1.
    #[error(transparent)]
    Journal(#[from] journal::JournalError),
    /// A recording cannot be read: exit status 1.
    #[error(transparent)]
    Recording(#[from] sound::RecordingError),
    /// A WAV file cannot be written: exit status 1.
    #[error(transparent)]
    Wav(#[from] sound::WavError),
    /// Some inputs failed, each was told when it did, and the others are done: exit status 1.
    #[error("{failed} of {all} files could not be measured")]
    Some {
        /// Inputs that failed.
        failed: usize,
        /// Inputs there were.
        all: usize,
    },
    /// The output cannot be written to.
    #[error("the output cannot be written ({0}); make room or choose another place")]
    Output(#[from] io::Error),
}

impl Fault {
    /// Tells the fault on the error stream and returns the exit status that belongs to it.
    pub fn told(&self) -> ExitCode {
        match self {
            // Whoever read the output has seen enough, as `head` does.
            Self::Output(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
            Self::Usage(_) => {
                aside(self);
                ExitCode::from(2)
            }
            // It was told when it happened.
            Self::Some { all: 1, .. } => ExitCode::from(1),
            _ => {
                aside(self);
                ExitCode::from(1)
            }
        }
    }
}

impl From<csv::Error> for Fault {
    fn from(error: csv::Error) -> Self {
        match error.into_kind() {
            csv::ErrorKind::Io(error) => Self::Output(error),
            other => Self::Failed(format!("{other:?}")),
        }
    }
}

impl From<serde_json::Error> for Fault {
    fn from(error: serde_json::Error) -> Self {
        Self::Output(error.into())
    }
}
