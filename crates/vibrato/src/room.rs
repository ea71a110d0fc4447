//! Does the room smear the pitch?
//!
//! Old sound lags behind the string: where it is strong, a harmonic swings less than the string
//! does. It is strong in some harmonics and weak in others, so in a room the harmonics disagree
//! about the width, while the same note heard from close by moves them all alike.

use crate::measure::Measure;
use pitch::Harmonic;

/// Harmonics looked at.
const HARMONICS: usize = 40;
/// Frames a harmonic must have been heard in, as a share of the note's.
const LEAST_SHARE: f64 = 0.5;
/// Least frames of a harmonic, harmonics to compare, and swing (its variance, in cents squared).
const LEAST_FRAMES: f64 = 40.0;
const LEAST_HARMONICS: usize = 4;
const LEAST_SWING_CENTS2: f64 = 4.0;
/// Share of the noise's standard deviation that a middling harmonic is off by chance, set low enough that 95 % of
/// dry notes stay below the limit in `ear`.
const NOISE_SHARE: f64 = 0.48;
/// A middling harmonic of a dry note strays by this share of the swing.
const DRY_SMEAR: f64 = 0.01;
/// How well the smear tells how much narrower than the string the pitch swings, as a share of it.
const SMEAR_DOUBT: f64 = 0.7;
/// Power a harmonic needs, as a share of the strongest.
const LEAST_POWER: f64 = 1e-3;

/// How much wider than the pitch the string swings, by the smear of its harmonics: in a room the pitch follows the middling
/// harmonic, which lags as much as it strays.
pub(crate) fn widening(smear: Option<f64>) -> Measure<f64> {
    let by = (smear.unwrap_or(0.0) - DRY_SMEAR).max(0.0);
    Measure { value: 1.0 + by, se: Some(SMEAR_DOUBT * by) }
}

/// Running sums of one harmonic against the consensus.
#[derive(Clone, Copy, Default)]
struct Sums {
    count: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

/// Watches how far each harmonic follows the note's swing.
pub(crate) struct Room {
    sums: [Sums; HARMONICS],
    frames: f64,
}

impl Room {
    /// A room of which nothing is known.
    pub(crate) fn new() -> Self {
        Self { sums: [Sums::default(); HARMONICS], frames: 0.0 }
    }

    /// Forgets all.
    pub(crate) fn clear(&mut self) {
        *self = Self::new();
    }

    /// Takes one frame: `swing` is its pitch in cents from the note's centre.
    pub(crate) fn push(&mut self, swing: f64, harmonics: &[Harmonic]) {
        self.frames += 1.0;
        let strongest = harmonics.iter().map(|h| h.power).fold(0.0, f64::max);
        for (sums, h) in self.sums.iter_mut().zip(harmonics) {
            if h.power < LEAST_POWER * strongest || h.apart_cents.abs() > 60.0 {
                continue;
            }
            sums.count += 1.0;
            sums.x += swing;
            sums.y += h.apart_cents;
            sums.xx += swing * swing;
            sums.xy += swing * h.apart_cents;
            sums.yy += h.apart_cents * h.apart_cents;
        }
    }

    /// How much the harmonics disagree about the swing: the share of it that a middling harmonic
    /// lacks or exceeds, less what noise alone would give. Dry notes have hardly any, for it is only
    /// a few low harmonics that the instrument's own resonances delay; a room delays most of them.
    ///
    /// `None` with fewer than four harmonics to compare, without a swing, or where the noise would hide a room.
    pub(crate) fn smear(&self) -> Option<f64> {
        let (mut sizes, mut noises) = ([0.0; HARMONICS], [0.0; HARMONICS]);
        let mut count = 0;
        for sums in &self.sums {
            if sums.count < LEAST_FRAMES || sums.count < LEAST_SHARE * self.frames {
                continue;
            }
            let n = sums.count;
            let xx = sums.xx - sums.x * sums.x / n;
            let xy = sums.xy - sums.x * sums.y / n;
            let yy = sums.yy - sums.y * sums.y / n;
            if xx < LEAST_SWING_CENTS2 * n {
                return None;
            }
            let slope = xy / xx;
            sizes[count] = slope.abs();
            // Neighbouring frames share samples: about every fourth counts.
            noises[count] = ((yy - slope * xy).max(0.0) / n / (xx / 4.0)).sqrt();
            count += 1;
        }
        if count < LEAST_HARMONICS {
            return None;
        }
        let middle =
            |values: &mut [f64]| *values.select_nth_unstable_by(count * 9 / 20, f64::total_cmp).1;
        let size = middle(&mut sizes[..count]);
        let noise = NOISE_SHARE * middle(&mut noises[..count]);
        let smear = (size * size - noise * noise).max(0.0).sqrt();
        (smear > DRY_SMEAR || noise <= DRY_SMEAR).then_some(smear)
    }
}
