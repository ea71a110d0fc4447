//! The vibrato of one note as it was played: half oscillations, and two lines through their widths.

use tuning::Secs;
use vibrato::{FRAME, LeastSquares, Measure, Note, Oscillation, Quantity, Solved, median};

use crate::follow::{Heard, frame_at, time_of};

/// A turn is narrowed by the room by this share of what the ear takes it for: a swing that grows or dies makes the harmonics
/// disagree twice as much as one that stays (made notes in rooms of 0.5 and 0.8 s: the told width is 1.036 of the true one
/// with all of it, 0.985 with none; of level ones 1.007 and 0.985).
const WIDENED_SHARE: f64 = 0.5;
/// A turn is looked for so far from where it is expected, in shares of an oscillation; its parabola has so many frames on
/// either side.
const TROUGH_SHARE: f64 = 0.2;
const CREST_SHARE: f64 = 0.4;
const PARABOLA: usize = 3;
const LEAST_FRAMES: usize = 5;
/// The top of the parabola is no further from the highest frame, in seconds.
const MOST_BESIDE_SECS: f64 = 0.015;
/// Before the first and behind the last oscillation that the ear counted a half one may be so much longer or shorter than
/// the one beside it, and no narrower than this share of it; and it lies so far within the note, in seconds.
const MORE_HALF: std::ops::Range<f64> = 0.6..1.6;
const MORE_WIDTH: f64 = 0.3;
const MORE_EDGE_SECS: f64 = 0.02;
/// A first or last half oscillation so many times as wide as the one beside it is the bow's attack or release.
const SPIKE: f64 = 1.8;
/// The bend is looked for each 5 ms in the inner part of a note.
const EDGE_SHARE: f64 = 0.12;
const STEP_SECS: f64 = 0.005;
/// A bend must explain the widths this much better than one line (F of 2 and n − 4), from so many half oscillations on.
const LEAST_F: f64 = 4.0;
const LEAST_BENT: usize = 6;
/// Start, peak, end and place of a bend.
const BENT_UNKNOWNS: f64 = 4.0;
/// Cycles of an uneven hand go with each other, too: the doubt of the bend is so many times as great (120 made notes of 8 %).
const CYCLES_SHARED: f64 = 1.1;
/// The least variance of a half oscillation's width, in cents squared.
const LEAST_VARIANCE: f64 = 1.0;
/// Half oscillations share their turns, and an uneven hand makes both halves of a cycle alike: what they tell is worth
/// less than their number. The doubt is so many times as great (made notes of 0, 4 and 8 % unevenness).
const SHARED: f64 = 1.5;
/// A swing this narrow, or no wider than so many standard errors, is no vibrato.
const LEAST_CENTS: f64 = 6.0;
const LEAST_ERRORS: f64 = 3.0;
/// Nor is one that is both narrower and slower than this: a straight note drifts like that by itself (6 of 1296 made ones, up
/// to 8.7 cents at up to 2.6 Hz).
const DRIFT_CENTS: f64 = 10.0;
const DRIFT_HZ: f64 = 3.0;

/// From one turn to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Half {
    /// When its middle is, in seconds.
    pub(super) time: f64,
    /// In cents.
    pub(super) width: f64,
    /// How long it is.
    pub(super) secs: f64,
    /// Mean pitch of its two turns, in cents.
    pub(super) middle: f64,
}

impl Half {
    pub(super) fn start(&self) -> f64 {
        self.time - 0.5 * self.secs
    }

    pub(super) fn end(&self) -> f64 {
        self.time + 0.5 * self.secs
    }

    fn rate(&self) -> f64 {
        0.5 / self.secs
    }
}

/// A turn: when, and how high.
type Turn = Option<(f64, f64)>;

