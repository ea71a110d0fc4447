//! The take that is open, and how it is played.

use journal::{TakeFile, TakeId};
use pictures::played::Point;
use pitch::Frame;
use std::sync::Arc;
use tuning::{Hz, Secs};

/// Two frames further apart than this do not belong to one line; frames come every 5 ms.
const FRAME_APART: f64 = 0.0075;

/// The pitch of the open take.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum TraceOf {
    /// It is being measured.
    #[default]
    Coming,
    /// In the order of time; pitch as a distance from A4 of the take.
    Here(Arc<Vec<Point>>),
    /// There is none, for this reason.
    None(String),
}

/// The take that is open.
#[derive(Clone, Debug, PartialEq)]
pub struct Opened {
    /// Which.
    pub id: TakeId,
    /// What stands in its file, once that is read.
    pub file: Option<Arc<TakeFile>>,
    /// Why it cannot be read.
    pub trouble: Option<String>,
    /// Its pitch.
    pub trace: TraceOf,
    /// How it is played.
    pub played: Played,
}

/// How a take is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// It sounds.
    pub sounds: bool,
    /// What is heard now or next.
    pub at: Secs,
    /// The part that is played.
    pub part: (Secs, Secs),
    /// Again and again.
    pub looped: bool,
    /// At half speed.
    pub half: bool,
}

/// Frames as the trace has them.
pub(super) fn points(frames: &[Frame], a4: Hz) -> Vec<Point> {
    let mut before: Option<Secs> = None;
    let point = |frame: &Frame| {
        let elapsed = before.map(|before| frame.time.0 - before.0);
        before = Some(frame.time);
        Point {
            time: frame.time,
            pitch: frame.f0.map(|f0| f0.cents_above(a4)),
            confidence: frame.confidence,
            level_dbfs: frame.level_dbfs,
            joined: elapsed.is_some_and(|elapsed| elapsed > 0.0 && elapsed < FRAME_APART),
        }
    };
    frames.iter().map(point).collect()
}
