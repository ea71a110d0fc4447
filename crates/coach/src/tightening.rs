//! A motion that grows faster and narrower at once: within its notes, and from round to round. What is told is what
//! happened; why it did, sound cannot say.

use vibrato::{Measure, Quantity, StraightLine};

use crate::finding::{Finding, FindingKind};
use crate::told::beyond_doubt;
use crate::turns::Played;

/// The rate has grown by this share at least, and the width shrunk by that.
const FASTER: f64 = 0.08;
const NARROWER: f64 = 0.1;
/// Oscillations of a note in which a course can be seen, besides the first and the last, which the bow bends.
const LEAST_OSCILLATIONS: usize = 4;

/// How much the logarithm of something changed over one note, by the straight line that fits it best.
fn change(values: &[f64]) -> Measure<f64> {
    let line = StraightLine::through_even(values.iter().map(|value| value.ln()));
    let steps = values.len() as f64 - 1.0;
    Measure { value: steps * line.slope, se: Some(steps * line.slope_se()) }
}

/// Whether the one grew and the other shrank, beyond the doubt of both, where this is asked so many times.
pub(crate) fn both(rate: Measure<f64>, width: Measure<f64>, asked: usize) -> bool {
    rate.value >= (1.0 + FASTER).ln()
        && width.value <= (1.0 - NARROWER).ln()
        && beyond_doubt(rate, asked)
        && beyond_doubt(width, asked)
}

/// Tightening within the notes of a round, taken together.
pub(crate) fn within_notes(played: &[Played]) -> Option<Finding> {
    let inner = played.iter().filter_map(|turn| {
        let inner = turn.contour.get(1..turn.contour.len().checked_sub(1)?)?;
        (inner.len() >= LEAST_OSCILLATIONS).then_some(inner)
    });
    let courses = inner.map(|inner| {
        let rates: Vec<f64> = inner.iter().map(|point| point.rate.get()).collect();
        let widths: Vec<f64> = inner.iter().map(|point| point.width.get()).collect();
        (change(&rates), change(&widths))
    });
    let (rates, widths): (Vec<_>, Vec<_>) = courses.unzip();
    let (rate, width) = (Measure::mean(rates)?, Measure::mean(widths)?);
    both(rate, width, 1).then(|| {
        let pct = |log: f64| 100.0 * (log.exp() - 1.0);
        let words = format!(
            "within the notes the motion grows faster by {:.0} % and narrower by {:.0} %",
            pct(rate.value),
            -pct(width.value)
        );
        let kind = FindingKind::Tightening;
        Finding::new(kind, None, words, ("rate grown", "%"), pct(rate.value))
    })
}

/// Tightening over rounds, from the first ones to the last: what rate and width were, early and late.
pub(crate) fn over_rounds(rounds: usize, rate: (f64, f64), width: (f64, f64)) -> Finding {
    let words = format!(
        "over {rounds} rounds the motion grew faster and narrower: {} to {}, {} to {}",
        Quantity::Rate.rounded(rate.0),
        Quantity::Rate.size(rate.1),
        Quantity::Width.rounded(width.0),
        Quantity::Width.size(width.1)
    );
    Finding::new(FindingKind::Tightening, None, words, Quantity::Rate, rate.1 - rate.0)
}

#[cfg(test)]
mod tests {
    use tuning::{Cents, Hz, Secs};
    use vibrato::ContourPoint;

    use super::*;

    fn turn(rates: impl Fn(f64) -> f64, widths: impl Fn(f64) -> f64) -> Played {
        let point = |k: usize| {
            let wiggle = if k.is_multiple_of(2) { 1.03 } else { 0.97 };
            let share = k as f64 / 9.0;
            ContourPoint {
                time: Secs(share),
                rate: Hz(wiggle * rates(share)),
                width: Cents(wiggle * widths(share)),
            }
        };
        let contour = (0..10).map(point).collect();
        Played { contour, ..Played::unmeasured(0, Secs(0.0), Secs(2.0)) }
    }

    #[test]
    fn a_note_that_grows_faster_and_narrower_is_told_and_one_that_only_does_either_is_not() {
        let faster = |share: f64| 5.0 + 1.5 * share;
        let narrower = |share: f64| 40.0 - 14.0 * share;
        let found = within_notes(&[turn(faster, narrower), turn(faster, narrower)]).expect("both");
        assert!(
            found.words.starts_with("within the notes the motion grows faster by 2"),
            "{found:?}"
        );
        assert!(within_notes(&[turn(faster, |_| 40.0)]).is_none());
        assert!(within_notes(&[turn(|_| 5.0, narrower)]).is_none());
        assert!(within_notes(&[turn(|s| 6.5 - s, narrower)]).is_none());
        assert!(within_notes(&[]).is_none());
    }
}
