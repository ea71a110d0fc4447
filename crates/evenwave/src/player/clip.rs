//! Sound that is there already, played through the loudspeaker: from anywhere, a part of it over and over,
//! slower with its pitch kept.

use std::f64::consts::PI;
use std::path::Path;
use std::sync::Arc;

use sound::{Playhead, PlayheadError, Recording, RecordingError};
use tuning::Secs;

/// Each part fades in and out so quickly, in seconds of the loudspeaker.
const EDGE_SECS: f64 = 0.008;
/// What is stopped is gone after so long.
const STOP_SECS: f64 = 0.03;
/// Where it is is told so often.
const TELL_SECS: f64 = 0.025;
/// Parts shorter than this are not played over and over.
const LEAST_LOOP_SECS: f64 = 0.05;
/// Longest file, in seconds.
const MOST_SECS: usize = 3_600;
/// Loudest it is made, in dB.
const MOST_GAIN_DB: f64 = 24.0;

/// A sound to be played.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// What is told of it carries this number.
    pub number: u64,
    /// One channel, full scale = 1.0.
    pub samples: Arc<[f32]>,
    /// Samples a second.
    pub rate_hz: u32,
    /// The part that is played.
    pub from: Secs,
    /// Its end; anything beyond the sound counts as its end.
    pub to: Secs,
    /// Where in the part it begins.
    pub start: Secs,
    /// The part is played over and over.
    pub looped: bool,
    /// 1 is as it was played; 0.125 to 1. Slower, the pitch is kept.
    pub speed: f64,
    /// How much louder or softer it is made; at most 24 dB.
    pub gain_db: f64,
}

impl Clip {
    /// The whole of a sound, as it was played.
    pub fn new(number: u64, samples: Arc<[f32]>, rate_hz: u32) -> Self {
        let to = Secs(samples.len() as f64 / f64::from(rate_hz.max(1)));
        Self {
            number,
            samples,
            rate_hz,
            from: Secs(0.0),
            to,
            start: Secs(0.0),
            looped: false,
            speed: 1.0,
            gain_db: 0.0,
        }
    }

    /// Decodes a whole file to the mean of its channels. What is damaged in it is silence, so that times are those of the file; of a file longer than an hour the first hour is taken.
    /// Takes some hundredths of the sound's length: not for the thread that draws.
    pub fn open(path: &Path) -> Result<Self, RecordingError> {
        let mut recording = Recording::open(path)?;
        let rate_hz = recording.sample_rate_hz();
        let most = rate_hz as usize * MOST_SECS;
        let mut samples = Vec::new();
        while let Some(block) = recording.next_block()? {
            let lost = usize::try_from(block.lost_before).unwrap_or(most).min(most);
            samples.resize((samples.len() + lost).min(most), 0.0);
            let room = most - samples.len();
            samples.extend_from_slice(&block.samples[..block.samples.len().min(room)]);
            if samples.len() == most {
                break;
            }
        }
        Ok(Self::new(0, samples.into(), rate_hz))
    }
}

/// Where a clip is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum ClipPosition {
    /// At this place of its sound.
    At(Secs),
    /// At its end.
    Over,
}

/// A clip that plays, as a stream of samples.
pub(super) struct ClipPlayer {
    clip: Clip,
    playhead: Playhead,
    rate_hz: f64,
    gain: f32,
    from: f64,
    to: f64,
    /// Where it began to play this time.
    begun: f64,
    /// Samples until its place is told again.
    untold: usize,
    /// How much of it is heard while it is being stopped, 0 to 1.
    share: f64,
    stopping: bool,
    over: bool,
    block: Vec<f32>,
}

impl ClipPlayer {
    /// Plays `clip` at `rate_hz` samples a second.
    pub(super) fn new(clip: Clip, rate_hz: u32) -> Result<Self, PlayheadError> {
        let samples = Arc::clone(&clip.samples);
        let mut playhead = Playhead::new(samples, clip.rate_hz, clip.speed, rate_hz)?;
        let length = clip.samples.len() as f64 / f64::from(clip.rate_hz);
        let within = |secs: Secs, other: f64| {
            let secs = secs.get();
            if secs.is_nan() { other } else { secs }.clamp(0.0, length)
        };
        let from = within(clip.from, 0.0);
        let to = within(clip.to, length).max(from);
        let start = within(clip.start, from).clamp(from, to);
        playhead.seek(start)?;
        let gain_db = if clip.gain_db.is_nan() { 0.0 } else { clip.gain_db };
        Ok(Self {
            gain: 10f64.powf(gain_db.min(MOST_GAIN_DB) / 20.0) as f32,
            clip,
            rate_hz: f64::from(rate_hz),
            from,
            to,
            begun: playhead.place_secs(),
            playhead,
            untold: 0,
            share: 1.0,
            stopping: false,
            over: start >= to,
            block: Vec::new(),
        })
    }

