//! What is known of a take before it is played.

use tuning::{Hz, Temperament, Tuning};

use crate::take_id::TakeId;

/// What is known of a take before it is played. What is not known is empty or `None`.
#[derive(Clone, Debug, PartialEq)]
pub struct Context {
    /// The room of the window in which it was played.
    pub room: String,
    /// Whose take it is; a take belongs to one player.
    pub player: String,
    /// The instrument.
    pub instrument: Option<String>,
    /// The microphone.
    pub device: String,
    /// What its notes were measured against.
    pub tuning: Tuning,
    /// The drill that was played.
    pub drill: Option<String>,
    /// The passage that was played.
    pub passage: Option<String>,
    /// How fast.
    pub pace: Option<Pace>,
    /// The finger, 1 to 4 (0 is the thumb), where one finger played all of it.
    pub finger: Option<u8>,
    /// The string, where one string was played.
    pub string: Option<String>,
    /// What it was in a lesson.
    pub lesson: Option<LessonPart>,
    /// A word the player left.
    pub word: String,
}

/// How fast: beats, and how many oscillations on each.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    /// Beats per minute.
    pub bpm: f64,
    /// Oscillations per beat, if they are counted.
    pub oscillations_per_beat: Option<f64>,
}

/// What a take was in a lesson.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LessonPart {
    /// It was played to be imitated.
    Model,
    /// It answers a model.
    Echo {
        /// The model.
        of: TakeId,
    },
}

/// Who played a note with what; `None` where it is not known.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Fingering {
    /// The finger, 1 to 4 (0 is the thumb).
    pub finger: Option<u8>,
    /// The string.
    pub string: Option<String>,
}

impl Default for Context {
    fn default() -> Self {
        Self {
            room: String::new(),
            player: String::new(),
            instrument: None,
            device: String::new(),
            tuning: Tuning { a4: Hz(440.0), temperament: Temperament::Equal },
            drill: None,
            passage: None,
            pace: None,
            finger: None,
            string: None,
            lesson: None,
            word: String::new(),
        }
    }
}
