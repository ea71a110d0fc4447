//! The harmonics of one note, each turned back along the pitch that was told: what is left of their motion is what the
//! room, and the errors of that pitch, have made of them.

use crate::filter::{between, integral, kaiser_low_pass, low_pass, low_pass_gain, power};
use crate::gains::{Gains, Split};
use num_complex::Complex64;
use pitch::{HOP_SECS, SAMPLE_RATE};
use std::f64::consts::{LN_2, TAU};
use std::ops::{Range, RangeInclusive};
use tuning::{Cents, Hz, Secs};
use vibrato::median;

/// One cent as a share of a frequency.
pub(crate) const CENT: f64 = LN_2 / 1200.0;
/// A track is looked at within so many cents of the note's middle pitch, over holes of so many frames.
const NEAR_CENTS: f64 = 150.0;
const HOLE_FRAMES: usize = 6;
/// Cut-offs as multiples of the rate: of the motion, of the slow course below it, and of a harmonic's own swell. No motion
/// of a hand is quicker than the last.
const MOTION_CUT: f64 = 3.5;
const SLOW_CUT: f64 = 0.4;
const SWELL_CUT: f64 = 0.35;
const FASTEST_HZ: f64 = 40.0;
/// Frames by which a track is continued beyond its ends to be filtered, and seconds of a harmonic.
const REACH_FRAMES: usize = 60;
const REACH_SECS: f64 = 0.5;
/// Samples are looked at at a third of their rate, through so many weights.
const FEWER: usize = 3;
const FEWER_TAPS: usize = 61;
/// Half the band around each harmonic, in hertz and as a share of the pitch, and the low-pass that keeps it, as a multiple
/// of the band and as a share of the pitch at most.
const BAND_HZ: f64 = 40.0;
const BAND_SHARE: f64 = 0.3;
const CUT_BANDS: f64 = 1.35;
const CUT_SHARE: f64 = 0.42;
/// Below this band more of the harmonics are looked at.
const LOW_BAND_HZ: f64 = 30.0;
/// Harmonics whose swing to one side is below this share of the pitch, within this order and frequency...
const SWING_SHARE: f64 = 0.35;
/// (and below so many hertz: the copies lie too far apart in time to follow a wider one, so that of high, wide notes only
/// the lowest harmonics, of which there must be so many, can be explained)...
const SWING_HZ: f64 = 40.0;
const LEAST_ORDERS: f64 = 2.0;
const HIGHEST_ORDER: f64 = 40.0;
const HIGHEST_HZ: f64 = 5_000.0;
/// ...with this share of the strongest one's power; the best of them, by their power and the size of their swing.
const LEAST_POWER: f64 = 1e-3;
const MOST: usize = 14;
const MOST_LOW: usize = 20;
const ORDER_WEIGHT: f64 = 1.5;
const PLAIN_INDEX: f64 = 1.5;
/// Least swell of a harmonic, as a share of its mean power.
const LEAST_SWELL: f64 = 0.03;
/// The oldest copy of the sound that is asked for.
const OLDEST_SECS: f64 = 0.35;
/// A sine is tried at so many rates on either side of the told one, this share of it apart.
const RATES: i32 = 40;
const RATE_STEP: f64 = 0.001;
/// Points at which the low-pass's own response is known, up to so many times its cut-off.
const GATE_POINTS: usize = 60;
const GATE_REACH: f64 = 3.0;
/// The response matters for harmonics that swing through so much of the cut-off.
const GATED_SHARE: f64 = 0.85;

/// A vibrato as it was heard.
pub struct Heard<'a> {
    /// Samples at 48 kHz, full scale = 1, that hold the note and what lies around it.
    pub samples: &'a [f32],
    /// Time of the first of them.
    pub start: Secs,
    /// The pitch told for each frame, [`pitch::HOP_SECS`] apart, where one was told.
    pub track: &'a [Option<Hz>],
    /// Time of the first frame.
    pub track_start: Secs,
    /// Where the oscillations begin and end.
    pub from: Secs,
    /// See [`Heard::from`].
    pub to: Secs,
    /// Their rate.
    pub rate: Hz,
    /// Their mean width from trough to crest.
    pub width: Cents,
}

