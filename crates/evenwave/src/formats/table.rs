//! Measures as a table to read, and as CSV.

use std::io::Write;

use pitch::Frame;
use tuning::Secs;
use vibrato::{Doubt, Quantity, Shown};

use super::cell;
use super::record::{NoteRecord, SoundRecord, VibratoRecord, keys, known};
use crate::words::{counted, on_one_line};

/// The columns of measures of a table to read.
pub(super) struct Columns {
    quantities: Vec<Quantity>,
    /// What is written are differences, of which each has its sign.
    differences: bool,
}

impl Columns {
    pub(super) fn new(quantities: impl Iterator<Item = Quantity>) -> Self {
        Self { quantities: quantities.collect(), differences: false }
    }

    pub(super) fn of_differences(quantities: impl Iterator<Item = Quantity>) -> Self {
        Self { differences: true, ..Self::new(quantities) }
    }

    /// Wide enough for numbers as they usually are: `100 ±12`, `5.16 ±0.03`, `−12.3 ±0.4`.
    fn width(&self, quantity: Quantity) -> usize {
        let row = quantity.row();
        let signed = usize::from(self.differences && row.decimals != 1);
        let heads = self.heads(quantity).map(|head| head.chars().count());
        let number = match (row.decimals, row.doubt) {
            (_, Doubt::None) => 5,
            (0, _) => 8 + signed,
            _ => 10 + signed,
        };
        heads.into_iter().fold(number, usize::max)
    }

    /// A name of several words stands in two lines, the unit below.
    fn heads(&self, quantity: Quantity) -> [&'static str; HEADS] {
        let (first, last) = quantity.name().rsplit_once(' ').unwrap_or(("", quantity.name()));
        [first, last, quantity.unit()]
    }

    /// One of the lines at the head.
    pub(super) fn head(&self, line: usize) -> String {
        self.cells(|quantity| self.heads(quantity)[line].to_owned())
    }

    /// One line of what `said` tells of each measure.
    pub(super) fn cells(&self, said: impl Fn(Quantity) -> String) -> String {
        let cells = self.quantities.iter().map(|&quantity| {
            let width = self.width(quantity);
            format!(" {:>width$}", said(quantity))
        });
        cells.collect()
    }
}

/// Lines at the head of a table.
pub(super) const HEADS: usize = 3;

/// What a table has of each note before its vibrato, of the vibrato, and behind it. The centre of a vibrato is the
/// offset of its note. How far the finger went has no column in a terminal: it goes with the width.
fn columns() -> [Columns; 3] {
    let left_out = [Quantity::Centre, Quantity::Travel];
    let in_table = |quantity: &Quantity| {
        quantity.row().shown >= Shown::InTables && !left_out.contains(quantity)
    };
    [
        Columns::new([Quantity::Offset].into_iter()),
        Columns::new(Quantity::of_vibrato().filter(in_table)),
        Columns::new([Quantity::Level].into_iter()),
    ]
}

/// The head of the table: what each column is and its unit.
pub(crate) fn heading() -> [String; HEADS] {
    let columns = columns();
    let line = |number: usize, [start, end, note]: [&str; 3]| {
        let measures: String = columns.iter().map(|columns| columns.head(number)).collect();
        let line = format!("{start:>7} {end:>7}  {note:<5}{measures}");
        line.trim_end().to_owned()
    };
    [line(0, [""; 3]), line(1, ["start", "end", "note"]), line(2, ["s", "s", ""])]
}

