//! The table of all measures of some notes.

use maud::{Markup, html};

use tuning::figure::number;
use vibrato::{Quantity, Shown};

use crate::formats::NoteRecord;

/// The head of a column of numbers.
pub(super) fn head(quantity: Quantity) -> Markup {
    html! { th scope="col" { (quantity.name()) small { (quantity.unit()) } } }
}

/// The table; `fingers` where they are known.
pub(super) fn measures(notes: &[NoteRecord], fingers: &[Option<u8>]) -> Markup {
    let fingered = fingers.iter().any(Option::is_some);
    let in_tables = |quantity: &Quantity| quantity.row().shown >= Shown::InTables;
    let of_notes: Vec<Quantity> = Quantity::of_notes().filter(in_tables).collect();
    let of_vibrato: Vec<Quantity> = Quantity::of_vibrato().filter(in_tables).collect();
    let all = 3 + of_notes.len() + of_vibrato.len() + usize::from(fingered);
    let cell = |note: &NoteRecord, quantity: Quantity| {
        html! { td data-label=(quantity.headed()) { (quantity.figure(note.get(quantity))) } }
    };
    html! {
        table {
            caption { "All notes, with the margin of each measure" }
            thead {
                tr {
                    th scope="col" { "note" }
                    @if fingered { th scope="col" { "finger" } }
                    @for name in ["start", "length"] { th scope="col" { (name) small { "s" } } }
                    @for &quantity in of_notes.iter().chain(&of_vibrato) { (head(quantity)) }
                }
            }
            tbody {
                @for (place, note) in notes.iter().enumerate() {
                    tr {
                        th scope="row" data-label="note" { (place + 1) " " (note.name) }
                        @if fingered {
                            td data-label="finger" {
                                @if let Some(finger) = fingers.get(place).copied().flatten() { (finger) }
                            }
                        }
                        td data-label="start, s" { (number(Some(note.start_s), 2, false)) }
                        td data-label="length, s" { (number(Some(note.end_s - note.start_s), 2, false)) }
                        @for &quantity in &of_notes { (cell(note, quantity)) }
                        @if let Some(why) = note.without_vibrato() {
                            td class="wide" colspan=(of_vibrato.len()) { (why) }
                        } @else {
                            @for &quantity in &of_vibrato { (cell(note, quantity)) }
                        }
                    }
                    @for words in &note.remarks {
                        tr { td class="wide" colspan=(all) { (words) } }
                    }
                }
            }
        }
    }
}
