//! What is read off the oscillations of a note, or of two notes in a row.

use tuning::{Cents, Hz};

use crate::measure::Measure;
use crate::note::{Note, Oscillation, Vibrato};
use crate::straight_line::StraightLine;

/// Notes that lie farther apart than this do not follow each other: there is a rest between them, in seconds.
const REST_SECS: f64 = 0.5;
/// An oscillation that a change of note cuts is counted or is not: each end of a gap is known to this share
/// of a period (one standard error of what is even over one period).
const CUT_SHARE: f64 = 0.29;
/// Least cycles of which a growth can be told.
const GROWTH_CYCLES: usize = 5;

/// From the end of the last oscillation of the note before to the first of this one; `None` where one of them has
/// none, or where a rest lies between them.
pub(crate) fn gap(before: &Note, note: &Note) -> Option<Measure<f64>> {
    if note.start.0 - before.end.0 > REST_SECS {
        return None;
    }
    let last = before.vibrato.as_ref()?.oscillations.last()?;
    let first = note.vibrato.as_ref()?.oscillations.first()?;
    let ends = |o: &Oscillation| CUT_SHARE * o.period.0;
    Some(Measure {
        value: (first.start.0 - last.start.0 - last.period.0).max(0.0),
        se: Some(ends(last).hypot(ends(first))),
    })
}

/// How far the width grows from the first oscillation of a note to its last, in percent of its mean:
/// the slope of the line that fits the widths best. `None` of fewer than five.
pub(crate) fn growth(vibrato: &Vibrato) -> Option<Measure<f64>> {
    grown(vibrato, |o| o.crest.0 - o.trough.0, vibrato.width.se.map(Cents::get))
}

/// The same of the rate.
pub(crate) fn rate_growth(vibrato: &Vibrato) -> Option<Measure<f64>> {
    grown(vibrato, |o| 1.0 / o.period.0, vibrato.rate.se.map(Hz::get))
}

/// How far what is read `of` each oscillation grows through the note, where its mean is known to within `se`.
fn grown(vibrato: &Vibrato, of: fn(&Oscillation) -> f64, se: Option<f64>) -> Option<Measure<f64>> {
    let oscillations = &vibrato.oscillations;
    if oscillations.len() < GROWTH_CYCLES {
        return None;
    }
    let points = oscillations.iter().map(|o| (o.start.0 + 0.5 * o.period.0, of(o)));
    let span = points.clone().next_back()?.0 - points.clone().next()?.0;
    let line = StraightLine::through(points);
    let mean = line.mean.1;
    if line.places <= 0.0 || mean <= 0.0 {
        return None;
    }
    // No single cycle is known better than the whole is.
    let floor = se.map(|se| se * (12.0 / line.count).sqrt());
    let se = line.slope_se() * span;
    Some(Measure {
        value: 100.0 * line.slope * span / mean,
        se: floor.map(|floor| 100.0 * se.hypot(floor) / mean),
    })
}

#[cfg(test)]
mod tests {
    use tuning::Secs;

    use super::*;

    #[test]
    fn a_width_that_doubles_grows_by_two_thirds_of_its_mean() {
        let mut vibrato = Vibrato::even(Hz(5.0), Cents(0.0), Secs(0.0), 8);
        let last = vibrato.oscillations.len() as f64 - 1.0;
        for (i, oscillation) in vibrato.oscillations.iter_mut().enumerate() {
            let width = 20.0 + 20.0 * i as f64 / last;
            (oscillation.crest, oscillation.trough) = (Cents(width), Cents(0.0));
        }
        let grown = growth(&vibrato).expect("cycles enough");
        assert!((grown.value - 100.0 * 20.0 / 30.0).abs() < 1e-6, "{grown:?}");
        // Where nobody knows how well the width is known, nobody knows how well its growth is.
        vibrato.width.se = None;
        assert_eq!(growth(&vibrato).expect("cycles enough").se, None);
        vibrato.oscillations.truncate(GROWTH_CYCLES - 1);
        assert_eq!(growth(&vibrato), None);
    }

    #[test]
    fn a_rate_that_grows_is_told_and_the_width_is_not_said_to() {
        let mut vibrato = Vibrato::even(Hz(5.0), Cents(30.0), Secs(0.0), 9);
        let mut start = 0.0;
        for (i, oscillation) in vibrato.oscillations.iter_mut().enumerate() {
            oscillation.period = Secs(1.0 / (4.0 + 0.25 * i as f64));
            oscillation.start = Secs(start);
            start += oscillation.period.0;
        }
        // From 4 to 6 Hz, by 40 percent of their mean; a line over time bends it a little.
        let grown = rate_growth(&vibrato).expect("cycles enough");
        assert!((grown.value - 40.0).abs() < 2.0, "{grown:?}");
        assert!(growth(&vibrato).expect("cycles enough").value.abs() < 1e-6);
    }
}