    /// The same clip from where it is now.
    pub(super) fn rest(&self) -> Clip {
        Clip { start: Secs(self.playhead.place_secs()), ..self.clip.clone() }
    }

    /// The number of its clip.
    pub(super) fn number(&self) -> u64 {
        self.clip.number
    }

    /// Fades out.
    pub(super) fn stop(&mut self) {
        self.stopping = true;
    }

    /// Nothing more comes.
    pub(super) fn is_over(&self) -> bool {
        self.over
    }

    /// Adds its next samples to `out`; tells where it is, after how many of them.
    pub(super) fn add(&mut self, out: &mut [f32], mut tell: impl FnMut(usize, ClipPosition)) {
        let mut done = 0;
        while done < out.len() && !self.over {
            let left = self.left_in_part();
            if left == 0 {
                if !self.begin_again() {
                    self.end(done, &mut tell);
                }
                continue;
            }
            if self.untold == 0 {
                if !self.stopping {
                    tell(done, ClipPosition::At(Secs(self.playhead.place_secs())));
                }
                self.untold = (TELL_SECS * self.rate_hz) as usize;
            }
            let count = (out.len() - done).min(left).min(self.untold);
            self.block.resize(count, 0.0);
            let first = self.playhead.place_secs();
            let read = self.playhead.read(&mut self.block);
            self.shape(first, read);
            let part = &mut out[done..done + read];
            for (sample, own) in part.iter_mut().zip(&self.block) {
                *sample += own;
            }
            done += read;
            self.untold -= read;
            if read < count {
                // The sound ends a little before its length says.
                let nothing = self.playhead.place_secs() <= self.begun;
                if nothing || !self.begin_again() {
                    self.end(done, &mut tell);
                }
            } else if self.stopping && self.share == 0.0 {
                self.over = true;
            }
        }
    }

    fn left_in_part(&self) -> usize {
        let secs = (self.to - self.playhead.place_secs()) / self.playhead.speed();
        (secs * self.rate_hz).round().max(0.0) as usize
    }

    /// Goes back to the start of the part, if it is to be played again.
    fn begin_again(&mut self) -> bool {
        let again = self.clip.looped && !self.stopping && self.to - self.from >= LEAST_LOOP_SECS;
        self.untold = 0;
        if !again || self.playhead.seek(self.from).is_err() {
            return false;
        }
        self.begun = self.playhead.place_secs();
        true
    }

    fn end(&mut self, done: usize, tell: &mut impl FnMut(usize, ClipPosition)) {
        self.over = true;
        if !self.stopping {
            tell(done, ClipPosition::Over);
        }
    }

