//! Measures as a table to read.

use tuning::doubt;

use super::record::{NoteRecord, SoundRecord, VibratoRecord};
use crate::words::{counted, on_one_line};

/// A note shorter than this cannot be called straight: the ear needs half a second of it, between
/// its attack and its release.
const SHORT_SECS: f64 = 0.7;

/// Where the column of the level begins: the width of all before it.
const LEVEL_AT: usize = 103;

/// The head of the table: what each column is and its unit.
pub fn heading() -> [String; 2] {
    [
        line([
            "start",
            "end",
            "note",
            "offset",
            "rate",
            "width",
            "spread of",
            "smooth-",
            "drift",
            "onset",
            "level",
        ]),
        line([
            "s",
            "s",
            "",
            "cents",
            "Hz",
            "cents",
            "rate, width %",
            "ness %",
            "cents",
            "s",
            "dBFS",
        ]),
    ]
}

/// A sound's own lines: what it is, then its notes, then what was not right with it.
pub fn sound_lines(sound: &SoundRecord) -> Vec<String> {
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
pub fn note_lines(note: &NoteRecord) -> Vec<String> {
    let offset = with_doubt(note.offset_cents, note.offset_se_cents, 1, true);
    let start = format!("{:.2}", note.start_s);
    let end = format!("{:.2}", note.end_s);
    let level = plain(note.level_dbfs, 0, false);
    let first = match &note.vibrato {
        Some(vibrato) => line([
            &start,
            &end,
            &note.name,
            &offset,
            &with_doubt(vibrato.rate_hz, vibrato.rate_se_hz, 2, false),
            &with_doubt(vibrato.width_cents, vibrato.width_se_cents, 1, false),
            &spreads(vibrato),
            &plain(vibrato.smoothness_pct, 0, false),
            &with_doubt(vibrato.drift_cents, vibrato.drift_se_cents, 1, true),
            &plain(vibrato.onset_s, 2, false),
            &level,
        ]),
        None => {
            let why = match (note.straight, note.unsteadiness_cents) {
                (true, Some(cents)) => format!("straight, unsteady by {cents:.1} cents"),
                (true, None) => "straight".to_owned(),
                (false, _) if note.end_s - note.start_s < SHORT_SECS => {
                    "too short to tell".to_owned()
                }
                (false, _) => "moves, but no vibrato can be told".to_owned(),
            };
            // Where a vibrato would be told.
            let nearly = line([&start, &end, &note.name, &offset, "", "", "", "", "", "", ""]);
            line_to_level(&format!("{nearly}  {why}"), &level)
        }
    };
    let remarks = note.remarks.iter().map(|words| format!("        ! {words}"));
    std::iter::once(first).chain(remarks).collect()
}

fn spreads(vibrato: &VibratoRecord) -> String {
    format!(
        "{}, {}",
        with_doubt(vibrato.rate_spread_pct, vibrato.rate_spread_se_pct, 0, false),
        with_doubt(vibrato.width_spread_pct, vibrato.width_spread_se_pct, 0, false)
    )
}

/// One line of the table: the note's name to the left, all else to the right.
fn line(columns: [&str; 11]) -> String {
    let [start, end, note, offset, rate, width, spread, smooth, drift, onset, level] = columns;
    let all_but_level = format!(
        "{start:>8} {end:>8}  {note:<5} {offset:>11} {rate:>11} {width:>11} {spread:>15} \
         {smooth:>7} {drift:>11} {onset:>6}"
    );
    line_to_level(&all_but_level, level)
}

/// Sets the last column behind what stands before it.
fn line_to_level(before: &str, level: &str) -> String {
    format!("{:<LEVEL_AT$} {level:>6}", before.trim_end()).trim_end().to_owned()
}

/// A number with its sign if that is its direction; `?` if it is unknown.
pub(crate) fn plain(value: Option<f64>, decimals: usize, signed: bool) -> String {
    let Some(value) = value else {
        return "?".to_owned();
    };
    let unit = 10_f64.powi(decimals as i32);
    // Nothing is written as −0.
    let value = (value * unit).round() / unit + 0.0;
    if signed && value > 0.0 {
        format!("+{value:.decimals$}")
    } else {
        format!("{value:.decimals$}").replace('-', "−")
    }
}

/// The same with its standard error behind it.
pub(crate) fn with_doubt(
    value: Option<f64>,
    se: Option<f64>,
    decimals: usize,
    signed: bool,
) -> String {
    match (value, se) {
        (Some(_), Some(se)) => {
            format!("{} {}", plain(value, decimals, signed), doubt(se, decimals))
        }
        _ => plain(value, decimals, signed),
    }
}

#[cfg(test)]
mod tests {
    use tuning::{Naming, Secs};

    use super::*;
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
            ("rate ", "5.50 ±0.02"),
            ("width ", "40.0 ±0.5"),
            ("offset ", "+1.0 ±0.2"),
            ("spread of ", "4 ±1, 8 ±2"),
            ("onset ", "0.08"),
            ("level", "−23"),
        ] {
            let edge = right_edge(&head[0], name) - usize::from(name.ends_with(' '));
            assert_eq!(right_edge(note, value), edge, "{name}\n{}\n{note}", head[0]);
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
            heading()[0].chars().count(),
            "the level stands in its column: {}",
            straight[0]
        );
        assert!(straight[0].contains(" −8.8 "), "no doubt is known: {}", straight[0]);
        for (secs, words) in [(0.3, "too short to tell"), (1.8, "no vibrato can be told")] {
            let unsure = vibrato::Note {
                straight: false,
                end: Secs(straight_note().start.0 + secs),
                ..straight_note()
            };
            let line = &lines_of(&unsure)[0];
            assert!(line.contains(words), "{secs} s: {line}");
        }
    }
}
