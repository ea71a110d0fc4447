//! Instruments: their strings and the range in which their pitch is sought.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use serde::Deserialize;
use thiserror::Error;

use crate::pitch_names::{Naming, midi_from_name, pitch_name};
use crate::temperament::Tuning;
use crate::units::{Cents, Hz};

/// Names of the instruments that come with the program.
pub const SHIPPED_INSTRUMENTS: [&str; 7] = [
    "violin",
    "viola",
    "cello",
    "double-bass",
    "double-bass-solo",
    "double-bass-five",
    "double-bass-extension",
];

/// The version of instrument files that is read.
const VERSION: u32 = 1;

/// An instrument that is bowed.
#[derive(Clone, Debug, PartialEq)]
pub struct Instrument {
    /// What it is called.
    pub name: String,
    /// Its strings, from low to high.
    pub strings: Vec<StringOf>,
    /// How long a string sounds from nut to bridge, in mm; `None` where the file does not say.
    pub string_mm: Option<f64>,
    /// Lowest pitch that is sought, somewhat below the lowest string.
    pub low: Hz,
    /// Highest pitch that is sought.
    pub high: Hz,
}

/// One string of an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct StringOf {
    /// What players call it.
    pub name: String,
    /// MIDI number of the open string as it sounds (A4 = 69).
    pub midi: i32,
}

impl StringOf {
    /// Frequency of the open string.
    pub fn frequency(&self, tuning: &Tuning) -> Hz {
        tuning.frequency(self.midi)
    }
}

/// The strings of an instrument as a finger finds them: how high each is tuned, and how long all are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strings {
    /// From low to high.
    open: [Option<Hz>; MOST_STRINGS],
    /// From nut to bridge, in mm.
    mm: f64,
}

impl Strings {
    /// Which string a finger stops for `pitch`, from 0, and how far in mm it goes from trough to crest of a vibrato of
    /// this width: taken is the highest string that has the note. A string of half the length sounds an octave higher,
    /// so there the same width is half the way. `None` where no finger stops a string.
    pub fn travel(&self, pitch: Hz, width: Cents) -> Option<(usize, f64)> {
        let stopped = |open: &Option<Hz>| {
            open.is_some_and(|open| pitch.cents_above(open).get() >= LOWEST_STOPPED.get())
        };
        let string = self.open.iter().rposition(stopped)?;
        let sounding_mm = self.mm * self.open[string]?.get() / pitch.get();
        let share = |cents: f64| (cents / 1200.0).exp2();
        let half = 0.5 * width.get();
        Some((string, sounding_mm * (share(half) - share(-half))))
    }
}

/// Why an instrument could not be had.
#[derive(Debug, Error)]
pub enum InstrumentError {
    /// None that is shipped has this name.
    #[error(
        "no instrument is called \"{asked}\"; choose {}, or give the path of an instrument file ending in .ron",
        SHIPPED_INSTRUMENTS.join(", ")
    )]
    Unknown {
        /// What was asked for.
        asked: String,
    },
    /// The file cannot be read.
    #[error("the instrument file cannot be read ({reason}); check the path: {}", path.display())]
    Unreadable {
        /// What the system said.
        reason: String,
        /// The file.
        path: PathBuf,
    },
    /// The file is not written as an instrument is.
    #[error(
        "line {line}, column {column}: {reason}; compare with the shipped cello.ron: {}",
        path.display()
    )]
    Unwritten {
        /// What is wrong.
        reason: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// The file.
        path: PathBuf,
    },
    /// The file can be read but describes no instrument.
    #[error("{reason}: {}", path.display())]
    Senseless {
        /// What is wrong and what would be right.
        reason: String,
        /// The file.
        path: PathBuf,
    },
}

/// An instrument as it is written in a file, version 1.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    version: u32,
    name: String,
    strings: Vec<WrittenString>,
    #[serde(default, deserialize_with = "number")]
    string_mm: Option<f64>,
    low_hz: f64,
    high_hz: f64,
}

