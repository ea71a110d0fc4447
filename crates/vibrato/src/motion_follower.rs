//! One motion through several fingers: the pitch with the fingers' steps taken out of it, and the
//! turns of the motion that is left.
//!
//! [`Ear`](crate::Ear) measures notes one by one. Where oscillations are counted from finger to
//! finger, a cycle that is cut by a change of finger must neither be lost nor counted twice: so here
//! a whole stretch of sound is followed as one.

use crate::change::Awaited;
use crate::ear::Event;
use crate::fit::Scanner;
use crate::note::Note;
use crate::stretch::Stretch;
use pitch::{Frame, HOP_SECS};
use std::collections::VecDeque;
use tuning::{Hz, Secs};

/// Frames kept from before a note is told.
const KEPT_FRAMES: usize = 64;
/// The longest stretch that is followed: 5 min.
const LONGEST_FRAMES: usize = 60_000;
/// Sound that breaks off for less than this goes on as one stretch, in seconds, unless a stop is asked for.
const HOLE_SECS: f64 = 0.12;
/// A loss of sound that is shorter than this ends neither a stretch nor a round: no oscillation that a hand can make,
/// some 10 a second at most, has as much as its half in it.
pub const SHORT_LOSS: Secs = Secs(0.05);
/// A note is told so many frames late at most.
const TOLD_LATE_FRAMES: usize = 16;

/// Follows the motion of what is played.
pub struct MotionFollower {
    scanner: Scanner,
    recent: VecDeque<Frame>,
    stretches: Vec<Stretch>,
    state: State,
    /// The rate to begin with.
    expected_hz: Option<f64>,
    /// Each stop of the sound ends a stretch.
    stops: bool,
    awaited: Vec<Awaited>,
    /// The frame in which the last short loss began.
    lost_at: Option<i64>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum State {
    Silent,
    Sounding,
    /// The note ended before this frame of the stretch; it may go on.
    Broken(usize),
}

impl MotionFollower {
    /// Before the first sound. `expected` is the rate asked for, if one is; with `stops`
    /// the shortest break of the sound ends a stretch. `awaited` are the changes of finger in order;
    /// one that is not heard in its place costs the next ones their place, too, for a player who skips one
    /// must not lose the rest.
    pub fn new(expected: Option<Hz>, stops: bool, awaited: Vec<Awaited>) -> Self {
        Self {
            scanner: Scanner::new(),
            recent: VecDeque::with_capacity(KEPT_FRAMES),
            stretches: Vec::new(),
            state: State::Silent,
            expected_hz: expected.map(Hz::get),
            stops,
            awaited,
            lost_at: None,
        }
    }

    /// The stretches so far, the one that sounds included.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    /// Takes in what the ear reports; `note` is the ear's note where one has just ended.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) {
        match *event {
            Event::Frame(frame) => self.take(&frame),
            Event::NoteBegan { start, .. } => self.begin(number(start)),
            Event::NoteEnded => {
                if let (State::Sounding, Some(note), Some(stretch)) =
                    (self.state, note, self.stretches.last())
                {
                    let end = (number(note.heard_until) - stretch.first).max(0) as usize;
                    self.state = State::Broken(end);
                }
            }
            Event::NoteDropped => {
                if let (State::Sounding, Some(stretch)) = (self.state, self.stretches.last()) {
                    self.state = State::Broken(stretch.flat.len());
                }
            }
            // What misses a few samples goes on: the frames that would need them come without a pitch.
            Event::Lost { time, length } if length.get() < SHORT_LOSS.get() => {
                self.lost_at = Some(number(time));
            }
            Event::Lost { .. } => self.break_off(),
            _ => {}
        }
    }

    /// The sound is over: what sounds ends here.
    pub fn finish(&mut self) {
        self.break_off();
    }

    fn take(&mut self, frame: &Frame) {
        if self.recent.len() == KEPT_FRAMES {
            self.recent.pop_front();
        }
        self.recent.push_back(*frame);
        let Some((stretch, before)) = self.stretches.split_last_mut() else {
            return;
        };
        let done: usize = before.iter().map(|stretch| stretch.cuts.len() + 1).sum();
        match self.state {
            State::Silent => {}
            State::Sounding if stretch.flat.len() >= LONGEST_FRAMES => self.break_off(),
            State::Sounding => {
                let awaited = self.awaited.get(done + stretch.cuts.len()).copied();
                stretch.push(frame, true);
                stretch.advance(&self.scanner, awaited);
            }
            State::Broken(end) => {
                let hole = hole_frames(self.stops, self.lost_at, stretch.first + end as i64);
                if stretch.flat.len() >= end + hole + TOLD_LATE_FRAMES {
                    self.break_off();
                } else {
                    stretch.push(frame, false);
                }
            }
        }
    }

    fn begin(&mut self, start: i64) {
        if let (State::Broken(end), Some(stretch)) = (self.state, self.stretches.last_mut()) {
            let from = (start - stretch.first).max(0) as usize;
            let hole = hole_frames(self.stops, self.lost_at, stretch.first + end as i64);
            if from <= end + hole {
                // What came since the note began was taken for silence.
                let since = self.recent.iter().filter(|frame| number(frame.time) >= start);
                since.for_each(|frame| stretch.hear_again(number(frame.time), frame));
                self.state = State::Sounding;
                return;
            }
            self.break_off();
        }
        if self.state == State::Sounding {
            return;
        }
        let known = self.stretches.iter().rev().find_map(Stretch::measured_rate_hz);
        let mut stretch = Stretch::new(start, known.or(self.expected_hz));
        for frame in &self.recent {
            if number(frame.time) >= start {
                stretch.push(frame, true);
            }
        }
        self.stretches.push(stretch);
        self.state = State::Sounding;
    }

    fn break_off(&mut self) {
        if let Some((stretch, before)) = self.stretches.split_last_mut() {
            let done: usize = before.iter().map(|stretch| stretch.cuts.len() + 1).sum();
            // Where the bow stops between fingers there are none within a stretch.
            let awaited = match self.awaited.get(done..) {
                Some(awaited) if !self.stops => awaited,
                _ => &[],
            };
            match self.state {
                State::Silent => {}
                State::Sounding => stretch.close(stretch.flat.len(), &self.scanner, awaited),
                State::Broken(end) => stretch.close(end, &self.scanner, awaited),
            }
        }
        self.state = State::Silent;
    }
}

/// How many frames the sound that ended in frame `end` may be away and still go on as one stretch. Where each stop counts
/// there are hardly any, unless samples were lost there: a loss is no stop of the bow.
fn hole_frames(stops: bool, lost_at: Option<i64>, end: i64) -> usize {
    const HOLE_FRAMES: usize = (HOLE_SECS / HOP_SECS) as usize;
    let lost = lost_at.is_some_and(|at| at.abs_diff(end) <= HOLE_FRAMES as u64);
    if stops && !lost { 2 } else { HOLE_FRAMES }
}

fn number(time: Secs) -> i64 {
    (time.get() / HOP_SECS).round() as i64
}
