//! A passage: its head, and its notes in the order in which they are to be played.

use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use super::intention::Intention;
use super::note::{BeatUnit, Beats, Pitch, PlanNote};

/// Notes in a passage at most, rests included.
pub const MOST_PLAN_NOTES: usize = 10_000;
/// Paces that can be asked for, in beats a minute.
pub const PACES: std::ops::RangeInclusive<f64> = 10.0..=300.0;

/// How fast it is to be played.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pace {
    /// Beats a minute.
    pub bpm: f64,
    /// What one beat is.
    #[serde(default)]
    pub unit: BeatUnit,
    /// The plan follows the player, not the metronome.
    #[serde(default)]
    pub free: bool,
}

/// How many beats a bar has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Meter {
    /// How many.
    pub beats: u32,
    /// What one of them is.
    pub of: BeatUnit,
}

/// Major or minor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names are those of the trade")]
pub enum Mode {
    #[default]
    Major,
    Minor,
}

/// Meter, key or clef change with a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HeadChange {
    /// The bar, by its number.
    pub bar: u32,
    /// From here on. Lengths are counted in beats of the passage's first meter all the same.
    #[serde(default)]
    pub meter: Option<Meter>,
    /// From here on.
    #[serde(default)]
    pub key: Option<Key>,
    /// From here on.
    #[serde(default)]
    pub clef: Option<Clef>,
}

/// The signs before the staff, and what they mean.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Key {
    /// Sharps before the staff, flats below 0: −7 to 7.
    pub sharps: i8,
    /// Major or minor.
    #[serde(default)]
    pub mode: Mode,
}

/// The clef.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[allow(missing_docs, reason = "the names are those of the trade")]
pub enum Clef {
    Treble,
    Alto,
    Tenor,
    Bass,
}

impl Clef {
    /// The clef that the music of an instrument mostly stands in, by the instrument's name.
    pub fn usual(instrument: &str) -> Self {
        match instrument {
            _ if instrument.contains("violin") => Self::Treble,
            _ if instrument.contains("viola") => Self::Alto,
            _ => Self::Bass,
        }
    }
}

/// Where the notes come from.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Origin {
    /// They were written by hand.
    #[default]
    Typed,
    /// A MusicXML file.
    MusicXml {
        /// Its name.
        file: String,
        /// The part that was chosen.
        part: String,
        /// The first and the last bar that were chosen.
        bars: (u32, u32),
    },
    /// A MIDI file.
    Midi {
        /// Its name.
        file: String,
        /// The track that was chosen, from 1.
        track: u32,
    },
    /// A take of the journal, by its name.
    Take(String),
}

/// The one form in which passages are written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "u32", into = "u32")]
struct Version;

const VERSION: u32 = 1;

impl TryFrom<u32> for Version {
    type Error = String;

    fn try_from(version: u32) -> Result<Self, String> {
        match version {
            VERSION => Ok(Self),
            _ => Err(format!("version {version} is not known; this program reads {VERSION}")),
        }
    }
}

impl From<Version> for u32 {
    fn from(_: Version) -> Self {
        VERSION
    }
}

/// Why notes are no passage.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum PlanFault {
    /// There are none that sound.
    #[error("the passage has no note; write at least one")]
    Empty,
    /// There are too many.
    #[error("the passage has {0} notes; at most {MOST_PLAN_NOTES} are read, so choose fewer bars")]
    Long(usize),
    /// One of them is wrong.
    #[error("note {number}: {reason}")]
    Note {
        /// Its number, from 1; rests count.
        number: usize,
        /// What is wrong.
        reason: String,
    },
    /// Something in its head is wrong.
    #[error("{0}")]
    Head(String),
}

/// A passage: a row of notes, and what is meant by each.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Passage {
    version: Version,
    /// What it is called.
    pub title: String,
    /// The instrument, by the name under which its range is found.
    pub instrument: String,
    /// How fast.
    pub pace: Pace,
    /// Beats of a bar. The lengths of all notes are counted in these beats.
    pub meter: Meter,
    /// The key.
    #[serde(default)]
    pub key: Key,
    /// The clef.
    pub clef: Clef,
    /// Frequency of A4, where it is not the player's own.
    #[serde(default)]
    pub a4: Option<tuning::Hz>,
    /// Where meter, key or clef change, by the number of the bar.
    #[serde(default)]
    pub changes: Vec<HeadChange>,
    /// Where the notes come from.
    #[serde(default)]
    pub parts_from: Origin,
    #[serde(deserialize_with = "whole_row")]
    notes: Vec<PlanNote>,
}

