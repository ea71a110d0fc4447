//! When each place of a loudspeaker's stream sounds, and whether the device has lost time.
//!
//! A device tells with each block when it will sound. That runs in a straight line with the places, but for
//! three things: right after the start the device fills its own buffers and is mistaken; its clock runs
//! a little faster or slower than the machine's; and where it was served too late it makes a gap of its
//! own, after which all sounds later.

use std::time::{Duration, Instant};

/// A device whose clock runs true differs from the line by much less from block to block, one that made a
/// gap by a whole block of its own, some 5 ms at least.
const JUMP_SECS: f64 = 0.003;
/// So many positions in a row agree before they are believed.
const AGREEING: u32 = 4;
/// How much of the difference to a new position the line takes up: it follows the device's clock.
const FOLLOW: f64 = 0.1;

/// Follows the positions of one open loudspeaker.
#[derive(Clone, Debug)]
pub struct OutputClock {
    rate_hz: f64,
    last: Option<(u64, Instant)>,
    /// When place 0 sounds by the line, in seconds after this instant.
    begun: Instant,
    line_secs: f64,
    /// Another line that positions seem to follow now, and how many of them in a row.
    other_secs: f64,
    agreeing: u32,
    settled: bool,
}

impl OutputClock {
    /// For a loudspeaker opened at `now` that takes `rate_hz` samples a second.
    pub fn new(rate_hz: u32, now: Instant) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            last: None,
            begun: now,
            line_secs: 0.0,
            other_secs: 0.0,
            agreeing: 0,
            settled: false,
        }
    }

    /// Takes the newest [`position`](crate::Loudspeaker::position), again and again the same one too. Gives
    /// the places by which all sounds later from now on, because the device made a gap: mostly 0.
    pub fn follow(&mut self, position: Option<(u64, Instant)>) -> u64 {
        if position.is_none() || position == self.last {
            return 0;
        }
        self.last = position;
        let Some((place, at)) = position else {
            return 0;
        };
        let offset = secs_between(self.begun, at) - place as f64 / self.rate_hz;
        if self.settled && (offset - self.line_secs).abs() < JUMP_SECS {
            self.line_secs += FOLLOW * (offset - self.line_secs);
            self.agreeing = 0;
            return 0;
        }
        if self.agreeing > 0 && (offset - self.other_secs).abs() < JUMP_SECS {
            self.agreeing += 1;
        } else {
            self.agreeing = 1;
        }
        self.other_secs = offset;
        if self.agreeing < AGREEING {
            return 0;
        }
        let later = offset - self.line_secs;
        let was_settled = std::mem::replace(&mut self.settled, true);
        (self.line_secs, self.agreeing) = (offset, 0);
        if was_settled { (later.max(0.0) * self.rate_hz).round() as u64 } else { 0 }
    }

    /// The positions agree: [`sounds_at`](Self::sounds_at) can be believed.
    pub fn is_settled(&self) -> bool {
        self.settled
    }

    /// When this place sounds; `None` until the clock is settled.
    pub fn sounds_at(&self, place: i64) -> Option<Instant> {
        let secs = self.line_secs + place as f64 / self.rate_hz;
        let after = Duration::from_secs_f64(secs.max(0.0));
        self.settled.then(|| self.begun + after)
    }
}

/// The seconds from one instant to another; negative if that comes first.
pub fn secs_between(from: Instant, to: Instant) -> f64 {
    match to.checked_duration_since(from) {
        Some(after) => after.as_secs_f64(),
        None => -from.saturating_duration_since(to).as_secs_f64(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;
    const BLOCK: u64 = 512;

    /// Follows blocks `from..to` of a device whose place 0 sounds `offset_ms` after `begun`.
    fn follow(clock: &mut OutputClock, begun: Instant, from: u64, to: u64, offset_ms: f64) -> u64 {
        let mut lost = 0;
        for block in from..to {
            let place = block * BLOCK;
            let secs = 1e-3 * offset_ms + place as f64 / f64::from(RATE_HZ);
            let position = Some((place, begun + Duration::from_secs_f64(secs)));
            lost += clock.follow(position);
            lost += clock.follow(position);
        }
        lost
    }

    fn error_ms(clock: &OutputClock, begun: Instant, place: i64, due_ms: f64) -> f64 {
        let at = clock.sounds_at(place).expect("settled");
        1e3 * secs_between(begun, at) - due_ms
    }

    #[test]
    fn a_mistaken_start_is_waited_out_and_no_loss() {
        let begun = Instant::now();
        let mut clock = OutputClock::new(RATE_HZ, begun);
        assert_eq!(clock.follow(None), 0);
        let mut lost = follow(&mut clock, begun, 0, 2, 5.7);
        lost += follow(&mut clock, begun, 2, 5, 31.7);
        assert!(!clock.is_settled());
        assert_eq!(clock.sounds_at(0), None);
        lost += follow(&mut clock, begun, 5, 6, 31.7);
        assert!(clock.is_settled());
        assert_eq!(lost, 0);
        assert!(error_ms(&clock, begun, 4_800, 131.7).abs() < 0.01);
    }

    #[test]
    fn a_gap_of_the_device_is_told_once_with_its_length() {
        let begun = Instant::now();
        let mut clock = OutputClock::new(RATE_HZ, begun);
        assert_eq!(follow(&mut clock, begun, 0, 100, 30.0), 0);
        let lost = follow(&mut clock, begun, 100, 200, 30.0 + 1e3 * 512.0 / 48e3);
        assert_eq!(lost, 512);
        assert!(error_ms(&clock, begun, 0, 40.667).abs() < 0.01);
    }

    #[test]
    fn one_odd_position_is_passed_over() {
        let begun = Instant::now();
        let mut clock = OutputClock::new(RATE_HZ, begun);
        follow(&mut clock, begun, 0, 50, 30.0);
        assert_eq!(follow(&mut clock, begun, 50, 52, 45.0), 0);
        assert_eq!(follow(&mut clock, begun, 52, 90, 30.0), 0);
        assert!(error_ms(&clock, begun, 0, 30.0).abs() < 0.01);
    }

    #[test]
    fn a_clock_that_runs_wrong_is_followed_without_a_loss() {
        let begun = Instant::now();
        let mut clock = OutputClock::new(RATE_HZ, begun);
        let mut lost = 0;
        // 300 parts in a million for ten minutes: 180 ms in all.
        for block in 0..56_250_u64 {
            let place = block * BLOCK;
            let secs = 0.03 + place as f64 / f64::from(RATE_HZ) * (1.0 + 300e-6);
            lost += clock.follow(Some((place, begun + Duration::from_secs_f64(secs))));
            if block > 10 {
                let error = error_ms(&clock, begun, place as i64, 1e3 * secs);
                assert!(error.abs() < 0.1, "block {block}: {error} ms");
            }
        }
        assert_eq!(lost, 0);
    }
}
