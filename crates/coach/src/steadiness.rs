//! How still and how true a straight note is held.

use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, StraightLine};

/// The attack is no part of holding still.
const ATTACK: Secs = Secs(0.15);
/// Below this confidence a frame says nothing.
pub(crate) const SURE_FROM: f64 = 0.5;
/// The shortest stretch of which drift and spread can be said.
const LEAST: Secs = Secs(0.6);
/// The longest that is kept: 120 s of frames of 5 ms.
const MOST: usize = 24_000;
/// Neighbouring frames share their sound: about so many count as one.
const ALIKE: f64 = 8.0;

/// What is known of a straight note so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Steady {
    /// Mean pitch above the reference.
    pub offset: Measure<Cents>,
    /// From the mean of the first third to the mean of the last; positive is rising.
    pub drift: Measure<Cents>,
    /// Standard deviation of the pitch around the straight line that fits it best.
    pub spread: Cents,
    /// How long the stretch is that this is said of.
    pub length: Secs,
}

/// Gathers the pitch of one note.
#[derive(Clone, Debug, Default)]
pub struct Steadiness {
    start: Option<Secs>,
    /// Time and pitch, as a distance from the first pitch.
    points: Vec<(f64, f64)>,
    first: Option<Hz>,
}

impl Steadiness {
    /// A note begins here; what was before is forgotten.
    pub fn begin(&mut self, start: Secs) {
        self.points.clear();
        self.first = None;
        self.start = Some(start);
    }

    /// Another frame of the note. Frames without pitch or with little confidence are passed over.
    pub fn push(&mut self, time: Secs, f0: Option<Hz>, confidence: f64) {
        let (Some(start), Some(f0)) = (self.start, f0) else {
            return;
        };
        if confidence < SURE_FROM || time.0 < start.0 + ATTACK.0 || self.points.len() >= MOST {
            return;
        }
        let first = *self.first.get_or_insert(f0);
        self.points.push((time.0, f0.cents_above(first).0));
    }

    /// What can be said against `reference`; `None` before there is enough of the note.
    /// Costs as much as the note has frames.
    pub fn steady(&self, reference: Hz) -> Option<Steady> {
        let (first, last) = (self.points.first()?, self.points.last()?);
        let length = last.0 - first.0;
        if length < LEAST.0 {
            return None;
        }
        let shift = self.first?.cents_above(reference).0;
        let line = StraightLine::through(self.points.iter().copied());
        let spread = (line.left / line.count).sqrt();
        let third = |from: f64, to: f64| {
            let in_it = |&&(time, _): &&(f64, f64)| {
                let share = (time - first.0) / length;
                (from..=to).contains(&share)
            };
            let pitches = self.points.iter().filter(in_it).map(|point| point.1);
            let count = pitches.clone().count() as f64;
            (pitches.sum::<f64>() / count.max(1.0), count)
        };
        let (early, early_count) = third(0.0, 1.0 / 3.0);
        let (late, late_count) = third(2.0 / 3.0, 1.0);
        let error = |count: f64| spread / (count / ALIKE).max(1.0).sqrt();
        Some(Steady {
            offset: Measure {
                value: Cents(line.mean.1 + shift),
                se: Some(Cents(error(line.count))),
            },
            drift: Measure {
                value: Cents(late - early),
                se: Some(Cents(error(early_count).hypot(error(late_count)))),
            },
            spread: Cents(spread),
            length: Secs(length),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const A3: Hz = Hz(220.0);

    /// A note of `secs` whose pitch runs as `cents` of the time.
    fn held(secs: f64, cents: impl Fn(f64) -> f64) -> Steadiness {
        let mut steadiness = Steadiness::default();
        steadiness.begin(Secs(1.0));
        for frame in 0..(secs / 0.005) as usize {
            let time = frame as f64 * 0.005;
            let f0 = A3.raised(Cents(cents(time)));
            steadiness.push(Secs(1.0 + time), Some(f0), 0.9);
        }
        steadiness
    }

    #[test]
    fn a_note_held_four_cents_sharp_says_so_and_nothing_else() {
        let steady = held(2.0, |_| 4.0).steady(A3).expect("long enough");
        assert!((steady.offset.value.0 - 4.0).abs() < 1e-9);
        assert!(steady.drift.value.0.abs() < 1e-9);
        assert!(steady.spread.0 < 1e-9);
    }

    #[test]
    fn a_sagging_note_has_drift_and_no_spread() {
        let steady = held(3.0, |t| -6.0 * t).steady(A3).expect("long enough");
        // The mean of the last third lies two thirds of the length after that of the first.
        let due = -6.0 * steady.length.0 * 2.0 / 3.0;
        assert!((steady.drift.value.0 - due).abs() < 0.1, "{steady:?} {due}");
        assert!(steady.spread.0 < 1e-6);
    }

    #[test]
    fn a_wavering_note_has_the_spread_of_its_sine_and_little_drift() {
        let sine = |t: f64| 5.0 * (std::f64::consts::TAU * 2.0 * t).sin();
        let steady = held(6.0, sine).steady(A3).expect("long enough");
        let due = 5.0 / 2f64.sqrt();
        assert!((steady.spread.0 - due).abs() < 0.1, "{steady:?}");
        assert!(steady.drift.value.0.abs() < 0.5);
    }

    #[test]
    fn the_attack_and_doubtful_frames_say_nothing() {
        let mut steadiness = held(2.0, |t| if t < 0.14 { -80.0 } else { 0.0 });
        steadiness.push(Secs(3.5), Some(Hz(440.0)), 0.2);
        steadiness.push(Secs(3.6), None, 0.0);
        let steady = steadiness.steady(A3).expect("long enough");
        assert!(steady.spread.0 < 1e-9, "{steady:?}");
        assert!(held(0.5, |_| 0.0).steady(A3).is_none());
    }
}
