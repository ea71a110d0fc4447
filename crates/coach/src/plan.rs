//! What a player means to do with a passage: its notes, and what vibrato each of them is to have.

mod intention;
mod note;
mod passage;

pub use intention::Intention;
pub use note::{Beats, Dynamic, Pitch, Place, PlanNote, Spelling};
pub use passage::{
    BeatUnit, Clef, Key, MOST_PLAN_NOTES, Meter, Mode, Origin, Pace, Passage, PlanFault,
};
