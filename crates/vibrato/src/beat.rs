//! The rate of a part of a motion, however short.
//!
//! It is weighed from two estimates. The cycles that were made, over the time without rests, are known as well as
//! the part's edges are: that is best of an uneven motion. The beat that fits all turns and crossings of the middle
//! (least squares) does not need the edges: that is best of an even one. How uneven it is shows in what the fit
//! leaves: where single places are beside, neighbouring intervals make up for each other; where the motion itself is
//! uneven they do not.

use crate::cycle_count::CycleCount;
use crate::measure::Measure;
use crate::stretch::Stretch;
use crate::turn::Turn;
use pitch::HOP_SECS;
use tuning::Hz;

// The doubts are those that made and recorded rounds (`tests`) show.

/// Doubt of how far a motion goes from edge to edge, in cycles, and where it is too short for a beat.
const EDGES_CYCLES: f64 = 0.08;
const SHORT_CYCLES: f64 = 0.12;
/// Doubt of the place of a turn or crossing before any is seen, and of what all of them have in common, in cycles.
const PLACE_CYCLES: f64 = 0.015;
const COMMON_CYCLES: f64 = 0.003;
/// Spread of the period, as a share, before any is seen.
const UNEVEN_SHARE: f64 = 0.03;
/// What is supposed before anything is seen weighs as much as so many places.
const SUPPOSED_PLACES: f64 = 4.0;
/// Of a motion whose period varies at random, a straight line through its places misses the mean by this share of the
/// variance over the number of cycles (the slope of a random walk: 6/5 less 1; the rest is what rounds show).
const WALK_SHARE: f64 = 0.3;
/// A line through this share of half a cycle, on either side, tells where it crosses the middle.
const LINE_SHARE: f64 = 0.2;

/// A turn, or a crossing of the middle between two.
#[derive(Clone, Copy, Debug)]
struct Mark {
    /// In frames from the first of the stretch.
    at: f64,
    /// Quarters of a cycle since a trough.
    quarters: usize,
}

/// The beat that fits some runs of marks.
struct Beat {
    /// Frames of a cycle.
    period: f64,
    /// Variance of the period by the places' scatter, as a share of its square, and the number of places free to
    /// scatter.
    scatter: f64,
    free: f64,
    /// The places' sum of squares around their middles, in cycles: what scatter is told by.
    reach: f64,
    /// Variance of single periods, as a share of their square.
    uneven: f64,
    /// Cycles that are spanned.
    cycles: f64,
}

impl Beat {
    /// `None` where nothing comes back after a whole cycle. Each run's crests, troughs and crossings either way have
    /// a start of their own, so that a broad crest does no harm.
    fn of(runs: &[Vec<Mark>]) -> Option<Self> {
        let kinds = || {
            let of = |run: &'_ [Mark], kind| -> Vec<(f64, f64)> {
                let same = run.iter().filter(|mark| mark.quarters % 4 == kind);
                same.map(|mark| (0.25 * mark.quarters as f64, mark.at)).collect()
            };
            let each = runs.iter().flat_map(move |run| (0..4).map(move |kind| of(run, kind)));
            each.filter(|marks| marks.len() > 1)
        };
        let (mut kk, mut kt, mut tt, mut free) = (0.0, 0.0, 0.0, -1.0);
        for marks in kinds() {
            let count = marks.len() as f64;
            let middle = mean(&marks);
            for (k, t) in marks {
                let (k, t) = (k - middle.0, t - middle.1);
                (kk, kt, tt) = (kk + k * k, kt + k * t, tt + t * t);
            }
            free += count - 1.0;
        }
        if kk <= 0.0 || kt <= 0.0 {
            return None;
        }
        let period = kt / kk;
        let left = (tt - kt * period).max(0.0) / f64::max(free, 1.0);
        let span = |run: &Vec<Mark>| {
            let (first, last) = (run.first()?, run.last()?);
            Some(0.25 * (last.quarters - first.quarters) as f64)
        };
        Some(Self {
            period,
            scatter: left / kk / (period * period),
            free,
            reach: kk,
            uneven: uneven(runs, period),
            cycles: runs.iter().filter_map(span).sum(),
        })
    }

    /// Variance of the rate of a part of `cycles`, as a share of its square.
    fn doubt(&self, cycles: f64) -> f64 {
        let weighed = |seen: f64, before: f64| {
            (self.free * seen + SUPPOSED_PLACES * before) / (self.free + SUPPOSED_PLACES)
        };
        let scatter = weighed(self.scatter, PLACE_CYCLES * PLACE_CYCLES / self.reach);
        let uneven = weighed(self.uneven, UNEVEN_SHARE * UNEVEN_SHARE);
        let beyond = (cycles - self.cycles).max(0.0) / cycles.max(self.cycles).powi(2);
        scatter
            + uneven * (WALK_SHARE / self.cycles + beyond)
            + (COMMON_CYCLES / self.cycles).powi(2)
    }
}

