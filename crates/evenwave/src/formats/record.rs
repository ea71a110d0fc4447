//! The record of a sound and of a note, as JSON writes it (`evenwave.measures/2`).

use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Note, PitchCourse, Quantity, Vibrato};

use crate::words;

/// Name and version of the shape.
pub(crate) const SCHEMA: &str = "evenwave.measures/2";

/// All that was measured in one sound. Times are seconds from its start; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SoundRecord {
    pub schema: &'static str,
    /// The file as it was named, or the microphone.
    pub file: String,
    pub sample_rate_hz: u32,
    pub duration_s: Option<f64>,
    pub notes: Vec<NoteRecord>,
    /// Where samples are missing.
    pub lost: Vec<LostRecord>,
    /// What was not right with the sound, one sentence each.
    pub remarks: Vec<String>,
}

/// Samples that are missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LostRecord {
    pub start_s: f64,
    pub length_s: f64,
}

/// Some measures, each with its standard error right behind it: `rate_hz`, `rate_se_hz`.
#[derive(Clone, Debug, PartialEq)]
pub struct Values(Vec<(Quantity, Option<Measure<f64>>)>);

impl Values {
    /// These measures, each as `of` tells it, rounded.
    pub fn new(
        quantities: impl Iterator<Item = Quantity>,
        of: impl Fn(Quantity) -> Option<Measure<f64>>,
    ) -> Self {
        let rounded = |measure: Measure<f64>| {
            Some(Measure { value: known(measure.value)?, se: measure.se.and_then(known) })
        };
        Self(quantities.map(|quantity| (quantity, of(quantity).and_then(rounded))).collect())
    }

    /// A measure; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        self.0.iter().find(|(other, _)| *other == quantity)?.1
    }

    /// What stands under this key as CSV; empty where it is not known.
    pub(super) fn field(&self, key: &str) -> String {
        let number = Quantity::of_key(key).and_then(|(quantity, is_se)| {
            let measure = self.get(quantity)?;
            if is_se { measure.se } else { Some(measure.value) }
        });
        number.map(|number| number.to_string()).unwrap_or_default()
    }
}

/// The keys of these, each followed by that of its standard error.
pub(super) fn keys(
    quantities: impl Iterator<Item = Quantity>,
) -> impl Iterator<Item = &'static str> {
    quantities.flat_map(|quantity| [Some(quantity.key()), quantity.se_key()]).flatten()
}

impl Serialize for Values {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut map = to.serialize_map(None)?;
        for (quantity, measure) in &self.0 {
            map.serialize_entry(quantity.key(), &measure.map(|measure| measure.value))?;
            if let Some(key) = quantity.se_key() {
                map.serialize_entry(key, &measure.and_then(|measure| measure.se))?;
            }
        }
        map.end()
    }
}

/// One note.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NoteRecord {
    pub start_s: f64,
    pub end_s: f64,
    pub name: String,
    /// Its MIDI number (A4 = 69).
    pub midi: i32,
    /// Its frequency in the tuning; all cents are against it.
    pub reference_hz: f64,
    /// Its measures, those of the vibrato apart.
    #[serde(flatten)]
    pub measures: Values,
    /// The note was long enough to tell, has no vibrato and stays at its pitch.
    pub straight: bool,
    /// What the pitch does: `vibrato`, `straight`, `glides`, `moves` or `too short`.
    #[serde(serialize_with = "word")]
    pub course: PitchCourse,
    /// `null` for a straight note and for one too short to tell.
    pub vibrato: Option<VibratoRecord>,
    /// Where the bow started anew on the same pitch.
    pub rebows_s: Vec<f64>,
    /// What else stood out, one sentence each.
    pub remarks: Vec<String>,
}

fn word<S: Serializer>(course: &PitchCourse, to: S) -> Result<S::Ok, S::Error> {
    to.serialize_str(course.word())
}

/// The vibrato of a note.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VibratoRecord {
    /// Its measures.
    #[serde(flatten)]
    pub measures: Values,
    pub oscillations: Vec<OscillationRecord>,
    /// Width and rate through the note.
    pub contour: Vec<ContourRecord>,
}

/// One oscillation, trough to trough.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OscillationRecord {
    /// Time of the trough it starts from.
    pub start_s: f64,
    /// Trough to trough.
    pub period_s: f64,
    /// Highest pitch in it.
    pub crest_cents: f64,
    /// Mean of its two troughs.
    pub trough_cents: f64,
}

