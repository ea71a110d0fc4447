//! Two strings at once, one of which is still: its partials stand, and another string's lie between or move.
//!
//! In a spectrum of a third of a second a partial that stands is a peak of exactly the window's form; one that moves is
//! smeared. Partials that stand and form a series are a string at rest, if what they leave is a series too.

use crate::front::{FINE_RATE, Front};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::{PI, TAU};
use std::sync::Arc;
use tuning::Hz;

/// Samples of the spectrum: 341 ms.
const LENGTH: usize = 8_192;
const BIN_HZ: f64 = FINE_RATE / LENGTH as f64;
/// Peaks from and to these frequencies are looked at.
const RANGE_HZ: (f64, f64) = (58.0, 3_200.0);
/// Peaks weaker than this against the strongest are noise.
const LEAST_POWER: f64 = 3e-4;
/// The form of a peak is judged so many bins to either side.
const REACH: i32 = 3;
/// A partial stands if it differs from the window's form by less than this share of its power; it moves if by more.
const STANDS: f64 = 0.02;
const MOVES: f64 = 0.05;
const SURELY_MOVES: f64 = 0.15;
/// Of one string, harmonics between those of two pitches have more than this share of the power.
const PRESENT: f64 = 0.004;
/// ... where they are harmonics of such numbers.
const MOST_OF_ONE: usize = 6;
/// The lowest string.
const LOWEST_HZ: f64 = 28.0;
/// Peaks so near to a much stronger one are its skirts.
const SKIRT_BINS: f64 = 7.0;
const SKIRT_POWER: f64 = 0.05;
/// Peaks kept.
const MOST_PEAKS: usize = 96;
/// Harmonics of a series that are looked for, and of which number its strongest partials may be.
const HARMONICS: usize = 12;
const NUMBERS: usize = 8;
/// The still string's pitch.
const STILL_HZ: (f64, f64) = (60.0, 1_400.0);
/// How far a partial that stands may lie from its harmonic: in bins, and as a share.
const NEAR_BINS: f64 = 0.35;
const NEAR_SHARE: f64 = 0.0012;
/// How far one that moves may: a swing of 50 cents to either side.
const SWING_SHARE: f64 = 0.03;
/// Each of the two has at least this share of the power.
const LEAST_SHARE: f64 = 0.04;
/// Share of what the still string leaves that the other must explain.
const EXPLAINED: f64 = 0.8;
/// Its power in the older and the newer half of the sound differs by less than this factor.
const LASTS: f64 = 3.2;
/// A partial that stands fills so many bins of half the sound to either side.
const HALF_LOBE_BINS: f64 = 2.0;
/// So many looks more for two strings than against them decide; so many are remembered.
const SURE: i32 = 2;
const MOST_VOTES: i32 = 4;

#[derive(Clone, Copy, Debug, Default)]
struct Peak {
    bin: f64,
    power: f64,
    /// Share of its power that is not of the window's form.
    smear: f64,
}

/// Looks at the spectrum now and then.
pub(crate) struct StillString {
    fft: Arc<dyn RealToComplex<f32>>,
    half: Arc<dyn RealToComplex<f32>>,
    half_input: Vec<f32>,
    half_output: Vec<Complex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    peaks: Vec<Peak>,
    votes: i32,
    still: Option<Hz>,
    two: bool,
}

impl StillString {
    pub(crate) fn new() -> Self {
        let mut planner = RealFftPlanner::new();
        let fft = planner.plan_fft_forward(LENGTH);
        let half = planner.plan_fft_forward(LENGTH / 2);
        let hann = |i: usize| (0.5 - 0.5 * (TAU * i as f64 / LENGTH as f64).cos()) as f32;
        Self {
            window: (0..LENGTH).map(hann).collect(),
            input: fft.make_input_vec(),
            output: fft.make_output_vec(),
            scratch: vec![Complex::default(); fft.get_scratch_len().max(half.get_scratch_len())],
            peaks: Vec::with_capacity(MOST_PEAKS),
            fft,
            half_input: half.make_input_vec(),
            half_output: half.make_output_vec(),
            half,
            votes: 0,
            still: None,
            two: false,
        }
    }

    /// Whether two strings sound.
    pub(crate) fn two_strings(&self) -> bool {
        self.two
    }

    /// The pitch of the string that is still, as it was seen last.
    pub(crate) fn pitch(&self) -> Option<Hz> {
        self.still
    }

    /// Forgets what was seen, as in silence.
    pub(crate) fn forget(&mut self) {
        (self.votes, self.two, self.still) = (0, false, None);
    }

