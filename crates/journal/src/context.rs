//! What is known of a take before it is played, and what it is called.

use std::fmt;

use tuning::{Hz, Temperament, Tuning};

/// What is known of a take before it is played. What is not known is empty or `None`.
#[derive(Clone, Debug, PartialEq)]
pub struct Context {
    /// The room of the window in which it was played.
    pub room: String,
    /// Whose take it is.
    pub player: String,
    /// The instrument.
    pub instrument: Option<String>,
    /// The microphone.
    pub device: String,
    /// What its notes were measured against.
    pub tuning: Tuning,
    /// The drill that was played.
    pub drill: Option<String>,
    /// A word the player left.
    pub word: String,
}

impl Default for Context {
    fn default() -> Self {
        Self {
            room: String::new(),
            player: String::new(),
            instrument: None,
            device: String::new(),
            tuning: Tuning {
                a4: Hz(440.0),
                temperament: Temperament::Equal,
            },
            drill: None,
            word: String::new(),
        }
    }
}

/// What a take is called: its day and the time of its beginning. Names sort by time.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TakeId {
    /// Folder of the day, as in `2026-11-25`.
    pub day: String,
    /// Folder of the take in it, as in `17-41-09`; a second take of that second is `17-41-09-2`.
    pub time: String,
}

impl fmt::Display for TakeId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.day, self.time)
    }
}
