//! Chance from a seed: one stream for each use, so that they do not disturb each other.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// What a stream of random numbers is used for.
#[derive(Clone, Copy)]
pub(crate) enum Use {
    /// Levels and phases of the harmonics.
    Harmonics,
    /// The body's resonances.
    Body,
    /// Steady bow noise.
    Noise,
    /// Noise of attacks and bow changes.
    Scratch,
    /// The room's tail.
    Room,
    /// The microphone's noise.
    Floor,
    /// Irregularity and wandering of the note with this line and number.
    Note(usize, usize),
}

/// A stream of random numbers.
pub(crate) struct Chance(ChaCha8Rng);

impl Chance {
    /// The stream for one use of `seed`.
    pub(crate) fn new(seed: u64, of: Use) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(match of {
            Use::Harmonics => 1,
            Use::Body => 2,
            Use::Noise => 3,
            Use::Scratch => 4,
            Use::Room => 5,
            Use::Floor => 6,
            Use::Note(line, note) => (line as u64 + 1) << 32 | note as u64,
        });
        Self(rng)
    }

    /// Evenly spread over `low..high`.
    pub(crate) fn even(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Normal, mean 0 and standard deviation 1 (Box and Muller's transform).
    pub(crate) fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.0.random::<f64>()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.0.random::<f64>()).cos()
    }

    /// Noise for a sample: evenly spread, mean 0, standard deviation 1; quicker than [`normal`](Self::normal).
    pub(crate) fn noise(&mut self) -> f64 {
        let bits = self.0.next_u32();
        (f64::from(bits) / f64::from(u32::MAX) - 0.5) * 12f64.sqrt()
    }
}
