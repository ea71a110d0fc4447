//! Sine fits to a stretch of pitch: what oscillates in the last cycles, how fast and how wide.

use crate::least_squares::{LeastSquares, solve_normal};
use pitch::HOP_SECS;
use std::f64::consts::TAU;

/// Slowest and fastest oscillation looked for, in Hz.
pub(crate) const SLOWEST_HZ: f64 = 0.5;
/// See [`SLOWEST_HZ`].
pub(crate) const FASTEST_HZ: f64 = 10.0;
/// Step of the scan over rates.
const SCAN_STEP: f64 = 1.06;
/// Cycles a fit needs at least.
pub(crate) const LEAST_CYCLES: f64 = 1.45;
/// Cycles a fit looks back at most; over these it can tell a trend from the oscillation.
const MOST_CYCLES: f64 = 2.0;
/// The fit over more cycles is taken unless it leaves this much more, as a factor and in cents.
const LONGER_LEFT: f64 = 1.5;
const LONGER_CENTS: f64 = 0.3;
/// Points in one fit, at most.
const POINTS: usize = 64;
/// Neighbouring frames share samples: so many frames count as one independent value.
const FRAMES_PER_VALUE: f64 = 4.0;

/// The sine that fits best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sine {
    /// Oscillations per second, and its standard error.
    pub rate_hz: f64,
    /// Standard error of the rate.
    pub rate_se: f64,
    /// Peak to peak, in cents.
    pub width: f64,
    /// Standard error of the width.
    pub width_se: f64,
    /// Mean over the fit, in cents.
    pub centre: f64,
    /// Standard error of the centre.
    pub centre_se: f64,
    /// Share of the variance that the sine explains, 0 to 1.
    pub share: f64,
    /// Root mean square of what is left, in cents.
    left: f64,
    /// Cosine and sine part, in cents, with time counted from the middle of the fit.
    pub parts: (f64, f64),
    /// Frames from the middle of the fit to its newest frame.
    pub half_frames: f64,
}

impl Sine {
    /// The pitch in cents that the sine foretells `frames` after its newest frame.
    pub(crate) fn foretold(&self, frames: f64) -> f64 {
        let (sin, cos) = (TAU * self.rate_hz * (self.half_frames + frames) * HOP_SECS).sin_cos();
        self.centre + self.parts.0 * cos + self.parts.1 * sin
    }
}

/// Looks for the rate that explains the newest frames best.
pub(crate) struct Scanner {
    bases: Vec<Basis>,
}

/// One rate of the scan: a sine and a cosine over one and a half cycles, and the inverse of their
/// normal equations with a constant.
struct Basis {
    rate_hz: f64,
    stride: usize,
    cos: Vec<f64>,
    sin: Vec<f64>,
    inverse: [[f64; 3]; 3],
}

impl Scanner {
    /// A scan over all rates.
    pub(crate) fn new() -> Self {
        let count = ((FASTEST_HZ / SLOWEST_HZ).ln() / SCAN_STEP.ln()).ceil() as i32;
        let bases = (0..=count)
            .rev()
            .map(|i| Basis::new((SLOWEST_HZ * SCAN_STEP.powi(i)).min(FASTEST_HZ * 1.05)));
        Self { bases: bases.collect() }
    }

    /// The rate that explains most of the newest of `cents` (one value a frame), as far as there
    /// are frames for [`LEAST_CYCLES`] of it, with the share explained.
    pub(crate) fn scan(&self, cents: &[f64]) -> Option<(f64, f64)> {
        let mut best: Option<(f64, f64)> = None;
        for basis in &self.bases {
            let Some(share) = basis.share(cents) else {
                break;
            };
            // A slower rate must explain clearly more: its longer stretch is easier to bend to.
            if best.is_none_or(|(_, most)| 1.0 - share < 0.95 * (1.0 - most)) {
                best = Some((basis.rate_hz, share));
            }
        }
        best
    }
}

