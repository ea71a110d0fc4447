//! Which frequency each note has.

use std::ops::RangeInclusive;

use thiserror::Error;

use crate::units::{Cents, Hz};

/// MIDI number of A4.
const A4: i32 = 69;

/// A pure fifth, two strings in tune with each other.
const FIFTH: f64 = 3.0 / 2.0;

/// What A4 may be: from French baroque pitch (a whole tone below 440 Hz) to Chorton.
pub const A4_RANGE_HZ: RangeInclusive<f64> = 392.0..=466.0;

/// How the notes between the A's are tuned.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Temperament {
    /// Twelve equal semitones.
    #[default]
    Equal,
    /// Pure fifths (3:2) up and down from A, as a player tunes the strings: every pitch class is
    /// the end of such a chain, E♭ six below A to G♯ five above it.
    PureFifths,
}

/// The frequencies of all notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tuning {
    /// Frequency of A4, within [`A4_RANGE_HZ`] if made by [`Tuning::new`].
    pub a4: Hz,
    /// How the other notes follow from it.
    pub temperament: Temperament,
}

/// The note nearest to a pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Its MIDI number (A4 = 69).
    pub midi: i32,
    /// Its frequency.
    pub reference: Hz,
    /// How far the pitch lies above it.
    pub offset: Cents,
}

/// Why a tuning could not be made.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum TuningError {
    /// A4 outside [`A4_RANGE_HZ`].
    #[error(
        "A4 = {asked_hz} Hz is outside 392 to 466 Hz; give the frequency of the A you tune to, such as 440 or 442"
    )]
    A4OutOfRange {
        /// What was asked for, in Hz.
        asked_hz: f64,
    },
}

impl Default for Tuning {
    /// Equal temperament at A4 = 440 Hz (ISO 16:1975).
    fn default() -> Self {
        Self { a4: Hz(440.0), temperament: Temperament::Equal }
    }
}

impl Tuning {
    /// A tuning with its A4 within [`A4_RANGE_HZ`].
    pub fn new(a4: Hz, temperament: Temperament) -> Result<Self, TuningError> {
        if A4_RANGE_HZ.contains(&a4.0) {
            Ok(Self { a4, temperament })
        } else {
            Err(TuningError::A4OutOfRange { asked_hz: a4.0 })
        }
    }

    /// Frequency of a note (MIDI 1.0: `m = 69 + 12 · log2(f / A4)` in equal temperament).
    pub fn frequency(&self, midi: i32) -> Hz {
        let above_a4 = f64::from(midi) - f64::from(A4);
        match self.temperament {
            Temperament::Equal => Hz(self.a4.0 * (above_a4 / 12.0).exp2()),
            Temperament::PureFifths => {
                let fifths = fifths_from_a(midi);
                let octaves = (above_a4 - 7.0 * f64::from(fifths)) / 12.0;
                Hz(self.a4.0 * FIFTH.powi(fifths) * octaves.exp2())
            }
        }
    }

    /// The note whose frequency lies nearest to `f0` by interval.
    /// `f0` must be above 0; otherwise the offset is not finite.
    pub fn nearest(&self, f0: Hz) -> Nearest {
        let equal = f64::from(A4) + 12.0 * (f0.0 / self.a4.0).log2();
        let guess = equal.round() as i32;
        // Pure fifths lie up to 12 cents off the equal ones: the true nearest is next door at most.
        (-1..=1)
            .map(|step| self.offset_from(f0, guess.saturating_add(step)))
            .min_by(|a, b| a.offset.0.abs().total_cmp(&b.offset.0.abs()))
            .unwrap_or_else(|| self.offset_from(f0, guess))
    }

    /// How far `f0` lies above a given note.
    fn offset_from(&self, f0: Hz, midi: i32) -> Nearest {
        let reference = self.frequency(midi);
        Nearest { midi, reference, offset: f0.cents_above(reference) }
    }
}