fn mean(marks: &[(f64, f64)]) -> (f64, f64) {
    let count = marks.len() as f64;
    let sum = marks.iter().fold((0.0, 0.0), |sum, mark| (sum.0 + mark.0, sum.1 + mark.1));
    (sum.0 / count, sum.1 / count)
}

/// Variance of the period of single cycles, as a share of its square: that of the quarters, less what neighbours make
/// up for.
fn uneven(runs: &[Vec<Mark>], period: f64) -> f64 {
    let (mut squares, mut products, mut steps, mut pairs) = (0.0, 0.0, 0.0, 0.0);
    for run in runs {
        let off = |mark: &Mark| mark.at - 0.25 * period * mark.quarters as f64;
        let usual = [0, 1, 2, 3].map(|kind| {
            let same: Vec<f64> =
                run.iter().filter(|mark| mark.quarters % 4 == kind).map(off).collect();
            let count = same.len() as f64;
            (same.len() > 1).then(|| same.iter().sum::<f64>() / count)
        });
        let mut before: Option<f64> = None;
        for pair in run.windows(2) {
            let left = |mark: &Mark| Some(off(mark) - usual[mark.quarters % 4]?);
            let next = pair[1].quarters == pair[0].quarters + 1;
            let step = left(&pair[0]).zip(left(&pair[1])).filter(|_| next).map(|(a, b)| b - a);
            if let Some(step) = step {
                (squares, steps) = (squares + step * step, steps + 1.0);
                if let Some(before) = before {
                    (products, pairs) = (products + before * step, pairs + 1.0);
                }
            }
            before = step;
        }
    }
    if pairs == 0.0 {
        return 0.0;
    }
    let quarter = (squares / steps + 2.0 * products / pairs).max(0.0);
    4.0 * quarter / (period * period)
}

impl Stretch {
    /// Oscillations a second from frame `from` to before frame `to`, rests apart; `None` where nothing moves.
    /// `motion` is the motion of this stretch.
    pub fn pace(&self, motion: &CycleCount, from: usize, to: usize) -> Option<Measure<Hz>> {
        let (first, last) = motion.span?;
        let (begin, end) = ((from as f64).max(first), (to as f64).min(last));
        let rest = |pause: &crate::Pause| (pause.to.min(end) - pause.from.max(begin)).max(0.0);
        let frames = end - begin - motion.pauses.iter().map(rest).sum::<f64>();
        let cycles = motion.at(to as f64) - motion.at(from as f64);
        if frames <= 0.0 || cycles <= 0.0 {
            return None;
        }
        let made = cycles / frames;
        let (per_frame, variance) = match Beat::of(&self.runs(motion, from, to)) {
            Some(beat) => {
                let fitted = 1.0 / beat.period;
                let doubt = beat.doubt(frames / beat.period) * fitted * fitted;
                let (a, b) = ((frames / EDGES_CYCLES).powi(2), 1.0 / doubt);
                ((a * made + b * fitted) / (a + b), 1.0 / (a + b))
            }
            None => (made, (SHORT_CYCLES / frames).powi(2)),
        };
        Some(Measure { value: Hz(per_frame / HOP_SECS), se: Some(Hz(variance.sqrt() / HOP_SECS)) })
    }

    /// The turns and crossings of a part, each run without a rest in it.
    fn runs(&self, motion: &CycleCount, from: usize, to: usize) -> Vec<Vec<Mark>> {
        let within = |at: f64| at >= from as f64 && at < to as f64;
        let rests = |a: &Turn, b: &Turn| {
            let mut pauses = motion.pauses.iter();
            pauses.any(|pause| pause.from >= a.at && pause.to <= b.at)
        };
        let mut runs: Vec<Vec<Mark>> = Vec::new();
        let mut before: Option<(&Turn, usize)> = None;
        for turn in &motion.turns {
            let goes_on = before.filter(|(last, _)| last.crest != turn.crest && !rests(last, turn));
            let quarters = goes_on.map_or(2 * usize::from(turn.crest), |(_, last)| last + 2);
            if goes_on.is_none() {
                runs.push(Vec::new());
            }
            let crossing = goes_on.and_then(|(last, _)| {
                let touches = last.at < to as f64 && turn.at >= from as f64;
                touches.then(|| self.crossing(last, turn)).flatten()
            });
            let crossing = crossing.map(|at| (at, quarters - 1));
            for (at, quarters) in crossing.into_iter().chain([(turn.at, quarters)]) {
                if let Some(run) = runs.last_mut().filter(|_| within(at)) {
                    run.push(Mark { at, quarters });
                }
            }
            before = Some((turn, quarters));
        }
        runs
    }

