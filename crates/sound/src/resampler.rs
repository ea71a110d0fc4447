//! From one sample rate to another, exactly in time: output sample `n` stands at `n / to_hz` of the input.

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{
    Async, FixedAsync, Indexing, Resampler as _, SincInterpolationParameters,
    SincInterpolationType, WindowFunction, calculate_cutoff,
};
use thiserror::Error;

/// Sample rates that are taken, in Hz: from telephone sound to the fastest studio rate.
pub const RATES_HZ: std::ops::RangeInclusive<u32> = 8_000..=192_000;

/// Length of the filter in samples of the slower side: with a squared Blackman-Harris window a
/// stop band below -100 dB and, at 44.1 kHz, a pass band that ends above 19 kHz.
const FILTER: usize = 256;

/// Most filter phases that are kept one by one; rates with more phases are interpolated.
const PHASES: usize = 1_280;

/// Phases kept where they are interpolated (cubic), for rates like 44 101 Hz.
const PHASES_INTERPOLATED: usize = 256;

/// How often a second the filter is given a chunk of input: 1.3 ms each, late enough to be cheap.
const CHUNKS_A_SECOND: u32 = 750;

/// Zeros pushed at a time where the filter is emptied.
const ZEROS: [f32; 64] = [0.0; 64];

/// How far output may stand from its place, in output samples, for rates whose phases are
/// interpolated; the others stand exactly.
const MISPLACED: f64 = 5e-4;

/// What can be wrong with a pair of rates.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ResamplerError {
    /// A rate outside [`RATES_HZ`].
    #[error("cannot convert from {from_hz} Hz to {to_hz} Hz; use rates from 8000 to 192000 Hz")]
    Rates {
        /// Rate of the input in Hz.
        from_hz: u32,
        /// Rate of the output in Hz.
        to_hz: u32,
    },
}

/// Resamples one channel as it comes.
///
/// The numbers that come out depend only on the samples, not on the sizes of the blocks in which
/// they were pushed. Output sample `n` is the value of the band-limited input at `n / to_hz`
/// seconds; the delay of the filter is taken out. Equal rates pass through untouched.
///
/// Filter: windowed sinc, `FILTER` samples of the slower rate.
pub struct Resampler {
    from_hz: u32,
    to_hz: u32,
    filter: Option<Filter>,
    /// Samples in since the start, lost ones included.
    taken: u64,
    /// Samples out since the start, lost ones included.
    given: u64,
}

/// The filter of a real change of rate.
struct Filter {
    engine: Async<f32>,
    /// Input waiting for a full chunk.
    chunk: Vec<Vec<f32>>,
    waiting: usize,
    output: Vec<Vec<f32>>,
    /// Input samples after which the phases repeat, and output samples in that time:
    /// both rates over their greatest common divisor.
    turn: u64,
    turn_out: u64,
    /// Half the filter, in input samples.
    half: f64,
    /// Zeros ahead of the first sample, so that an output sample falls on it,
    /// and the output samples before that one.
    lead: usize,
    lead_out: usize,
    /// Output samples still to be dropped at the start of a run.
    drop: usize,
}

impl Resampler {
    /// A resampler of one channel; see [`RATES_HZ`] for what is taken.
    pub fn new(from_hz: u32, to_hz: u32) -> Result<Self, ResamplerError> {
        let refused = ResamplerError::Rates { from_hz, to_hz };
        if !RATES_HZ.contains(&from_hz) || !RATES_HZ.contains(&to_hz) {
            return Err(refused);
        }
        let filter =
            if from_hz == to_hz { None } else { Some(Filter::new(from_hz, to_hz).ok_or(refused)?) };
        let mut new = Self { from_hz, to_hz, filter, taken: 0, given: 0 };
        new.start();
        Ok(new)
    }

