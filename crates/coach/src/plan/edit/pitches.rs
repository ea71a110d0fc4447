//! Pitches next to each other, as they are spelt in a key.

use crate::plan::note::{Pitch, Spelling};
use crate::plan::passage::Key;
use crate::plan::spelling::{LETTERS, written};

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
        Step::Octaves(by) => written(pitch.letter(), pitch.alter(), octave + i32::from(by)),
        Step::Staff(by) => {
            let at = LETTERS.iter().position(|letter| *letter == pitch.letter())? as i32;
            let at = at + 7 * octave + i32::from(by);
            let letter = LETTERS[at.rem_euclid(7) as usize];
            written(letter, key.alter_of(letter), at.div_euclid(7))
        }
        Step::Semitones(by) => key.spelt(pitch.midi() + i32::from(by), by.signum()),
    }
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
