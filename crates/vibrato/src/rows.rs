//! What is measured: each measure once, with its name, its unit, how it is written, where it is read, and which
//! difference in it matters.
//!
//! Window, tables, JSON, CSV, takes, reports, trends and comparisons all read these rows. A new measure is computed
//! (in `summary.rs`, as a rule), is given its row here, and then appears in all of them.

use std::sync::LazyLock;

use tuning::figure;

use crate::between::{gap, growth, rate_growth};
use crate::measure::Measure;
use crate::note::{Note, PitchCourse, Vibrato};
use crate::quantity::{Measures, Quantity};

/// A unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Hz.
    Hertz,
    /// Cents.
    Cents,
    /// Cents a second.
    CentsPerSecond,
    /// Percent.
    Percent,
    /// Seconds.
    Seconds,
    /// Decibels below full scale.
    Decibels,
    /// Decibels above something else.
    Ratio,
    /// Millimetres.
    Millimetres,
    /// A bare number.
    None,
}

impl Unit {
    /// As it stands behind a number.
    pub fn word(self) -> &'static str {
        match self {
            Self::Hertz => "Hz",
            Self::Cents => "cents",
            Self::CentsPerSecond => "cents a second",
            Self::Percent => "%",
            Self::Seconds => "s",
            Self::Decibels => "dBFS",
            Self::Ratio => "dB",
            Self::Millimetres => "mm",
            Self::None => "",
        }
    }

    /// As it ends a key.
    fn suffix(self) -> &'static str {
        match self {
            Self::Hertz => "_hz",
            Self::Cents => "_cents",
            Self::CentsPerSecond => "_cents_per_s",
            Self::Percent => "_pct",
            Self::Seconds => "_s",
            Self::Decibels => "_dbfs",
            Self::Ratio => "_db",
            Self::Millimetres => "_mm",
            Self::None => "",
        }
    }
}

/// Where a measure is read.
#[derive(Clone, Copy)]
pub enum Of {
    /// Of any note.
    Note(fn(&Note) -> Option<Measure<f64>>),
    /// Of a vibrato, which carries it (see [`Vibrato::get`]).
    Vibrato,
    /// Of a vibrato, computed from its oscillations whenever it is asked for.
    Oscillations(fn(&Vibrato) -> Option<Measure<f64>>),
    /// Of a note and the one before it.
    Change(fn(&Note, &Note) -> Option<Measure<f64>>),
}

/// Whether a measure has a doubt.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Doubt {
    /// Yes: where it is not known, that is said.
    Told,
    /// Where there is one; without it nothing is said (a motion that goes on has no gap, beyond doubt).
    WhereKnown,
    /// No.
    None,
}

/// Where a measure is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Shown {
    /// In files for other programs and in comparisons.
    InFiles,
    /// In tables, reports and trends, too.
    InTables,
    /// In the shortest list, too: below the trace, and first in the tables of a drill.
    First,
}

/// A difference that is worth a word: this share of what it is compared with, and no less than `least` in the unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Matters {
    /// Share of the value.
    pub share: f64,
    /// In the unit of the measure.
    pub least: f64,
}

/// A measure once.
pub struct Row {
    /// What is measured.
    pub quantity: Quantity,
    /// What its keys in JSON, CSV and takes begin with; the unit ends them.
    stem: &'static str,
    /// What they began with in the first version of these.
    was: Option<&'static str>,
    /// What it is called.
    pub name: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Decimals where its doubt does not say how many.
    pub decimals: usize,
    /// Decimals in a sentence that tells no doubt.
    sentence_decimals: usize,
    /// It lies above or below something, so that its sign is told.
    pub signed: bool,
    /// Whether it has a doubt.
    pub doubt: Doubt,
    /// Where it is read.
    pub of: Of,
    /// It is measured in the turns of a drill.
    pub of_turns: bool,
    /// It is followed over takes and weeks.
    pub followed: bool,
    /// Which difference matters; `None` where takes and echoes are not compared by it.
    pub matters: Option<Matters>,
    /// How something is called that has more of it, `{}` being by how much, and less of it.
    pub more_less: (&'static str, &'static str),
    /// Where it is shown.
    pub shown: Shown,
}

