//! What stands in `take.ron`, version 2. Shapes of their own, converted by hand from the live ones.

use serde::{Deserialize, Serialize};
use tuning::{Hz, Temperament, Tuning};

use crate::context::{Context, LessonPart};
use crate::measured::Measured;
use crate::vibrato_measures::VibratoMeasures;

/// The version that is written; the first one is read, too.
pub(crate) const VERSION: u32 = 2;

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
    /// The passage, if one was played.
    pub passage: Option<String>,
    /// Beats per minute, if there was a pace.
    pub pace_bpm: Option<f64>,
    /// Oscillations per beat, if they were counted.
    pub oscillations_per_beat: Option<f64>,
    /// The finger, 1 to 4 (0 is the thumb), where one finger played all of it.
    pub finger: Option<u8>,
    /// The string, where one string was played.
    pub string: Option<String>,
    /// What it was in a lesson.
    pub lesson: Option<WrittenLesson>,
    /// A word the player left.
    pub word: String,
    /// Samples a second in `sound.flac`.
    pub sample_rate_hz: u32,
    /// Length of the sound in seconds.
    pub length_s: f64,
    /// What there is in `sound.flac`.
    pub sound: SoundFile,
    /// Neither it nor its sound is ever thrown away by itself.
    pub keep: bool,
    /// It broke off, and this is what could be saved.
    pub mended: bool,
    /// Where samples are missing.
    pub lost: Vec<Lost>,
    /// The notes, in order of time.
    pub notes: Vec<NoteMeasures>,
    /// What the ear said of them before the eye.
    pub answers: Vec<Answer>,
    /// The fingers' turns of a drill, in order of time; takes of an earlier program have none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub turns: Vec<Turn>,
    /// What was made of a pass through a passage; takes of an earlier program, and other takes, have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pass: Option<PassOf>,
}

/// A pass through a passage, as it was judged when it was over.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PassOf {
    /// The plan: the name of its file.
    pub plan: String,
    /// Which pass, 1 to 4; 0 where it was played elsewhere and judged afterwards.
    pub number: u8,
    /// The one thing that was found, and what was said of the passage as a whole.
    pub said: Vec<String>,
    /// The notes that were played, in order of time.
    pub notes: Vec<PassNote>,
}

/// A note of a passage as it was played.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct PassNote {
    /// Its number in the plan, from 1, rests counted; `None` for what is not in the plan.
    pub note: Option<u32>,
    /// Start in seconds from the start of the sound.
    pub start_s: f64,
    /// End in the same.
    pub end_s: f64,
    /// How it was played: `played`, `another pitch`, `left out`.
    pub how: String,
}

/// What there is of the sound.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Serialize)]
#[serde(deny_unknown_fields)]
pub enum SoundFile {
    /// Nothing was heard, or nothing of it could be saved.
    None,
    /// All of it.
    Whole {
        /// How many samples.
        samples: u64,
        /// Checksum of the file, CRC-32 as in ITU-T V.42.
        crc32: u32,
    },
    /// It was thrown away to make room; the measures stay.
    Forgotten,
}

/// What a take was in a lesson.
#[derive(Clone, Debug, Deserialize, PartialEq, Eq, Serialize)]
#[serde(deny_unknown_fields)]
pub enum WrittenLesson {
    /// It was played to be imitated.
    Model,
    /// It answers the model of this name.
    Echo {
        /// As in `2026-11-25/17-41-09`.
        of: String,
    },
}

impl WrittenLesson {
    pub(crate) fn of(part: &LessonPart) -> Self {
        match part {
            LessonPart::Model => Self::Model,
            LessonPart::Echo { of } => Self::Echo { of: of.to_string() },
        }
    }
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
#[derive(Clone, Debug, Deserialize, PartialEq, Eq, Serialize)]
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

/// A finger's turn in a drill, as it was judged when the round was over.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct Turn {
    /// Start in seconds from the start of the sound.
    pub start_s: f64,
    /// End in the same.
    pub end_s: f64,
    /// The finger, 1 to 4 (0 is the thumb).
    pub finger: u8,
    /// Oscillations made.
    pub made: u32,
    /// Oscillations asked for, where they were counted.
    pub asked: Option<u32>,
    /// What the regions of its round were shuffled by, where they were.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shuffle: Option<u64>,
    /// Whether its round was secure; takes of an earlier program do not say.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub secure: Option<bool>,
}