/// The harmonics of a note against a track of its pitch, `slow + swing` in cents about `middle_hz`.
#[derive(Clone)]
pub(crate) struct Harmonics {
    pub(crate) middle_hz: f64,
    pub(crate) rate_hz: f64,
    /// Radians a second of the fundamental to a cent.
    radians: f64,
    /// Values of each harmonic a second; the first lies where the track begins.
    pub(crate) per_sec: f64,
    pub(crate) slow: Vec<f64>,
    pub(crate) swing: Vec<f64>,
    pub(crate) orders: Vec<f64>,
    /// One row of values for each harmonic.
    values: Vec<Vec<Complex64>>,
    /// Those of them within the oscillations.
    pub(crate) within: Range<usize>,
    gate: Vec<f64>,
    gate_step_hz: f64,
    cut_hz: f64,
    /// How far from the middle pitch the track lay along which the harmonics were first turned back, in hertz.
    first_hz: Vec<f64>,
    /// What follows from the track.
    pub(crate) likely: Likely,
}

/// What the likelihood needs of the harmonics and their track.
#[derive(Clone, Default)]
pub(crate) struct Likely {
    /// Copies of the sound, the direct one included.
    pub(crate) copies: usize,
    /// Each harmonic's swell on the grid that begins one value before the oldest copy of the first value.
    swells: Vec<Vec<f64>>,
    /// Values within the oscillations, of power 1, turned about the middle pitch alone as the copies are.
    heard: Vec<Vec<Complex64>>,
    /// Phase of the track's slow course and of its swing, in radians of the fundamental, at each of its frames.
    swing_phase: Vec<f64>,
    /// Phase and cents of the slow course on the grid.
    slow_phase: Vec<f64>,
    slow_cents: Vec<f64>,
    /// Harmonics for which the low-pass's response matters.
    gated: Vec<bool>,
}

/// A motion tried: the track's swing times `size`, `earlier` by so many seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Tried {
    pub(crate) size: f64,
    pub(crate) earlier: f64,
}

/// A motion tried, on the grid of the copies: phase of the fundamental and its hertz from the middle.
struct Motion {
    phase: Vec<f64>,
    hz: Vec<f64>,
}

impl Harmonics {
    /// `None` where there is too little of the note to look at.
    pub(crate) fn new(heard: &Heard) -> Option<Self> {
        let rate_hz = heard.rate.get();
        let (begin, middle_hz, cents) = track(heard)?;
        let (slow, swing) = parted(&cents, rate_hz);
        let peak_hz = 0.5 * heard.width.get().max(4.0) * CENT * middle_hz;
        let band_hz = (BAND_SHARE * middle_hz).min(BAND_HZ);
        let cut_hz = (CUT_SHARE * middle_hz).min(CUT_BANDS * band_hz);
        let most = (SWING_SHARE * middle_hz / peak_hz)
            .min((SWING_HZ / peak_hz).max(LEAST_ORDERS))
            .min(HIGHEST_HZ / middle_hz);
        let orders: Vec<usize> = (1..=most.clamp(1.0, HIGHEST_ORDER) as usize).collect();

        let offset = begin - heard.start.get();
        let end = offset + (cents.len() - 1) as f64 * HOP_SECS;
        let sampled = |secs: f64| (secs.max(0.0) * f64::from(SAMPLE_RATE)) as usize;
        let samples = heard.samples.get(sampled(offset)..sampled(end).min(heard.samples.len()))?;
        let samples = fewer(samples);
        let sample_hz = f64::from(SAMPLE_RATE) / FEWER as f64;
        let track: Vec<f64> = slow.iter().zip(&swing).map(|(slow, swing)| slow + swing).collect();
        let step = (sample_hz / middle_hz.min(2.5 * band_hz)).round() as usize;
        let taps = if cut_hz < LOW_BAND_HZ {
            sample_hz / middle_hz * 10.0
        } else {
            sample_hz * 3.3 / cut_hz
        };
        let weights = kaiser_low_pass(taps as usize | 1, cut_hz / sample_hz);
        let mut phase = 0.0;
        let phases: Vec<f64> = (0..samples.len())
            .map(|n| {
                let cents = between(&track, n as f64 / sample_hz / HOP_SECS);
                phase = (phase + TAU * middle_hz * (1.0 + CENT * cents) / sample_hz) % TAU;
                phase
            })
            .collect();
        let values = turned_back(&samples, &phases, &orders, &weights, step);
        let per_sec = sample_hz / step as f64;
        let at = |j: usize| begin + j as f64 / per_sec;
        let count = values[0].len();
        let first = (0..count).find(|&j| at(j) >= heard.from.get())?;
        let within = first..(0..count).rfind(|&j| at(j) <= heard.to.get())? + 1;
        if within.len() < 8 {
            return None;
        }

        let index = peak_hz / rate_hz;
        let powers: Vec<f64> =
            values.iter().map(|row| power(row[within.clone()].iter().map(|y| y.norm()))).collect();
        let strongest = powers.iter().copied().fold(0.0, f64::max);
        let worth = |i: usize| {
            let order = orders[i] as f64;
            powers[i] * order.powf(ORDER_WEIGHT) * (order * index / PLAIN_INDEX).powi(2).min(1.0)
        };
        let mut chosen: Vec<usize> =
            (0..orders.len()).filter(|&i| powers[i] > LEAST_POWER * strongest).collect();
        chosen.sort_by(|&a, &b| worth(b).total_cmp(&worth(a)));
        chosen.truncate(if band_hz > LOW_BAND_HZ { MOST } else { MOST_LOW });
        chosen.sort_unstable();
        if chosen.is_empty() {
            return None;
        }

        let gate_step_hz = GATE_REACH * cut_hz / GATE_POINTS as f64;
        let middle = (weights.len() / 2) as f64;
        let response = |hz: f64| {
            let turn = TAU * hz / sample_hz;
            weights.iter().enumerate().map(|(i, w)| w * (turn * (i as f64 - middle)).cos()).sum()
        };
        let mut harmonics = Self {
            middle_hz,
            rate_hz,
            radians: TAU * middle_hz * CENT,
            per_sec,
            orders: chosen.iter().map(|&i| orders[i] as f64).collect(),
            values: chosen.iter().map(|&i| values[i].clone()).collect(),
            within,
            gate: (0..=GATE_POINTS).map(|i| response(i as f64 * gate_step_hz)).collect(),
            gate_step_hz,
            cut_hz,
            first_hz: (0..count)
                .map(|j| middle_hz * CENT * between(&track, j as f64 / per_sec / HOP_SECS))
                .collect(),
            slow,
            swing,
            likely: Likely::default(),
        };
        harmonics.settle();
        Some(harmonics)
    }

