//! The line of a long phrase: thinned to the columns of the sheet once, and kept from one picture to the next.

use coach::Instant;
use egui::Context;
use egui::cache::{ComputerMut, FrameCache};
use pictures::played::Point;
use pictures::sheet::{self as plot_area, Line, Times};
use std::hash::{Hash, Hasher};
use std::sync::Arc;
use tuning::{Cents, Hz, Secs};

/// A line is kept in parts of so many frames, so that of what still sounds only the last is made anew.
const PART: usize = 512;

/// A stretch of a phrase as it is drawn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch<'a> {
    instants: &'a [Instant],
    /// So much is taken off its times.
    by: f64,
    /// What its pitch is drawn against.
    reference: Hz,
}

impl<'a> Stretch<'a> {
    /// The frames from one time to another.
    pub(super) fn of(
        instants: &'a [Instant],
        (start, end): (Secs, Secs),
        by: f64,
        reference: Hz,
    ) -> Self {
        let from = instants.partition_point(|instant| instant.time.0 < start.0);
        let to = instants.partition_point(|instant| instant.time.0 <= end.0);
        Self { instants: &instants[from..to.max(from)], by, reference }
    }

    /// Where it begins and ends on the time that is drawn.
    pub(super) fn ends(&self) -> Option<(f64, f64)> {
        let ends = self.instants.first().zip(self.instants.last())?;
        Some((ends.0.time.0 - self.by, ends.1.time.0 - self.by))
    }

    /// Its lines, those of the picture before where nothing has changed.
    pub(super) fn lines(&self, ctx: &Context, times: &Times) -> Vec<Arc<Vec<Line>>> {
        let parts = self.instants.len().div_ceil(PART);
        let part = |number: usize| {
            // Each goes on from the last frame of the one before.
            let from = (number * PART).saturating_sub(1);
            let to = ((number + 1) * PART).min(self.instants.len());
            let key = Key {
                stretch: Self { instants: &self.instants[from..to], ..*self },
                times: *times,
            };
            ctx.memory_mut(|memory| Arc::clone(memory.caches.cache::<Kept>().get(key)))
        };
        (0..parts).map(part).collect()
    }
}

type Kept = FrameCache<Arc<Vec<Line>>, Liner>;

/// A part of a stretch on a sheet. It is known again by its ends and its length: the clock of the sound goes on, and
/// no two phrases have the same.
#[derive(Clone, Copy)]
struct Key<'a> {
    stretch: Stretch<'a>,
    times: Times,
}

impl Hash for Key<'_> {
    fn hash<H: Hasher>(&self, state: &mut H) {
        let Stretch { instants, by, reference } = self.stretch;
        for end in [instants.first(), instants.last()].into_iter().flatten() {
            end.time.0.to_bits().hash(state);
            end.f0.map(|f0| f0.0.to_bits()).hash(state);
        }
        (instants.len(), by.to_bits(), reference.0.to_bits()).hash(state);
        (self.times.span.0.to_bits(), self.times.x.span().to_bits()).hash(state);
    }
}

#[derive(Default)]
struct Liner;

impl ComputerMut<Key<'_>, Arc<Vec<Line>>> for Liner {
    fn compute(&mut self, Key { stretch, times }: Key<'_>) -> Arc<Vec<Line>> {
        let points: Vec<Point> = stretch
            .instants
            .iter()
            .enumerate()
            .map(|(number, instant)| Point {
                time: Secs(instant.time.0 - stretch.by),
                pitch: instant.f0.map(|f0| f0.cents_above(stretch.reference)),
                confidence: instant.confidence,
                level_dbfs: 0.0,
                joined: number > 0,
            })
            .collect();
        let pitch = |point: &Point| point.pitch.map(Cents::get);
        Arc::new(plot_area::lines(&points, &times, pitch, |_| true))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::Rangef;

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
        Stretch::of(course, (Secs(0.0), Secs(f64::MAX)), 0.0, Hz(220.0))
    }

    #[test]
    fn the_line_of_a_long_phrase_keeps_its_crests_and_has_no_gap() {
        let course = course(9_000, 240.0);
        let lines = whole(&course).lines(&Context::default(), &times(45.0));
        let corners: Vec<(Secs, f64)> = lines
            .iter()
            .flat_map(|part| part.iter())
            .flat_map(|line| line.corners.clone())
            .collect();
        assert!(lines.iter().all(|part| part.len() == 1), "one line a part");
        assert!(corners.len() < 2 * 700 + 4 * lines.len());
        let crests = corners.iter().filter(|corner| corner.1 > 119.0).count();
        assert!(crests >= 240, "{crests} of 247 oscillations");
        for two in lines.windows(2) {
            let end = two[0].last().and_then(|line| line.corners.last());
            let begin = two[1].first().and_then(|line| line.corners.first());
            let (end, begin) = end.zip(begin).expect("a line in each part");
            assert!(begin.0.0 - end.0.0 < 0.07, "{end:?} and {begin:?}");
        }
    }

    #[test]
    fn what_has_not_changed_is_kept_and_what_has_is_made_anew() {
        let (ctx, mut course) = (Context::default(), course(1_500, 40.0));
        let first = whole(&course).lines(&ctx, &times(10.0));
        let again = whole(&course).lines(&ctx, &times(10.0));
        assert!(first.iter().zip(&again).all(|(a, b)| Arc::ptr_eq(a, b)));
        let last = course[1_499];
        course.push(Instant { time: Secs(last.time.0 + 0.005), ..last });
        let longer = whole(&course).lines(&ctx, &times(10.0));
        let same: Vec<bool> = first.iter().zip(&longer).map(|(a, b)| Arc::ptr_eq(a, b)).collect();
        assert_eq!(same, [true, true, false]);
        let narrower = whole(&course).lines(&ctx, &times(20.0));
        assert!(!Arc::ptr_eq(&longer[0], &narrower[0]));
    }

    #[test]
    fn a_stretch_without_a_frame_has_no_line() {
        let course = course(10, 40.0);
        let none = Stretch::of(&course, (Secs(1.0), Secs(0.5)), 0.0, Hz(220.0));
        assert!(none.ends().is_none());
        assert!(none.lines(&Context::default(), &times(1.0)).is_empty());
    }
}