/// About what is just noticed of pulses below 20 Hz (Weber fraction of about 5 %, Front. Psychol. 5 (2014), 1453); for
/// vibrato by analogy only, no published value being at hand.
const RATE_MATTERS: Matters = Matters { share: 0.05, least: 0.0 };
/// An artist's own successive cycles differ by 10 % in extent (A. M. Small, in C. E. Seashore (ed.), studies of the
/// 1930s; what is just heard has no published value at hand), and a straight tone is unsteady by 2 cents (Brown and
/// Vaughn, J. Acoust. Soc. Am. 100 (1996), 1728).
const WIDTH_MATTERS: Matters = Matters { share: 0.10, least: 2.0 };
/// Between the 2 to 3 cents that the best trained just hear (Micheyl et al. 2006, Hear. Res. 219, from memory) and the
/// mean of 50 musicians, 10 (Arndt et al. 2020, Exp. Brain Res. 238).
const PITCH_MATTERS: Matters = Matters { share: 0.0, least: 5.0 };
/// The rest is ours, for nothing published draws such lines: times of about half an oscillation, in seconds...
const TIME_MATTERS: Matters = Matters { share: 0.0, least: 0.1 };
/// ...and shares by which one note of a steady player differs from the next, in points of percent.
const SHARE_MATTERS: Matters = Matters { share: 0.0, least: 4.0 };
const GROWTH_MATTERS: Matters = Matters { share: 0.0, least: 20.0 };

/// A measure of a vibrato that is told with its doubt, shown in tables, measured in turns and followed.
const VIBRATO: Row = Row {
    quantity: Quantity::Rate,
    stem: "",
    was: None,
    name: "",
    unit: Unit::Percent,
    decimals: 0,
    sentence_decimals: 0,
    signed: false,
    doubt: Doubt::Told,
    of: Of::Vibrato,
    of_turns: true,
    followed: true,
    matters: None,
    more_less: ("", ""),
    shown: Shown::InTables,
};

/// A measure of a note, shown in files.
const NOTE: Row =
    Row { of_turns: false, followed: false, shown: Shown::InFiles, unit: Unit::Cents, ..VIBRATO };

fn plain(value: f64) -> Option<Measure<f64>> {
    Some(Measure { value, se: None })
}

/// The rows, in the order in which they are read.
static ROWS: [Row; Quantity::COUNT] = ALL;

