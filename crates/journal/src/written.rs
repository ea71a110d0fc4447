//! What stands in `take.ron`, version 1. Shapes of their own, converted by hand from the live ones.

use serde::{Deserialize, Serialize};
use tuning::Temperament;
use vibrato::{Measure, Note};

use crate::context::Context;

/// The version that is written and read.
pub(crate) const VERSION: u32 = 1;

/// A take without its sound.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct TakeFile {
    /// Version of this shape.
    pub version: u32,
    /// When it began: local time with its distance from UTC, as in RFC 9557.
    pub began: String,
    /// Room of the window.
    pub room: String,
    /// Whose take it is.
    pub player: String,
    /// The instrument, if one was chosen.
    pub instrument: Option<String>,
    /// The microphone.
    pub device: String,
    /// A4 in Hz.
    pub a4_hz: f64,
    /// `equal` or `pure-fifths`.
    pub temperament: String,
    /// The drill, if one was played.
    pub drill: Option<String>,
    /// A word the player left.
    pub word: String,
    /// Samples a second in `sound.flac`.
    pub sample_rate_hz: u32,
    /// Length of the sound in seconds.
    pub length_s: f64,
    /// It is never thrown away by itself.
    pub keep: bool,
    /// It broke off, and this is what could be saved.
    pub mended: bool,
    /// Where samples are missing.
    pub lost: Vec<Lost>,
    /// The notes, in order of time.
    pub notes: Vec<NoteMeasures>,
    /// What the ear said of them before the eye.
    pub answers: Vec<Answer>,
}

/// Samples that are missing; silence stands in their place.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Lost {
    /// From here, in seconds from the start of the sound.
    pub at_s: f64,
    /// For so long.
    pub length_s: f64,
}

/// What the ear said of a note.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Answer {
    /// Which note, from 0.
    pub note: usize,
    /// What was asked.
    pub question: String,
    /// What was answered.
    pub answer: String,
    /// What was measured; `None` where that was too close to call.
    pub measured: Option<String>,
}

/// A value and its standard error; the second is `None` where it cannot be told.
pub type Written = (f64, Option<f64>);

/// The measures of a note; times in seconds from the start of the sound, pitches in Hz, the rest in
/// cents or percent as its name says.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct NoteMeasures {
    /// Start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// MIDI number of the nearest note.
    pub midi: i32,
    /// Frequency of that note in the tuning.
    pub reference_hz: f64,
    /// Mean pitch.
    pub f0_hz: Written,
    /// The same as a distance from the reference.
    pub offset_cents: Written,
    /// Mean level.
    pub level_dbfs: f64,
    /// Mean confidence of its frames.
    pub confidence: f64,
    /// Standard deviation of the pitch around its slow course.
    pub unsteadiness_cents: f64,
    /// It has no vibrato and was long enough to tell.
    pub straight: bool,
    /// Bow changes on the same pitch.
    pub rebows_s: Vec<f64>,
    /// What stood out: `two-strings`, `room`, `clipped`, `lost`, `cut`.
    pub remarks: Vec<String>,
    /// Its vibrato.
    pub vibrato: Option<VibratoMeasures>,
}

/// The vibrato of a note.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct VibratoMeasures {
    /// Oscillations per second.
    pub rate_hz: Written,
    /// Crest to trough.
    pub width_cents: Written,
    /// Mean pitch over whole oscillations.
    pub centre_cents: Written,
    /// Spread of the periods.
    pub rate_spread_pct: Option<Written>,
    /// Spread of the widths.
    pub width_spread_pct: Option<Written>,
    /// Share of the motion's power outside its fundamental.
    pub smoothness_pct: Option<Written>,
    /// Change of the centre from the first third to the last.
    pub drift_cents: Option<Written>,
    /// From the start of the note to its first oscillation.
    pub onset_s: Written,
    /// Time, rate and width, each 0.1 s.
    pub contour: Vec<(f64, f64, f64)>,
    /// Start, period, crest and trough of each oscillation.
    pub oscillations: Vec<(f64, f64, f64, f64)>,
}

impl TakeFile {
    /// A take that begins.
    pub(crate) fn begun(context: &Context, began: String, sample_rate_hz: u32) -> Self {
        Self {
            version: VERSION,
            began,
            room: context.room.clone(),
            player: context.player.clone(),
            instrument: context.instrument.clone(),
            device: context.device.clone(),
            a4_hz: context.tuning.a4.0,
            temperament: match context.tuning.temperament {
                Temperament::Equal => "equal",
                Temperament::PureFifths => "pure-fifths",
            }
            .to_owned(),
            drill: context.drill.clone(),
            word: context.word.clone(),
            sample_rate_hz,
            length_s: 0.0,
            keep: false,
            mended: false,
            lost: Vec::new(),
            notes: Vec::new(),
            answers: Vec::new(),
        }
    }
}

fn written<T>(measure: &Measure<T>, bare: impl Fn(&T) -> f64) -> Written {
    (bare(&measure.value), measure.se.as_ref().map(bare))
}

impl From<&Note> for NoteMeasures {
    fn from(note: &Note) -> Self {
        let remarks = [
            (note.remarks.two_strings, "two-strings"),
            (note.remarks.room, "room"),
            (note.remarks.clipped, "clipped"),
            (note.remarks.lost, "lost"),
            (note.remarks.cut, "cut"),
        ];
        let percent = |measure: &Option<Measure<f64>>| measure.as_ref().map(|m| written(m, |v| *v));
        Self {
            start_s: note.start.0,
            end_s: note.end.0,
            midi: note.midi,
            reference_hz: note.reference.0,
            f0_hz: written(&note.f0, |f0| f0.0),
            offset_cents: written(&note.offset, |cents| cents.0),
            level_dbfs: note.level_dbfs,
            confidence: note.confidence,
            unsteadiness_cents: note.unsteadiness.0,
            straight: note.straight,
            rebows_s: note.rebows.iter().map(|time| time.0).collect(),
            remarks: remarks
                .into_iter()
                .filter(|(is_so, _)| *is_so)
                .map(|(_, word)| word.to_owned())
                .collect(),
            vibrato: note.vibrato.as_ref().map(|vibrato| VibratoMeasures {
                rate_hz: written(&vibrato.rate, |rate| rate.0),
                width_cents: written(&vibrato.width, |cents| cents.0),
                centre_cents: written(&vibrato.centre, |cents| cents.0),
                rate_spread_pct: percent(&vibrato.rate_spread_pct),
                width_spread_pct: percent(&vibrato.width_spread_pct),
                smoothness_pct: percent(&vibrato.smoothness_pct),
                drift_cents: vibrato.drift.as_ref().map(|m| written(m, |cents| cents.0)),
                onset_s: written(&vibrato.onset, |secs| secs.0),
                contour: vibrato
                    .contour
                    .iter()
                    .map(|point| (point.time.0, point.rate.0, point.width.0))
                    .collect(),
                oscillations: vibrato
                    .oscillations
                    .iter()
                    .map(|o| (o.start.0, o.period.0, o.crest.0, o.trough.0))
                    .collect(),
            }),
        }
    }
}