    /// Longest time from a sample pushed until its like comes out, in seconds.
    pub fn delay_secs(&self) -> f64 {
        let samples = match &self.filter {
            // Half the filter, a chunk being filled, the sample itself.
            Some(filter) => filter.half + filter.chunk[0].len() as f64 + 1.0,
            None => return 0.0,
        };
        samples / f64::from(self.from_hz) + 1.0 / f64::from(self.to_hz)
    }

    /// Rate of the samples pushed, in Hz.
    pub fn from_hz(&self) -> u32 {
        self.from_hz
    }

    /// Rate of the samples that come out, in Hz.
    pub fn to_hz(&self) -> u32 {
        self.to_hz
    }

    /// Takes `input` and appends to `out` what has become certain. Allocates only where `out` grows.
    pub fn push(&mut self, input: &[f32], out: &mut Vec<f32>) {
        let before = out.len();
        self.taken = self.taken.saturating_add(input.len() as u64);
        match &mut self.filter {
            Some(filter) => filter.push(input, out),
            None => out.extend_from_slice(input),
        }
        self.given += (out.len() - before) as u64;
    }

    /// `lost` input samples are missing here: appends to `out` the end of what was heard before
    /// them and returns how many output samples are missing after that. Later samples stand in
    /// their right place again.
    pub fn skip(&mut self, lost: u64, out: &mut Vec<f32>) -> u64 {
        self.flush(out);
        self.taken = self.taken.saturating_add(lost);
        let missing = self.due() - self.given;
        self.given += missing;
        self.start();
        missing
    }

    /// End of the sound: appends to `out` what is still inside. The whole output then has
    /// `ceil(input · to_hz / from_hz)` samples. The resampler is ready for a new sound.
    pub fn finish(&mut self, out: &mut Vec<f32>) {
        self.flush(out);
        self.taken = 0;
        self.given = 0;
        self.start();
    }

    /// Output samples that stand before the end of the input.
    fn due(&self) -> u64 {
        let due = u128::from(self.taken) * u128::from(self.to_hz);
        u64::try_from(due.div_ceil(u128::from(self.from_hz))).unwrap_or(u64::MAX)
    }

    fn flush(&mut self, out: &mut Vec<f32>) {
        let missing = (self.due() - self.given) as usize;
        let whole = out.len() + missing;
        if let Some(filter) = &mut self.filter {
            while out.len() < whole {
                filter.push(&ZEROS, out);
            }
        }
        out.truncate(whole);
        self.given += missing as u64;
    }

    /// Begins a run at the present place in the input.
    fn start(&mut self) {
        if let Some(filter) = &mut self.filter {
            filter.start(self.taken);
        }
    }
}

impl Filter {
    fn new(from_hz: u32, to_hz: u32) -> Option<Self> {
        let common = gcd(from_hz, to_hz);
        let turn = u64::from(from_hz / common);
        let phases = (to_hz / common) as usize;
        let exact = phases <= PHASES;
        let oversampling = if exact { phases } else { PHASES_INTERPOLATED };
        let slower = f64::from(from_hz.max(to_hz)) / f64::from(to_hz);
        let length = ((FILTER as f64 * slower) as usize).next_multiple_of(8);
        let cutoff: f32 = calculate_cutoff(FILTER, WindowFunction::BlackmanHarris2);
        let parameters = SincInterpolationParameters::new(length, WindowFunction::BlackmanHarris2)
            .f_cutoff(cutoff)
            .oversampling_factor(oversampling)
            .interpolation(if exact {
                SincInterpolationType::Nearest
            } else {
                SincInterpolationType::Cubic
            });
        let chunk = (from_hz / CHUNKS_A_SECOND) as usize;
        let ratio = f64::from(to_hz) / f64::from(from_hz);
        let engine = Async::new_sinc(ratio, 1.0, &parameters, chunk, 1, FixedAsync::Input).ok()?;
        let output = vec![vec![0.0; engine.output_frames_max()]];
        // Its output sample `k` stands at `(k + 1) / ratio - shift` in the input; the second term
        // is there because its table of phases is one phase ahead of its index.
        let half = length as f64 / 2.0;
        let shift = half - 1.0 / oversampling as f64;
        let lead = lead(ratio, shift, turn);
        let lead_out = ((lead as f64 + shift) * ratio).round() as usize - 1;
        Some(Self {
            engine,
            chunk: vec![vec![0.0; chunk]],
            waiting: 0,
            output,
            turn,
            turn_out: phases as u64,
            half,
            lead,
            lead_out,
            drop: 0,
        })
    }

