//! A chirp from the loudspeaker, and finding it again in what the microphone heard: how late the one hears
//! the other.

use std::f64::consts::{PI, TAU};

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

/// How long a chirp is.
pub const CHIRP_SECS: f64 = 0.15;
/// It rises evenly from the one to the other, in Hz: small loudspeakers play that, and hands and rooms make
/// little noise there.
const FROM_HZ: f64 = 1_000.0;
const TO_HZ: f64 = 7_000.0;
/// Its peak, in dB below full scale: that of a plain click of the metronome.
const LEVEL_DB: f64 = -24.0;
/// An echo may be louder than what comes straight, but not earlier: what is at least so loud beside the
/// loudest, and so much before it at most, is what came straight.
const STRAIGHT: f64 = 0.5;
const BEFORE_SECS: f64 = 0.012;
/// What is no chirp stands out by less: the largest of 10 s of noise is about 4 times the median.
const LEAST_SHARPNESS: f64 = 8.0;
const MOST_SHARPNESS: f64 = 1e6;

/// A chirp that was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundChirp {
    /// Where it starts, in samples; between two of them too.
    pub offset: f64,
    /// How far it stands out: its peak beside the median of all else, at least 8.
    pub sharpness: f64,
}

/// The samples of a chirp at `rate_hz`, full scale = 1.0. It rises from nothing and falls to nothing.
pub fn chirp(rate_hz: u32) -> Vec<f32> {
    let level = 10f64.powf(LEVEL_DB / 20.0);
    sweep(rate_hz, 0.0).map(|s| (level * s) as f32).collect()
}

/// An even sweep under a squared-sine (Hann) window, whose matched filter has no side peaks to speak of.
fn sweep(rate_hz: u32, phase: f64) -> impl Iterator<Item = f64> {
    let rate_hz = f64::from(rate_hz);
    let samples = (CHIRP_SECS * rate_hz) as usize;
    (0..samples).map(move |sample| {
        let secs = sample as f64 / rate_hz;
        let cycles = FROM_HZ * secs + 0.5 * (TO_HZ - FROM_HZ) / CHIRP_SECS * secs * secs;
        let window = (PI * secs / CHIRP_SECS).sin().powi(2);
        window * (TAU * cycles + phase).sin()
    })
}

/// Finds the one chirp in `samples` at `rate_hz`; `None` if there is none that stands out. Give it some
/// tenths of a second beside the chirp, and 30 s at most.
///
/// The matched filter of a sweep and of the same sweep a quarter of a cycle on give an envelope that does not
/// depend on what the loudspeaker and the microphone do to the phase.
pub fn find_chirp(samples: &[f32], rate_hz: u32) -> Option<FoundChirp> {
    let length = (CHIRP_SECS * f64::from(rate_hz)) as usize;
    let too_slow = f64::from(rate_hz) < 2.0 * TO_HZ;
    if samples.len() < length + 2 || too_slow {
        return None;
    }
    let size = (samples.len() + length).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let (there, back) = (planner.plan_fft_forward(size), planner.plan_fft_inverse(size));
    let heard = samples.iter().map(|s| f64::from(*s));
    let spectrum = spectrum_of(heard.map(|s| if s.is_finite() { s } else { 0.0 }), &*there)?;
    let mut envelope = vec![0.0; samples.len() - length + 1];
    for phase in [0.0, 0.5 * PI] {
        let sweep = spectrum_of(sweep(rate_hz, phase), &*there)?;
        let mut product: Vec<Complex<f64>> =
            spectrum.iter().zip(&sweep).map(|(heard, sweep)| heard * sweep.conj()).collect();
        // Both ends of such a spectrum are real, up to rounding.
        if let [first, .., last] = product.as_mut_slice() {
            (first.im, last.im) = (0.0, 0.0);
        }
        let mut matched = back.make_output_vec();
        back.process(&mut product, &mut matched).ok()?;
        for (sum, value) in envelope.iter_mut().zip(matched) {
            *sum += value * value;
        }
    }
    envelope.iter_mut().for_each(|power| *power = power.sqrt());
    found(&envelope, rate_hz)
}

fn spectrum_of(
    samples: impl Iterator<Item = f64>,
    plan: &dyn RealToComplex<f64>,
) -> Option<Vec<Complex<f64>>> {
    let mut padded: Vec<f64> = samples.collect();
    padded.resize(plan.len(), 0.0);
    let mut spectrum = plan.make_output_vec();
    plan.process(&mut padded, &mut spectrum).ok()?;
    Some(spectrum)
}

