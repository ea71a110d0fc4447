//! The front end: a high-pass, then two decimated copies of the sound.
//!
//! The copy at 24 kHz feeds the refinement (harmonics up to 8 kHz), the one at 16 kHz, low-passed
//! to where fundamentals lie, feeds the coarse search. Both filters are symmetric, so both copies
//! stay aligned with the input: sample `j` stands at input sample `j · factor`.

use crate::{HOP, SAMPLE_RATE};
use std::f64::consts::PI;

/// Sample rate of the copy for the refinement, in Hz.
pub(crate) const FINE_RATE: f64 = SAMPLE_RATE as f64 / FINE_FACTOR as f64;
/// Sample rate of the copy for the coarse search, in Hz.
pub(crate) const COARSE_RATE: f64 = SAMPLE_RATE as f64 / COARSE_FACTOR as f64;
/// Input samples per sample of the fine copy.
pub(crate) const FINE_FACTOR: usize = 2;
/// Input samples per sample of the coarse copy.
pub(crate) const COARSE_FACTOR: usize = 3;
/// Fine samples a hop.
pub(crate) const FINE_HOP: usize = HOP / FINE_FACTOR;
/// Coarse samples a hop.
pub(crate) const COARSE_HOP: usize = HOP / COARSE_FACTOR;

/// Corner of the high-pass, in Hz: below the lowest string, above handling noise.
const HIGH_PASS_HZ: f64 = 25.0;
/// The upper partials and the bow's own noise lie above this, in Hz.
const UPPER_HZ: f64 = 2_000.0;
/// Half the length of each symmetric filter, in input samples: 0.35 ms and 1 ms.
const FINE_REACH: usize = 17;
const COARSE_REACH: usize = 48;
/// −6 dB points of the two filters, in Hz.
const FINE_EDGE_HZ: f64 = 11_500.0;
const COARSE_EDGE_HZ: f64 = 2_900.0;
/// Samples kept behind the newest, and the room in which they move.
const KEPT: usize = 8_192;
const CAPACITY: usize = 4 * KEPT;

/// A symmetric low-pass that yields one sample for `factor` input samples.
struct Decimator {
    taps: Vec<f32>,
    factor: usize,
}

impl Decimator {
    /// A Kaiser-windowed sinc (beta 6: about 60 dB) of `2 · reach + 1` taps, −6 dB at `edge_hz`.
    fn new(factor: usize, reach: usize, edge_hz: f64) -> Self {
        let edge = edge_hz / f64::from(SAMPLE_RATE);
        let beta = 6.0;
        let taps: Vec<f64> = (0..=2 * reach)
            .map(|i| {
                let x = i as f64 - reach as f64;
                let sinc =
                    if x == 0.0 { 2.0 * edge } else { (2.0 * PI * edge * x).sin() / (PI * x) };
                let u = x / (reach as f64 + 1.0);
                sinc * bessel_i0(beta * (1.0 - u * u).sqrt())
            })
            .collect();
        let sum: f64 = taps.iter().sum();
        Self { taps: taps.iter().map(|tap| (tap / sum) as f32).collect(), factor }
    }

    /// Writes one output per `factor` samples; `x` starts `2 · reach` samples before the first centre's end.
    fn run(&self, x: &[f32], out: &mut Stretch) {
        for window in x.windows(self.taps.len()).step_by(self.factor) {
            out.append(dot(window, &self.taps));
        }
    }
}

/// Modified Bessel function of order 0, by its power series.
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum, mut k) = (1.0, 1.0, 1.0);
    while term > sum * 1e-16 {
        term *= quarter / (k * k);
        sum += term;
        k += 1.0;
    }
    sum
}

/// A power in dB, at least −120.
pub(crate) fn decibels(power: f64) -> f64 {
    (10.0 * (power + 1e-12).log10()).max(-120.0)
}

/// `Σ a[i] · b[i]`, eight partial sums so that it runs in lanes; the order is fixed.
#[inline]
pub(crate) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0_f32; 8];
    let (a8, a_rest) = a.as_chunks::<8>();
    let (b8, b_rest) = b.as_chunks::<8>();
    for (a, b) in a8.iter().zip(b8) {
        for i in 0..8 {
            lanes[i] += a[i] * b[i];
        }
    }
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    ((lanes[0] + lanes[4]) + (lanes[1] + lanes[5]))
        + ((lanes[2] + lanes[6]) + (lanes[3] + lanes[7]))
        + rest
}

/// The newest stretch of a stream, addressed by the index each sample has in the whole stream.
/// What lies before the stream's start or is no longer kept reads as nothing.
pub(crate) struct Stretch {
    samples: Vec<f32>,
    /// Index in the stream of `samples[0]`.
    first: i64,
}

impl Stretch {
    fn new(start: i64) -> Self {
        let mut samples = Vec::with_capacity(CAPACITY);
        samples.resize(KEPT, 0.0);
        Self { samples, first: start - KEPT as i64 }
    }

    fn append(&mut self, sample: f32) {
        if self.samples.len() == CAPACITY {
            self.samples.copy_within(CAPACITY - KEPT.., 0);
            self.samples.truncate(KEPT);
            self.first += (CAPACITY - KEPT) as i64;
        }
        self.samples.push(sample);
    }

    /// Index one past the newest sample.
    pub(crate) fn end(&self) -> i64 {
        self.first + self.samples.len() as i64
    }

    /// Moves on by so many samples of silence that need not be kept, for all that is kept is silent.
    fn jump(&mut self, samples: i64) {
        self.first += samples;
    }

    /// The samples `from..to`, which must be kept still and be here already.
    pub(crate) fn part(&self, from: i64, to: i64) -> &[f32] {
        let at = |index: i64| usize::try_from(index - self.first).unwrap_or(0);
        &self.samples[at(from)..at(to).min(self.samples.len())]
    }
}

