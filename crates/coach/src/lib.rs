//! What practice asks of a player, and what was made of it.
//!
//! Driven by what the ear reports and by the time of the sound; knows no device, file, clock or
//! screen.

mod bowing;
mod comparison;
mod continuity;
mod drill;
mod drill_file;
mod ears;
mod elsewhere;
mod finding;
mod findings;
pub mod follow;
mod hurry;
mod intonation;
mod judged;
mod judging;
mod lesson;
mod on_beat;
mod order;
mod pacer;
pub mod plan;
pub mod played;
mod progress;
mod reference;
mod round;
mod round_bounds;
mod sharing;
mod slides;
mod steadiness;
mod steps;
mod swell;
mod task;
mod tightening;
mod told;
mod turns;

pub use bowing::Bowing;
pub use comparison::{
    Align, Comparison, CoursePoint, Difference, MOST_NOTES, Motions, Pair, band, cycles_at,
};
pub use continuity::{Between, Continuity, continuity, continuity_said};
pub use drill::{
    Asked, BPM, Count, Drill, Fingering, GapLimit, Join, Kind, Moves, OSCILLATIONS, Order,
    PER_BEAT, Pace, RATES_HZ, Region, Rules, WIDTHS,
};
pub use drill_file::{DRILL_VERSION, DrillFileError};
pub use ears::{
    Answer, Answered, Curtain, Ears, Limits, Numbers, Question, Showing, Swing, Tally, answers,
};
pub use finding::{Finding, FindingKind, FindingMeasure};
pub use findings::{bloom_width, breaks_rule};
pub use intonation::{Aim, BESIDE_CENTS};
pub use judged::Judged;
pub use judging::{Hints, Next, Practice};
pub use lesson::{Echo, Instant, LONGEST_PHRASE, Lesson, LessonEvent, Phrase};
pub use on_beat::{OnBeat, OnStart};
pub use pacer::{Beat, InTurn, Pacer, Wanted};
pub use progress::SinceRest;
pub use reference::{Against, Around, OwnNote, around, just_above};
pub use round::Round;
pub use round_bounds::{Change, Rounds, TakeOptions};
pub use slides::{Slid, Slides};
pub use steadiness::{Steadiness, Steady};
pub use steps::held_moved_pct;
pub use task::{Outcome, TIMES, Task, TaskTake, Work};
pub use told::beyond_doubt;
pub use turns::{Now, Played};

#[cfg(test)]
fn frame_at(time: f64) -> vibrato::Event {
    vibrato::Event::Frame(pitch::Frame::plain(tuning::Secs(time), None, -90.0))
}
