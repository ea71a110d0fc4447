//! What the listener hands on.

use std::fmt;
use std::time::Instant;

use sound::CaptureStatus;
use vibrato::{Event, Note};

/// What the listener hands on, in the order of time.
#[derive(Clone, Debug, PartialEq)]
pub enum FromListener {
    /// Anything the ear reports but the end of a note.
    Event(Event),
    /// A note ended.
    Note {
        /// With its measures as they were heard.
        note: Box<Note>,
        /// Whether that is all: if not, it comes again as [`FromListener::Settled`].
        settled: bool,
    },
    /// A note that ended a moment ago was looked at again: its width is the string's own now.
    Settled(Box<Note>),
    /// The state of the source changed; the first of all that is handed on.
    Device(DeviceState),
    /// How loud the last 50 ms were.
    Level(Level),
    /// The first sample of the source's clock sounded at this instant, as far as is known by now.
    Clock(Instant),
    /// The session is over, or the listener was told to end; nothing follows.
    Ended,
}

/// The state of the source; `Display` gives the words for the player.
#[derive(Clone, Debug, PartialEq)]
pub enum DeviceState {
    /// How it stands with the microphone.
    Microphone(CaptureStatus),
    /// The device gives what cannot be heard, for this reason.
    Unusable(String),
    /// A session of this name is being played.
    Playing(String),
    /// It has come to its end.
    Over,
}

impl DeviceState {
    /// Whether sound comes in.
    pub fn is_heard(&self) -> bool {
        match self {
            Self::Microphone(status) => status.is_listening(),
            Self::Playing(_) => true,
            Self::Unusable(_) | Self::Over => false,
        }
    }
}

impl fmt::Display for DeviceState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Microphone(status) => status.fmt(f),
            Self::Unusable(why) => f.write_str(why),
            Self::Playing(name) => write!(f, "playing {name}"),
            Self::Over => f.write_str("the sound has come to its end"),
        }
    }
}

/// How loud it was, sample by sample, before any resampling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// The largest sample, in dB below full scale; at least −120.
    pub peak_dbfs: f64,
    /// Full scale was reached.
    pub clipped: bool,
}
