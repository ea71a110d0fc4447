//! Which note of the plan sounds now.

use tuning::Tuning;
use vibrato::{Event, FRAME, Note};

use super::heard::Heard;
use super::model::{LIVE, Model, Way};
use super::places::places;
use super::viterbi::Lattice;
use super::{Aligned, aligned};
use crate::plan::Passage;

/// Frames between two answers, and frames behind a place until it is taken for one.
const EVERY_FRAMES: usize = 3;
const WAIT_FRAMES: usize = 10;
/// An answer is left for one that is better by this.
const STAY: f64 = 0.3;
/// Notes that are no worse than this may be it, too.
const IN_DOUBT: f64 = 2.0;
/// The beat is the mean of that of the last so many notes and, with this weight, that of the plan; no further from it
/// than this.
const LAST_NOTES: usize = 6;
const LEAST_NOTES: usize = 2;
const PLAN_WEIGHT: f64 = 1.5;
const FASTEST: f64 = 0.6;
const SLOWEST: f64 = 1.7;

/// Where in the plan the player is.
#[derive(Clone, Debug, PartialEq)]
pub struct Now {
    /// The likeliest note, by its number in the plan.
    pub note: usize,
    /// All notes that it may be, in the plan's order.
    pub may_be: Vec<usize>,
}

/// Follows a player through a passage.
#[derive(Debug)]
pub struct Follower {
    model: Model,
    heard: Heard,
    lattice: Lattice,
    /// Seconds a beat: as planned, and as played.
    planned_beat: f64,
    beat: f64,
    /// Frames by which the last answer was given.
    looked: usize,
    now: Option<Now>,
}

impl Follower {
    /// Waits for the first note.
    pub fn new(passage: &Passage, tuning: &Tuning) -> Self {
        let beat = passage.beat().get();
        Self {
            model: Model::new(passage, tuning),
            heard: Heard::default(),
            lattice: Lattice::default(),
            planned_beat: beat,
            beat,
            looked: 0,
            now: None,
        }
    }

    /// Takes in what the ear tells, and each note that has ended.
    pub fn push(&mut self, event: &Event, ended: Option<&Note>) {
        self.heard.push(event, ended);
        if self.heard.len() >= self.looked + EVERY_FRAMES {
            self.looked = self.heard.len();
            self.look();
        }
    }

    /// The note that sounds, or sounded last; `None` before the first. What is told of a place may change with what
    /// follows: a note is known to have been played once all is aligned.
    pub fn now(&self) -> Option<&Now> {
        self.now.as_ref()
    }

    /// All notes, exactly, once the player has ended; with what was heard.
    pub fn finish(self) -> (Vec<Aligned>, Heard) {
        let mut heard = self.heard;
        (aligned(&self.model, &mut heard), heard)
    }

    /// What was heard, to be aligned and checked.
    pub fn into_heard(self) -> Heard {
        self.heard
    }

    fn look(&mut self) {
        self.heard.settle();
        let frame = self.heard.len();
        let first = self.lattice.last().map_or(0, |last| last + WAIT_FRAMES / 3);
        let end = frame.saturating_sub(WAIT_FRAMES);
        if first < end {
            for onset in places(&self.heard, first..end) {
                let beat = self.beat;
                self.lattice.push((&self.model, &LIVE), &self.heard, onset, |_| beat);
                self.take_beat();
            }
        }
        let beat = self.beat;
        let costs = self.lattice.sounding((&self.model, &LIVE), &self.heard, frame, beat);
        let Some(&(best, least)) = costs.iter().min_by(|a, b| a.1.total_cmp(&b.1)) else {
            return;
        };
        let last = self.now.as_ref().map(|now| now.note);
        let number = |note: usize| self.model.notes[note].number;
        let stays = costs.iter().find(|(note, _)| Some(number(*note)) == last);
        let note = stays.filter(|(_, cost)| *cost <= least + STAY).map_or(best, |stays| stays.0);
        let near = costs.iter().filter(|(_, cost)| *cost <= least + IN_DOUBT);
        let may_be = near.map(|(note, _)| number(*note)).collect();
        self.now = Some(Now { note: number(note), may_be });
    }

    /// The beat by the last notes that followed each other as planned.
    fn take_beat(&mut self) {
        let mut next_start = None;
        let mut logs = Vec::with_capacity(LAST_NOTES);
        for found in self.lattice.back() {
            let next = found.way == Way::Next;
            if let Some(end) = next_start.filter(|_| next) {
                let secs = (end - found.start) as f64 * FRAME.get();
                logs.push((secs / self.model.notes[found.note].beats).ln());
            }
            next_start = next.then_some(found.start);
            if logs.len() == LAST_NOTES {
                break;
            }
        }
        if logs.len() >= LEAST_NOTES {
            let sum = PLAN_WEIGHT * self.planned_beat.ln() + logs.iter().sum::<f64>();
            let beat = (sum / (PLAN_WEIGHT + logs.len() as f64)).exp();
            self.beat = beat.clamp(FASTEST * self.planned_beat, SLOWEST * self.planned_beat);
        }
    }
}