/// A number that may be left out.
fn number<'de, D: serde::Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    f64::deserialize(from).map(Some)
}

/// A string as it is written in a file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WrittenString {
    name: String,
    note: String,
}

/// A finger stops a string no nearer to the nut than this.
const LOWEST_STOPPED: Cents = Cents(50.0);
/// So many strings of an instrument are looked at for a finger.
const MOST_STRINGS: usize = 8;
/// Lengths a string can have, in mm: from the smallest violins to more than a large double bass.
const STRING_MM: (f64, f64) = (150.0, 1300.0);

/// The longest file that is read as an instrument, in bytes.
const LONGEST: u64 = 1_000_000;

/// All of a file. A pipe or device in its place would be waited for, or read, without end.
fn text(path: &Path) -> io::Result<String> {
    if !fs::metadata(path)?.is_file() {
        return Err(io::Error::other("it is no ordinary file"));
    }
    let mut text = String::new();
    File::open(path)?.take(LONGEST + 1).read_to_string(&mut text)?;
    match text.len() as u64 > LONGEST {
        true => Err(io::Error::other("it is longer than 1 MB, too long for an instrument")),
        false => Ok(text),
    }
}

impl Instrument {
    /// One of [`SHIPPED_INSTRUMENTS`].
    pub fn shipped(name: &str) -> Result<Self, InstrumentError> {
        let written = match name {
            "violin" => include_str!("../../../assets/instruments/violin.ron"),
            "viola" => include_str!("../../../assets/instruments/viola.ron"),
            "cello" => include_str!("../../../assets/instruments/cello.ron"),
            "double-bass" => include_str!("../../../assets/instruments/double-bass.ron"),
            "double-bass-solo" => include_str!("../../../assets/instruments/double-bass-solo.ron"),
            "double-bass-five" => include_str!("../../../assets/instruments/double-bass-five.ron"),
            "double-bass-extension" => {
                include_str!("../../../assets/instruments/double-bass-extension.ron")
            }
            _ => {
                return Err(InstrumentError::Unknown { asked: name.to_owned() });
            }
        };
        Self::read(written, &Path::new(name).with_extension("ron"))
    }

    /// A player's own instrument, from a file written like the shipped ones.
    pub fn load(path: impl AsRef<Path>) -> Result<Self, InstrumentError> {
        let path = path.as_ref();
        let written = text(path).map_err(|error| InstrumentError::Unreadable {
            reason: error.to_string(),
            path: path.to_path_buf(),
        })?;
        Self::read(&written, path)
    }

    /// A shipped instrument by its name, or a player's own by the path of its `.ron` file.
    pub fn find(name_or_path: &str) -> Result<Self, InstrumentError> {
        if Path::new(name_or_path).extension().is_some() {
            Self::load(name_or_path)
        } else {
            Self::shipped(name_or_path)
        }
    }

    /// Its strings as a finger finds them; `None` where their length is not known.
    pub fn stopped(&self, tuning: &Tuning) -> Option<Strings> {
        let mut open = [None; MOST_STRINGS];
        for (open, string) in open.iter_mut().zip(&self.strings) {
            *open = Some(string.frequency(tuning));
        }
        Some(Strings { open, mm: self.string_mm? })
    }

    fn read(text: &str, path: &Path) -> Result<Self, InstrumentError> {
        let written: Written = ron::from_str(text).map_err(|error| InstrumentError::Unwritten {
            reason: error.code.to_string(),
            line: error.span.end.line,
            column: error.span.end.col,
            path: path.to_path_buf(),
        })?;
        Self::from_written(written)
            .map_err(|reason| InstrumentError::Senseless { reason, path: path.to_path_buf() })
    }

