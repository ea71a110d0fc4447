//! The pitch line of one note, and where it starts, changes and ends.

use pitch::Frame;
use tuning::Hz;

/// Pitch is kept in cents above this.
pub const ORIGIN: Hz = Hz(440.0);

/// Frames of steady voice that make a note: 40 ms.
const HOLD: usize = 8;
/// Frames without pitch that end one: 30 ms.
const SILENCE: usize = 6;
/// Largest step of the pitch from frame to frame within a note that begins, in cents.
const MOST_STEP: f64 = 60.0;
/// Least mean confidence of the frames that begin a note.
const LEAST_CONFIDENCE: f64 = 0.3;
/// Stretch whose middle and range say where a note is: 350 ms.
const MEMORY: usize = 70;
/// Frames that lie away from the note by this much, or by its own half range and so much more, belong to another.
const AWAY: f64 = 60.0;
const AWAY_MARGIN: f64 = 45.0;
/// Frames of a new note must agree within this, in cents.
const AGREE: f64 = 120.0;
/// A leap of one or two octaves or of a twelfth is more often a slip of the ear: wait twice as long.
const SLIPS: [f64; 3] = [1200.0, 1902.0, 2400.0];
/// The sound has died away once it lies so far below its recent level, which fades so fast.
const DIED_DB: f64 = 22.0;
const FADE_DB: f64 = 10.0 * pitch::HOP_SECS;
/// The note itself ended where it had fallen this far.
const ENDED_DB: f64 = 10.0;
/// After a note has died away its ring is no note until the level rises by this much, or for so many frames.
const RISE_DB: f64 = 6.0;
const RING: usize = 400;

/// What a frame did to the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// Nothing that matters.
    None,
    /// A note began with the line's first frame.
    Began,
    /// The note ended with the line's last frame.
    Ended,
    /// The note ended before this frame of the line, and another began with it.
    Passed(usize),
}

/// The frames of the note that sounds, or of one that may be about to begin.
pub struct Line {
    /// Number of the first frame in the stream.
    pub first: i64,
    /// Pitch in cents above [`ORIGIN`]; held where none was heard.
    pub cents: Vec<f64>,
    /// Whether the frame had a pitch.
    pub heard: Vec<bool>,
    /// Level, in dBFS.
    pub level: Vec<f64>,
    /// Confidence, 0 to 1.
    pub confidence: Vec<f64>,
    sounding: bool,
    silence: usize,
    /// First frame of a run that lies away from the note.
    away: Option<usize>,
    peak_dbfs: f64,
    /// Lowest level since the last note died away, and how long ago that was.
    ring: Option<(f64, usize)>,
    sorted: [f64; MEMORY],
}

impl Line {
    /// Room for `most` frames.
    pub fn new(most: usize) -> Self {
        Self {
            first: 0,
            cents: Vec::with_capacity(most),
            heard: Vec::with_capacity(most),
            level: Vec::with_capacity(most),
            confidence: Vec::with_capacity(most),
            sounding: false,
            silence: 0,
            away: None,
            peak_dbfs: -120.0,
            ring: None,
            sorted: [0.0; MEMORY],
        }
    }

    /// Frames in the line.
    pub fn len(&self) -> usize {
        self.cents.len()
    }

    /// Whether a note sounds.
    pub fn sounding(&self) -> bool {
        self.sounding
    }

    /// Whether the newest frames may belong to another note.
    pub fn doubtful(&self) -> bool {
        self.away.is_some()
    }

    /// Takes frame `number` in. After `Ended` and `Passed` the caller must call
    /// [`restart`](Self::restart).
    pub fn push(&mut self, number: i64, frame: &Frame) -> Change {
        let level = frame.level_dbfs;
        if let Some((lowest, frames)) = &mut self.ring {
            *lowest = lowest.min(level);
            *frames += 1;
            if level > *lowest + RISE_DB || *frames > RING {
                self.ring = None;
            }
        }
        let pitch = frame.f0.map(|f0| f0.cents_above(ORIGIN).get());
        if self.sounding {
            self.go_on(pitch, frame)
        } else {
            self.wait(number, pitch, frame)
        }
    }

    /// Starts over from frame `from` on: those before it are dropped.
    pub fn restart(&mut self, from: usize) {
        let from = from.min(self.len());
        for values in [&mut self.cents, &mut self.level, &mut self.confidence] {
            values.drain(..from);
        }
        self.heard.drain(..from);
        self.first += from as i64;
        self.sounding = !self.cents.is_empty();
        (self.silence, self.away) = (0, None);
        self.peak_dbfs = self.level.iter().copied().fold(-120.0, f64::max);
    }

