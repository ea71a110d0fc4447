//! A recorded note that goes on for as long as it is wanted, at any pitch.

use std::collections::HashMap;
use std::ops::Range;
use std::path::Path;

use rubato::audioadapter_buffers::direct::SequentialSliceOfVecs;
use rubato::{
    Adjustable as _, Async, FixedAsync, Indexing, Resampler as _, SincInterpolationParameters,
    SincInterpolationType, WindowFunction, calculate_cutoff,
};

/// The rate of what is played, in Hz.
pub(super) const RATE_HZ: f64 = pitch::SAMPLE_RATE as f64;
/// Length of the filter in samples of the recording, and its phases.
const FILTER: usize = 128;
const PHASES: usize = 256;
/// The pitch is bent anew so often, in samples played: half a millisecond.
const CHUNK: usize = 24;
/// A note is bent by an octave at most.
const MOST: f64 = 2.0;

#[derive(Clone)]
/// One of the recorded notes of `tests/recordings`; `LICENSE.txt` there names their authors.
pub(super) struct Recorded {
    /// Its file without the ending.
    pub name: String,
    /// Its key as the bank has it.
    pub midi: i32,
    /// Whether the player vibrated.
    pub vibrated: bool,
    /// Mean pitch above `midi`, in cents, and its tolerance: of the repeated part of a vibrated note, of the
    /// natural part of a straight one. Two libraries' values, from `expected.csv`.
    pub centre: (f64, f64),
    /// After the attack and before what is repeated, in samples.
    pub natural: Range<f64>,
    /// Oscillations a second in the natural part, by the same libraries; 0 without vibrato.
    pub own_hz: f64,
    /// Samples a second.
    pub rate_hz: f64,
    samples: Vec<f32>,
    repeated: Range<usize>,
}

impl Recorded {
    /// All of them.
    pub(super) fn all() -> Vec<Self> {
        let table = folder().join("expected.csv");
        let mut table = csv::Reader::from_path(table).expect("the table of expected values");
        let rows = table.deserialize();
        rows.map(|row| Self::of(&row.expect("a row"))).collect()
    }

    fn of(row: &HashMap<String, String>) -> Self {
        let number = |column: &str| -> f64 { row[column].parse().expect("a number") };
        let (rate_hz, samples) = read(&folder().join(&row["file"]));
        assert_eq!(rate_hz, number("sample_rate"));
        let vibrated = row["vibrato"] == "yes";
        let centre = if vibrated {
            (number("looped_cents_vs_et440"), number("looped_tol_cents"))
        } else {
            (number("f0_cents_vs_et440"), number("f0_tol_cents"))
        };
        Self {
            name: row["file"].trim_end_matches(".wav").to_owned(),
            midi: number("midi") as i32,
            vibrated,
            centre,
            natural: number("seg_start_s") * rate_hz..number("seg_end_s") * rate_hz,
            own_hz: if vibrated { number("rate_hz") } else { 0.0 },
            rate_hz,
            samples,
            repeated: number("loop_start") as usize..number("loop_end") as usize,
        }
    }

    /// Oscillations a second where it is repeated: each time is one. That is so by the libraries' own tracks of
    /// the repeated part (harvest with stonemask: within 0.15 %, in all eight), and `looped_rate_hz` says the
    /// same.
    pub(super) fn cycle_hz(&self) -> f64 {
        self.rate_hz / self.repeated.len() as f64
    }

    /// The place, in samples of the recording, at which the repeated part has gone through so many cycles.
    pub(super) fn place(&self, cycles: f64) -> f64 {
        self.repeated.start as f64 + cycles * self.repeated.len() as f64
    }

    /// The opposite of [`Self::place`].
    pub(super) fn cycles(&self, place: f64) -> f64 {
        (place - self.repeated.start as f64) / self.repeated.len() as f64
    }

    /// The sample at a place, the end being repeated; silence before the first.
    fn sample(&self, place: i64) -> f32 {
        let Ok(place) = usize::try_from(place) else {
            return 0.0;
        };
        let Range { start, end } = self.repeated;
        let place = if place < end { place } else { start + (place - start) % (end - start) };
        self.samples[place]
    }

    /// Plays `secs` from `place` on, in samples of the recording. `bend` says how far the pitch is moved, in
    /// cents, for seconds played and the place reached.
    pub(super) fn play(
        &self,
        place: f64,
        secs: f64,
        mut bend: impl FnMut(f64, f64) -> f64,
    ) -> Vec<f32> {
        let plain = RATE_HZ / self.rate_hz;
        let cutoff: f32 = calculate_cutoff(FILTER, WindowFunction::BlackmanHarris2);
        let parameters = SincInterpolationParameters::new(FILTER, WindowFunction::BlackmanHarris2)
            // Raised by a fourth at most, nothing folds back into what is heard.
            .f_cutoff(0.75 * cutoff)
            .oversampling_factor(PHASES)
            .interpolation(SincInterpolationType::Cubic);
        let mut engine =
            Async::new_sinc(plain, MOST, &parameters, CHUNK, 1, FixedAsync::Output).expect("valid");
        let speed = |cents: f64| (cents / 1200.0).exp2() / plain;
        let mut now = speed(bend(0.0, place));
        let ratio = 1.0 / now;
        engine.set_resample_ratio(ratio, false).expect("in bounds");
        // The filter is filled from what lies before; that and half of it go by before the first sample.
        let lead = (1.5 * FILTER as f64 / now).round() as usize;
        let count = (secs * RATE_HZ).round() as usize;
        let (mut at, mut next) = (place, place.round() as i64 - FILTER as i64);
        let mut out = Vec::with_capacity(lead + count + CHUNK);
        while out.len() < lead + count {
            let played = (out.len() + CHUNK) as f64 - lead as f64;
            let then = if played > 0.0 { speed(bend(played / RATE_HZ, at)) } else { now };
            engine.set_resample_ratio(1.0 / then, true).expect("in bounds");
            let needed = engine.input_frames_next();
            let input = vec![(0..needed).map(|k| self.sample(next + k as i64)).collect()];
            next += needed as i64;
            let mut output = vec![vec![0.0; CHUNK]];
            let source = SequentialSliceOfVecs::new(&input, 1, needed).expect("so long");
            let mut target = SequentialSliceOfVecs::new_mut(&mut output, 1, CHUNK).expect("too");
            engine
                .process_into_buffer(&source, &mut target, None::<&Indexing>)
                .expect("buffers of the length asked for");
            out.extend_from_slice(&output[0]);
            if played > 0.0 {
                at += 0.5 * (now + then) * played.min(CHUNK as f64);
            }
            now = then;
        }
        out.drain(..lead);
        out.truncate(count);
        out
    }
}

fn folder() -> &'static Path {
    Path::new("recordings")
}

fn read(path: &Path) -> (f64, Vec<f32>) {
    let mut file = sound::Recording::open(path).expect("a recording");
    let mut samples = Vec::new();
    while let Some(block) = file.next_block().expect("readable") {
        samples.extend_from_slice(block.samples);
    }
    (f64::from(file.sample_rate_hz()), samples)
}
