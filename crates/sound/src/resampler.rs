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

/// Samples handed to the filter at a time, at up to 48 kHz.
const CHUNK: usize = 64;

/// How far output may stand from its place, in output samples: wanted, for rates whose phases are
/// interpolated (the others stand exactly), and still taken as being in place.
const MISPLACED_WANTED: f64 = 5e-4;
const MISPLACED_TAKEN: f64 = 1e-2;

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
/// Filter: windowed sinc, [`FILTER`] samples of the slower rate.
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
    /// Zeros ahead of the first sample, so that an output sample falls on it.
    lead: usize,
    /// Input samples after which the phases repeat: `from_hz / gcd(from_hz, to_hz)`.
    turn: u64,
    /// Where output sample `k` stands in the input: `(k + 1) · step - shift`, in input samples.
    step: f64,
    shift: f64,
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
        let filter = if from_hz == to_hz {
            None
        } else {
            Some(Filter::new(from_hz, to_hz).ok_or(refused)?)
        };
        let mut new = Self {
            from_hz,
            to_hz,
            filter,
            taken: 0,
            given: 0,
        };
        new.start();
        Ok(new)
    }

    /// Longest time from a sample pushed until its like comes out, in seconds.
    pub fn delay_secs(&self) -> f64 {
        let samples = match &self.filter {
            Some(filter) => filter.shift + filter.chunk[0].len() as f64,
            None => 0.0,
        };
        samples / f64::from(self.from_hz)
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
                filter.push(&[0.0; CHUNK], out);
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
        let chunk = CHUNK * (from_hz as usize).div_ceil(48_000);
        let ratio = f64::from(to_hz) / f64::from(from_hz);
        let engine = Async::new_sinc(ratio, 1.0, &parameters, chunk, 1, FixedAsync::Input).ok()?;
        let output = vec![vec![0.0; engine.output_frames_max()]];
        let step = 1.0 / ratio;
        // The library's table of phases is one phase ahead of its index, hence the second term.
        let shift = length as f64 / 2.0 - 1.0 / oversampling as f64;
        let lead = lead(step, shift, turn);
        Some(Self {
            engine,
            chunk: vec![vec![0.0; chunk]],
            waiting: 0,
            output,
            lead,
            turn,
            step,
            shift,
            drop: 0,
        })
    }

    /// Begins a run whose first sample is input sample `place` of the whole sound.
    fn start(&mut self, place: u64) {
        // As if `place` zeros had gone before; whole turns of them change nothing.
        let zeros = self.lead + (place % self.turn) as usize;
        self.engine.reset();
        self.waiting = 0;
        // First output at or after the first sample; a hair early counts as on it.
        let first = (zeros as f64 + self.shift) / self.step - MISPLACED_TAKEN;
        self.drop = first.ceil() as usize - 1;
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
        let made = self
            .engine
            .process_into_buffer(&source, &mut target, None::<&Indexing>);
        let Ok((_, made)) = made else {
            unreachable!("a full chunk and room for all that comes of it are always taken");
        };
        let dropped = made.min(self.drop);
        self.drop -= dropped;
        out.extend_from_slice(&self.output[0][dropped..made]);
    }
}

/// How many zeros to push ahead so that an output sample falls on the first input sample.
fn lead(step: f64, shift: f64, turn: u64) -> usize {
    let misplaced = |zeros: usize| {
        let outputs = (zeros as f64 + shift) / step;
        (outputs - outputs.round()).abs()
    };
    let most = turn.min(8_192) as usize;
    let near = (0..most).find(|&zeros| misplaced(zeros) < MISPLACED_WANTED);
    near.unwrap_or_else(|| {
        let by_miss = |a: &usize, b: &usize| misplaced(*a).total_cmp(&misplaced(*b));
        (0..most).min_by(by_miss).unwrap_or(0)
    })
}

fn gcd(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { gcd(b, a % b) }
}
