//! How much later than a loudspeaker is told to play a sound the microphone hears it: chirps are played, found
//! again in what was heard, and compared.

use std::fmt;
use std::time::Instant;

use tone::{CHIRP_SECS, Chirp, find_chirp};
use tuning::Secs;
use vibrato::median;

use crate::listener::SoundBlock;
use crate::sound_clock::SoundClock;

/// Chirps to be played: [`Player::chirp`](crate::player::Player::chirp).
pub const CHIRPS: u32 = 5;
/// Of them at least so many must be heard.
const LEAST_HEARD: usize = 3;
/// A chirp is looked for from so long before it was told to sound, and until so long after.
const EARLIEST_SECS: f64 = 0.1;
const LATEST_SECS: f64 = Chirp::SPACING_SECS - CHIRP_SECS - 0.05;
/// They must agree within this: how far the middle half of them may lie from their median.
const MOST_SPREAD: Secs = Secs(0.004);
/// What was heard is kept for so long, and twice that at most.
const KEPT_SECS: f64 = 20.0;
/// After the last chirp so much must have been heard before it is told.
const TAIL_SECS: f64 = LATEST_SECS + CHIRP_SECS + 0.05;

/// What came of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Delay {
    /// How much later than told the sound is heard, in the time of the sound: for [`SoundClock`].
    pub delay: Secs,
    /// How far the chirps lie from each other: the median of their distances from the median.
    pub spread: Secs,
    /// Chirps that were heard.
    pub heard: usize,
}

/// Why there is no delay. `Display` gives the words for the player.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoDelay {
    /// The loudspeaker was not told to play so many chirps.
    NotPlayed,
    /// The microphone gave nothing at the time.
    NoSound,
    /// So many of so many chirps stood out.
    NotHeard {
        /// Heard clearly.
        heard: usize,
        /// Played.
        played: usize,
    },
    /// They were heard at delays that differ by this.
    Unsteady(Secs),
}

impl fmt::Display for NoDelay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotPlayed => f.write_str(
                "the loudspeaker did not play the chirps; check it in the sound settings and measure again",
            ),
            Self::NoSound => f.write_str(
                "no sound came from the microphone; check it in the sound settings and measure again",
            ),
            Self::NotHeard { heard, played } => write!(
                f,
                "the microphone heard {heard} of {played} chirps clearly; use the loudspeaker instead of \
                 headphones, turn it up, keep still, and measure again",
            ),
            Self::Unsteady(spread) => write!(
                f,
                "the chirps came {:.0} ms apart from each other; close other programs that use sound, \
                 prefer a cable to a wireless loudspeaker, and measure again",
                1e3 * spread.get()
            ),
        }
    }
}

impl std::error::Error for NoDelay {}

/// Gathers what was played and what was heard.
#[derive(Clone, Debug)]
pub struct Calibration {
    chirps: Vec<Instant>,
    asked: usize,
    clock: SoundClock,
    rate_hz: u32,
    /// Stretches of samples without a gap, with the time of the sound of their first one.
    stretches: Vec<(Secs, Vec<f32>)>,
}

impl Default for Calibration {
    fn default() -> Self {
        Self::new(CHIRPS)
    }
}

impl Calibration {
    /// For so many chirps.
    pub fn new(chirps: u32) -> Self {
        Self {
            chirps: Vec::new(),
            asked: chirps as usize,
            clock: SoundClock::default(),
            rate_hz: 0,
            stretches: Vec::new(),
        }
    }

    /// A chirp was told to sound at this instant: [`FromPlayer::Chirp`](crate::player::FromPlayer::Chirp).
    pub fn played(&mut self, at: Instant) {
        self.chirps.push(at);
    }

    /// The microphone heard this.
    pub fn heard(&mut self, block: &SoundBlock) {
        if block.samples.is_empty() || block.rate_hz == 0 {
            return;
        }
        if block.rate_hz != self.rate_hz {
            // Another device: what came before is of no use.
            self.rate_hz = block.rate_hz;
            self.stretches.clear();
            self.clock = SoundClock::default();
        }
        self.clock.arrive(block.end(), block.arrived);
        let rate = f64::from(self.rate_hz);
        let goes_on = self.stretches.last_mut().filter(|(start, samples)| {
            let end = start.get() + samples.len() as f64 / rate;
            (end - block.start.get()).abs() < 0.5 / rate
        });
        let Some((start, samples)) = goes_on else {
            self.stretches.push((block.start, block.samples.clone()));
            let oldest = block.end().get() - KEPT_SECS;
            self.stretches
                .retain(|(start, samples)| start.get() + samples.len() as f64 / rate > oldest);
            return;
        };
        samples.extend_from_slice(&block.samples);
        let most = (KEPT_SECS * rate) as usize;
        if samples.len() > 2 * most {
            let old = samples.len() - most;
            samples.drain(..old);
            start.0 += old as f64 / rate;
        }
    }

