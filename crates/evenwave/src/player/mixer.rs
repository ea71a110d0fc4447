//! All that sounds, as one stream of samples. What else is to be heard one day joins here.

use sound::PlayheadError;
use tone::{Beat, Chirp, Drone, Run};
use tuning::Secs;

use super::Playing;
use super::clip::{Clip, ClipPlayer, ClipPosition};

/// Drone, metronome, a run with its guide, chirps and a clip together, at one sample rate.
pub(super) struct Mixer {
    rate_hz: u32,
    drone: Drone,
    beat: Beat,
    run: Run,
    chirp: Chirp,
    clip: Option<ClipPlayer>,
    /// One that is being stopped.
    stopping: Option<ClipPlayer>,
    /// The next sample of the stream.
    now: u64,
    /// Samples that are to be left out, for the sound is late by them.
    owed: u64,
}

/// Something that falls on a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Mark {
    /// The sample of the stream.
    pub sample: u64,
    pub what: Falls,
}

/// What falls on a sample.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Falls {
    /// A beat of the metronome, with its place in the bar.
    Beat(u32),
    /// A beat of a run: which run, which beat.
    RunBeat(u64, u32),
    /// A chirp starts.
    Chirp,
    /// A clip is at this place; which clip.
    Clip(u64, Secs),
    /// A clip is over; which.
    ClipOver(u64),
}

/// Of lateness beyond this nothing is kept, in seconds: beats that would have begun in it are not heard.
const MOST_OWED_SECS: f64 = 0.1;

impl Mixer {
    /// Nothing sounds yet.
    pub(super) fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz,
            drone: Drone::new(rate_hz),
            beat: Beat::new(rate_hz),
            run: Run::new(rate_hz),
            chirp: Chirp::new(rate_hz),
            clip: None,
            stopping: None,
            now: 0,
            owed: 0,
        }
    }

    /// Samples a second.
    pub(super) fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// From now on this is to sound.
    pub(super) fn set(&mut self, wish: &Playing) {
        self.drone.set(wish.drone);
        self.beat.set(wish.beat);
        self.run.set(wish.run.as_ref());
    }

    /// So many chirps from now on.
    pub(super) fn chirp(&mut self, count: u32) {
        self.chirp.begin(count);
    }

    /// Plays this clip instead of the one that plays.
    pub(super) fn play(&mut self, clip: Clip) -> Result<(), PlayheadError> {
        self.stop_clip();
        self.clip = Some(ClipPlayer::new(clip, self.rate_hz)?);
        Ok(())
    }

    /// The clip that plays fades out.
    pub(super) fn stop_clip(&mut self) {
        if let Some(mut clip) = self.clip.take() {
            clip.stop();
            self.stopping = Some(clip);
        }
    }

    /// The clip that plays, from where it is.
    pub(super) fn rest_of_clip(&self) -> Option<Clip> {
        self.clip.as_ref().map(ClipPlayer::rest)
    }

    /// Chirps that are still to begin.
    pub(super) fn chirps_left(&self) -> u32 {
        self.chirp.left()
    }

    /// The index of its next sample.
    pub(super) fn now(&self) -> u64 {
        self.now
    }

    /// The sound is late by so many samples from now on: they are to be left out.
    pub(super) fn owe(&mut self, samples: u64) {
        self.owed += samples;
    }

    /// Leaves out what is owed as far as no click is lost by it: a click that should sound already comes
    /// next, late, and the rest is left out after it. Beats that are not heard after all are told.
    pub(super) fn catch_up(&mut self, tell: impl FnMut(Mark)) {
        let most = (MOST_OWED_SECS * f64::from(self.rate_hz)) as u64;
        let sounding =
            self.beat.is_sounding() || self.run.is_sounding() || self.chirp.is_sounding();
        let next = self.beat.until_next().into_iter().chain(self.run.until_next()).min();
        let by = if self.owed > most {
            self.owed
        } else if sounding {
            0
        } else {
            self.owed.min(next.unwrap_or(self.owed))
        };
        if by > 0 {
            self.owed -= by;
            self.pass(by, tell);
        }
    }

    /// Fills `out` with its next samples, and tells what falls on them.
    pub(super) fn fill(&mut self, out: &mut [f32], mut tell: impl FnMut(Mark)) {
        out.fill(0.0);
        self.drone.add(out);
        self.beat.add(out, |beaten| tell(Mark::of_beat(beaten)));
        self.run.add(out, |beat| tell(Mark::of_run(beat)));
        self.chirp.add(out, |sample| {
            tell(Mark { sample, what: Falls::Chirp });
        });
        if let Some(clip) = &mut self.clip {
            let number = clip.number();
            clip.add(out, |after, position| {
                tell(Mark {
                    sample: self.now + after as u64,
                    what: match position {
                        ClipPosition::At(place) => Falls::Clip(number, place),
                        ClipPosition::Over => Falls::ClipOver(number),
                    },
                });
            });
        }
        if let Some(clip) = &mut self.stopping {
            clip.add(out, |_, _| {});
        }
        self.clip.take_if(|clip| clip.is_over());
        self.stopping.take_if(|clip| clip.is_over());
        self.now += out.len() as u64;
    }

    /// So many samples pass unplayed: the beats go on in them, all else waits.
    pub(super) fn pass(&mut self, samples: u64, mut tell: impl FnMut(Mark)) {
        self.beat.pass(samples, |beaten| tell(Mark::of_beat(beaten)));
        self.run.pass(samples, |beat| tell(Mark::of_run(beat)));
        self.chirp.pass(samples);
        self.now += samples;
    }

    /// What sounds was cut off: it is to be faded in anew, or is over.
    pub(super) fn cut(&mut self, wish: &Playing) {
        self.drone = Drone::new(self.rate_hz);
        self.drone.set(wish.drone);
        self.run.cut();
        self.stopping = None;
    }

    /// Nothing sounds and nothing is to.
    pub(super) fn is_silent(&self) -> bool {
        self.drone.is_silent()
            && self.beat.is_silent()
            && self.run.is_silent()
            && self.chirp.is_silent()
            && self.clip.is_none()
            && self.stopping.is_none()
    }
}

impl Mark {
    fn of_beat(beaten: tone::Beaten) -> Self {
        Self { sample: beaten.sample, what: Falls::Beat(beaten.place) }
    }

    fn of_run(beat: tone::RunBeat) -> Self {
        Self { sample: beat.sample, what: Falls::RunBeat(beat.run, beat.beat) }
    }
}
