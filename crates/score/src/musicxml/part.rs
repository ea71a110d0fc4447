//! Reads a part: its bars in order, and what goes on from bar to bar.

use std::collections::BTreeMap;

use coach::plan::Dynamic;

use super::bar;
use super::note::{SlurEnd, slur_ends};
use crate::error::ScoreError;
use crate::quarters::Quarters;
use crate::written::{Part, Transposition};
use crate::xml::Element;

/// Notes and rests of a part; a long symphony has some thousands.
const MOST_SOUNDS: usize = 50_000;
/// Bars of a part.
const MOST_BARS: usize = 10_000;
/// Slurs that are open at once, and things that are told of one part.
const MOST_OPEN: usize = 64;
const MOST_TOLD: usize = 20;

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
    slurs: BTreeMap<String, ((usize, usize), String)>,
    sounds: usize,
}

impl Going {
    /// Counts a note; there may be too many.
    pub(super) fn count_sound(&mut self) -> Result<(), ScoreError> {
        self.sounds += 1;
        if self.sounds > MOST_SOUNDS { Err(too_many("notes", MOST_SOUNDS)) } else { Ok(()) }
    }

    /// What still waits is counted from the start of the next bar.
    fn to_next_bar(&mut self, length: Quarters) {
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

/// Reads the bars of a part: each as the element with its number, and the one that holds its notes.
pub(super) fn read<'t>(
    name: &str,
    bars: impl Iterator<Item = (Element<'t>, Element<'t>)>,
) -> Result<Part, ScoreError> {
    let mut part = Part { name: name.to_owned(), ..Part::default() };
    let mut going = Going::default();
    for (head, holder) in bars {
        if part.bars.len() >= MOST_BARS {
            return Err(too_many("bars", MOST_BARS));
        }
        let read = bar::read(head, holder, &mut going, &mut part.left_out)?;
        going.to_next_bar(read.bar.length.unwrap_or(Quarters::ZERO));
        let number = part.bars.len();
        part.bars.push(read.bar);
        for (sound, note) in read.notes {
            join_slurs(&mut part, &mut going, (number, sound), note);
        }
    }
    part.left_out.sort();
    part.left_out.dedup();
    part.left_out.truncate(MOST_TOLD);
    Ok(part)
}

/// Ends the slurs that end at a note, says whether it lies under one, and begins those that begin there.
fn join_slurs(part: &mut Part, going: &mut Going, at: (usize, usize), note: Element<'_>) {
    let voice = part.bars[at.0].sounds[at.1].voice.clone();
    if going.slurs.values().any(|(from, of)| *of == voice && *from < at) {
        part.bars[at.0].sounds[at.1].slurred = true;
    }
    let ends = slur_ends(note);
    for number in ends.iter().filter(|end| end.1 == SlurEnd::Stop).map(|end| &end.0) {
        if let Some((from, _)) = going.slurs.remove(number) {
            part.slurs.push([from, at]);
        }
    }
    for (number, _) in ends.into_iter().filter(|end| end.1 == SlurEnd::Start) {
        if going.slurs.len() < MOST_OPEN {
            going.slurs.insert(number, (at, voice.clone()));
        }
    }
}

fn too_many(what: &str, most: usize) -> ScoreError {
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