const ALL: [Row; Quantity::COUNT] = [
    Row {
        quantity: Quantity::F0,
        stem: "f0",
        name: "pitch",
        unit: Unit::Hertz,
        decimals: 2,
        of: Of::Note(|note| Some(note.f0.bare())),
        ..NOTE
    },
    Row {
        quantity: Quantity::Offset,
        stem: "offset",
        name: "offset",
        decimals: 1,
        signed: true,
        of: Of::Note(|note| Some(note.offset.bare())),
        followed: true,
        shown: Shown::InTables,
        ..NOTE
    },
    Row {
        quantity: Quantity::Level,
        stem: "level",
        name: "level",
        unit: Unit::Decibels,
        signed: true,
        doubt: Doubt::None,
        of: Of::Note(|note| plain(note.level_dbfs)),
        ..NOTE
    },
    Row {
        quantity: Quantity::Confidence,
        stem: "confidence",
        name: "confidence",
        unit: Unit::None,
        decimals: 2,
        doubt: Doubt::None,
        of: Of::Note(|note| plain(note.confidence)),
        ..NOTE
    },
    Row {
        quantity: Quantity::Unsteadiness,
        stem: "unsteadiness",
        name: "unsteadiness",
        decimals: 1,
        sentence_decimals: 1,
        doubt: Doubt::None,
        of: Of::Note(|note| plain(note.unsteadiness.0)),
        of_turns: true,
        followed: true,
        ..NOTE
    },
    Row {
        quantity: Quantity::Glide,
        stem: "glide",
        name: "glide",
        unit: Unit::CentsPerSecond,
        signed: true,
        of: Of::Note(|note| Some(note.glide()?.bare())),
        ..NOTE
    },
    Row {
        quantity: Quantity::Rate,
        stem: "rate",
        name: "rate",
        unit: Unit::Hertz,
        decimals: 2,
        sentence_decimals: 1,
        matters: Some(RATE_MATTERS),
        more_less: ("{} faster", "{} slower"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Width,
        stem: "width",
        name: "width",
        unit: Unit::Cents,
        decimals: 1,
        matters: Some(WIDTH_MATTERS),
        more_less: ("{} wider", "{} narrower"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Centre,
        stem: "centre",
        name: "centre",
        unit: Unit::Cents,
        decimals: 1,
        signed: true,
        matters: Some(PITCH_MATTERS),
        more_less: ("{} higher in its centre", "{} lower in its centre"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::RateSpread,
        stem: "rate_spread",
        name: "rate spread",
        matters: Some(SHARE_MATTERS),
        more_less: ("{} less even in rate", "{} more even in rate"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::WidthSpread,
        stem: "width_spread",
        name: "width spread",
        matters: Some(SHARE_MATTERS),
        more_less: ("{} less even in width", "{} more even in width"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::OutOfRound,
        stem: "out_of_round",
        was: Some("smoothness"),
        name: "out of round",
        matters: Some(SHARE_MATTERS),
        more_less: ("{} less round", "{} rounder"),
        ..VIBRATO
    },
    Row {
        quantity: Quantity::TimeUp,
        stem: "time_up",
        name: "time rising",
        matters: Some(SHARE_MATTERS),
        more_less: ("{} slower on the way up than down", "{} quicker on the way up than down"),
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Drift,
        stem: "drift",
        name: "drift",
        unit: Unit::Cents,
        decimals: 1,
        signed: true,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Onset,
        stem: "onset",
        name: "onset",
        unit: Unit::Seconds,
        decimals: 2,
        sentence_decimals: 2,
        of_turns: false,
        matters: Some(TIME_MATTERS),
        more_less: ("{} later to begin its vibrato", "{} earlier to begin its vibrato"),
        shown: Shown::First,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Growth,
        stem: "width_growth",
        name: "width growth",
        signed: true,
        of: Of::Oscillations(growth),
        of_turns: false,
        followed: false,
        matters: Some(GROWTH_MATTERS),
        more_less: (
            "widening more through the note, by {}",
            "widening less through the note, by {}",
        ),
        shown: Shown::InFiles,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::RateGrowth,
        stem: "rate_growth",
        name: "rate growth",
        signed: true,
        of: Of::Oscillations(rate_growth),
        of_turns: false,
        followed: false,
        matters: Some(GROWTH_MATTERS),
        more_less: (
            "quickening more through the note, by {}",
            "quickening less through the note, by {}",
        ),
        shown: Shown::InFiles,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Widened,
        stem: "widened",
        name: "widened for the room",
        decimals: 1,
        sentence_decimals: 1,
        of_turns: false,
        followed: false,
        shown: Shown::InFiles,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::DirectSound,
        stem: "direct_sound",
        name: "direct sound above the room's",
        unit: Unit::Ratio,
        signed: true,
        of_turns: false,
        followed: false,
        shown: Shown::InFiles,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Travel,
        stem: "travel",
        name: "finger travel",
        unit: Unit::Millimetres,
        decimals: 1,
        followed: false,
        ..VIBRATO
    },
    Row {
        quantity: Quantity::Gap,
        stem: "gap",
        name: "gap",
        unit: Unit::Seconds,
        decimals: 2,
        sentence_decimals: 2,
        doubt: Doubt::WhereKnown,
        of: Of::Change(gap),
        matters: Some(TIME_MATTERS),
        more_less: (
            "{} longer without motion at the change",
            "{} shorter without motion at the change",
        ),
        ..VIBRATO
    },
];

/// The keys of a measure: of its value, of its standard error, and of both in the first version.
struct Keys {
    value: String,
    se: String,
    old: Option<(String, String)>,
}

static KEYS: LazyLock<Vec<Keys>> = LazyLock::new(|| {
    let of = |row: &Row| {
        let keys = |stem: &str| {
            let unit = row.unit.suffix();
            (format!("{stem}{unit}"), format!("{stem}_se{unit}"))
        };
        let (value, se) = keys(row.stem);
        Keys { value, se, old: row.was.map(keys) }
    };
    ROWS.iter().map(of).collect()
});

impl Quantity {
    /// How many are followed over takes and weeks.
    pub const FOLLOWED: usize = {
        let (mut count, mut at) = (0, 0);
        while at < Self::COUNT {
            count += ALL[at].followed as usize;
            at += 1;
        }
        count
    };

    /// Its row.
    pub fn row(self) -> &'static Row {
        &ROWS[self as usize]
    }

    /// All of them, in the order in which they are read.
    pub fn all() -> impl DoubleEndedIterator<Item = Self> + Clone {
        ROWS.iter().map(|row| row.quantity)
    }

    /// Those of any note.
    pub fn of_notes() -> impl DoubleEndedIterator<Item = Self> + Clone {
        Self::all().filter(|quantity| matches!(quantity.row().of, Of::Note(_)))
    }

    /// Those of a vibrato.
    pub fn of_vibrato() -> impl DoubleEndedIterator<Item = Self> + Clone {
        Self::all()
            .filter(|quantity| matches!(quantity.row().of, Of::Vibrato | Of::Oscillations(_)))
    }

    /// Those of a drill's turn.
    pub fn of_turns() -> impl DoubleEndedIterator<Item = Self> + Clone {
        Self::all().filter(|quantity| quantity.row().of_turns)
    }

    /// Those that are followed over takes and weeks: what a vibrato has, then what a straight note has.
    pub fn followed() -> impl DoubleEndedIterator<Item = Self> + Clone {
        let of_notes = |quantity: &Self| matches!(quantity.row().of, Of::Note(_));
        let followed = Self::all().filter(|quantity| quantity.row().followed);
        followed.clone().filter(move |q| !of_notes(q)).chain(followed.filter(of_notes))
    }

    /// Those by which model and echo are compared.
    pub fn compared() -> impl DoubleEndedIterator<Item = Self> + Clone {
        Self::all().filter(|quantity| quantity.row().matters.is_some())
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Its unit as it stands behind a number.
    pub fn unit(self) -> &'static str {
        self.row().unit.word()
    }

    /// Name and unit, as at the head of a column: `rate, Hz`.
    pub fn headed(self) -> String {
        match self.unit() {
            "" => self.name().to_owned(),
            unit => format!("{}, {unit}", self.name()),
        }
    }

    /// The key of its value in JSON, CSV and takes: `rate_hz`.
    pub fn key(self) -> &'static str {
        &KEYS[self as usize].value
    }

    /// The key of its standard error: `rate_se_hz`; `None` where it has none.
    pub fn se_key(self) -> Option<&'static str> {
        (self.row().doubt != Doubt::None).then(|| KEYS[self as usize].se.as_str())
    }

    /// The key of its value in the first version, where it was another.
    pub fn old_key(self) -> Option<&'static str> {
        KEYS[self as usize].old.as_ref().map(|old| old.0.as_str())
    }

    /// What a key stands for, also one of the first version, and whether it is that of the standard error.
    pub fn of_key(key: &str) -> Option<(Self, bool)> {
        Self::all().find_map(|quantity| {
            let keys = &KEYS[quantity as usize];
            let old = keys.old.as_ref();
            if key == keys.value || old.is_some_and(|old| key == old.0) {
                return Some((quantity, false));
            }
            let is_se = key == keys.se || old.is_some_and(|old| key == old.1);
            is_se.then_some((quantity, true))
        })
    }

    /// What a note has of it; what lies between two notes needs the one `before`.
    pub fn read(self, note: &Note, before: Option<&Note>) -> Option<Measure<f64>> {
        match self.row().of {
            Of::Note(of) => of(note),
            Of::Change(of) => of(before?, note),
            Of::Vibrato | Of::Oscillations(_) => note.vibrato.as_ref()?.get(self),
        }
    }

    /// What of a note is followed over takes and weeks: of a note without vibrato only where it is straight, and of
    /// one with vibrato what its vibrato has.
    pub fn follow(self, note: &Note, before: Option<&Note>) -> Option<Measure<f64>> {
        let told = note.straight() || !matches!(self.row().of, Of::Note(_));
        self.read(note, before).filter(|_| told)
    }

    /// The smallest difference that is worth a word, where it is compared with this value; in its unit.
    pub fn least(self, value: f64) -> f64 {
        self.row().matters.map_or(0.0, |matters| (matters.share * value.abs()).max(matters.least))
    }

    /// The number without doubt and unit; `?` where it is not known.
    pub fn number(self, value: Option<f64>) -> String {
        figure::number(value, self.row().decimals, self.row().signed)
    }

    /// The number in a sentence that tells neither doubt nor sign: `5.6`, `18`.
    pub fn rounded(self, value: f64) -> String {
        figure::number(Some(value.abs()), self.row().sentence_decimals, false)
    }

    /// The same with its unit: `5.6 Hz`, `18 cents`.
    pub fn size(self, value: f64) -> String {
        self.with_unit(self.rounded(value))
    }

    /// From one value to another in such a sentence: `4.0 to 6.0 Hz`; one value where both are the same.
    pub fn range(self, (low, high): (f64, f64)) -> String {
        match low == high {
            true => self.size(low),
            false => format!("{} to {}", self.rounded(low), self.size(high)),
        }
    }

    /// Number and doubt, without the unit: `5.62 ±0.04`; `?` where it is not known.
    pub fn figure(self, measure: Option<Measure<f64>>) -> String {
        self.written(measure, self.row().signed)
    }

    /// The same of a difference, of which the sign is told.
    pub fn difference(self, measure: Option<Measure<f64>>) -> String {
        self.written(measure, true)
    }

    /// The size of a difference: number, doubt and unit, without a sign.
    pub fn amount(self, measure: Measure<f64>) -> String {
        let size = Measure { value: measure.value.abs(), ..measure };
        self.with_unit(self.written(Some(size), false))
    }

    /// As it is read and spoken: `5.62 ±0.04 Hz`, `12 ±3 %`; `unknown` where it is not known.
    pub fn wording(self, measure: Option<Measure<f64>>) -> String {
        match measure {
            Some(measure) => self.with_unit(self.figure(Some(measure))),
            None => "unknown".to_owned(),
        }
    }

    /// The doubt alone, as it stands beside the number: `±0.04`, or nothing where none is told.
    pub fn doubt(self, se: Option<f64>) -> String {
        match (self.row().doubt, se) {
            (Doubt::None, _) | (Doubt::WhereKnown, None) => String::new(),
            _ => figure::doubt(se, self.row().decimals),
        }
    }

    fn written(self, measure: Option<Measure<f64>>, signed: bool) -> String {
        let decimals = self.row().decimals;
        match measure {
            Some(Measure { value, se }) if !self.doubt(se).is_empty() => {
                figure::with_doubt(value, se, decimals, signed)
            }
            measure => figure::number(measure.map(|measure| measure.value), decimals, signed),
        }
    }

    fn with_unit(self, figure: String) -> String {
        match self.unit() {
            "" => figure,
            unit => format!("{figure} {unit}"),
        }
    }
}

impl Measures {
    /// Those that are known, in the order in which they are read.
    pub fn known(&self) -> impl Iterator<Item = (Quantity, Measure<f64>)> {
        Quantity::all().filter_map(|quantity| Some((quantity, self.get(quantity)?)))
    }
}

impl Vibrato {
    /// A measure of it; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        match (quantity, quantity.row().of) {
            (Quantity::Rate, _) => Some(self.rate.bare()),
            (Quantity::Width, _) => Some(self.width.bare()),
            (Quantity::Centre, _) => Some(self.centre.bare()),
            (Quantity::Onset, _) => Some(self.onset.bare()),
            (_, Of::Oscillations(of)) => of(self),
            _ => self.others.get(quantity),
        }
    }
}

