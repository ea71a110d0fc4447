//! How pitches are spelt in a key.

use super::note::Spelling;
use super::passage::Key;

/// The letters from C, and the order in which sharps stand before a staff; flats stand the other way round.
pub(super) const LETTERS: [char; 7] = ['C', 'D', 'E', 'F', 'G', 'A', 'B'];
const SHARPS: [char; 7] = ['F', 'C', 'G', 'D', 'A', 'E', 'B'];
/// The pitches in which passages are written: C0 to B8.
const MIDIS: std::ops::RangeInclusive<i32> = 12..=119;

impl Key {
    /// What the signs before the staff do to a letter: 1 sharpens it, −1 flattens it.
    pub(super) fn alter_of(self, letter: char) -> i8 {
        let at = SHARPS.iter().position(|sharp| *sharp == letter).unwrap_or(0) as i8;
        i8::from(self.sharps > at) - i8::from(-self.sharps > 6 - at)
    }

    /// A pitch by its MIDI number: as a note of the key, else a natural, else with this sign (1 is a sharp).
    pub(super) fn spelt(self, midi: i32, sign: i8) -> Option<Spelling> {
        let octave = midi.div_euclid(12) - 1;
        let all = [octave - 1, octave, octave + 1].into_iter().flat_map(|octave| {
            let letter = move |letter| [0, sign, -sign].map(|alter| written(letter, alter, octave));
            LETTERS.into_iter().flat_map(letter)
        });
        let strange = |one: &Spelling| match one.alter() {
            alter if alter == self.alter_of(one.letter()) => 0,
            0 => 1,
            alter if alter == sign => 2,
            _ => 3,
        };
        all.flatten().filter(|one| one.midi() == midi).min_by_key(strange)
    }
}

/// A pitch that can be written in a passage.
pub(super) fn written(letter: char, alter: i8, octave: i32) -> Option<Spelling> {
    let octave = (0..=8).contains(&octave).then_some(octave as i8)?;
    Spelling::new(letter, alter, octave).ok().filter(|pitch| MIDIS.contains(&pitch.midi()))
}