    /// All chirps were played, and enough has been heard after the last one.
    pub fn is_complete(&self) -> bool {
        let last = self.chirps.get(self.asked.saturating_sub(1));
        let Some(due) = last.and_then(|at| self.clock.heard_at(*at)) else {
            return false;
        };
        let rate = f64::from(self.rate_hz.max(1));
        self.stretches.last().is_some_and(|(start, samples)| {
            start.get() + samples.len() as f64 / rate > due.get() + TAIL_SECS
        })
    }

    /// The delay, or why there is none.
    pub fn delay(&self) -> Result<Delay, NoDelay> {
        if self.chirps.len() < LEAST_HEARD.min(self.asked) || self.chirps.is_empty() {
            return Err(NoDelay::NotPlayed);
        }
        if self.stretches.is_empty() {
            return Err(NoDelay::NoSound);
        }
        let delays: Vec<f64> = self.chirps.iter().filter_map(|at| self.delay_of(*at)).collect();
        let (heard, played) = (delays.len(), self.chirps.len());
        if heard < LEAST_HEARD {
            return Err(NoDelay::NotHeard { heard, played });
        }
        let delay = median(delays.clone()).unwrap_or_default();
        let distances = delays.iter().map(|one| (one - delay).abs()).collect();
        let spread = Secs(median(distances).unwrap_or_default());
        if spread > MOST_SPREAD {
            return Err(NoDelay::Unsteady(spread));
        }
        Ok(Delay { delay: Secs(delay), spread, heard })
    }

    /// How much later than told this chirp was heard, in seconds; `None` if it does not stand out.
    fn delay_of(&self, at: Instant) -> Option<f64> {
        let rate = f64::from(self.rate_hz);
        let due = self.clock.heard_at(at)?.get();
        let (start, samples) = self.stretches.iter().find(|(start, samples)| {
            let end = start.get() + samples.len() as f64 / rate;
            start.get() <= due && end >= due + CHIRP_SECS
        })?;
        let index = |secs: f64| {
            let samples_in = ((secs - start.get()) * rate).max(0.0) as usize;
            samples_in.min(samples.len())
        };
        let first = index(due - EARLIEST_SECS);
        let last = index(due + LATEST_SECS + CHIRP_SECS);
        let found = find_chirp(&samples[first..last], self.rate_hz)?;
        Some(start.get() + (first as f64 + found.offset) / rate - due)
    }
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    const RATE_HZ: u32 = 48_000;
    /// What is played is heard so much later: devices and air.
    const TRUE_DELAY: f64 = 0.1374;

    /// Chance that is the same each time: even between -1 and 1.
    struct Chance(u64);

