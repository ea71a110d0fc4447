//! One difference with its doubt, and how large it has to be to matter.

use tuning::{Cents, Hz};
use vibrato::{Measure, Note, Quantity, Vibrato};

use crate::told::{DOUBTS, doubts};

/// A motion is seen over so many of its last cycles.
const SEEN_CYCLES: f64 = 1.5;

/// Echo minus model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// What differs.
    pub quantity: Quantity,
    /// Echo minus model, in the unit of the quantity.
    pub value: f64,
    /// One standard error, both notes' together; `None` where one of them cannot be told.
    pub se: Option<f64>,
    /// The smallest difference that is worth a word, in the same unit.
    pub least: f64,
    /// So many differences are looked at with it, any of which would be told.
    pub asked: usize,
}

impl Difference {
    /// It with its doubt.
    pub fn measure(&self) -> Measure<f64> {
        Measure { value: self.value, se: self.se }
    }

    /// How large it is in units of what can be told: above 1 it is more than its doubt and more than
    /// the least that matters. 0 where the doubt is not known.
    pub fn units(&self) -> f64 {
        self.se.map_or(0.0, |se| self.value.abs() / self.least.hypot(doubts(self.asked) * se))
    }
}

/// The band around a model's rate and width in which an echo counts as near to it: the least that
/// matters and the doubt to either side.
pub fn band(vibrato: &Vibrato) -> ((Hz, Hz), (Cents, Cents)) {
    let around = |quantity: Quantity, measure: Measure<f64>| {
        let least = quantity.least(measure.value);
        let half = least.hypot(DOUBTS * measure.se.unwrap_or(0.0));
        ((measure.value - half).max(0.0), measure.value + half)
    };
    let rates = around(Quantity::Rate, vibrato.rate.bare());
    let widths = around(Quantity::Width, vibrato.width.bare());
    ((Hz(rates.0), Hz(rates.1)), (Cents(widths.0), Cents(widths.1)))
}

/// What differs between two notes; each comes with the one before it.
pub(super) fn differences(
    (model, before_model): (&Note, Option<&Note>),
    (echo, before_echo): (&Note, Option<&Note>),
    transposed: i32,
) -> Vec<Difference> {
    // Both are cents above the note of the model, wherever on the fingerboard the echo is played.
    let astray = 100.0 * f64::from(echo.midi - model.midi - transposed);
    let of = |quantity| {
        let a = compared(quantity, model, before_model)?;
        let b = compared(quantity, echo, before_echo)?;
        let moved = if quantity == Quantity::Centre { astray } else { 0.0 };
        let Measure { value, se } = b.above(a);
        let least = quantity.least(a.value);
        Some(Difference { quantity, value: value + moved, se, least, asked: 1 })
    };
    let mut all: Vec<Difference> = Quantity::compared().filter_map(of).collect();
    let asked = all.len();
    all.iter_mut().for_each(|difference| difference.asked = asked);
    all
}

/// What is compared of a note.
fn compared(quantity: Quantity, note: &Note, before: Option<&Note>) -> Option<Measure<f64>> {
    match (quantity, &note.vibrato) {
        (Quantity::Rate, Some(vibrato)) => Some(rate_of(vibrato)),
        (Quantity::Onset, Some(vibrato)) => Some(onset_of(vibrato)),
        // Over whole oscillations where there are any.
        (Quantity::Centre, None) => Some(note.offset.bare()),
        _ => quantity.read(note, before),
    }
}

/// The rate; its doubt is that of the measuring and what chance makes of so many
/// cycles that are not alike: a fit through all turns and a count from the first to the last differ by it.
fn rate_of(vibrato: &Vibrato) -> Measure<f64> {
    let rate = vibrato.rate.bare();
    let cycles = vibrato.oscillations.len().max(1) as f64;
    let spread = vibrato.get(Quantity::RateSpread).map_or(0.0, |spread| spread.value);
    let chance = rate.value * 0.01 * spread / cycles.sqrt();
    Measure { value: rate.value, se: rate.se.map(|se| se.hypot(chance)) }
}

/// The onset. Where the ear saw the motion well before the first oscillation that it counts, as where the
/// first ones are out of step with the rest, the doubt reaches back to there.
fn onset_of(vibrato: &Vibrato) -> Measure<f64> {
    let onset = vibrato.onset.bare();
    let earlier = || {
        let (first, seen) = (vibrato.oscillations.first()?, vibrato.contour.first()?);
        Some(first.start.0 - (seen.time.0 - SEEN_CYCLES * first.period.0))
    };
    let back = earlier().map_or(0.0, |earlier| earlier.max(0.0));
    Measure { value: onset.value, se: onset.se.map(|se| se.hypot(back / DOUBTS)) }
}

#[cfg(test)]
mod tests {
    use super::super::tests::vibrated;
    use super::*;

    #[test]
    fn the_band_of_a_model_holds_the_model_and_what_cannot_be_told_from_it() {
        let note = vibrated(57, 0.0, 5.0, 40.0);
        let ((slow, fast), (narrow, wide)) = band(note.vibrato.as_ref().expect("it has one"));
        assert!((slow.0 - (5.0 - 0.25_f64.hypot(0.04))).abs() < 1e-9);
        assert!((fast.0 - (5.0 + 0.25_f64.hypot(0.04))).abs() < 1e-9);
        assert!((wide.0 - narrow.0 - 2.0 * 4.0_f64.hypot(1.0)).abs() < 1e-9);
    }

    #[test]
    fn an_unknown_doubt_is_never_told() {
        let difference =
            Difference { quantity: Quantity::Width, value: 90.0, se: None, least: 4.0, asked: 1 };
        assert_eq!(difference.units(), 0.0);
    }

    #[test]
    fn what_is_told_of_many_must_be_surer_than_what_is_asked_alone() {
        let of = |asked| Difference {
            quantity: Quantity::Centre,
            value: 12.0,
            se: Some(5.0),
            least: 5.0,
            asked,
        };
        assert!(of(1).units() > 1.0);
        assert!(of(10).units() < 1.0);
        let made = |rate| vibrated(57, 0.0, rate, 40.0);
        let found = differences((&made(5.0), None), (&made(5.4), None), 0);
        assert!(found.len() > 5 && found.iter().all(|one| one.asked == found.len()), "{found:?}");
    }
}