/// A sound's own lines: what it is, then its notes, then what was not right with it.
pub(crate) fn sound_lines(sound: &SoundRecord) -> Vec<String> {
    let length = match sound.duration_s {
        Some(secs) => format!("{secs:.2} s"),
        None => "length unknown".to_owned(),
    };
    let mut lines = vec![format!(
        "{}: {length}, {} Hz, {}",
        on_one_line(&sound.file),
        sound.sample_rate_hz,
        counted(sound.notes.len(), "note")
    )];
    if !sound.notes.is_empty() {
        lines.extend(heading());
        lines.extend(sound.notes.iter().flat_map(note_lines));
    }
    let gaps = sound.lost.iter().map(|lost| {
        format!("at {:.2} s, {:.3} s of the sound are missing", lost.start_s, lost.length_s)
    });
    lines.extend(gaps.chain(sound.remarks.iter().cloned()).map(|words| format!("  ! {words}")));
    lines
}

/// A note's line, then a line for each remark.
pub(crate) fn note_lines(note: &NoteRecord) -> Vec<String> {
    let [before, of_vibrato, behind] = columns();
    let said = |quantity: Quantity| quantity.figure(note.get(quantity));
    let vibrato = match note.without_vibrato() {
        None => of_vibrato.cells(said),
        Some(why) => {
            let width = of_vibrato.cells(|_| String::new()).chars().count();
            format!("{:<width$}", format!("  {why}"))
        }
    };
    let first = format!(
        "{:>7.2} {:>7.2}  {:<5}{}{vibrato}{}",
        note.start_s,
        note.end_s,
        note.name,
        before.cells(said),
        behind.cells(said)
    );
    let remarks = note.remarks.iter().map(|words| format!("        ! {words}"));
    std::iter::once(first).chain(remarks).collect()
}

