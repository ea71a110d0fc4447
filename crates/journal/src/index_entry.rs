//! What is known of a take without opening it.

use std::fs;
use std::io;
use std::path::Path;
use std::time::UNIX_EPOCH;

use jiff::{Timestamp, Zoned, tz::TimeZone};
use serde::{Deserialize, Serialize};

use vibrato::Quantity;

use crate::file_format::{NoteMeasures, SoundFile, TakeFile, WrittenLesson};
use crate::take_id::TakeId;
use crate::take_means::{OfNotes, followed, mean};

/// What is known of a take without opening it. It stands in the index as it is: that can be made anew from the
/// takes at any time, and is when this changes (`index::MAGIC`).
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
pub struct Entry {
    /// What it is called.
    pub id: TakeId,
    /// `take.ron` as it was when this was taken from it.
    pub(crate) stamp: Stamp,
    /// When it began: seconds since 1970 began in UTC.
    pub began_unix_s: i64,
    /// Hours and minutes from UTC where and when it was played, in seconds.
    pub utc_offset_s: i32,
    /// How long it is, in seconds.
    pub length_s: f32,
    /// Room of the window.
    pub room: String,
    /// Whose take it is.
    pub player: String,
    /// The instrument.
    pub instrument: Option<String>,
    /// The drill.
    pub drill: Option<String>,
    /// The passage.
    pub passage: Option<String>,
    /// The pass through it, 1 to 4 (0 where it was judged afterwards), and the one thing that was found.
    pub pass: Option<(u8, String)>,
    /// The finger, where one finger played all of it.
    pub finger: Option<u8>,
    /// The string, where one string was played.
    pub string: Option<String>,
    /// What it was in a lesson.
    pub lesson: Option<WrittenLesson>,
    /// A word the player left.
    pub word: String,
    /// What there is of its sound.
    pub sound: SoundFile,
    /// It is never thrown away by itself.
    pub keep: bool,
    /// It broke off, and this is what could be saved.
    pub mended: bool,
    /// Its notes in short.
    pub notes: Vec<NoteEntry>,
    /// What is followed, as means over its notes, in the order of [`Quantity::followed`].
    means: Vec<Option<OfNotes>>,
    /// Oscillations made and asked for in each turn of a drill.
    pub counts: Vec<(u32, Option<u32>)>,
    /// How its last round of a drill ended; `None` where no drill was played, or where that is not known.
    pub ended: Option<Ended>,
}

/// How a round of a drill ended.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Serialize)]
pub enum Ended {
    /// By the drill's rules it was secure.
    Secure,
    /// It was whole, and not secure yet.
    NotYet,
    /// No round was played to its end.
    BrokenOff,
}

impl Ended {
    fn of(file: &TakeFile) -> Option<Self> {
        file.drill.as_ref()?;
        match file.turns.last() {
            None => Some(Self::BrokenOff),
            Some(turn) => Some(if turn.secure? { Self::Secure } else { Self::NotYet }),
        }
    }
}

/// A note in short; what is not known is `None`.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Serialize)]
pub struct NoteEntry {
    /// Start in seconds from the start of the sound.
    pub start_s: f32,
    /// End in the same.
    pub end_s: f32,
    /// MIDI number of the nearest note.
    pub midi: i16,
    /// The finger.
    pub finger: Option<u8>,
    /// It has no vibrato and was long enough to tell.
    pub straight: bool,
    /// It has a vibrato.
    pub vibrato: bool,
    /// What is followed, in the order of [`Quantity::followed`].
    measures: [Option<f32>; Quantity::FOLLOWED],
}

/// Where a measure stands among those that are followed.
fn place(quantity: Quantity) -> Option<usize> {
    Quantity::followed().position(|followed| followed == quantity)
}

impl NoteEntry {
    /// A measure that is followed; `None` where it is not known or not followed.
    pub fn get(&self, quantity: Quantity) -> Option<f64> {
        self.measures[place(quantity)?].map(f64::from)
    }
}

