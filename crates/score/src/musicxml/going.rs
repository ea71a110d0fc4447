//! What goes on from one bar to the next, and how much of it there may be.

use std::collections::BTreeMap;

use coach::plan::Dynamic;

use crate::error::ScoreError;
use crate::quarters::Quarters;
use crate::written::Transposition;

/// Notes and rests of a part; a long symphony has some thousands.
const MOST_SOUNDS: usize = 50_000;
/// Slurs that are open at once, and things that are told of one part.
pub(super) const MOST_OPEN: usize = 64;
pub(super) const MOST_TOLD: usize = 20;

/// What goes on from one bar to the next.
#[derive(Default)]
pub(super) struct Going {
    /// Parts of a quarter that lengths are counted in.
    pub(super) divisions: Option<i64>,
    pub(super) transposed: Transposition,
    /// Dynamics that wait for their note, each with its time from the start of the bar.
    pub(super) dynamics: Vec<(Quarters, Dynamic)>,
    /// How long a bar is by its time.
    pub(super) full_bar: Option<Quarters>,
    /// Endings that are open.
    pub(super) endings: Vec<u32>,
    /// By the number of a slur: the bar and note at which it began, and its voice.
    pub(super) slurs: BTreeMap<String, ((usize, usize), String)>,
    sounds: usize,
}

impl Going {
    /// Counts a note; there may be too many.
    pub(super) fn count_sound(&mut self) -> Result<(), ScoreError> {
        self.sounds += 1;
        if self.sounds > MOST_SOUNDS { Err(too_many("notes", MOST_SOUNDS)) } else { Ok(()) }
    }

    /// What still waits is counted from the start of the next bar.
    pub(super) fn end_bar(&mut self, length: Quarters) {
        self.dynamics.truncate(MOST_OPEN);
        for (at, _) in &mut self.dynamics {
            *at = at.minus(length).unwrap_or(Quarters::ZERO).max(Quarters::ZERO);
        }
    }

    /// The last dynamic that stands at or before a time of the bar; it and those before it wait no more.
    pub(super) fn dynamic_at(&mut self, time: Quarters) -> Option<Dynamic> {
        let due = |(at, _): &(Quarters, Dynamic)| *at <= time;
        let last = self.dynamics.iter().filter(|it| due(it)).max_by_key(|(at, _)| *at);
        let last = last.map(|(_, dynamic)| *dynamic);
        self.dynamics.retain(|it| !due(it));
        last
    }
}

/// What is told of too many.
pub(super) fn too_many(what: &str, most: usize) -> ScoreError {
    ScoreError::TooLarge {
        what: "one part",
        most: format!("{most} {what}"),
        mend: "save the bars you want to practise",
    }
}

/// Tells what was left out, as long as there is not much of it.
pub(super) fn tell(told: &mut Vec<String>, words: String) {
    if told.len() < 10 * MOST_TOLD {
        told.push(words);
    }
}
