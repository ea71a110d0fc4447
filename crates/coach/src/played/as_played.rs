//! A plan from what was played: a teacher's model, note by note.

use tuning::{Cents, Hz};
use vibrato::Measure;

use super::note_findings::PlayedNote;
use crate::follow::How;
use crate::plan::{FASTEST, Intention, Passage, WIDEST};
use crate::told::beyond_doubt;

/// Planned values are round: to a cent, a tenth of a hertz, a hundredth of the note.
const RATE_PARTS: f64 = 10.0;
const PEAK_PARTS: f64 = 100.0;
/// The slowest rate that is copied: the lines of a short note may run out below it.
const SLOWEST: Hz = Hz(0.5);

/// The vibrato with which each note of the plan was played the first time, in the order of [`Passage::notes`]. `None` where
/// nothing can be copied: rests, open strings, two strings, and notes that were left out, played at another pitch or too
/// short to show a vibrato.
pub fn as_played(passage: &Passage, notes: &[PlayedNote]) -> Vec<Option<Intention>> {
    let copied = |(number, plan): (usize, &crate::plan::PlanNote)| {
        let of_this = |note: &&PlayedNote| {
            note.aligned.note == Some(number) && note.aligned.how == How::Played
        };
        let note = notes.iter().find(of_this).filter(|note| !note.too_short && !plan.open())?;
        Some(intention(note))
    };
    passage.notes().iter().enumerate().map(copied).collect()
}

fn intention(note: &PlayedNote) -> Intention {
    let (Some(widths), Some(rates)) = (note.widths, note.rates) else {
        return Intention::Straight;
    };
    let secs = super::length(&note.aligned).get();
    let peak_at = note.peak.map_or(0.5, |peak| (peak.value.get() / secs).clamp(0.0, 1.0));
    let width = three(widths.map(Measure::bare), note.width.map(Measure::bare));
    let rate = three(rates.map(Measure::bare), note.rate.map(Measure::bare));
    // Whole parts of the unit, so that they are written as plain numbers.
    let round = |value: f64, parts: f64| (value * parts).round() / parts;
    Intention::Contour {
        width: width.map(|cents| Cents(cents.clamp(0.0, WIDEST.0).round())),
        rate: Some(rate.map(|hz| Hz(round(hz.clamp(SLOWEST.0, FASTEST.0), RATE_PARTS)))),
        peak_at: round(peak_at, PEAK_PARTS),
    }
}

/// Three values, or their mean three times where they differ by no more than their doubt.
fn three(values: [Measure<f64>; 3], mean: Option<Measure<f64>>) -> [f64; 3] {
    let differ = |a: Measure<f64>, b: Measure<f64>| {
        let se = a.se.zip(b.se).map(|(a, b)| a.hypot(b));
        beyond_doubt(Measure { value: a.value - b.value, se }, 3)
    };
    let [start, peak, end] = values;
    let level = !(differ(start, peak) || differ(peak, end) || differ(start, end));
    match mean.filter(|_| level) {
        Some(mean) => [mean.value; 3],
        None => values.map(|measure| measure.value),
    }
}