/// What a file was when it was read: so a change is seen without reading it again.
#[derive(Clone, Copy, Debug, Deserialize, PartialEq, Eq, Serialize)]
pub(crate) struct Stamp {
    changed_ns: u64,
    bytes: u64,
    crc32: u32,
}

impl Stamp {
    /// Of a file that holds these bytes.
    pub(crate) fn of(path: &Path, bytes: &[u8]) -> io::Result<Self> {
        Ok(Self { crc32: crc32fast::hash(bytes), ..Self::outside(path)? })
    }

    /// Whether the file looks from outside as it did.
    pub(crate) fn seems_current(&self, path: &Path) -> bool {
        Self::outside(path)
            .is_ok_and(|now| (now.changed_ns, now.bytes) == (self.changed_ns, self.bytes))
    }

    /// Whether a file that looks as it did holds these bytes.
    pub(crate) fn holds(&self, bytes: &[u8]) -> bool {
        crc32fast::hash(bytes) == self.crc32
    }

    fn outside(path: &Path) -> io::Result<Self> {
        let about = fs::metadata(path)?;
        let changed = about.modified()?.duration_since(UNIX_EPOCH);
        Ok(Self {
            changed_ns: changed.map_or(0, |since| since.as_nanos() as u64),
            bytes: about.len(),
            crc32: 0,
        })
    }
}

impl Entry {
    /// What is known of a take that lies in no journal.
    pub fn of_file(id: &TakeId, file: &TakeFile) -> Self {
        let stamp = Stamp { changed_ns: 0, bytes: 0, crc32: 0 };
        Self::of(id, file, stamp)
    }

    /// Whether two entries are of one take, under whatever names and in whatever journals: it began at the same second,
    /// is of the same player, and has the same sound; or, where the sound of one was thrown away, the same length and
    /// notes. So a take is known that comes in again.
    pub fn is_same_take(&self, other: &Self) -> bool {
        let same_sound = matches!(self.sound, SoundFile::Whole { .. }) && self.sound == other.sound;
        self.began_unix_s == other.began_unix_s
            && self.player == other.player
            && (same_sound || self.length_s == other.length_s && self.notes == other.notes)
    }

    /// Whether it was played in a lesson to be imitated.
    pub fn is_model(&self) -> bool {
        self.lesson == Some(WrittenLesson::Model)
    }

    /// A measure that is followed, as the mean over the notes of the take.
    pub fn mean(&self, quantity: Quantity) -> Option<OfNotes> {
        *self.means.get(place(quantity)?)?
    }

    pub(crate) fn of(id: &TakeId, file: &TakeFile, stamp: Stamp) -> Self {
        let (began_unix_s, utc_offset_s) = began(id, file);
        let live = file.live_notes();
        let mut notes: Vec<NoteEntry> = file.notes.iter().map(NoteEntry::of).collect();
        for (place, quantity) in Quantity::followed().enumerate() {
            for (entry, measure) in notes.iter_mut().zip(followed(&live, quantity)) {
                entry.measures[place] = measure.map(|measure| measure.value as f32);
            }
        }
        let means = Quantity::followed().map(|quantity| mean(&live, quantity)).collect();
        Self {
            id: id.clone(),
            stamp,
            began_unix_s,
            utc_offset_s,
            length_s: file.length_s as f32,
            room: file.room.clone(),
            player: file.player.clone(),
            instrument: file.instrument.clone(),
            drill: file.drill.clone(),
            passage: file.passage.clone(),
            pass: file
                .pass
                .as_ref()
                .map(|pass| (pass.number, pass.said.first().cloned().unwrap_or_default())),
            finger: file.finger,
            string: file.string.clone(),
            lesson: file.lesson.clone(),
            word: file.word.clone(),
            sound: file.sound,
            keep: file.keep,
            mended: file.mended,
            notes,
            means,
            counts: file.turns.iter().map(|turn| (turn.made, turn.asked)).collect(),
            ended: Ended::of(file),
        }
    }
}