    /// Looks at the newest sound.
    pub(crate) fn look(&mut self, front: &Front) {
        let end = front.fine.end();
        let sound = front.fine.part(end - LENGTH as i64, end);
        for ((out, x), w) in self.input.iter_mut().zip(sound).zip(&self.window) {
            *out = x * w;
        }
        // The lengths are those the plan itself gave out.
        let done =
            self.fft.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        if done.is_err() {
            return;
        }
        self.find_peaks();
        let found = self.still_of_two().filter(|still| self.lasts(front, *still));
        self.still = found.or(self.still);
        self.votes = (self.votes + if found.is_some() { 1 } else { -1 }).clamp(0, MOST_VOTES);
        self.two = self.votes >= if self.two { 1 } else { SURE };
        if self.votes == 0 {
            self.still = None;
        }
    }

    /// Whether both strings sound through all of the newest sound: in its older and its newer half each has about the same
    /// power. A note that has just given way to the next, and rings on in the room, does not.
    fn lasts(&mut self, front: &Front, still: Hz) -> bool {
        let end = front.fine.end();
        let half = LENGTH as i64 / 2;
        let f0 = still.get() / BIN_HZ / 2.0;
        let mut powers = [[0.0; 2]; 2];
        for (powers, until) in powers.iter_mut().zip([end - half, end]) {
            let sound = front.fine.part(until - half, until);
            for (i, (out, x)) in self.half_input.iter_mut().zip(sound).enumerate() {
                *out = x * self.window[2 * i];
            }
            let (input, output) = (&mut self.half_input, &mut self.half_output);
            if self.half.process_with_scratch(input, output, &mut self.scratch).is_err() {
                return false;
            }
            let (from, to) =
                ((RANGE_HZ.0 / BIN_HZ / 2.0) as usize, (RANGE_HZ.1 / BIN_HZ / 2.0) as usize);
            for (bin, value) in output.iter().enumerate().take(to).skip(from) {
                let k = (bin as f64 / f0).round().max(1.0);
                let of_still = (bin as f64 - k * f0).abs() < HALF_LOBE_BINS;
                powers[usize::from(!of_still)] += f64::from(value.norm_sqr());
            }
        }
        let [old, new] = powers;
        old.iter().zip(new).all(|(old, new)| new < LASTS * old && *old < LASTS * new)
    }

    fn find_peaks(&mut self) {
        let power = |bin: usize| f64::from(self.output[bin].norm_sqr());
        let (from, to) = ((RANGE_HZ.0 / BIN_HZ) as usize, (RANGE_HZ.1 / BIN_HZ) as usize);
        let strongest = (from..to).map(power).fold(0.0, f64::max);
        self.peaks.clear();
        for bin in from..to {
            let (before, here, after) = (power(bin - 1), power(bin), power(bin + 1));
            if here < LEAST_POWER * strongest || here < before || here <= after {
                continue;
            }
            if self.peaks.len() == MOST_PEAKS {
                break;
            }
            // Of a Hann window: the ratio of the two highest bins says where between them the peak lies.
            let (side, sign) = if after > before { (after, 1.0) } else { (before, -1.0) };
            let ratio = (side / here).sqrt();
            let shift = sign * (2.0 * ratio - 1.0) / (ratio + 1.0);
            self.peaks.push(Peak {
                bin: bin as f64 + shift,
                power: here,
                smear: smear(&self.output, bin, shift),
            });
        }
        // Skirts are no partials.
        let mut kept = 0;
        for i in 0..self.peaks.len() {
            let peak = self.peaks[i];
            let skirt = |other: &Peak| {
                (other.bin - peak.bin).abs() < SKIRT_BINS && peak.power < SKIRT_POWER * other.power
            };
            let is_skirt = self.peaks[i + 1..].iter().take(4).any(skirt)
                || self.peaks[..kept].iter().rev().take(4).any(skirt);
            if !is_skirt {
                self.peaks[kept] = peak;
                kept += 1;
            }
        }
        self.peaks.truncate(kept);
    }

    /// The pitch of a still string, if another sounds beside it.
    fn still_of_two(&self) -> Option<Hz> {
        let all: f64 = self.peaks.iter().map(|peak| peak.power).sum();
        let mut best: Option<(f64, f64)> = None;
        let mut strongest: [usize; 6] = [usize::MAX; 6];
        for (i, peak) in self.peaks.iter().enumerate().filter(|(_, p)| p.smear < STANDS) {
            let mut next = i;
            let mut at = peak.power;
            for slot in &mut strongest {
                let there = self.peaks.get(*slot).map_or(0.0, |p| p.power);
                if at > there {
                    std::mem::swap(slot, &mut next);
                    at = there;
                }
            }
        }
        for peak in strongest.iter().filter_map(|i| self.peaks.get(*i)) {
            for number in 1..=NUMBERS {
                let f0 = peak.bin / number as f64;
                if f0 * BIN_HZ < STILL_HZ.0 || f0 * BIN_HZ > STILL_HZ.1 {
                    continue;
                }
                let Some((f0, power)) = self.stands(f0) else { continue };
                if best.is_none_or(|(_, most)| power > 1.02 * most) {
                    best = Some((f0, power));
                }
            }
        }
        let (f0, power) = best?;
        (power > LEAST_SHARE * all && self.has_other(f0, all)).then_some(Hz(f0 * BIN_HZ))
    }