fn found(envelope: &[f64], rate_hz: u32) -> Option<FoundChirp> {
    let (loudest, peak) =
        envelope.iter().copied().enumerate().max_by(|a, b| a.1.total_cmp(&b.1))?;
    let mut sorted = envelope.to_vec();
    let middle = sorted.len() / 2;
    let (_, median, _) = sorted.select_nth_unstable_by(middle, f64::total_cmp);
    // Silence has neither.
    if peak < 1e-9 || peak < LEAST_SHARPNESS * *median {
        return None;
    }
    let sharpness = (peak / median.max(peak / MOST_SHARPNESS)).min(MOST_SHARPNESS);
    let before = (BEFORE_SECS * f64::from(rate_hz)) as usize;
    let is_peak = |at: &usize| {
        let value = envelope[*at];
        value >= STRAIGHT * peak
            && (*at == 0 || envelope[*at - 1] < value)
            && envelope.get(at + 1).is_none_or(|next| *next <= value)
    };
    let first = (loudest.saturating_sub(before)..=loudest).find(is_peak)?;
    let at = first as f64 + vertex(envelope, first);
    Some(FoundChirp { offset: at, sharpness })
}

/// How far the vertex of the parabola through a peak and its neighbours lies from it, in samples.
fn vertex(values: &[f64], at: usize) -> f64 {
    let Some([a, b, c]) = at
        .checked_sub(1)
        .and_then(|from| values.get(from..at + 2))
        .and_then(|three| <[f64; 3]>::try_from(three).ok())
    else {
        return 0.0;
    };
    let bend = a - 2.0 * b + c;
    if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}

/// Chirps as a stream of samples.
#[derive(Clone, Debug)]
pub struct Chirp {
    sound: Vec<f32>,
    spacing: u64,
    /// The next sample of the stream.
    now: u64,
    /// Chirps still to begin, and where the next one does.
    left: u32,
    next: u64,
    /// Where in the chirp that sounds it is.
    place: Option<usize>,
}

impl Chirp {
    /// Silent at first, at `rate_hz` samples a second.
    pub fn new(rate_hz: u32) -> Self {
        Self {
            sound: chirp(rate_hz),
            spacing: (Self::SPACING_SECS * f64::from(rate_hz)) as u64,
            now: 0,
            left: 0,
            next: 0,
            place: None,
        }
    }

    /// From the start of one to the start of the next: an echo has died away before.
    pub const SPACING_SECS: f64 = 0.7;

    /// So many chirps from now on; 0 ends them after the one that sounds.
    pub fn begin(&mut self, count: u32) {
        (self.left, self.next) = (count, self.now);
    }

    /// Adds its next samples to `out`, and tells on which sample of the stream each chirp starts.
    pub fn add(&mut self, out: &mut [f32], mut tell: impl FnMut(u64)) {
        if self.left == 0 && self.place.is_none() {
            self.now += out.len() as u64;
            return;
        }
        for sample in out {
            if self.left > 0 && self.now >= self.next {
                (self.place, self.left) = (Some(0), self.left - 1);
                self.next = self.now + self.spacing;
                tell(self.now);
            }
            if let Some(place) = self.place {
                match self.sound.get(place) {
                    Some(value) => {
                        *sample += value;
                        self.place = Some(place + 1);
                    }
                    None => self.place = None,
                }
            }
            self.now += 1;
        }
    }

    /// So many samples pass unplayed: the chirps wait.
    pub fn pass(&mut self, samples: u64) {
        self.now += samples;
        self.place = None;
        if self.left > 0 {
            self.next = self.next.max(self.now);
        }
    }

    /// Chirps that are still to begin.
    pub fn left(&self) -> u32 {
        self.left
    }

    /// A chirp has begun and is not over.
    pub fn is_sounding(&self) -> bool {
        self.place.is_some()
    }

    /// Nothing sounds, and nothing is to.
    pub fn is_silent(&self) -> bool {
        self.left == 0 && self.place.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Line, NoteSpec, Spec, VibratoSpec};
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;
    use tuning::{Cents, Hz, Secs};