/// The half oscillations between two times.
pub(super) fn halves(heard: &Heard, from: Secs, to: Secs) -> Vec<Half> {
    let overlaps = |note: &&Note| note.start.get() < to.get() && note.end.get() > from.get();
    let mut halves = Vec::new();
    for note in heard.notes().iter().filter(overlaps) {
        let Some(vibrato) = &note.vibrato else { continue };
        let widened = vibrato.others.get(Quantity::Widened).map_or(0.0, |pct| pct.value);
        let mut turns = turns(heard, &vibrato.oscillations);
        go_on(heard, &mut turns, from.get(), -1.0);
        go_on(heard, &mut turns, to.get(), 1.0);
        halves.extend(turns.windows(2).filter_map(|two| {
            let (start, end) = (two[0]?, two[1]?);
            let secs = end.0 - start.0;
            let width = (end.1 - start.1).abs() * (1.0 + WIDENED_SHARE * widened / 100.0);
            let (time, middle) = (0.5 * (start.0 + end.0), 0.5 * (start.1 + end.1));
            (secs > 0.0).then_some(Half { time, width, secs, middle })
        }));
    }
    halves.retain(|half| half.start() >= from.get() - 0.02 && half.end() <= to.get() + 0.02);
    without_spikes(halves)
}

/// The same without an attack or a release that was taken for half an oscillation.
fn without_spikes(mut halves: Vec<Half>) -> Vec<Half> {
    let is_spike = |end: &Half, inner: &Half| end.width > SPIKE * inner.width;
    if halves.len() > 2 && is_spike(&halves[halves.len() - 1], &halves[halves.len() - 2]) {
        halves.pop();
    }
    if halves.len() > 2 && is_spike(&halves[0], &halves[1]) {
        halves.remove(0);
    }
    halves
}

/// Crests and troughs between the troughs that the ear told.
fn turns(heard: &Heard, oscillations: &[Oscillation]) -> Vec<Turn> {
    let mut turns = Vec::with_capacity(2 * oscillations.len() + 1);
    for (i, one) in oscillations.iter().enumerate() {
        let (start, period) = (one.start.get(), one.period.get());
        let joined = i > 0
            && (start - oscillations[i - 1].start.get() - oscillations[i - 1].period.get()).abs()
                < 1e-3;
        if !joined {
            turns.extend((i > 0).then_some(None));
            turns.push(turn(heard, start, TROUGH_SHARE * period, -1.0));
        }
        turns.push(turn(heard, start + 0.5 * period, CREST_SHARE * period, 1.0));
        turns.push(turn(heard, start + period, TROUGH_SHARE * period, -1.0));
    }
    turns
}

/// Goes on from the last turn (from the first, for a `way` of −1) to the end of the note: the ear counts whole oscillations
/// only, from trough to trough.
fn go_on(heard: &Heard, turns: &mut Vec<Turn>, end: f64, way: f64) {
    let from = |turns: &[Turn], back: usize| -> Turn {
        let i = if way > 0.0 { turns.len().checked_sub(back)? } else { back - 1 };
        turns.get(i).copied().flatten()
    };
    while let (Some(last), Some(before)) = (from(turns, 1), from(turns, 2)) {
        let half = (last.0 - before.0).abs();
        let sign = if last.1 > before.1 { -1.0 } else { 1.0 };
        let next = turn(heard, last.0 + way * half, 2.0 * TROUGH_SHARE * half, sign);
        let fits = |next: &(f64, f64)| {
            let long = MORE_HALF.contains(&((next.0 - last.0) * way / half));
            let wide = sign * (next.1 - last.1) >= MORE_WIDTH * (last.1 - before.1).abs();
            long && wide && way * (end - next.0) >= MORE_EDGE_SECS
        };
        let Some(next) = next.filter(fits) else { break };
        turns.insert(if way > 0.0 { turns.len() } else { 0 }, Some(next));
    }
}

