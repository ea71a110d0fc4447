//! Where exactly a motion comes to rest and sets out again.

use crate::advance::Pause;
use crate::course::Stretch;
use crate::fit::solve_normal;
use crate::turn::Turn;
use crate::usual::Usual;
use std::f64::consts::{FRAC_PI_2, PI};

/// Frames that share so much sound that they count as one.
const FRAMES_PER_VALUE: f64 = 4.0;
/// Spread of the length of a quarter, as a logarithm, and of its height as a share.
const QUARTER_SPREAD: f64 = 0.3;
const HEIGHT_SPREAD: f64 = 0.32;
/// A step that was taken out may be wrong by so much, in cents.
const STEP_SPREAD: f64 = 8.0;
/// An end of the rest is looked for within this share of half a cycle, in so many steps either way.
const REACH: f64 = 0.35;
const STEPS: i32 = 8;
/// Points of one fit, at most.
const POINTS: usize = 96;
/// Shortest rest, in frames.
const LEAST: f64 = 4.0;

/// A rest between two turns, roughly placed.
pub struct Rest<'a> {
    /// The stretch it is in.
    pub stretch: &'a Stretch,
    /// What is usual there.
    pub usual: Usual,
    /// Noise of the pitch, in cents.
    pub noise: f64,
    /// The turn before it, and where it begins.
    pub before: (Turn, f64),
    /// Where it ends, and the turn behind it.
    pub after: (f64, Turn),
}

impl Rest<'_> {
    /// The rest where the pitch from turn to turn is explained best: a quarter that ends in the middle, the
    /// middle, a quarter that sets out from it gently or at once.
    pub fn placed(&self) -> Pause {
        let (mut from, mut to) = (self.before.1, self.after.0);
        let half = 0.5 * (self.usual.up + self.usual.down);
        let mut reach = REACH * half;
        let points = self.points();
        let mut best = self.cost(&points, from, to);
        // The two ends in turn, ever finer.
        for _ in 0..3 {
            for _ in 0..2 {
                for end in [false, true] {
                    let here = if end { to } else { from };
                    for step in -STEPS..=STEPS {
                        let at = here + reach * f64::from(step) / f64::from(STEPS);
                        let (a, b) = if end { (from, at) } else { (at, to) };
                        let cost = self.cost(&points, a, b);
                        if cost < best {
                            (best, from, to) = (cost, a, b);
                        }
                    }
                }
            }
            reach *= 0.35;
        }
        Pause { from, to }
    }

    fn points(&self) -> Vec<(f64, f64)> {
        let (a, b) = (
            self.before.0.at.max(0.0).ceil() as usize,
            self.after.1.at.floor() as usize,
        );
        let b = b.min(self.stretch.flat.len());
        let step = (b.saturating_sub(a) / POINTS).max(1);
        let heard = (a..b).step_by(step).filter(|i| self.stretch.heard[*i]);
        heard.map(|i| (i as f64, self.stretch.flat[i])).collect()
    }

    fn cost(&self, points: &[(f64, f64)], from: f64, to: f64) -> f64 {
        let (a, b) = (&self.before.0, &self.after.1);
        let quarter = 0.25 * (self.usual.up + self.usual.down);
        if to - from < LEAST || from - a.at < 0.2 * quarter || b.at - to < 0.2 * quarter {
            return f64::INFINITY;
        }
        let cut = self
            .stretch
            .cuts
            .iter()
            .map(|cut| cut.at as f64)
            .find(|at| *at > a.at && *at < b.at);
        let length = |frames: f64| 0.5 * ((frames / quarter).ln() / QUARTER_SPREAD).powi(2);
        let odd = length(from - a.at) + length(b.at - to);
        let step = (points.len() as f64).recip() * (b.at - a.at);
        let weight = step / (self.noise * self.noise * FRAMES_PER_VALUE);
        let gentle = self.left(points, (from, to), cut, true, weight);
        odd + gentle.min(self.left(points, (from, to), cut, false, weight))
    }

    /// Half the squares left by the middle, the two heights and the step, each near what is usual.
    fn left(
        &self,
        points: &[(f64, f64)],
        (from, to): (f64, f64),
        cut: Option<f64>,
        gentle: bool,
        weight: f64,
    ) -> f64 {
        let (a, b) = (&self.before.0, &self.after.1);
        let sign = |turn: &Turn| if turn.crest { 1.0 } else { -1.0 };
        let height = self.usual.height;
        let tight = 1.0 / (HEIGHT_SPREAD * height).powi(2);
        let mut normal = [[0.0; 4]; 4];
        let mut sums = [0.0; 4];
        let mut squares = 0.0;
        normal[1][1] = tight;
        normal[2][2] = tight;
        normal[3][3] = 1.0 / (STEP_SPREAD * STEP_SPREAD);
        for &(t, cents) in points {
            let fall = if t < from {
                sign(a) * (FRAC_PI_2 * (t - a.at) / (from - a.at)).cos()
            } else {
                0.0
            };
            let rise = if t > to {
                let done = (t - to) / (b.at - to);
                sign(b)
                    * if gentle {
                        0.5 * (1.0 - (PI * done).cos())
                    } else {
                        (FRAC_PI_2 * done).sin()
                    }
            } else {
                0.0
            };
            let late = if cut.is_some_and(|cut| t >= cut) {
                1.0
            } else {
                0.0
            };
            // Against what is usual, so that what is found is how far it is from that.
            let y = cents - self.usual.middle - height * (fall + rise);
            let row = [1.0, fall, rise, late];
            squares += weight * y * y;
            for i in 0..4 {
                sums[i] += weight * row[i] * y;
                for j in i..4 {
                    normal[i][j] += weight * row[i] * row[j];
                }
            }
        }
        let size = if cut.is_some() { 4 } else { 3 };
        let Some(found) = solve_normal(normal, sums, size) else {
            return f64::INFINITY;
        };
        let explained: f64 = (0..size).map(|i| found[i] * sums[i]).sum();
        0.5 * (squares - explained).max(0.0)
    }
}
