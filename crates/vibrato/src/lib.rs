//! Frames to notes, oscillations and measures.

mod beat;
mod between;
mod bow_signs;
mod chain_search;
mod change;
mod cycle_count;
mod ear;
mod expectation;
mod find_turns;
mod fit;
mod least_squares;
mod measure;
mod missing_changes;
mod motion;
mod motion_follower;
mod new_bow;
mod note;
mod pitch_line;
mod plain_note;
mod quantity;
mod rest;
mod room;
mod rows;
mod short_swing;
mod step;
mod straight_line;
mod stretch;
mod summary;
mod trial;
mod turn;
mod turn_measures;
mod unison;

pub use change::{Awaited, Cut};
pub use cycle_count::{CycleCount, CycleCounts};
pub use ear::{Ear, Event, Settings};
pub use least_squares::{LeastSquares, Solved};
pub use measure::{Measure, median, upper_median};
pub use motion::Pause;
pub use motion_follower::{MotionFollower, SHORT_LOSS};
pub use note::{ContourPoint, Live, Motion, Note, Oscillation, PitchCourse, Remarks, Vibrato};
pub use pitch_line::bowed_until;
pub use quantity::{Measures, Quantity};
pub use rows::{Doubt, Matters, Of, Row, Shown, Unit};
pub use straight_line::StraightLine;
pub use stretch::Stretch;
pub use turn::Turn;
pub use turn_measures::HeldPitch;

/// Time from one frame to the next.
pub const FRAME: tuning::Secs = tuning::Secs(pitch::HOP_SECS);
