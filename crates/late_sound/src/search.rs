//! The search for the motion that explains most.

use crate::harmonics::{Harmonics, Tried};
use std::cell::RefCell;
use vibrato::median;

/// The noise of a harmonic, as a share of the direct sound's power: high on purpose, for a small one takes errors of the
/// form for information. While the form is sought it may be small.
const NOISE: f64 = 0.3;
const FORM_NOISE: f64 = 0.03;
/// The room to begin with: ratio of direct to late sound in dB, and decay in seconds. Neither matters much.
const RATIO_DB: f64 = 3.0;
const T60_SECS: f64 = 0.35;
/// A second solution takes the ratio that the first one found, up to this.
const MOST_RATIO_DB: f64 = 15.0;
/// A room as good as none, and the motion as it was told.
const FAINT_RATIO_DB: f64 = 10.0;
const AS_TOLD: Tried = Tried { size: 1.0, earlier: 0.0 };
/// Copies later than this are the room.
const LATE_SECS: f64 = 0.015;
/// What is expected of the motion, weakly: its size and how much earlier it was, with deviations.
const SIZE: (f64, f64) = (1.05, 0.25);
const EARLIER_SECS: (f64, f64) = (0.005, 0.012);
/// Motions tried first, by the lowest harmonics only, and how many of them by all.
const SIZES: [f64; 13] =
    [0.92, 0.97, 1.02, 1.07, 1.12, 1.18, 1.25, 1.33, 1.42, 1.53, 1.66, 1.82, 2.0];
const EARLIERS_SECS: [f64; 4] = [0.0, 0.004, 0.008, 0.013];
const FIRST_HARMONICS: usize = 5;
const FIRST_BEST: usize = 5;
/// Steps of the search in size and seconds: from there, from a start that is known, and to see how sharp the top is.
const FROM_AFAR: (f64, f64) = (0.03, 0.0025);
const FROM_NEAR: (f64, f64) = (0.015, 0.0015);
const AT_TOP: (f64, f64) = (0.012, 0.001);
const SHRINK: f64 = 0.4;
/// The points at which a quadratic is fixed.
const STENCIL: [(f64, f64); 6] =
    [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0), (1.0, 1.0)];
/// The form is sought with these shares of the harmonics, in so many passes; its cut-off as a multiple of the rate.
const FORM_SHARES: [f64; 3] = [0.25, 0.5, 1.0];
const FORM_PASSES: usize = 12;
const FORM_CUT: f64 = 2.5;
/// A pass is worth going on from if it leaves less than this share of what was unexplained.
const WORTH: f64 = 0.97;

/// What a search found.
#[derive(Clone, Copy)]
pub(crate) struct Found {
    pub(crate) tried: Tried,
    /// Standard error of the size by the sharpness of the likelihood alone.
    pub(crate) error: f64,
    /// Direct sound over copies, in dB.
    pub(crate) ratio_db: f64,
    /// Share of a middling harmonic's power that is not explained.
    pub(crate) unexplained: f64,
    /// Log likelihood in a usual room, by which motions of the same note are compared.
    pub(crate) likelihood: f64,
}

/// A search with one idea of the room.
pub(crate) struct Search<'a> {
    harmonics: &'a Harmonics,
    expected: Vec<f64>,
    /// What was computed already.
    known: RefCell<Vec<(Tried, f64)>>,
}

impl<'a> Search<'a> {
    pub(crate) fn new(harmonics: &'a Harmonics) -> Self {
        Self::with_ratio(harmonics, RATIO_DB)
    }

    fn with_ratio(harmonics: &'a Harmonics, ratio_db: f64) -> Self {
        let expected = harmonics.expected(ratio_db, T60_SECS);
        Self { harmonics, expected, known: RefCell::default() }
    }

