//! Frames to notes, oscillations and measures.

mod advance;
mod beat;
mod between;
mod change;
mod course;
mod ear;
mod fit;
mod line;
mod measures;
mod motion;
mod part;
mod plain_note;
mod quantity;
mod rest;
mod room;
mod settle;
mod step;
mod summary;
mod swings;
mod turn;
mod turning;
mod unison;
mod usual;

pub use advance::{Advance, Advances};
pub use change::{Awaited, Cut};
pub use course::{Course, SHORT_LOSS, Stretch};
pub use ear::{Ear, Event, Settings};
pub use measures::{
    ContourPoint, Live, Measure, Motion, Note, Oscillation, PitchCourse, Remarks, Vibrato,
};
pub use part::Still;
pub use quantity::{Doubt, Matters, Measures, Of, Quantity, Row, Shown, Unit};
pub use rest::Pause;
pub use turn::Turn;

/// Time from one frame to the next.
pub const FRAME: tuning::Secs = tuning::Secs(pitch::HOP_SECS);