    /// The track's frame at value `j`, fractional and maybe before the first.
    fn frame(&self, j: f64) -> f64 {
        j / self.per_sec / HOP_SECS
    }

    /// Takes the slow drift that is common to all harmonics into the track, and learns what follows from it.
    fn settle(&mut self) {
        let slow_cut = SLOW_CUT * self.rate_hz / self.per_sec;
        let reach = (self.per_sec * REACH_SECS) as usize;
        let count = self.values[0].len();
        let mean_power = |row: &[Complex64]| power(row.iter().map(|y| y.norm()));
        for _ in 0..2 {
            let mut sums = vec![(0.0, 1e-30); count - 1];
            for (order, row) in self.orders.iter().zip(&self.values) {
                let weight = order / mean_power(row);
                for (sum, pair) in sums.iter_mut().zip(low_pass(row, slow_cut, reach).windows(2)) {
                    let turned = pair[1] * pair[0].conj();
                    sum.0 += weight * turned.im;
                    sum.1 += weight * order * turned.norm();
                }
            }
            let turns: Vec<f64> = sums.iter().map(|(im, re)| im.atan2(*re)).collect();
            let mut phase = 0.0;
            let phases: Vec<f64> = std::iter::once(0.0)
                .chain(turns.iter().map(|turn| {
                    phase += turn;
                    phase
                }))
                .collect();
            self.turn_back(|j| phases[j]);
            for (i, slow) in self.slow.iter_mut().enumerate() {
                let at = i as f64 * HOP_SECS * self.per_sec - 0.5;
                *slow += between(&turns, at) * self.per_sec / self.radians;
            }
        }

        let mut likely =
            Likely { copies: (OLDEST_SECS * self.per_sec) as usize + 1, ..Likely::default() };
        let before = likely.copies + 1;
        let grid = |j: usize| (self.within.start + j) as f64 - before as f64;
        let length = self.within.len() + before;
        let swell_cut = SWELL_CUT * self.rate_hz / self.per_sec;
        for row in &self.values {
            let within = &row[self.within.clone()];
            let least = LEAST_SWELL * mean_power(within);
            let powers: Vec<f64> = row.iter().map(Complex64::norm_sqr).collect();
            let smooth = low_pass(&powers, swell_cut, reach);
            let swell: Vec<f64> = smooth.iter().map(|power| power.max(least).sqrt()).collect();
            let scale = power(swell[self.within.clone()].iter().copied()).sqrt();
            let on_grid = |j| if grid(j) > 0.0 { between(&swell, grid(j)) / scale } else { 0.0 };
            likely.swells.push((0..length).map(on_grid).collect());
        }
        let slow_phase = integral(&self.slow, HOP_SECS * self.radians);
        likely.swing_phase = integral(&self.swing, HOP_SECS * self.radians);
        let frame = |j: usize| self.frame(j as f64);
        let track_phase =
            |j| between(&slow_phase, frame(j)) + between(&likely.swing_phase, frame(j));
        let track_phases: Vec<f64> = self.within.clone().map(track_phase).collect();
        for (order, row) in self.orders.iter().zip(&self.values) {
            let within = &row[self.within.clone()];
            let scale = 1.0 / mean_power(within).sqrt();
            let turned =
                |(y, phase): (&Complex64, &f64)| y * Complex64::from_polar(scale, order * phase);
            likely.heard.push(within.iter().zip(&track_phases).map(turned).collect());
        }
        let on_grid =
            |values: &[f64]| (0..length).map(|j| between(values, self.frame(grid(j)))).collect();
        (likely.slow_phase, likely.slow_cents) = (on_grid(&slow_phase), on_grid(&self.slow));
        let mut sizes: Vec<f64> = self.swing.iter().map(|cents| cents.abs()).collect();
        sizes.sort_by(f64::total_cmp);
        let wide = 1.15 * between(&sizes, 0.95 * (sizes.len() - 1) as f64) * self.middle_hz * CENT;
        likely.gated = self
            .orders
            .iter()
            .map(|order| 2.0 * order * wide > GATED_SHARE * self.cut_hz)
            .collect();
        self.likely = likely;
    }

