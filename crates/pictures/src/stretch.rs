//! A stretch of a phrase that is drawn: its line in parts, each of which can be kept while it stays what it is.

use crate::overlay::{between, points};
use crate::sheet::{self, Line, Times};
use coach::Instant;
use std::hash::{Hash, Hasher};
use tuning::{Cents, Hz, Secs};

/// A line is made in parts of so many frames, so that of what still sounds only the last is made anew.
const PART: usize = 512;

/// A stretch of a phrase as it is drawn.
#[derive(Clone, Copy, Debug)]
pub struct Stretch<'a> {
    instants: &'a [Instant],
    /// So much is taken off its times.
    by: Secs,
    /// What its pitch is drawn against.
    reference: Hz,
}

impl<'a> Stretch<'a> {
    /// The frames from one time to another, so much earlier, against a reference.
    pub fn of(instants: &'a [Instant], span: (Secs, Secs), by: Secs, reference: Hz) -> Self {
        Self { instants: between(instants, span), by, reference }
    }

    /// Where it begins and ends on the time that is drawn.
    pub fn ends(&self) -> Option<(f64, f64)> {
        let ends = self.instants.first().zip(self.instants.last())?;
        Some((ends.0.time.0 - self.by.0, ends.1.time.0 - self.by.0))
    }

    /// Its parts, each from the last frame of the one before.
    pub fn parts(self) -> impl Iterator<Item = Self> {
        (0..self.instants.len().div_ceil(PART)).map(move |number| {
            let from = (number * PART).saturating_sub(1);
            let to = ((number + 1) * PART).min(self.instants.len());
            Self { instants: &self.instants[from..to], ..self }
        })
    }

    /// Its lines, thinned to the columns of a sheet.
    pub fn lines(&self, times: &Times) -> Vec<Line> {
        let points = points(self.instants, self.by, self.reference);
        sheet::lines(&points, times, |point| point.pitch.map(Cents::get), |_| true)
    }
}

/// It is known again by its ends and its length: the clock of the sound goes on, and no two phrases have the same.
impl Hash for Stretch<'_> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        for end in [self.instants.first(), self.instants.last()].into_iter().flatten() {
            end.time.0.to_bits().hash(state);
            end.f0.map(|f0| f0.0.to_bits()).hash(state);
        }
        (self.instants.len(), self.by.0.to_bits(), self.reference.0.to_bits()).hash(state);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use emath::Rangef;

    /// A vibrato of this width for so many frames.
    fn course(frames: usize, width: f64) -> Vec<Instant> {
        let instant = |number: usize| {
            let time = 0.005 * number as f64;
            let cents = 0.5 * width * (std::f64::consts::TAU * 5.5 * time).sin();
            Instant { time: Secs(time), f0: Some(Hz(220.0).raised(Cents(cents))), confidence: 0.9 }
        };
        (0..frames).map(instant).collect()
    }

    fn times(span: f64) -> Times {
        Times { x: Rangef::new(0.0, 700.0), newest: Secs(span), span: Secs(span) }
    }

    fn whole(course: &[Instant]) -> Stretch<'_> {
        Stretch::of(course, (Secs(0.0), Secs(f64::MAX)), Secs(0.0), Hz(220.0))
    }

    #[test]
    fn the_line_of_a_long_phrase_keeps_its_crests_and_has_no_gap() {
        let course = course(9_000, 240.0);
        let parts: Vec<Vec<Line>> =
            whole(&course).parts().map(|part| part.lines(&times(45.0))).collect();
        assert!(parts.iter().all(|part| part.len() == 1), "one line a part");
        let corners: Vec<(Secs, f64)> =
            parts.iter().flatten().flat_map(|line| line.corners.clone()).collect();
        assert!(corners.len() < 2 * 700 + 4 * parts.len());
        let crests = corners.iter().filter(|corner| corner.1 > 119.0).count();
        assert!(crests >= 240, "{crests} of 247 oscillations");
        for two in parts.windows(2) {
            let end = two[0].last().and_then(|line| line.corners.last());
            let begin = two[1].first().and_then(|line| line.corners.first());
            let (end, begin) = end.zip(begin).expect("a line in each part");
            assert!(begin.0.0 - end.0.0 < 0.07, "{end:?} and {begin:?}");
        }
    }

    #[test]
    fn a_stretch_without_a_frame_has_no_line() {
        let course = course(10, 40.0);
        let none = Stretch::of(&course, (Secs(1.0), Secs(0.5)), Secs(0.0), Hz(220.0));
        assert!(none.ends().is_none() && none.parts().next().is_none());
        assert!(none.lines(&times(1.0)).is_empty());
    }
}