/// Width and rate around one instant.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ContourRecord {
    pub time_s: f64,
    pub rate_hz: f64,
    pub width_cents: f64,
}

/// A number as it is written: to a millionth of its unit, unknown if it is none.
pub(super) fn known(value: f64) -> Option<f64> {
    value.is_finite().then(|| written(value))
}

/// To a millionth: a microsecond, a thousandth of what any measure here can be sure of.
/// Adding 0 turns −0 into 0.
pub(crate) fn written(value: f64) -> f64 {
    (value * 1e6).round() / 1e6 + 0.0
}

impl NoteRecord {
    /// The record of a note whose times count from `zero` of the sound.
    pub fn new(note: &Note, naming: Naming, zero: Secs) -> Self {
        let at = |time: Secs| written(zero.0 + time.0);
        Self {
            start_s: at(note.start),
            end_s: at(note.end),
            name: pitch_name(note.midi, naming),
            midi: note.midi,
            reference_hz: written(note.reference.0),
            measures: Values::new(Quantity::of_notes(), |quantity| quantity.read(note, None)),
            straight: note.straight(),
            course: note.course,
            vibrato: note.vibrato.as_ref().map(|vibrato| VibratoRecord::new(vibrato, zero)),
            rebows_s: note.rebows.iter().map(|&time| at(time)).collect(),
            remarks: words::remarks(note, naming),
        }
    }

    /// A measure of the note or of its vibrato; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        let of_vibrato = || self.vibrato.as_ref()?.measures.get(quantity);
        self.measures.get(quantity).or_else(of_vibrato)
    }

    /// What is said of a note without vibrato; `None` where it has one.
    pub fn without_vibrato(&self) -> Option<String> {
        let unsteady = Quantity::Unsteadiness.wording(self.get(Quantity::Unsteadiness));
        match self.vibrato {
            Some(_) => None,
            None if self.straight => Some(format!("straight, unsteady by {unsteady}")),
            None => Some(self.course.wording()),
        }
    }
}

