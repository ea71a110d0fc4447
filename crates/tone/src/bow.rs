//! The bow on the string: harmonics that follow the phase exactly, and noise.

use crate::chance::{Chance, Use};
use crate::line::{Course, decibels};
use crate::spec::Bow;
use std::f64::consts::{FRAC_PI_2, TAU};

/// Samples worked on side by side.
const LANES: usize = 8;
/// Harmonics fade out from this share of the band's end on.
const FADE_FROM: f64 = 0.8;
/// No harmonic reaches this share of the sample rate.
const HIGHEST_SHARE: f64 = 0.45;
/// Share of a period a burst takes.
const BURST_SHARE: f64 = 0.2;

/// Amplitudes and phases of the harmonics, number 1 first, for pitches down to `lowest_hz`.
pub(crate) struct Harmonics {
    /// Real and imaginary parts.
    weights: Vec<(f64, f64)>,
    limit_hz: f64,
}

impl Harmonics {
    /// Draws the harmonics of one sound.
    pub(crate) fn new(bow: &Bow, rate_hz: f64, lowest_hz: f64, seed: u64) -> Self {
        let mut chance = Chance::new(seed, Use::Harmonics);
        let limit_hz = bow.band.get().min(HIGHEST_SHARE * rate_hz);
        let count = (limit_hz / lowest_hz).floor() as usize;
        let weights = (1..=count)
            .map(|k| {
                let size =
                    (k as f64).powf(-bow.tilt) * decibels(bow.level_spread_db * chance.normal());
                let angle = bow.phase_spread_rad * chance.normal() - FRAC_PI_2;
                (size * angle.cos(), size * angle.sin())
            })
            .collect();
        Self { weights, limit_hz }
    }

    /// Adds the tone of `course` to `out`: `Σ a_k · cos(k · phase + θ_k)`, by Horner's rule in the
    /// complex plane.
    pub(crate) fn add_tone(&self, course: &Course, out: &mut [f64]) {
        let fade_hz = FADE_FROM * self.limit_hz;
        let per_fade = 1.0 / (self.limit_hz - fade_hz);
        for start in (0..out.len()).step_by(LANES) {
            let end = (start + LANES).min(out.len());
            if course.tone[start..end].iter().all(|&level| level == 0.0) {
                continue;
            }
            let (mut re, mut im) = ([0.0; LANES], [0.0; LANES]);
            let mut hz = [1.0; LANES];
            let (mut highest, mut lowest) = (0.0f64, f64::INFINITY);
            for (lane, n) in (start..end).enumerate() {
                let (sin, cos) = (TAU * course.phase[n]).sin_cos();
                (re[lane], im[lane]) = (course.radius[n] * cos, course.radius[n] * sin);
                hz[lane] = course.f0[n];
                highest = highest.max(hz[lane]);
                lowest = lowest.min(hz[lane]);
            }
            let (mut sum_re, mut sum_im) = ([0.0; LANES], [0.0; LANES]);
            let count = ((self.limit_hz / lowest) as usize).min(self.weights.len());
            let whole = (fade_hz / highest) as usize;
            for k in (1..=count).rev() {
                let (a, b) = self.weights[k - 1];
                let mut gain = [1.0; LANES];
                if k > whole {
                    for lane in 0..LANES {
                        let left =
                            ((self.limit_hz - k as f64 * hz[lane]) * per_fade).clamp(0.0, 1.0);
                        gain[lane] = left * left * (3.0 - 2.0 * left);
                    }
                }
                for lane in 0..LANES {
                    let (x, y) = (sum_re[lane] + a * gain[lane], sum_im[lane] + b * gain[lane]);
                    sum_re[lane] = x * re[lane] - y * im[lane];
                    sum_im[lane] = x * im[lane] + y * re[lane];
                }
            }
            for (lane, n) in (start..end).enumerate() {
                out[n] += course.tone[n] * sum_re[lane];
            }
        }
    }
}

/// A low-pass of first order.
pub(crate) struct Dull {
    share: f64,
    state: f64,
}

impl Dull {
    /// Half power at `hz`.
    pub(crate) fn new(hz: f64, rate_hz: f64) -> Self {
        Self { share: 1.0 - (-TAU * hz / rate_hz).exp(), state: 0.0 }
    }

    /// The next sample.
    pub(crate) fn next(&mut self, x: f64) -> f64 {
        self.state += self.share * (x - self.state);
        self.state
    }
}

/// The steady bow noise of all `courses` before the body: the bursts and the broad part, each of
/// mean power as `bow.pulsed_share` says; the whole has a power of the order of 1.
pub(crate) fn steady_noise(courses: &[Course], bow: &Bow, rate_hz: f64, seed: u64) -> Vec<f64> {
    let mut chance = Chance::new(seed, Use::Noise);
    let samples = courses.first().map_or(0, |course| course.f0.len());
    let (mut pulsed, mut broad) = (vec![0.0; samples], vec![0.0; samples]);
    for course in courses {
        let (mut low, mut high) =
            (Dull::new(bow.burst_band.get(), rate_hz), Dull::new(bow.noise_band.get(), rate_hz));
        for n in 0..samples {
            let level = course.bowed[n];
            let place = course.phase[n] / BURST_SHARE;
            let burst = if place < 1.0 { 0.5 * (1.0 - (TAU * place).cos()) } else { 0.0 };
            // The level comes after the filters so that a rest is silent.
            pulsed[n] += level * low.next(burst * chance.noise());
            broad[n] += level * high.next(chance.noise());
        }
    }
    let scale = |part: &[f64], share: f64| {
        let power = power(part);
        if power > 0.0 { (share / power).sqrt() } else { 0.0 }
    };
    let (a, b) = (scale(&pulsed, bow.pulsed_share), scale(&broad, 1.0 - bow.pulsed_share));
    pulsed.iter().zip(&broad).map(|(p, q)| a * p + b * q).collect()
}

/// The noise of attacks and bow changes before the body.
pub(crate) fn scratch_noise(courses: &[Course], bow: &Bow, rate_hz: f64, seed: u64) -> Vec<f64> {
    let mut chance = Chance::new(seed, Use::Scratch);
    let samples = courses.first().map_or(0, |course| course.f0.len());
    let mut out = vec![0.0; samples];
    for course in courses {
        let mut dull = Dull::new(bow.noise_band.get(), rate_hz);
        for (sum, level) in out.iter_mut().zip(&course.scratch) {
            *sum += level * dull.next(chance.noise());
        }
    }
    out
}

/// Mean square.
pub(crate) fn power(x: &[f64]) -> f64 {
    if x.is_empty() { 0.0 } else { x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64 }
}
