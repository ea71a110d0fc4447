//! One finding: what it is about, the measure that led to it, and how a turn is called in its words.

use vibrato::Quantity;

use crate::drill::Asked;

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
    /// A finger lies above the others.
    Sharp,
    /// A finger lies below the others.
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
        Self { kind, turn, words, measure: measure.into(), value }
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

/// A turn by its place among those asked for, and, where there are several, its finger: `turn 3, finger 4`.
pub(crate) fn named(place: usize, asked: &[Asked]) -> String {
    let here = asked[place].finger;
    if asked.iter().all(|turn| turn.finger == here) {
        format!("turn {}", place + 1)
    } else {
        format!("turn {}, {}", place + 1, finger(here))
    }
}
