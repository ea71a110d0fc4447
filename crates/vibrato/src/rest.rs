//! Where exactly a motion comes to rest and sets out again.
//!
//! The pitch from the turn before a rest to the one behind it is explained by a quarter that falls to the
//! middle, the middle, and a quarter that rises from it; the two ends and the two turns are moved until it is
//! explained best. The quarters may be of any length that is not odd; so an uneven motion is no worse off.

use crate::expectation::Expectation;
use crate::fit::solve_normal;
use crate::motion::{CycleShape, Pause, half_cycle};
use crate::stretch::Stretch;
use crate::turn::Turn;
use std::f64::consts::PI;
use std::ops::Range;

/// The pitch strays from the motion in two ways: the finger's own unrest, which lasts for about so many frames
/// and is so many cents and this share of the half width, root mean square...
const UNREST_FRAMES: f64 = 18.0;
const UNREST_CENTS_SHARE: (f64, f64) = (1.0, 0.04);
/// ...and what the ear makes of the bow's noise, of which so many frames count as one, in cents at least.
const FRAMES_PER_VALUE: f64 = 4.0;
const NOISE_CENTS: f64 = 0.3;
/// Where the pitch is rougher over so many frames on either side than usual it is so much less certain: as when
/// a room still sounds of the finger before.
const ROUGH_FRAMES: usize = 4;
/// Both are so much smaller or greater than this at most.
const SCALE_BOUNDS: (f64, f64) = (0.4, 4.0);
/// Spread of the length of a quarter, as a logarithm, and of its height as a share.
const QUARTER_SPREAD: f64 = 0.3;
const HEIGHT_SPREAD: f64 = 0.32;
/// A step that was taken out may be wrong by so much, in cents.
const STEP_SPREAD_CENTS: f64 = 8.0;
/// The middle of the motion before the rest is the straight pitch within a share of the half width, and cents.
const MIDDLE_SPREAD_SHARE_CENTS: (f64, f64) = (0.06, 0.3);
/// A turn lies where it was found within this share of a quarter.
const TURN_SPREAD_QUARTERS: f64 = 0.12;
/// The turns before and behind are looked at so far on their other side, in quarters.
const BEYOND_QUARTERS: f64 = 0.7;
/// What is moved goes at first by this share of a quarter, and each round of looking is this much finer than
/// the one before it.
const REACH_QUARTERS: f64 = 0.7;
const FINER: f64 = 0.45;

/// How closely is looked.
struct Effort {
    /// Points of one fit, at most.
    points: usize,
    /// Steps either way, and rounds of ever finer ones; so many of them from each beginning.
    steps: i32,
    rounds: usize,
    coarse: usize,
    /// Beginnings that are tried, and how often the noise is taken from what is left.
    beginnings: usize,
    passes: usize,
}

/// While the sound goes on each look counts; once it is over there is time.
const LIVE: Effort =
    Effort { points: 40, steps: 4, rounds: 2, coarse: 1, beginnings: 2, passes: 1 };
const AFTERWARDS: Effort =
    Effort { points: 96, steps: 6, rounds: 4, coarse: 1, beginnings: 6, passes: 2 };
/// Shortest rest, in frames, and shortest quarter, as a share of the usual one.
const LEAST_REST_FRAMES: f64 = 4.0;
const LEAST_QUARTER: f64 = 0.2;

/// An end may lie so many quarters away, looked at in so many steps either way; the turn beside it lies off by
/// these shares of its spread then.
const DOUBTED_QUARTERS_STEPS: (f64, i32) = (1.2, 30);
const DOUBTED_TURNS: [f64; 5] = [-1.6, -0.8, 0.0, 0.8, 1.6];
/// A motion that is not quite of the shape thought of makes each end so much more doubtful. No end is known
/// better than to so many frames.
const DOUBT_FACTOR: f64 = 1.25;
const LEAST_DOUBT_FRAMES: f64 = 0.6;

/// A sound that does not begin or end with the motion costs so much, in logarithms.
const STILL_AT_EDGE_COST: f64 = 8.0;

/// A rest between two turns, or between a turn and an edge of the sound, roughly placed.
pub(crate) struct Rest<'a> {
    /// The stretch it is in.
    pub stretch: &'a Stretch,
    /// What is usual there.
    pub expected: Expectation,
    /// CycleShape of half a cycle.
    pub shape: CycleShape,
    /// The turn before it, and where it begins; none at the start of the sound.
    pub before: Option<(Turn, f64)>,
    /// Where it ends, and the turn behind it; none at the end of the sound.
    pub after: Option<(f64, Turn)>,
}

