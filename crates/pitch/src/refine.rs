//! The refinement: every harmonic, demodulated along the coarse track, says how far off it is.
//!
//! The window spans a whole number of periods in phase, whatever the vibrato does, so that each
//! harmonic stands in the zeros of all others. The window's derivative turns the phase drift of a
//! harmonic into its frequency error without a second transform.
//!
//! Source of the frequency formula: F. Auger and P. Flandrin, "Improving the readability of
//! time-frequency and time-scale representations by the reassignment method", IEEE Trans. Signal
//! Processing 43 (1995), eq. 24, here in the warped phase instead of time.

use crate::front::FINE_RATE;
use crate::known::Known;
use std::f64::consts::PI;

/// Most harmonics looked at, and the highest frequency of one, in Hz.
pub(crate) const MOST_HARMONICS: usize = 40;
const HIGHEST_HZ: f64 = 8_000.0;
/// Periods in a window at least, and its least length in seconds.
const LEAST_PERIODS: f64 = 2.0;
const LEAST_SECS: f64 = 0.016;
/// Relative corrections beyond this are not believed.
const MOST_CORRECTION: f64 = 0.03;
/// Harmonics weaker than this share of the strongest, in power, are left out.
const LEAST_POWER: f64 = 1e-5;
/// Time constant of the running means of each harmonic's power and of its squared residual.
const LEARNING_SECS: f64 = 0.15;
/// Floor of a harmonic's standard deviation, relative.
const LEAST_DEVIATION: f64 = 3e-5;
/// Share of all weight that one harmonic may have.
const MOST_SHARE: f64 = 0.2;
/// A residual's square counts at most this much.
const MOST_SQUARE: f64 = 4e-4;
/// Room for a window: 30 Hz, two periods, a fifth more for a falling pitch.
const MOST_HALF: usize = 1_100;

/// A coarse estimate as the refinement wants it: fine samples, Hz.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    /// Time in fine samples.
    pub at: f64,
    /// Pitch in Hz.
    pub hz: f64,
}

/// What the refinement says of one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Refined {
    /// The pitch, in Hz.
    pub hz: f64,
    /// Weighted mean absolute deviation of the harmonics, relative to the pitch.
    pub disagreement: f64,
}

/// One harmonic's own opinion.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Harmonic {
    /// Relative frequency correction to the coarse pitch that this harmonic asks for.
    correction: f64,
    /// How far the pitch this harmonic asks for lies above the consensus, in cents.
    pub apart_cents: f64,
    /// Power, in squared samples times the window's sum squared.
    pub power: f64,
    /// Weight in the consensus; 0 if left out.
    pub weight: f64,
}

/// Running memory of one harmonic.
#[derive(Clone, Copy, Default)]
struct Learned {
    power: f64,
    square: f64,
    known: bool,
}

/// Demodulates and combines; learns along a note which harmonics can be trusted.
pub(crate) struct Refiner {
    hz: Vec<f64>,
    weighted: Vec<f32>,
    derived: Vec<f32>,
    step: (Vec<f32>, Vec<f32>),
    turn: (Vec<f32>, Vec<f32>),
    harmonics: Vec<Harmonic>,
    order: Vec<usize>,
    scaled: Vec<Point>,
    learned: [Learned; MOST_HARMONICS],
    last_hz: f64,
    rate: f64,
}

/// Half the window for a pitch, in seconds.
pub(crate) fn half_window_secs(hz: f64) -> f64 {
    0.5 * periods(hz) / hz
}

/// Whole periods in the window.
fn periods(hz: f64) -> f64 {
    (LEAST_SECS * hz).ceil().max(LEAST_PERIODS)
}

impl Refiner {
    /// A refiner called `frames_per_sec` times a second.
    pub(crate) fn new(frames_per_sec: f64) -> Self {
        let room = || vec![0.0_f32; 2 * MOST_HALF + 16];
        Self {
            hz: vec![0.0; 2 * MOST_HALF + 1],
            weighted: room(),
            derived: room(),
            step: (room(), room()),
            turn: (room(), room()),
            harmonics: Vec::with_capacity(MOST_HARMONICS),
            order: Vec::with_capacity(MOST_HARMONICS),
            scaled: Vec::with_capacity(128),
            learned: [Learned::default(); MOST_HARMONICS],
            last_hz: 0.0,
            rate: 1.0 - (-1.0 / frames_per_sec / LEARNING_SECS).exp(),
        }
    }