    /// The nearest peak to this place.
    fn nearest(&self, bin: f64) -> Option<&Peak> {
        let at = self.peaks.partition_point(|peak| peak.bin < bin);
        let sides = [at.checked_sub(1).and_then(|i| self.peaks.get(i)), self.peaks.get(at)];
        let apart = |peak: &&Peak| (peak.bin - bin).abs();
        sides.into_iter().flatten().min_by(|a, b| apart(a).total_cmp(&apart(b)))
    }

    /// The pitch, in bins, of a series of partials that stand, near to `f0`, and their power; `None` where it is none.
    fn stands(&self, f0: f64) -> Option<(f64, f64)> {
        let (mut power, mut standing, mut missing) = (0.0, 0, 0);
        let (mut top, mut bottom) = (0.0, 0.0);
        let last = self.peaks.last()?.bin;
        for k in 1..=HARMONICS {
            let at = k as f64 * f0;
            if at > last + 2.0 {
                break;
            }
            let Some(peak) = self.nearest(at) else { continue };
            let apart = (peak.bin - at).abs();
            if apart < NEAR_BINS + NEAR_SHARE * at && peak.smear < MOVES {
                standing += 1;
                power += peak.power;
                let weight = peak.power.sqrt();
                top += weight * k as f64 * peak.bin;
                bottom += weight * (k * k) as f64;
            } else if apart > SKIRT_BINS + SWING_SHARE * at {
                missing += 1;
            }
        }
        (standing >= 3 && 4 * missing <= standing).then(|| (top / bottom, power))
    }

    /// Whether what a still string of this pitch leaves is another string.
    fn has_other(&self, f0: f64, all: f64) -> bool {
        if self.swings_above(f0, all) {
            return true;
        }
        let left = || self.peaks.iter().filter(|peak| !near_harmonic(peak, f0));
        let power: f64 = left().map(|peak| peak.power).sum();
        let Some(highest) = left().max_by(|a, b| a.power.total_cmp(&b.power)) else {
            return false;
        };
        power > LEAST_SHARE * all
            && (1..=NUMBERS).any(|number| {
                let other = highest.bin / number as f64;
                other * BIN_HZ > STILL_HZ.0 && self.explains(other, f0, (power, all))
            })
    }

    /// Whether a string of pitch `other` explains the `power` that the still one of `f0` leaves, of `all`.
    fn explains(&self, other: f64, f0: f64, (power, all): (f64, f64)) -> bool {
        let ratio = (other / f0).max(f0 / other);
        if (ratio / ratio.round() - 1.0).abs() < SWING_SHARE || self.is_one(other, f0, all) {
            return false;
        }
        let (mut explained, mut seen) = (0.0, [false; HARMONICS + 1]);
        for peak in self.peaks.iter().filter(|peak| !near_harmonic(peak, f0)) {
            if near_harmonic(peak, other) {
                explained += peak.power;
                let k = (peak.bin / other).round().max(1.0) as usize;
                if let Some(seen) = seen.get_mut(k) {
                    *seen = true;
                }
            }
        }
        let count = seen.iter().filter(|seen| **seen).count();
        // Its low harmonics are there, but where the still string hides them.
        let last = self.peaks.last().map_or(0.0, |peak| peak.bin);
        let missing = (1..=4_usize)
            .filter(|k| {
                let at = *k as f64 * other;
                let away = (at / f0 - (at / f0).round().max(1.0)).abs() * f0;
                at < last && !seen[*k] && away > SKIRT_BINS + SWING_SHARE * at
            })
            .count();
        explained > EXPLAINED * power && count >= 2 && missing <= 1
    }

    /// Whether both pitches are harmonics of one string: then others of its harmonics are there, too.
    fn is_one(&self, other: f64, f0: f64, all: f64) -> bool {
        (2..=MOST_OF_ONE).any(|a| {
            let low = f0 / a as f64;
            let b = (other / low).round();
            if b < 2.0
                || b > MOST_OF_ONE as f64
                || (other / low / b - 1.0).abs() > SWING_SHARE
                || low * BIN_HZ < LOWEST_HZ
            {
                return false;
            }
            let between = self.peaks.iter().filter(|peak| {
                near_harmonic(peak, low) && !near_harmonic(peak, f0) && !near_harmonic(peak, other)
            });
            between.map(|peak| peak.power).sum::<f64>() > PRESENT * all
        })
    }