    /// Where the pitch crosses the middle between two turns, by a line through the frames around it; `None` if the
    /// finger is on its way there.
    fn crossing(&self, a: &Turn, b: &Turn) -> Option<f64> {
        let middle = 0.5 * (a.cents + b.cents);
        let up = if b.crest { 1.0 } else { -1.0 };
        let flat = |i: usize| up * (self.flat[i] - middle);
        let (low, high) =
            (a.at.max(0.0).ceil() as usize, (b.at.floor() as usize).min(self.flat.len() - 1));
        let halfway = 0.5 * (a.at + b.at);
        let away = |i: &usize| (*i as f64 + 0.5 - halfway).abs();
        let i = (low..high)
            .filter(|i| flat(*i) <= 0.0 && flat(i + 1) > 0.0)
            .min_by(|i, j| away(i).total_cmp(&away(j)))?;
        let reach = ((LINE_SHARE * (b.at - a.at)).round() as usize).max(1);
        let frames = i.saturating_sub(reach).max(low)..=(i + 1 + reach).min(high);
        if self.heard[frames.clone()].iter().any(|heard| !heard) {
            return None;
        }
        let points: Vec<(f64, f64)> = frames.map(|i| (i as f64, flat(i))).collect();
        let (x, y) = mean(&points);
        let (mut xx, mut xy) = (0.0, 0.0);
        for point in &points {
            xx += (point.0 - x) * (point.0 - x);
            xy += (point.0 - x) * (point.1 - y);
        }
        (xy > 0.0).then(|| x - y * xx / xy)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers from -1 to 1 that follow no rule to speak of.
    fn chance() -> impl FnMut() -> f64 {
        let mut state = 1_u32;
        move || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            f64::from(state >> 8) / f64::from(1_u32 << 23) - 1.0
        }
    }

    /// A run of marks in a motion of 40 frames, each so far beside, and intervals so much longer.
    fn run(
        quarters: usize,
        mut beside: impl FnMut(usize) -> f64,
        mut longer: impl FnMut() -> f64,
    ) -> Vec<Mark> {
        let mut time = 100.0;
        let mark = |quarters| {
            time += 10.0 * (1.0 + longer());
            let at = time + beside(quarters);
            Mark { at, quarters }
        };
        (0..=quarters).map(mark).collect()
    }

    #[test]
    fn broad_crests_and_slow_falls_move_no_beat() {
        for quarters in [4, 5, 7, 10, 16] {
            let marks = run(quarters, |quarters| [0.0, -1.5, 4.0, 2.5][quarters % 4], || 0.0);
            let beat = Beat::of(&[marks]).expect("a whole cycle");
            assert!((beat.period - 40.0).abs() < 1e-9, "{}", beat.period);
            assert!(beat.scatter < 1e-12 && beat.uneven < 1e-12);
            assert_eq!(beat.cycles, 0.25 * quarters as f64);
        }
        assert!(Beat::of(&[run(3, |_| 0.0, || 0.0)]).is_none());
    }

    #[test]
    fn places_beside_are_told_from_an_uneven_motion() {
        let (mut places, mut times) = (chance(), chance());
        let beside = Beat::of(&[run(400, |_| 0.8 * places(), || 0.0)]).expect("cycles");
        // Even chances from -1 to 1 have a variance of 1/3; a cycle has four intervals, each a quarter of it.
        let uneven = Beat::of(&[run(400, |_| 0.0, || 0.2 * times())]).expect("cycles");
        let truth = 0.2 * 0.2 / 3.0 / 4.0;
        assert!(beside.uneven < 0.1 * truth, "{}", beside.uneven);
        assert!((uneven.uneven / truth - 1.0).abs() < 0.3, "{}", uneven.uneven);
        assert!(uneven.doubt(101.0) > 4.0 * beside.doubt(101.0));
    }

    #[test]
    fn a_run_broken_by_a_rest_tells_as_much_of_its_beat() {
        let (first, mut second) = (run(8, |_| 0.0, || 0.0), run(6, |_| 0.0, || 0.0));
        second.iter_mut().for_each(|mark| mark.at += 733.0);
        let beat = Beat::of(&[first, second]).expect("cycles");
        assert!((beat.period - 40.0).abs() < 1e-9, "{}", beat.period);
        assert_eq!(beat.cycles, 3.5);
    }
}