    /// Forgets what was learned of the note.
    pub(crate) fn forget(&mut self) {
        self.learned = [Learned::default(); MOST_HARMONICS];
        self.last_hz = 0.0;
    }

    /// The harmonics of the last frame, from the first.
    pub(crate) fn harmonics(&self) -> &[Harmonic] {
        &self.harmonics
    }

    /// Refines the pitch `hz` at fine sample `centre` along the coarse `track`, in order of time.
    ///
    /// `sound` holds the fine samples from index `first`; the window is cut where it ends. `None`
    /// where no harmonic can be used.
    pub(crate) fn refine(
        &mut self,
        sound: &[f32],
        first: i64,
        centre: i64,
        hz: f64,
        track: &[Point],
    ) -> Option<Refined> {
        let count = self.demodulate(sound, first, centre, hz, track)?;
        self.combine(hz, count)
    }

    /// Share of the power that lies between the harmonics of `hz`: in those harmonics of `hz` divided
    /// by `divisor` that are none of `hz` itself, but for those that something `known` reaches. Arguments as
    /// for [`refine`](Self::refine).
    ///
    /// The harmonics of the last frame are lost; call it before the next refinement.
    #[expect(clippy::too_many_arguments, reason = "those of `refine`, and two more")]
    pub(crate) fn between(
        &mut self,
        sound: &[f32],
        first: i64,
        centre: i64,
        hz: f64,
        divisor: usize,
        track: &[Point],
        (known, before_hz): (&Known, Option<f64>),
    ) -> Option<f64> {
        self.scaled.clear();
        self.scaled.extend(track.iter().map(|p| Point { at: p.at, hz: p.hz / divisor as f64 }));
        let track = std::mem::take(&mut self.scaled);
        let count = self.demodulate(sound, first, centre, hz / divisor as f64, &track);
        self.scaled = track;
        let count = count?;
        let low = hz / divisor as f64;
        // Where a harmonic of the note before lies, the power may be what is left of it.
        let of_before = |number: usize| {
            before_hz.is_some_and(|before| {
                let harmonics = number as f64 * low / before;
                (harmonics - harmonics.round().max(1.0)).abs() * before <= 0.5 * low
            })
        };
        let (mut own, mut other) = (0.0, 0.0);
        for (k, h) in self.harmonics[..count].iter().enumerate() {
            if (k + 1).is_multiple_of(divisor) {
                own += h.power;
            } else if !known.reaches(k + 1, low) && !of_before(k + 1) {
                other += h.power;
            }
        }
        Some(other / (own + other + 1e-30))
    }

    /// Fills `harmonics` with the corrections and powers of harmonics 1 to the number returned.
    fn demodulate(
        &mut self,
        sound: &[f32],
        first: i64,
        centre: i64,
        hz: f64,
        track: &[Point],
    ) -> Option<usize> {
        let m = periods(hz);
        let half = ((0.5 * m * FINE_RATE / hz * 1.12).ceil() as usize + 2).min(MOST_HALF);
        let at = usize::try_from(centre - first).ok()?;
        let before = half.min(at);
        let after = half.min(sound.len().checked_sub(at + 1)?);
        let length = before + after + 1;
        fill_track(&mut self.hz[..length], centre - before as i64, hz, track);

        // The phase, from the centre outwards; trapezium rule.
        let turn_per_hz = 2.0 * PI / FINE_RATE;
        let limit = PI * m;
        let mut used = 0..length;
        for forwards in [true, false] {
            let (mut phase, mut cos, mut sin) = (0.0_f64, 1.0_f64, 0.0_f64);
            let (mut wide_cos, mut wide_sin) = (1.0_f64, 0.0_f64);
            let reach = if forwards { after } else { before };
            for away in 0..=reach {
                let i = if forwards { before + away } else { before - away };
                if away > 0 {
                    let last = if forwards { i - 1 } else { i + 1 };
                    let step = 0.5 * (self.hz[i] + self.hz[last]) * turn_per_hz;
                    let step = if forwards { step } else { -step };
                    phase += step;
                    if phase.abs() > limit {
                        used = if forwards { used.start..i } else { i + 1..used.end };
                        break;
                    }
                    let (c, s) = small_turn(step);
                    (cos, sin) = (cos * c - sin * s, cos * s + sin * c);
                    let (c, s) = small_turn(step / m);
                    (wide_cos, wide_sin) =
                        (wide_cos * c - wide_sin * s, wide_cos * s + wide_sin * c);
                }
                let g = f64::from(sound[at + i - before]) * self.hz[i];
                self.weighted[i] = (g * 0.5 * (1.0 + wide_cos)) as f32;
                self.derived[i] = (g * -0.5 * wide_sin / m * 2.0 * PI * self.hz[i]) as f32;
                self.step.0[i] = cos as f32;
                self.step.1[i] = -sin as f32;
            }
        }

        let count = ((HIGHEST_HZ / hz) as usize).clamp(1, MOST_HARMONICS);
        let used = pad(used, &mut [&mut self.weighted, &mut self.derived]);
        self.turn.0[used.clone()].copy_from_slice(&self.step.0[used.clone()]);
        self.turn.1[used.clone()].copy_from_slice(&self.step.1[used.clone()]);
        self.harmonics.clear();
        for k in 1..=count {
            let [yr, yi, dr, di] = correlate_and_turn(
                &self.weighted[used.clone()],
                &self.derived[used.clone()],
                (&self.step.0[used.clone()], &self.step.1[used.clone()]),
                (&mut self.turn.0[used.clone()], &mut self.turn.1[used.clone()]),
            );
            let power = yr * yr + yi * yi;
            // −Im(D · conj(Y)) / (|Y|² 2π k f)
            let correction = -(di * yr - dr * yi) / ((power + 1e-20) * 2.0 * PI * k as f64 * hz);
            self.harmonics.push(Harmonic { correction, apart_cents: 0.0, power, weight: 0.0 });
        }
        Some(count)
    }

