//! A take as a whole: each measure as the mean of its notes, and what lies between two takes.

use crate::entry::gap;
use crate::written::{NoteMeasures, TakeFile, VibratoMeasures, Written};

/// What is said of a take as a whole.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Mean {
    /// Oscillations per second.
    Rate,
    /// Crest to trough.
    Width,
    /// Mean pitch over whole oscillations.
    Centre,
    /// Spread of the periods.
    RateSpread,
    /// Spread of the widths.
    WidthSpread,
    /// Share of the motion's power outside its fundamental.
    Smoothness,
    /// Change of the centre from the first third of a note to the last.
    Drift,
    /// From the start of a note to its first oscillation.
    Onset,
    /// From the last oscillation of one note to the first of the next.
    Gap,
    /// Mean pitch of the straight notes.
    Straight,
}

impl Mean {
    /// All of them, in the order in which they are read.
    pub const ALL: [Self; 10] = [
        Self::Rate,
        Self::Width,
        Self::Centre,
        Self::RateSpread,
        Self::WidthSpread,
        Self::Smoothness,
        Self::Drift,
        Self::Onset,
        Self::Gap,
        Self::Straight,
    ];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Rate => "rate",
            Self::Width => "width",
            Self::Centre => "centre",
            Self::RateSpread => "rate spread",
            Self::WidthSpread => "width spread",
            Self::Smoothness => "smoothness",
            Self::Drift => "drift",
            Self::Onset => "onset",
            Self::Gap => "gap",
            Self::Straight => "straight notes",
        }
    }

    /// Its unit.
    pub fn unit(self) -> &'static str {
        match self {
            Self::Rate => "Hz",
            Self::Width | Self::Centre | Self::Drift | Self::Straight => "cents",
            Self::RateSpread | Self::WidthSpread | Self::Smoothness => "%",
            Self::Onset | Self::Gap => "s",
        }
    }

    /// It lies above or below something, so that its sign is told.
    pub fn is_signed(self) -> bool {
        matches!(self, Self::Centre | Self::Drift | Self::Straight)
    }

    fn of(self, note: &NoteMeasures, before: Option<&NoteMeasures>) -> Option<Written> {
        let vibrato = |of: fn(&VibratoMeasures) -> Option<Written>| of(note.vibrato.as_ref()?);
        match self {
            Self::Rate => vibrato(|v| Some(v.rate_hz)),
            Self::Width => vibrato(|v| Some(v.width_cents)),
            Self::Centre => vibrato(|v| Some(v.centre_cents)),
            Self::RateSpread => vibrato(|v| v.rate_spread_pct),
            Self::WidthSpread => vibrato(|v| v.width_spread_pct),
            Self::Smoothness => vibrato(|v| v.smoothness_pct),
            Self::Drift => vibrato(|v| v.drift_cents),
            Self::Onset => vibrato(|v| Some(v.onset_s)),
            Self::Gap => Some((gap(before?, note)?, None)),
            Self::Straight => note.straight.then_some(note.offset_cents),
        }
    }
}

/// A mean over notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OfNotes {
    /// The mean.
    pub value: f64,
    /// Its standard error: how far another few notes of the same playing would lie away. From the scatter of the notes,
    /// which holds the doubt of each; of a single note its own. `None` where it cannot be told.
    pub se: Option<f64>,
    /// How many notes.
    pub notes: usize,
}

impl OfNotes {
    fn of(values: &[Written]) -> Option<Self> {
        let notes = values.len();
        let count = notes as f64;
        let value = values.iter().map(|v| v.0).sum::<f64>() / count;
        let se = match values {
            [] => return None,
            [only] => only.1,
            _ => {
                let squares = values.iter().map(|v| (v.0 - value).powi(2)).sum::<f64>();
                Some((squares / (count - 1.0) / count).sqrt())
            }
        };
        Some(Self { value, se, notes })
    }

    /// How much `self` lies above `other`: the difference and its standard error.
    pub fn above(self, other: Self) -> Written {
        let se = self.se.zip(other.se).map(|(a, b)| a.hypot(b));
        (self.value - other.value, se)
    }
}

impl TakeFile {
    /// A measure of the take as a whole; `None` where none of its notes has it.
    pub fn mean(&self, mean: Mean) -> Option<OfNotes> {
        let before = std::iter::once(None).chain(self.notes.iter().map(Some));
        let values: Vec<Written> = self
            .notes
            .iter()
            .zip(before)
            .filter_map(|(note, before)| mean.of(note, before))
            .collect();
        OfNotes::of(&values)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_doubt_of_a_mean_is_that_of_its_notes() {
        assert_eq!(OfNotes::of(&[]), None);
        let one = OfNotes::of(&[(5.0, Some(0.1))]).expect("a note");
        assert_eq!((one.value, one.se, one.notes), (5.0, Some(0.1), 1));
        // Standard deviation 1, of three: the error of the mean is 1/√3.
        let three = OfNotes::of(&[(4.0, None), (5.0, None), (6.0, None)]).expect("notes");
        assert_eq!((three.value, three.notes), (5.0, 3));
        let se = three.se.expect("three scatter");
        assert!((se - 1.0 / 3f64.sqrt()).abs() < 1e-12, "{se}");
    }

    #[test]
    fn a_difference_has_the_doubt_of_both() {
        let of = |value, se| OfNotes { value, se, notes: 1 };
        let (apart, se) = of(6.0, Some(0.3)).above(of(5.0, Some(0.4)));
        assert_eq!(apart, 1.0);
        assert!((se.expect("both are known") - 0.5).abs() < 1e-12);
        assert_eq!(of(6.0, None).above(of(5.0, Some(0.4))), (1.0, None));
    }
}