    /// Turns each harmonic back by its order times a phase of the fundamental.
    fn turn_back(&mut self, phase: impl Fn(usize) -> f64) {
        for (order, row) in self.orders.iter().zip(&mut self.values) {
            for (j, value) in row.iter_mut().enumerate() {
                *value *= Complex64::cis(-order * phase(j));
            }
        }
    }

    /// The track with another motion in it, in cents at each frame.
    pub(crate) fn moved(&self, tried: Tried) -> Vec<f64> {
        let swing = |i: usize| between(&self.swing, i as f64 + tried.earlier / HOP_SECS);
        self.slow.iter().enumerate().map(|(i, slow)| slow + tried.size * swing(i)).collect()
    }

    /// The track as it is.
    pub(crate) fn track(&self) -> Vec<f64> {
        self.slow.iter().zip(&self.swing).map(|(slow, swing)| slow + swing).collect()
    }

    /// Takes `cents` for the track from here on.
    pub(crate) fn follow(&mut self, cents: &[f64]) {
        let change: Vec<f64> = cents.iter().zip(self.track()).map(|(new, old)| new - old).collect();
        let phase = integral(&change, HOP_SECS * self.radians);
        let per_frame = 1.0 / self.per_sec / HOP_SECS;
        self.turn_back(|j| between(&phase, j as f64 * per_frame));
        let (_, swing) = parted(cents, self.rate_hz);
        // What the filters lose stays with the slow course.
        self.slow = cents.iter().zip(&swing).map(|(cents, swing)| cents - swing).collect();
        self.swing = swing;
        self.settle();
    }

    /// Deviations expected of the copies' gains where the direct sound lies `ratio_db` above the late sound, which
    /// falls by 60 dB in `t60` seconds.
    pub(crate) fn expected(&self, ratio_db: f64, t60: f64) -> Vec<f64> {
        let fall =
            |l: usize| if l == 0 { 0.0 } else { (-13.8 * l as f64 / self.per_sec / t60).exp() };
        let falls: Vec<f64> = (0..self.likely.copies).map(fall).collect();
        let late = 10.0_f64.powf(-ratio_db / 10.0) / falls.iter().sum::<f64>();
        let deviation = |(l, fall): (usize, &f64)| if l == 0 { 1.0 } else { (late * fall).sqrt() };
        falls.iter().enumerate().map(deviation).collect()
    }

    fn motion(&self, tried: Tried) -> Motion {
        let likely = &self.likely;
        let before = likely.copies as f64 + 1.0;
        let ahead = tried.earlier / HOP_SECS;
        let frame = |j: usize| self.frame((self.within.start + j) as f64 - before) + ahead;
        let phase =
            |(j, slow): (usize, &f64)| slow + tried.size * between(&likely.swing_phase, frame(j));
        let hz = |(j, slow): (usize, &f64)| {
            self.middle_hz * CENT * (slow + tried.size * between(&self.swing, frame(j)))
        };
        Motion {
            phase: likely.slow_phase.iter().enumerate().map(phase).collect(),
            hz: likely.slow_cents.iter().enumerate().map(hz).collect(),
        }
    }