/// The measures of a note; times in seconds from the start of the sound, pitches in Hz, the rest in
/// cents or percent as its name says. Rounded far below what can be heard or measured: to 10 µs, 0.0001 Hz,
/// 0.001 cents.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub struct NoteMeasures {
    /// Start.
    pub start_s: f64,
    /// End.
    pub end_s: f64,
    /// MIDI number of the nearest note.
    pub midi: i32,
    /// The finger, 1 to 4 (0 is the thumb), if it is known.
    pub finger: Option<u8>,
    /// The string, if it is known.
    pub string: Option<String>,
    /// Frequency of that note in the tuning.
    pub reference_hz: f64,
    /// Mean pitch.
    pub f0_hz: Measured,
    /// The same as a distance from the reference.
    pub offset_cents: Measured,
    /// Mean level.
    pub level_dbfs: f64,
    /// Mean confidence of its frames.
    pub confidence: f64,
    /// Standard deviation of the pitch around its mean.
    pub unsteadiness_cents: f64,
    /// It has no vibrato, stays at its pitch and was long enough to tell.
    pub straight: bool,
    /// How fast its pitch rises, in cents a second, if it glides.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub glide_cents_per_s: Option<Measured>,
    /// Bow changes on the same pitch.
    pub rebows_s: Vec<f64>,
    /// What stood out: `two-strings`, `room`, `clipped`, `lost`, `cut`, `unlike-bow`, and `too-short` of a longer note of
    /// which too little was heard to tell.
    pub remarks: Vec<String>,
    /// Its vibrato.
    pub vibrato: Option<VibratoMeasures>,
}

impl TakeFile {
    /// What its notes were measured against; the usual tuning where what a hand wrote there is none.
    pub fn tuning(&self) -> Tuning {
        let temperament = match self.temperament.as_str() {
            "pure-fifths" => Temperament::PureFifths,
            _ => Temperament::Equal,
        };
        Tuning::new(Hz(self.a4_hz), temperament).unwrap_or_default()
    }

    /// What the regions of its drill's rounds were shuffled by, one after the other.
    pub fn shuffles(&self) -> Vec<u64> {
        let mut seeds: Vec<u64> = self.turns.iter().filter_map(|turn| turn.shuffle).collect();
        // Two rounds that follow each other are never shuffled alike.
        seeds.dedup();
        seeds
    }

    /// A take that begins.
    pub fn begun(context: &Context, began: String, sample_rate_hz: u32) -> Self {
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
            passage: context.passage.clone(),
            pace_bpm: context.pace.map(|pace| pace.bpm),
            oscillations_per_beat: context.pace.and_then(|pace| pace.oscillations_per_beat),
            finger: context.finger,
            string: context.string.clone(),
            lesson: context.lesson.as_ref().map(WrittenLesson::of),
            word: context.word.clone(),
            sample_rate_hz,
            length_s: 0.0,
            sound: SoundFile::None,
            keep: false,
            mended: false,
            lost: Vec::new(),
            notes: Vec::new(),
            answers: Vec::new(),
            turns: Vec::new(),
            pass: None,
        }
    }

    /// Finger by finger what was played in a drill's round; the notes whose middle lies in a turn were played
    /// by its finger.
    pub(crate) fn played_in(&mut self, turns: &[Turn]) {
        for turn in turns {
            for note in &mut self.notes {
                let middle = 0.5 * (note.start_s + note.end_s);
                if (turn.start_s..turn.end_s).contains(&middle) {
                    note.finger = Some(turn.finger);
                }
            }
        }
        self.turns.extend_from_slice(turns);
    }

    /// What was made of it before, as a round or as a pass, is so no more.
    pub(crate) fn judged_anew(&mut self) {
        let turns = std::mem::take(&mut self.turns);
        let of_a_turn = |note: &NoteMeasures| {
            let middle = 0.5 * (note.start_s + note.end_s);
            turns.iter().any(|turn| (turn.start_s..turn.end_s).contains(&middle))
        };
        self.notes.iter_mut().filter(|note| of_a_turn(note)).for_each(|note| note.finger = None);
        (self.drill, self.pace_bpm, self.oscillations_per_beat) = (None, None, None);
        self.pass = None;
    }
}
