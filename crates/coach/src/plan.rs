//! What a player means to do with a passage: its notes, and what vibrato each of them is to have.

mod edit;
mod from_notes;
mod intention;
mod note;
mod passage;
mod ron_form;
mod row;
mod spelling;
mod text;

pub use edit::{Along, Edit, EditFault, Editor, Go, Step};
pub use from_notes::{PlayedOnce, TakeDown, TakenDown, from_notes};
pub use intention::Intention;
pub(crate) use intention::{FASTEST, WIDEST};
pub use note::{BeatUnit, Beats, Dynamic, Pitch, Place, PlanNote, Spelling};
pub use passage::{
    Clef, HeadChange, Key, MOST_PLAN_NOTES, Meter, Mode, Origin, PACES, Pace, Passage, PlanFault,
};
pub use row::{Laid, TWELFTHS, in_bars};
pub use text::{TextFault, TextFaults};