impl Passage {
    /// A passage in C major, written by hand, of these notes.
    pub fn new(
        title: &str,
        instrument: &str,
        (pace, meter, clef): (Pace, Meter, Clef),
        notes: Vec<PlanNote>,
    ) -> Result<Self, PlanFault> {
        let passage = Self {
            version: Version,
            title: title.to_owned(),
            instrument: instrument.to_owned(),
            pace,
            meter,
            key: Key::default(),
            clef,
            a4: None,
            changes: Vec::new(),
            parts_from: Origin::Typed,
            notes: checked(notes)?,
        };
        passage.head_fault().map_or(Ok(passage), |fault| Err(PlanFault::Head(fault)))
    }

    /// Its notes and rests, in order.
    pub fn notes(&self) -> &[PlanNote] {
        &self.notes
    }

    /// The same passage with other notes.
    pub fn with_notes(self, notes: Vec<PlanNote>) -> Result<Self, PlanFault> {
        Ok(Self { notes: checked(notes)?, ..self })
    }

    /// The same passage without any vibrato, as the first pass is played.
    pub fn straight(&self) -> Self {
        let plain = |note: &PlanNote| PlanNote { intention: Intention::Straight, ..note.clone() };
        Self { notes: self.notes.iter().map(plain).collect(), ..self.clone() }
    }

    /// Its notes and rests, bar by bar as they are played. A repeat that is written out comes again.
    pub fn bars(&self) -> Vec<&[PlanNote]> {
        let goes_on =
            |one: &PlanNote, next: &PlanNote| one.at.bar == next.at.bar && one.at < next.at;
        self.notes.chunk_by(goes_on).collect()
    }

    /// How long one beat of its notes lasts at the planned pace.
    pub fn beat(&self) -> tuning::Secs {
        let of = |unit: BeatUnit| f64::from(unit.eighths());
        tuning::Secs(of(self.meter.of) / of(self.pace.unit) * 60.0 / self.pace.bpm)
    }

    /// What is wrong with its head, in words: to be asked of a passage that was read from a file.
    pub fn head_fault(&self) -> Option<String> {
        if !PACES.contains(&self.pace.bpm) {
            let (low, high) = (PACES.start(), PACES.end());
            return Some(format!(
                "a pace of {} beats a minute; write {low} to {high}",
                self.pace.bpm
            ));
        }
        let meters = self.changes.iter().filter_map(|change| change.meter);
        if let Some(meter) = meters.chain([self.meter]).find(|it| !(1..=64).contains(&it.beats)) {
            return Some(format!("{} beats in a bar; write 1 to 64", meter.beats));
        }
        let keys = self.changes.iter().filter_map(|change| change.key).chain([self.key]);
        let sharps = keys.map(|key| key.sharps).find(|sharps| !(-7..=7).contains(sharps))?;
        Some(format!("a key of {sharps} sharps; write −7 (flats) to 7"))
    }
}

/// The meter of a bar.
pub(super) fn meter_of_bar(first: Meter, changes: &[HeadChange], bar: u32) -> Meter {
    let changes = changes.iter().filter(|change| change.bar <= bar && change.meter.is_some());
    changes.max_by_key(|change| change.bar).and_then(|change| change.meter).unwrap_or(first)
}

fn whole_row<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<PlanNote>, D::Error> {
    checked(Vec::deserialize(from)?).map_err(serde::de::Error::custom)
}

/// The notes, if they are a row that can be played.
fn checked(notes: Vec<PlanNote>) -> Result<Vec<PlanNote>, PlanFault> {
    if notes.len() > MOST_PLAN_NOTES {
        return Err(PlanFault::Long(notes.len()));
    }
    if notes.iter().all(|note| note.pitch == Pitch::Rest) {
        return Err(PlanFault::Empty);
    }
    for (index, note) in notes.iter().enumerate() {
        let before = index.checked_sub(1).map(|before| &notes[before]);
        if let Some(reason) = note_fault(before, note) {
            return Err(PlanFault::Note { number: index + 1, reason });
        }
    }
    Ok(notes)
}

