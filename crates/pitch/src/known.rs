//! Sound that the program itself plays, and that may leak from its loudspeaker into the microphone.
//!
//! What is known of it are the frequencies of its partials. They are no evidence of what is bowed: power
//! at them does not say that a lower pitch sounds, and sound that has power nowhere else is no note.

use tuning::Hz;

/// Partials that can be known at once.
const MOST: usize = 16;
/// A harmonic lies at a known partial if it is this near to it, as a share of the pitch.
const NEAR: f64 = 0.05;
/// What is known is all that is heard if less than this share of the power lies elsewhere. A bowed string
/// has more in its third harmonic alone; the noise of a quiet room is less.
const ELSEWHERE: f64 = 0.01;

/// What leaks is taken to be this much of the power at most below some 3 kHz, where the coarse search looks.
/// A leak 20 dB below what is bowed is far more than 1 % there at times: it is duller, and the body of the
/// instrument may leave little of a fundamental. Where it does not repeat with a string it lowers the
/// similarity by twice that.
const LEAK: f64 = 0.12;

/// The partials known now.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Known {
    partials_hz: [f64; MOST],
    count: usize,
}

impl Known {
    /// These partials sound; of more than 16 the first ones count, of frequencies that are none, none.
    pub(crate) fn of(partials: &[Hz]) -> Self {
        let mut known = Self::default();
        for partial in partials.iter().filter(|partial| partial.get() > 0.0) {
            if known.count < MOST && partial.get().is_finite() {
                known.partials_hz[known.count] = partial.get();
                known.count += 1;
            }
        }
        known
    }

    fn partials(&self) -> &[f64] {
        &self.partials_hz[..self.count]
    }

    /// The aperiodicity that it may bring.
    pub(crate) fn allowed(&self) -> f64 {
        if self.count == 0 { 0.0 } else { 2.0 * LEAK }
    }

    /// Whether the harmonic with this number, from 1, of `hz` is the one nearest to a known partial.
    pub(crate) fn reaches(&self, number: usize, hz: f64) -> bool {
        let mut partials = self.partials().iter();
        partials.any(|partial| (partial / hz - number as f64).abs() <= 0.5)
    }

    /// Whether sound of pitch `hz` with these `powers` of its harmonics, from the first, is what is known
    /// and nothing else.
    pub(crate) fn is_all(&self, hz: f64, powers: impl Iterator<Item = f64>) -> bool {
        if self.count == 0 {
            return false;
        }
        let (mut all, mut elsewhere) = (0.0, 0.0);
        for (index, power) in powers.enumerate() {
            let number = (index + 1) as f64;
            all += power;
            let mut partials = self.partials().iter();
            if !partials.any(|partial| (partial / hz - number).abs() < NEAR) {
                elsewhere += power;
            }
        }
        elsewhere < ELSEWHERE * all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drone_alone_is_told_from_a_string_of_its_pitch() {
        let known = Known::of(&[Hz(110.0), Hz(220.0), Hz(440.0)]);
        let drone = [1.0, 0.25, 0.0, 0.1, 0.0];
        assert!(known.is_all(110.2, drone.into_iter()));
        let string = [1.0, 0.25, 0.05, 0.1, 0.02];
        assert!(!known.is_all(110.2, string.into_iter()));
        assert!(!known.is_all(116.5, drone.into_iter()), "another pitch");
        assert!(!Known::default().is_all(110.0, drone.into_iter()));
    }

    #[test]
    fn what_is_no_frequency_is_not_known() {
        let odd = [Hz(0.0), Hz(-3.0), Hz(f64::NAN), Hz(f64::INFINITY)];
        assert!(Known::of(&odd).partials().is_empty());
        assert_eq!(Known::of(&[Hz(50.0); 40]).partials().len(), MOST);
    }
}