/// What is no measure of a note, in the columns of CSV: of what file it is, before its measures, between them, and behind.
type Column = (&'static str, fn(&NoteRecord) -> String);
const BEFORE: [Column; 5] = [
    ("start_s", |note| note.start_s.to_string()),
    ("end_s", |note| note.end_s.to_string()),
    ("name", |note| note.name.clone()),
    ("midi", |note| note.midi.to_string()),
    ("reference_hz", |note| note.reference_hz.to_string()),
];
const BETWEEN: [Column; 2] = [
    ("straight", |note| note.straight.to_string()),
    ("course", |note| note.course.word().to_owned()),
];
const BEHIND: [Column; 3] = [
    ("oscillations", |note| {
        let count = |vibrato: &VibratoRecord| vibrato.oscillations.len().to_string();
        note.vibrato.as_ref().map(count).unwrap_or_default()
    }),
    ("rebows", |note| note.rebows_s.len().to_string()),
    ("remarks", |note| note.remarks.join("; ")),
];

/// Columns of a note as CSV: what is no measure, and its measures with their standard errors.
pub(crate) fn note_columns() -> Vec<String> {
    let [before, between, behind] =
        [&BEFORE[..], &BETWEEN, &BEHIND].map(|columns| columns.iter().map(|column| column.0));
    let columns = std::iter::once("file").chain(before);
    let columns = columns.chain(keys(Quantity::of_notes())).chain(between);
    let columns = columns.chain(keys(Quantity::of_vibrato())).chain(behind);
    columns.map(str::to_owned).collect()
}

/// Writes a row a note; unknown is an empty field, `oscillations` and `rebows` are counts.
pub(crate) struct NoteRows<W: Write> {
    rows: csv::Writer<W>,
    columns: Vec<String>,
}

impl<W: Write> NoteRows<W> {
    /// Writes the names of the columns.
    pub(crate) fn new(out: W) -> Result<Self, csv::Error> {
        let mut rows = Self::below(out, note_columns());
        rows.rows.write_record(&rows.columns)?;
        rows.rows.flush()?;
        Ok(rows)
    }

    /// Goes on below the names of these columns, which may be those of an earlier version.
    pub(crate) fn below(out: W, columns: Vec<String>) -> Self {
        Self { rows: csv::Writer::from_writer(out), columns }
    }

    /// Writes the notes of one sound.
    pub(crate) fn write(&mut self, sound: &SoundRecord) -> Result<(), csv::Error> {
        for note in &sound.notes {
            let fields = self.columns.iter().map(|column| field(&sound.file, note, column));
            cell::write_row(&mut self.rows, fields)?;
        }
        self.rows.flush()?;
        Ok(())
    }
}

/// What stands in a column for a note.
pub(super) fn field(file: &str, note: &NoteRecord, column: &str) -> String {
    if column == "file" {
        return file.to_owned();
    }
    let mut plain = BEFORE.iter().chain(&BETWEEN).chain(&BEHIND);
    if let Some((_, of)) = plain.find(|(name, _)| *name == column) {
        return of(note);
    }
    let of_vibrato = note.vibrato.as_ref().map(|vibrato| vibrato.measures.field(column));
    let of_note = note.measures.field(column);
    of_vibrato.filter(|_| of_note.is_empty()).unwrap_or(of_note)
}

/// The columns of a frame.
pub(crate) const FRAME: [&str; 4] = ["time_s", "f0_hz", "confidence", "level_dbfs"];

/// The numbers of a frame as they are written, its time counted from `zero` of the sound; `None` where there is no pitch.
pub(crate) fn frame_row(frame: &Frame, zero: Secs) -> [Option<f64>; FRAME.len()] {
    let numbers = [
        Some(zero.0 + frame.time.0),
        frame.f0.map(|f0| f0.0),
        frame.f0.map(|_| frame.confidence),
        Some(frame.level_dbfs),
    ];
    numbers.map(|number| number.and_then(known))
}

/// Writes a row a frame: `time_s,f0_hz,confidence,level_dbfs`. Where there is no pitch, `f0_hz` and
/// `confidence` are empty: what is not known is never 0.
pub(crate) struct FrameRows<W: Write>(csv::Writer<W>);

impl<W: Write> FrameRows<W> {
    /// Writes the names of the columns.
    pub(crate) fn new(out: W) -> Result<Self, csv::Error> {
        let mut rows = csv::Writer::from_writer(out);
        rows.write_record(FRAME)?;
        Ok(Self(rows))
    }

    /// Writes a frame whose time counts from `zero` of the sound.
    pub(crate) fn write(&mut self, frame: &Frame, zero: Secs) -> Result<(), csv::Error> {
        let cell = |number: f64| number.to_string();
        self.0
            .write_record(frame_row(frame, zero).map(|number| number.map(cell).unwrap_or_default()))
    }

    /// Completes the rows; what cannot be written is told.
    pub(crate) fn finish(mut self) -> std::io::Result<()> {
        self.0.flush()
    }
}

#[cfg(test)]
mod tests {
    use tuning::{Cents, Hz, Naming};
    use vibrato::PitchCourse;

    use super::*;
    use crate::formats::SCHEMA;
    use crate::formats::record::tests::{note_with_vibrato, straight_note};

    fn lines_of(note: &vibrato::Note) -> Vec<String> {
        note_lines(&NoteRecord::new(note, Naming::Scientific, Secs(0.0)))
    }

    /// Where the last sign of a column's head and of its value stand.
    fn right_edge(line: &str, part: &str) -> usize {
        let start = line.find(part).unwrap_or_else(|| panic!("{part} in {line}"));
        line[..start].chars().count() + part.chars().count()
    }

    #[test]
    fn values_stand_under_their_units_with_their_doubt() {
        let head = heading();
        let note = &lines_of(&note_with_vibrato())[0];
        for (name, value) in [
            (" rate ", "5.50 ±0.02"),
            (" width ", "40.0 ±0.5"),
            ("offset ", "+1.0 ±0.2"),
            ("spread ", "4 ±1"),
            ("round ", "2.0 ±0.5"),
            ("onset ", "0.08 ±?"),
            ("level", "−23"),
        ] {
            let edge = right_edge(&head[1], name) - usize::from(name.ends_with(' '));
            assert_eq!(right_edge(note, value), edge, "{name}\n{}\n{note}", head[1]);
        }
        assert!(note.contains(" ? "), "an unknown drift is shown as unknown: {note}");
        assert!(note.chars().count() <= 120, "{note}");
    }

    #[test]
    fn remarks_follow_their_note() {
        let lines = lines_of(&note_with_vibrato());
        assert_eq!(lines.len(), 3);
        assert!(lines[1].contains("60 cm"), "{}", lines[1]);
    }

    #[test]
    fn a_straight_note_says_so_and_a_short_one_too() {
        let straight = lines_of(&straight_note());
        assert!(straight[0].contains("straight, unsteady by 0.9 cents "), "{}", straight[0]);
        assert_eq!(
            right_edge(&straight[0], "−23"),
            heading()[1].chars().count(),
            "the level stands in its column: {}",
            straight[0]
        );
        assert!(straight[0].contains(" −8.8 ±? "), "no doubt is known: {}", straight[0]);
        let per_sec = vibrato::Measure { value: Cents(-50.2), se: Some(Cents(1.2)) };
        for (course, words) in [
            (PitchCourse::TooShort, "too short to tell"),
            (PitchCourse::Moves, "no vibrato can be told"),
            (PitchCourse::Glides(per_sec), "glides by −50 ±1 cents a second"),
        ] {
            let line = &lines_of(&vibrato::Note { course, ..straight_note() })[0];
            assert!(line.contains(words), "{line}");
        }
    }

    fn rows_of(file: &str) -> Vec<Vec<String>> {
        let record = |note| NoteRecord::new(note, Naming::Scientific, Secs(0.0));
        let sound = SoundRecord {
            schema: SCHEMA,
            file: file.to_owned(),
            sample_rate_hz: 48_000,
            duration_s: Some(3.0),
            notes: vec![record(&note_with_vibrato()), record(&straight_note())],
            lost: Vec::new(),
            remarks: Vec::new(),
        };
        let mut out = Vec::new();
        let mut rows = NoteRows::new(&mut out).expect("memory");
        rows.write(&sound).expect("memory");
        drop(rows);
        csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(out.as_slice())
            .records()
            .map(|row| row.expect("well formed").iter().map(str::to_owned).collect())
            .collect()
    }

    #[test]
    fn each_value_stands_under_its_name() {
        let rows = rows_of("a, \"b\".wav");
        let of = |row: usize, name: &str| {
            let column = rows[0].iter().position(|n| n == name).expect(name);
            rows[row][column].as_str()
        };
        assert_eq!(rows.len(), 3);
        assert_eq!(of(1, "file"), "a, \"b\".wav");
        assert_eq!(of(1, "rate_hz"), "5.5");
        assert_eq!(of(1, "width_se_cents"), "0.5");
        assert_eq!(of(1, "drift_cents"), "");
        assert_eq!(of(1, "oscillations"), "1");
        assert_eq!(of(1, "straight"), "false");
        assert_eq!(of(2, "name"), "G3");
        assert_eq!(of(2, "straight"), "true");
        assert_eq!(of(2, "rate_hz"), "");
        assert_eq!(of(2, "unsteadiness_cents"), "0.9");
    }

    #[test]
    fn a_frame_without_pitch_has_no_pitch_in_its_row() {
        let mut out = Vec::new();
        let mut rows = FrameRows::new(&mut out).expect("memory");
        for (time, f0) in [(0.005, None), (0.1 + 0.2, Some(Hz(220.000_000_04)))] {
            let frame = Frame {
                time: Secs(time),
                f0,
                confidence: if f0.is_some() { 0.9 } else { 0.0 },
                level_dbfs: -60.25,
                upper_dbfs: -66.5,
                disagreement: None,
                lean_db: 0.0,
            };
            rows.write(&frame, Secs(1.0)).expect("memory");
        }
        rows.finish().expect("memory");
        assert_eq!(
            String::from_utf8(out).expect("digits"),
            "time_s,f0_hz,confidence,level_dbfs\n1.005,,,-60.25\n1.3,220,0.9,-60.25\n"
        );
    }
}
