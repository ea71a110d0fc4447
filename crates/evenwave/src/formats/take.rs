//! The record of a take, as JSON writes it (`evenwave.take/2`), as CSV and as a line to read.

use std::io::Write;

use journal::{Ended, Entry, OfNotes, SoundFile, TakeFile, WrittenLesson};
use serde::Serialize;
use tuning::{Naming, Secs};
use vibrato::Quantity;

use super::cell;
use super::record::{LostRecord, NoteRecord, SCHEMA, SoundRecord, Values, keys, known, written};
use super::table::{field, note_columns};
use crate::words::on_one_line;

/// Name and version of the shape.
pub(crate) const TAKE_SCHEMA: &str = "evenwave.take/2";

/// A take in short; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct TakeRecord {
    pub schema: &'static str,
    pub take: String,
    pub player: String,
    pub instrument: Option<String>,
    pub room: String,
    pub drill: Option<String>,
    pub passage: Option<String>,
    /// The finger, where one finger played all of it.
    pub finger: Option<u8>,
    /// The string, where one string was played.
    pub string: Option<String>,
    /// What it was in a lesson: `model` or `echo`.
    pub lesson: Option<&'static str>,
    pub word: String,
    pub length_s: Option<f64>,
    pub notes: usize,
    pub vibrato_notes: usize,
    /// What is followed, as means over the notes.
    #[serde(flatten)]
    pub means: Values,
    /// What there is of its sound: `whole`, `forgotten` or `none`.
    pub sound: &'static str,
    /// It is never thrown away by itself.
    pub keep: bool,
    /// It broke off, and this is what could be saved.
    pub mended: bool,
    /// How its last round of a drill ended: `secure`, `not-yet` or `broken-off`.
    pub ended: Option<&'static str>,
    /// The fingers of its notes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub fingers: Vec<Option<u8>>,
    /// All measures of its notes, where they are asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub measures: Option<SoundRecord>,
}

impl TakeRecord {
    /// The record of a take without the measures of its notes.
    pub(crate) fn new(entry: &Entry) -> Self {
        let mean = |quantity| entry.mean(quantity).map(OfNotes::measure);
        Self {
            schema: TAKE_SCHEMA,
            take: entry.id.to_string(),
            player: entry.player.clone(),
            instrument: entry.instrument.clone(),
            room: entry.room.clone(),
            drill: entry.drill.clone(),
            passage: entry.passage.clone(),
            finger: entry.finger,
            string: entry.string.clone(),
            lesson: entry.lesson.as_ref().map(|part| match part {
                WrittenLesson::Model => "model",
                WrittenLesson::Echo { .. } => "echo",
            }),
            word: entry.word.clone(),
            length_s: known(f64::from(entry.length_s)),
            notes: entry.notes.len(),
            vibrato_notes: entry.notes.iter().filter(|note| note.vibrato).count(),
            means: Values::new(Quantity::followed(), mean),
            sound: match entry.sound {
                SoundFile::Whole { .. } => "whole",
                SoundFile::Forgotten => "forgotten",
                SoundFile::None => "none",
            },
            keep: entry.keep,
            mended: entry.mended,
            ended: entry.ended.map(|ended| match ended {
                Ended::Secure => "secure",
                Ended::NotYet => "not-yet",
                Ended::BrokenOff => "broken-off",
            }),
            fingers: Vec::new(),
            measures: None,
        }
    }

    /// The same with the measures of its notes.
    pub(crate) fn with_notes(entry: &Entry, file: &TakeFile, naming: Naming) -> Self {
        let notes = file.notes.iter();
        let lost = file.lost.iter().map(|lost| LostRecord {
            start_s: written(lost.at_s),
            length_s: written(lost.length_s),
        });
        Self {
            fingers: notes.clone().map(|note| note.finger).collect(),
            measures: Some(SoundRecord {
                schema: SCHEMA,
                file: entry.id.to_string(),
                sample_rate_hz: file.sample_rate_hz,
                duration_s: known(file.length_s),
                notes: notes.map(|note| NoteRecord::new(&note.note(), naming, Secs(0.0))).collect(),
                lost: lost.collect(),
                remarks: Vec::new(),
            }),
            ..Self::new(entry)
        }
    }
}