/// How many pure fifths above A the pitch class of a note stands, −6 to 5.
fn fifths_from_a(midi: i32) -> i32 {
    let semitones = (midi.rem_euclid(12) - A4.rem_euclid(12)).rem_euclid(12);
    // A fifth is 7 semitones and 7 · 7 = 49 = 1 modulo 12.
    (7 * semitones + 6).rem_euclid(12) - 6
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Open strings in equal temperament at A4 = 440 Hz, from `m = 69 + 12 · log2(f / 440)`
    /// (MIDI 1.0 with ISO 16:1975), to 4 decimals.
    const OPEN_STRINGS: [(i32, f64); 14] = [
        (23, 30.8677),
        (24, 32.7032),
        (28, 41.2034),
        (33, 55.0000),
        (38, 73.4162),
        (36, 65.4064),
        (43, 97.9989),
        (50, 146.8324),
        (57, 220.0000),
        (48, 130.8128),
        (55, 195.9977),
        (62, 293.6648),
        (69, 440.0000),
        (76, 659.2551),
    ];

    /// Half of the last decimal of the table.
    const TABLE_HZ: f64 = 5e-5;

    fn fifths() -> Tuning {
        Tuning::new(Hz(440.0), Temperament::PureFifths).expect("440 Hz is allowed")
    }

    #[test]
    fn open_strings_have_their_tabled_frequencies() {
        for (midi, hz) in OPEN_STRINGS {
            let found = Tuning::default().frequency(midi).0;
            assert!((found - hz).abs() <= TABLE_HZ, "{midi}: {found} for {hz}");
        }
    }

    #[test]
    fn a_of_440_hz_is_midi_69_exactly() {
        // ISO 16:1975 and MIDI 1.0.
        let nearest = Tuning::default().nearest(Hz(440.0));
        assert_eq!(nearest.midi, 69);
        assert_eq!(nearest.reference, Hz(440.0));
        assert_eq!(nearest.offset, Cents(0.0));
    }

    #[test]
    fn intervals_have_their_published_cents() {
        // A. J. Ellis, appendix to Helmholtz, On the Sensations of Tone (2nd English ed., 1885):
        // 1200 · log2 of the ratio; the Pythagorean comma is twelve fifths over seven octaves.
        let comma = 1.5_f64.powi(12) / 2.0_f64.powi(7);
        for (ratio, cents) in [
            (3.0 / 2.0, 701.955),
            (5.0 / 4.0, 386.314),
            (81.0 / 64.0, 407.820),
            (81.0 / 80.0, 21.506),
            (comma, 23.460),
        ] {
            let found = Hz(100.0 * ratio).cents_above(Hz(100.0)).0;
            assert!((found - cents).abs() <= 5e-4, "{ratio}: {found}, not {cents}");
        }
    }

    #[test]
    fn pitch_standards_lie_where_the_definition_puts_them() {
        // Computed from 1200 · log2(a4 / 440); 440 Hz is ISO 16:1975.
        for (a4, cents) in [
            (392.0, -199.98),
            (415.0, -101.27),
            (430.0, -39.80),
            (442.0, 7.85),
            (443.0, 11.76),
            (466.0, 99.39),
        ] {
            let tuning = Tuning::new(Hz(a4), Temperament::Equal).expect("within the range");
            let found = tuning.frequency(69).cents_above(Hz(440.0)).0;
            assert!((found - cents).abs() <= 0.005, "{a4}: {found}, not {cents}");
            assert_eq!(tuning.nearest(Hz(a4)).offset, Cents(0.0));
        }
    }

    #[test]
    fn strings_in_pure_fifths_lie_where_the_ratio_puts_them() {
        // Computed from the ratio 3:2 (Ellis 1885); cents against equal temperament.
        for (midi, hz, cents) in [
            (36, 65.1852, -5.865),
            (43, 97.7778, -3.910),
            (50, 146.6667, -1.955),
            (57, 220.0, 0.0),
            (48, 130.3704, -5.865),
            (55, 195.5556, -3.910),
            (76, 660.0, 1.955),
        ] {
            let found = fifths().frequency(midi);
            assert!((found.0 - hz).abs() <= 1e-4, "{midi}: {} for {hz}", found.0);
            let off = found.cents_above(Tuning::default().frequency(midi)).0;
            assert!((off - cents).abs() <= 0.001, "{midi}: {off}, not {cents}");
        }
    }

    #[test]
    fn each_note_is_its_own_nearest_in_every_tuning() {
        for temperament in [Temperament::Equal, Temperament::PureFifths] {
            for a4 in [392.0, 415.0, 440.0, 466.0] {
                let tuning = Tuning::new(Hz(a4), temperament).expect("within the range");
                for midi in 0..=127 {
                    for cents in [-35.0, 0.0, 35.0] {
                        let near = tuning.nearest(tuning.frequency(midi).raised(Cents(cents)));
                        assert_eq!(near.midi, midi, "{temperament:?} at {a4} Hz, {cents} cents");
                        assert!((near.offset.0 - cents).abs() < 1e-9);
                    }
                }
            }
        }
    }

    #[test]
    fn a_pitch_between_two_notes_goes_to_the_nearer_of_the_tempered_ones() {
        // E♭ and G♯ end the chain of fifths: both lie a comma wider apart than equal ones.
        let tuning = fifths();
        for midi in 40..90 {
            let (low, high) = (tuning.frequency(midi), tuning.frequency(midi + 1));
            let middle = Cents(high.cents_above(low).0 / 2.0);
            assert_eq!(tuning.nearest(low.raised(Cents(middle.0 - 0.01))).midi, midi);
            assert_eq!(tuning.nearest(low.raised(Cents(middle.0 + 0.01))).midi, midi + 1);
        }
    }

    #[test]
    fn an_a4_outside_its_range_is_refused_in_words() {
        for asked in [391.9, 466.1, 0.0, -440.0, f64::NAN, f64::INFINITY] {
            let error = Tuning::new(Hz(asked), Temperament::Equal).expect_err("out of range");
            assert!(error.to_string().contains("392 to 466 Hz"), "{error}");
        }
    }

    #[test]
    fn what_is_no_frequency_does_not_panic() {
        for f0 in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(!fifths().nearest(Hz(f0)).offset.0.is_finite(), "{f0}");
        }
    }
}