    /// The direct sound of harmonic `i` on the grid.
    fn direct(&self, i: usize, motion: &Motion) -> Vec<Complex64> {
        let order = self.orders[i];
        let value = |(swell, phase): (&f64, &f64)| Complex64::from_polar(*swell, order * phase);
        self.likely.swells[i].iter().zip(&motion.phase).map(value).collect()
    }

    /// Direct sound and copies of harmonic `i` as they pass the low-pass, `copies` in a row for each value heard.
    fn columns(&self, i: usize, motion: &Motion) -> Vec<Complex64> {
        let (order, copies) = (self.orders[i], self.likely.copies);
        let direct = self.direct(i, motion);
        let mut columns = Vec::with_capacity(self.within.len() * copies);
        for n in 0..self.within.len() {
            let at = n + 2..n + 2 + copies;
            if !self.likely.gated[i] {
                columns.extend(direct[at].iter().rev());
                continue;
            }
            let first_hz = self.first_hz[self.within.start + n];
            columns.extend(at.rev().map(|at| {
                let off = (order * (motion.hz[at] - first_hz)).abs() / self.gate_step_hz;
                let gate = if off >= GATE_POINTS as f64 { 0.0 } else { between(&self.gate, off) };
                direct[at] * gate
            }));
        }
        columns
    }

    /// Log likelihood of harmonic `i`, its own strength left open.
    fn log_likelihood(&self, i: usize, motion: &Motion, expected: &[f64], noise: f64) -> f64 {
        let likely = &self.likely;
        let (copies, heard) = (likely.copies, &likely.heard[i]);
        let mut gains = if likely.gated[i] {
            Gains::of(&self.columns(i, motion), heard, copies)
        } else {
            self.lagged(i, motion)
        };
        gains.weigh(expected, noise);
        let (log_det, explained) = gains.reduce();
        let count = heard.len() as f64;
        let total: f64 = heard.iter().map(Complex64::norm_sqr).sum();
        let left = (total - explained).max(1e-9);
        -count * (left / noise / count).ln() - (count - copies as f64) * noise.ln() - log_det
    }

    /// Normal equations of copies that all pass the low-pass: each product of two lags follows from the one before.
    fn lagged(&self, i: usize, motion: &Motion) -> Gains {
        let copies = self.likely.copies;
        let (first, count) = (copies + 1, self.within.len());
        let z = self.direct(i, motion);
        let split = Split::of(&z);
        let (mut first_row, mut b) = (Split::zeros(copies), Split::zeros(copies));
        for (n, heard) in self.likely.heard[i].iter().enumerate() {
            let lags = first + n + 1 - copies..first + n + 1;
            first_row.add(0, &split, lags.clone(), z[first + n]);
            b.add(0, &split, lags, *heard);
        }
        let mut gains = Gains::new(copies);
        for l in 0..copies {
            gains.a[l] = first_row.at(copies - 1 - l);
            gains.b[l] = b.at(copies - 1 - l).conj();
        }
        for l in 0..copies - 1 {
            for m in l..copies - 1 {
                let begins = z[first - 1 - l].conj() * z[first - 1 - m];
                let ends = z[first + count - 1 - l].conj() * z[first + count - 1 - m];
                gains.a[(l + 1) * copies + m + 1] = gains.a[l * copies + m] + begins - ends;
            }
        }
        gains
    }

    /// Log likelihood of a motion by the lowest `most` harmonics.
    pub(crate) fn likelihood(
        &self,
        tried: Tried,
        most: usize,
        expected: &[f64],
        noise: f64,
    ) -> f64 {
        let motion = self.motion(tried);
        let each = 0..self.orders.len().min(most);
        each.map(|i| self.log_likelihood(i, &motion, expected, noise)).sum()
    }

