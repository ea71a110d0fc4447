//! The vibrato of one note as a chain of turning points, known exactly.

use crate::chance::Chance;
use crate::spec::{Factor, Shape, VibratoSpec};
use std::f64::consts::PI;

/// A point where the swing stands still.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Knot {
    /// Time from the start of the note, in seconds; the first may lie before it.
    pub secs: f64,
    /// Distance from the straight pitch, in cents.
    pub cents: f64,
    /// A crest, a trough, or (`None`) the straight pitch before the first swing.
    pub crest: Option<bool>,
}

/// One vibrato: knots, and between two of them half an oscillation of the given shape.
pub(crate) struct Swing {
    knots: Vec<Knot>,
    shape: Shape,
}

/// Chance is kept within this many standard deviations.
const MOST_DEVIATIONS: f64 = 2.5;
/// No cycle is shorter or narrower than this share of the mean.
const LEAST_SHARE: f64 = 0.2;

impl Swing {
    /// Lays out the turning points of a note `length` seconds long.
    pub(crate) fn new(spec: &VibratoSpec, length: f64, chance: &mut Chance) -> Self {
        let mut jitter = |pct: f64| {
            let deviations = chance.normal().clamp(-MOST_DEVIATIONS, MOST_DEVIATIONS);
            (1.0 + 0.01 * pct * deviations).max(LEAST_SHARE)
        };
        let rise = match spec.shape {
            Shape::Skewed(rise) => rise,
            Shape::Sine | Shape::Flattened(_) => 0.5,
        };
        // Cycles (start, period, width); the last begins behind the end, so that the trough there is known.
        let mut cycles: Vec<(f64, f64, f64)> = Vec::new();
        let mut first = true;
        let mut start: f64 = 0.0;
        let mut lead_in = 0.0;
        let behind = |cycles: &[(f64, f64, f64)]| {
            let last = cycles.last().is_some_and(|last| last.0 >= length + 0.5);
            last && cycles.len() >= 2
        };
        while !behind(&cycles) {
            let at = factor_at(&spec.contour, start.max(spec.delay.get()));
            let period = jitter(spec.rate_jitter_pct) / (spec.rate.get() * at.1);
            if first {
                first = false;
                match spec.phase {
                    Some(phase) => start = -phase * period,
                    None => {
                        // From the straight pitch a quarter of a cycle to the first turning point.
                        lead_in = period / 4.0;
                        let half = if spec.upward { (1.0 - rise) * period } else { 0.0 };
                        start = spec.delay.get() + lead_in + half;
                    }
                }
            }
            let middle = factor_at(&spec.contour, (start + 0.5 * period).max(0.0));
            let width = spec.width.get() * middle.0 * jitter(spec.width_jitter_pct);
            cycles.push((start, period, width));
            start += period;
        }
        let mut knots = Vec::with_capacity(2 * cycles.len() + 2);
        if spec.phase.is_none() {
            knots.push(Knot { secs: spec.delay.get(), cents: 0.0, crest: None });
            if spec.upward {
                let cents = 0.5 * cycles[0].2 * (1.0 + spec.lean);
                knots.push(Knot { secs: spec.delay.get() + lead_in, cents, crest: Some(true) });
            }
        }
        let trough_of = |before: f64, after: f64| -0.25 * (before + after) * (1.0 - spec.lean);
        for (i, &(start, period, width)) in cycles.iter().enumerate() {
            let before = if i > 0 { cycles[i - 1].2 } else { width };
            let after = cycles.get(i + 1).map_or(width, |next| next.2);
            let trough = trough_of(before, width);
            // The crest stands exactly one width above the mean of the troughs beside it.
            let crest = width + 0.5 * (trough + trough_of(width, after));
            knots.push(Knot { secs: start, cents: trough, crest: Some(false) });
            knots.push(Knot { secs: start + rise * period, cents: crest, crest: Some(true) });
        }
        Self { knots, shape: spec.shape }
    }

    /// The turning points in the order of time.
    pub(crate) fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// Distance from the straight pitch at `secs` from the start of the note, in cents.
    pub(crate) fn cents_at(&self, secs: f64) -> f64 {
        let next = self.knots.partition_point(|knot| knot.secs <= secs);
        let (Some(from), Some(to)) =
            (next.checked_sub(1).map(|i| self.knots[i]), self.knots.get(next))
        else {
            // Before the first knot the note is straight; behind the last one nothing is heard.
            return if next == 0 { 0.0 } else { self.knots[next - 1].cents };
        };
        let done = (secs - from.secs) / (to.secs - from.secs);
        let sine = -(PI * done).cos();
        let course = match self.shape {
            Shape::Flattened(gain) if from.crest.is_some() => (gain * sine).tanh() / gain.tanh(),
            _ => sine,
        };
        from.cents + (to.cents - from.cents) * 0.5 * (1.0 + course)
    }
}

