//! Frames to notes, oscillations and measures.

mod ear;
mod fit;
mod line;
mod measures;
mod room;
mod summary;
mod turn;

pub use ear::{Ear, Event, Settings};
pub use measures::{ContourPoint, Live, Measure, Motion, Note, Oscillation, Remarks, Vibrato};