    /// Gain and fades of what was read from `first` on.
    fn shape(&mut self, first: f64, read: usize) {
        let (speed, rate_hz) = (self.playhead.speed(), self.rate_hz);
        let step = 1.0 / (STOP_SECS * rate_hz);
        let rise = |share: f64| 0.5 - 0.5 * (PI * share.clamp(0.0, 1.0)).cos();
        for (number, sample) in self.block[..read].iter_mut().enumerate() {
            let place = first + number as f64 * speed / rate_hz;
            let into = place - self.begun;
            let edge = (into.min(self.to - place) / speed / EDGE_SECS).max(0.0);
            if self.stopping {
                self.share = (self.share - step).max(0.0);
            }
            *sample *= self.gain * (rise(edge) * rise(self.share)) as f32;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const RATE_HZ: u32 = 48_000;

    /// Two seconds of a tone.
    fn clip() -> Clip {
        let tone = (0..96_000).map(|n| (0.2 * (TAU * 220.0 * f64::from(n) / 48e3).sin()) as f32);
        Clip::new(7, tone.collect(), RATE_HZ)
    }

    /// Plays for so long; what was told, with the sample at which.
    fn play(clip: &mut ClipPlayer, secs: f64) -> (Vec<f32>, Vec<(usize, ClipPosition)>) {
        let mut out = vec![0.0; (secs * f64::from(RATE_HZ)) as usize];
        let mut told = Vec::new();
        for (number, block) in out.chunks_mut(240).enumerate() {
            clip.add(block, |after, position| told.push((240 * number + after, position)));
        }
        (out, told)
    }

    fn sharpest(samples: &[f32]) -> f32 {
        let bend = |[a, b, c]: &[f32; 3]| (a - 2.0 * b + c).abs();
        samples.array_windows().map(bend).fold(0.0, f32::max)
    }

    #[test]
    fn where_it_is_is_told_in_time_until_it_is_over() {
        for (speed, rate_hz) in [(1.0, RATE_HZ), (0.5, RATE_HZ), (0.25, RATE_HZ), (1.0, 44_100)] {
            let samples = clip().samples;
            let clip =
                Clip { speed, start: Secs(0.5), to: Secs(1.9), ..Clip::new(7, samples, rate_hz) };
            let length = 1.9;
            let mut clip = ClipPlayer::new(clip, RATE_HZ).expect("a usual clip");
            let (out, told) = play(&mut clip, 8.0);
            assert!(told.len() > 50);
            for (sample, position) in &told {
                let due = 0.5 + speed * *sample as f64 / f64::from(RATE_HZ);
                match position {
                    ClipPosition::At(at) => assert!((at.get() - due).abs() < 1e-4, "{at:?} {due}"),
                    ClipPosition::Over => assert!((length - due).abs() < 0.03, "{due}"),
                }
            }
            assert_eq!(told.last().map(|told| told.1), Some(ClipPosition::Over));
            assert!(clip.is_over());
            let end = told[told.len() - 1].0;
            assert!(out[end..].iter().all(|s| *s == 0.0));
            let (most, calm) = (sharpest(&out), sharpest(&out[9_600..19_200]));
            assert!(most < 2.0 * calm, "no click: {most} {calm}");
        }
    }

    #[test]
    fn a_part_is_played_over_and_over_without_a_click() {
        for speed in [1.0, 0.5] {
            let part = Clip {
                // No whole number of cycles: without its fades it would click.
                from: Secs(0.3),
                to: Secs(0.7012),
                start: Secs(0.6),
                looped: true,
                speed,
                ..clip()
            };
            let mut clip = ClipPlayer::new(part, RATE_HZ).expect("a usual clip");
            let (out, told) = play(&mut clip, 5.0);
            assert!(!clip.is_over());
            let mut rounds = 0;
            for pair in told.windows(2) {
                let (ClipPosition::At(a), ClipPosition::At(b)) = (pair[0].1, pair[1].1) else {
                    panic!("it does not end");
                };
                assert!((0.299..0.7012).contains(&b.get()), "{b:?}");
                rounds += u32::from(b < a);
            }
            let due = ((5.0 * speed - 0.1) / 0.4).ceil() as u32;
            assert!(rounds.abs_diff(due) <= 1, "{rounds} of {due}");
            assert!(sharpest(&out) < 2.0 * sharpest(&out[960..4_000]), "no click");
            clip.stop();
            let (out, told) = play(&mut clip, 0.1);
            assert!(clip.is_over() && told.is_empty());
            assert!(out[2_000..].iter().all(|s| *s == 0.0));
        }
    }

    #[test]
    fn it_is_made_louder_as_asked() {
        let mut clip =
            ClipPlayer::new(Clip { gain_db: -6.0, ..clip() }, RATE_HZ).expect("a usual clip");
        let (out, _) = play(&mut clip, 1.0);
        let peak = out.iter().fold(0.0_f32, |m, s| m.max(s.abs()));
        assert!((peak - 0.1002).abs() < 0.001, "{peak}");
    }

    #[test]
    fn odd_parts_do_no_harm() {
        for (from, to, start) in [
            (f64::NAN, f64::NAN, f64::NAN),
            (1.0, 0.5, 0.0),
            (-5.0, 99.0, 50.0),
            (0.5, 0.51, 0.5),
            (2.0, 2.0, 2.0),
        ] {
            let odd = Clip {
                from: Secs(from),
                to: Secs(to),
                start: Secs(start),
                looped: true,
                gain_db: f64::NAN,
                ..clip()
            };
            let mut clip = ClipPlayer::new(odd, RATE_HZ).expect("it can be read");
            let (out, _) = play(&mut clip, 3.0);
            assert!(out.iter().all(|s| s.abs() <= 0.201), "{from} {to} {start}");
        }
        let empty = Clip::new(1, Arc::from([]), RATE_HZ);
        let looped = Clip { looped: true, ..empty };
        let mut clip = ClipPlayer::new(looped, RATE_HZ).expect("nothing is little");
        play(&mut clip, 0.1);
        assert!(clip.is_over());
        let bad = Clip::new(1, Arc::from([0.0; 8]), 0);
        assert!(ClipPlayer::new(bad, RATE_HZ).is_err());
    }

    #[test]
    fn a_file_is_decoded_as_a_whole_with_its_own_times() {
        let recordings = Path::new("../../tests/recordings");
        let path = recordings.join("fluid-cello-046-l.wav");
        let clip = Clip::open(&path).expect("a sound file");
        let stated = Recording::open(&path).expect("a sound file").duration_secs();
        let stated = stated.expect("a WAV states its length");
        assert!((clip.to.get() - stated).abs() < 1e-3, "{:?}", clip.to);
        assert_eq!(clip.speed, 1.0);
        assert!(clip.samples.iter().any(|s| s.abs() > 0.01));
        let why = Clip::open(&recordings.join("README.md")).expect_err("no sound");
        assert!(why.to_string().contains("README.md"), "{why}");
    }
}
