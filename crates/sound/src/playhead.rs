//! Reads sound that is there already as fast as it was played, or slower with its pitch kept, at the rate of
//! a loudspeaker.
//!
//! Stretching is the work of the library `timestretch`: Rust alone, so that it builds wherever we do, no
//! allocation once prepared, a place in the source for each sample it gives, and a seek that reads back far
//! enough to begin whole.

use std::sync::Arc;

use thiserror::Error;
use timestretch::{
    Parameters, PreparedSession, ProcessStatus, SessionConfig, SessionError, SourceAccess,
    StreamSession, TempoRate, Transport,
};

use crate::resampler::{RATES_HZ, Resampler, ResamplerError};

/// Speeds that can be read at, 1 being as it was played.
pub const SPEEDS: std::ops::RangeInclusive<f64> = 0.125..=1.0;
/// Rates the library takes, and the one used where another is asked for.
const STRETCH_HZ: std::ops::RangeInclusive<u32> = 32_000..=192_000;
const USUAL_HZ: u32 = 48_000;
/// Samples pushed at a time.
const BLOCK: usize = 1_024;
/// Steps of its work the library does at a time.
const QUOTA: usize = 8;
/// The library gives something within so many turns, or never.
const MOST_TURNS: usize = 10_000;

/// Why sound cannot be read.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PlayheadError {
    /// A rate that is not known.
    #[error(transparent)]
    Rate(#[from] ResamplerError),
    /// A speed outside [`SPEEDS`].
    #[error("cannot play at {speed} times the speed; use 0.125 to 1")]
    Speed {
        /// The speed asked for.
        speed: f64,
    },
    /// The library does not do it.
    #[error("the sound cannot be played slower ({reason}); play it at its own speed")]
    Stretch {
        /// Its reason.
        reason: String,
    },
}

impl From<SessionError> for PlayheadError {
    fn from(error: SessionError) -> Self {
        Self::Stretch { reason: error.to_string() }
    }
}

/// Reads one channel of samples from a place on.
pub struct Playhead {
    samples: Arc<[f32]>,
    rate_hz: u32,
    speed: f64,
    out_rate_hz: u32,
    reader: Reader,
    /// What has been read and not been given out yet, and how much of it has been.
    ready: Vec<f32>,
    taken: usize,
    /// Where it was set to, in seconds of the sound, and samples given out since.
    from_secs: f64,
    given: u64,
}

enum Reader {
    /// As fast as it was played: the resampler, and the next sample to go into it.
    Plain(Box<Resampler>, usize),
    /// Slower.
    Slow(Box<Slow>),
}

struct Slow {
    session: StreamSession,
    /// The sound where the library does not take its rate.
    converted: Option<Vec<f32>>,
    rate_hz: u32,
    /// From what the library gives to the loudspeaker's rate.
    after: Resampler,
    block: Vec<f32>,
}

impl Playhead {
    /// Reads `samples` (full scale = 1.0) of `rate_hz` from their start on at `speed`, and gives them at
    /// `out_rate_hz`.
    pub fn new(
        samples: Arc<[f32]>,
        rate_hz: u32,
        speed: f64,
        out_rate_hz: u32,
    ) -> Result<Self, PlayheadError> {
        if !SPEEDS.contains(&speed) {
            return Err(PlayheadError::Speed { speed });
        }
        let reader = if speed == 1.0 {
            Reader::Plain(Box::new(Resampler::new(rate_hz, out_rate_hz)?), 0)
        } else {
            Reader::Slow(Box::new(Slow::new(&samples, rate_hz, speed, out_rate_hz)?))
        };
        Ok(Self {
            samples,
            rate_hz,
            speed,
            out_rate_hz,
            reader,
            ready: Vec::with_capacity(8 * BLOCK),
            taken: 0,
            from_secs: 0.0,
            given: 0,
        })
    }

    /// Goes on from here, in seconds of the sound.
    pub fn seek(&mut self, secs: f64) -> Result<(), PlayheadError> {
        let last = self.samples.len() as f64 / f64::from(self.rate_hz);
        let secs = if secs.is_nan() { 0.0 } else { secs }.clamp(0.0, last);
        let place = secs * f64::from(self.rate_hz);
        match &mut self.reader {
            Reader::Plain(resampler, next) => {
                **resampler = Resampler::new(self.rate_hz, self.out_rate_hz)?;
                *next = place.round() as usize;
                self.from_secs = *next as f64 / f64::from(self.rate_hz);
            }
            Reader::Slow(slow) => self.from_secs = slow.seek(secs)?,
        }
        self.ready.clear();
        (self.taken, self.given) = (0, 0);
        Ok(())
    }

    /// Where in the sound the next sample lies, in seconds of the sound.
    pub fn place_secs(&self) -> f64 {
        self.from_secs + self.given as f64 * self.speed / f64::from(self.out_rate_hz)
    }

    /// How fast it reads.
    pub fn speed(&self) -> f64 {
        self.speed
    }

