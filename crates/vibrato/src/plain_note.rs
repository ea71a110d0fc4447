//! Notes from a few numbers, in tune and even: what tests, examples and made takes start from.

use tuning::{Cents, Hz, Secs};

use crate::{Live, Measure, Measures, Motion, Note, Oscillation, PitchCourse, Remarks, Vibrato};

impl<T> Measure<T> {
    /// A value that is known to one standard error of `se`.
    pub const fn known(value: T, se: T) -> Self {
        Self { value, se: Some(se) }
    }

    /// A value of which nobody can say how sure it is.
    pub const fn doubtful(value: T) -> Self {
        Self { value, se: None }
    }
}

impl Note {
    /// A straight note at its reference, −20 dBFS loud, without remarks.
    pub fn plain(midi: i32, reference: Hz, start: Secs, end: Secs) -> Self {
        Self {
            start,
            end,
            heard_until: end,
            midi,
            reference,
            f0: Measure::known(reference, Hz(0.1)),
            offset: Measure::known(Cents(0.0), Cents(0.3)),
            level_dbfs: -20.0,
            confidence: 0.9,
            unsteadiness: Cents(1.0),
            vibrato: None,
            course: PitchCourse::Straight,
            rebows: Vec::new(),
            remarks: Remarks::default(),
        }
    }

    /// The same note with this vibrato.
    pub fn vibrated(self, vibrato: Vibrato) -> Self {
        Self { vibrato: Some(vibrato), course: PitchCourse::Vibrato, ..self }
    }
}

impl Vibrato {
    /// So many oscillations, one like the other, from `first` on, about the note's reference; no contour.
    pub fn even(rate: Hz, width: Cents, first: Secs, count: usize) -> Self {
        let period = 1.0 / rate.0;
        let oscillation = |i: usize| Oscillation {
            start: Secs(first.0 + i as f64 * period),
            period: Secs(period),
            crest: Cents(width.0 / 2.0),
            trough: Cents(-width.0 / 2.0),
        };
        Self {
            rate: Measure::known(rate, Hz(0.02)),
            width: Measure::known(width, Cents(0.5)),
            centre: Measure::known(Cents(0.0), Cents(0.3)),
            onset: Measure::known(Secs(0.2), Secs(0.02)),
            others: Measures::default(),
            contour: Vec::new(),
            oscillations: (0..count).map(oscillation).collect(),
        }
    }
}

impl Live {
    /// What is known by now of a note of one string in a dry room.
    pub fn plain(
        time: Secs,
        midi: i32,
        reference: Hz,
        centre: Measure<Cents>,
        motion: Motion,
    ) -> Self {
        Self { time, midi, reference, centre, motion, two_strings: false }
    }
}
