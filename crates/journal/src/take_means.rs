//! A take as a whole: each measure as the mean of its notes, and what lies between two takes.

use serde::{Deserialize, Serialize};
use vibrato::{Measure, Note, Quantity};

use crate::file_format::{NoteMeasures, TakeFile};

/// A mean over notes.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct OfNotes {
    /// The mean.
    pub value: f64,
    /// Its standard error: how far another few notes of the same playing would lie away; see [`Measure::mean`].
    /// `None` where it cannot be told.
    pub se: Option<f64>,
    /// How many notes.
    pub notes: usize,
}

impl OfNotes {
    fn of(measures: Vec<Measure<f64>>) -> Option<Self> {
        let notes = measures.len();
        let Measure { value, se } = Measure::mean(measures)?;
        Some(Self { value, se, notes })
    }

    /// The mean with its standard error.
    pub fn measure(self) -> Measure<f64> {
        Measure { value: self.value, se: self.se }
    }

    /// How much `self` lies above `other`: the difference and its standard error.
    pub fn above(self, other: Self) -> Measure<f64> {
        self.measure().above(other.measure())
    }
}

/// What of each note is followed, in order of time.
pub(crate) fn followed(
    notes: &[Note],
    quantity: Quantity,
) -> impl Iterator<Item = Option<Measure<f64>>> {
    let before = std::iter::once(None).chain(notes.iter().map(Some));
    notes.iter().zip(before).map(move |(note, before)| quantity.follow(note, before))
}

/// The mean of some notes.
pub(crate) fn mean(notes: &[Note], quantity: Quantity) -> Option<OfNotes> {
    OfNotes::of(followed(notes, quantity).flatten().collect())
}

impl TakeFile {
    /// Its notes, as drawing and comparing take them.
    pub fn live_notes(&self) -> Vec<Note> {
        self.notes.iter().map(NoteMeasures::note).collect()
    }

    /// A measure of the take as a whole; `None` where none of its notes has it. An offset is that of its straight
    /// notes: those with vibrato have a centre.
    pub fn mean(&self, quantity: Quantity) -> Option<OfNotes> {
        mean(&self.live_notes(), quantity)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_doubt_of_a_mean_is_that_of_its_notes() {
        let measures = |all: &[(f64, Option<f64>)]| {
            all.iter().map(|&(value, se)| Measure { value, se }).collect::<Vec<_>>()
        };
        assert_eq!(OfNotes::of(Vec::new()), None);
        let one = OfNotes::of(measures(&[(5.0, Some(0.1))])).expect("a note");
        assert_eq!((one.value, one.se, one.notes), (5.0, Some(0.1), 1));
        // Standard deviation 1, of three: the error of the mean is 1/√3.
        let three = OfNotes::of(measures(&[(4.0, None), (5.0, None), (6.0, None)])).expect("notes");
        assert_eq!((three.value, three.notes), (5.0, 3));
        let se = three.se.expect("three scatter");
        assert!((se - 1.0 / 3f64.sqrt()).abs() < 1e-12, "{se}");
    }

    #[test]
    fn a_difference_has_the_doubt_of_both() {
        let of = |value, se| OfNotes { value, se, notes: 1 };
        let Measure { value: apart, se } = of(6.0, Some(0.3)).above(of(5.0, Some(0.4)));
        assert_eq!(apart, 1.0);
        assert!((se.expect("both are known") - 0.5).abs() < 1e-12);
        let unknown = Measure { value: 1.0, se: None };
        assert_eq!(of(6.0, None).above(of(5.0, Some(0.4))), unknown);
    }
}