    /// Weighs the harmonics and takes their consensus.
    fn combine(&mut self, hz: f64, count: usize) -> Option<Refined> {
        if self.last_hz == 0.0 || (hz / self.last_hz).log2().abs() > 0.1 {
            self.learned = [Learned::default(); MOST_HARMONICS];
        }
        let harmonics = &mut self.harmonics;
        let strongest = harmonics.iter().map(|h| h.power).fold(0.0, f64::max);
        let known = self.learned[..count].iter().any(|l| l.known);
        let most_square =
            self.learned[..count].iter().filter(|l| l.known).map(|l| l.square).fold(0.0, f64::max);
        let mut sum = 0.0;
        for (k, (h, learned)) in harmonics.iter_mut().zip(&self.learned).enumerate() {
            let believed =
                h.correction.abs() < MOST_CORRECTION && h.power > LEAST_POWER * strongest;
            let order = (k + 1) as f64;
            h.weight = match (believed, known) {
                (false, _) => 0.0,
                (true, false) => order * order * h.power,
                (true, true) => {
                    let (square, power) = if learned.known {
                        (learned.square, learned.power)
                    } else {
                        (most_square, h.power)
                    };
                    (h.power / (power + 1e-20)).min(1.0)
                        / (square + LEAST_DEVIATION * LEAST_DEVIATION)
                }
            };
            sum += h.weight;
        }
        // One harmonic must not decide alone: it would agree with itself more and more.
        let used = harmonics.iter().filter(|h| h.weight > 0.0).count().max(1) as f64;
        let most = sum * MOST_SHARE.max(1.5 / used);
        sum = 0.0;
        for h in harmonics.iter_mut() {
            h.weight = h.weight.min(most);
            sum += h.weight;
        }
        if sum <= 0.0 {
            self.last_hz = 0.0;
            return None;
        }
        let median = weighted_median(harmonics, &mut self.order, sum);
        let deviation =
            harmonics.iter().map(|h| h.weight * (h.correction - median).abs()).sum::<f64>() / sum;
        let (mut top, mut bottom) = (0.0, 0.0);
        for h in harmonics.iter_mut() {
            if (h.correction - median).abs() < 3.0 * deviation + 2e-5 {
                top += h.weight * h.correction;
                bottom += h.weight;
            }
        }
        let correction = top / bottom;
        for h in harmonics.iter_mut() {
            h.apart_cents = 1200.0 * std::f64::consts::LOG2_E * (h.correction - correction);
        }
        self.learn(correction, known);
        self.last_hz = hz;
        Some(Refined { hz: hz * (1.0 + correction), disagreement: deviation })
    }