    /// The motion that explains most: first in a usual room, then in one as strong as that showed it to be.
    pub(crate) fn solve(&self) -> Found {
        let (first, _) = self.climb(self.coarse(), FROM_AFAR, 2);
        let explained = self.harmonics.explain(first, usize::MAX, &self.expected, NOISE);
        let is_late = |l: usize| l as f64 / self.harmonics.per_sec >= LATE_SECS;
        let (mut direct, mut late) = (0.0, 0.0);
        for each in &explained {
            direct += each.powers[0];
            late += each
                .powers
                .iter()
                .enumerate()
                .filter(|(l, _)| is_late(*l))
                .map(|(_, p)| p)
                .sum::<f64>();
        }
        let ratio_db = 10.0 * (direct / late.max(1e-6)).log10();
        let again = Self::with_ratio(self.harmonics, ratio_db.clamp(0.0, MOST_RATIO_DB));
        let (tried, error) = again.climb(first, FROM_NEAR, 2);
        let unexplained =
            median(explained.iter().map(|each| each.unexplained).collect()).unwrap_or_default();
        Found { tried, error, ratio_db, unexplained, likelihood: self.full(tried) }
    }

    /// Log likelihood of a motion just as it was told, with hardly any late sound.
    pub(crate) fn without_room(harmonics: &'a Harmonics) -> f64 {
        Self::with_ratio(harmonics, FAINT_RATIO_DB).full(AS_TOLD)
    }

    fn value(&self, tried: Tried, most: usize) -> f64 {
        let beside = |value: f64, (mean, sd): (f64, f64)| -0.5 * ((value - mean) / sd).powi(2);
        self.harmonics.likelihood(tried, most, &self.expected, NOISE)
            + beside(tried.size, SIZE)
            + beside(tried.earlier, EARLIER_SECS)
    }

    /// By all harmonics.
    fn full(&self, tried: Tried) -> f64 {
        if let Some((_, value)) = self.known.borrow().iter().find(|(known, _)| *known == tried) {
            return *value;
        }
        let value = self.value(tried, usize::MAX);
        self.known.borrow_mut().push((tried, value));
        value
    }

    fn coarse(&self) -> Tried {
        let each =
            SIZES.iter().flat_map(|&size| EARLIERS_SECS.map(|earlier| Tried { size, earlier }));
        let mut by_few: Vec<(f64, Tried)> =
            each.map(|tried| (self.value(tried, FIRST_HARMONICS), tried)).collect();
        by_few.sort_by(|a, b| b.0.total_cmp(&a.0));
        let best = by_few[..FIRST_BEST].iter().map(|(_, tried)| *tried);
        let by_all = best.map(|tried| (self.full(tried), tried));
        by_all.max_by(|a, b| a.0.total_cmp(&b.0)).map_or(by_few[0].1, |(_, tried)| tried)
    }

    fn stencil(&self, at: Tried, step: (f64, f64)) -> [f64; 6] {
        STENCIL.map(|(i, j)| {
            let (size, earlier) = (at.size + i * step.0, at.earlier + j * step.1);
            self.full(Tried { size, earlier })
        })
    }

    /// Newton's steps on ever smaller quadratics, `rounds` at least: the top and the error of its size.
    fn climb(&self, from: Tried, mut step: (f64, f64), rounds: usize) -> (Tried, f64) {
        let mut at = from;
        let mut done = 0;
        while done < rounds + 3 {
            let values = self.stencil(at, step);
            let best = (0..6).max_by(|&a, &b| values[a].total_cmp(&values[b])).unwrap_or(0);
            let quadratic = Quadratic::through(&values);
            let newton = quadratic.top().unwrap_or(STENCIL[best]);
            let towards = |(i, j): (f64, f64)| Tried {
                size: at.size + i * step.0,
                earlier: at.earlier + j * step.1,
            };
            let newton = (newton.0.clamp(-1.5, 1.5), newton.1.clamp(-1.5, 1.5));
            let taken =
                if self.full(towards(newton)) < values[best] { STENCIL[best] } else { newton };
            at = towards(taken);
            done += 1;
            if taken.0.abs().max(taken.1.abs()) < 1.01 {
                if done >= rounds {
                    break;
                }
                step = (step.0 * SHRINK, step.1 * SHRINK);
            }
        }
        let quadratic = Quadratic::through(&self.stencil(at, AT_TOP));
        (at, SIZE.1 * quadratic.sharpness(SIZE.1 / AT_TOP.0, EARLIER_SECS.1 / AT_TOP.1).sqrt())
    }
}