/// The turn before, the ends of the rest, and the turn behind, in frames.
type Places = [f64; 4];

impl Rest<'_> {
    /// The rest where the pitch is explained best; at an edge of the sound it may turn out to be none.
    pub(crate) fn placed(&self) -> Pause {
        let quarter = self.quarter();
        let end = self.stretch.known() as f64;
        let (before, after) = (self.before, self.after);
        let first = [
            before.map_or(-quarter, |(turn, _)| turn.at),
            before.map_or(0.0, |(_, from)| from),
            after.map_or(end, |(to, _)| to),
            after.map_or(end + quarter, |(_, turn)| turn.at),
        ];
        // From several beginnings: the likeliest place need not lie in the same dip.
        let beside = [(0.0, 0.0), (-0.5, 0.0), (0.0, 0.5), (0.5, 0.0), (0.0, -0.5)];
        let beginnings = beside.map(|(early, late)| {
            let mut at = first;
            // An edge of the sound stays where it is.
            at[1] += before.map_or(0.0, |_| early * quarter);
            at[2] += after.map_or(0.0, |_| late * quarter);
            at
        });
        // And where the quarters are as long as usual.
        let expected = [first[0], first[0] + quarter, first[3] - quarter, first[3]];
        let expected = (before.is_some() && after.is_some()).then_some(expected);
        let mut beginnings: Vec<Places> = expected.into_iter().chain(beginnings).collect();
        beginnings.truncate(self.effort().beginnings);
        let mut found = first;
        let mut scale = 1.0;
        let effort = self.effort();
        let mut heard = self.heard(&first, scale);
        for pass in 0..effort.passes {
            if pass > 0 {
                heard = self.heard(&first, scale);
            }
            let mut best = f64::INFINITY;
            for mut at in beginnings.iter().copied() {
                let cost = self.settle(&heard, &mut at, 0..effort.coarse);
                if cost < best {
                    (best, found) = (cost, at);
                }
            }
            self.settle(&heard, &mut found, effort.coarse..effort.rounds);
            let left = 2.0 * self.left(&heard, &found) / heard.at.len().max(1) as f64;
            scale = (scale * left.sqrt()).clamp(SCALE_BOUNDS.0, SCALE_BOUNDS.1);
        }
        Pause {
            from: found[1],
            to: found[2],
            doubts: (self.doubt(&heard, &found, 1), self.doubt(&heard, &found, 2)),
        }
    }

    /// Standard error of one end of the rest, from how well it would fit elsewhere.
    fn doubt(&self, heard: &NearbyPitch, found: &Places, which: usize) -> f64 {
        let turn = if which == 1 { 0 } else { 3 };
        let known = if which == 1 { self.before.is_none() } else { self.after.is_none() };
        if known || !self.stretch.over {
            return 0.0;
        }
        let quarter = self.quarter();
        let cost = |at: f64| {
            let each = DOUBTED_TURNS.iter().map(|share| {
                let mut tried = *found;
                tried[which] = at;
                tried[turn] += share * TURN_SPREAD_QUARTERS * quarter;
                self.cost(heard, &tried)
            });
            each.fold(f64::INFINITY, f64::min)
        };
        let least = self.cost(heard, found);
        let (mut sum, mut squares) = (0.0, 0.0);
        for step in -DOUBTED_QUARTERS_STEPS.1..=DOUBTED_QUARTERS_STEPS.1 {
            let off = DOUBTED_QUARTERS_STEPS.0 * quarter * f64::from(step)
                / f64::from(DOUBTED_QUARTERS_STEPS.1);
            let weight = (least - cost(found[which] + off)).exp();
            sum += weight;
            squares += weight * off * off;
        }
        (DOUBT_FACTOR * (squares / sum).sqrt()).hypot(LEAST_DOUBT_FRAMES)
    }

    fn effort(&self) -> &'static Effort {
        if self.stretch.over { &AFTERWARDS } else { &LIVE }
    }

    fn quarter(&self) -> f64 {
        0.25 * (self.expected.up + self.expected.down)
    }

    /// Moves what is to be found, one after the other, ever finer; returns the cost.
    fn settle(&self, heard: &NearbyPitch, at: &mut Places, rounds: Range<usize>) -> f64 {
        let effort = self.effort();
        let mut best = self.cost(heard, at);
        let moved: &[usize] = match (self.before, self.after) {
            (Some(_), Some(_)) => &[1, 2, 0, 3],
            (Some(_), None) => &[1, 0],
            (None, _) => &[2, 3],
        };
        for round in rounds {
            let reach = REACH_QUARTERS * self.quarter() * FINER.powi(round as i32);
            for _ in 0..2 {
                for &which in moved {
                    let here = at[which];
                    for step in -effort.steps..=effort.steps {
                        let mut tried = *at;
                        tried[which] = here + reach * f64::from(step) / f64::from(effort.steps);
                        // A sound without a rest at its edge.
                        if self.before.is_none() {
                            tried[2] = tried[2].max(0.0);
                        } else if self.after.is_none() {
                            tried[1] = tried[1].min(tried[2]);
                        }
                        let cost = self.cost(heard, &tried);
                        if cost < best {
                            (best, *at) = (cost, tried);
                        }
                    }
                }
            }
        }
        best
    }

    /// What is heard around the rest, where it strays `scale` times as much as usual.
    fn heard(&self, at: &Places, scale: f64) -> NearbyPitch {
        let beyond = BEYOND_QUARTERS * self.quarter();
        let (a, b) =
            ((at[0] - beyond).max(0.0).ceil() as usize, (at[3] + beyond).max(0.0) as usize);
        let b = b.min(self.stretch.known());
        let step = (b.saturating_sub(a) / self.effort().points).max(1);
        let places = (a..b).step_by(step).filter(|i| self.stretch.heard[*i]);
        let (at, cents): (Vec<f64>, Vec<f64>) =
            places.map(|i| (i as f64, self.stretch.flat[i])).unzip();
        let cut = self.stretch.places().iter().map(|at| *at as f64);
        let cut = { cut }.find(|cut| at.first().is_some_and(|a| cut > a) && Some(cut) < at.last());
        let unrest =
            scale * UNREST_CENTS_SHARE.0.hypot(UNREST_CENTS_SHARE.1 * self.expected.height);
        let values = (step as f64 / FRAMES_PER_VALUE).min(1.0);
        let rough: Vec<f64> = at.iter().map(|at| self.roughness(*at as usize)).collect();
        let mut sorted = rough.clone();
        sorted.sort_by(f64::total_cmp);
        let expected = sorted.get(sorted.len() / 2).map_or(1.0, |rough| rough.max(0.01));
        let noise =
            |i: usize| (scale * NOISE_CENTS * (rough[i] / expected).max(1.0)).powi(2) / values;
        // Another finger has an unrest of its own.
        let side = |t: f64| cut.is_some_and(|cut| t >= cut);
        let covariance = |i: usize, j: usize| {
            if i == j {
                unrest * unrest + noise(i)
            } else if side(at[i]) == side(at[j]) {
                let apart = (at[i] - at[j]) / UNREST_FRAMES;
                unrest * unrest * (-0.5 * apart * apart).exp()
            } else {
                0.0
            }
        };
        let whiten = whitening(at.len(), covariance);
        NearbyPitch { at, cents, cut, whiten }
    }

    /// How rough the pitch is around a frame, in cents: what a frame strays from those beside it.
    fn roughness(&self, at: usize) -> f64 {
        let flat = &self.stretch.flat;
        let around =
            at.saturating_sub(ROUGH_FRAMES).max(1)..(at + ROUGH_FRAMES).min(flat.len() - 1);
        let count = around.len().max(1) as f64;
        let bend = |i: usize| flat[i - 1] - 2.0 * flat[i] + flat[i + 1];
        let squares: f64 = around.map(|i| bend(i).powi(2)).sum();
        (squares / count / 6.0).sqrt()
    }

    fn cost(&self, heard: &NearbyPitch, at: &Places) -> f64 {
        let [a, from, to, b] = *at;
        let quarter = self.quarter();
        let least = LEAST_QUARTER * quarter;
        let within = self.before.is_some() && self.after.is_some();
        if from - a < least || b - to < least || (within && to - from < LEAST_REST_FRAMES) {
            return f64::INFINITY;
        }
        let length = |frames: f64| 0.5 * ((frames / quarter).ln() / QUARTER_SPREAD).powi(2);
        let off =
            |at: f64, turn: Turn| 0.5 * ((at - turn.at) / (TURN_SPREAD_QUARTERS * quarter)).powi(2);
        let mut cost = self.left(heard, at);
        if let Some((turn, _)) = self.before {
            cost += length(from - a) + off(a, turn);
        }
        if let Some((_, turn)) = self.after {
            cost += length(b - to) + off(b, turn);
        }
        if !within && to - from >= LEAST_REST_FRAMES {
            cost += STILL_AT_EDGE_COST;
        }
        cost
    }

    /// Half the squares left by the middle, the two heights, the step and the middle before, each near what is
    /// usual.
    fn left(&self, heard: &NearbyPitch, at: &Places) -> f64 {
        let [a, from, to, b] = *at;
        let sign = |turn: Turn| if turn.crest { 1.0 } else { -1.0 };
        let before = self.before.map_or(0.0, |(turn, _)| sign(turn));
        let after = self.after.map_or(0.0, |(_, turn)| sign(turn));
        let height = self.expected.height;
        let tight = 1.0 / (HEIGHT_SPREAD * height).powi(2);
        let cut = heard.cut;
        let rows: Vec<[f64; 6]> = heard
            .at
            .iter()
            .zip(&heard.cents)
            .map(|(&t, cents)| {
                let fall = if t < from {
                    before * half_cycle(self.shape, 0.5 * ((t - a) / (from - a)).abs())
                } else {
                    0.0
                };
                let done = (t - to) / (b - to);
                let rise = after
                    * if done <= 0.0 {
                        0.0
                    } else if done >= 1.0 {
                        half_cycle(self.shape, 0.5 * (done - 1.0))
                    } else {
                        0.5 * (1.0 - (PI * done).cos())
                    };
                let early = f64::from(t < from);
                let late = f64::from(cut.is_some_and(|cut| t >= cut));
                // Against what is usual, so that what is found is how far it is from that.
                let y = cents - self.expected.middle - height * (fall + rise);
                [1.0, fall, rise, early, late, y]
            })
            .collect();
        let mut normal = [[0.0; 5]; 5];
        let mut sums = [0.0; 5];
        let mut squares = 0.0;
        normal[1][1] = tight;
        normal[2][2] = tight;
        normal[3][3] =
            (MIDDLE_SPREAD_SHARE_CENTS.0 * height + MIDDLE_SPREAD_SHARE_CENTS.1).powi(-2);
        normal[4][4] = 1.0 / (STEP_SPREAD_CENTS * STEP_SPREAD_CENTS);
        let mut from = 0;
        for i in 0..rows.len() {
            let weights = &heard.whiten[from..=from + i];
            from += i + 1;
            let mut row = [0.0; 6];
            for (weight, values) in weights.iter().zip(&rows) {
                for (sum, value) in row.iter_mut().zip(values) {
                    *sum += weight * value;
                }
            }
            squares += row[5] * row[5];
            for i in 0..5 {
                sums[i] += row[i] * row[5];
                for j in i..5 {
                    normal[i][j] += row[i] * row[j];
                }
            }
        }
        let size = if cut.is_some() { 5 } else { 4 };
        let Some(found) = solve_normal(normal, sums, size) else {
            return f64::INFINITY;
        };
        let explained: f64 = (0..size).map(|i| found[i] * sums[i]).sum();
        0.5 * (squares - explained).max(0.0)
    }
}