/// The turn nearest to a time: the highest frame (the lowest, for a sign of −1), and the top of a parabola around it.
fn turn(heard: &Heard, at: f64, within: f64, sign: f64) -> Turn {
    let frames = frame_at(Secs(at - within))..frame_at(Secs(at + within)) + 1;
    let mut points = frames.clone().filter_map(|frame| Some((frame, heard.cents(frame)?)));
    if heard.cents_in(frames).count() < LEAST_FRAMES {
        return None;
    }
    let first = points.next()?;
    let (top, _) =
        points.fold(first, |best, one| if sign * one.1 > sign * best.1 { one } else { best });
    let highest = heard.cents(top)?;
    let mut parabola = LeastSquares::<3>::pulled([0.0; 3]);
    for frame in top.saturating_sub(PARABOLA)..=top + PARABOLA {
        if let Some(cents) = heard.cents(frame) {
            let x = frame as f64 - top as f64;
            parabola.add(&[1.0, x, x * x], cents - highest);
        }
    }
    let time = time_of(top as f64).get();
    let told = (parabola.count() >= LEAST_FRAMES).then(|| parabola.solved()).flatten()?;
    let [height, slope, bend] = told.values;
    if sign * bend >= 0.0 {
        return None;
    }
    let most = MOST_BESIDE_SECS / FRAME.get();
    let x = (-0.5 * slope / bend).clamp(-most, most);
    Some((time + x * FRAME.get(), highest + height + x * (slope + x * bend)))
}

/// How width and rate ran through a note: two lines that meet, or one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Contour {
    /// Width at the start, at the peak and at the end, in cents.
    pub(super) width: [Measure<f64>; 3],
    /// Rate at the same places, in Hz.
    pub(super) rate: [Measure<f64>; 3],
    /// When the peak is, if there is one within the note, in seconds.
    pub(super) peak: Option<Measure<f64>>,
    /// Mean of the width while it moved, and of the rate.
    pub(super) mean_width: Measure<f64>,
    pub(super) mean_rate: Measure<f64>,
}

/// The three values at the ends and at `place`, of lines through the points.
fn lines(points: &[(f64, f64)], (a, place, b): (f64, f64, f64)) -> Option<Solved<3>> {
    let mut sum = LeastSquares::<3>::pulled([1e-3; 3]);
    for &(x, y) in points {
        let up = ((x - a) / (place - a)).clamp(0.0, 1.0);
        let down = ((x - place) / (b - place)).clamp(0.0, 1.0);
        sum.add(&[1.0 - up, up - down, down], y);
    }
    sum.solved()
}

/// Mean of some values, whose scatter tells its standard error.
fn mean(values: impl Iterator<Item = f64> + Clone, least_variance: f64) -> Option<Measure<f64>> {
    let count = values.clone().count() as f64;
    let value = values.clone().sum::<f64>() / count;
    let variance = values.map(|one| (one - value).powi(2)).sum::<f64>() / (count - 1.0).max(1.0);
    let se = SHARED * (variance.max(least_variance) / count).sqrt();
    (count > 0.0).then_some(Measure { value, se: Some(se) })
}

/// The contour of a note from `a` to `b`, in seconds; `None` where no vibrato was played.
pub(super) fn contour(halves: &[Half], a: f64, b: f64) -> Option<Contour> {
    let mean_width = mean(halves.iter().map(|half| half.width), LEAST_VARIANCE)?;
    let mean_rate = mean(halves.iter().map(Half::rate), 1e-4)?;
    let sure = mean_width.se.is_some_and(|se| mean_width.value >= LEAST_ERRORS * se);
    let drifts = mean_rate.value < DRIFT_HZ && mean_width.value < DRIFT_CENTS;
    if halves.len() < 3 || mean_width.value < LEAST_CENTS || !sure || drifts {
        return None;
    }
    let widths: Vec<(f64, f64)> = halves.iter().map(|half| (half.time, half.width)).collect();
    let rates: Vec<(f64, f64)> = halves.iter().map(|half| (half.time, half.rate())).collect();
    let bend = bend(&widths, a, b);
    let place = bend.map_or(0.5 * (a + b), |bend| bend.value);
    // Of a single line the value in the middle lies on it.
    let of = |points: &[(f64, f64)], least: f64| -> Option<[Measure<f64>; 3]> {
        let line = if bend.is_some() { None } else { straight(points, a, b) };
        let solved = line.or_else(|| lines(points, (a, place, b)))?;
        let free = points.len().saturating_sub(3).max(1) as f64;
        let variance = (solved.left / free).max(least);
        Some(std::array::from_fn(|i| Measure {
            value: solved.values[i],
            se: Some(SHARED * (variance * solved.inverse[i]).sqrt()),
        }))
    };
    Some(Contour {
        width: of(&widths, LEAST_VARIANCE)?,
        rate: of(&rates, 1e-4)?,
        peak: bend,
        mean_width,
        mean_rate,
    })
}

