//! A drone to play against: soft, steady, and told apart from the player by the ear.

use tuning::Hz;

/// The partials of one voice, by number, and their amplitudes: octaves of the root and nothing else. Such a
/// drone has a plain pitch on a small loudspeaker too, and where it leaks into the microphone under a
/// note an octave or more above it, it does not fill the places between the note's own partials, by
/// which the ear tells one octave from another.
const PARTIALS: [(f64, f64); 4] = [(1.0, 1.0), (2.0, 0.5), (4.0, 0.3), (8.0, 0.15)];
/// How long it takes to be heard at full, and to be gone.
const FADE_IN_SECS: f64 = 1.5;
const FADE_OUT_SECS: f64 = 0.5;
/// How long one note takes to give way to another.
const CROSS_SECS: f64 = 0.25;
/// The second voice stands a pure fifth above the first.
const FIFTH: f64 = 1.5;

/// What is to sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneWish {
    /// Frequency of the lower voice.
    pub root: Hz,
    /// A pure fifth above sounds with it.
    pub fifth: bool,
    /// Its mean level in dB below full scale, as `20 · log10(rms)`.
    pub level_db: f64,
}

/// A drone as a stream of samples. No change of it clicks.
#[derive(Clone, Debug)]
pub struct Drone {
    rate_hz: f64,
    wish: Option<DroneWish>,
    /// Voices that fade in, sound or fade out.
    voices: Vec<Voice>,
}

#[derive(Clone, Debug)]
struct Voice {
    wish: DroneWish,
    /// Position in the cycle of the root, 0 to 1; the fifth runs on its own.
    phase: f64,
    fifth_phase: f64,
    /// How much of it is heard, 0 to 1, and how that changes from sample to sample.
    share: f64,
    step: f64,
}

impl Drone {
    /// A silent drone at `rate_hz` samples a second.
    pub fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz: f64::from(rate_hz),
            wish: None,
            voices: Vec::with_capacity(8),
        }
    }

    /// From now on this is to sound, or nothing.
    pub fn set(&mut self, wish: Option<DroneWish>) {
        if wish == self.wish {
            return;
        }
        let begins = self.wish.is_none();
        self.wish = wish;
        let ends = wish.is_none();
        let out = if ends { FADE_OUT_SECS } else { CROSS_SECS };
        for voice in &mut self.voices {
            voice.step = -1.0 / (out * self.rate_hz);
        }
        if let Some(wish) = wish {
            // Many changes in a row, as of a slider: the faintest give way.
            if self.voices.len() == self.voices.capacity() {
                self.voices.remove(0);
            }
            let fade = if begins { FADE_IN_SECS } else { CROSS_SECS };
            self.voices.push(Voice {
                wish,
                phase: 0.0,
                fifth_phase: 0.0,
                share: 0.0,
                step: 1.0 / (fade * self.rate_hz),
            });
        }
    }

    /// Nothing sounds, and nothing is to.
    pub fn is_silent(&self) -> bool {
        self.voices.is_empty()
    }

    /// Adds its next samples to `out`.
    pub fn add(&mut self, out: &mut [f32]) {
        for voice in &mut self.voices {
            voice.add(out, self.rate_hz);
        }
        self.voices
            .retain(|voice| voice.step >= 0.0 || voice.share > 0.0);
    }
}

impl Voice {
    fn add(&mut self, out: &mut [f32], rate_hz: f64) {
        let wish = self.wish;
        let power: f64 = PARTIALS.iter().map(|(_, a)| a * a / 2.0).sum();
        let voices = if wish.fifth { 2.0 } else { 1.0 };
        let amplitude = 10f64.powf(wish.level_db / 20.0) / (power * voices).sqrt();
        let advance = wish.root.0 / rate_hz;
        for sample in out {
            // A raised cosine has no corner at either end.
            let heard = 0.5 - 0.5 * (std::f64::consts::PI * self.share).cos();
            let mut sum = partials(self.phase, wish.root.0, rate_hz);
            if wish.fifth {
                sum += partials(self.fifth_phase, FIFTH * wish.root.0, rate_hz);
            }
            *sample += (amplitude * heard * sum) as f32;
            self.phase = (self.phase + advance).fract();
            self.fifth_phase = (self.fifth_phase + FIFTH * advance).fract();
            self.share = (self.share + self.step).clamp(0.0, 1.0);
        }
    }
}