/// What is heard around a rest, and how to look at it.
struct NearbyPitch {
    /// Frames from the first of the stretch.
    at: Vec<f64>,
    cents: Vec<f64>,
    /// Where the finger changes.
    cut: Option<f64>,
    /// What makes values of it independent: rows of a lower triangle, one after the other.
    whiten: Vec<f64>,
}

/// Rows of the inverse of the lower Cholesky factor of a covariance of `count` values.
fn whitening(count: usize, covariance: impl Fn(usize, usize) -> f64) -> Vec<f64> {
    let row = |i: usize| i * (i + 1) / 2;
    let mut low = vec![0.0; row(count)];
    let mut inverse = low.clone();
    for i in 0..count {
        for j in 0..=i {
            let dot: f64 = (0..j).map(|k| low[row(i) + k] * low[row(j) + k]).sum();
            let rest = covariance(i, j) - dot;
            low[row(i) + j] = if i == j { rest.max(1e-9).sqrt() } else { rest / low[row(j) + j] };
        }
        let pivot = low[row(i) + i];
        for j in 0..=i {
            let dot: f64 = (j..i).map(|k| low[row(i) + k] * inverse[row(k) + j]).sum();
            inverse[row(i) + j] = (f64::from(i == j) - dot) / pivot;
        }
    }
    inverse
}