impl Basis {
    fn new(rate_hz: f64) -> Self {
        let frames = (LEAST_CYCLES / rate_hz / HOP_SECS).ceil() as usize;
        let stride = frames.div_ceil(POINTS);
        let count = frames / stride;
        let angle = |i: usize| TAU * rate_hz * (i * stride) as f64 * HOP_SECS;
        let cos: Vec<f64> = (0..count).map(|i| angle(i).cos()).collect();
        let sin: Vec<f64> = (0..count).map(|i| angle(i).sin()).collect();
        let mut normal = [[0.0; 3]; 3];
        for (&c, &s) in cos.iter().zip(&sin) {
            let row = [1.0, c, s];
            for i in 0..3 {
                for j in 0..3 {
                    normal[i][j] += row[i] * row[j];
                }
            }
        }
        Self { rate_hz, stride, cos, sin, inverse: inverse(normal) }
    }

    /// Share of the variance of the newest cents that this rate explains.
    fn share(&self, cents: &[f64]) -> Option<f64> {
        let last = cents.len().checked_sub(1)?;
        let span = (self.cos.len() - 1) * self.stride;
        if span > last {
            return None;
        }
        let origin = cents[last];
        let (mut sums, mut squares) = ([0.0; 3], 0.0);
        for (i, (c, s)) in self.cos.iter().zip(&self.sin).enumerate() {
            let y = cents[last - i * self.stride] - origin;
            sums[0] += y;
            sums[1] += y * c;
            sums[2] += y * s;
            squares += y * y;
        }
        let total = squares - sums[0] * sums[0] / self.cos.len() as f64;
        let explained: f64 = (0..3)
            .map(|i| sums[i] * (0..3).map(|j| self.inverse[i][j] * sums[j]).sum::<f64>())
            .sum();
        let left = (squares - explained).max(0.0);
        Some(if total > 1e-9 { 1.0 - left / total } else { 0.0 })
    }
}

/// Fits a sine of nearly `rate_hz` to the newest of `cents`, of which `heard` says which frames
/// are true; the rest is left out. `None` where there is too little or no sine can be told.
///
/// Least squares over the rate by parabolic steps, over the rest in closed form (variable
/// projection: G. Golub and V. Pereyra, Inverse Problems 19 (2003), R1).
pub(crate) fn fit_sine(cents: &[f64], heard: &[bool], rate_hz: f64) -> Option<Sine> {
    let short = fit_cycles(cents, heard, rate_hz, LEAST_CYCLES)?;
    let long = fit_cycles(cents, heard, short.rate_hz, MOST_CYCLES);
    // The longer stretch is surer, unless it reaches back before the vibrato.
    long.filter(|long| long.left < LONGER_LEFT * short.left + LONGER_CENTS).or(Some(short))
}

/// The fit over the newest `cycles` of a sine of nearly `rate_hz`.
fn fit_cycles(cents: &[f64], heard: &[bool], rate_hz: f64, cycles: f64) -> Option<Sine> {
    let mut rate = rate_hz;
    let mut result = None;
    // The rate decides the stretch, so the stretch is taken anew once the rate has settled.
    for _ in 0..2 {
        let frames = (cycles / rate / HOP_SECS).round() as usize;
        if frames > cents.len() {
            return None;
        }
        let points = Points::new(&cents[cents.len() - frames..], &heard[heard.len() - frames..]);
        if points.count < 8 {
            return None;
        }
        let trend = cycles >= MOST_CYCLES;
        let mut step = 0.04 * rate;
        let mut here = points.solve(rate, trend)?;
        let mut bend = 0.0;
        for _ in 0..4 {
            let below = points.solve(rate - step, trend)?;
            let above = points.solve(rate + step, trend)?;
            let curvature = below.left + above.left - 2.0 * here.left;
            let slope = 0.5 * (above.left - below.left);
            bend = curvature / (step * step);
            let shift = if curvature > 0.0 {
                (-slope / curvature).clamp(-2.0, 2.0)
            } else {
                -slope.signum()
            };
            rate = (rate + shift * step).clamp(0.6 * SLOWEST_HZ, 1.2 * FASTEST_HZ);
            here = points.solve(rate, trend)?;
            step *= if shift.abs() > 1.0 { 1.0 } else { 0.4 };
        }
        let count = points.count as f64;
        let values = (frames as f64 / FRAMES_PER_VALUE).min(count).max(6.0);
        let variance = here.left / (count - 4.0).max(1.0);
        let per_value = variance * count / values;
        result = Some(Sine {
            rate_hz: rate,
            rate_se: if bend > 0.0 { (per_value / (0.5 * bend)).sqrt() } else { rate },
            width: 2.0 * here.parts.0.hypot(here.parts.1),
            width_se: 2.0 * (2.0 * variance / values).sqrt(),
            centre: here.centre + points.origin,
            centre_se: (variance / values).sqrt(),
            share: if points.squares > 1e-12 { 1.0 - here.left / points.squares } else { 0.0 },
            left: (here.left / count).sqrt(),
            parts: here.parts,
            half_frames: 0.5 * (frames - 1) as f64,
        });
    }
    result.filter(|sine| sine.rate_hz > 0.9 * SLOWEST_HZ && sine.rate_hz < 1.1 * FASTEST_HZ)
}