    /// Writes the next samples to `out` and says how many; less than asked for at the end only.
    pub fn read(&mut self, out: &mut [f32]) -> usize {
        let mut count = 0;
        while count < out.len() {
            if self.taken == self.ready.len() {
                self.ready.clear();
                self.taken = 0;
                let more = match &mut self.reader {
                    Reader::Plain(resampler, next) => {
                        push_next(resampler, &self.samples, next, &mut self.ready)
                    }
                    Reader::Slow(slow) => slow.read(&self.samples, &mut self.ready),
                };
                if !more {
                    break;
                }
            }
            let part = (out.len() - count).min(self.ready.len() - self.taken);
            out[count..count + part].copy_from_slice(&self.ready[self.taken..self.taken + part]);
            self.taken += part;
            count += part;
        }
        self.given += count as u64;
        count
    }
}

/// Pushes one block; `false` once there is none.
fn push_next(
    resampler: &mut Resampler,
    samples: &[f32],
    next: &mut usize,
    ready: &mut Vec<f32>,
) -> bool {
    let left = &samples[(*next).min(samples.len())..];
    if left.is_empty() {
        if *next > samples.len() {
            return false;
        }
        *next = samples.len() + 1;
        resampler.finish(ready);
        return !ready.is_empty();
    }
    let block = &left[..left.len().min(BLOCK)];
    resampler.push(block, ready);
    *next += block.len();
    true
}

impl Slow {
    fn new(
        samples: &[f32],
        rate_hz: u32,
        speed: f64,
        out_rate_hz: u32,
    ) -> Result<Self, PlayheadError> {
        if !RATES_HZ.contains(&rate_hz) || !RATES_HZ.contains(&out_rate_hz) {
            return Err(ResamplerError::Rates { from_hz: rate_hz, to_hz: out_rate_hz }.into());
        }
        let converted = if STRETCH_HZ.contains(&rate_hz) {
            None
        } else {
            let mut converted = Vec::new();
            let mut resampler = Resampler::new(rate_hz, USUAL_HZ)?;
            resampler.push(samples, &mut converted);
            resampler.finish(&mut converted);
            Some(converted)
        };
        let rate_hz = if converted.is_some() { USUAL_HZ } else { rate_hz };
        let given_hz = if STRETCH_HZ.contains(&out_rate_hz) { out_rate_hz } else { USUAL_HZ };
        let length = converted.as_ref().map_or(samples.len(), Vec::len);
        let session = PreparedSession::new(SessionConfig {
            source_sample_rate: rate_hz,
            output_sample_rate: given_hz,
            channels: 1,
            source_access: SourceAccess::Seekable,
            source_frames: Some(length as u64),
            parameters: Parameters::keylock(TempoRate::new(speed)?),
            ..SessionConfig::default()
        })?;
        Ok(Self {
            session: session.activate(),
            converted,
            rate_hz,
            after: Resampler::new(given_hz, out_rate_hz)?,
            block: vec![0.0; BLOCK],
        })
    }

    /// Goes on from here and says where that is exactly.
    fn seek(&mut self, secs: f64) -> Result<f64, PlayheadError> {
        let rate = f64::from(self.rate_hz);
        let place = (secs * rate).round();
        self.session.seek(place as u64)?;
        // At its end it stops by itself.
        self.session.set_transport(Transport::Playing);
        self.after = Resampler::new(self.after.from_hz(), self.after.to_hz())?;
        Ok(place / rate)
    }

