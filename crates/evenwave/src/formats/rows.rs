//! Measures as CSV: a row a note, or a row a frame.

use std::io::Write;

use pitch::Frame;
use tuning::Secs;

use super::record::{NoteRecord, SoundRecord, known};

/// The columns of [`NoteRows`].
pub(super) const NOTE_COLUMNS: [&str; 33] = [
    "file",
    "start_s",
    "end_s",
    "name",
    "midi",
    "reference_hz",
    "f0_hz",
    "offset_cents",
    "level_dbfs",
    "confidence",
    "straight",
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
    "oscillations",
    "f0_se_hz",
    "offset_se_cents",
    "unsteadiness_cents",
    "centre_se_cents",
    "rate_spread_se_pct",
    "width_spread_se_pct",
    "smoothness_se_pct",
    "drift_se_cents",
    "onset_se_s",
    "rebows",
    "remarks",
];

/// Writes a row a note; unknown is an empty field, `oscillations` and `rebows` are counts.
pub struct NoteRows<W: Write>(csv::Writer<W>);

impl<W: Write> NoteRows<W> {
    /// Writes the names of the columns.
    pub fn new(out: W) -> Result<Self, csv::Error> {
        let mut rows = csv::Writer::from_writer(out);
        rows.write_record(NOTE_COLUMNS)?;
        rows.flush()?;
        Ok(Self(rows))
    }

    /// Goes on where the names of the columns stand already.
    pub fn without_heads(out: W) -> Self {
        Self(csv::Writer::from_writer(out))
    }

    /// Writes the notes of one sound.
    pub fn write(&mut self, sound: &SoundRecord) -> Result<(), csv::Error> {
        for note in &sound.notes {
            self.0.write_record(fields(&sound.file, note))?;
        }
        self.0.flush()?;
        Ok(())
    }
}

pub(super) fn fields(file: &str, note: &NoteRecord) -> [String; NOTE_COLUMNS.len()] {
    let number = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    let vibrato = note.vibrato.as_ref();
    let of_vibrato =
        |pick: fn(&super::VibratoRecord) -> Option<f64>| number(vibrato.and_then(pick));
    [
        file.to_owned(),
        note.start_s.to_string(),
        note.end_s.to_string(),
        note.name.clone(),
        note.midi.to_string(),
        note.reference_hz.to_string(),
        number(note.f0_hz),
        number(note.offset_cents),
        number(note.level_dbfs),
        number(note.confidence),
        note.straight.to_string(),
        of_vibrato(|v| v.rate_hz),
        of_vibrato(|v| v.rate_se_hz),
        of_vibrato(|v| v.width_cents),
        of_vibrato(|v| v.width_se_cents),
        of_vibrato(|v| v.centre_cents),
        of_vibrato(|v| v.rate_spread_pct),
        of_vibrato(|v| v.width_spread_pct),
        of_vibrato(|v| v.smoothness_pct),
        of_vibrato(|v| v.drift_cents),
        of_vibrato(|v| v.onset_s),
        vibrato.map_or_else(String::new, |v| v.oscillations.len().to_string()),
        number(note.f0_se_hz),
        number(note.offset_se_cents),
        number(note.unsteadiness_cents),
        of_vibrato(|v| v.centre_se_cents),
        of_vibrato(|v| v.rate_spread_se_pct),
        of_vibrato(|v| v.width_spread_se_pct),
        of_vibrato(|v| v.smoothness_se_pct),
        of_vibrato(|v| v.drift_se_cents),
        of_vibrato(|v| v.onset_se_s),
        note.rebows_s.len().to_string(),
        note.remarks.join("; "),
    ]
}

/// Writes a row a frame: `time_s,f0_hz,confidence,level_dbfs`; `f0_hz` is 0 where there is no
/// pitch, as programs that compare pitch tracks expect it.
pub struct FrameRows<W: Write>(csv::Writer<W>);

impl<W: Write> FrameRows<W> {
    /// Writes the names of the columns.
    pub fn new(out: W) -> Result<Self, csv::Error> {
        let mut rows = csv::Writer::from_writer(out);
        rows.write_record(["time_s", "f0_hz", "confidence", "level_dbfs"])?;
        Ok(Self(rows))
    }

    /// Writes a frame whose time counts from `zero` of the sound.
    pub fn write(&mut self, frame: &Frame, zero: Secs) -> Result<(), csv::Error> {
        let numbers = [
            zero.0 + frame.time.0,
            frame.f0.map_or(0.0, |f0| f0.0),
            frame.confidence,
            frame.level_dbfs,
        ];
        self.0.write_record(numbers.map(|number| known(number).unwrap_or(0.0).to_string()))
    }

    /// Completes the rows; what cannot be written is told.
    pub fn finish(mut self) -> std::io::Result<()> {
        self.0.flush()
    }
}

#[cfg(test)]
mod tests {
    use tuning::{Hz, Naming};

    use super::*;
    use crate::formats::SCHEMA;
    use crate::formats::record::tests::{note_with_vibrato, straight_note};

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
    fn a_frame_without_pitch_is_written_as_0_hz() {
        let mut out = Vec::new();
        let mut rows = FrameRows::new(&mut out).expect("memory");
        for (time, f0) in [(0.005, None), (0.1 + 0.2, Some(Hz(220.000_000_04)))] {
            let frame = Frame {
                time: Secs(time),
                f0,
                confidence: if f0.is_some() { 0.9 } else { 0.0 },
                level_dbfs: -60.25,
                disagreement: None,
            };
            rows.write(&frame, Secs(1.0)).expect("memory");
        }
        rows.finish().expect("memory");
        assert_eq!(
            String::from_utf8(out).expect("digits"),
            "time_s,f0_hz,confidence,level_dbfs\n1.005,0,0,-60.25\n1.3,220,0.9,-60.25\n"
        );
    }
}
