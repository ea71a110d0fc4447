//! Where exactly a motion comes to rest and sets out again.
//!
//! **What a gap is.** It begins where the pitch stops moving, and ends where the pitch begins to move again. Where the hand
//! stops at a crest or a trough, it slows down by itself, and both are places of no speed. In the middle of its swing it may
//! stop at once, at full speed, or slow down over its last quarter, and it may set out either way. The two look alike in
//! a pitch that strays a little, but put the end of the rest about an eighth of a period apart. So both ways are tried;
//! where neither fits far better, the standard error of that end holds both.
//!
//! From the turn before a rest to the turn behind it the pitch is taken to be three pieces: what is left of the cycle up
//! to the rest, the rest itself, and what follows up to the next turn. To and from the middle these pieces are quarters
//! of a cycle, to and from a turn they are halves. The two ends of the rest and the two turns are moved until these pieces
//! fit the pitch best. Either piece may be longer or shorter than usual, at a price, so that a rest of an uneven motion
//! is placed as well as one of an even motion.

use crate::expectation::Expectation;
use crate::least_squares::LeastSquares;
use crate::measure::upper_median;
use crate::motion::{CycleShape, Pause, half_cycle};
use crate::stretch::Stretch;
use crate::turn::Turn;
use std::f64::consts::PI;
use std::ops::Range;

/// The pitch strays from the motion in two ways. One is the finger's own unrest: it lasts for about so many frames and
/// is so large, root mean square: so many cents and this share of the half width...
const UNREST_FRAMES: f64 = 18.0;
const UNREST_CENTS_SHARE: (f64, f64) = (1.0, 0.04);
/// ...the other is noise of the bow, of which so many frames tell as much as one alone, and which is at least so large,
/// in cents.
const FRAMES_PER_VALUE: f64 = 4.0;
const NOISE_CENTS: f64 = 0.3;
/// Noise grows where the pitch is rougher than usual over so many frames on either side, as while a room still rings
/// of the finger before.
const ROUGH_FRAMES: usize = 4;
/// Unrest and noise of a player are no smaller and no greater than these multiples of that.
const SCALE_BOUNDS: (f64, f64) = (0.4, 4.0);
/// How far pieces differ from the usual one: in length, as a logarithm, and in height, as a share.
const LENGTH_SPREAD: f64 = 0.3;
const HEIGHT_SPREAD: f64 = 0.32;
/// A step that was taken out may be wrong by so much, in cents.
const STEP_SPREAD_CENTS: f64 = 8.0;
/// The motion before the rest has the pitch of the rest for its middle, give or take a share of the half width and so
/// many cents.
const MIDDLE_SPREAD_SHARE_CENTS: (f64, f64) = (0.06, 0.3);
/// A turn lies where it was found, give or take this share of a quarter.
const TURN_SPREAD_QUARTERS: f64 = 0.12;
/// Of the pitch beyond the two turns so much is looked at, in quarters.
const BEYOND_QUARTERS: f64 = 0.7;
/// In the first round of looking each place is moved by this share of a quarter at most, and in each round after it by
/// this share of the round before.
const REACH_QUARTERS: f64 = 0.7;
const FINER: f64 = 0.45;

/// How much work is spent on the search.
struct Effort {
    /// Points of the pitch that are fitted, at most.
    points: usize,
    /// Places tried on either side of each.
    steps: i32,
    /// Rounds of looking, each finer than the one before.
    rounds: usize,
    /// So many of these from each beginning, the others only from the best.
    coarse: usize,
    /// Beginnings that are tried.
    beginnings: usize,
    /// How often all of it is done, each time with the noise that the last left.
    passes: usize,
}

/// While the sound goes on there is little time; once it is over there is enough.
const LIVE: Effort =
    Effort { points: 40, steps: 4, rounds: 2, coarse: 1, beginnings: 2, passes: 1 };
const AFTERWARDS: Effort =
    Effort { points: 96, steps: 6, rounds: 4, coarse: 1, beginnings: 6, passes: 2 };
