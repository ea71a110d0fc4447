//! What was made of a passage, as other programs read it (`evenwave.passage/1`).

use serde::ser::{Serialize, SerializeMap, Serializer};
use vibrato::Measure;

use super::note_findings::{Difference, PlayedNote, What};
use super::{Checked, wanted};
use crate::plan::{Intention, Passage, Pitch};

/// Name and version of the shape.
pub const PASSAGE_SCHEMA: &str = "evenwave.passage/1";

/// What was made of a passage, to be written as JSON. Times are seconds from the start of the take; what is unknown is
/// `null`; each measure is followed by its standard error (`width_cents`, `width_se_cents`).
#[derive(Clone, Copy)]
pub struct Written<'a> {
    /// The plan.
    pub passage: &'a Passage,
    /// What was made of it.
    pub checked: &'a Checked,
}

/// A number as it is written: to a thousandth, `null` where it is none.
fn rounded(value: f64) -> Option<f64> {
    value.is_finite().then(|| (1e3 * value).round() / 1e3 + 0.0)
}

pub(super) fn measure<M: SerializeMap>(
    map: &mut M,
    (name, unit): (&str, &str),
    of: Option<Measure<f64>>,
) -> Result<(), M::Error> {
    map.serialize_entry(&format!("{name}{unit}"), &of.and_then(|of| rounded(of.value)))?;
    let se = of.and_then(|of| of.se).and_then(rounded);
    map.serialize_entry(&format!("{name}_se{unit}"), &se)
}

impl Serialize for Written<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let Self { passage, checked } = self;
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("schema", PASSAGE_SCHEMA)?;
        map.serialize_entry("title", &passage.title)?;
        map.serialize_entry("notes_planned", &checked.reached.1)?;
        map.serialize_entry("notes_reached", &checked.reached.0)?;
        measure(&mut map, ("width_contrast", ""), checked.width_contrast)?;
        measure(&mut map, ("rate_contrast", ""), checked.rate_contrast)?;
        let line = checked.bow_line.as_ref();
        measure(&mut map, ("bow_line_least_loss", ""), line.map(|line| line.least_loss))?;
        map.serialize_entry("bow_line_survived", &line.map(|line| line.survived))?;
        let levels = line.map(|line| {
            line.notes.iter().map(|(note, by)| Leveled(*note, *by)).collect::<Vec<_>>()
        });
        map.serialize_entry("bow_line_notes", &levels)?;
        let notes: Vec<WrittenNote> =
            checked.notes.iter().map(|note| WrittenNote { passage, note }).collect();
        map.serialize_entry("notes", &notes)?;
        map.serialize_entry("said", &checked.said)?;
        map.end()
    }
}

/// How much louder a note came out.
struct Leveled(usize, Measure<f64>);

impl Serialize for Leveled {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("note", &(self.0 + 1))?;
        measure(&mut map, ("louder", "_db"), Some(self.1))?;
        map.end()
    }
}

struct WrittenNote<'a> {
    passage: &'a Passage,
    note: &'a PlayedNote,
}

impl Serialize for WrittenNote<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let Self { passage, note } = self;
        let plan = note.aligned.note.map(|number| &passage.notes()[number]);
        let name = plan.and_then(|plan| match plan.pitch {
            Pitch::Single(one) => Some(one.to_string()),
            _ => None,
        });
        let planned = wanted(passage, &note.aligned);
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("note", &note.aligned.note.map(|number| number + 1))?;
        map.serialize_entry("bar", &plan.map(|plan| plan.at.bar))?;
        map.serialize_entry("name", &name)?;
        map.serialize_entry("how", note.aligned.how.word())?;
        map.serialize_entry("start_s", &rounded(note.aligned.start.get()))?;
        map.serialize_entry("end_s", &rounded(note.aligned.end.get()))?;
        map.serialize_entry("planned", &planned.map(Planned))?;
        measure(&mut map, ("centre", "_cents"), note.centre.map(Measure::bare))?;
        measure(&mut map, ("width", "_cents"), note.width.map(Measure::bare))?;
        measure(&mut map, ("rate", "_hz"), note.rate.map(Measure::bare))?;
        for (i, name) in ["start_width", "peak_width", "end_width"].into_iter().enumerate() {
            let width = note.widths.map(|widths| widths[i].bare());
            measure(&mut map, (name, "_cents"), width)?;
        }
        measure(&mut map, ("peak", "_s"), note.peak.map(Measure::bare))?;
        measure(&mut map, ("onset", "_s"), note.onset.map(Measure::bare))?;
        measure(&mut map, ("ended_early", "_s"), note.ended_early.map(Measure::bare))?;
        measure(&mut map, ("gap", "_s"), note.gap.map(Measure::bare))?;
        map.serialize_entry("differences", &note.differences)?;
        map.end()
    }
}

/// What vibrato was planned.
struct Planned(Intention);

impl Serialize for Planned {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        match self.0 {
            Intention::Straight => map.serialize_entry("straight", &true)?,
            Intention::Contour { width, rate, peak_at } => {
                map.serialize_entry("straight", &false)?;
                map.serialize_entry("width_cents", &width)?;
                map.serialize_entry("rate_hz", &rate)?;
                map.serialize_entry("peak_at", &peak_at)?;
            }
        }
        map.end()
    }
}

/// The word of a difference, and the unit behind its number.
fn word(what: What) -> (&'static str, &'static str) {
    match what {
        What::NotStraight => ("not straight", "_cents"),
        What::NoVibrato => ("no vibrato", ""),
        What::Width => ("width", "_cents"),
        What::Rate => ("rate", "_hz"),
        What::Peak => ("peak", "_s"),
        What::StartWidth => ("width at start", "_cents"),
        What::EndWidth => ("width at end", "_cents"),
        What::Onset => ("onset", "_s"),
        What::EndedEarly => ("ended early", "_s"),
        What::Centre => ("centre", "_cents"),
        What::Gap => ("gap", "_s"),
    }
}

impl Serialize for Difference {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let (what, unit) = word(self.what);
        let mut map = to.serialize_map(None)?;
        map.serialize_entry("what", what)?;
        if self.by.is_some() {
            measure(&mut map, ("by", unit), self.by)?;
        }
        map.end()
    }
}
