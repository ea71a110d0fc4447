//! A drone to play against: soft, steady, and told apart from the player by the ear.

use std::f64::consts::{PI, TAU};

use tuning::Hz;

/// The partials of the root, as multiples of half its frequency, and their amplitudes: octaves and nothing else.
/// Such a drone has a plain pitch on a small loudspeaker too; it is smooth beside the full spectrum of a
/// bowed string; and since no string is without its fifth and seventh harmonic, the ear can tell by
/// those whether one is bowed at the drone's own pitch.
const ROOT: [(f64, f64); 4] = [(2.0, 1.0), (4.0, 0.5), (8.0, 0.3), (16.0, 0.15)];
/// Those of the pure fifth above it, fewer for the same reason.
const FIFTH: [(f64, f64); 2] = [(3.0, 0.9), (6.0, 0.3)];
/// How long it takes to be heard at full, and to be gone.
const FADE_IN_SECS: f64 = 1.5;
const FADE_OUT_SECS: f64 = 0.5;
/// How long one note takes to give way to another.
const CROSS_SECS: f64 = 0.25;
/// Notes that sound at once while one gives way to another; further ones wait.
const MOST_VOICES: usize = 4;
/// Lowest and highest root, in Hz, and loudest level, in dB below full scale.
const ROOT_HZ: (f64, f64) = (16.0, 4_200.0);
const MOST_DB: f64 = -6.0;

/// What is to sound.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DroneWish {
    /// Frequency of the lower voice, 16 to 4 200 Hz; others are silent.
    pub root: Hz,
    /// A pure fifth above sounds with it.
    pub fifth: bool,
    /// Its mean level in dB below full scale, as `20 · log10(rms)`; at most −6.
    pub level_db: f64,
}

impl DroneWish {
    /// The frequencies of which it is made, at most 6.
    pub fn partials(&self) -> impl Iterator<Item = Hz> {
        let half = 0.5 * self.root.0;
        self.of_half().map(move |(number, _)| Hz(number * half))
    }

    /// Its partials as multiples of half the root, and their amplitudes.
    fn of_half(&self) -> impl Iterator<Item = (f64, f64)> + use<> {
        let fifth = if self.fifth { &FIFTH[..] } else { &[] };
        ROOT.iter().chain(fifth).copied()
    }

    fn is_sound(&self) -> bool {
        (ROOT_HZ.0..=ROOT_HZ.1).contains(&self.root.0) && self.level_db.is_finite()
    }
}

/// A drone as a stream of samples. No change of it clicks.
#[derive(Clone, Debug)]
pub struct Drone {
    rate_hz: f64,
    wish: Option<DroneWish>,
    /// The wish has not been taken up yet.
    waits: bool,
    /// Voices that fade in, sound or fade out; the one that is wanted is the last.
    voices: Vec<Voice>,
}

#[derive(Clone, Debug)]
struct Voice {
    wish: DroneWish,
    /// Position in the cycle of half the root, 0 to 1.
    phase: f64,
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
            waits: false,
            voices: Vec::with_capacity(MOST_VOICES),
        }
    }

    /// From now on this is to sound, or nothing.
    pub fn set(&mut self, wish: Option<DroneWish>) {
        let wish = wish.filter(DroneWish::is_sound);
        if wish != self.wish {
            self.wish = wish;
            self.waits = true;
        }
    }

    /// Lets what is wanted begin and all else fade out, once there is room for it.
    fn take_up(&mut self) {
        if self.wish.is_some() && self.voices.len() == MOST_VOICES {
            return;
        }
        self.waits = false;
        let out = if self.wish.is_none() { FADE_OUT_SECS } else { CROSS_SECS };
        let going_on = self.voices.iter().any(|voice| voice.step >= 0.0);
        for voice in &mut self.voices {
            voice.step = -1.0 / (out * self.rate_hz);
        }
        let Some(wish) = self.wish else { return };
        let fade = if going_on { CROSS_SECS } else { FADE_IN_SECS };
        // The same note goes on in its own phase, so that a change of level is nothing else.
        let same = self.voices.iter().rfind(|v| v.wish.root == wish.root);
        let phase = same.map_or(0.0, |v| v.phase);
        self.voices.push(Voice { wish, phase, share: 0.0, step: 1.0 / (fade * self.rate_hz) });
    }

    /// Nothing sounds, and nothing is to.
    pub fn is_silent(&self) -> bool {
        self.voices.is_empty() && self.wish.is_none()
    }

    /// Adds its next samples to `out`.
    pub fn add(&mut self, out: &mut [f32]) {
        if self.waits {
            self.take_up();
        }
        for voice in &mut self.voices {
            voice.add(out, self.rate_hz);
        }
        self.voices.retain(|voice| voice.step >= 0.0 || voice.share > 0.0);
    }
}