/// The points of one fit: times around the middle in seconds, cents around their mean.
struct Points {
    secs: [f64; POINTS],
    cents: [f64; POINTS],
    count: usize,
    origin: f64,
    squares: f64,
    even: Option<f64>,
}

/// What one rate leaves over.
struct Solved {
    left: f64,
    parts: (f64, f64),
    centre: f64,
}

impl Points {
    fn new(cents: &[f64], heard: &[bool]) -> Self {
        let stride = cents.len().div_ceil(POINTS);
        let middle = 0.5 * (cents.len() - 1) as f64;
        let mut points = Self {
            secs: [0.0; POINTS],
            cents: [0.0; POINTS],
            count: 0,
            origin: 0.0,
            squares: 0.0,
            even: Some(stride as f64 * HOP_SECS),
        };
        for i in (0..cents.len()).rev().step_by(stride) {
            if heard[i] {
                points.secs[points.count] = (i as f64 - middle) * HOP_SECS;
                points.cents[points.count] = cents[i];
                points.count += 1;
            } else {
                points.even = None;
            }
        }
        let count = points.count.max(1) as f64;
        points.origin = points.cents[..points.count].iter().sum::<f64>() / count;
        for y in &mut points.cents[..points.count] {
            *y -= points.origin;
            points.squares += *y * *y;
        }
        points
    }

    /// Least squares of constant, cosine, sine and, if wanted, a line.
    fn solve(&self, rate: f64, trend: bool) -> Option<Solved> {
        let turn = TAU * rate;
        let (mut sin, mut cos) = (turn * self.secs[0]).sin_cos();
        // Times fall by an even step unless frames are missing: then one rotation serves for all.
        let (step_sin, step_cos) = (turn * self.even.unwrap_or(0.0)).sin_cos();
        let mut fit = LeastSquares::new();
        for (i, (&t, &y)) in self.secs.iter().zip(&self.cents).take(self.count).enumerate() {
            if i > 0 {
                (sin, cos) = if self.even.is_some() {
                    (sin * step_cos - cos * step_sin, cos * step_cos + sin * step_sin)
                } else {
                    (turn * t).sin_cos()
                };
            }
            fit.add(&[1.0, cos, sin, t], y);
        }
        let (found, explained) = fit.solve(if trend { 4 } else { 3 })?;
        Some(Solved {
            left: (self.squares - explained).max(0.0),
            parts: (found[1], found[2]),
            centre: found[0],
        })
    }
}

/// Inverse of a symmetric matrix, column by column.
fn inverse(normal: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    let mut out = [[0.0; 3]; 3];
    for j in 0..3 {
        let mut unit = [0.0; 3];
        unit[j] = 1.0;
        let column = solve_normal(normal, unit, 3).unwrap_or([0.0; 3]);
        for i in 0..3 {
            out[i][j] = column[i];
        }
    }
    out
}

/// Rates in which a straight note is looked for a wobble, and the step from one to the next.
const WOBBLE_HZ: (f64, f64) = (3.0, 10.0);
const WOBBLE_STEP_HZ: f64 = 0.25;

