//! Which note had most vibrato, as measured, beside the one that the player names by ear.

use tuning::Cents;
use vibrato::Measure;

use super::Checked;
use crate::follow::How;
use crate::told::beyond_doubt;

/// The note with the widest vibrato, beside the one that was named.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Widest {
    /// Its number in the plan.
    pub note: usize,
    /// Its mean width, crest to trough.
    pub width: Measure<Cents>,
    /// The mean width of the one that was named, if a vibrato was measured there.
    pub named: Option<Measure<Cents>>,
    /// It is wider beyond doubt than the one that was named.
    pub wider: bool,
}

/// Holds the note that the player names, by its number in the plan, against the widest one; `None` where fewer than two
/// vibratos were measured. Of a note that was played more than once, the last time counts.
pub fn widest(checked: &Checked, named: usize) -> Option<Widest> {
    let mut widths: Vec<(usize, Measure<Cents>)> = Vec::new();
    for one in checked.notes.iter().filter(|one| one.aligned.how == How::Played) {
        if let Some((note, width)) = one.aligned.note.zip(one.width) {
            widths.retain(|(before, _)| *before != note);
            widths.push((note, width));
        }
    }
    let (note, width) =
        *widths.iter().max_by(|a, b| a.1.value.get().total_cmp(&b.1.value.get()))?;
    let others = widths.len() - 1;
    let of_named = widths.iter().find(|(other, _)| *other == named).map(|(_, width)| *width);
    let apart = of_named.map(|other| Measure {
        value: width.value.get() - other.value.get(),
        se: width.se.zip(other.se).map(|(a, b)| a.get().hypot(b.get())),
    });
    // One without a vibrato is surely narrower.
    let wider = note != named && apart.is_none_or(|apart| beyond_doubt(apart, others));
    (others > 0).then_some(Widest { note, width, named: of_named, wider })
}
