//! The measurement of the delay from loudspeaker to microphone, once for each pair of devices.

use std::sync::mpsc::Receiver;
use std::time::{Duration, Instant};

use tuning::Secs;

use super::Window;
use crate::calibration::{CHIRPS, Calibration};
use crate::listener::{self, SoundBlock};

/// A measurement that is not complete after this long is ended as it is.
const LONGEST: Duration = Duration::from_secs(12);
/// What the room says meanwhile, and where there is no microphone to hear with.
const MEASURING: &str = "measuring: five soft chirps, please keep still";
const NO_MICROPHONE: &str =
    "the delay is measured with the microphone; leave the demo session first (M)";

/// A measurement that is under way.
pub(super) struct Calibrating {
    calibration: Calibration,
    blocks: Receiver<SoundBlock>,
    began: Instant,
}

impl Window {
    /// Begins to measure.
    pub(super) fn calibrate(&mut self) {
        let on_microphone =
            matches!(self.listened.source, listener::SoundSource::Microphone { .. });
        if self.listened.stand_in.is_some() || !on_microphone {
            self.tell_calibration(NO_MICROPHONE);
            return;
        }
        let Some(player) = &self.sounds.player else {
            return;
        };
        player.chirp(CHIRPS);
        self.tell_calibration(MEASURING);
        self.drill.calibrating = Some(Calibrating {
            calibration: Calibration::new(CHIRPS),
            blocks: self.listened.asked.follow_sound(),
            began: Instant::now(),
        });
    }

    fn tell_calibration(&mut self, words: &str) {
        let words = Some(words.to_owned());
        self.drill.room.tell_calibration(words);
    }

    /// A chirp sounds at this instant.
    pub(super) fn chirped(&mut self, at: Instant) {
        if let Some(calibrating) = &mut self.drill.calibrating {
            calibrating.calibration.played(at);
        }
    }

    /// Takes what the microphone heard of the chirps; once all is heard, the delay is kept or the reason
    /// told why there is none.
    pub(super) fn go_on_calibrating(&mut self, now: Instant) {
        let Some(calibrating) = &mut self.drill.calibrating else {
            return;
        };
        for block in calibrating.blocks.try_iter() {
            calibrating.calibration.heard(&block);
        }
        let late = now.saturating_duration_since(calibrating.began) > LONGEST;
        if !calibrating.calibration.is_complete() && !late {
            self.context.request_repaint_after(Duration::from_millis(50));
            return;
        }
        let outcome = calibrating.calibration.delay();
        self.drill.calibrating = None;
        if let Some(player) = &self.sounds.player {
            // Chirps that wait for a loudspeaker are not to sound later.
            player.chirp(0);
        }
        let room = &mut self.drill.room;
        room.tell_calibration(outcome.as_ref().err().map(ToString::to_string));
        let delay = outcome.ok().map(|found| found.delay);
        if delay.is_some() {
            self.set(|options| options.set_delay(delay));
        }
        if let Some(watch) = &mut self.watch {
            watch.calibrated(delay.map(Secs::get), self.drill.room.calibration());
        }
    }
}
