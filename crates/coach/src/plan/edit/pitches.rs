//! Pitches next to each other, as they are spelt in a key.

use crate::plan::note::{Pitch, Spelling};
use crate::plan::passage::Key;

/// The letters from C, and the order in which sharps stand before a staff. Flats stand the other way round.
const LETTERS: [char; 7] = ['C', 'D', 'E', 'F', 'G', 'A', 'B'];
const SHARPS: [char; 7] = ['F', 'C', 'G', 'D', 'A', 'E', 'B'];
/// The octaves in which passages are written, and their pitches: C0 to B8.
const OCTAVES: std::ops::RangeInclusive<i32> = 0..=8;
const MIDIS: std::ops::RangeInclusive<i32> = 12..=119;

/// By how much a pitch moves; down for a number below 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// So many steps on the staff, to notes of the key.
    Staff(i8),
    /// Semitones.
    Semitones(i8),
    /// Octaves.
    Octaves(i8),
}

/// The pitch so far from this one; `None` where no passage can be written.
pub(super) fn moved(pitch: Pitch, by: Step, key: Key) -> Option<Pitch> {
    let one = |pitch| spelt(pitch, by, key);
    Some(match pitch {
        Pitch::Rest => Pitch::Rest,
        Pitch::Single(pitch) => Pitch::Single(one(pitch)?),
        Pitch::Double(low, high) => Pitch::Double(one(low)?, one(high)?),
    })
}

fn spelt(pitch: Spelling, by: Step, key: Key) -> Option<Spelling> {
    let octave = i32::from(pitch.octave());
    match by {
        Step::Octaves(by) => in_reach(pitch.letter(), pitch.alter(), octave + i32::from(by)),
        Step::Staff(by) => {
            let at = LETTERS.iter().position(|letter| *letter == pitch.letter())? as i32;
            let at = at + 7 * octave + i32::from(by);
            let letter = LETTERS[at.rem_euclid(7) as usize];
            in_reach(letter, alter_in(key, letter), at.div_euclid(7))
        }
        Step::Semitones(by) => {
            let midi = pitch.midi() + i32::from(by);
            let around = midi / 12 - 2..=midi / 12;
            let all = around.flat_map(|octave| LETTERS.map(|letter| (letter, octave)));
            let spellings = all.flat_map(|(letter, octave)| {
                [0, by.signum(), -by.signum()].map(|alter| in_reach(letter, alter, octave))
            });
            // A note of the key, else a natural, else a sharp on the way up and a flat on the way down.
            let strange = |one: &Spelling| match one.alter() {
                alter if alter == alter_in(key, one.letter()) => 0,
                0 => 1,
                alter => {
                    if alter == by.signum() {
                        2
                    } else {
                        3
                    }
                }
            };
            spellings.flatten().filter(|one| one.midi() == midi).min_by_key(strange)
        }
    }
}

fn in_reach(letter: char, alter: i8, octave: i32) -> Option<Spelling> {
    let octave = OCTAVES.contains(&octave).then_some(octave as i8)?;
    Spelling::new(letter, alter, octave).ok().filter(|pitch| MIDIS.contains(&pitch.midi()))
}

/// What the signs before the staff do to a letter.
fn alter_in(key: Key, letter: char) -> i8 {
    let at = SHARPS.iter().position(|sharp| *sharp == letter).unwrap_or(0) as i8;
    i8::from(key.sharps > at) - i8::from(-key.sharps > 6 - at)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::passage::Mode;

    fn row(from: &str, by: Step, sharps: i8, times: usize) -> String {
        let first = Spelling::named(from).expect("a name");
        let key = Key { sharps, mode: Mode::Major };
        let next = |pitch: &Spelling| spelt(*pitch, by, key);
        let row = std::iter::successors(Some(first), next).take(times);
        row.map(String::from).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn steps_on_the_staff_are_those_of_the_key() {
        assert_eq!(row("D3", Step::Staff(1), 2, 8), "D3 E3 F#3 G3 A3 B3 C#4 D4");
        assert_eq!(row("C4", Step::Staff(-1), -3, 4), "C4 Bb3 Ab3 G3");
        assert_eq!(row("F#3", Step::Staff(1), 0, 2), "F#3 G3");
    }

    #[test]
    fn semitones_are_spelt_as_the_way_goes_and_the_key_has_them() {
        assert_eq!(row("C4", Step::Semitones(1), 0, 6), "C4 C#4 D4 D#4 E4 F4");
        assert_eq!(row("C4", Step::Semitones(-1), 0, 4), "C4 B3 Bb3 A3");
        assert_eq!(row("A3", Step::Semitones(1), -3, 3), "A3 Bb3 B3");
        assert_eq!(row("C4", Step::Semitones(1), 7, 2), "C4 C#4");
    }

    #[test]
    fn no_pitch_leaves_what_can_be_written() {
        assert_eq!(row("A8", Step::Staff(1), 0, 9), "A8 B8");
        assert_eq!(row("C1", Step::Octaves(-1), 0, 9), "C1 C0");
        assert_eq!(row("D0", Step::Semitones(-1), 0, 9), "D0 Db0 C0");
    }
}
