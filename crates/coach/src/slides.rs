//! Slides of the hand along the string, up and back, counted from the pitch alone: what many teachers let a beginner do
//! before any vibrato (common practice). They are far wider than a vibrato, so no note holds them.

use crate::steadiness::SURE_FROM;
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, median};

/// What goes less far is no slide: up to here it is measured as vibrato.
const LEAST_CENTS: f64 = 250.0;
/// The hand has turned once the pitch has come back so far.
const BACK_CENTS: f64 = 100.0;
/// A finger that is set on another note, or another string, changes the pitch faster than this, in cents from frame to
/// frame of 5 ms: a slide over a fifth three times a second stays below 35.
const STEEPEST_CENTS: f64 = 60.0;
/// So many ways, up or back, are slides; fewer are a shift.
const LEAST_WAYS: usize = 4;
/// A sound that pauses for longer begins anew.
const PAUSE: Secs = Secs(1.0);
/// The pitch is the middle one of so many frames.
const SMOOTHED: usize = 5;
/// No more ways are kept.
const MOST_WAYS: usize = 1_000;

/// What was slid without a pause.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slid {
    /// So many times up and back.
    pub times: usize,
    /// How often a second.
    pub rate: Measure<Hz>,
    /// How far each way.
    pub width: Measure<Cents>,
    /// When the last way ended.
    pub end: Secs,
}

/// One way, up or back.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Way {
    secs: f64,
    cents: f64,
    end: f64,
}

/// Follows the pitch, whether the ear calls it a note or not.
#[derive(Clone, Debug, Default)]
pub struct Slides {
    /// The last pitches, in cents above the first.
    first: Option<Hz>,
    lately: Vec<f64>,
    heard: f64,
    /// Where the hand turned last, and the farthest it has been since, each with its time.
    turned: Option<(f64, f64)>,
    farthest: (f64, f64),
    /// The steepest step since it turned.
    steepest: f64,
    ways: Vec<Way>,
    /// Something else came after the slides: nothing is added to them any more.
    over: bool,
}

impl Slides {
    /// Another frame. Those without pitch or with little confidence are passed over.
    pub fn push(&mut self, time: Secs, f0: Option<Hz>, confidence: f64) {
        let Some(f0) = f0.filter(|_| confidence >= SURE_FROM) else {
            return;
        };
        if time.0 - self.heard > PAUSE.0 || time.0 < self.heard {
            *self = Self::default();
        }
        self.heard = time.0;
        let first = *self.first.get_or_insert(f0);
        let before = self.lately.last().copied();
        if self.lately.len() == SMOOTHED {
            self.lately.remove(0);
        }
        self.lately.push(f0.cents_above(first).0);
        let step = before.zip(self.lately.last()).map_or(0.0, |(before, now)| (now - before).abs());
        let Some(cents) = median(self.lately.clone()) else { return };
        self.follow(time.0, cents, step);
    }

    fn follow(&mut self, time: f64, cents: f64, step: f64) {
        let Some((turned_at, from)) = self.turned else {
            (self.turned, self.farthest) = (Some((time, cents)), (time, cents));
            return;
        };
        self.steepest = self.steepest.max(step);
        let way = self.farthest.1 - from;
        let beyond = (cents - self.farthest.1) * if way == 0.0 { cents - from } else { way };
        if beyond > 0.0 {
            self.farthest = (time, cents);
        } else if (cents - self.farthest.1).abs() >= BACK_CENTS {
            self.turn(turned_at, way);
            (self.turned, self.farthest) = (Some(self.farthest), (time, cents));
            self.steepest = step;
        }
    }

    /// The hand has turned: what it went before was a way of slides, or none.
    fn turn(&mut self, turned_at: f64, way: f64) {
        if self.over {
            return;
        }
        if way.abs() > LEAST_CENTS && self.steepest <= STEEPEST_CENTS {
            if self.ways.len() < MOST_WAYS {
                let end = self.farthest.0;
                self.ways.push(Way { secs: end - turned_at, cents: way.abs(), end });
            }
        } else if self.ways.len() < LEAST_WAYS {
            self.ways.clear();
        } else {
            self.over = true;
        }
    }

    /// What was slid so far since the last pause; `None` where that were no slides.
    pub fn slid(&self) -> Option<Slid> {
        let mut all = self.clone();
        if let Some((turned_at, from)) = all.turned {
            all.turn(turned_at, all.farthest.1 - from);
        }
        let ways = all.ways;
        if ways.len() < LEAST_WAYS {
            return None;
        }
        // The first way may begin with a note that was held, the last may end with one.
        let whole = &ways[1..ways.len() - 1];
        let both = whole.windows(2).step_by(2);
        let rates = both.map(|two| Measure { value: 1.0 / (two[0].secs + two[1].secs), se: None });
        let widths = whole.iter().map(|way| Measure { value: way.cents, se: None });
        let (rate, width) = (Measure::mean(rates)?, Measure::mean(widths)?);
        Some(Slid {
            times: ways.len() / 2,
            rate: Measure { value: Hz(rate.value), se: rate.se.map(Hz) },
            width: Measure { value: Cents(width.value), se: width.se.map(Cents) },
            end: Secs(ways[ways.len() - 1].end),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Hears so many seconds of this pitch, in cents above 220 Hz.
    fn heard(secs: f64, cents: impl Fn(f64) -> f64) -> Slides {
        let mut slides = Slides::default();
        for hop in 0..(secs / 0.005) as u32 {
            let time = 0.005 * f64::from(hop);
            slides.push(Secs(time), Some(Hz(220.0).raised(Cents(cents(time)))), 1.0);
        }
        slides
    }

    #[test]
    fn slides_are_counted_with_their_rate_and_width() {
        for (rate, width, times) in [(0.5, 700.0, 4), (1.0, 300.0, 6), (3.0, 500.0, 9)] {
            let secs = f64::from(times) / rate;
            let slides = heard(secs, |time| 0.5 * width * (1.0 - (TAU * rate * time).cos()));
            let slid = slides.slid().expect("slides");
            assert_eq!(slid.times, times as usize, "{rate} Hz");
            assert!((slid.rate.value.0 - rate).abs() < 0.03 * rate, "{slid:?}");
            assert!((slid.width.value.0 - width).abs() < 0.03 * width, "{slid:?}");
        }
    }

    #[test]
    fn vibrato_leaps_scales_and_a_shift_are_none() {
        let vibrato = heard(4.0, |time| 120.0 * (TAU * 5.0 * time).sin());
        assert_eq!(vibrato.slid(), None);
        let leaps = heard(6.0, |time| if time % 1.0 < 0.5 { 0.0 } else { 700.0 });
        assert_eq!(leaps.slid(), None);
        let scale = heard(6.0, |time| 100.0 * (8.0 - (time * 4.0).floor() % 16.0).abs());
        assert_eq!(scale.slid(), None);
        let shift = heard(3.0, |time| 700.0 * ((time - 1.0) / 0.3).clamp(0.0, 1.0));
        assert_eq!(shift.slid(), None);
    }

    #[test]
    fn what_follows_slides_takes_nothing_away_and_a_pause_begins_anew() {
        let slide = |time: f64| 250.0 * (1.0 - (TAU * time).cos());
        let mut slides = heard(8.0, |time| if time < 5.0 { slide(time) } else { 0.0 });
        let slid = slides.slid().expect("slides");
        assert_eq!(slid.times, 5);
        assert!((slid.end.0 - 5.0).abs() < 0.05, "{slid:?}");
        slides.push(Secs(9.5), Some(Hz(220.0)), 1.0);
        assert_eq!(slides.slid(), None);
    }
}