    /// What the file says as an instrument, or in words what it lacks.
    fn from_written(written: Written) -> Result<Self, String> {
        if written.version != VERSION {
            return Err(format!(
                "version {} is not known; this program reads version {VERSION}",
                written.version
            ));
        }
        if written.name.trim().is_empty() {
            return Err("the instrument has no name; write one".to_owned());
        }
        let (low, high) = (Hz(written.low_hz), Hz(written.high_hz));
        if !(low.0 > 0.0 && high.0 > low.0 && high.0.is_finite()) {
            return Err(format!(
                "low_hz {} and high_hz {} are no range; low_hz must be above 0 and high_hz above it",
                low.0, high.0
            ));
        }
        let (shortest, longest) = STRING_MM;
        if let Some(mm) = written.string_mm.filter(|mm| !(shortest..=longest).contains(mm)) {
            return Err(format!(
                "string_mm {mm} is no length of a string; write it from nut to bridge, {shortest} to {longest}, or leave it out"
            ));
        }
        let mut strings: Vec<StringOf> = Vec::with_capacity(written.strings.len());
        for string in written.strings {
            let midi = midi_from_name(&string.note)
                .map_err(|error| format!("string \"{}\": {error}", string.name))?;
            if strings.last().is_some_and(|below| below.midi >= midi) {
                return Err(format!(
                    "string \"{}\" does not sound above the one before it; write them from low to high",
                    string.name
                ));
            }
            strings.push(StringOf { name: string.name, midi });
        }
        let (Some(lowest), Some(highest)) = (strings.first(), strings.last()) else {
            return Err("the instrument has no strings; write at least one".to_owned());
        };
        for string in [lowest, highest] {
            let open = string.frequency(&Tuning::default());
            if !(low.0..=high.0).contains(&open.0) {
                return Err(format!(
                    "the open string {} ({:.1} Hz) lies outside low_hz {} to high_hz {}; widen the range",
                    pitch_name(string.midi, Naming::Scientific),
                    open.0,
                    low.0,
                    high.0
                ));
            }
        }
        Ok(Self { name: written.name, strings, string_mm: written.string_mm, low, high })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Instrument, InstrumentError> {
        Instrument::read(text, Path::new("mine.ron"))
    }

    fn with(strings: &str, low_hz: &str) -> String {
        format!(
            "(version: 1, name: \"Mine\", strings: [{strings}], low_hz: {low_hz}, high_hz: 900.0)"
        )
    }

    #[test]
    fn shipped_instruments_have_their_open_strings() {
        // Common practice; a viola's top string is A4, not A3, and a bass sounds as listed.
        let strings: [(&str, &[i32]); 7] = [
            ("violin", &[55, 62, 69, 76]),
            ("viola", &[48, 55, 62, 69]),
            ("cello", &[36, 43, 50, 57]),
            ("double-bass", &[28, 33, 38, 43]),
            ("double-bass-solo", &[30, 35, 40, 45]),
            ("double-bass-five", &[23, 28, 33, 38, 43]),
            ("double-bass-extension", &[24, 33, 38, 43]),
        ];
        assert_eq!(strings.map(|(name, _)| name), SHIPPED_INSTRUMENTS);
        for (name, midis) in strings {
            let instrument = Instrument::shipped(name).expect(name);
            let found: Vec<i32> = instrument.strings.iter().map(|s| s.midi).collect();
            assert_eq!(found, midis, "{name}");
        }
    }

    #[test]
    fn the_search_starts_a_whole_tone_below_the_lowest_string_or_as_low_as_the_ear_hears() {
        const EAR_HZ: f64 = 30.0;
        for name in SHIPPED_INSTRUMENTS {
            let instrument = Instrument::shipped(name).expect(name);
            let open = instrument.strings[0].frequency(&Tuning::default());
            let room = open.cents_above(instrument.low).0;
            let whole_tone = (200.0..260.0).contains(&room);
            let deepest = instrument.low.0 == EAR_HZ && room > 0.0;
            assert!(whole_tone || deepest, "{name}: {room} cents");
        }
    }

    #[test]
    fn every_string_of_pure_fifths_on_a_cello_is_heard() {
        let cello = Instrument::shipped("cello").expect("shipped");
        let tuning = Tuning { temperament: crate::Temperament::PureFifths, ..Tuning::default() };
        let c = cello.strings[0].frequency(&tuning).0;
        assert!((c - 65.1852).abs() < 1e-4, "{c}");
    }

    #[test]
    fn a_finger_goes_half_as_far_for_the_same_width_an_octave_up() {
        let tuning = Tuning::default();
        let mm = |name: &str, midi: i32, cents: f64| {
            let instrument = Instrument::shipped(name).expect(name);
            let strings = instrument.stopped(&tuning).expect("their length is known");
            let (string, mm) = strings.travel(tuning.frequency(midi), Cents(cents))?;
            Some((mm, instrument.strings[string].name.clone()))
        };
        // B4 on a violin, F3 on a cello, E2 on a bass: 2 L 2^(-n/12) (1 - 2^(-w/2400)), rounded to a tenth.
        for (name, midi, string, table) in [
            ("violin", 71, "A", [2.0, 4.0, 6.7, 10.0]),
            ("cello", 53, "D", [4.0, 8.0, 13.3, 19.9]),
            ("double-bass", 40, "D", [6.5, 12.9, 21.5, 32.1]),
        ] {
            for (cents, due) in [12.0, 24.0, 40.0, 60.0].into_iter().zip(table) {
                let (mm, on) = mm(name, midi, cents).expect("a stopped note");
                assert!((mm - due).abs() < 0.05 + 0.01 * due, "{name}, {cents} cents: {mm}");
                assert_eq!(on, string, "{name}");
            }
        }
        // B4 and B5 on the A string of a violin that has no E string.
        let mut violin = Instrument::shipped("violin").expect("shipped");
        violin.strings.pop();
        let on_a = violin.stopped(&tuning).expect("their length is known");
        let far = |midi| on_a.travel(tuning.frequency(midi), Cents(30.0)).expect("stopped").1;
        assert!((far(71) - 2.0 * far(83)).abs() < 1e-9, "{} and {}", far(71), far(83));
        assert_eq!(mm("cello", 50, 30.0).expect("on G").1, "G", "an open D is played on G");
        assert!(mm("cello", 36, 30.0).is_none(), "the open C is on no other string");
        violin.string_mm = None;
        assert!(violin.stopped(&tuning).is_none());
    }

    #[test]
    fn a_slip_of_the_pen_is_told_with_its_place() {
        let error = read("(\n    version: 1,\n    name: Mine,\n)").expect_err("no quotes");
        let words = error.to_string();
        assert!(words.contains("line 3, column 11"), "{words}");
        assert!(words.ends_with("mine.ron"), "{words}");
    }

    #[test]
    fn an_instrument_without_sense_is_told_in_words() {
        let c = "(name: \"C\", note: \"C2\")";
        for (text, words) in [
            (with("", "58.0"), "no strings"),
            (with(c, "-1.0"), "no range"),
            (with(c, "NaN"), "no range"),
            (with(c, "70.0"), "open string C2 (65.4 Hz)"),
            (with("(name: \"C\", note: \"H2\")", "58.0"), "no note"),
            (with(&format!("{c}, {c}"), "58.0"), "from low to high"),
            (with(c, "58.0").replace("version: 1", "version: 2"), "version 2"),
            (with(c, "58.0, string_mm: 69.0"), "nut to bridge"),
            (with(c, "58.0").replace("Mine", " "), "no name"),
        ] {
            let error = read(&text).expect_err(&text).to_string();
            assert!(error.contains(words), "{error}");
        }
        assert!(read(&with(c, "58.0")).is_ok());
    }

    #[test]
    fn an_unknown_name_lists_the_known_ones_and_a_missing_file_its_path() {
        let error = Instrument::find("banjo").expect_err("unknown").to_string();
        assert!(error.contains("violin, viola, cello, double-bass"), "{error}");
        let error = Instrument::find("missing/banjo.ron").expect_err("missing");
        assert!(error.to_string().ends_with("missing/banjo.ron"), "{error}");
    }
}