    /// Begins a run whose first sample is input sample `place` of the whole sound.
    fn start(&mut self, place: u64) {
        // As if `place` zeros had gone before; whole turns of them change nothing.
        let into_turn = place % self.turn;
        let zeros = self.lead + into_turn as usize;
        self.drop = self.lead_out + (into_turn * self.turn_out).div_ceil(self.turn) as usize;
        self.engine.reset();
        self.waiting = 0;
        let mut nothing = Vec::new();
        for _ in 0..zeros {
            self.push(&[0.0], &mut nothing);
        }
        debug_assert!(nothing.is_empty(), "only dropped samples before the first");
    }

    fn push(&mut self, mut input: &[f32], out: &mut Vec<f32>) {
        while !input.is_empty() {
            let chunk = &mut self.chunk[0];
            let count = input.len().min(chunk.len() - self.waiting);
            let (now, later) = input.split_at(count);
            chunk[self.waiting..self.waiting + count].copy_from_slice(now);
            self.waiting += count;
            input = later;
            if self.waiting == chunk.len() {
                self.waiting = 0;
                self.filter_chunk(out);
            }
        }
    }

    fn filter_chunk(&mut self, out: &mut Vec<f32>) {
        let (chunk, room) = (self.chunk[0].len(), self.output[0].len());
        let source = SequentialSliceOfVecs::new(&self.chunk, 1, chunk);
        let target = SequentialSliceOfVecs::new_mut(&mut self.output, 1, room);
        let (Ok(source), Ok(mut target)) = (source, target) else {
            unreachable!("the buffers are as long as they say");
        };
        let made = self.engine.process_into_buffer(&source, &mut target, None::<&Indexing>);
        let Ok((_, made)) = made else {
            unreachable!("a full chunk and room for all that comes of it are always taken");
        };
        let dropped = made.min(self.drop);
        self.drop -= dropped;
        out.extend_from_slice(&self.output[0][dropped..made]);
    }
}