/// Factors on width and rate at `secs`, linear between the points.
fn factor_at(contour: &[Factor], secs: f64) -> (f64, f64) {
    let next = contour.partition_point(|point| point.time.get() <= secs);
    let (before, after) = (next.checked_sub(1).map(|i| contour[i]), contour.get(next));
    match (before, after) {
        (None, None) => (1.0, 1.0),
        (Some(only), None) => (only.width, only.rate),
        (None, Some(only)) => (only.width, only.rate),
        (Some(a), Some(b)) => {
            let share = (secs - a.time.get()) / (b.time.get() - a.time.get());
            (a.width + share * (b.width - a.width), a.rate + share * (b.rate - a.rate))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::Use;
    use tuning::{Cents, Hz, Secs};

    fn swing(spec: &VibratoSpec) -> Swing {
        Swing::new(spec, 3.0, &mut Chance::new(7, Use::Note(0, 0)))
    }

    #[test]
    fn a_regular_sine_is_a_sine_of_that_rate_and_width() {
        let mut spec = VibratoSpec::regular(Hz(5.7), Cents(40.0));
        spec.phase = Some(0.3);
        let swing = swing(&spec);
        for i in 0..3_000 {
            let t = f64::from(i) * 1e-3;
            let known = -20.0 * (2.0 * PI * (5.7 * t + 0.3)).cos();
            assert!((swing.cents_at(t) - known).abs() < 1e-9, "at {t} s");
        }
    }

    #[test]
    fn a_slow_swing_goes_on_to_the_end_of_the_note() {
        for shape in [Shape::Sine, Shape::Skewed(0.3), Shape::Skewed(0.7)] {
            for tenth in 0..10 {
                let mut spec = VibratoSpec::regular(Hz(0.5), Cents(40.0));
                spec.shape = shape;
                spec.phase = Some(f64::from(tenth) / 10.0);
                let last = swing(&spec).knots().last().expect("knots").secs;
                assert!(last >= 3.0, "{shape:?} from {tenth}: to {last} s");
            }
        }
    }

    #[test]
    fn every_knot_is_an_extreme_and_widths_follow_the_contour() {
        let mut spec = VibratoSpec::regular(Hz(4.0), Cents(50.0));
        spec.shape = Shape::Skewed(0.3);
        spec.width_jitter_pct = 18.0;
        spec.rate_jitter_pct = 6.0;
        spec.delay = Secs(0.4);
        let swing = swing(&spec);
        assert!(swing.cents_at(0.39).abs() < 1e-12);
        for knot in
            swing.knots().iter().filter(|k| k.crest.is_some() && (0.5..3.0).contains(&k.secs))
        {
            let (a, b) = (swing.cents_at(knot.secs - 1e-3), swing.cents_at(knot.secs + 1e-3));
            let here = swing.cents_at(knot.secs);
            assert_eq!(knot.crest == Some(true), here > a && here > b, "{knot:?}");
            assert_eq!(knot.crest == Some(false), here < a && here < b, "{knot:?}");
            assert!((here - knot.cents).abs() < 1e-9);
        }
        spec = VibratoSpec::regular(Hz(5.0), Cents(40.0));
        spec.contour = vec![
            Factor { time: Secs(0.0), width: 0.0, rate: 1.0 },
            Factor { time: Secs(2.0), width: 1.0, rate: 1.0 },
        ];
        let swing = Swing::new(&spec, 3.0, &mut Chance::new(7, Use::Note(0, 0)));
        let crests: Vec<&Knot> = swing.knots().iter().filter(|k| k.crest == Some(true)).collect();
        assert!(crests[0].cents < 4.0 && (crests[11].cents - 20.0).abs() < 1e-9);
    }

    #[test]
    fn jitter_has_the_stated_spread() {
        let mut spec = VibratoSpec::regular(Hz(6.0), Cents(40.0));
        (spec.rate_jitter_pct, spec.width_jitter_pct) = (6.0, 18.0);
        let swing = Swing::new(&spec, 300.0, &mut Chance::new(3, Use::Note(0, 0)));
        let troughs: Vec<&Knot> = swing.knots().iter().filter(|k| k.crest == Some(false)).collect();
        let crests: Vec<&Knot> = swing.knots().iter().filter(|k| k.crest == Some(true)).collect();
        let spread = |values: &[f64]| {
            let mean = values.iter().sum::<f64>() / values.len() as f64;
            let square = values.iter().map(|v| (v / mean - 1.0).powi(2)).sum::<f64>();
            100.0 * (square / values.len() as f64).sqrt()
        };
        let periods: Vec<f64> = troughs.windows(2).map(|t| t[1].secs - t[0].secs).collect();
        let widths: Vec<f64> = troughs
            .windows(2)
            .zip(&crests)
            .map(|(t, crest)| crest.cents - 0.5 * (t[0].cents + t[1].cents))
            .collect();
        assert!((spread(&periods) - 6.0).abs() < 0.4, "{}", spread(&periods));
        assert!((spread(&widths) - 18.0).abs() < 1.2, "{}", spread(&widths));
    }
}
