//! The record of a sound and of a note, as JSON writes it (`evenwave.measures/1`).
//!
//! Fields stand in the order of the schema; what is added to it stands at the end of each object.

use serde::Serialize;
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Note, Vibrato};

use crate::words;

/// Name and version of the shape.
pub const SCHEMA: &str = "evenwave.measures/1";

/// All that was measured in one sound. Times are seconds from its start; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SoundRecord {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// The file as it was named, or the microphone.
    pub file: String,
    /// Samples per second in the file.
    pub sample_rate_hz: u32,
    /// Length of the sound.
    pub duration_s: Option<f64>,
    /// The notes in the order of time.
    pub notes: Vec<NoteRecord>,
    /// Where samples are missing.
    pub lost: Vec<LostRecord>,
    /// What was not right with the sound, one sentence each.
    pub remarks: Vec<String>,
}

/// Samples that are missing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LostRecord {
    /// Where they are missing.
    pub start_s: f64,
    /// How much is missing.
    pub length_s: f64,
}

/// One note.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NoteRecord {
    /// Where it starts.
    pub start_s: f64,
    /// Where it ends.
    pub end_s: f64,
    /// Name of the nearest note.
    pub name: String,
    /// Its MIDI number (A4 = 69).
    pub midi: i32,
    /// Its frequency in the tuning; all cents are against it.
    pub reference_hz: f64,
    /// Mean pitch over whole oscillations.
    pub f0_hz: Option<f64>,
    /// The same in cents.
    pub offset_cents: Option<f64>,
    /// Median level.
    pub level_dbfs: Option<f64>,
    /// Mean confidence of its frames, 0 to 1.
    pub confidence: Option<f64>,
    /// `null` for a straight note and for one too short to tell.
    pub vibrato: Option<VibratoRecord>,
    /// The note was long enough to tell and has no vibrato.
    pub straight: bool,
    /// Standard error of `f0_hz`.
    pub f0_se_hz: Option<f64>,
    /// Standard error of `offset_cents`.
    pub offset_se_cents: Option<f64>,
    /// Standard deviation of the pitch around its slow course.
    pub unsteadiness_cents: Option<f64>,
    /// Where the bow started anew on the same pitch.
    pub rebows_s: Vec<f64>,
    /// What else stood out, one sentence each.
    pub remarks: Vec<String>,
}

/// The vibrato of a note.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VibratoRecord {
    /// Oscillations per second.
    pub rate_hz: Option<f64>,
    /// Standard error of it.
    pub rate_se_hz: Option<f64>,
    /// Crest to trough, peak to peak.
    pub width_cents: Option<f64>,
    /// Standard error of it.
    pub width_se_cents: Option<f64>,
    /// Mean pitch over whole oscillations.
    pub centre_cents: Option<f64>,
    /// Standard deviation over mean of the period.
    pub rate_spread_pct: Option<f64>,
    /// Standard deviation over mean of the width.
    pub width_spread_pct: Option<f64>,
    /// Share of the modulation's power outside its fundamental.
    pub smoothness_pct: Option<f64>,
    /// Change of the centre from the first third to the last.
    pub drift_cents: Option<f64>,
    /// From the start of the note to its first oscillation.
    pub onset_s: Option<f64>,
    /// The oscillations one by one.
    pub oscillations: Vec<OscillationRecord>,
    /// Standard error of `centre_cents`.
    pub centre_se_cents: Option<f64>,
    /// Standard error of `rate_spread_pct`.
    pub rate_spread_se_pct: Option<f64>,
    /// Standard error of `width_spread_pct`.
    pub width_spread_se_pct: Option<f64>,
    /// Standard error of `smoothness_pct`.
    pub smoothness_se_pct: Option<f64>,
    /// Standard error of `drift_cents`.
    pub drift_se_cents: Option<f64>,
    /// Standard error of `onset_s`.
    pub onset_se_s: Option<f64>,
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
    /// The instant.
    pub time_s: f64,
    /// Oscillations per second.
    pub rate_hz: f64,
    /// Crest to trough.
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

fn value<T: Copy>(measure: Option<Measure<T>>, bare: fn(T) -> f64) -> Option<f64> {
    measure.and_then(|m| known(bare(m.value)))
}

fn doubt<T: Copy>(measure: Option<Measure<T>>, bare: fn(T) -> f64) -> Option<f64> {
    measure.and_then(|m| m.se).and_then(|se| known(bare(se)))
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
            f0_hz: known(note.f0.value.0),
            offset_cents: known(note.offset.value.0),
            level_dbfs: known(note.level_dbfs),
            confidence: known(note.confidence),
            vibrato: note.vibrato.as_ref().map(|vibrato| VibratoRecord::new(vibrato, zero)),
            straight: note.straight,
            f0_se_hz: doubt(Some(note.f0), |f0| f0.0),
            offset_se_cents: doubt(Some(note.offset), |offset| offset.0),
            unsteadiness_cents: known(note.unsteadiness.0),
            rebows_s: note.rebows.iter().map(|&time| at(time)).collect(),
            remarks: words::remarks(note),
        }
    }
}

