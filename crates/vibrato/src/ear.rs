//! The whole engine: samples in, events out.

use crate::measures::{Live, Note, Oscillation};
use pitch::Frame;
use tuning::{Hz, Secs};

/// What the ear reports, in the order of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A pitch frame, every 5 ms.
    Frame(Frame),
    /// A note began at this time (decided about 50 ms later); the pitch is a first estimate.
    NoteBegan {
        /// Where the note starts.
        start: Secs,
        /// MIDI number of the nearest note.
        midi: i32,
        /// Frequency of that note in the tuning.
        reference: Hz,
    },
    /// The state of the sounding note, after each of its frames.
    Live(Live),
    /// An oscillation came to its end.
    Oscillation(Oscillation),
    /// A crest (`true`) or a trough (`false`) of the sounding note was confirmed.
    Turn {
        /// When.
        time: Secs,
        /// Pitch at the turn.
        f0: Hz,
        /// `true` for a crest.
        crest: bool,
    },
    /// The bow started anew without leaving the pitch.
    Rebowed {
        /// When.
        time: Secs,
    },
    /// A note ended; its measures are in [`Ear::note`] until the next poll.
    NoteEnded,
    /// Samples are missing from here on for this long.
    Lost {
        /// Where the gap starts.
        time: Secs,
        /// How long it is.
        length: Secs,
    },
}

/// Placeholder until the engine is in place.
pub struct Ear {
    note: Option<Note>,
}

impl Ear {
    /// The note last reported by [`Event::NoteEnded`].
    pub fn note(&self) -> Option<&Note> {
        self.note.as_ref()
    }
}