    /// `secs` of noise of this level, with the chirp put in by `gain` at `offset` samples.
    fn heard(
        rate_hz: u32,
        secs: f64,
        noise_db: f64,
        gain: f64,
        offset: f64,
        seed: u64,
    ) -> Vec<f32> {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let level = 10f64.powf(noise_db / 20.0) * 3f64.sqrt();
        let mut out: Vec<f32> = (0..(secs * f64::from(rate_hz)) as usize)
            .map(|_| (level * chance.random_range(-1.0..1.0)) as f32)
            .collect();
        // Between samples by the exact formula.
        let rate = f64::from(rate_hz);
        for (number, sample) in out.iter_mut().enumerate() {
            let secs = (number as f64 - offset) / rate;
            if (0.0..CHIRP_SECS).contains(&secs) {
                let cycles = FROM_HZ * secs + 0.5 * (TO_HZ - FROM_HZ) / CHIRP_SECS * secs * secs;
                let window = (PI * secs / CHIRP_SECS).sin().powi(2);
                *sample += (gain * 0.063 * window * (TAU * cycles).sin()) as f32;
            }
        }
        out
    }

    /// Level of a chirp of gain 1: peak 0.063 under a Hann window.
    const RMS_DB: f64 = -31.3;

    #[test]
    fn it_is_found_between_samples_in_noise_as_loud_as_itself() {
        for (rate_hz, seed) in [(44_100, 1), (48_000, 2), (96_000, 3), (48_000, 4)] {
            for offset in [3_000.25, 12_345.5, 20_000.0] {
                for (snr_db, within_us) in [(40.0, 1.0), (10.0, 10.0), (0.0, 40.0)] {
                    let sound = heard(rate_hz, 1.0, RMS_DB - snr_db, 1.0, offset, seed);
                    let found = find_chirp(&sound, rate_hz).expect("it is there");
                    let off = 1e6 * (found.offset - offset) / f64::from(rate_hz);
                    assert!(off.abs() < within_us, "{rate_hz} Hz, {snr_db} dB: {off} us");
                    assert!(found.sharpness > 20.0, "{found:?}");
                }
            }
        }
    }

    #[test]
    fn nothing_is_found_where_there_is_none() {
        assert_eq!(find_chirp(&[0.0; 48_000], 48_000), None);
        assert_eq!(find_chirp(&[0.1; 100], 48_000), None);
        assert_eq!(find_chirp(&[f32::NAN; 48_000], 48_000), None);
        for seed in 0..10 {
            let noise = heard(48_000, 3.0, -30.0, 0.0, 0.0, seed);
            assert_eq!(find_chirp(&noise, 48_000), None, "seed {seed}");
        }
        let vibrato = VibratoSpec::regular(Hz(5.5), Cents(60.0));
        let note = NoteSpec::straight(Secs(0.1), Secs(2.8), Hz(440.0)).with(vibrato);
        let spec =
            Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() };
        let bowed = spec.render().expect("playable").samples;
        assert_eq!(find_chirp(&bowed, 48_000), None, "a bowed note is none");
    }

    #[test]
    fn what_comes_straight_is_found_before_a_louder_echo() {
        let mut sound = heard(48_000, 1.0, -60.0, 0.7, 10_000.0, 1);
        let echo = heard(48_000, 1.0, -120.0, 1.0, 10_200.0, 1);
        for (sample, echo) in sound.iter_mut().zip(echo) {
            *sample += echo;
        }
        let found = find_chirp(&sound, 48_000).expect("it is there");
        assert!((found.offset - 10_000.0).abs() < 2.0, "{found:?}");
    }

    #[test]
    fn the_stream_starts_each_where_it_says_and_stops_by_itself() {
        let mut chirp = Chirp::new(48_000);
        let mut out = vec![0.0; 4 * 48_000];
        let mut starts = Vec::new();
        chirp.add(&mut out[..1_000], |_| panic!("not asked for"));
        chirp.begin(3);
        for block in out[1_000..].chunks_mut(240) {
            chirp.add(block, |sample| starts.push(sample));
        }
        assert_eq!(starts, [1_000, 34_600, 68_200]);
        assert!(chirp.is_silent());
        for start in starts {
            let from = start as usize - 480;
            let found = find_chirp(&out[from..from + 20_000], 48_000).expect("it sounds");
            assert!((found.offset - 480.0).abs() < 0.01, "{found:?}");
        }
        let rest = out[68_200 + 7_200..].iter();
        assert!(rest.fold(0.0_f32, |m, s| m.max(s.abs())) == 0.0);
        let peak = out.iter().fold(0.0_f32, |m, s| m.max(s.abs()));
        assert!((0.05..0.064).contains(&peak), "{peak}");
    }
}