    /// What a motion makes of harmonic `i`: its direct part, what is left unexplained, and the gains' powers.
    pub(crate) fn explain(
        &self,
        tried: Tried,
        most: usize,
        expected: &[f64],
        noise: f64,
    ) -> Vec<Explained> {
        let motion = self.motion(tried);
        let explain = |i: usize| {
            let heard = &self.likely.heard[i];
            let columns = self.columns(i, &motion);
            let mut gains = if self.likely.gated[i] {
                Gains::of(&columns, heard, expected.len())
            } else {
                self.lagged(i, &motion)
            };
            gains.weigh(expected, noise);
            let mut gains = gains.solve();
            gains.iter_mut().zip(expected).for_each(|(gain, expected)| *gain *= expected);
            let rows = columns.chunks_exact(expected.len());
            let made = rows
                .clone()
                .map(|row| row.iter().zip(&gains).map(|(m, g)| m * g).sum::<Complex64>());
            let left: Vec<Complex64> =
                heard.iter().zip(made).map(|(heard, made)| heard - made).collect();
            Explained {
                direct: rows.map(|row| row[0] * gains[0]).collect(),
                unexplained: power(left.iter().map(|left| left.norm())),
                left,
                powers: gains.iter().map(Complex64::norm_sqr).collect(),
            }
        };
        (0..self.orders.len().min(most)).map(explain).collect()
    }

    /// What the direct sound still swings beside the track, in cents at each of its frames: the phase that the harmonics
    /// share once the late sound is taken off. Only the lowest `most` are asked.
    pub(crate) fn still_swings(
        &self,
        most: usize,
        expected: &[f64],
        noise: f64,
        cut: f64,
    ) -> (Vec<f64>, f64) {
        let explained = self.explain(Tried { size: 1.0, earlier: 0.0 }, most, expected, noise);
        let count = self.within.len();
        let (mut turned, mut weight) = (vec![0.0; count], vec![0.0; count]);
        for (order, explained) in self.orders.iter().zip(&explained) {
            let trust = order / (explained.unexplained + 0.01);
            for n in 0..count {
                turned[n] += trust * (explained.left[n] * explained.direct[n].conj()).im;
                weight[n] += trust * order * explained.direct[n].norm_sqr();
            }
        }
        let floor = 0.1 * weight.iter().sum::<f64>() / count as f64;
        let phase: Vec<f64> =
            turned.iter().zip(&weight).map(|(t, w)| (t / (w + floor)).clamp(-0.7, 0.7)).collect();
        let slope = |n: usize| {
            let (from, to) = (n.saturating_sub(1), (n + 1).min(count - 1));
            (phase[to] - phase[from]) / (to - from) as f64
        };
        let cents = |n: usize| {
            let edge = n.min(count - 1 - n) as f64 / self.per_sec * self.rate_hz * 4.0;
            slope(n) * self.per_sec / self.radians * edge.min(1.0)
        };
        let cents: Vec<f64> = (0..count).map(cents).collect();
        let at = |i: usize| i as f64 * HOP_SECS * self.per_sec - self.within.start as f64;
        let on_frame = |i: usize| match at(i) {
            at if at < 0.0 || at > (count - 1) as f64 => 0.0,
            at => between(&cents, at),
        };
        let cents: Vec<f64> = (0..self.slow.len()).map(on_frame).collect();
        let cut = (cut * self.rate_hz).min(FASTEST_HZ) * HOP_SECS;
        let unexplained = median(explained.iter().map(|explained| explained.unexplained).collect())
            .unwrap_or_default();
        (low_pass(&cents, cut, REACH_FRAMES), unexplained)
    }

    /// How far a middling harmonic's own pitch follows the swing too much or too little, as a share of it.
    pub(crate) fn smear(&self) -> f64 {
        let times = self.within.start..self.within.end - 1;
        let swing: Vec<f64> =
            times.clone().map(|j| between(&self.swing, self.frame(j as f64 + 0.5))).collect();
        let count = swing.len();
        let slope = |n: usize| {
            let (from, to) = (n.saturating_sub(1), (n + 1).min(count - 1));
            (swing[to] - swing[from]) / (to - from).max(1) as f64
        };
        let of = |(order, row): (&f64, &Vec<Complex64>)| {
            let turned: Vec<Complex64> =
                times.clone().map(|j| row[j + 1] * row[j].conj()).collect();
            let mean = turned.iter().map(|turned| turned.norm()).sum::<f64>() / count as f64;
            // Weighted least squares of the harmonic's own cents on the swing, its slope and a constant.
            let (mut xx, mut xy) = ([[0.0; 3]; 3], [0.0; 3]);
            for (n, turned) in turned.iter().enumerate() {
                let weight = (turned.norm() / mean).min(2.0);
                let x = [swing[n], slope(n), 1.0];
                let y = turned.arg() * self.per_sec / self.radians / order;
                for a in 0..3 {
                    xy[a] += weight * x[a] * y;
                    for b in 0..3 {
                        xx[a][b] += weight * x[a] * x[b];
                    }
                }
            }
            let replaced: [[f64; 3]; 3] = std::array::from_fn(|a| [xy[a], xx[a][1], xx[a][2]]);
            (determinant(&replaced) / determinant(&xx)).abs()
        };
        median(self.orders.iter().zip(&self.values).map(of).collect()).unwrap_or_default()
    }

