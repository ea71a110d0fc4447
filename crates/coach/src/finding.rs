//! One finding: what it is about, the measure that led to it, and how a turn is called in its words.

use std::collections::BTreeMap;

use vibrato::{Measure, Quantity};

use crate::drill::Asked;
use crate::turns::Played;

/// What a finding is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FindingKind {
    /// A turn that was not played.
    Missing,
    /// A little of the sound was lost in a turn.
    Lost,
    /// Oscillations made are not those asked for.
    Count,
    /// The motion stops at a change of finger.
    Gap,
    /// Another note than the one asked for.
    WrongNote,
    /// Faster than the beat asks for.
    Hurrying,
    /// Slower than the beat asks for.
    Dragging,
    /// The motion grows faster and narrower at once.
    Tightening,
    /// A finger lies above its note.
    Sharp,
    /// A finger lies below its note.
    Flat,
    /// A turn starts below its own centre and rises.
    FlatStart,
    /// A finger's motion is less even or less smooth than the best finger's.
    Jerk,
    /// A step or region was not reached.
    Target,
    /// What was to be held moved with what was changed.
    Coupled,
    /// What was to be held was, while the other was changed.
    Apart,
    /// A bloom left its drawn contour.
    Bloom,
    /// Oscillations do not fall on the beat.
    Beat,
    /// A straight note moved.
    Unsteady,
    /// How the level of straight notes swelled and receded.
    Swell,
    /// The figure lies at another place than the drill has it.
    Elsewhere,
    /// Signs of tiring over the rounds.
    Tiring,
    /// What changed most since the last round, if anything can be told.
    Changed,
    /// What to try next.
    Try,
    /// Time to rest.
    Rest,
}

/// What was measured where something is found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FindingMeasure {
    /// A measure of notes and turns.
    Quantity(Quantity),
    /// Something else, by its name and its unit.
    Other(&'static str, &'static str),
}

impl FindingMeasure {
    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Quantity(quantity) => quantity.name(),
            Self::Other(name, _) => name,
        }
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Quantity(quantity) => quantity.unit(),
            Self::Other(_, unit) => unit,
        }
    }
}

impl From<Quantity> for FindingMeasure {
    fn from(quantity: Quantity) -> Self {
        Self::Quantity(quantity)
    }
}

impl From<(&'static str, &'static str)> for FindingMeasure {
    fn from((name, unit): (&'static str, &'static str)) -> Self {
        Self::Other(name, unit)
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// What it is about.
    pub kind: FindingKind,
    /// The turn it is about: an index among the turns played, or, where it was not played, among those
    /// asked for; `None` for the round as a whole.
    pub turn: Option<usize>,
    /// A sentence.
    pub words: String,
    /// The measure that led to it.
    pub measure: FindingMeasure,
    /// Its value.
    pub value: f64,
    /// What it should have been, where it is too much or too little of something asked for.
    pub wanted: Option<f64>,
}

impl Finding {
    /// A finding of this kind about this turn, or about the whole round, with the measure that led to it.
    pub(crate) fn new(
        kind: FindingKind,
        turn: Option<usize>,
        words: String,
        measure: impl Into<FindingMeasure>,
        value: f64,
    ) -> Self {
        Self { kind, turn, words, measure: measure.into(), value, wanted: None }
    }

    /// The same, beside what was wanted.
    pub(crate) fn beside(self, wanted: f64) -> Self {
        Self { wanted: Some(wanted), ..self }
    }

    /// Whether there was too much of it; `None` where nothing is known to be wanted.
    pub(crate) fn too_much(&self) -> Option<bool> {
        self.wanted.map(|wanted| self.value > wanted)
    }
}

impl FindingKind {
    /// The name by which other programs know it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Missing => "missing",
            Self::Lost => "lost",
            Self::Count => "count",
            Self::Gap => "gap",
            Self::WrongNote => "wrong-note",
            Self::Hurrying => "hurrying",
            Self::Dragging => "dragging",
            Self::Tightening => "tightening",
            Self::Sharp => "sharp",
            Self::Flat => "flat",
            Self::FlatStart => "flat-start",
            Self::Jerk => "jerk",
            Self::Target => "target",
            Self::Coupled => "coupled",
            Self::Apart => "apart",
            Self::Bloom => "bloom",
            Self::Beat => "beat",
            Self::Unsteady => "unsteady",
            Self::Swell => "swell",
            Self::Elsewhere => "elsewhere",
            Self::Tiring => "tiring",
            Self::Changed => "changed",
            Self::Try => "try",
            Self::Rest => "rest",
        }
    }
}

/// A finger in words: `the thumb`, `finger 2`.
pub(crate) fn finger(number: u8) -> String {
    if number == 0 { "the thumb".to_owned() } else { format!("finger {number}") }
}

/// A turn by its place among those asked for, and, where there are several, its finger: `note 3 (finger 4)`.
pub(crate) fn named(place: usize, asked: &[Asked]) -> String {
    let here = asked[place].finger;
    if asked.iter().all(|turn| turn.finger == here) {
        format!("note {}", place + 1)
    } else {
        format!("note {} ({})", place + 1, finger(here))
    }
}

/// Mean of a measure over the turns of each finger.
pub(crate) fn by_finger<T: Into<f64>>(
    asked: &[Asked],
    played: &[Played],
    of: impl Fn(&Played) -> Option<Measure<T>>,
) -> BTreeMap<u8, Measure<f64>> {
    let mut measures: BTreeMap<u8, Vec<Measure<f64>>> = BTreeMap::new();
    for turn in played {
        if let Some(measure) = of(turn) {
            measures.entry(asked[turn.asked].finger).or_default().push(measure.bare());
        }
    }
    let means = measures.into_iter();
    means.filter_map(|(finger, measures)| Some((finger, Measure::mean(measures)?))).collect()
}

/// The first turn that this finger played.
pub(crate) fn turn_of(finger: u8, asked: &[Asked], played: &[Played]) -> Option<usize> {
    played.iter().position(|turn| asked[turn.asked].finger == finger)
}
