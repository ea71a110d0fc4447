//! The clock of the sound beside that of the wall: when what is told to sound now is heard.

use std::time::{Duration, Instant};

use sound::secs_between;
use tuning::Secs;

/// Maps instants to the time of the sound, which counts from the source's first sample.
///
/// Blocks arrive late at times and never early, so that the earliest arrival says most. What a loudspeaker is
/// told to play at an instant is heard later than that by `delay`, which a
/// [`Calibration`](crate::calibration::Calibration) measures: the ways through the devices and the air.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SoundClock {
    /// When the first sample sounded, if a block sounds as it arrives.
    origin: Option<Instant>,
    delay: Secs,
}

impl SoundClock {
    /// A clock that has not heard anything yet; `delay` as it was measured, 0 if it was not.
    pub fn new(delay: Secs) -> Self {
        Self { origin: None, delay }
    }

    /// The listener told its origin: [`FromListener::Clock`](crate::listener::FromListener::Clock).
    pub fn begin(&mut self, origin: Instant) {
        self.origin = Some(origin);
    }

    /// A block that ends at `end` arrived at `at`. For those who hold the samples themselves; the earliest
    /// of all arrivals holds.
    pub fn arrive(&mut self, end: Secs, at: Instant) {
        let after = Duration::try_from_secs_f64(end.get()).ok();
        let Some(origin) = after.and_then(|after| at.checked_sub(after)) else {
            return;
        };
        self.origin = Some(self.origin.map_or(origin, |before| before.min(origin)));
    }

    /// From now on this is the delay.
    pub fn set_delay(&mut self, delay: Secs) {
        self.delay = delay;
    }

    /// When what the loudspeaker is told to play at `at` is heard, in the time of the sound; may be negative.
    /// `None` before anything was heard.
    pub fn heard_at(&self, at: Instant) -> Option<Secs> {
        Some(Secs(secs_between(self.origin?, at) + self.delay.get()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_earliest_arrival_holds() {
        let begun = Instant::now() + Duration::from_secs(10);
        let mut clock = SoundClock::new(Secs(0.12));
        assert_eq!(clock.heard_at(begun), None);
        for block in 1..=500_u32 {
            let end = f64::from(block) * 0.01;
            let late = 0.004 + f64::from(block * 7 % 9) * 0.001;
            clock.arrive(Secs(end), begun + Duration::from_secs_f64(end + late));
        }
        let at = begun + Duration::from_secs(3);
        let heard = clock.heard_at(at).expect("blocks came");
        assert!((heard.get() - (3.0 - 0.004 + 0.12)).abs() < 1e-6, "{heard:?}");
        let before = clock.heard_at(begun - Duration::from_secs(1)).expect("blocks came");
        assert!(before.get() < 0.0);
    }
}
