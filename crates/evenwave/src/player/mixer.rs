//! All that sounds, as one stream of samples. What else is to be heard one day joins here.

use tone::{Beat, Beaten, Drone};

use super::Playing;

/// Drone and metronome together, at one sample rate.
pub struct Mixer {
    rate_hz: u32,
    drone: Drone,
    beat: Beat,
    /// The next sample of the stream.
    now: u64,
    /// Samples that are to be left out, for the sound is late by them.
    owed: u64,
}

/// Of lateness beyond this nothing is kept, in seconds: beats that would have begun in it are not heard.
const MOST_OWED_SECS: f64 = 0.1;

impl Mixer {
    /// Nothing sounds yet.
    pub fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz,
            drone: Drone::new(rate_hz),
            beat: Beat::new(rate_hz),
            now: 0,
            owed: 0,
        }
    }

    /// Samples a second.
    pub fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// From now on this is to sound.
    pub fn set(&mut self, wish: &Playing) {
        self.drone.set(wish.drone);
        self.beat.set(wish.beat);
    }

    /// The index of its next sample.
    pub fn now(&self) -> u64 {
        self.now
    }

    /// The sound is late by so many samples from now on: they are to be left out.
    pub fn owe(&mut self, samples: u64) {
        self.owed += samples;
    }

    /// Leaves out what is owed as far as no click is lost by it: a click that should sound already comes
    /// next, late, and the rest is left out after it. Beats that are not heard after all are told.
    pub fn catch_up(&mut self, tell: impl FnMut(Beaten)) {
        let most = (MOST_OWED_SECS * f64::from(self.rate_hz)) as u64;
        let by = if self.owed > most {
            self.owed
        } else if self.beat.is_sounding() {
            0
        } else {
            self.owed.min(self.beat.until_next().unwrap_or(self.owed))
        };
        if by > 0 {
            self.owed -= by;
            self.pass(by, tell);
        }
    }

    /// Fills `out` with its next samples, and tells the beats that begin in them.
    pub fn fill(&mut self, out: &mut [f32], tell: impl FnMut(Beaten)) {
        out.fill(0.0);
        self.drone.add(out);
        self.beat.add(out, tell);
        self.now += out.len() as u64;
    }

    /// So many samples pass unplayed: the beats go on in them, and the drone waits.
    pub fn pass(&mut self, samples: u64, tell: impl FnMut(Beaten)) {
        self.beat.pass(samples, tell);
        self.now += samples;
    }

    /// The drone was cut off: it is to be faded in anew, or is over.
    pub fn cut_drone(&mut self, wish: &Playing) {
        self.drone = Drone::new(self.rate_hz);
        self.drone.set(wish.drone);
    }

    /// Nothing sounds and nothing is to.
    pub fn is_silent(&self) -> bool {
        self.drone.is_silent() && self.beat.is_silent()
    }
}