/// One line from end to end, as three values.
fn straight(points: &[(f64, f64)], a: f64, b: f64) -> Option<Solved<3>> {
    let mut sum = LeastSquares::<2>::pulled([1e-3; 2]);
    for &(x, y) in points {
        let share = (x - a) / (b - a);
        sum.add(&[1.0 - share, share], y);
    }
    let Solved { values: [start, end], inverse: [of_start, of_end], left } = sum.solved()?;
    let middle = 1.0 / points.len() as f64;
    Some(Solved {
        values: [start, 0.5 * (start + end), end],
        inverse: [of_start, middle, of_end],
        left,
    })
}

/// Where the widths bend, in seconds; `None` where one line does as well.
///
/// The doubt is the standard deviation of where the bend may be: a place is as likely as the squares make it that it leaves
/// over (Student's distribution, for their variance is unknown, too). An uneven hand makes both halves of a cycle alike, so
/// that only cycles count.
fn bend(points: &[(f64, f64)], a: f64, b: f64) -> Option<Measure<f64>> {
    if points.len() < LEAST_BENT {
        return None;
    }
    let edge = EDGE_SHARE * (b - a);
    let steps = ((b - a - 2.0 * edge) / STEP_SECS) as usize;
    let place = |i: usize| a + edge + i as f64 * STEP_SECS;
    let left = |place: f64| lines(points, (a, place, b)).map(|solved| solved.left);
    let all: Vec<f64> = (0..=steps).map(|i| left(place(i)).unwrap_or(f64::INFINITY)).collect();
    let best = (0..all.len()).min_by(|i, k| all[*i].total_cmp(&all[*k]))?;
    let variance = (all[best] / points.len().saturating_sub(4).max(1) as f64).max(LEAST_VARIANCE);
    let f = (straight(points, a, b)?.left - all[best]) / 2.0 / variance;
    let free = (0.5 * points.len() as f64 - BENT_UNKNOWNS).max(1.0);
    let squares = (0.5 * all[best]).max(free * LEAST_VARIANCE);
    let likely = |left: f64| (1.0 + 0.5 * (left - all[best]) / squares).powf(-0.5 * (free + 1.0));
    let (mut sum, mut spread) = (0.0, 0.0);
    for (i, left) in all.iter().enumerate() {
        let off = place(i) - place(best);
        (sum, spread) = (sum + likely(*left), spread + likely(*left) * off * off);
    }
    let se = CYCLES_SHARED * (spread / sum).sqrt();
    let told = Measure { value: place(best), se: Some(se) };
    (f >= LEAST_F).then_some(told)
}