impl VibratoRecord {
    fn new(vibrato: &Vibrato, zero: Secs) -> Self {
        let at = |time: Secs| written(zero.0 + time.0);
        let (rate, width, centre) = (Some(vibrato.rate), Some(vibrato.width), Some(vibrato.centre));
        Self {
            rate_hz: value(rate, |rate| rate.0),
            rate_se_hz: doubt(rate, |rate| rate.0),
            width_cents: value(width, |width| width.0),
            width_se_cents: doubt(width, |width| width.0),
            centre_cents: value(centre, |centre| centre.0),
            rate_spread_pct: value(vibrato.rate_spread_pct, |pct| pct),
            width_spread_pct: value(vibrato.width_spread_pct, |pct| pct),
            smoothness_pct: value(vibrato.smoothness_pct, |pct| pct),
            drift_cents: value(vibrato.drift, |drift| drift.0),
            onset_s: value(Some(vibrato.onset), |onset| onset.0),
            oscillations: vibrato
                .oscillations
                .iter()
                .map(|one| OscillationRecord {
                    start_s: at(one.start),
                    period_s: written(one.period.0),
                    crest_cents: written(one.crest.0),
                    trough_cents: written(one.trough.0),
                })
                .collect(),
            centre_se_cents: doubt(centre, |centre| centre.0),
            rate_spread_se_pct: doubt(vibrato.rate_spread_pct, |pct| pct),
            width_spread_se_pct: doubt(vibrato.width_spread_pct, |pct| pct),
            smoothness_se_pct: doubt(vibrato.smoothness_pct, |pct| pct),
            drift_se_cents: doubt(vibrato.drift, |drift| drift.0),
            onset_se_s: doubt(Some(vibrato.onset), |onset| onset.0),
            contour: vibrato
                .contour
                .iter()
                .map(|point| ContourRecord {
                    time_s: at(point.time),
                    rate_hz: written(point.rate.0),
                    width_cents: written(point.width.0),
                })
                .collect(),
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use serde_json::Value;
    use tuning::{Cents, Hz};
    use vibrato::{ContourPoint, Oscillation, Remarks};

    use super::*;

    /// A4 with 5.5 Hz and 40 cents, its drift unknown.
    pub(in crate::formats) fn note_with_vibrato() -> Note {
        let sure = |value: f64, se: f64| Measure { value, se: Some(se) };
        Note {
            start: Secs(0.5),
            end: Secs(2.25),
            midi: 69,
            reference: Hz(440.0),
            f0: Measure { value: Hz(440.254_225_1), se: Some(Hz(0.05)) },
            offset: Measure { value: Cents(1.0), se: Some(Cents(0.2)) },
            level_dbfs: -23.4,
            confidence: 0.97,
            unsteadiness: Cents(14.0),
            vibrato: Some(Vibrato {
                rate: Measure { value: Hz(5.5), se: Some(Hz(0.02)) },
                width: Measure { value: Cents(40.0), se: Some(Cents(0.5)) },
                centre: Measure { value: Cents(1.0), se: Some(Cents(0.2)) },
                rate_spread_pct: Some(sure(4.0, 1.0)),
                width_spread_pct: Some(sure(8.0, 2.0)),
                smoothness_pct: Some(sure(2.0, 0.5)),
                drift: None,
                onset: Measure { value: Secs(0.08), se: None },
                contour: vec![ContourPoint { time: Secs(1.0), rate: Hz(5.5), width: Cents(40.0) }],
                oscillations: vec![Oscillation {
                    start: Secs(0.58),
                    period: Secs(0.182),
                    crest: Cents(21.0),
                    trough: Cents(-19.0),
                }],
            }),
            straight: false,
            rebows: vec![Secs(1.5)],
            remarks: Remarks { room: true, ..Remarks::default() },
        }
    }

    /// G3, straight, with nothing known of its doubt.
    pub(in crate::formats) fn straight_note() -> Note {
        Note {
            midi: 55,
            reference: Hz(195.9977),
            f0: Measure { value: Hz(195.0), se: None },
            offset: Measure { value: Cents(-8.8), se: None },
            unsteadiness: Cents(0.9),
            vibrato: None,
            straight: true,
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
        assert_eq!(
            keys(&text, &value)[..10],
            [
                "start_s",
                "end_s",
                "name",
                "midi",
                "reference_hz",
                "f0_hz",
                "offset_cents",
                "level_dbfs",
                "confidence",
                "vibrato"
            ]
        );
        let vibrato = &value["vibrato"];
        assert_eq!(
            keys(&text[text.find("\"vibrato\"").expect("written")..], vibrato)[..11],
            [
                "rate_hz",
                "rate_se_hz",
                "width_cents",
                "width_se_cents",
                "centre_cents",
                "rate_spread_pct",
                "width_spread_pct",
                "smoothness_pct",
                "drift_cents",
                "onset_s",
                "oscillations"
            ]
        );
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
        let short = Note { straight: false, ..straight_note() };
        let (_, value) = json(&short);
        assert!(value["vibrato"].is_null());
        assert_eq!(value["straight"], false);
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