/// Takes the input a hop at a time and keeps both copies.
pub(crate) struct Front {
    fine_filter: Decimator,
    coarse_filter: Decimator,
    /// The high-passed input: enough of the past for both filters, then the newest hop.
    line: Vec<f32>,
    high_pass: HighPass,
    /// The copy at 24 kHz.
    pub fine: Stretch,
    /// The copy at 16 kHz.
    pub coarse: Stretch,
    upper_pass: [HighPass; 2],
    /// Power of what lies above 2 kHz in the fine copy, one mean a hop.
    pub upper: Stretch,
}

impl Front {
    /// A front at rest, as if silence had come before.
    pub(crate) fn new() -> Self {
        // After n hops the newest sample with a full filter around it is `n · hop − reach − 1`, so
        // both copies lag behind the input by the reach, rounded up to their own grid.
        Self {
            fine_filter: Decimator::new(FINE_FACTOR, FINE_REACH, FINE_EDGE_HZ),
            coarse_filter: Decimator::new(COARSE_FACTOR, COARSE_REACH, COARSE_EDGE_HZ),
            line: vec![0.0; 2 * COARSE_REACH + HOP],
            high_pass: HighPass::new(HIGH_PASS_HZ, f64::from(SAMPLE_RATE)),
            upper_pass: std::array::from_fn(|_| HighPass::new(UPPER_HZ, FINE_RATE)),
            upper: Stretch::new(0),
            fine: Stretch::new(-((FINE_REACH / FINE_FACTOR) as i64)),
            coarse: Stretch::new(-((COARSE_REACH / COARSE_FACTOR) as i64)),
        }
    }

    /// Moves on by so many hops of silence, once a second of it has been taken in.
    pub(crate) fn jump(&mut self, hops: i64) {
        self.fine.jump(hops * FINE_HOP as i64);
        self.coarse.jump(hops * COARSE_HOP as i64);
        self.upper.jump(hops);
    }

    /// Takes one hop; samples that are not numbers count as silence, and none beyond ±8 is believed.
    pub(crate) fn push(&mut self, hop: &[f32; HOP]) {
        self.line.copy_within(HOP.., 0);
        let past = self.line.len() - HOP;
        for (out, &x) in self.line[past..].iter_mut().zip(hop) {
            let x = if x.is_finite() { x.clamp(-8.0, 8.0) } else { 0.0 };
            *out = self.high_pass.next(x);
        }
        // First centre of this hop: `−reach`, on the copy's own grid, counted from the hop's start.
        let centre = |reach: usize, factor: usize| past - reach / factor * factor;
        let from = centre(FINE_REACH, FINE_FACTOR) - FINE_REACH;
        let to = from + HOP + 2 * FINE_REACH + 1 - FINE_FACTOR;
        self.fine_filter.run(&self.line[from..to], &mut self.fine);
        let from = centre(COARSE_REACH, COARSE_FACTOR) - COARSE_REACH;
        let to = from + HOP + 2 * COARSE_REACH + 1 - COARSE_FACTOR;
        self.coarse_filter.run(&self.line[from..to], &mut self.coarse);
        let end = self.fine.end();
        let mut power = 0.0;
        for &x in self.fine.part(end - FINE_HOP as i64, end) {
            let y = self.upper_pass.iter_mut().fold(x, |x, pass| pass.next(x));
            power += y * y;
        }
        self.upper.append(power / FINE_HOP as f32);
    }
}

/// Second-order Butterworth high-pass, direct form II transposed.
/// Source: bilinear transform of `s² / (s² + √2 s + 1)`, pre-warped to the corner.
struct HighPass {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl HighPass {
    fn new(corner_hz: f64, rate_hz: f64) -> Self {
        let k = (PI * corner_hz / rate_hz).tan();
        let norm = 1.0 / (1.0 + std::f64::consts::SQRT_2 * k + k * k);
        Self {
            b: [norm, -2.0 * norm, norm],
            a: [2.0 * (k * k - 1.0) * norm, (1.0 - std::f64::consts::SQRT_2 * k + k * k) * norm],
            state: [0.0; 2],
        }
    }

    fn next(&mut self, x: f32) -> f32 {
        let x = f64::from(x);
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        // Keeps decaying states out of the range where arithmetic is slow.
        if self.state[0].abs() < 1e-30 {
            self.state = [0.0; 2];
        }
        y as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_copies_stay_aligned_with_the_input() {
        let mut front = Front::new();
        let tone = |secs: f64| (2.0 * PI * 440.0 * secs).sin();
        for n in 0..100 {
            let mut hop = [0.0; HOP];
            for (i, x) in hop.iter_mut().enumerate() {
                *x = tone((n * HOP + i) as f64 / f64::from(SAMPLE_RATE)) as f32;
            }
            front.push(&hop);
        }
        for (copy, rate) in [(&front.fine, FINE_RATE), (&front.coarse, COARSE_RATE)] {
            let end = copy.end();
            // The high-pass advances the phase of 440 Hz by about 0.08 rad.
            let worst = (end - 200..end)
                .map(|j| (f64::from(copy.part(j, j + 1)[0]) - tone(j as f64 / rate)).abs())
                .fold(0.0, f64::max);
            assert!(worst < 0.1, "worst difference {worst} at {rate} Hz");
        }
    }

    #[test]
    fn a_stretch_forgets_only_what_is_old() {
        let mut stretch = Stretch::new(0);
        for i in 0..100_000 {
            stretch.append(i as f32);
        }
        assert_eq!(stretch.part(95_000, 95_003), [95_000.0, 95_001.0, 95_002.0]);
        assert_eq!(stretch.end(), 100_000);
    }
}
