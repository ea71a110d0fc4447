//! What was heard of a passage, frame by frame.

use std::ops::Range;

use tuning::{Hz, Secs};
use vibrato::{Event, FRAME, Note, median};

use super::unslip::unslip;

/// Cents are counted from here; only differences matter.
const ZERO: Hz = Hz(440.0);
/// A pitch less likely to be right than this is none.
const LEAST_CONFIDENCE: f64 = 0.2;
/// A pitch this far from the middle of those around it, so many frames on either side, is a slip of the ear.
const SLIP_CENTS: f64 = 300.0;
const AROUND_FRAMES: usize = 7;
const LEAST_AROUND: usize = 5;
/// Half an hour: what comes after is not followed.
const MOST_FRAMES: usize = 360_000;

/// What was heard of a passage: its frames, and what the ear told of notes.
#[derive(Clone, Debug, Default)]
pub struct Heard {
    /// Pitch as it was told; `None` where there is none.
    told: Vec<Option<f64>>,
    /// The same without slips.
    cents: Vec<Option<f64>>,
    pub(super) confidence: Vec<f64>,
    pub(crate) level_db: Vec<f64>,
    pub(super) upper_db: Vec<f64>,
    /// Frames in which the ear says that a note begins or ends.
    pub(super) edges: Vec<usize>,
    /// Frames in which it heard a new bow.
    pub(super) bows: Vec<usize>,
    notes: Vec<Note>,
    /// Sums over all frames before each: how many have a pitch, their cents, and the squares of these.
    sums: Vec<Sums>,
}

/// Sums over frames with a pitch.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sums {
    pub(super) count: f64,
    pub(super) cents: f64,
    squares: f64,
}

impl Sums {
    /// Mean of the pitch, in cents; 0 of none.
    pub(super) fn mean(self) -> f64 {
        self.cents / self.count.max(1.0)
    }

    /// Sum of the squares about the mean.
    pub(super) fn about_mean(self) -> f64 {
        (self.squares - self.cents * self.mean()).max(0.0)
    }
}

/// Where a time lies among the frames.
pub(crate) fn frame_at(time: Secs) -> usize {
    (time.get() / FRAME.get()).round().max(0.0) as usize
}

/// When a frame sounds; part of one counts.
pub(crate) fn time_of(frame: f64) -> Secs {
    Secs(frame * FRAME.get())
}

/// A pitch in the cents that frames are told in.
pub(crate) fn cents_of(f0: Hz) -> f64 {
    f0.cents_above(ZERO).get()
}

impl Heard {
    /// Takes in what the ear tells, and each note that has ended.
    pub fn push(&mut self, event: &Event, ended: Option<&Note>) {
        match event {
            Event::Frame(frame) => {
                let at = frame_at(frame.time);
                if at >= MOST_FRAMES || at < self.told.len() {
                    return;
                }
                // Frames are missing where samples are: they are no louder than what is heard on either side.
                let least =
                    |levels: &[f64], next: f64| levels.last().map_or(next, |last| last.min(next));
                let level_db = least(&self.level_db, frame.level_dbfs);
                let upper_db = least(&self.upper_db, frame.upper_dbfs);
                while self.told.len() < at {
                    self.frame(None, 0.0, level_db, upper_db);
                }
                let sure = frame.confidence >= LEAST_CONFIDENCE;
                let cents = frame.f0.filter(|f0| sure && f0.get() > 0.0).map(cents_of);
                self.frame(cents, frame.confidence, frame.level_dbfs, frame.upper_dbfs);
            }
            Event::NoteBegan { start, .. } => self.edges.push(frame_at(*start)),
            Event::Rebowed { time } => self.bows.push(frame_at(*time)),
            _ => {}
        }
        if let Some(note) = ended {
            self.edges.extend([frame_at(note.start), frame_at(note.end)]);
            self.notes.push(note.clone());
        }
    }

    fn frame(&mut self, cents: Option<f64>, confidence: f64, level_db: f64, upper_db: f64) {
        self.told.push(cents);
        self.confidence.push(confidence);
        self.level_db.push(level_db);
        self.upper_db.push(upper_db);
    }

    /// How many frames were heard.
    pub(crate) fn len(&self) -> usize {
        self.told.len()
    }

    /// The notes that the ear told.
    pub fn notes(&self) -> &[Note] {
        &self.notes
    }

    /// Pitch of a frame, in cents.
    pub(crate) fn cents(&self, frame: usize) -> Option<f64> {
        self.cents.get(frame).copied().flatten()
    }

    /// Pitches of some frames, where there are any.
    pub(crate) fn cents_in(&self, frames: Range<usize>) -> impl Iterator<Item = f64> + '_ {
        let end = frames.end.min(self.cents.len());
        self.cents[frames.start.min(end)..end].iter().copied().flatten()
    }

    /// Sums over some frames.
    pub(super) fn sums(&self, from: usize, to: usize) -> Sums {
        let (a, b) = (self.sums[from], self.sums[to]);
        Sums { count: b.count - a.count, cents: b.cents - a.cents, squares: b.squares - a.squares }
    }

    /// Takes out slips and sums up, for all that was heard since the last time. What lies near the newest frame is looked
    /// at again once more has been heard.
    pub(crate) fn settle(&mut self) {
        let from = self.cents.len().saturating_sub(AROUND_FRAMES);
        self.cents.truncate(from);
        for at in from..self.told.len() {
            let cents = self.told[at].filter(|cents| {
                let around = self.told[at.saturating_sub(AROUND_FRAMES)..].iter();
                let near: Vec<f64> =
                    around.take(2 * AROUND_FRAMES + 1).flatten().copied().collect();
                let few = near.len() < LEAST_AROUND;
                few || median(near).is_some_and(|middle| (cents - middle).abs() <= SLIP_CENTS)
            });
            self.cents.push(cents);
        }
        self.sum_from(from);
    }

    /// Puts what slipped behind leaps that `planned` does not know in its octave; for all that was heard.
    pub(super) fn unslip(&mut self, planned: impl Fn(f64, f64) -> bool) {
        unslip(&mut self.cents, planned);
        self.sum_from(0);
    }

    fn sum_from(&mut self, from: usize) {
        self.sums.truncate(from + 1);
        let mut sum = self.sums.last().copied().unwrap_or_default();
        if self.sums.is_empty() {
            self.sums.push(sum);
        }
        for cents in &self.cents[from..] {
            if let Some(cents) = cents {
                sum.count += 1.0;
                sum.cents += cents;
                sum.squares += cents * cents;
            }
            self.sums.push(sum);
        }
    }
}