    /// Adds what comes next to `ready`; `false` at the end.
    fn read(&mut self, samples: &[f32], ready: &mut Vec<f32>) -> bool {
        let samples = self.converted.as_deref().unwrap_or(samples);
        for _ in 0..MOST_TURNS {
            if self.session.finished() {
                return false;
            }
            match self.session.advance(QUOTA).status {
                ProcessStatus::Fault => return false,
                ProcessStatus::NeedSource => {
                    let Some(request) = self.session.source_request() else {
                        return false;
                    };
                    let start = (request.start_frame as usize).min(samples.len());
                    let end = (start + request.frames).min(samples.len());
                    let done = if start == end {
                        self.session.finish_input().is_ok()
                    } else {
                        self.session.supply(request, &samples[start..end]).is_ok()
                    };
                    if !done {
                        return false;
                    }
                }
                _ => {}
            }
            let Ok(stamp) = self.session.read_output(&mut self.block) else {
                return false;
            };
            let receipt = stamp.consumed(stamp.frames);
            if !receipt.is_ok_and(|receipt| self.session.acknowledge(receipt).is_ok()) {
                return false;
            }
            self.after.push(&self.block[..stamp.frames], ready);
            if !ready.is_empty() {
                return true;
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A swinging tone with bursts of silence, so that places can be told.
    fn bursts(rate_hz: u32, secs: f64) -> Arc<[f32]> {
        let rate = f64::from(rate_hz);
        (0..(secs * rate) as usize)
            .map(|sample| {
                let secs = sample as f64 / rate;
                let on = secs.fract() < 0.5;
                (if on { 0.3 * (TAU * 440.0 * secs).sin() } else { 0.0 }) as f32
            })
            .collect()
    }

    fn read_all(playhead: &mut Playhead) -> Vec<f32> {
        let mut out = Vec::new();
        let mut block = [0.0; 240];
        loop {
            let count = playhead.read(&mut block);
            out.extend_from_slice(&block[..count]);
            if count < block.len() {
                return out;
            }
        }
    }

    fn level(samples: &[f32]) -> f32 {
        (samples.iter().map(|s| s * s).sum::<f32>() / samples.len() as f32).sqrt()
    }

    /// The library looks through a window that is some hundredths of a second wide.
    const MISPLACED_SECS: f64 = 0.025;

    #[test]
    fn each_moment_is_given_when_its_place_says_at_any_speed_and_rate() {
        for (rate_hz, out_hz) in [
            (48_000, 48_000),
            (44_100, 48_000),
            (48_000, 44_100),
            (16_000, 48_000),
            (44_100, 16_000),
        ] {
            for speed in [1.0, 0.5, 0.25] {
                let sound = bursts(rate_hz, 3.0);
                let mut playhead =
                    Playhead::new(sound, rate_hz, speed, out_hz).expect("a usual speed");
                for from in [0.0, 0.8] {
                    playhead.seek(from).expect("inside");
                    let out = read_all(&mut playhead);
                    let words = format!("{rate_hz} to {out_hz} Hz, speed {speed}, from {from}");
                    let due = (3.0 - from) / speed * f64::from(out_hz);
                    let off = out.len() as f64 - due;
                    assert!(off.abs() < 0.03 * f64::from(out_hz), "{words}: {off}");
                    assert!((playhead.place_secs() - 3.0).abs() < 0.03, "{words}");
                    let at = |secs: f64| ((secs - from) / speed * f64::from(out_hz)) as usize;
                    for whole in [1.0, 2.0] {
                        let on = level(&out[at(whole + 0.1)..at(whole + 0.4)]);
                        assert!((on - 0.212).abs() < 0.02, "{words}: {on}");
                        let off = level(&out[at(whole + 0.6)..at(whole + 0.9)]);
                        assert!(off < 0.01, "{words}: {off}");
                        // Where it falls to half its loudness.
                        let half = (0..200)
                            .map(|step| whole + 0.4 + 0.001 * f64::from(step))
                            .find(|secs| level(&out[at(*secs)..at(secs + 0.01)]) < 0.106)
                            .expect("it ends");
                        let misplaced = (half - 0.495 - whole).abs();
                        assert!(misplaced < MISPLACED_SECS, "{words}: {half}");
                    }
                }
            }
        }
    }

    #[test]
    fn pitch_is_kept_when_it_is_slower() {
        let rate_hz = 48_000;
        let sound: Arc<[f32]> =
            (0..96_000).map(|n| (0.3 * (TAU * 440.0 * f64::from(n) / 48e3).sin()) as f32).collect();
        let mut playhead = Playhead::new(sound, rate_hz, 0.5, rate_hz).expect("a usual speed");
        let out = read_all(&mut playhead);
        let held = &out[48_000..144_000];
        let crossings: Vec<f64> = (1..held.len())
            .filter(|&n| held[n - 1] < 0.0 && held[n] >= 0.0)
            .map(|n| n as f64 - f64::from(held[n] / (held[n] - held[n - 1])))
            .collect();
        let cycles = (crossings.len() - 1) as f64;
        let hz = 48e3 * cycles / (crossings[crossings.len() - 1] - crossings[0]);
        assert!((1200.0 * (hz / 440.0_f64).log2()).abs() < 0.5, "{hz} Hz");
    }

    #[test]
    fn what_cannot_be_read_is_told_in_words() {
        let sound = bursts(48_000, 0.1);
        for speed in [0.0, -1.0, 2.0, f64::NAN] {
            let refused = Playhead::new(Arc::clone(&sound), 48_000, speed, 48_000).err();
            let words = refused.expect("refused").to_string();
            assert!(words.contains("speed"), "{words}");
        }
        assert!(Playhead::new(Arc::clone(&sound), 1, 1.0, 48_000).is_err());
        assert!(Playhead::new(Arc::clone(&sound), 48_000, 0.5, 1).is_err());
        let empty = Playhead::new(Arc::from([]), 48_000, 0.5, 48_000);
        let mut empty = empty.expect("nothing is little sound");
        assert!(read_all(&mut empty).len() < 4_800);
        let mut short = Playhead::new(sound, 48_000, 0.25, 48_000).expect("short");
        assert!(short.seek(f64::NAN).is_ok() && short.seek(1e9).is_ok());
        assert!(read_all(&mut short).len() < 4_800);
    }
}