impl PitchCourse {
    /// How it is said to a player: "glides by +50 ±1 cents a second".
    pub fn wording(self) -> String {
        match self {
            Self::Glides(per_sec) => {
                format!("glides by {}", Quantity::Glide.wording(Some(per_sec.bare())))
            }
            Self::Moves => "moves, but no vibrato can be told".to_owned(),
            Self::TooShort => "too short to tell".to_owned(),
            Self::Vibrato | Self::Straight => self.word().to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn each_measure_has_one_row_one_name_and_keys_of_its_own() {
        let mut seen = BTreeSet::new();
        for (place, row) in ROWS.iter().enumerate() {
            let quantity = row.quantity;
            assert_eq!(quantity as usize, place, "{quantity:?} stands in the order of the rows");
            assert!(!row.name.is_empty() && seen.insert(row.name), "{quantity:?}: {}", row.name);
            let keys = [Some(quantity.key()), quantity.se_key()];
            for (is_se, key) in [false, true].into_iter().zip(keys) {
                let Some(key) = key else { continue };
                assert!(seen.insert(key) || key == row.name, "{key} is there twice");
                assert_eq!(Quantity::of_key(key), Some((quantity, is_se)), "{key}");
            }
            let told = row.more_less.0.contains("{}") && row.more_less.1.contains("{}");
            assert_eq!(told, row.matters.is_some(), "{quantity:?} is compared in words");
        }
    }

    #[test]
    fn keys_end_in_their_unit_and_old_ones_are_known() {
        assert_eq!(
            (Quantity::Rate.key(), Quantity::Rate.se_key()),
            ("rate_hz", Some("rate_se_hz"))
        );
        assert_eq!(Quantity::OutOfRound.key(), "out_of_round_pct");
        assert_eq!(
            (Quantity::Confidence.key(), Quantity::Confidence.se_key()),
            ("confidence", None)
        );
        let old = Quantity::of_key("smoothness_se_pct");
        assert_eq!(old, Some((Quantity::OutOfRound, true)));
        assert_eq!(Quantity::of_key("smoothness_hz"), None);
    }

    #[test]
    fn a_measure_is_written_with_sign_doubt_and_unit() {
        let measure = |value, se| Some(Measure { value, se });
        assert_eq!(Quantity::Rate.wording(measure(5.624, Some(0.04))), "5.62 ±0.04 Hz");
        assert_eq!(Quantity::Centre.wording(measure(4.21, Some(0.3))), "+4.2 ±0.3 cents");
        assert_eq!(Quantity::RateSpread.wording(measure(12.4, Some(3.0))), "12 ±3 %");
        assert_eq!(Quantity::RateSpread.wording(None), "unknown");
        assert_eq!(Quantity::Width.figure(measure(40.0, None)), "40.0 ±?");
        assert_eq!(Quantity::Unsteadiness.wording(measure(0.94, None)), "0.9 cents");
        assert_eq!(Quantity::Gap.figure(measure(0.0, None)), "0.00");
        assert_eq!(Quantity::Width.difference(measure(1.0, Some(0.5))), "+1.0 ±0.5");
        let narrower = Measure { value: -12.0, se: Some(0.7) };
        assert_eq!(Quantity::Width.amount(narrower), "12.0 ±0.7 cents");
    }

    #[test]
    fn a_sentence_without_a_doubt_rounds_more_and_leaves_the_sign_to_its_words() {
        assert_eq!(Quantity::Rate.size(5.624), "5.6 Hz");
        assert_eq!(Quantity::Centre.size(-18.4), "18 cents");
        assert_eq!(Quantity::Gap.size(0.434), "0.43 s");
        assert_eq!(Quantity::Width.range((8.0, 22.0)), "8 to 22 cents");
        assert_eq!(Quantity::Rate.range((4.0, 4.0)), "4.0 Hz");
    }

    #[test]
    fn what_matters_grows_with_the_value_and_has_a_least() {
        assert!((Quantity::Rate.least(5.0) - 0.25).abs() < 1e-12);
        assert_eq!(Quantity::Width.least(5.0), 2.0);
        assert_eq!(Quantity::Width.least(40.0), 4.0);
        assert_eq!(Quantity::Centre.least(-60.0), 5.0);
    }
}