/// A quadratic in two directions: slopes and curvatures at its origin.
struct Quadratic {
    slope: (f64, f64),
    /// Twice along the first, across, along the second.
    curve: (f64, f64, f64),
}

impl Quadratic {
    /// Through values at the points of the stencil.
    fn through(v: &[f64; 6]) -> Self {
        let slope = (0.5 * (v[1] - v[2]), 0.5 * (v[3] - v[4]));
        let (first, second) = (v[1] + v[2] - 2.0 * v[0], v[3] + v[4] - 2.0 * v[0]);
        let across = v[5] - v[0] - slope.0 - slope.1 - 0.5 * first - 0.5 * second;
        Self { slope, curve: (first, across, second) }
    }

    /// Where it is highest; `None` where it opens upwards in any direction.
    fn top(&self) -> Option<(f64, f64)> {
        let ((low, low_axis), (high, high_axis)) = axes(self.curve);
        let towards = |curve: f64, axis: (f64, f64)| {
            let along = (axis.0 * self.slope.0 + axis.1 * self.slope.1) / curve.min(-1e-3);
            (-along * axis.0, -along * axis.1)
        };
        let (a, b) = (towards(low, low_axis), towards(high, high_axis));
        (low.max(high) < 0.0).then_some((a.0 + b.0, a.1 + b.1))
    }

    /// Variance along the first direction, in units of `scale`, at most 1 along each axis.
    fn sharpness(&self, first: f64, second: f64) -> f64 {
        let (a, b, c) = self.curve;
        let scaled = (-a * first * first, -b * first * second, -c * second * second);
        let ((low, low_axis), (high, high_axis)) = axes(scaled);
        low_axis.0.powi(2) / low.max(1.0) + high_axis.0.powi(2) / high.max(1.0)
    }
}

type Axis = (f64, (f64, f64));

/// Eigenvalues and axes of a symmetric matrix of two rows.
fn axes((a, b, c): (f64, f64, f64)) -> (Axis, Axis) {
    let angle = 0.5 * (2.0 * b).atan2(a - c);
    let (sin, cos) = angle.sin_cos();
    let high = a * cos * cos + 2.0 * b * sin * cos + c * sin * sin;
    let low = a * sin * sin - 2.0 * b * sin * cos + c * cos * cos;
    ((low, (-sin, cos)), (high, (cos, sin)))
}

/// Finds the form of the motion anew, from a first idea of it: by turns the gains of the copies, and what the direct
/// sound still swings beside the track. The harmonics follow the best track in the end.
pub(crate) fn find_form(harmonics: &mut Harmonics, from: Tried) {
    let moved = harmonics.moved(from);
    harmonics.follow(&moved);
    let expected = harmonics.expected(RATIO_DB, T60_SECS);
    let count = harmonics.orders.len();
    let mut mosts = FORM_SHARES
        .map(|share| ((count as f64 * share).ceil() as usize).max(3).min(count))
        .to_vec();
    mosts.dedup();
    for most in mosts {
        let mut best = f64::INFINITY;
        let mut kept = harmonics.track();
        let mut worse = 0;
        for _ in 0..FORM_PASSES {
            let (beside, unexplained) =
                harmonics.still_swings(most, &expected, FORM_NOISE, FORM_CUT);
            worse = if unexplained < WORTH * best { 0 } else { worse + 1 };
            if unexplained < best {
                (best, kept) = (unexplained, harmonics.track());
            }
            if worse > 1 {
                break;
            }
            let next: Vec<f64> =
                harmonics.track().iter().zip(&beside).map(|(a, b)| a + b).collect();
            harmonics.follow(&next);
        }
        harmonics.follow(&kept);
    }
}
