//! The table of all measures of some notes.

use maud::{Markup, html};

use super::page::measure;
use crate::formats::NoteRecord;

/// A column: what it is, its unit, and its value for a note.
type Column = (&'static str, &'static str, fn(&NoteRecord) -> String);

fn of_vibrato(
    note: &NoteRecord,
    pick: fn(&crate::formats::VibratoRecord) -> (Option<f64>, Option<f64>),
    decimals: usize,
    signed: bool,
) -> String {
    note.vibrato.as_ref().map_or_else(String::new, |vibrato| {
        let (value, se) = pick(vibrato);
        measure(value, se, decimals, signed)
    })
}

const COLUMNS: [Column; 10] = [
    ("start", "s", |note| format!("{:.2}", note.start_s)),
    ("length", "s", |note| format!("{:.2}", note.end_s - note.start_s)),
    ("offset", "cents", |note| measure(note.offset_cents, note.offset_se_cents, 1, true)),
    ("rate", "Hz", |note| of_vibrato(note, |v| (v.rate_hz, v.rate_se_hz), 2, false)),
    ("width", "cents", |note| of_vibrato(note, |v| (v.width_cents, v.width_se_cents), 1, false)),
    ("rate spread", "%", |note| {
        of_vibrato(note, |v| (v.rate_spread_pct, v.rate_spread_se_pct), 0, false)
    }),
    ("width spread", "%", |note| {
        of_vibrato(note, |v| (v.width_spread_pct, v.width_spread_se_pct), 0, false)
    }),
    ("smoothness", "%", |note| {
        of_vibrato(note, |v| (v.smoothness_pct, v.smoothness_se_pct), 0, false)
    }),
    ("drift", "cents", |note| of_vibrato(note, |v| (v.drift_cents, v.drift_se_cents), 1, true)),
    ("onset", "s", |note| of_vibrato(note, |v| (v.onset_s, v.onset_se_s), 2, false)),
];

/// The table; `fingers` where they are known.
pub fn measures(notes: &[NoteRecord], fingers: &[Option<u8>]) -> Markup {
    let fingered = fingers.iter().any(Option::is_some);
    html! {
        table {
            caption { "All notes, with the doubt of each measure" }
            thead {
                tr {
                    th scope="col" { "note" }
                    @if fingered { th scope="col" { "finger" } }
                    @for (name, unit, _) in &COLUMNS {
                        th scope="col" { (name) small { (unit) } }
                    }
                }
            }
            tbody {
                @for (number, note) in notes.iter().enumerate() {
                    tr {
                        th scope="row" data-label="note" { (number + 1) " " (note.name) }
                        @if fingered {
                            td data-label="finger" {
                                @if let Some(finger) = fingers.get(number).copied().flatten() { (finger) }
                            }
                        }
                        @for (name, unit, of) in &COLUMNS[..3] {
                            td data-label=(format!("{name}, {unit}")) { (of(note)) }
                        }
                        @if note.vibrato.is_some() {
                            @for (name, unit, of) in &COLUMNS[3..] {
                                td data-label=(format!("{name}, {unit}")) { (of(note)) }
                            }
                        } @else {
                            td class="wide" colspan=(COLUMNS.len() - 3) { (without_vibrato(note)) }
                        }
                    }
                    @for words in &note.remarks {
                        tr { td class="wide" colspan=(COLUMNS.len() + 1 + usize::from(fingered)) { (words) } }
                    }
                }
            }
        }
    }
}

fn without_vibrato(note: &NoteRecord) -> String {
    match (note.straight, note.unsteadiness_cents) {
        (true, Some(cents)) => format!("straight, unsteady by {cents:.1} cents"),
        (true, None) => "straight".to_owned(),
        (false, _) => "too short or too unclear to tell".to_owned(),
    }
}