impl Voice {
    fn add(&mut self, out: &mut [f32], rate_hz: f64) {
        let wish = self.wish;
        let power: f64 = wish.of_half().map(|(_, a)| a * a / 2.0).sum();
        let amplitude = 10f64.powf(wish.level_db.min(MOST_DB) / 20.0) / power.sqrt();
        let half = 0.5 * wish.root.0;
        for sample in out {
            // A raised cosine has no corner at either end.
            let heard = 0.5 - 0.5 * (PI * self.share).cos();
            let mut sum = 0.0;
            for (number, amplitude) in wish.of_half() {
                // Those near half the sample rate and beyond are left out.
                if number * half < 0.4 * rate_hz {
                    // Phases of their own keep the crest low.
                    let start = 0.06 * number * number;
                    sum += amplitude * (TAU * (number * self.phase + start)).sin();
                }
            }
            *sample += (amplitude * heard * sum) as f32;
            self.phase = (self.phase + half / rate_hz).fract();
            self.share = (self.share + self.step).clamp(0.0, 1.0);
        }
    }
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
        DroneWish { root: Hz(hz), fifth: false, level_db: -36.0 }
    }

    fn level_db(samples: &[f32]) -> f64 {
        let power: f64 = samples.iter().map(|s| f64::from(s * s)).sum();
        10.0 * (power / samples.len() as f64).log10()
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

    /// The largest bend from sample to sample: a corner or a step in the sound makes it large.
    fn sharpest(samples: &[f32]) -> f32 {
        samples.array_windows::<3>().map(|[a, b, c]| (a - 2.0 * b + c).abs()).fold(0.0, f32::max)
    }

    #[test]
    fn no_change_clicks() {
        let mut drone = Drone::new(RATE_HZ);
        let mut out = run(&mut drone, 0.01);
        let mut change = |wish, secs| {
            drone.set(wish);
            out.extend(run(&mut drone, secs));
        };
        change(Some(wish(110.0)), 2.0);
        for (hz, fifth, level_db) in [
            (116.5, false, -36.0),
            (116.5, true, -36.0),
            (98.0, true, -36.0),
            (98.0, true, -40.0),
            (98.0, false, -36.0),
        ] {
            let wish = DroneWish { fifth, level_db, ..wish(hz) };
            change(Some(wish), 0.1);
            change(Some(DroneWish { root: Hz(104.0), ..wish }), 0.4);
        }
        change(None, 0.2);
        change(Some(wish(110.0)), 1.0);
        change(None, 0.6);
        // The sharpest that the highest partials of two voices at once can be.
        let mut steady = Drone::new(RATE_HZ);
        let most = DroneWish { fifth: true, ..wish(116.5) };
        steady.set(Some(most));
        run(&mut steady, 2.0);
        let calm = sharpest(&run(&mut steady, 0.5));
        assert!(sharpest(&out) < 2.0 * calm, "{} {calm}", sharpest(&out));
    }

    #[test]
    fn a_change_of_level_leaves_no_dip() {
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(wish(110.0)));
        run(&mut drone, 2.0037);
        drone.set(Some(DroneWish { level_db: -30.0, ..wish(110.0) }));
        for _ in 0..20 {
            let level = level_db(&run(&mut drone, 0.02));
            assert!((-37.5..-29.0).contains(&level), "{level} dB");
        }
    }

    #[test]
    fn it_sounds_at_its_partials_and_nowhere_else() {
        let mut drone = Drone::new(RATE_HZ);
        let wish = DroneWish { fifth: true, ..wish(100.0) };
        drone.set(Some(wish));
        run(&mut drone, 2.0);
        let mut out = run(&mut drone, 0.5);
        let plan = realfft::RealFftPlanner::<f32>::new().plan_fft_forward(out.len());
        let mut spectrum = plan.make_output_vec();
        plan.process(&mut out, &mut spectrum).expect("lengths fit");
        // 2 Hz from line to line; all partials fall on lines.
        let is_partial = |line: usize| wish.partials().any(|p| p.0 == 2.0 * line as f64);
        let (mut at, mut elsewhere) = (0.0, 0.0);
        for (line, value) in spectrum.iter().enumerate() {
            let power = f64::from(value.norm_sqr());
            *(if is_partial(line) { &mut at } else { &mut elsewhere }) += power;
        }
        assert_eq!(wish.partials().count(), 6);
        assert!(elsewhere < 1e-9 * at, "{elsewhere} {at}");
    }

    #[test]
    fn what_is_no_sound_is_silence() {
        for (hz, level_db) in
            [(f64::NAN, -36.0), (0.0, -36.0), (-110.0, -36.0), (1e9, -36.0), (110.0, f64::NAN)]
        {
            let mut drone = Drone::new(RATE_HZ);
            drone.set(Some(DroneWish { level_db, ..wish(hz) }));
            assert!(drone.is_silent(), "{hz} Hz, {level_db} dB");
        }
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(DroneWish { level_db: 40.0, ..wish(110.0) }));
        let loudest = run(&mut drone, 3.0).iter().fold(0.0_f32, |m, s| m.max(s.abs()));
        assert!(loudest <= 1.5, "{loudest}");
    }

    #[test]
    fn the_fifth_is_pure() {
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(DroneWish { fifth: true, ..wish(100.0) }));
        run(&mut drone, 2.0);
        // Both voices repeat together after two cycles of the root: 20 ms.
        let out = run(&mut drone, 0.2);
        let period = (0.02 * f64::from(RATE_HZ)) as usize;
        for (one, other) in out.iter().zip(&out[period..]) {
            assert!((one - other).abs() < 1e-5);
        }
    }

    #[test]
    fn a_slider_that_moves_neither_clicks_nor_heaps_up_voices() {
        let mut drone = Drone::new(RATE_HZ);
        drone.set(Some(wish(100.0)));
        run(&mut drone, 2.0);
        let calm = sharpest(&run(&mut drone, 0.5));
        for step in 0..300 {
            drone.set(Some(wish(100.0 + 0.1 * f64::from(step))));
            let sharpest = sharpest(&run(&mut drone, 0.016));
            assert!(sharpest < 3.0 * calm, "{sharpest} {calm}");
            assert!(drone.voices.len() <= MOST_VOICES);
        }
        run(&mut drone, 1.0);
        assert_eq!(drone.voices.len(), 1);
        assert_eq!(drone.voices[0].wish.root, Hz(129.9), "the last one holds");
    }
}
