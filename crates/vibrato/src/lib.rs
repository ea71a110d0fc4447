//! Frames to notes, oscillations and measures.

mod advance;
mod beat;
mod between;
mod course;
mod ear;
mod fit;
mod line;
mod measures;
mod part;
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

pub use advance::{Advance, Advances, Pause};
pub use course::{Awaited, Course, Cut, SHORT_LOSS, Stretch};
pub use ear::{Ear, Event, Settings};
pub use measures::{
    ContourPoint, Live, Measure, Motion, Note, Oscillation, PitchCourse, Remarks, Vibrato,
};
pub use part::Still;
pub use quantity::{Doubt, Matters, Measures, Of, Quantity, Row, Shown, Unit};
pub use turn::Turn;

/// Time from one frame to the next.
pub const FRAME: tuning::Secs = tuning::Secs(pitch::HOP_SECS);