    /// The frames within the oscillations.
    fn frames_within(&self) -> RangeInclusive<usize> {
        let from = self.frame(self.within.start as f64).ceil() as usize;
        let to = self.frame((self.within.end - 1) as f64).floor() as usize;
        from..=to.min(self.slow.len() - 1)
    }

    /// Mean width of a track's motion from trough to crest, in cents: each crest and trough within a period.
    pub(crate) fn width(&self, cents: &[f64]) -> f64 {
        let (slow, _) = parted(cents, self.rate_hz);
        let within = self.frames_within();
        let swing: Vec<f64> = within.map(|i| cents[i] - slow[i]).collect();
        let period = ((1.0 / self.rate_hz / HOP_SECS).round() as usize).clamp(2, swing.len());
        let width = |cycle: &[f64]| {
            let crest = cycle.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            crest - cycle.iter().copied().fold(f64::INFINITY, f64::min)
        };
        let widths: Vec<f64> = swing.windows(period).map(width).collect();
        widths.iter().sum::<f64>() / widths.len() as f64
    }

    /// The track as the plainest motion would have it: an even sine, the one nearest to the swing, about a straight line.
    /// A room bends the swing and the slow course; most motions are nearer to this than to what it made of them.
    pub(crate) fn plainest(&self) -> Vec<f64> {
        let within = self.frames_within();
        let count = within.clone().count() as f64;
        let middle = 0.5 * (within.start() + within.end()) as f64;
        let level = self.slow[within.clone()].iter().sum::<f64>() / count;
        let (xx, xy) = within.clone().fold((1e-12, 0.0), |(xx, xy), i| {
            let x = i as f64 - middle;
            (xx + x * x, xy + x * self.slow[i])
        });
        let tilt = xy / xx;
        let fit = |n: i32| {
            let turn = TAU * self.rate_hz * (1.0 + RATE_STEP * f64::from(n)) * HOP_SECS;
            let [mut cc, mut cs, mut ss, mut cy, mut sy] = [0.0; 5];
            for i in within.clone() {
                let (sin, cos) = (turn * i as f64).sin_cos();
                cc += cos * cos;
                cs += cos * sin;
                ss += sin * sin;
                cy += cos * self.swing[i];
                sy += sin * self.swing[i];
            }
            let scale = 1.0 / (cc * ss - cs * cs).max(1e-12);
            let (a, b) = ((cy * ss - sy * cs) * scale, (sy * cc - cy * cs) * scale);
            (a * cy + b * sy, turn, a, b)
        };
        let (_, turn, a, b) =
            (-RATES..=RATES).map(fit).fold((f64::NEG_INFINITY, 0.0, 0.0, 0.0), |best, next| {
                if next.0 > best.0 { next } else { best }
            });
        let value = |i: usize| {
            let (sin, cos) = (turn * i as f64).sin_cos();
            level + tilt * (i as f64 - middle) + a * cos + b * sin
        };
        (0..self.slow.len()).map(value).collect()
    }
}

/// What a motion explains of a harmonic.
pub(crate) struct Explained {
    direct: Vec<Complex64>,
    left: Vec<Complex64>,
    /// Share of its power that is not explained.
    pub(crate) unexplained: f64,
    /// Power of the direct sound and of each copy.
    pub(crate) powers: Vec<f64>,
}

fn determinant(m: &[[f64; 3]; 3]) -> f64 {
    let minor = |a: usize, b: usize| m[1][a] * m[2][b] - m[1][b] * m[2][a];
    m[0][0] * minor(1, 2) - m[0][1] * minor(0, 2) + m[0][2] * minor(0, 1)
}