impl VibratoRecord {
    fn new(vibrato: &Vibrato, zero: Secs) -> Self {
        let at = |time: Secs| written(zero.0 + time.0);
        let oscillations = vibrato.oscillations.iter().map(|one| OscillationRecord {
            start_s: at(one.start),
            period_s: written(one.period.0),
            crest_cents: written(one.crest.0),
            trough_cents: written(one.trough.0),
        });
        let contour = vibrato.contour.iter().map(|point| ContourRecord {
            time_s: at(point.time),
            rate_hz: written(point.rate.0),
            width_cents: written(point.width.0),
        });
        Self {
            measures: Values::new(Quantity::of_vibrato(), |quantity| vibrato.get(quantity)),
            oscillations: oscillations.collect(),
            contour: contour.collect(),
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use serde_json::Value;
    use tuning::{Cents, Hz};
    use vibrato::{ContourPoint, Measures, Oscillation, Remarks};

    use super::*;

    /// A4 with 5.5 Hz and 40 cents, its drift unknown.
    pub(crate) fn note_with_vibrato() -> Note {
        let centre = Measure::known(Cents(1.0), Cents(0.2));
        Note {
            f0: Measure::known(Hz(440.254_225_1), Hz(0.05)),
            offset: centre,
            level_dbfs: -23.4,
            confidence: 0.97,
            unsteadiness: Cents(14.0),
            rebows: vec![Secs(1.5)],
            remarks: Remarks { room: true, ..Remarks::default() },
            ..Note::plain(69, Hz(440.0), Secs(0.5), Secs(2.25))
        }
        .vibrated(Vibrato {
            centre,
            onset: Measure::doubtful(Secs(0.08)),
            others: Measures::default()
                .with(Quantity::RateSpread, 4.0, Some(1.0))
                .with(Quantity::WidthSpread, 8.0, Some(2.0))
                .with(Quantity::OutOfRound, 2.0, Some(0.5)),
            contour: vec![ContourPoint { time: Secs(1.0), rate: Hz(5.5), width: Cents(40.0) }],
            oscillations: vec![Oscillation {
                start: Secs(0.58),
                period: Secs(0.182),
                crest: Cents(21.0),
                trough: Cents(-19.0),
            }],
            ..Vibrato::even(Hz(5.5), Cents(40.0), Secs(0.58), 1)
        })
    }

    /// G3, straight, with nothing known of its doubt.
    pub(crate) fn straight_note() -> Note {
        Note {
            midi: 55,
            reference: Hz(195.9977),
            f0: Measure { value: Hz(195.0), se: None },
            offset: Measure { value: Cents(-8.8), se: None },
            unsteadiness: Cents(0.9),
            vibrato: None,
            course: PitchCourse::Straight,
            rebows: Vec::new(),
            remarks: Remarks::default(),
            ..note_with_vibrato()
        }
    }

    /// The keys of an object in the order in which they stand in the text.
    fn keys(text: &str, object: &Value) -> Vec<String> {
        let mut keys: Vec<String> =
            object.as_object().expect("an object").keys().cloned().collect();
        keys.sort_by_key(|key| text.find(&format!("\"{key}\":")).expect("the key is there"));
        keys
    }

    fn json(note: &Note) -> (String, Value) {
        let record = NoteRecord::new(note, Naming::Scientific, Secs(10.0));
        let text = serde_json::to_string(&record).expect("plain data");
        let value = serde_json::from_str(&text).expect("what was just written");
        (text, value)
    }

    #[test]
    fn a_note_has_the_fields_of_the_schema_in_their_order() {
        let (text, value) = json(&note_with_vibrato());
        let before = ["start_s", "end_s", "name", "midi", "reference_hz"];
        let behind = ["straight", "course", "vibrato", "rebows_s", "remarks"];
        let measures = |quantities: &mut dyn Iterator<Item = Quantity>| -> Vec<&str> {
            let keys = quantities.map(|quantity| [Some(quantity.key()), quantity.se_key()]);
            keys.flatten().flatten().collect()
        };
        let of_note = measures(&mut Quantity::of_notes());
        assert_eq!(of_note[..4], ["f0_hz", "f0_se_hz", "offset_cents", "offset_se_cents"]);
        assert_eq!(keys(&text, &value), [&before[..], &of_note, &behind].concat());
        let vibrato = &value["vibrato"];
        let mut of_vibrato = measures(&mut Quantity::of_vibrato());
        assert_eq!(of_vibrato[..3], ["rate_hz", "rate_se_hz", "width_cents"]);
        of_vibrato.extend(["oscillations", "contour"]);
        assert_eq!(keys(&text[text.find("\"vibrato\"").expect("written")..], vibrato), of_vibrato);
        assert_eq!(value["name"], "A4");
        assert_eq!(value["start_s"], 10.5, "times count from the start of the sound");
        assert_eq!(value["f0_hz"], 440.254225);
        assert_eq!(vibrato["oscillations"][0]["start_s"], 10.58);
        assert_eq!(vibrato["oscillations"][0]["trough_cents"], -19.0);
    }

    #[test]
    fn what_is_unknown_is_null() {
        let (text, value) = json(&note_with_vibrato());
        assert!(value["vibrato"]["drift_cents"].is_null());
        assert!(value["vibrato"]["drift_se_cents"].is_null());
        assert!(value["vibrato"]["onset_se_s"].is_null());
        assert!(text.contains("\"drift_cents\":null"), "null is written, not left out");

        let mut odd = note_with_vibrato();
        odd.level_dbfs = f64::NEG_INFINITY;
        odd.confidence = f64::NAN;
        let (_, value) = json(&odd);
        assert!(value["level_dbfs"].is_null() && value["confidence"].is_null());
    }

    #[test]
    fn straight_and_too_short_to_tell_are_told_apart() {
        let (_, value) = json(&straight_note());
        assert!(value["vibrato"].is_null());
        assert_eq!(value["straight"], true);
        let short = Note { course: PitchCourse::TooShort, ..straight_note() };
        let (_, value) = json(&short);
        assert!(value["vibrato"].is_null());
        assert_eq!(value["straight"], false);
        assert_eq!(value["course"], "too short");
        assert!(value["glide_cents_per_s"].is_null());
        let per_sec = Measure { value: Cents(-50.5), se: Some(Cents(0.5)) };
        let (_, value) = json(&Note { course: PitchCourse::Glides(per_sec), ..straight_note() });
        assert_eq!(value["straight"], false);
        assert_eq!(value["course"], "glides");
        assert_eq!(value["glide_cents_per_s"], -50.5);
        assert_eq!(value["glide_se_cents_per_s"], 0.5);
    }

    #[test]
    fn remarks_are_words() {
        let (_, value) = json(&note_with_vibrato());
        let remarks = value["remarks"].as_array().expect("a list");
        assert_eq!(remarks.len(), 2, "{remarks:?}");
        assert!(remarks[0].as_str().expect("words").contains("60 cm"));
        assert_eq!(remarks[1], "re-bowed once");
    }
}