/// How many zeros to push ahead so that an output sample falls on the first input sample.
fn lead(ratio: f64, shift: f64, turn: u64) -> usize {
    let misplaced = |zeros: usize| {
        let outputs = (zeros as f64 + shift) * ratio;
        (outputs - outputs.round()).abs()
    };
    let most = turn.min(8_192) as usize;
    let near = (0..most).find(|&zeros| misplaced(zeros) < MISPLACED);
    near.unwrap_or_else(|| {
        let by_miss = |a: &usize, b: &usize| misplaced(*a).total_cmp(&misplaced(*b));
        (0..most).min_by(by_miss).unwrap_or(0)
    })
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Pairs heard in practice, and three that no small fraction describes.
    const PAIRS: [(u32, u32); 14] = [
        (44_100, 48_000),
        (48_000, 44_100),
        (8_000, 48_000),
        (11_025, 48_000),
        (16_000, 48_000),
        (22_050, 48_000),
        (32_000, 48_000),
        (88_200, 48_000),
        (96_000, 48_000),
        (176_400, 48_000),
        (192_000, 48_000),
        (44_101, 48_000),
        (47_999, 48_000),
        (8_001, 48_000),
    ];

    fn sine(freq_hz: f64, rate_hz: u32, phase: f64, count: usize) -> Vec<f32> {
        let step = TAU * freq_hz / f64::from(rate_hz);
        let value = |n: usize| (0.5 * (step * n as f64 + phase).sin()) as f32;
        (0..count).map(value).collect()
    }

    fn resampled(input: &[f32], block: usize, from_hz: u32, to_hz: u32) -> Vec<f32> {
        let mut resampler = Resampler::new(from_hz, to_hz).expect("rates in range");
        let mut out = Vec::new();
        for part in input.chunks(block) {
            resampler.push(part, &mut out);
        }
        resampler.finish(&mut out);
        out
    }

    /// Amplitude and phase (radians) of `freq_hz`, and the rms of all the rest, in the middle of `x`.
    fn tone_in(x: &[f32], freq_hz: f64, rate_hz: u32) -> (f64, f64, f64) {
        // Whole cycles would need care; a smooth window makes any length good to 1e-7.
        let (from, to) = (x.len() / 5, 4 * x.len() / 5);
        let span = (to - from) as f64;
        let step = TAU * freq_hz / f64::from(rate_hz);
        let (mut s, mut c, mut w_sum) = (0.0, 0.0, 0.0);
        for (i, &v) in x[from..to].iter().enumerate() {
            let u = TAU * (i as f64 + 0.5) / span;
            let w =
                0.35875 - 0.48829 * u.cos() + 0.14128 * (2.0 * u).cos() - 0.01168 * (3.0 * u).cos();
            let angle = step * (from + i) as f64;
            s += w * f64::from(v) * angle.sin();
            c += w * f64::from(v) * angle.cos();
            w_sum += w;
        }
        let (s, c) = (2.0 * s / w_sum, 2.0 * c / w_sum);
        let rest = x[from..to].iter().enumerate().map(|(i, &v)| {
            let angle = step * (from + i) as f64;
            (f64::from(v) - s * angle.sin() - c * angle.cos()).powi(2)
        });
        let rest = (rest.sum::<f64>() / span).sqrt();
        (s.hypot(c), c.atan2(s), rest)
    }

    #[test]
    fn a_tone_keeps_its_time_its_level_and_its_purity() {
        for (from_hz, to_hz) in PAIRS {
            for freq_hz in [65.41, 440.0, 2_637.0] {
                let input = sine(freq_hz, from_hz, 0.7, from_hz as usize);
                let out = resampled(&input, 441, from_hz, to_hz);
                let (amplitude, phase, rest) = tone_in(&out, freq_hz, to_hz);
                let late = (0.7 - phase) / TAU * f64::from(to_hz) / freq_hz;
                let level_db = 20.0 * (amplitude / 0.5).log10();
                let rest_db = 20.0 * (rest / (0.5 * 0.5_f64.sqrt())).log10();
                let what = format!(
                    "{freq_hz} Hz, {from_hz} -> {to_hz}: {late:.5} samples late, {level_db:.5} dB, rest {rest_db:.1} dB"
                );
                println!("{what}");
                assert!(late.abs() < 0.002, "{what}");
                assert!(level_db.abs() < 0.001, "{what}");
                assert!(rest_db < -100.0, "{what}");
            }
        }
    }

    #[test]
    fn the_pass_band_reaches_19_khz_from_44_1_khz() {
        for freq_hz in [15_000.0, 18_000.0, 19_000.0] {
            let out = resampled(&sine(freq_hz, 44_100, 0.0, 44_100), 64, 44_100, 48_000);
            let (amplitude, ..) = tone_in(&out, freq_hz, 48_000);
            let level_db = 20.0 * (amplitude / 0.5).log10();
            assert!(level_db.abs() < 0.01, "{freq_hz} Hz: {level_db:.4} dB");
        }
    }

    #[test]
    fn what_cannot_be_carried_over_is_stopped() {
        for (from_hz, freq_hz) in [(96_000, 25_500.0), (192_000, 25_500.0), (192_000, 70_000.0)] {
            let out =
                resampled(&sine(freq_hz, from_hz, 0.0, from_hz as usize), 64, from_hz, 48_000);
            let middle = &out[out.len() / 5..4 * out.len() / 5];
            let power = middle.iter().map(|&v| f64::from(v * v)).sum::<f64>() / middle.len() as f64;
            let left_db = 10.0 * (power / 0.125).log10();
            assert!(left_db < -100.0, "{freq_hz} Hz at {from_hz} Hz: {left_db:.1} dB is left");
        }
    }

    #[test]
    fn the_block_size_changes_nothing() {
        for (from_hz, to_hz) in
            [(44_100, 48_000), (96_000, 48_000), (44_101, 48_000), (48_000, 48_000)]
        {
            let input = sine(311.1, from_hz, 0.2, 20_000);
            let whole = resampled(&input, input.len(), from_hz, to_hz);
            for block in [1, 7, 64, 441, 4_096] {
                let other = resampled(&input, block, from_hz, to_hz);
                assert_eq!(other, whole, "block of {block}, {from_hz} Hz");
            }
        }
    }

    #[test]
    fn the_length_is_that_of_the_input() {
        for (from_hz, to_hz) in PAIRS {
            for count in [0_usize, 1, 2, 63, 64, 65, 1_000, 44_100] {
                let out = resampled(&vec![0.25; count], 100, from_hz, to_hz);
                let due = (count as u64 * u64::from(to_hz)).div_ceil(u64::from(from_hz));
                assert_eq!(out.len() as u64, due, "{count} samples, {from_hz} -> {to_hz}");
            }
        }
    }

    #[test]
    fn after_lost_samples_the_rest_stands_in_its_place() {
        for (from_hz, to_hz) in PAIRS {
            for lost in [1_usize, 5, 440, 44_100, 100_001] {
                let second = from_hz as usize;
                let input = sine(440.0, from_hz, 0.7, 2 * second + lost);
                let mut resampler = Resampler::new(from_hz, to_hz).expect("rates in range");
                let mut out = Vec::new();
                resampler.push(&input[..second], &mut out);
                let missing = resampler.skip(lost as u64, &mut out);
                let before = (f64::from(to_hz)).ceil() as usize;
                assert_eq!(out.len(), before, "all that was heard before the gap");
                let mut rest = Vec::new();
                resampler.push(&input[second + lost..], &mut rest);
                resampler.finish(&mut rest);
                let start = before + missing as usize;
                let due = (input.len() as u64 * u64::from(to_hz)).div_ceil(u64::from(from_hz));
                assert_eq!((start + rest.len()) as u64, due, "{from_hz} Hz, {lost} lost");
                let (_, phase, _) = tone_in(&rest, 440.0, to_hz);
                let expected = 0.7 + TAU * 440.0 * start as f64 / f64::from(to_hz);
                let late = (expected - phase + TAU / 2.0).rem_euclid(TAU) - TAU / 2.0;
                let late = late / TAU * f64::from(to_hz) / 440.0;
                assert!(
                    late.abs() < 0.002,
                    "{late:.5} samples late after {lost} lost at {from_hz} Hz"
                );
            }
        }
    }

    #[test]
    fn samples_come_out_no_later_than_stated() {
        for (from_hz, to_hz) in PAIRS {
            let mut resampler = Resampler::new(from_hz, to_hz).expect("rates in range");
            let mut out = Vec::new();
            let mut worst_secs: f64 = 0.0;
            for pushed in 1..=from_hz {
                resampler.push(&[0.1], &mut out);
                let in_secs = f64::from(pushed) / f64::from(from_hz);
                worst_secs = worst_secs.max(in_secs - out.len() as f64 / f64::from(to_hz));
            }
            let stated_secs = resampler.delay_secs();
            assert!(
                worst_secs <= stated_secs,
                "{from_hz} Hz: {worst_secs} s, stated {stated_secs} s"
            );
            assert!(stated_secs < 0.020, "{from_hz} Hz: {stated_secs} s is too late to play with");
        }
    }

    #[test]
    fn rates_beyond_reason_are_refused_in_words() {
        for (from_hz, to_hz) in [(0, 48_000), (7_999, 48_000), (48_000, 192_001)] {
            let refused = Resampler::new(from_hz, to_hz).err();
            assert_eq!(refused, Some(ResamplerError::Rates { from_hz, to_hz }));
        }
    }
}
