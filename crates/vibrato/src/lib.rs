//! Frames to notes, oscillations and measures.

mod ear;
mod measures;

pub use ear::{Ear, Event};
pub use measures::{ContourPoint, Live, Measure, Motion, Note, Oscillation, Remarks, Vibrato};