/// The note's track without holes: when it begins, its middle pitch in hertz, and cents about that at each frame.
fn track(heard: &Heard) -> Option<(f64, f64, Vec<f64>)> {
    let time = |i: usize| heard.track_start.get() + i as f64 * HOP_SECS;
    let inside = |i: usize| time(i) >= heard.from.get() && time(i) <= heard.to.get();
    let hz = |i: usize| heard.track[i].map(|hz| hz.get());
    let middle_hz = median((0..heard.track.len()).filter(|&i| inside(i)).filter_map(hz).collect())?;
    if middle_hz <= 0.0 {
        return None;
    }
    let cents = |i: usize| {
        let cents = 1200.0 * (hz(i)? / middle_hz).log2();
        (cents.abs() < NEAR_CENTS).then_some(cents)
    };
    let known: Vec<Option<f64>> = (0..heard.track.len()).map(cents).collect();
    let near = |range: Range<usize>| known[range].iter().any(Option::is_some);
    let middle = 0.5 * (heard.from.get() + heard.to.get()) - heard.track_start.get();
    let middle = ((middle / HOP_SECS).round() as usize).min(known.len() - 1);
    let (mut first, mut last) = (middle, middle);
    while first > 0 && near(first.saturating_sub(HOLE_FRAMES)..first) {
        first -= 1;
    }
    while last + 1 < known.len() && near(last + 1..(last + 1 + HOLE_FRAMES).min(known.len())) {
        last += 1;
    }
    let first = (first..=last).find(|&i| known[i].is_some())?;
    let last = (first..=last).rfind(|&i| known[i].is_some())?;
    let mut filled = Vec::with_capacity(last + 1 - first);
    let (mut before, mut after) = (first, first);
    for i in first..=last {
        if known[i].is_some() {
            before = i;
        }
        if after < i || known[after].is_none() {
            after = (i..=last).find(|&i| known[i].is_some())?;
        }
        let (from, to) = (known[before]?, known[after]?);
        let share =
            if after > before { (i - before) as f64 / (after - before) as f64 } else { 0.0 };
        filled.push(from + share * (to - from));
    }
    (filled.len() > 2 * HOLE_FRAMES).then_some((time(first), middle_hz, filled))
}

/// A track's slow course and its motion, both of the right size at the rate.
fn parted(cents: &[f64], rate_hz: f64) -> (Vec<f64>, Vec<f64>) {
    let (kept, slow_kept) = (low_pass_gain(1.0 / MOTION_CUT), low_pass_gain(1.0 / SLOW_CUT));
    let mut slow = low_pass(cents, SLOW_CUT * rate_hz * HOP_SECS, REACH_FRAMES);
    let quick = low_pass(cents, (MOTION_CUT * rate_hz).min(FASTEST_HZ) * HOP_SECS, REACH_FRAMES);
    let swing: Vec<f64> =
        quick.iter().zip(&slow).map(|(quick, slow)| (quick - slow) / (kept - slow_kept)).collect();
    slow.iter_mut().zip(&swing).for_each(|(slow, swing)| *slow -= slow_kept * swing);
    (slow, swing)
}

/// Every third sample, once what is too high for that is taken out.
fn fewer(samples: &[f32]) -> Vec<f64> {
    let weights = kaiser_low_pass(FEWER_TAPS, 0.5 / FEWER as f64);
    let half = FEWER_TAPS / 2;
    let value = |at: usize| {
        let from = at.saturating_sub(half);
        let to = (at + half + 1).min(samples.len());
        let weights = &weights[from + half - at..];
        samples[from..to].iter().zip(weights).map(|(x, w)| f64::from(*x) * w).sum()
    };
    (0..samples.len()).step_by(FEWER).map(value).collect()
}

/// Each harmonic turned back by its order times `phases`, through the weights of a low-pass, at every `step`th sample.
fn turned_back(
    samples: &[f64],
    phases: &[f64],
    orders: &[usize],
    weights: &[f64],
    step: usize,
) -> Vec<Vec<Complex64>> {
    let half = weights.len() / 2;
    let back: Vec<Complex64> = phases.iter().map(|phase| Complex64::cis(-phase)).collect();
    let places: Vec<usize> = (0..samples.len()).step_by(step).collect();
    let mut values = vec![vec![Complex64::ZERO; places.len()]; orders.len()];
    let mut sums = vec![Complex64::ZERO; orders.len()];
    for (j, &at) in places.iter().enumerate() {
        sums.fill(Complex64::ZERO);
        let from = at.saturating_sub(half);
        let to = (at + half + 1).min(samples.len());
        for n in from..to {
            let mut turned = Complex64::new(weights[n + half - at] * samples[n], 0.0);
            for sum in &mut sums {
                turned *= back[n];
                *sum += turned;
            }
        }
        values.iter_mut().zip(&sums).for_each(|(row, sum)| row[j] = *sum);
    }
    values
}
