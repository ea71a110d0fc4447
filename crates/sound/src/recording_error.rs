//! What can be wrong with a sound file, and what to do about it.

use std::io::{Error as IoError, ErrorKind};
use std::path::{Path, PathBuf};

use symphonia::core::errors::Error as Fault;
use thiserror::Error;

/// Why a file cannot be heard. Each message ends with the path.
#[derive(Debug, Error)]
pub enum RecordingError {
    /// No such file.
    #[error("there is no such file; check the name: {}", path.display())]
    NotFound {
        /// The file.
        path: PathBuf,
    },
    /// A folder was given.
    #[error("this is a folder; name the sound files inside it: {}", path.display())]
    Folder {
        /// The folder.
        path: PathBuf,
    },
    /// A pipe, a socket or a device.
    #[error("this is no ordinary file; save the sound to a file first: {}", path.display())]
    NoFile {
        /// What was named.
        path: PathBuf,
    },
    /// The system forbids reading.
    #[error("no permission to read; change the file's permissions or copy it: {}", path.display())]
    NoPermission {
        /// The file.
        path: PathBuf,
    },
    /// No byte inside.
    #[error("the file is empty; record or export it again: {}", path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// Text, a picture, or a kind of sound file not known here.
    #[error(
        "this is no sound file of a known kind; use WAV, AIFF, FLAC, MP3, Ogg Vorbis or AAC (M4A): {}",
        path.display()
    )]
    NotAudio {
        /// The file.
        path: PathBuf,
    },
    /// A known container with something else inside.
    #[error("cannot decode what is inside ({what}); convert it to WAV or FLAC: {}", path.display())]
    Unsupported {
        /// What the decoder does not know.
        what: String,
        /// The file.
        path: PathBuf,
    },
    /// The header states no channels.
    #[error("the file states 0 channels, so it holds no sound; export it again: {}", path.display())]
    NoChannels {
        /// The file.
        path: PathBuf,
    },
    /// A sample rate outside [`RATES_HZ`](crate::RATES_HZ).
    #[error(
        "the sample rate is {rate_hz} Hz; convert the file to a rate from 8000 to 192000 Hz: {}",
        path.display()
    )]
    Rate {
        /// Rate as stated in the file, in Hz.
        rate_hz: u32,
        /// The file.
        path: PathBuf,
    },
    /// A header and nothing after it.
    #[error("the file holds no samples; record or export it again: {}", path.display())]
    NoSamples {
        /// The file.
        path: PathBuf,
    },
    /// A channel was asked for that the file does not have.
    #[error(
        "there is no channel {asked}; the file has {channels}, counted from 1: {}",
        path.display()
    )]
    NoSuchChannel {
        /// Channel asked for, counted from 1.
        asked: usize,
        /// Channels in the file.
        channels: usize,
        /// The file.
        path: PathBuf,
    },
    /// A sound file whose beginning cannot be made out.
    #[error("the file is damaged ({reason}); copy or export it again: {}", path.display())]
    Damaged {
        /// What the decoder said.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// The disk or the network refuses.
    #[error("cannot read ({source}); check the disk or copy the file: {}", path.display())]
    Read {
        /// What the system said.
        source: IoError,
        /// The file.
        path: PathBuf,
    },
}

impl RecordingError {
    pub(crate) fn from_io(error: &IoError, path: &Path) -> Self {
        let path = path.to_path_buf();
        match error.kind() {
            ErrorKind::NotFound => Self::NotFound { path },
            ErrorKind::PermissionDenied => Self::NoPermission { path },
            ErrorKind::IsADirectory => Self::Folder { path },
            kind => Self::Read {
                source: error
                    .raw_os_error()
                    .map_or_else(|| kind.into(), IoError::from_raw_os_error),
                path,
            },
        }
    }

    /// What the decoder said while the file was being opened.
    pub(crate) fn from_opening(fault: Fault, path: &Path) -> Self {
        if let Fault::IoError(error) = &fault
            && error.kind() != ErrorKind::UnexpectedEof
        {
            return Self::from_io(error, path);
        }
        let path = path.to_path_buf();
        match fault {
            Fault::IoError(_) => {
                Self::Damaged { reason: "it ends inside its header".to_owned(), path }
            }
            // The probe has no error of its own for "this is none of the formats I know".
            Fault::Unsupported(what) if what.contains("probe") => Self::NotAudio { path },
            Fault::Unsupported(what) if what.contains("missing") => {
                Self::Damaged { reason: format!("{what}; is its end cut off?"), path }
            }
            // Telephone sound of a kind that the decoder does not know is whole all the same.
            Fault::DecodeError(what) if what.contains("law") || what.starts_with("pcm:") => {
                Self::Unsupported { what: what.to_owned(), path }
            }
            Fault::Unsupported(what) => Self::Unsupported { what: what.to_owned(), path },
            fault => Self::Damaged { reason: fault.to_string(), path },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_system_refuses_is_told_as_what_can_be_done() {
        let told =
            |kind| RecordingError::from_io(&IoError::from(kind), Path::new("a.wav")).to_string();
        for (kind, words) in [
            (ErrorKind::NotFound, "there is no such file"),
            (ErrorKind::PermissionDenied, "no permission to read"),
            (ErrorKind::IsADirectory, "this is a folder"),
            (ErrorKind::TimedOut, "cannot read (timed out)"),
        ] {
            let told = told(kind);
            assert!(told.starts_with(words) && told.ends_with(": a.wav"), "{told}");
        }
    }
}
