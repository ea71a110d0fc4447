//! Do two strings sound at once, of which neither need be still? A long spectrum against the pitch that was told.
//!
//! Two strings whose pitches have nothing to do with each other leave partials that the told
//! pitch does not explain. Two in a plain ratio share a common fundamental, which is then told:
//! but of its harmonics only the multiples of two numbers are there.

use crate::front::{FINE_RATE, Front};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::TAU;
use std::sync::Arc;

/// Samples of the spectrum: 171 ms.
const LENGTH: usize = 4_096;
/// Half the main lobe of its window, in bins.
const LOBE_BINS: f64 = 2.0;
/// Partials from and to these frequencies are looked at, in Hz.
const RANGE_HZ: (f64, f64) = (60.0, 3_000.0);
/// Partials weaker than this against the strongest are noise.
const LEAST_POWER: f64 = 3e-3;
/// Share of the power that one string may leave unexplained.
const UNEXPLAINED: f64 = 0.12;
/// Ratios of two strings that share a fundamental, as multiples of it.
const RATIOS: [(usize, usize); 6] = [(2, 3), (3, 4), (3, 5), (4, 5), (5, 6), (5, 8)];
/// Of the harmonics that neither string has, less than this share is there; of what only one of
/// them has, more than this.
const ABSENT: f64 = 0.004;
const PRESENT: f64 = 0.05;
/// Harmonics of the common fundamental that are looked at.
const HARMONICS: usize = 12;
/// Looks in a row, for or against, that decide.
const SURE: i32 = 3;

/// Looks at the spectrum now and then.
pub(crate) struct Chord {
    fft: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    power: Vec<f64>,
    votes: i32,
    two: bool,
}

impl Chord {
    pub(crate) fn new() -> Self {
        let fft = RealFftPlanner::new().plan_fft_forward(LENGTH);
        let hann = |i: usize| (0.5 - 0.5 * (TAU * i as f64 / LENGTH as f64).cos()) as f32;
        Self {
            window: (0..LENGTH).map(hann).collect(),
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: fft.make_scratch_vec(),
            power: vec![0.0; LENGTH / 2 + 1],
            fft,
            votes: 0,
            two: false,
        }
    }

    /// Whether two strings sound, as far as is known.
    pub(crate) fn two_strings(&self) -> bool {
        self.two
    }

    /// Forgets what was seen, as when a note ends.
    pub(crate) fn forget(&mut self) {
        (self.votes, self.two) = (0, false);
    }

    /// Time that a look reaches back, in seconds.
    pub(crate) fn reach_secs() -> f64 {
        LENGTH as f64 / FINE_RATE
    }

    /// Looks at the newest sound, through which the told pitch ran from `low_hz` to `high_hz`.
    pub(crate) fn look(&mut self, front: &Front, low_hz: f64, high_hz: f64) {
        let end = front.fine.end();
        let sound = front.fine.part(end - LENGTH as i64, end);
        for ((out, x), w) in self.input.iter_mut().zip(sound).zip(&self.window) {
            *out = x * w;
        }
        // The lengths are those the plan itself gave out.
        if self
            .fft
            .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch)
            .is_err()
        {
            return;
        }
        for (power, c) in self.power.iter_mut().zip(&self.output) {
            *power = f64::from(c.norm_sqr());
        }
        let two = self.unexplained(low_hz, high_hz) > UNEXPLAINED
            || self.shares_a_fundamental(low_hz, high_hz);
        self.votes = (self.votes + if two { 1 } else { -1 }).clamp(-SURE, SURE);
        if self.votes.abs() == SURE {
            self.two = self.votes > 0;
        }
    }

    /// Share of the partials' power that lies at no harmonic of the pitch.
    fn unexplained(&self, low_hz: f64, high_hz: f64) -> f64 {
        let bin_hz = FINE_RATE / LENGTH as f64;
        let (from, to) = ((RANGE_HZ.0 / bin_hz) as usize, (RANGE_HZ.1 / bin_hz) as usize);
        let strongest = self.power[from..to].iter().copied().fold(0.0, f64::max);
        let (mut all, mut other) = (0.0, 0.0);
        for bin in from..to {
            let here = self.power[bin];
            if here < LEAST_POWER * strongest
                || here < self.power[bin - 1]
                || here < self.power[bin + 1]
            {
                continue;
            }
            let hz = bin as f64 * bin_hz;
            // The harmonics whose swing can reach this bin.
            let least = ((hz - LOBE_BINS * bin_hz) / high_hz).ceil().max(1.0);
            let most = (hz + LOBE_BINS * bin_hz) / low_hz;
            all += here;
            if least > most {
                other += here;
            }
        }
        if all > 0.0 { other / all } else { 0.0 }
    }

    /// Whether of the pitch's harmonics only the multiples of two numbers are there.
    fn shares_a_fundamental(&self, low_hz: f64, high_hz: f64) -> bool {
        let bin_hz = FINE_RATE / LENGTH as f64;
        let mut powers = [0.0; HARMONICS + 1];
        for (k, power) in powers.iter_mut().enumerate().skip(1) {
            let from = (k as f64 * low_hz / bin_hz - 1.0).max(1.0) as usize;
            let to =
                ((k as f64 * high_hz / bin_hz + 1.0).ceil() as usize).min(self.power.len() - 1);
            *power = self.power.get(from..=to).map_or(0.0, |part| part.iter().sum());
        }
        let total: f64 = powers.iter().sum();
        if total <= 0.0 {
            return false;
        }
        let share = |wanted: &dyn Fn(usize) -> bool| -> f64 {
            powers
                .iter()
                .enumerate()
                .skip(1)
                .filter(|(k, _)| wanted(*k))
                .map(|(_, p)| p)
                .sum::<f64>()
                / total
        };
        RATIOS.iter().any(|&(a, b)| {
            let of = |k: usize, n: usize| k.is_multiple_of(n);
            share(&|k| !of(k, a) && !of(k, b)) < ABSENT
                && share(&|k| of(k, a) && !of(k, b)) > PRESENT
                && share(&|k| of(k, b) && !of(k, a)) > PRESENT
        })
    }
}
