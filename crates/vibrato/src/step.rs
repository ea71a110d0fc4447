//! Steps of the pitch under a vibrato: where a finger changes while the motion goes on.

use crate::least_squares::LeastSquares;
use pitch::HOP_SECS;
use std::f64::consts::TAU;

/// Half the stretch that is looked at, in cycles, and its bounds in seconds.
const HALF_CYCLES: f64 = 0.45;
const HALF_SECS: (f64, f64) = (0.065, 0.3);
/// A shorter stretch, by this factor, must show the step as well.
const SHORTER: f64 = 0.6;
/// Points on one side, at most.
const POINTS: usize = 16;
/// The motion may be so much slower or quicker than thought.
const TRIED_SHARES: [f64; 5] = [0.6, 0.8, 1.0, 1.25, 1.6];
/// Rates tried while none is known, in Hz.
const TRIED_HZ: [f64; 5] = [1.0, 2.0, 3.5, 5.5, 8.0];
/// Noise of a frame that is always there, in cents: no fit is better than this.
const FLOOR_CENTS: f64 = 1.5;

/// A step, if there is one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Step {
    /// How far the pitch steps up, in cents.
    pub cents: f64,
    /// How many times better the pitch is explained with the step than without.
    pub gain: f64,
    /// The motion at the step: constant, cosine and sine part in cents, and its rate in Hz; a rate of 0
    /// makes the cosine part a slope per 0.1 s.
    motion: [f64; 4],
}

impl Step {
    /// The pitch without the step, so many frames after it.
    pub(crate) fn flat(&self, frames: f64) -> f64 {
        let secs = frames * HOP_SECS;
        let [constant, cos, sin, rate_hz] = self.motion;
        if rate_hz > 0.0 {
            let (s, c) = (TAU * rate_hz * secs).sin_cos();
            constant + cos * c + sin * s
        } else {
            constant + cos * 10.0 * secs
        }
    }
}

/// Frames on either side that are looked at for a motion of `rate_hz`.
pub(crate) fn half_frames(rate_hz: Option<f64>) -> usize {
    let secs = HALF_CYCLES / rate_hz.unwrap_or(5.0);
    (secs.clamp(HALF_SECS.0, HALF_SECS.1) / HOP_SECS).round() as usize
}

/// The step between the frames before `at` and those from `at` on, leaving out `guard` frames on
/// either side, in which the finger is on its way. `None` where too few frames are heard.
///
/// Least squares of a constant, a sine of about `rate_hz` and a step at `at`, against the same
/// without the step; the best of some rates counts for each.
pub(crate) fn step_at(
    cents: &[f64],
    heard: &[bool],
    at: usize,
    guard: usize,
    rate_hz: Option<f64>,
) -> Option<Step> {
    let half = half_frames(rate_hz);
    let long = step_within(cents, heard, at, guard, rate_hz, half)?;
    let short = (SHORTER * half as f64) as usize;
    let short = step_within(cents, heard, at, guard, rate_hz, short)?;
    Some(Step {
        cents: 0.5 * (long.cents + short.cents),
        gain: (long.gain * short.gain).sqrt(),
        motion: long.motion,
    })
}

/// The same over `half` frames on either side.
fn step_within(
    cents: &[f64],
    heard: &[bool],
    at: usize,
    guard: usize,
    rate_hz: Option<f64>,
    half: usize,
) -> Option<Step> {
    let (first, last) = (at.checked_sub(half + guard)?, at + guard + half);
    if last > cents.len() {
        return None;
    }
    let stride = half.div_ceil(POINTS).max(1);
    let before = (first..at - guard).rev().step_by(stride);
    let after = (at + guard..last).step_by(stride);
    let mut points = [(0.0, 0.0, 0.0); 4 * POINTS];
    let mut count = [0, 0];
    for (side, i) in before.map(|i| (0, i)).chain(after.map(|i| (1, i))) {
        if heard[i] {
            points[count[0] + count[1]] =
                ((i as f64 - at as f64) * HOP_SECS, cents[i], side as f64);
            count[side] += 1;
        }
    }
    if count.iter().any(|count| 2 * count * stride < half) {
        return None;
    }
    let points = &points[..count[0] + count[1]];
    let (mut plain, mut stepped) = (f64::INFINITY, (f64::INFINITY, 0.0, [0.0; 4]));
    let mut tried = [0.0; 6];
    match rate_hz {
        Some(rate) => tried[1..].copy_from_slice(&TRIED_SHARES.map(|factor| factor * rate)),
        None => tried[1..].copy_from_slice(&TRIED_HZ),
    }
    for rate in tried {
        if let Some((left, ..)) = fit(points, rate, false) {
            plain = plain.min(left);
        }
        if let Some(found) = fit(points, rate, true)
            && found.0 < stepped.0
        {
            stepped = found;
        }
    }
    let floor = FLOOR_CENTS * FLOOR_CENTS * points.len() as f64;
    Some(Step { cents: stepped.1, gain: (plain + floor) / (stepped.0 + floor), motion: stepped.2 })
}

/// Sum of squares left by a constant and a sine of `rate_hz` (a line, at 0 Hz), with a step if wanted,
/// that step, and the motion as in [`Step`].
fn fit(points: &[(f64, f64, f64)], rate_hz: f64, step: bool) -> Option<(f64, f64, [f64; 4])> {
    let origin = points[0].1;
    let mut fit = LeastSquares::new();
    let mut squares = 0.0;
    let size = if rate_hz > 0.0 { 3 } else { 2 };
    for &(secs, cents, side) in points {
        let y = cents - origin;
        let row = if rate_hz > 0.0 {
            let (sin, cos) = (TAU * rate_hz * secs).sin_cos();
            [1.0, cos, sin, side]
        } else {
            [1.0, 10.0 * secs, side, 0.0]
        };
        squares += y * y;
        fit.add(&row, y);
    }
    let size = if step { size + 1 } else { size };
    let (found, explained) = fit.solve(size)?;
    let motion = if rate_hz > 0.0 {
        [origin + found[0], found[1], found[2], rate_hz]
    } else {
        [origin + found[0], found[1], 0.0, 0.0]
    };
    let size = if step { found[size - 1] } else { 0.0 };
    Some(((squares - explained).max(0.0), size, motion))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Below this a step is not taken for a change of finger.
    const LEAST_GAIN: f64 = 3.5;

    #[test]
    fn a_semitone_is_told_under_a_wide_vibrato_of_any_rate_and_phase() {
        for rate in [0.5, 1.0, 2.0, 4.0, 6.0, 8.0] {
            for eighth in 0..8 {
                let cents: Vec<f64> = (0..200)
                    .map(|i| {
                        let secs = f64::from(i) * HOP_SECS;
                        let turn = TAU * (rate * secs + f64::from(eighth) / 8.0);
                        60.0 * turn.sin() + if i >= 100 { 100.0 } else { 0.0 }
                    })
                    .collect();
                let heard = [true; 200];
                let at = |i| step_at(&cents, &heard, i, 4, Some(1.1 * rate)).expect("enough");
                let step = at(100);
                assert!(
                    (step.cents - 100.0).abs() < 45.0 && step.gain > LEAST_GAIN,
                    "{rate}: {step:?}"
                );
                let away = at(130);
                assert!(away.cents.abs() < 40.0 || away.gain < 3.0, "{rate}: {away:?}");
            }
        }
    }
}