/// Shortest rest, in frames, and shortest piece, as a share of the usual one.
const LEAST_REST_FRAMES: f64 = 4.0;
const LEAST_PIECE: f64 = 0.2;
/// In the middle a motion mostly stops at once and sets out slowly. What it costs to do otherwise, at each end, as a
/// logarithm of likelihood.
const UNUSUAL_COST: f64 = 1.0;

/// For the doubt of an end, places up to so many quarters away are tried, so many on either side, each with the turn
/// beside it moved by these shares of its spread. A manner that costs so much more than the best one is left out.
const DOUBTED_QUARTERS_STEPS: (f64, i32) = (1.2, 30);
const UNLIKELY_COST: f64 = 6.0;
const DOUBTED_TURNS: [f64; 5] = [-1.6, -0.8, 0.0, 0.8, 1.6];
/// No hand moves quite as these pieces do: each end is more doubtful by a factor, of a rest in the middle and of one at a
/// turn, and never known better than to so many frames and this share of a quarter, which is greater in the middle.
const DOUBT_FACTORS: (f64, f64) = (1.25, 1.6);
const LEAST_DOUBT_FRAMES: f64 = 0.6;
const LEAST_DOUBT_QUARTERS: (f64, f64) = (0.09, 0.02);

/// What a rest at the very start or end of the sound costs, as a logarithm of likelihood.
const STILL_AT_EDGE_COST: f64 = 8.0;

/// A rest between two turns, or between a turn and an edge of the sound, whose ends are known roughly.
pub(crate) struct Rest<'a> {
    /// The stretch it is in.
    pub stretch: &'a Stretch,
    /// What is usual there.
    pub expected: Expectation,
    /// Shape of half a cycle.
    pub shape: CycleShape,
    /// The turn before it, and where the rest begins; none at the start of the sound.
    pub before: Option<(Turn, f64)>,
    /// Where the rest ends, and the turn behind it; none at the end of the sound.
    pub after: Option<(f64, Turn)>,
    /// Whether it rests at a crest; `None` if in the middle.
    pub crest: Option<bool>,
}

/// How a motion comes to a rest in its middle and sets out again.
#[derive(Clone, Copy)]
struct Manner {
    /// It slows down over its last quarter; otherwise it stops at once.
    stops_slowly: bool,
    /// It is at full speed at once; otherwise it gathers speed over its first quarter.
    starts_at_once: bool,
}

const USUAL: Manner = Manner { stops_slowly: false, starts_at_once: false };

impl Manner {
    fn cost(self) -> f64 {
        UNUSUAL_COST * f64::from(u8::from(self.stops_slowly) + u8::from(self.starts_at_once))
    }
}

/// The turn before, the ends of the rest, and the turn behind, in frames.
type Places = [f64; 4];