/// Width (in cents) and rate (in Hz) along a note, smoothed: what is drawn.
pub(super) fn course(halves: &[Half]) -> Vec<(f64, f64, f64)> {
    const REACH_CYCLES: f64 = 1.5;
    const POINT_SECS: f64 = 0.05;
    let Some(half) = median(halves.iter().map(|half| half.secs).collect()) else {
        return Vec::new();
    };
    let (first, last) = (halves[0].start(), halves[halves.len() - 1].end());
    let count = ((last - first) / POINT_SECS) as usize;
    let at = |time: f64, value: &dyn Fn(&Half) -> f64| {
        let (mut sum, mut weights) = (0.0, 0.0);
        for half_oscillation in halves {
            let far = (half_oscillation.time - time) / (2.0 * half * REACH_CYCLES);
            let weight = (1.0 - far * far).max(0.0).powi(2);
            (sum, weights) = (sum + weight * value(half_oscillation), weights + weight);
        }
        (weights > 0.0).then(|| sum / weights)
    };
    let times = (0..=count).map(|i| first + i as f64 * POINT_SECS);
    times
        .filter_map(|time| Some((time, at(time, &|half| half.width)?, at(time, &Half::rate)?)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::told::tests::chance;

    /// Half oscillations of a hand whose cycles are uneven by this share, and how far the told bend lies from the true one,
    /// in standard errors.
    fn off(uneven: f64, draws: &mut impl Iterator<Item = f64>) -> Option<f64> {
        let mut normal = || draws.next().expect("endless");
        let secs = (2.0 + 0.4 * normal()).clamp(1.2, 3.0);
        let rate_hz = (5.5 + 0.4 * normal()).clamp(4.5, 6.5);
        let peak = secs * (0.5 + 0.12 * normal()).clamp(0.25, 0.75);
        let (narrow, wide) = (20.0, 70.0);
        let cycles = (secs * rate_hz) as usize;
        let mut points = Vec::new();
        for cycle in 0..cycles {
            let stretched = 1.0 + uneven * normal();
            for half in 0..2 {
                let time = (cycle as f64 + 0.25 + 0.5 * f64::from(half)) / rate_hz;
                let course = if time < peak { time / peak } else { (secs - time) / (secs - peak) };
                let width = narrow + course * (wide - narrow);
                points.push((time, width * stretched + 0.7 * normal()));
            }
        }
        let told = bend(&points, 0.0, secs)?;
        Some((told.value - peak).abs() / told.se.expect("a doubt"))
    }

    #[test]
    fn a_release_is_no_half_oscillation_and_one_that_grows_is() {
        let of = |widths: &[f64]| -> Vec<f64> {
            let half = |(i, &width): (usize, &f64)| {
                let time = 0.1 * i as f64;
                Half { time, width, secs: 0.1, middle: 0.0 }
            };
            let halves = widths.iter().enumerate().map(half).collect();
            without_spikes(halves).iter().map(|half| half.width).collect()
        };
        assert_eq!(of(&[30.0, 31.0, 29.0, 30.0, 80.0]), [30.0, 31.0, 29.0, 30.0]);
        assert_eq!(of(&[70.0, 30.0, 31.0, 29.0]), [30.0, 31.0, 29.0]);
        let grown = [5.0, 12.0, 20.0, 31.0, 45.0, 60.0];
        assert_eq!(of(&grown), grown);
    }

    #[test]
    fn a_slow_and_narrow_drift_is_no_vibrato_and_a_slow_wide_swing_is_one() {
        let told = |width: f64, rate_hz: f64| {
            let secs = 0.5 / rate_hz;
            let half = |i: usize| {
                let uneven = if i.is_multiple_of(2) { 0.95 } else { 1.05 };
                Half { time: secs * i as f64, width: uneven * width, secs, middle: 0.0 }
            };
            let halves: Vec<Half> = (0..9).map(half).collect();
            contour(&halves, 0.0, 9.0 * secs).map(|contour| contour.mean_width.value.round())
        };
        assert_eq!(told(8.0, 2.0), None);
        assert_eq!(told(24.0, 2.0), Some(24.0));
        assert_eq!(told(8.0, 5.0), Some(8.0));
    }

    #[test]
    fn the_peak_of_an_uneven_hand_lies_inside_its_doubt_as_often_as_that_says() {
        let mut draws = chance();
        for uneven in [0.04, 0.08] {
            let all: Vec<f64> = (0..400).filter_map(|_| off(uneven, &mut draws)).collect();
            let within = |most: f64| {
                all.iter().filter(|off| **off <= most).count() as f64 / all.len() as f64
            };
            assert!(all.len() > 380, "{}", all.len());
            assert!((0.68..0.85).contains(&within(1.0)), "uneven by {uneven}: {}", within(1.0));
            assert!((0.93..0.995).contains(&within(2.0)), "uneven by {uneven}: {}", within(2.0));
        }
    }
}
