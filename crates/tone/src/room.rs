//! A room: the direct sound and a tail of dying noise behind it.

use crate::bow::Dull;
use crate::chance::{Chance, Use};
use crate::spec::Room;
use realfft::RealFftPlanner;

/// The band in which direct sound and tail are compared, in Hz.
pub(crate) const BAND_HZ: (f64, f64) = (100.0, 4_000.0);
/// The tail sets in this long after the direct sound, in seconds.
const GAP_SECS: f64 = 0.001;
/// The tail is duller than the direct sound: half power here, in Hz.
const TAIL_HZ: f64 = 5_000.0;
/// The tail is cut where it has fallen by this, in dB.
const DEPTH_DB: f64 = 70.0;

/// The answer of the room to a single sample of 1; its first value is the direct sound.
pub(crate) fn response(room: &Room, rate_hz: f64, seed: u64) -> Vec<f64> {
    let mut chance = Chance::new(seed, Use::Room);
    let t60 = room.t60.get();
    let gap = (GAP_SECS * rate_hz) as usize;
    let length = gap + (t60 * DEPTH_DB / 60.0 * rate_hz) as usize;
    let mut dull = Dull::new(TAIL_HZ, rate_hz);
    let mut tail = vec![0.0; length];
    for (n, out) in tail.iter_mut().enumerate().skip(gap) {
        let secs = (n - gap) as f64 / rate_hz;
        *out = dull.next(chance.normal()) * (-1_000f64.ln() * secs / t60).exp();
    }
    let (energy, bins) = band_energy(&tail, rate_hz);
    // A single sample of 1 has the energy 1 in every bin.
    let scale = (bins / energy / 10f64.powf(room.drr_db / 10.0)).sqrt();
    for value in &mut tail {
        *value *= scale;
    }
    tail[0] = 1.0;
    tail
}

/// Energy of `x` summed over the bins of its spectrum within [`BAND_HZ`], and how many those are.
fn band_energy(x: &[f64], rate_hz: f64) -> (f64, f64) {
    let size = (2 * x.len()).next_power_of_two();
    let mut time = x.to_vec();
    time.resize(size, 0.0);
    let plan = RealFftPlanner::<f64>::new().plan_fft_forward(size);
    let mut bins = plan.make_output_vec();
    if plan.process(&mut time, &mut bins).is_err() {
        return (1.0, 1.0);
    }
    let band = bins.iter().enumerate().filter(|(i, _)| {
        let hz = *i as f64 * rate_hz / size as f64;
        (BAND_HZ.0..=BAND_HZ.1).contains(&hz)
    });
    band.fold((0.0, 0.0), |(energy, count), (_, bin)| (energy + bin.norm_sqr(), count + 1.0))
}

/// `x` as heard in the room: the convolution with `response`, cut to the length of `x`.
pub(crate) fn heard_in(x: &[f64], response: &[f64]) -> Vec<f64> {
    let size = (2 * response.len()).next_power_of_two().max(4_096);
    let step = size - response.len() + 1;
    let mut planner = RealFftPlanner::<f64>::new();
    let (forward, inverse) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let mut time = forward.make_input_vec();
    let mut bins = forward.make_output_vec();
    let mut answer = forward.make_output_vec();
    time[..response.len()].copy_from_slice(response);
    // The lengths are right by construction, so none of these calls can refuse.
    let mut done = forward.process(&mut time, &mut answer).is_ok();
    let mut out = vec![0.0; x.len()];
    for (block, piece) in x.chunks(step).enumerate() {
        time.fill(0.0);
        time[..piece.len()].copy_from_slice(piece);
        done &= forward.process(&mut time, &mut bins).is_ok();
        for (bin, by) in bins.iter_mut().zip(&answer) {
            *bin = *bin * by / size as f64;
        }
        bins[0].im = 0.0;
        bins[size / 2].im = 0.0;
        done &= inverse.process(&mut bins, &mut time).is_ok();
        for (sum, value) in out[block * step..].iter_mut().zip(&time) {
            *sum += value;
        }
    }
    debug_assert!(done, "FFT lengths differ");
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Secs;

    /// Energy between the band's ends, by a plain sum over frequencies instead of the FFT.
    fn plain_energy(x: &[f64], rate_hz: f64) -> f64 {
        let steps = 1_500;
        let (low, high) = BAND_HZ;
        (0..steps)
            .map(|i| {
                let hz = low + (high - low) * (f64::from(i) + 0.5) / f64::from(steps);
                let turn = std::f64::consts::TAU * hz / rate_hz;
                let (re, im) = x.iter().enumerate().fold((0.0, 0.0), |(re, im), (n, v)| {
                    let (sin, cos) = (turn * n as f64).sin_cos();
                    (re + v * cos, im - v * sin)
                });
                re * re + im * im
            })
            .sum::<f64>()
            / f64::from(steps)
    }

    #[test]
    fn direct_and_late_energy_stand_as_stated_and_the_tail_dies_in_time() {
        for (t60, drr_db) in [(0.2, 5.0), (0.3, -2.0)] {
            let room = Room { t60: Secs(t60), drr_db };
            let mut tail = response(&room, 16_000.0, 9);
            assert_eq!(tail[0], 1.0);
            tail[0] = 0.0;
            let again = -10.0 * plain_energy(&tail, 16_000.0).log10();
            assert!((again - drr_db).abs() < 0.3, "{again} dB for {drr_db} dB");
            // Straight line through the level in pieces of 20 ms.
            let levels: Vec<f64> =
                tail[16..].chunks_exact(320).map(|c| 10.0 * crate::bow::power(c).log10()).collect();
            let slope = (levels[8] - levels[0]) / (8.0 * 0.02);
            assert!((slope * t60 / -60.0 - 1.0).abs() < 0.15, "{slope} dB/s");
        }
    }

    #[test]
    fn blockwise_convolution_equals_the_plain_sum() {
        let mut chance = Chance::new(4, Use::Noise);
        let x: Vec<f64> = (0..9_000).map(|_| chance.normal()).collect();
        let answer: Vec<f64> = (0..700).map(|_| chance.normal()).collect();
        let fast = heard_in(&x, &answer);
        for n in (0..x.len()).step_by(37) {
            let plain: f64 = (0..=n.min(answer.len() - 1)).map(|k| answer[k] * x[n - k]).sum();
            assert!((fast[n] - plain).abs() < 1e-9, "at {n}");
        }
    }
}