/// What is wrong with a note behind this one.
fn note_fault(before: Option<&PlanNote>, note: &PlanNote) -> Option<String> {
    let sounds_before = before.is_some_and(|before| before.pitch != Pitch::Rest);
    if note.beats == Beats::ZERO {
        return Some("it has no length; write at least a part of a beat".into());
    }
    if (note.slur || note.tie) && !(sounds_before && note.pitch != Pitch::Rest) {
        return Some("it is joined to a note before it, and there is none".into());
    }
    if note.tie && before.is_some_and(|before| before.pitch != note.pitch) {
        return Some("it is tied to a note of another pitch; write a slur".into());
    }
    if note.finger.is_some_and(|finger| finger > 4) {
        return Some("there is no such finger; write 0 to 4".into());
    }
    // A repeat that is written out goes back to the start of a bar.
    let repeats = note.at.beat == Beats::ZERO;
    if before.is_some_and(|before| before.at >= note.at) && !repeats {
        return Some("it begins before the note that stands before it".into());
    }
    note.intention.fault()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan::{Intention, Place, Spelling};
    use tuning::{Cents, Hz};

    fn note(beat: u32, name: &str) -> PlanNote {
        let beat = Beats::whole(beat).expect("short");
        let pitch = Pitch::Single(Spelling::named(name).expect("a name"));
        PlanNote::plain(Place { bar: 1, beat }, Beats::whole(1).expect("short"), pitch)
    }

    fn passage(notes: Vec<PlanNote>) -> Result<Passage, PlanFault> {
        let pace = Pace { bpm: 60.0, unit: BeatUnit::Quarter, free: false };
        let meter = Meter { beats: 4, of: BeatUnit::Quarter };
        Passage::new("Quiet", "cello", (pace, meter, Clef::Bass), notes)
    }

    #[test]
    fn a_passage_is_written_and_read_back() {
        let mut notes = vec![note(0, "D3"), note(1, "Bb3"), note(2, "Bb3")];
        let width = [Cents(0.0), Cents(30.0), Cents(10.0)];
        let rate = Some([Hz(5.0), Hz(5.5), Hz(5.0)]);
        notes[1].intention = Intention::Contour { width, rate, peak_at: 0.4 };
        notes[1].slur = true;
        notes[2].tie = true;
        let passage = passage(notes).expect("sound");
        let text = ron::to_string(&passage).expect("written");
        assert_eq!(ron::from_str::<Passage>(&text).expect("read"), passage, "{text}");
        assert!(text.contains("\"Bb3\""), "{text}");
    }

    #[test]
    fn a_passage_in_the_form_of_the_manual_is_read() {
        let text = "(version: 1, title: \"Quiet\", instrument: \"cello\", pace: (bpm: 60), \
            meter: (beats: 4, of: Quarter), key: (sharps: -1, mode: Minor), clef: Bass, notes: [\
            (at: (bar: 1, beat: (0, 1)), beats: (3, 2), pitch: Single(\"A3\"), finger: Some(4), \
            intention: Contour(width: (20, 60, 30), peak_at: 0.4)), \
            (at: (bar: 1, beat: (3, 2)), beats: (1, 2), pitch: Rest), \
            (at: (bar: 1, beat: (2, 1)), beats: (2, 1), pitch: Double(\"D3\", \"A3\"))])";
        let passage: Passage = ron::from_str(text).expect("read");
        assert_eq!(passage.notes().len(), 3);
        assert_eq!(
            passage.notes()[0].intention.mean_width(),
            Cents(0.5 * (0.4 * 80.0 + 0.6 * 90.0))
        );
        let newer = text.replace("version: 1", "version: 2");
        assert!(ron::from_str::<Passage>(&newer).is_err());
    }

    #[test]
    fn notes_that_are_no_row_are_refused_with_their_number() {
        let row = |change: fn(&mut Vec<PlanNote>)| {
            let mut notes = vec![note(0, "D3"), note(1, "E3")];
            change(&mut notes);
            passage(notes).map_err(|fault| fault.to_string())
        };
        assert!(row(|_| ()).is_ok());
        assert!(row(|notes| notes[1].at = notes[0].at).is_ok(), "the bar is repeated");
        let faults = [
            (row(|notes| notes.clear()), "no note"),
            (row(|notes| notes[0].slur = true), "note 1: it is joined"),
            (row(|notes| notes[1].tie = true), "note 2: it is tied"),
            (row(|notes| notes[1].beats = Beats::ZERO), "note 2: it has no length"),
            (row(|notes| notes[0].at.bar = 2), "note 2: it begins before"),
            (row(|notes| notes[1].finger = Some(5)), "note 2: there is no such finger"),
        ];
        for (fault, words) in faults {
            assert!(fault.as_ref().is_err_and(|f| f.contains(words)), "{fault:?}");
        }
    }
}
