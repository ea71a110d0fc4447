//! Notes laid into bars anew, after one has become longer, has come or has gone.

use crate::plan::note::{Beats, Pitch, Place, PlanNote};
use crate::plan::passage::{Passage, meter_of_bar};

/// A bar: its number and how much it holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Bar {
    number: u32,
    holds: Beats,
}

/// How much a full bar holds, in beats of the passage's first meter.
fn full(passage: &Passage, number: u32) -> Option<Beats> {
    let meter = meter_of_bar(passage.meter, &passage.changes, number);
    Beats::whole(meter.beats)?.counted(meter.of, passage.meter.of)
}

/// The bars of a passage. An upbeat stays one, a bar that is meant to hold more or less stays so too, and the last is full.
pub(super) fn bars(passage: &Passage) -> Option<Vec<Bar>> {
    let rows = passage.bars();
    let last = rows.len().saturating_sub(1);
    let all = rows.iter().enumerate().map(|(at, row)| {
        let (number, end) = (row[0].at.bar, row.last()?);
        let (sum, full) = (end.at.beat.plus(end.beats)?, full(passage, number)?);
        let ends_early = sum < full && at == last && !(at == 0 && number == 0);
        Some(Bar { number, holds: if ends_early { full } else { sum } })
    });
    all.collect()
}

/// The same bars, with a line after so many beats of the first: what comes before it is an upbeat.
pub(super) fn with_upbeat(passage: &Passage, upbeat: Beats) -> Option<Vec<Bar>> {
    let first = passage.notes().first()?.at.bar.max(1);
    Some(vec![
        Bar { number: first - 1, holds: upbeat },
        Bar { number: first, holds: full(passage, first)? },
    ])
}

/// The same bars, each as full as its meter says; an upbeat stays if it is shorter than that.
pub(super) fn by_meter(passage: &Passage) -> Option<Vec<Bar>> {
    let was = bars(passage)?;
    let all = was.iter().enumerate().map(|(at, bar)| {
        let full = full(passage, bar.number)?;
        let upbeat = at == 0 && bar.holds < full && (was.len() > 1 || bar.number == 0);
        Some(if upbeat { *bar } else { Bar { holds: full, ..*bar } })
    });
    all.collect()
}

/// The notes with rests where nothing stands, and with each note in one piece that only a bar line had parted; and for each
/// note of before its number now.
pub(super) fn in_one_piece(notes: &[PlanNote]) -> Option<(Vec<PlanNote>, Vec<usize>)> {
    let mut whole: Vec<PlanNote> = Vec::with_capacity(notes.len());
    let mut now = Vec::with_capacity(notes.len());
    let mut end = Place { bar: 0, beat: Beats::ZERO };
    for note in notes {
        let same_bar = note.at.bar == end.bar && note.at.beat >= end.beat;
        let from = if same_bar { end.beat } else { Beats::ZERO };
        if let Some(gap) = note.at.beat.minus(from).filter(|gap| *gap > Beats::ZERO) {
            let at = Place { beat: from, ..note.at };
            whole.push(PlanNote::plain(at, gap, Pitch::Rest));
        }
        end = Place { bar: note.at.bar, beat: note.at.beat.plus(note.beats)? };
        match whole.last_mut() {
            Some(last)
                if note.tie
                    && note.at.beat == Beats::ZERO
                    && *note == continued(last, note.at, note.beats) =>
            {
                last.beats = last.beats.plus(note.beats)?;
            }
            _ => whole.push(note.clone()),
        }
        now.push(whole.len() - 1);
    }
    Some((whole, now))
}

/// What a bar line leaves of a note for the next bar.
fn continued(note: &PlanNote, at: Place, beats: Beats) -> PlanNote {
    let tie = note.pitch != Pitch::Rest;
    PlanNote { tie, intention: note.intention, ..PlanNote::plain(at, beats, note.pitch) }
}

/// Lays notes into these bars, and into full ones behind them; and for each note of before the number of its first piece.
pub(super) fn laid(
    passage: &Passage,
    bars: &[Bar],
    notes: Vec<PlanNote>,
) -> Option<(Vec<PlanNote>, Vec<usize>)> {
    let next = |bar: Bar| {
        let number = bar.number.checked_add(1)?;
        Some(Bar { number, holds: full(passage, number)? })
    };
    let mut to_come = bars.iter().copied();
    let mut bar = to_come.next()?;
    let mut beat = Beats::ZERO;
    let mut pieces: Vec<PlanNote> = Vec::with_capacity(notes.len());
    let mut now = Vec::with_capacity(notes.len());
    for note in notes {
        now.push(pieces.len());
        let mut left = note.beats;
        while left > Beats::ZERO {
            if beat >= bar.holds {
                (bar, beat) = (to_come.next().map_or_else(|| next(bar), Some)?, Beats::ZERO);
            }
            let at = Place { bar: bar.number, beat };
            let beats = left.min(bar.holds.minus(beat)?);
            let first = left == note.beats;
            let piece = if first {
                PlanNote { at, beats, ..note.clone() }
            } else {
                continued(&note, at, beats)
            };
            pieces.push(piece);
            (left, beat) = (left.minus(beats)?, beat.plus(beats)?);
        }
    }
    Some((pieces, now))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_no_edit_has_touched_is_laid_as_it_was() {
        for text in [
            "instrument cello\nbar C3 1, C3 1, rest 1, rest 1\nbar C3 2, C3 2 tied\nbar C3 4 tied",
            include_str!("../../../../../assets/passages/up-the-hill.passage.txt"),
            "instrument cello\nbar 0 C3 1\nbar 1 D3 4\nbar 2 D3 1 tied, E3 3 width 30\nbar 1 D3 4\nbar 2 free E3 5\nbar 3 E3 2 tied",
            "instrument cello\nbar C3 2, rest 2\nbeats 6 of eighth\nbar rest 2, D3 4\nbar D3 2 tied p, slur D3 4",
        ] {
            let passage = Passage::from_text(text).expect("read");
            let bars = bars(&passage).expect("bars");
            let (whole, _) = in_one_piece(passage.notes()).expect("in one piece");
            let (notes, _) = laid(&passage, &bars, whole).expect("laid");
            assert_eq!(notes, passage.notes(), "{text}");
        }
    }
}