    /// Whether a string swings one or two octaves or a twelfth above a still one: its partials move, while higher ones of
    /// the still one stand. On one string the higher ones swing more.
    fn swings_above(&self, f0: f64, all: f64) -> bool {
        (2..=4_usize).any(|times| {
            let (mut lowest_moving, mut standing) = (usize::MAX, 0);
            for k in 1..=HARMONICS {
                let at = k as f64 * f0;
                let Some(peak) = self.nearest(at) else { continue };
                if !near_harmonic(peak, f0) || (peak.bin / f0).round() as usize != k {
                    continue;
                }
                if k.is_multiple_of(times) {
                    if peak.smear > SURELY_MOVES && peak.power > LEAST_SHARE * all {
                        lowest_moving = lowest_moving.min(k);
                    }
                } else if k > lowest_moving && peak.smear < STANDS && peak.power > PRESENT * all {
                    standing += 1;
                }
            }
            standing >= 2
        })
    }
}

/// Whether a peak lies where a harmonic of this pitch may swing.
fn near_harmonic(peak: &Peak, f0: f64) -> bool {
    let k = (peak.bin / f0).round().max(1.0);
    (peak.bin - k * f0).abs() < (2.5 + 0.5 * SWING_SHARE * peak.bin).max(0.0)
}

/// Share of the power around `bin` that is not of the window's form, with the peak `shift` bins beside it.
fn smear(spectrum: &[Complex<f32>], bin: usize, shift: f64) -> f64 {
    let (mut re, mut im, mut square, mut power) = (0.0, 0.0, 0.0, 0.0);
    for m in -REACH..=REACH {
        let Some(value) = spectrum.get((bin as i32 + m) as usize) else { continue };
        let form = hann(shift - f64::from(m)) * if m % 2 == 0 { 1.0 } else { -1.0 };
        re += form * f64::from(value.re);
        im += form * f64::from(value.im);
        square += form * form;
        power += f64::from(value.norm_sqr());
    }
    1.0 - (re * re + im * im) / (square * power + 1e-30)
}

/// The spectrum of a Hann window, so many bins beside its middle.
fn hann(bins: f64) -> f64 {
    if bins.abs() < 1e-6 {
        return 1.0;
    }
    if (bins.abs() - 1.0).abs() < 1e-6 {
        return 0.5;
    }
    (PI * bins).sin() / (PI * bins) / (1.0 - bins * bins)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::HOP;

    /// Looks at 0.6 s of strings of these pitches, each with its own swing to either side, in cents.
    fn seen(strings: &[(f64, f64)]) -> StillString {
        let (mut front, mut looked) = (Front::new(), StillString::new());
        let mut phases = vec![0.0; strings.len()];
        for hop in 0..120 {
            let mut sound = [0.0; HOP];
            for (i, x) in sound.iter_mut().enumerate() {
                let secs = (hop * HOP + i) as f64 / 48_000.0;
                for ((hz, cents), phase) in strings.iter().zip(&mut phases) {
                    let swing = cents / 1_200.0 * (TAU * 5.5 * secs).sin();
                    *phase += TAU * hz * swing.exp2() / 48_000.0;
                    *x += (1..12)
                        .map(|k| (f64::from(k) * *phase).sin() / f64::from(10 * k))
                        .sum::<f64>() as f32;
                }
            }
            front.push(&sound);
            if hop % 8 == 0 {
                looked.look(&front);
            }
        }
        looked
    }

    #[test]
    fn a_still_string_is_found_beside_another_that_swings_or_not() {
        for (still, other, swing) in [
            (196.0, 293.66, 20.0),
            (440.0, 349.23, 15.0),
            (220.0, 277.2, 0.0),
            (130.8, 261.6, 20.0),
        ] {
            let looked = seen(&[(still, 0.0), (other, swing)]);
            assert!(looked.two_strings(), "{still} and {other} Hz");
            let found = looked.pitch().expect("it is known").get();
            let apart = |hz: f64| (found / hz - 1.0).abs();
            let near = apart(still).min(if swing > 0.0 { 1.0 } else { apart(other) });
            assert!(near < 5e-4, "{found} Hz beside {other} Hz");
        }
    }

    #[test]
    fn one_string_is_not_two_however_it_moves() {
        for swing in [0.0, 2.0, 5.0, 12.0, 30.0, 60.0] {
            for hz in [65.4, 98.0, 196.0, 440.0, 880.0] {
                let looked = seen(&[(hz, swing)]);
                assert!(!looked.two_strings(), "{hz} Hz swings by {swing} cents");
            }
        }
    }
}