/// A column of a take: its name, and what stands in it.
type Column = (&'static str, fn(&TakeRecord) -> String);

/// Columns of a take before its means, and behind them.
const BEFORE_MEANS: [Column; 13] = [
    ("take", |take| take.take.clone()),
    ("player", |take| take.player.clone()),
    ("instrument", |take| or_empty(take.instrument.as_ref())),
    ("room", |take| take.room.clone()),
    ("drill", |take| or_empty(take.drill.as_ref())),
    ("passage", |take| or_empty(take.passage.as_ref())),
    ("finger", |take| or_empty(take.finger)),
    ("string", |take| or_empty(take.string.as_ref())),
    ("lesson", |take| or_empty(take.lesson)),
    ("word", |take| take.word.clone()),
    ("length_s", |take| or_empty(take.length_s)),
    ("notes", |take| take.notes.to_string()),
    ("vibrato_notes", |take| take.vibrato_notes.to_string()),
];
const BEHIND_MEANS: [Column; 4] = [
    ("sound", |take| take.sound.to_owned()),
    ("keep", |take| take.keep.to_string()),
    ("mended", |take| take.mended.to_string()),
    ("ended", |take| or_empty(take.ended)),
];

/// Of these stand before the columns of a note; the finger is that of the note, where it is known.
const OF_TAKE: [&str; 7] = ["take", "player", "instrument", "drill", "passage", "finger", "string"];

fn or_empty(value: Option<impl ToString>) -> String {
    value.map_or_else(String::new, |value| value.to_string())
}

/// Writes a row a take, or a row a note; unknown is an empty field.
pub(crate) struct TakeRows<W: Write> {
    rows: csv::Writer<W>,
    notes: bool,
}

impl<W: Write> TakeRows<W> {
    /// Writes the names of the columns.
    pub(crate) fn new(out: W, notes: bool) -> Result<Self, csv::Error> {
        let mut rows = csv::Writer::from_writer(out);
        if notes {
            let of_notes = note_columns();
            rows.write_record(OF_TAKE.into_iter().chain(of_notes[1..].iter().map(String::as_str)))?;
        } else {
            let means = keys(Quantity::followed());
            let [before, behind] = [&BEFORE_MEANS[..], &BEHIND_MEANS]
                .map(|columns| columns.iter().map(|column| column.0));
            rows.write_record(before.chain(means).chain(behind))?;
        }
        Ok(Self { rows, notes })
    }

    /// Writes a take, or its notes.
    pub(crate) fn write(&mut self, take: &TakeRecord) -> Result<(), csv::Error> {
        if !self.notes {
            let [before, behind] = [&BEFORE_MEANS[..], &BEHIND_MEANS]
                .map(|columns| columns.iter().map(|column| column.1(take)));
            let means = keys(Quantity::followed()).map(|key| take.means.field(key));
            return cell::write_row(&mut self.rows, before.chain(means).chain(behind));
        }
        let of_notes = note_columns();
        let notes = take.measures.iter().flat_map(|sound| &sound.notes);
        for (note, by) in notes.zip(&take.fingers) {
            let of_take = BEFORE_MEANS.iter().filter(|(name, _)| OF_TAKE.contains(name));
            let of_take = of_take.map(|(name, of)| match *name {
                "finger" => or_empty(by.or(take.finger)),
                _ => of(take),
            });
            let of_note = of_notes[1..].iter().map(|column| field("", note, column));
            cell::write_row(&mut self.rows, of_take.chain(of_note))?;
        }
        Ok(())
    }

    /// Completes the rows; what cannot be written is told.
    pub(crate) fn finish(mut self) -> std::io::Result<()> {
        self.rows.flush()
    }
}

/// The head of the list of takes.
pub(crate) fn take_heading() -> [String; 2] {
    [
        line(["take", "length", "notes", "rate", "width", "finger", "player", "what"]),
        line(["", "s", "", "Hz", "cents", "", "", ""]),
    ]
}

/// A take as a line of the list.
pub(crate) fn take_line(take: &TakeRecord) -> String {
    let what = [
        take.drill.as_deref(),
        take.ended,
        take.passage.as_deref(),
        take.lesson,
        take.keep.then_some("kept for ever"),
        take.mended.then_some("mended"),
        (take.sound != "whole").then_some("no sound"),
        Some(take.word.as_str()).filter(|word| !word.is_empty()),
    ];
    let what: Vec<&str> = what.into_iter().flatten().collect();
    let blank = |quantity: Quantity| {
        or_empty(take.means.get(quantity).map(|mean| quantity.figure(Some(mean))))
    };
    line([
        &take.take,
        &or_empty(take.length_s.map(|secs| format!("{secs:.1}"))),
        &take.notes.to_string(),
        &blank(Quantity::Rate),
        &blank(Quantity::Width),
        &or_empty(take.finger),
        &take.player,
        &what.join(", "),
    ])
}

fn line(columns: [&str; 8]) -> String {
    let [take, length, notes, rate, width, finger, player, what] = columns;
    // A name must not be taken for the end of the line.
    let (take, player, what) = (on_one_line(take), on_one_line(player), on_one_line(what));
    format!(
        "{take:<23} {length:>7} {notes:>5} {rate:>11} {width:>11} {finger:>6}  {player:<16} {what}"
    )
    .trim_end()
    .to_owned()
}
