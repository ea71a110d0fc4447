//! Reads a part: its bars in order, and what goes on from bar to bar.

use super::bar;
use super::going::{Going, MOST_OPEN, MOST_TOLD, too_many};
use super::note::{SlurEnd, slur_ends};
use crate::error::ScoreError;
use crate::quarters::Quarters;
use crate::written::Part;
use crate::xml::Element;

/// Bars of a part.
const MOST_BARS: usize = 10_000;

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
        going.end_bar(read.bar.length.unwrap_or(Quarters::ZERO));
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