/// All partials of one voice that lie well below half the sample rate.
fn partials(phase: f64, root_hz: f64, rate_hz: f64) -> f64 {
    let mut sum = 0.0;
    for (index, (number, amplitude)) in PARTIALS.iter().enumerate() {
        if number * root_hz < 0.4 * rate_hz {
            // Phases of their own keep the crest low.
            let start = 0.25 * (index * index) as f64;
            sum += amplitude * (std::f64::consts::TAU * (number * phase + start)).sin();
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;

    fn run(drone: &mut Drone, secs: f64) -> Vec<f32> {
        let mut out = vec![0.0; (secs * f64::from(RATE_HZ)) as usize];
        for block in out.chunks_mut(240) {
            drone.add(block);
        }
        out
    }

    fn wish(hz: f64) -> DroneWish {
        DroneWish {
            root: Hz(hz),
            fifth: false,
            level_db: -36.0,
        }
    }

    fn level_db(samples: &[f32]) -> f64 {
        let power: f64 = samples.iter().map(|s| f64::from(s * s)).sum();
        10.0 * (power / samples.len() as f64).log10()
    }

    fn steepest(samples: &[f32]) -> f32 {
        samples
            .windows(2)
            .map(|pair| (pair[1] - pair[0]).abs())
            .fold(0.0, f32::max)
    }

    #[test]
    fn it_is_faded_in_to_its_level_and_out_to_silence() {
        let mut drone = Drone::new(RATE_HZ);
        assert!(drone.is_silent());
        drone.set(Some(wish(110.0)));
        let start = run(&mut drone, 2.0);
        assert!(level_db(&start[..2_400]) < -70.0, "quiet at first");
        let held = run(&mut drone, 1.0);
        assert!((level_db(&held) + 36.0).abs() < 0.1, "{}", level_db(&held));
        drone.set(None);
        run(&mut drone, 0.6);
        assert!(drone.is_silent());
        assert!(run(&mut drone, 0.1).iter().all(|s| *s == 0.0));
    }

    #[test]
    fn no_change_clicks() {
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(wish(110.0)));
        run(&mut drone, 2.0);
        let calm = steepest(&run(&mut drone, 0.5));
        for (hz, fifth, level_db) in [
            (116.5, false, -36.0),
            (116.5, true, -36.0),
            (98.0, true, -33.0),
        ] {
            drone.set(Some(DroneWish {
                root: Hz(hz),
                fifth,
                level_db,
            }));
            let change = steepest(&run(&mut drone, 0.5));
            assert!(change < 2.5 * calm, "{hz} Hz: {change} after {calm}");
        }
        drone.set(None);
        assert!(steepest(&run(&mut drone, 0.6)) < 2.5 * calm);
    }

    #[test]
    fn the_fifth_is_pure() {
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(DroneWish {
            fifth: true,
            ..wish(100.0)
        }));
        run(&mut drone, 2.0);
        // Both voices repeat together after two cycles of the root: 20 ms.
        let out = run(&mut drone, 0.2);
        let period = (0.02 * f64::from(RATE_HZ)) as usize;
        for (one, other) in out.iter().zip(&out[period..]) {
            assert!((one - other).abs() < 1e-5);
        }
    }

    #[test]
    fn a_slider_that_moves_makes_no_heap_of_voices() {
        let mut drone = Drone::new(RATE_HZ);
        for step in 0..1_000 {
            drone.set(Some(wish(100.0 + f64::from(step))));
            run(&mut drone, 0.001);
        }
        assert!(drone.voices.len() <= 8);
    }
}
