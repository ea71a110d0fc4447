//! What notes are called.

use thiserror::Error;

/// How notes are named.
#[derive(Clone, Copy, Debug, Default, Eq, PartialEq)]
pub enum Naming {
    /// C2, C♯3, B♭3, A4: letter and octave number, C4 = middle C.
    #[default]
    Scientific,
    /// C, c♯, b♭, a′: Helmholtz's octaves with English letters, marks written `'` and `,`.
    Helmholtz,
    /// C, cis, b, a': Helmholtz's octaves with German names, H for B and B for B♭; contra octaves
    /// carry a lowered number.
    German,
    /// Do2, Do♯3, Si♭3, La4: fixed do with the octave numbers of scientific names.
    FixedDo,
}

/// No note is called so.
#[derive(Clone, Debug, Eq, Error, PartialEq)]
#[error(
    "\"{given}\" is no note from C-1 to G9; write a letter A to G, # or b if needed, \
     and the octave (C4 is middle C), such as C#2 or Bb3"
)]
pub struct NoSuchPitch {
    /// What was given.
    pub given: String,
}

/// Notes that have names: the range of MIDI 1.0.
const NAMED: std::ops::RangeInclusive<i32> = 0..=127;

/// The twelve pitch classes from C; black keys by the names of the chain of fifths from E♭ to G♯.
const LETTERS: [&str; 12] = ["C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "G♯", "A", "B♭", "B"];
const GERMAN: [&str; 12] = ["C", "Cis", "D", "Es", "E", "F", "Fis", "G", "Gis", "A", "B", "H"];
const FIXED_DO: [&str; 12] =
    ["Do", "Do♯", "Re", "Mi♭", "Mi", "Fa", "Fa♯", "Sol", "Sol♯", "La", "Si♭", "Si"];

/// Name of a note by its MIDI number (A4 = 69). Outside MIDI's 0 to 127 it is only numbered.
///
/// Helmholtz's octaves: H. von Helmholtz, On the Sensations of Tone (1863): C2 to B2 are capitals,
/// C3 to B3 small letters, middle C is c′.
pub fn pitch_name(midi: i32, naming: Naming) -> String {
    if !NAMED.contains(&midi) {
        return format!("note {midi}");
    }
    let class = midi.rem_euclid(12) as usize;
    let octave = midi.div_euclid(12) - 1;
    match naming {
        Naming::Scientific => format!("{}{octave}", LETTERS[class]),
        Naming::FixedDo => format!("{}{octave}", FIXED_DO[class]),
        Naming::Helmholtz => {
            in_helmholtz_octave(LETTERS[class], octave, &",".repeat(below(octave)))
        }
        Naming::German => {
            let lowered = match below(octave) {
                0 => String::new(),
                contra => String::from(['₀', '₁', '₂', '₃'][contra]),
            };
            in_helmholtz_octave(GERMAN[class], octave, &lowered)
        }
    }
}

/// How many octaves a scientific octave lies below the great one (C2 to B2), 0 to 3.
fn below(octave: i32) -> usize {
    (2 - octave).clamp(0, 3) as usize
}

/// Small from C3 up, with a mark for each octave from C4 up; `low_marks` for those below C2.
fn in_helmholtz_octave(name: &str, octave: i32, low_marks: &str) -> String {
    if octave < 3 {
        return format!("{name}{low_marks}");
    }
    let marks = "'".repeat((octave - 3) as usize);
    format!("{}{marks}", name.to_lowercase())
}

/// MIDI number of a scientific note name: `C2`, `C#2`, `C♯2`, `Bb3`, `B♭3`, `c-1`.
/// Up to two accidentals are read; letters may be small.
pub fn midi_from_name(name: &str) -> Result<i32, NoSuchPitch> {
    read(name.trim())
        .filter(|midi| NAMED.contains(midi))
        .ok_or_else(|| NoSuchPitch { given: name.to_owned() })
}

fn read(name: &str) -> Option<i32> {
    let mut signs = name.chars();
    let class = match signs.next()?.to_ascii_uppercase() {
        'C' => 0,
        'D' => 2,
        'E' => 4,
        'F' => 5,
        'G' => 7,
        'A' => 9,
        'B' => 11,
        _ => return None,
    };
    let after_letter = signs.as_str();
    let rest = after_letter.trim_start_matches(['#', '♯', 'b', '♭']);
    let accidentals = &after_letter[..after_letter.len() - rest.len()];
    let sharps = accidentals.matches(['#', '♯']).count() as i32;
    let flats = accidentals.matches(['b', '♭']).count() as i32;
    if sharps * flats != 0 || sharps + flats > 2 {
        return None;
    }
    let octave: i32 = rest.parse().ok().filter(|o| (-2..=10).contains(o))?;
    Some(12 * (octave + 1) + class + sharps - flats)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Open strings: MIDI number, scientific, Helmholtz (the trade's table of open strings).
    const OPEN_STRINGS: [(i32, &str, &str); 14] = [
        (23, "B0", "B,,"),
        (24, "C1", "C,"),
        (28, "E1", "E,"),
        (33, "A1", "A,"),
        (38, "D2", "D"),
        (36, "C2", "C"),
        (43, "G2", "G"),
        (50, "D3", "d"),
        (57, "A3", "a"),
        (48, "C3", "c"),
        (55, "G3", "g"),
        (62, "D4", "d'"),
        (69, "A4", "a'"),
        (76, "E5", "e''"),
    ];

    #[test]
    fn open_strings_are_called_as_players_call_them() {
        for (midi, scientific, helmholtz) in OPEN_STRINGS {
            assert_eq!(pitch_name(midi, Naming::Scientific), scientific);
            assert_eq!(pitch_name(midi, Naming::Helmholtz), helmholtz);
        }
    }

    #[test]
    fn german_h_and_b_are_not_mixed_up() {
        // Common practice: German H is B, German B is B♭; C4 is c'.
        let german = |midi| pitch_name(midi, Naming::German);
        assert_eq!(german(71), "h'");
        assert_eq!(german(70), "b'");
        assert_eq!(german(47), "H");
        assert_eq!(german(46), "B");
        assert_eq!(german(60), "c'");
        assert_eq!(german(61), "cis'");
        assert_eq!(german(51), "es");
        assert_eq!(german(23), "H₂");
        assert_eq!(german(24), "C₁");
    }

    #[test]
    fn fixed_do_and_accidentals_are_spelt_out() {
        assert_eq!(pitch_name(69, Naming::FixedDo), "La4");
        assert_eq!(pitch_name(58, Naming::FixedDo), "Si♭3");
        assert_eq!(pitch_name(37, Naming::Scientific), "C♯2");
        assert_eq!(pitch_name(58, Naming::Scientific), "B♭3");
        assert_eq!(pitch_name(58, Naming::Helmholtz), "b♭");
        assert_eq!(pitch_name(61, Naming::Helmholtz), "c♯'");
        assert_eq!(pitch_name(0, Naming::Scientific), "C-1");
    }

    #[test]
    fn scientific_names_are_read_back() {
        for midi in NAMED {
            let name = pitch_name(midi, Naming::Scientific);
            assert_eq!(midi_from_name(&name), Ok(midi), "{name}");
        }
        for (name, midi) in [
            ("C#2", 37),
            ("C♯2", 37),
            ("Bb3", 58),
            ("B♭3", 58),
            ("bb3", 58),
            (" a4 ", 69),
            ("Cb4", 59),
            ("B##3", 61),
            ("C-1", 0),
        ] {
            assert_eq!(midi_from_name(name), Ok(midi), "{name}");
        }
    }

    #[test]
    fn what_is_no_name_is_refused_with_an_example() {
        for name in [
            "",
            "H2",
            "C",
            "4",
            "C##b#4",
            "C###4",
            "Cb-1",
            "A10",
            "G#9",
            "C99999999999",
            "é4",
            "C 4",
        ] {
            let error = midi_from_name(name).expect_err(name);
            assert!(error.to_string().contains("such as C#2"), "{error}");
        }
    }

    #[test]
    fn numbers_far_outside_are_only_numbered() {
        assert_eq!(pitch_name(i32::MIN, Naming::German), format!("note {}", i32::MIN));
        assert_eq!(pitch_name(128, Naming::Helmholtz), "note 128");
    }
}