    /// No note yet: collect steady frames.
    fn wait(&mut self, number: i64, pitch: Option<f64>, frame: &Frame) -> Change {
        let steady = pitch.filter(|_| self.ring.is_none());
        let joins = steady.is_some_and(|p| {
            self.cents
                .last()
                .is_none_or(|last| (p - last).abs() < MOST_STEP)
        });
        if !joins {
            self.drop_all();
        }
        let Some(pitch) = steady else {
            return Change::None;
        };
        if self.cents.is_empty() {
            self.first = number;
        }
        self.append(pitch, true, frame);
        if self.len() < HOLD {
            return Change::None;
        }
        let confidence: f64 = self.confidence.iter().sum::<f64>() / self.len() as f64;
        if confidence < LEAST_CONFIDENCE {
            self.drop_first();
            return Change::None;
        }
        self.sounding = true;
        (self.silence, self.away) = (0, None);
        self.peak_dbfs = self.level.iter().copied().fold(-120.0, f64::max);
        Change::Began
    }

    /// A note sounds: does it still?
    fn go_on(&mut self, pitch: Option<f64>, frame: &Frame) -> Change {
        self.peak_dbfs = (self.peak_dbfs - FADE_DB).max(frame.level_dbfs);
        let died = frame.level_dbfs < self.peak_dbfs - DIED_DB;
        let Some(pitch) = pitch.filter(|_| !died) else {
            let last = self.cents.last().copied().unwrap_or(0.0);
            self.append(last, false, frame);
            self.silence += 1;
            self.away = None;
            if self.silence < SILENCE {
                return Change::None;
            }
            return self.end(frame.level_dbfs);
        };
        self.silence = 0;
        self.append(pitch, true, frame);
        if self.len() == self.cents.capacity() {
            self.sounding = false;
            return Change::Ended;
        }
        self.passed(pitch)
    }

    /// Ends the note where the bow left it.
    fn end(&mut self, level: f64) -> Change {
        let least = self.peak_dbfs - ENDED_DB;
        let sounds = |i: &usize| self.heard[*i] && self.level[*i] >= least;
        let end = (0..self.len())
            .rev()
            .find(sounds)
            .map_or(HOLD.min(self.len()), |last| last + 1);
        self.truncate(end);
        self.ring = Some((level, 0));
        self.sounding = false;
        Change::Ended
    }

    /// Whether the newest frames belong to another note.
    fn passed(&mut self, pitch: f64) -> Change {
        let newest = self.len() - 1;
        let until = self.away.unwrap_or(newest);
        let (middle, half) = self.place(until);
        let distance = pitch - middle;
        if distance.abs() <= AWAY.max(half + AWAY_MARGIN) {
            self.away = None;
            return Change::None;
        }
        let from = *self.away.get_or_insert(newest);
        let run = &self.cents[from..];
        let (low, high) = run
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &c| {
                (l.min(c), h.max(c))
            });
        let one_side = (low > middle) == (high > middle);
        if !one_side {
            self.away = Some(newest);
            return Change::None;
        }
        let slip = SLIPS
            .iter()
            .any(|slip| (distance.abs() - slip).abs() < 60.0);
        let needed = if slip { 2 * HOLD } else { HOLD };
        if run.len() < needed {
            return Change::None;
        }
        // Only the newest frames must agree: the first may lie on the way.
        let settled = &run[run.len() - HOLD..];
        let (low, high) = settled
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &c| {
                (l.min(c), h.max(c))
            });
        if high - low > AGREE {
            return Change::None;
        }
        Change::Passed(from)
    }

    /// Middle and half range of the note over its last frames before `until`.
    fn place(&mut self, until: usize) -> (f64, f64) {
        let start = until.saturating_sub(MEMORY);
        let mut count = 0;
        for i in start..until {
            if self.heard[i] {
                self.sorted[count] = self.cents[i];
                count += 1;
            }
        }
        if count == 0 {
            return (self.cents[until], 0.0);
        }
        let values = &mut self.sorted[..count];
        values.sort_unstable_by(f64::total_cmp);
        let edge = count / 20;
        let (low, high) = (values[edge], values[count - 1 - edge]);
        (0.5 * (low + high), 0.5 * (high - low))
    }

    fn append(&mut self, cents: f64, heard: bool, frame: &Frame) {
        self.cents.push(cents);
        self.heard.push(heard);
        self.level.push(frame.level_dbfs);
        self.confidence.push(frame.confidence);
    }

    fn truncate(&mut self, length: usize) {
        self.cents.truncate(length);
        self.heard.truncate(length);
        self.level.truncate(length);
        self.confidence.truncate(length);
    }

    fn drop_all(&mut self) {
        self.truncate(0);
    }

    fn drop_first(&mut self) {
        self.cents.remove(0);
        self.heard.remove(0);
        self.level.remove(0);
        self.confidence.remove(0);
        self.first += 1;
    }
}