/// Width, in cents peak to peak, of the strongest peak among sines of 3 to 10 Hz in `cents` once a
/// parabola is taken out: how far a stretch is from straight. Wants about a second; `None` below
/// 0.4 s.
pub(crate) fn wobble(cents: &[f64], heard: &[bool]) -> Option<f64> {
    if (cents.len() as f64) * HOP_SECS < 0.4 {
        return None;
    }
    let left = without_parabola(cents, heard)?;
    let width_at = |rate: f64| {
        let (step_sin, step_cos) = (TAU * rate * HOP_SECS).sin_cos();
        let (mut sin, mut cos) = (0.0, 1.0);
        let mut fit = LeastSquares::new();
        for (i, heard) in heard.iter().enumerate() {
            if *heard && i % 2 == 0 {
                fit.add(&[1.0, cos, sin], left(i));
            }
            (sin, cos) = (sin * step_cos + cos * step_sin, cos * step_cos - sin * step_sin);
        }
        fit.solve(3).map_or(0.0, |(found, _)| 2.0 * found[1].hypot(found[2]))
    };
    // A slow wander reaches into this range from below; a vibrato has its peak within it.
    let (mut most, mut before, mut here) = (0.0, f64::INFINITY, width_at(WOBBLE_HZ.0));
    let mut rate = WOBBLE_HZ.0;
    while rate < WOBBLE_HZ.1 {
        rate += WOBBLE_STEP_HZ;
        let after = width_at(rate);
        if here >= before && here > after && here > most {
            most = here;
        }
        (before, here) = (here, after);
    }
    Some(most)
}

/// What each frame leaves of the parabola through all that are heard; `None` where none can be laid.
fn without_parabola(cents: &[f64], heard: &[bool]) -> Option<impl Fn(usize) -> f64> {
    let count = cents.len() as f64;
    let at = move |i: usize| (2.0 * i as f64 + 1.0) / count - 1.0;
    let frames = || (0..cents.len()).filter(|i| heard[*i]);
    let origin = cents[frames().next()?];
    let mut fit = LeastSquares::new();
    for i in frames() {
        let x = at(i);
        fit.add(&[1.0, x, x * x], cents[i] - origin);
    }
    let (curve, _) = fit.solve(3)?;
    Some(move |i: usize| {
        let x = at(i);
        cents[i] - origin - curve[0] - curve[1] * x - curve[2] * x * x
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(rate: f64, half_width: f64, frames: usize) -> Vec<f64> {
        (0..frames)
            .map(|i| 7.0 + half_width * (TAU * rate * i as f64 * HOP_SECS + 0.4).sin())
            .collect()
    }

    #[test]
    fn a_sine_of_any_rate_is_found_as_it_is() {
        let scanner = Scanner::new();
        for rate in [0.5, 1.0, 2.3, 4.0, 6.1, 8.0, 10.0] {
            let frames = (2.0 / rate / HOP_SECS) as usize;
            let cents = sine(rate, 15.0, frames);
            let heard = vec![true; frames];
            let (near, _) = scanner.scan(&cents).expect("two cycles are enough");
            let found = fit_sine(&cents, &heard, near).expect("a sine can be fitted");
            assert!((found.rate_hz / rate - 1.0).abs() < 0.002, "{rate} Hz read as {found:?}");
            assert!((found.width - 30.0).abs() < 0.1, "30 cents at {rate} Hz read as {found:?}");
        }
    }

    #[test]
    fn missing_frames_do_not_bend_the_fit() {
        let mut cents = sine(6.0, 20.0, 66);
        let mut heard = vec![true; 66];
        for i in 20..26 {
            (cents[i], heard[i]) = (cents[19], false);
        }
        let found = fit_sine(&cents, &heard, 5.8).expect("a sine can be fitted");
        assert!(
            (found.width - 40.0).abs() < 0.1 && (found.rate_hz - 6.0).abs() < 0.02,
            "{found:?}"
        );
    }

    #[test]
    fn a_parabola_is_no_wobble() {
        let cents: Vec<f64> = (0..200).map(|i| 1e-3 * f64::from(i * i)).collect();
        let read = wobble(&cents, &[true; 200]).expect("long enough");
        assert!(read < 0.01, "a parabola read as {read} cents");
    }
}
