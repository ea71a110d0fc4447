//! Two takes beside each other: the measures of each as a whole, and what lies between them.

use super::said;
use super::{Half, JournalAction, JournalRoom};
use crate::stand::Stand;
use crate::widgets::form::Form;
use egui::{Grid, Label, RichText, Ui};
use journal::{Mean, OfNotes, TakeFile, TakeId, Written};
use std::sync::Arc;

/// A difference of more than so many standard errors is told as one.
const TOLD_APART: f64 = 2.0;
/// Width of the table, in type sizes.
const TABLE: f32 = 50.0;

/// Draws them.
pub fn compare_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    stand: &Stand,
    form: &Form,
    asked: &mut Vec<JournalAction>,
) {
    let [first, second] = &room.compared;
    for (half, called, taken) in [(Half::First, "first", first), (Half::Second, "second", second)] {
        half_ui(ui, (room, stand), half, called, taken.as_ref(), form, asked);
    }
    let (Some(first), Some(second)) = (first, second) else {
        form.note(
            ui,
            "Choose two takes: in the list, C takes the chosen one as the first, then as the second.",
        );
        return;
    };
    if form.button(ui, "Swap them", "swap the two takes", true) {
        asked.push(JournalAction::Swap);
    }
    match (&first.1, &second.1) {
        (Some(first), Some(second)) => measures_ui(ui, first, second, form),
        _ => form.note(ui, "They are being read."),
    }
}

fn half_ui(
    ui: &mut Ui,
    (room, stand): (&JournalRoom, &Stand),
    half: Half,
    called: &str,
    taken: Option<&(TakeId, Option<Arc<TakeFile>>)>,
    form: &Form,
    asked: &mut Vec<JournalAction>,
) {
    form.row(ui, called, |ui, _| {
        let Some((id, _)) = taken else {
            form.note(ui, "none yet");
            return;
        };
        ui.label(said::take_in_full(id));
        if let Some(entry) = room.entry(id) {
            form.note(ui, &said::about(entry, stand));
        }
        if form.button(ui, "Take away", &format!("take the {called} away"), true) {
            asked.push(JournalAction::Uncompare(half));
        }
    });
}

/// The table, or the same in lines where it has no room.
fn measures_ui(ui: &mut Ui, first: &TakeFile, second: &TakeFile, form: &Form) {
    ui.add_space(0.5 * form.size());
    if ui.available_width() >= TABLE * form.size() {
        table_ui(ui, first, second, form);
    } else {
        lines_ui(ui, first, second, form);
    }
    ui.add_space(0.3 * form.size());
    form.note(
        ui,
        "Each value is the mean of a take's notes; ± is its standard error, from how the notes scatter. Two takes differ \
         for sure only where the difference is more than twice its doubt.",
    );
}

fn lines_ui(ui: &mut Ui, first: &TakeFile, second: &TakeFile, form: &Form) {
    for mean in Mean::ALL {
        let (one, other) = (first.mean(mean), second.mean(mean));
        if one.is_none() && other.is_none() {
            continue;
        }
        form.heading(ui, &format!("{}, {}", mean.name(), mean.unit()));
        for (called, of) in [("first", one), ("second", other)] {
            let said = format!("{called} {}", of_notes(of, mean));
            ui.add(Label::new(said).wrap());
        }
        if let Some(apart) = one.zip(other).map(|(one, other)| other.above(one)) {
            let said = said::value(apart, true);
            let said = format!("second − first {said}: {}", verdict(apart));
            ui.add(Label::new(said).wrap());
        }
    }
}

fn table_ui(ui: &mut Ui, first: &TakeFile, second: &TakeFile, form: &Form) {
    let soft = |text: &str| RichText::new(text).color(form.theme.soft_ink);
    Grid::new("two takes").num_columns(5).spacing([1.2 * form.size(), 0.45 * form.size()]).show(
        ui,
        |ui| {
            for head in ["", "first", "second", "second − first", ""] {
                ui.label(soft(head));
            }
            ui.end_row();
            for mean in Mean::ALL {
                let (one, other) = (first.mean(mean), second.mean(mean));
                if one.is_none() && other.is_none() {
                    continue;
                }
                ui.label(format!("{}, {}", mean.name(), mean.unit()));
                ui.label(of_notes(one, mean));
                ui.label(of_notes(other, mean));
                let apart = one.zip(other).map(|(one, other)| other.above(one));
                let said = apart.map_or_else(|| "—".to_owned(), |apart| said::value(apart, true));
                ui.label(said);
                ui.label(apart.map_or(soft(""), |apart| soft(verdict(apart))));
                ui.end_row();
            }
        },
    );
}

/// "5.43 ±0.05 (12 notes)".
fn of_notes(of: Option<OfNotes>, mean: Mean) -> String {
    of.map_or_else(
        || "—".to_owned(),
        |of| {
            let value = said::value((of.value, of.se), mean.is_signed());
            format!("{value} ({})", said::counted(of.notes, "note", "notes"))
        },
    )
}

fn verdict((apart, se): Written) -> &'static str {
    match se {
        Some(se) if apart.abs() > TOLD_APART * se => "told apart",
        Some(_) => "within the doubt",
        None => "its doubt is not known",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn takes_are_told_apart_beyond_twice_the_doubt_only() {
        assert_eq!(verdict((0.3, Some(0.1))), "told apart");
        assert_eq!(verdict((-0.3, Some(0.1))), "told apart");
        assert_eq!(verdict((0.19, Some(0.1))), "within the doubt");
        assert_eq!(verdict((9.0, None)), "its doubt is not known");
    }
}