impl Rest<'_> {
    /// The rest where the pitch fits best; at an edge of the sound it may turn out to be none.
    pub(crate) fn placed(&self) -> Pause {
        let first = self.roughly();
        let beginnings = self.beginnings(&first);
        let effort = self.effort();
        let (mut found, mut scale) = (first, 1.0);
        let mut nearby = self.nearby(&first, scale);
        for pass in 0..effort.passes {
            if pass > 0 {
                nearby = self.nearby(&first, scale);
            }
            let mut best = f64::INFINITY;
            for mut at in beginnings.iter().copied() {
                let cost = self.settle(&nearby, &mut at, USUAL, 0..effort.coarse);
                if cost < best {
                    (best, found) = (cost, at);
                }
            }
            self.settle(&nearby, &mut found, USUAL, effort.coarse..effort.rounds);
            let left = 2.0 * self.left(&nearby, &found, USUAL) / nearby.at.len().max(1) as f64;
            scale = (scale * left.sqrt()).clamp(SCALE_BOUNDS.0, SCALE_BOUNDS.1);
        }
        if !self.stretch.over {
            return Pause { from: found[1], to: found[2], doubts: (0.0, 0.0) };
        }
        let ways = self.ways(&nearby, &found);
        let least = ways.iter().map(|way| way.2).fold(f64::INFINITY, f64::min);
        // Each way counts as much as it is likely.
        let mean = |which: usize| {
            let weights = ways.iter().map(|way| ((least - way.2).exp(), way.1[which]));
            let (sum, all) =
                weights.fold((0.0, 0.0), |(sum, all), (w, at)| (sum + w * at, all + w));
            if all > 0.0 { sum / all } else { found[which] }
        };
        let (from, to) = (mean(1), mean(2));
        Pause {
            from,
            to,
            doubts: (self.doubt(&nearby, from, &ways, 1), self.doubt(&nearby, to, &ways, 2)),
        }
    }

    /// Each manner in which the motion may rest, with the places that fit best then and what they cost.
    fn ways(&self, nearby: &NearbyPitch, found: &Places) -> Vec<(Manner, Places, f64)> {
        let both = [false, true];
        let may_differ = |end: bool| &both[..if self.crest.is_none() && end { 2 } else { 1 }];
        let mut ways = Vec::new();
        for &stops_slowly in may_differ(self.before.is_some()) {
            for &starts_at_once in may_differ(self.after.is_some()) {
                let manner = Manner { stops_slowly, starts_at_once };
                let mut at = *found;
                let cost = self.settle(nearby, &mut at, manner, 0..self.effort().rounds);
                ways.push((manner, at, cost));
            }
        }
        ways
    }

    /// The places as they are known at first; a turn that is not there lies as far outside the sound as
    /// is usual.
    fn roughly(&self) -> Places {
        let [fall, rise] = self.usual();
        let end = self.stretch.known() as f64;
        let (before, after) = (self.before, self.after);
        [
            before.map_or(-fall, |(turn, _)| turn.at),
            before.map_or(0.0, |(_, from)| from),
            after.map_or(end, |(to, _)| to),
            after.map_or(end + rise, |(_, turn)| turn.at),
        ]
    }

    /// Where the search begins: more than once, for the nearest place that fits need not be the one that fits best.
    /// First with pieces as long as usual, then at the `first` places and beside them.
    fn beginnings(&self, first: &Places) -> Vec<Places> {
        let (quarter, [fall, rise]) = (self.quarter(), self.usual());
        let usual = [first[0], first[0] + fall, first[3] - rise, first[3]];
        let usual = (self.before.is_some() && self.after.is_some()).then_some(usual);
        let beside = [(0.0, 0.0), (-0.5, 0.0), (0.0, 0.5), (0.5, 0.0), (0.0, -0.5)];
        let beside = beside.map(|(early, late)| {
            let mut at = *first;
            // An edge of the sound stays where it is.
            at[1] += self.before.map_or(0.0, |_| early * quarter);
            at[2] += self.after.map_or(0.0, |_| late * quarter);
            at
        });
        usual.into_iter().chain(beside).take(self.effort().beginnings).collect()
    }

    /// Standard error of one end of the rest told to lie at `told`, from how well the pitch would fit if it lay elsewhere, in any of the ways in
    /// which the motion may rest there.
    fn doubt(
        &self,
        nearby: &NearbyPitch,
        told: f64,
        ways: &[(Manner, Places, f64)],
        which: usize,
    ) -> f64 {
        let turn = if which == 1 { 0 } else { 3 };
        let known = if which == 1 { self.before.is_none() } else { self.after.is_none() };
        if known {
            return 0.0;
        }
        let quarter = self.quarter();
        let cost = |manner: Manner, found: &Places, at: f64| {
            let each = DOUBTED_TURNS.iter().map(|share| {
                let mut tried = *found;
                tried[which] = at;
                tried[turn] += share * TURN_SPREAD_QUARTERS * quarter;
                self.cost(nearby, &tried, manner)
            });
            each.fold(f64::INFINITY, f64::min)
        };
        let least = ways.iter().map(|way| way.2).fold(f64::INFINITY, f64::min);
        let (mut sum, mut squares) = (0.0, 0.0);
        for (manner, found, _) in ways.iter().filter(|way| way.2 < least + UNLIKELY_COST) {
            for step in -DOUBTED_QUARTERS_STEPS.1..=DOUBTED_QUARTERS_STEPS.1 {
                let off = DOUBTED_QUARTERS_STEPS.0 * quarter * f64::from(step)
                    / f64::from(DOUBTED_QUARTERS_STEPS.1);
                let at = found[which] + off;
                let weight = (least - cost(*manner, found, at)).exp();
                sum += weight;
                squares += weight * (at - told).powi(2);
            }
        }
        let of = |(middle, turn): (f64, f64)| if self.crest.is_some() { turn } else { middle };
        let least = LEAST_DOUBT_FRAMES.hypot(of(LEAST_DOUBT_QUARTERS) * quarter);
        (of(DOUBT_FACTORS) * (squares / sum).sqrt()).hypot(least)
    }

    fn effort(&self) -> &'static Effort {
        if self.stretch.over { &AFTERWARDS } else { &LIVE }
    }

    fn quarter(&self) -> f64 {
        0.25 * (self.expected.up + self.expected.down)
    }

    /// Usual lengths of the pieces before the rest and behind it.
    fn usual(&self) -> [f64; 2] {
        let Expectation { up, down, .. } = self.expected;
        match self.crest {
            None => [self.quarter(); 2],
            Some(true) => [up, down],
            Some(false) => [down, up],
        }
    }

    /// Moves the places one after the other to where the pitch fits better, in rounds that grow finer; returns the cost.
    fn settle(
        &self,
        nearby: &NearbyPitch,
        at: &mut Places,
        manner: Manner,
        rounds: Range<usize>,
    ) -> f64 {
        let effort = self.effort();
        let mut best = self.cost(nearby, at, manner);
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
                        // The motion may reach the edge of the sound, but not go beyond it.
                        if self.before.is_none() {
                            tried[2] = tried[2].max(0.0);
                        } else if self.after.is_none() {
                            tried[1] = tried[1].min(tried[2]);
                        }
                        let cost = self.cost(nearby, &tried, manner);
                        if cost < best {
                            (best, *at) = (cost, tried);
                        }
                    }
                }
            }
        }
        best
    }

    /// The pitch around the rest, and how it hangs together where it strays `scale` times as much as usual.
    fn nearby(&self, at: &Places, scale: f64) -> NearbyPitch {
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
        let expected = upper_median(rough.clone()).map_or(1.0, |rough| rough.max(0.01));
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

    /// How rough the pitch is around a frame, in cents: how far a frame strays from those beside it.
    fn roughness(&self, at: usize) -> f64 {
        let flat = &self.stretch.flat;
        let around =
            at.saturating_sub(ROUGH_FRAMES).max(1)..(at + ROUGH_FRAMES).min(flat.len() - 1);
        let count = around.len().max(1) as f64;
        let bend = |i: usize| flat[i - 1] - 2.0 * flat[i] + flat[i + 1];
        let squares: f64 = around.map(|i| bend(i).powi(2)).sum();
        (squares / count / 6.0).sqrt()
    }

    /// Minus the logarithm of how likely these places are.
    fn cost(&self, nearby: &NearbyPitch, at: &Places, manner: Manner) -> f64 {
        let [a, from, to, b] = *at;
        let (quarter, [fall, rise]) = (self.quarter(), self.usual());
        let within = self.before.is_some() && self.after.is_some();
        let short = from - a < LEAST_PIECE * fall || b - to < LEAST_PIECE * rise;
        if short || (within && to - from < LEAST_REST_FRAMES) {
            return f64::INFINITY;
        }
        let length =
            |frames: f64, usual: f64| 0.5 * ((frames / usual).ln() / LENGTH_SPREAD).powi(2);
        let off =
            |at: f64, turn: Turn| 0.5 * ((at - turn.at) / (TURN_SPREAD_QUARTERS * quarter)).powi(2);
        let mut cost = self.left(nearby, at, manner) + manner.cost();
        if let Some((turn, _)) = self.before {
            cost += length(from - a, fall) + off(a, turn);
        }
        if let Some((_, turn)) = self.after {
            cost += length(b - to, rise) + off(b, turn);
        }
        if !within && to - from >= LEAST_REST_FRAMES {
            cost += STILL_AT_EDGE_COST;
        }
        cost
    }

    /// Half the squares that the best fit leaves, in units of what the pitch strays anyway. Fitted are the pitch of the rest,
    /// the heights of the two pieces, the middle of the motion before the rest, and the step to another finger, each near
    /// what is usual.
    fn left(&self, nearby: &NearbyPitch, at: &Places, manner: Manner) -> f64 {
        let height = self.expected.height;
        let mut fit = LeastSquares::new();
        fit.normal[1][1] = 1.0 / (HEIGHT_SPREAD * height).powi(2);
        fit.normal[2][2] = fit.normal[1][1];
        fit.normal[3][3] =
            (MIDDLE_SPREAD_SHARE_CENTS.0 * height + MIDDLE_SPREAD_SHARE_CENTS.1).powi(-2);
        fit.normal[4][4] = 1.0 / (STEP_SPREAD_CENTS * STEP_SPREAD_CENTS);
        let rows = self.rows(nearby, at, manner);
        let (mut from, mut squares) = (0, 0.0);
        for i in 0..rows.len() {
            let weights = &nearby.whiten[from..=from + i];
            from += i + 1;
            let mut row = [0.0; 6];
            for (weight, values) in weights.iter().zip(&rows) {
                for (sum, value) in row.iter_mut().zip(values) {
                    *sum += weight * value;
                }
            }
            let [middle, fall, rise, early, late, y] = row;
            squares += y * y;
            fit.add(&[middle, fall, rise, early, late], y);
        }
        let fitted = fit.solve(if nearby.cut.is_some() { 5 } else { 4 });
        fitted.map_or(f64::INFINITY, |(_, explained)| 0.5 * (squares - explained).max(0.0))
    }

    /// At each point of the pitch: 1 for the rest, the two pieces at height 1, whether the rest is still to come,
    /// whether another finger plays, and how far the pitch lies from what is usual.
    fn rows(&self, nearby: &NearbyPitch, at: &Places, manner: Manner) -> Vec<[f64; 6]> {
        let [a, from, to, b] = *at;
        let sign = |crest: bool| if crest { 1.0 } else { -1.0 };
        // How far from the rest the motion is, one half width for 1, after a share of the piece behind it, or before it.
        let away = |share: f64, turn: Option<Turn>, slowly: bool| {
            let height = match (self.crest, turn) {
                _ if share <= 0.0 => return 0.0,
                (Some(crest), _) => return sign(crest) * (half_cycle(self.shape, share) - 1.0),
                (None, None) => return 0.0,
                (None, Some(turn)) => sign(turn.crest),
            };
            height
                * if slowly && share < 1.0 {
                    0.5 * (1.0 - (PI * share).cos())
                } else {
                    half_cycle(self.shape, 0.5 * (share - 1.0))
                }
        };
        let before = self.before.map(|(turn, _)| turn);
        let after = self.after.map(|(_, turn)| turn);
        let level = self.expected.middle
            + self.crest.map_or(0.0, |crest| sign(crest) * self.expected.height);
        let points = nearby.at.iter().zip(&nearby.cents);
        points
            .map(|(&t, cents)| {
                let fall = away((from - t) / (from - a), before, manner.stops_slowly);
                let rise = away((t - to) / (b - to), after, !manner.starts_at_once);
                let early = f64::from(t < from);
                let late = f64::from(nearby.cut.is_some_and(|cut| t >= cut));
                let y = cents - level - self.expected.height * (fall + rise);
                [1.0, fall, rise, early, late, y]
            })
            .collect()
    }
}

/// The pitch around a rest, at some of its frames.
struct NearbyPitch {
    /// In frames from the first of the stretch.
    at: Vec<f64>,
    /// Steps of the fingers taken out.
    cents: Vec<f64>,
    /// Where the finger changes.
    cut: Option<f64>,
    /// Weights that make independent values of it, each as uncertain as the others: rows of a lower triangle, one after
    /// the other.
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
