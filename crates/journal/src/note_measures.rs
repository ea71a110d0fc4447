//! Measures of a note between the live shape and the written one.

use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note, Of, PitchCourse, Quantity, Remarks};

use crate::context::Fingering;
use crate::file_format::NoteMeasures;
use crate::measured::{HERTZ, Measured, REST, SECS, can_be, round};
use crate::vibrato_measures::VibratoMeasures;

fn written<T>(measure: &Measure<T>, decimals: i32, bare: impl Fn(&T) -> f64) -> Measured {
    let rounded = |value: &T| round(bare(value), decimals);
    (rounded(&measure.value), measure.se.as_ref().map(rounded))
}

fn live<T>(written: Measured, unit: impl Fn(f64) -> T) -> Measure<T> {
    Measure { value: unit(written.0), se: written.1.map(unit) }
}

/// The remark of a longer note of which too little was heard to tell, and that of a shorter one whose pitch moves.
const TOO_SHORT: &str = "too-short";
const MOVES: &str = "moves";
/// The remark of a note that does not sound bowed.
const UNLIKE_BOW: &str = "unlike-bow";
/// The beginning of the remark that says, by its MIDI number, which string was still beside the one that was measured.
const STILL: &str = "still-";

/// A note shorter than this is too short to tell where nothing else is written of it.
const SHORT: Secs = Secs(0.5);

/// Whether a note is so short; a written length is rounded.
fn is_short(start: f64, end: f64) -> bool {
    end - start < SHORT.0 - 1e-4
}

impl NoteMeasures {
    /// The written shape of a note, rounded.
    pub fn of(note: &Note, by: &Fingering) -> Self {
        let short = is_short(note.start.0, note.end.0);
        let remarks = [
            (note.remarks.two_strings, "two-strings"),
            (note.remarks.room, "room"),
            (note.remarks.clipped, "clipped"),
            (note.remarks.lost, "lost"),
            (note.remarks.cut, "cut"),
            (note.remarks.unlike_bow >= Remarks::UNLIKE, UNLIKE_BOW),
            // Of a shorter note its length says so.
            (note.course == PitchCourse::TooShort && !short, TOO_SHORT),
            (note.course == PitchCourse::Moves && short, MOVES),
        ];
        Self {
            start_s: round(note.start.0, SECS),
            end_s: round(note.end.0, SECS),
            midi: note.midi,
            finger: by.finger,
            string: by.string.clone(),
            reference_hz: round(note.reference.0, HERTZ),
            f0_hz: written(&note.f0, HERTZ, |f0| f0.0),
            offset_cents: written(&note.offset, REST, |cents| cents.0),
            level_dbfs: round(note.level_dbfs, REST),
            confidence: round(note.confidence, REST),
            unsteadiness_cents: round(note.unsteadiness.0, REST),
            straight: note.straight(),
            glide_cents_per_s: note.glide().map(|glide| written(&glide, REST, |cents| cents.0)),
            rebows_s: note.rebows.iter().map(|t| round(t.0, SECS)).collect(),
            remarks: remarks
                .into_iter()
                .filter(|(is_so, _)| *is_so)
                .map(|(_, word)| word.to_owned())
                .chain(note.remarks.still.map(|midi| format!("{STILL}{midi}")))
                .collect(),
            vibrato: note.vibrato.as_ref().map(VibratoMeasures::of),
        }
    }

    /// Whether all that is drawn and computed with can be: a hand can write others.
    pub(crate) fn can_be(&self) -> bool {
        let of = |written: &Measured| can_be(written.0) && written.1.is_none_or(can_be);
        let plain = [
            self.start_s,
            self.end_s,
            self.reference_hz,
            self.level_dbfs,
            self.confidence,
            self.unsteadiness_cents,
        ];
        (0..=127).contains(&self.midi)
            && self.start_s <= self.end_s
            && self.reference_hz > 0.0
            && self.f0_hz.0 > 0.0
            && plain.iter().chain(&self.rebows_s).all(|value| can_be(*value))
            && of(&self.f0_hz)
            && of(&self.offset_cents)
            && self.glide_cents_per_s.as_ref().is_none_or(of)
            && self.vibrato.as_ref().is_none_or(VibratoMeasures::can_be)
    }