/// When a take began and how far from UTC; by its name, taken as UTC, where the file does not say.
fn began(id: &TakeId, file: &TakeFile) -> (i64, i32) {
    let said = || -> Option<(i64, i32)> {
        if let Ok(zoned) = file.began.parse::<Zoned>() {
            return Some((zoned.timestamp().as_second(), zoned.offset().seconds()));
        }
        let (plain, _) = file.began.split_once('[').unwrap_or((&file.began, ""));
        Some((plain.parse::<Timestamp>().ok()?.as_second(), 0))
    };
    let named = || {
        let zoned = id.local()?.to_zoned(TimeZone::UTC).ok()?;
        Some((zoned.timestamp().as_second(), 0))
    };
    said().or_else(named).unwrap_or_default()
}

impl NoteEntry {
    /// A note without what is followed.
    fn of(note: &NoteMeasures) -> Self {
        Self {
            start_s: note.start_s as f32,
            end_s: note.end_s as f32,
            midi: note.midi.clamp(0, 127) as i16,
            finger: note.finger,
            straight: note.straight,
            vibrato: note.vibrato.is_some(),
            measures: [None; Quantity::FOLLOWED],
        }
    }
}

#[cfg(test)]
mod tests {
    use tuning::{Hz, Secs};
    use vibrato::{Measures, Note};

    use super::*;
    use crate::context::{Context, Fingering};
    use crate::vibrato_measures::VibratoMeasures;

    /// A note whose oscillations are these: start and period.
    fn note(start_s: f64, end_s: f64, oscillations: &[(f64, f64)]) -> NoteMeasures {
        let oscillations = oscillations.iter();
        let plain = Note::plain(57, Hz(220.0), Secs(start_s), Secs(end_s));
        let by = Fingering { finger: Some(2), string: None };
        NoteMeasures {
            straight: false,
            vibrato: Some(VibratoMeasures {
                measures: Measures::default()
                    .with(Quantity::Rate, 5.0, None)
                    .with(Quantity::Width, 30.0, None)
                    .with(Quantity::Centre, -4.0, None)
                    .with(Quantity::WidthSpread, 6.0, None)
                    .with(Quantity::Onset, 0.2, None),
                contour: Vec::new(),
                oscillations: oscillations.map(|&(s, p)| (s, p, 15.0, -15.0)).collect(),
            }),
            ..NoteMeasures::of(&plain, &by)
        }
    }

    #[test]
    fn the_gap_is_from_the_last_oscillation_to_the_first_of_the_next_note() {
        let first = note(0.0, 2.0, &[(0.5, 0.25), (0.75, 0.25), (1.5, 0.25)]);
        let next = note(2.125, 4.0, &[(2.25, 0.25)]);
        let entries = |notes: &[&NoteMeasures]| {
            let mut file = TakeFile::begun(&Context::default(), String::new(), 48_000);
            file.notes = notes.iter().map(|&note| note.clone()).collect();
            let id = TakeId::new("2026-11-25", "17-41-09").expect("a name");
            Entry::of_file(&id, &file).notes
        };
        let notes = entries(&[&first, &next]);
        assert_eq!(notes[1].get(Quantity::Gap), Some(0.5));
        assert_eq!(notes[1].get(Quantity::WidthSpread), Some(6.0));
        assert_eq!(notes[1].get(Quantity::Centre), Some(-4.0));
        assert_eq!(notes[1].get(Quantity::Offset), None, "it has a centre");
        // The first note of all, one after a rest, one after a straight note.
        assert_eq!(notes[0].get(Quantity::Gap), None);
        let after_a_rest = note(2.75, 4.0, &[(2.875, 0.25)]);
        assert_eq!(entries(&[&first, &after_a_rest])[1].get(Quantity::Gap), None);
        let straight = NoteMeasures { vibrato: None, straight: true, ..first };
        let notes = entries(&[&straight, &next]);
        assert_eq!(notes[1].get(Quantity::Gap), None);
        assert_eq!(notes[0].get(Quantity::Offset), Some(0.0));
    }
}