    /// Updates what is known of each harmonic from its distance to the consensus.
    fn learn(&mut self, consensus: f64, known: bool) {
        let base = |k: usize, h: &Harmonic| ((k + 1) * (k + 1)) as f64 * h.power;
        let most = self.harmonics.iter().enumerate().map(|(k, h)| base(k, h)).fold(0.0, f64::max);
        for (k, (h, learned)) in self.harmonics.iter().zip(&mut self.learned).enumerate() {
            let square = (h.correction - consensus).powi(2).min(MOST_SQUARE);
            if !known {
                // A first guess: weak harmonics are less sure.
                let guess = square + 4e-8 + 1e-6 * most / (base(k, h) + 1e-30);
                (learned.square, learned.power) = (guess.min(MOST_SQUARE), h.power);
            } else if learned.known {
                learned.square += self.rate * (square - learned.square);
                learned.power += self.rate * (h.power - learned.power);
            } else {
                (learned.square, learned.power) = (square, h.power);
            }
            learned.known = true;
        }
    }
}

/// The coarse pitch at each sample from index `first` on: straight lines between the points, held
/// beyond a leap of more than 120 cents and beyond the ends.
fn fill_track(out: &mut [f64], first: i64, hz: f64, track: &[Point]) {
    if track.is_empty() {
        out.fill(hz);
        return;
    }
    let mut right = 0;
    for (i, out) in out.iter_mut().enumerate() {
        let at = (first + i as i64) as f64;
        while right < track.len() && track[right].at < at {
            right += 1;
        }
        *out = if right == 0 {
            track[0].hz
        } else if right == track.len() {
            track[right - 1].hz
        } else {
            let (a, b) = (track[right - 1], track[right]);
            a.hz + (b.hz - a.hz) * (at - a.at) / (b.at - a.at)
        };
    }
}

/// `(cos x, sin x)` for `|x|` up to 0.8 by the power series, better than 1e-8.
#[inline]
fn small_turn(x: f64) -> (f64, f64) {
    let s = x * x;
    let cos =
        1.0 - s / 2.0 * (1.0 - s / 12.0 * (1.0 - s / 30.0 * (1.0 - s / 56.0 * (1.0 - s / 90.0))));
    let sin = x * (1.0 - s / 6.0 * (1.0 - s / 20.0 * (1.0 - s / 42.0 * (1.0 - s / 72.0))));
    (cos, sin)
}

/// Lanes of the inner loop.
const LANES: usize = 8;

/// Lengthens the used part to whole lanes with zeros.
fn pad(used: std::ops::Range<usize>, signals: &mut [&mut Vec<f32>; 2]) -> std::ops::Range<usize> {
    let end = used.start + (used.end - used.start).next_multiple_of(LANES);
    for signal in signals {
        signal[used.end..end].fill(0.0);
    }
    used.start..end
}

/// `Σ w z` and `Σ d z` for the phasor `z`, which is then turned by `step` for the next harmonic.
#[inline]
fn correlate_and_turn(
    w: &[f32],
    d: &[f32],
    step: (&[f32], &[f32]),
    z: (&mut [f32], &mut [f32]),
) -> [f64; 4] {
    let mut sums = [[0.0_f32; LANES]; 4];
    let chunks = w.as_chunks::<LANES>().0.iter().zip(d.as_chunks::<LANES>().0);
    let steps = step.0.as_chunks::<LANES>().0.iter().zip(step.1.as_chunks::<LANES>().0);
    let turns = z.0.as_chunks_mut::<LANES>().0.iter_mut().zip(z.1.as_chunks_mut::<LANES>().0);
    for (((w, d), (sr, si)), (zr, zi)) in chunks.zip(steps).zip(turns) {
        for i in 0..LANES {
            let (re, im) = (zr[i], zi[i]);
            sums[0][i] += w[i] * re;
            sums[1][i] += w[i] * im;
            sums[2][i] += d[i] * re;
            sums[3][i] += d[i] * im;
            zr[i] = re * sr[i] - im * si[i];
            zi[i] = re * si[i] + im * sr[i];
        }
    }
    sums.map(|lanes| lanes.iter().map(|&x| f64::from(x)).sum())
}

/// The correction at which half the weight is reached.
fn weighted_median(harmonics: &[Harmonic], order: &mut Vec<usize>, sum: f64) -> f64 {
    order.clear();
    order.extend((0..harmonics.len()).filter(|&k| harmonics[k].weight > 0.0));
    order.sort_unstable_by(|&a, &b| harmonics[a].correction.total_cmp(&harmonics[b].correction));
    let mut reached = 0.0;
    for &k in order.iter() {
        reached += harmonics[k].weight;
        if reached >= 0.5 * sum {
            return harmonics[k].correction;
        }
    }
    0.0
}