    /// A measure of the note or of its vibrato, as it is written.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        match quantity.row().of {
            Of::Note(of) => of(&self.without_vibrato()),
            Of::Vibrato => self.vibrato.as_ref()?.measures.get(quantity),
            Of::Oscillations(of) => of(&self.vibrato.as_ref()?.vibrato()?),
            Of::Change(_) => None,
        }
    }

    /// What its pitch does.
    pub fn course(&self) -> PitchCourse {
        match self.glide_cents_per_s {
            _ if self.vibrato.is_some() => PitchCourse::Vibrato,
            _ if self.straight => PitchCourse::Straight,
            _ if self.remarked(TOO_SHORT) => PitchCourse::TooShort,
            Some(per_sec) => PitchCourse::Glides(live(per_sec, Cents)),
            None if is_short(self.start_s, self.end_s) && !self.remarked(MOVES) => {
                PitchCourse::TooShort
            }
            None => PitchCourse::Moves,
        }
    }

    /// The live shape, as drawing and comparing take it.
    pub fn note(&self) -> Note {
        let vibrato = self.vibrato.as_ref().and_then(VibratoMeasures::vibrato);
        Note { vibrato, ..self.without_vibrato() }
    }

    /// MIDI number of a string that was still beside the one that was measured.
    fn still(&self) -> Option<i32> {
        let numbers = self.remarks.iter().filter_map(|remark| remark.strip_prefix(STILL));
        numbers.filter_map(|midi| midi.parse().ok()).find(|midi| (0..=127).contains(midi))
    }

    fn remarked(&self, word: &str) -> bool {
        self.remarks.iter().any(|remark| remark == word)
    }

    fn without_vibrato(&self) -> Note {
        let remarked = |word: &str| self.remarked(word);
        Note {
            start: Secs(self.start_s),
            end: Secs(self.end_s),
            heard_until: Secs(self.end_s),
            midi: self.midi,
            reference: Hz(self.reference_hz),
            f0: live(self.f0_hz, Hz),
            offset: live(self.offset_cents, Cents),
            level_dbfs: self.level_dbfs,
            confidence: self.confidence,
            unsteadiness: Cents(self.unsteadiness_cents),
            vibrato: None,
            course: self.course(),
            rebows: self.rebows_s.iter().copied().map(Secs).collect(),
            remarks: Remarks {
                two_strings: remarked("two-strings"),
                still: self.still(),
                room: remarked("room"),
                clipped: remarked("clipped"),
                lost: remarked("lost"),
                cut: remarked("cut"),
                unlike_bow: if remarked(UNLIKE_BOW) { Remarks::UNLIKE } else { 0.0 },
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use vibrato::{ContourPoint, Measures, Oscillation, Vibrato};

    use super::*;

    fn measure<T>(value: T, se: T) -> Measure<T> {
        Measure { value, se: Some(se) }
    }

    #[test]
    fn a_note_comes_back_from_its_written_shape_as_it_was_but_for_rounding() {
        let vibrato = Vibrato {
            rate: measure(Hz(5.5), Hz(0.01)),
            width: measure(Cents(31.25), Cents(0.5)),
            centre: measure(Cents(-3.0), Cents(0.25)),
            onset: measure(Secs(0.25), Secs(0.03)),
            others: Measures::default()
                .with(Quantity::RateSpread, 4.0, Some(0.5))
                .with(Quantity::WidthSpread, 6.0, None)
                .with(Quantity::Drift, 1.5, Some(0.5)),
            contour: vec![ContourPoint { time: Secs(0.5), rate: Hz(5.25), width: Cents(30.0) }],
            oscillations: vec![Oscillation {
                start: Secs(0.5),
                period: Secs(0.125),
                crest: Cents(12.5),
                trough: Cents(-18.75),
            }],
        };
        let note = Note {
            start: Secs(0.25),
            end: Secs(2.0),
            heard_until: Secs(2.0),
            midi: 57,
            reference: Hz(220.0),
            f0: measure(Hz(219.5), Hz(0.02)),
            offset: measure(Cents(-3.0), Cents(0.25)),
            level_dbfs: -20.5,
            confidence: 0.875,
            unsteadiness: Cents(1.25),
            vibrato: Some(vibrato),
            course: PitchCourse::Vibrato,
            rebows: vec![Secs(1.0)],
            remarks: Remarks {
                two_strings: true,
                still: Some(57),
                cut: true,
                ..Remarks::default()
            },
        };
        let by = Fingering { finger: Some(3), string: Some("D".to_owned()) };
        let file = NoteMeasures::of(&note, &by);
        assert_eq!((file.finger, file.string.as_deref()), (Some(3), Some("D")));
        assert_eq!(file.note(), note);
        let glide = PitchCourse::Glides(measure(Cents(-50.5), Cents(0.25)));
        let lasting = |end: Secs, course| {
            let mut note = Note { vibrato: None, course, ..note.clone() };
            (note.end, note.heard_until) = (end, end);
            assert_eq!(NoteMeasures::of(&note, &by).note(), note);
        };
        for course in [PitchCourse::Straight, glide, PitchCourse::Moves] {
            lasting(Secs(2.0), course);
            lasting(Secs(0.55), course);
        }
        lasting(Secs(0.5), PitchCourse::TooShort);
        lasting(Secs(2.0), PitchCourse::TooShort);
        let third = Note { start: Secs(1.0 / 3.0), ..note };
        assert_eq!(NoteMeasures::of(&third, &by).start_s, 0.333_33);
    }
}