    impl Chance {
        fn next(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 11) as f64 / (1_u64 << 52) as f64 - 1.0
        }
    }

    /// A virtual sound card: the player's own chirps, delayed, in a room, with noise.
    struct World {
        seed: u64,
        rate_hz: u32,
        /// Chirp to noise, in dB, while the chirp sounds; `None` without chirps.
        snr_db: Option<f64>,
        /// Time in which the room's sound falls by 60 dB.
        t60: Option<f64>,
        /// Jitter of each chirp, in seconds.
        jitter: f64,
        /// Samples lost in the middle of the third chirp.
        lost: usize,
    }

    impl Default for World {
        fn default() -> Self {
            Self { seed: 1, rate_hz: RATE_HZ, snr_db: Some(10.0), t60: None, jitter: 0.0, lost: 0 }
        }
    }

    impl World {
        fn calibrate(&self) -> Calibration {
            let rate = f64::from(self.rate_hz);
            let mut chance = Chance(self.seed);
            let mut stream = Chirp::new(self.rate_hz);
            let mut played = vec![0.0_f32; (6.0 * rate) as usize];
            let mut starts = Vec::new();
            let wait = (0.8 * rate) as usize;
            stream.add(&mut played[..wait], |_| {});
            stream.begin(CHIRPS);
            stream.add(&mut played[wait..], |sample| starts.push(sample));
            // The room: what comes straight, and a tail as strong as that.
            let mut heard = vec![0.0_f32; played.len() + self.rate_hz as usize];
            let late = (TRUE_DELAY * rate).round() as usize;
            let mut ways = vec![(0, 1.0)];
            if let Some(t60) = self.t60 {
                let dense: Vec<(usize, f64)> = (0..200)
                    .map(|_| {
                        let secs = 0.004 + t60 * (0.5 + 0.5 * chance.next());
                        ((secs * rate) as usize, chance.next() * (-6.9 * secs / t60).exp())
                    })
                    .collect();
                let power: f64 = dense.iter().map(|(_, gain)| gain * gain).sum();
                ways.extend(dense.iter().map(|(at, gain)| (*at, gain / power.sqrt())));
            }
            for start in &starts {
                let from = *start as usize;
                let chirp = &played[from..from + (CHIRP_SECS * rate) as usize];
                let by = late as i64 + (self.jitter * chance.next() * rate) as i64;
                for (at, gain) in &ways {
                    let to = (from as i64 + by) as usize + at;
                    for (sample, chirp) in heard[to..].iter_mut().zip(chirp) {
                        *sample += *gain as f32 * chirp;
                    }
                }
            }
            let level = 0.0272 * 10f64.powf(-self.snr_db.unwrap_or(10.0) / 20.0) * 3f64.sqrt();
            for sample in &mut heard {
                let chirp = if self.snr_db.is_some() { *sample } else { 0.0 };
                *sample = chirp + (level * chance.next()) as f32;
            }
            // Both clocks: the card gave its first sample 3 s before place 0 of the loudspeaker sounds.
            let begun = Instant::now() + Duration::from_secs(100);
            let ahead = 3.0;
            let mut calibration = Calibration::default();
            let hole = starts[2] as usize + late + 3_000;
            let mut at = 0;
            for block in heard.chunks(480) {
                let end = at + block.len();
                if self.lost == 0 || end < hole || at > hole + self.lost {
                    let start = ahead + at as f64 / rate;
                    let delay = 0.5 * (1.0 + chance.next()) * 0.008;
                    calibration.heard(&SoundBlock {
                        samples: block.to_vec(),
                        rate_hz: self.rate_hz,
                        start: Secs(start),
                        arrived: begun + Duration::from_secs_f64(ahead + end as f64 / rate + delay),
                    });
                }
                for start in &starts {
                    if (at as u64..end as u64).contains(start) {
                        let secs = ahead + *start as f64 / rate;
                        calibration.played(begun + Duration::from_secs_f64(secs));
                    }
                }
                at = end;
            }
            calibration
        }
    }

    /// The delay is known up to the least lateness of blocks, here within some 0.1 ms.
    const NEAR: f64 = 0.0005;

    #[test]
    fn the_delay_is_found_in_noise_and_in_rooms() {
        for seed in 1..=5 {
            for t60 in [None, Some(0.3), Some(0.8)] {
                for rate_hz in [44_100, 48_000] {
                    let world = World { seed, t60, rate_hz, ..World::default() };
                    let calibration = world.calibrate();
                    assert!(calibration.is_complete());
                    let told = calibration.delay().expect("the chirps are loud enough");
                    let off = told.delay.get() - TRUE_DELAY;
                    assert!(off.abs() < NEAR, "seed {seed}, {t60:?}: off by {off} s, {told:?}");
                    assert_eq!(told.heard, 5);
                    assert!(told.spread < Secs(1e-4), "{told:?}");
                }
            }
        }
    }

    #[test]
    fn where_no_chirp_is_heard_it_says_so() {
        for seed in 1..=5 {
            let quiet = World { seed, snr_db: None, ..World::default() };
            let why = quiet.calibrate().delay().expect_err("nothing is to be heard");
            assert_eq!(why, NoDelay::NotHeard { heard: 0, played: 5 });
            assert!(why.to_string().contains("0 of 5"), "{why}");
        }
    }

    #[test]
    fn chirps_that_come_now_sooner_now_later_give_no_delay() {
        let world = World { jitter: 0.06, ..World::default() };
        let why = world.calibrate().delay().expect_err("they differ");
        let NoDelay::Unsteady(spread) = why else {
            panic!("{why}");
        };
        assert!((0.005..0.06).contains(&spread.get()), "{why}");
    }

    #[test]
    fn a_gap_costs_one_chirp_and_no_more() {
        let world = World { lost: 2_000, ..World::default() };
        let told = world.calibrate().delay().expect("four are left");
        assert_eq!(told.heard, 4);
        assert!((told.delay.get() - TRUE_DELAY).abs() < NEAR, "{told:?}");
    }

    #[test]
    fn a_device_that_gives_nothing_is_told() {
        let mut calibration = Calibration::default();
        assert_eq!(calibration.delay(), Err(NoDelay::NotPlayed));
        assert!(!calibration.is_complete());
        for chirp in 0..5 {
            calibration.played(Instant::now() + Duration::from_secs(chirp));
        }
        assert_eq!(calibration.delay(), Err(NoDelay::NoSound));
        assert!(!calibration.is_complete());
    }
}
