//! The head: `word value`, a line each. Read and written here, so that both know the same words.

use std::fmt;
use std::str::FromStr;

use tuning::{A4_RANGE_HZ, Hz};

use super::line::Word;
use crate::plan::note::BeatUnit;
use crate::plan::passage::{Clef, Key, Meter, Mode, Pace};

/// The words that begin a line of the head.
pub(super) const HEADS: [&str; 7] = ["title", "instrument", "beats", "pace", "key", "clef", "a4"];

const UNITS: [(&str, BeatUnit); 3] =
    [("half", BeatUnit::Half), ("quarter", BeatUnit::Quarter), ("eighth", BeatUnit::Eighth)];
const CLEFS: [(&str, Clef); 4] =
    [("treble", Clef::Treble), ("alto", Clef::Alto), ("tenor", Clef::Tenor), ("bass", Clef::Bass)];
/// Names of keys by their sharps, from seven flats to seven sharps.
const MAJORS: [&str; 15] =
    ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"];
const MINORS: [&str; 15] =
    ["Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#"];

/// Which of these a word is.
fn one_of<T: Copy>(known: &[(&str, T)], word: &str) -> Option<T> {
    known.iter().find(|(name, _)| *name == word).map(|(_, value)| *value)
}

fn name_of<T: PartialEq>(known: &[(&'static str, T)], value: &T) -> &'static str {
    known.iter().find(|(_, own)| own == value).map_or("", |(name, _)| name)
}

/// Words with a blank between them.
fn joined(words: &[Word<'_>]) -> String {
    words.iter().map(|word| word.text).collect::<Vec<_>>().join(" ")
}

/// `beats 4 of quarter`, without its first word.
pub(super) fn meter(words: &[Word<'_>]) -> Option<Meter> {
    joined(words).parse().ok()
}

impl FromStr for Meter {
    type Err = String;

    /// As it is typed: 4 of quarter.
    fn from_str(text: &str) -> Result<Self, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let read = || {
            let [beats, "of", unit] = words[..] else { return None };
            let beats = beats.parse().ok().filter(|beats| (1..=64).contains(beats))?;
            Some(Self { beats, of: one_of(&UNITS, unit)? })
        };
        read().ok_or_else(|| wanted("beats").to_owned())
    }
}

/// `pace 60`, `pace 60 of quarter`, `pace 60 free`, without its first word. Without a unit it is that of the meter, which
/// may stand further down.
pub(super) fn pace(words: &[Word<'_>]) -> Option<(f64, Option<BeatUnit>, bool)> {
    let (bpm, rest) = words.split_first()?;
    let bpm: f64 = bpm.text.parse().ok().filter(|bpm: &f64| bpm.is_finite())?;
    let rest: Vec<&str> = rest.iter().map(|word| word.text).collect();
    match rest[..] {
        [] => Some((bpm, None, false)),
        ["free"] => Some((bpm, None, true)),
        ["of", unit] => Some((bpm, Some(one_of(&UNITS, unit)?), false)),
        ["of", unit, "free"] => Some((bpm, Some(one_of(&UNITS, unit)?), true)),
        _ => None,
    }
}

/// `key D minor`, without its first word.
pub(super) fn key(words: &[Word<'_>]) -> Option<Key> {
    joined(words).parse().ok()
}

impl FromStr for Key {
    type Err = String;

    /// As it is typed: D minor.
    fn from_str(text: &str) -> Result<Self, String> {
        let words: Vec<&str> = text.split_whitespace().collect();
        let read = || {
            let (mode, names) = match words[..] {
                [_, "major"] => (Mode::Major, MAJORS),
                [_, "minor"] => (Mode::Minor, MINORS),
                _ => return None,
            };
            let tonic = words[0].replace('♯', "#").replace('♭', "b");
            let sharps = names.iter().position(|name| *name == tonic)? as i8 - 7;
            Some(Self { sharps, mode })
        };
        read().ok_or_else(|| wanted("key").to_owned())
    }
}

/// `clef bass`, without its first word.
pub(super) fn clef(words: &[Word<'_>]) -> Option<Clef> {
    let [name] = words else { return None };
    one_of(&CLEFS, name.text)
}

/// `a4 442`, without its first word.
pub(super) fn a4(words: &[Word<'_>]) -> Option<Hz> {
    let [hz] = words else { return None };
    hz.text.parse().ok().filter(|hz| A4_RANGE_HZ.contains(hz)).map(Hz)
}

/// What a line of the head is to look like.
pub(super) fn wanted(head: &str) -> &'static str {
    match head {
        "beats" => {
            "\"beats\" wants a number from 1 to 64 and a unit, such as beats 4 of quarter (or half, eighth)"
        }
        "pace" => {
            "\"pace\" wants beats a minute, such as pace 60; behind it may stand of half, of quarter or of eighth, and free"
        }
        "key" => "\"key\" wants a name and major or minor, such as key D minor or key Bb major",
        "clef" => "\"clef\" wants treble, alto, tenor or bass",
        "a4" => "\"a4\" wants a frequency in Hz, such as a4 442",
        "instrument" => "\"instrument\" wants a name, such as instrument cello",
        _ => "\"title\" wants words",
    }
}

/// The line of a meter.
pub(super) fn meter_line(meter: Meter) -> String {
    format!("beats {} of {}", meter.beats, name_of(&UNITS, &meter.of))
}

/// The line of a pace in a passage of this meter.
pub(super) fn pace_line(pace: Pace, meter: Meter) -> String {
    let unit = match pace.unit == meter.of {
        true => String::new(),
        false => format!(" of {}", name_of(&UNITS, &pace.unit)),
    };
    format!("pace {}{unit}{}", pace.bpm, if pace.free { " free" } else { "" })
}

impl fmt::Display for Key {
    /// As it is typed: D minor.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (names, mode) = match self.mode {
            Mode::Major => (MAJORS, "major"),
            Mode::Minor => (MINORS, "minor"),
        };
        let at = usize::try_from(self.sharps + 7).unwrap_or(7);
        write!(f, "{} {mode}", names.get(at).unwrap_or(&"C"))
    }
}

/// The line of a clef.
pub(super) fn clef_line(clef: Clef) -> String {
    format!("clef {}", name_of(&CLEFS, &clef))
}
