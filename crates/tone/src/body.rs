//! The resonances of the instrument, as filters in the time domain: a moving pitch meets them as a
//! real one does, with changes of level and phase of its own for every harmonic.

use crate::chance::{Chance, Use};
use crate::line::decibels;
use crate::spec::Body;
use std::f64::consts::TAU;

/// Resonances above this share of the sample rate are left out.
const HIGHEST_SHARE: f64 = 0.45;

/// A bank of resonances side by side, plus what passes directly.
pub(crate) struct Resonances {
    /// Per resonance: gain into it, and its two feedback factors.
    gain: Vec<f64>,
    back_one: Vec<f64>,
    back_two: Vec<f64>,
    direct: f64,
}

impl Resonances {
    /// Draws the bank of one instrument.
    pub(crate) fn new(body: &Body, rate_hz: f64, seed: u64) -> Self {
        let mut chance = Chance::new(seed, Use::Body);
        let mut bank = Self {
            gain: Vec::new(),
            back_one: Vec::new(),
            back_two: Vec::new(),
            direct: decibels(body.direct_db),
        };
        let octaves = (body.high.get() / body.low.get()).log2();
        for i in 0..body.modes {
            let place = (i as f64 + 0.5 + chance.even(-0.4, 0.4)) / body.modes as f64;
            let hz = body.low.get() * (octaves * place).exp2();
            let q = chance.even(body.q_low, body.q_high);
            let sign = if chance.even(0.0, 1.0) < 0.5 { -1.0 } else { 1.0 };
            let gain = sign * decibels(body.gain_spread_db * chance.normal());
            if hz > HIGHEST_SHARE * rate_hz {
                continue;
            }
            // Band-pass of unit peak by the bilinear transform: (1 − z⁻²)·α/(1 + α) over
            // 1 − 2cosω/(1 + α)·z⁻¹ + (1 − α)/(1 + α)·z⁻², α = sinω/2Q.
            let (sin, cos) = (TAU * hz / rate_hz).sin_cos();
            let alpha = sin / (2.0 * q);
            bank.gain.push(gain * alpha / (1.0 + alpha));
            bank.back_one.push(2.0 * cos / (1.0 + alpha));
            bank.back_two.push((1.0 - alpha) / (1.0 + alpha));
        }
        bank
    }

    /// What leaves the body when `x` drives it; starts from rest.
    pub(crate) fn filtered(&self, x: &[f64]) -> Vec<f64> {
        let count = self.gain.len();
        let (mut one, mut two) = (vec![0.0; count], vec![0.0; count]);
        let (mut x1, mut x2) = (0.0, 0.0);
        x.iter()
            .map(|&x0| {
                let drive = x0 - x2;
                let mut sum = self.direct * x0;
                for i in 0..count {
                    let y = self.gain[i] * drive + self.back_one[i] * one[i]
                        - self.back_two[i] * two[i];
                    two[i] = one[i];
                    one[i] = y;
                }
                for y in &one {
                    sum += y;
                }
                (x2, x1) = (x1, x0);
                sum
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Hz;

    #[test]
    fn a_single_resonance_passes_its_own_pitch_unchanged_and_rings_as_long_as_its_quality_says() {
        let body = Body {
            modes: 1,
            low: Hz(500.0),
            high: Hz(500.0),
            q_low: 20.0,
            q_high: 20.0,
            gain_spread_db: 0.0,
            direct_db: -80.0,
        };
        let bank = Resonances::new(&body, 48_000.0, 1);
        let x: Vec<f64> = (0..24_000)
            .map(|n| if n < 12_000 { (TAU * n as f64 / 96.0).sin() } else { 0.0 })
            .collect();
        let y = bank.filtered(&x);
        let peak = |y: &[f64]| y.iter().fold(0.0f64, |most, v| most.max(v.abs()));
        assert!((peak(&y[9_600..12_000]) - 1.0).abs() < 0.01);
        // Amplitude falls as exp(−π f t / Q): after Q periods by e^π.
        let fall = peak(&y[12_000..12_096]) / peak(&y[12_000 + 20 * 96..12_096 + 20 * 96]);
        assert!((fall / std::f64::consts::PI.exp() - 1.0).abs() < 0.03, "{fall}");
    }
}
