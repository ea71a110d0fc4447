//! Two takes beside each other: the measures of each as a whole, and what lies between them.

use super::opened::Compared;
use super::wording;
use super::{Half, JournalAction, JournalRoom};
use crate::shell::Shell;
use crate::widgets::form::Form;
use crate::widgets::painter;
use coach::beyond_doubt;
use egui::{Grid, Label, RichText, Role, Sense, Ui, WidgetInfo, vec2};
use journal::{OfNotes, TakeFile, TakeId};
use pictures::Picture;
use pictures::take::{TakeTrace, take_trace};
use tuning::Secs;
use vibrato::{Measure, Quantity};

/// Height of a trace, and width of the table, in type sizes.
const TRACE: f32 = 9.0;
const TABLE: f32 = 50.0;

/// Draws them.
pub(super) fn compare_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let [first, second] = &room.compared;
    for (half, called, taken) in [(Half::First, "first", first), (Half::Second, "second", second)] {
        half_ui(ui, (room, shell), half, called, taken.as_ref(), form, actions);
    }
    let (Some(first), Some(second)) = (first, second) else {
        form.note(
            ui,
            "Choose two takes: in the list, C makes the chosen one the first, then the second.",
        );
        return;
    };
    if form.button(ui, "Swap them", "swap the two takes", true) {
        actions.push(JournalAction::Swap);
    }
    match (&first.1, &second.1) {
        (Some(first), Some(second)) => {
            traces_ui(ui, [("first", first), ("second", second)], shell, form);
            measures_ui(ui, &first.file, &second.file, form);
        }
        _ => form.note(ui, "They are being read."),
    }
}

fn half_ui(
    ui: &mut Ui,
    (room, shell): (&JournalRoom, &Shell),
    half: Half,
    called: &str,
    taken: Option<&(TakeId, Option<Compared>)>,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    form.row(ui, called, |ui, _| {
        let Some((id, _)) = taken else {
            form.note(ui, "none yet");
            return;
        };
        ui.label(wording::take_in_full(id));
        if let Some(entry) = room.entry(id) {
            form.note(ui, &wording::about(entry, shell));
        }
        if form.button(ui, "Remove", &format!("remove the {called}"), true) {
            actions.push(JournalAction::Uncompare(half));
        }
    });
}

/// The traces, one above the other on one axis of time.
fn traces_ui(ui: &mut Ui, both: [(&str, &Compared); 2], shell: &Shell, form: &Form) {
    let theme = form.theme;
    let longest = both.iter().map(|(_, of)| of.file.length_s).fold(0.1, f64::max);
    for (called, Compared { file, drawn }) in both {
        let size = vec2(ui.available_width(), TRACE * form.size());
        let (area, response) = ui.allocate_exact_size(size, Sense::hover());
        response.widget_info(|| {
            WidgetInfo::labeled(Role::Image, true, format!("trace of the {called} take"))
        });
        if !ui.is_rect_visible(area) {
            continue;
        }
        let fingers: Vec<Option<u8>> =
            file.notes.iter().map(|note| note.finger.or(file.finger)).collect();
        let mut picture = Picture::new(area, &theme.sizes);
        let shown = TakeTrace {
            played: drawn,
            fingers: &fingers,
            tuning: file.tuning(),
            naming: shell.naming(),
            sections: &[],
            span: (Secs(0.0), Secs(longest)),
        };
        take_trace(&mut picture, area, &shown);
        painter::paint(&ui.painter_at(area), &picture, theme);
    }
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
        "Each value is the mean of a take's notes. ± is its margin (standard error), from the margin of each note and from how they \
         scatter. A difference is clear where it is more than twice its margin.",
    );
}

/// What the takes have of each measure, of those that one of them has.
fn means(
    first: &TakeFile,
    second: &TakeFile,
) -> impl Iterator<Item = (Quantity, Option<OfNotes>, Option<OfNotes>)> {
    let means = Quantity::followed()
        .map(|quantity| (quantity, first.mean(quantity), second.mean(quantity)));
    means.filter(|(_, one, other)| one.or(*other).is_some())
}

fn lines_ui(ui: &mut Ui, first: &TakeFile, second: &TakeFile, form: &Form) {
    for (quantity, one, other) in means(first, second) {
        form.heading(ui, &quantity.headed());
        for (called, of) in [("first", one), ("second", other)] {
            let said = format!("{called} {}", of_notes(of, quantity));
            ui.add(Label::new(said).wrap());
        }
        if let Some(apart) = one.zip(other).map(|(one, other)| other.above(one)) {
            let said = quantity.difference(Some(apart));
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
            for (quantity, one, other) in means(first, second) {
                ui.label(quantity.headed());
                ui.label(of_notes(one, quantity));
                ui.label(of_notes(other, quantity));
                let apart = one.zip(other).map(|(one, other)| other.above(one));
                let said = |apart| quantity.difference(Some(apart));
                ui.label(apart.map_or_else(|| "—".to_owned(), said));
                ui.label(apart.map_or(soft(""), |apart| soft(verdict(apart))));
                ui.end_row();
            }
        },
    );
}

/// "5.43 ±0.05 (12 notes)".
fn of_notes(of: Option<OfNotes>, quantity: Quantity) -> String {
    of.map_or_else(
        || "—".to_owned(),
        |of| {
            let value = quantity.figure(Some(of.measure()));
            format!("{value} ({})", wording::counted(of.notes, "note", "notes"))
        },
    )
}

fn verdict(apart: Measure<f64>) -> &'static str {
    match apart.se {
        None => "margin unknown",
        Some(_) if beyond_doubt(apart, 1) => "clear",
        Some(_) => "not clear",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_is_clear_beyond_twice_its_margin_only() {
        assert_eq!(verdict(Measure { value: 0.3, se: Some(0.1) }), "clear");
        assert_eq!(verdict(Measure { value: -0.3, se: Some(0.1) }), "clear");
        assert_eq!(verdict(Measure { value: 0.19, se: Some(0.1) }), "not clear");
        assert_eq!(verdict(Measure { value: 9.0, se: None }), "margin unknown");
    }
}
