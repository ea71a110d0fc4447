//! Which takes are wanted: in words, and to be chosen.

use super::commands::{FILTER, REPORT};
use super::wording;
use super::{JournalAction, JournalRoom, Page};
use crate::shell::Shell;
use crate::widgets::form::Form;
use egui::{ComboBox, Label, RichText, TextEdit, Ui};
use journal::Filter;

/// Width of a choice and of the field, as shares of the type size.
const CHOICE: f32 = 8.5;
const FIELD: f32 = 12.0;

/// Draws it.
pub(super) fn filter_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    ui.horizontal_wrapped(|ui| {
        actions.extend(FILTER.button_ui(ui, form, room, shell));
        if !room.filter.is_open() && form.button(ui, "All takes", "all takes", true) {
            actions.push(JournalAction::Filter(Box::default()));
        }
        if matches!(room.page, Page::Trends | Page::Minutes) {
            actions.extend(REPORT.button_ui(ui, form, room, shell));
        }
        let told = RichText::new(in_words(room, shell)).color(form.theme.soft_ink);
        ui.add(Label::new(told).wrap());
    });
    if room.filter_shown {
        choices_ui(ui, room, shell, form, actions);
    }
    ui.add_space(0.2 * form.size());
}

/// "Mira, finger 4: 312 of 20 000 takes".
fn in_words(room: &JournalRoom, shell: &Shell) -> String {
    let all = wording::counted(room.entries.len(), "take", "takes");
    let filter = &room.filter;
    if filter.is_open() {
        return all;
    }
    let mut kinds: Vec<String> = Vec::new();
    kinds.extend(filter.player.as_deref().map(|p| wording::player(p).to_owned()));
    kinds.extend(filter.instrument.clone());
    kinds.extend(filter.finger.map(wording::finger));
    let drill = filter.drill.as_deref();
    kinds.extend(drill.map(|name| shell.drill_title(name).to_owned()));
    kinds.extend(filter.passage.clone());
    if !filter.text.trim().is_empty() {
        kinds.push(format!("“{}”", filter.text.trim()));
    }
    format!("{}: {} of {all}", kinds.join(", "), wording::grouped(room.wanted))
}

fn choices_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let mut filter = room.filter.clone();
    let offered = &room.offered;
    ui.horizontal_wrapped(|ui| {
        let plain = |value: &String| value.clone();
        let Filter { player, instrument, finger, drill, passage, text } = &mut filter;
        let whose = |name: &String| wording::player(name).to_owned();
        choice(ui, form, "player", player, &offered.players, whose);
        choice(ui, form, "instrument", instrument, &offered.instruments, plain);
        choice(ui, form, "finger", finger, &offered.fingers, |&f| wording::finger(f));
        let title = |name: &String| shell.drill_title(name).to_owned();
        choice(ui, form, "drill", drill, &offered.drills, title);
        choice(ui, form, "passage", passage, &offered.passages, plain);
        let width = (FIELD * form.size()).min(ui.available_width());
        let field = TextEdit::singleline(text).hint_text("passage or remark").desired_width(width);
        let field = ui.add(field).accessible_name("passage or remark");
        form.mark(ui, field);
    });
    if filter != room.filter {
        actions.push(JournalAction::Filter(Box::new(filter)));
    }
}

/// One of several, or any; nothing where there is nothing to choose.
fn choice<T: PartialEq + Clone>(
    ui: &mut Ui,
    form: &Form,
    name: &str,
    value: &mut Option<T>,
    all: &[T],
    said: impl Fn(&T) -> String,
) {
    if all.is_empty() {
        return;
    }
    let shown = value.as_ref().map_or_else(|| format!("any {name}"), &said);
    let response = ComboBox::from_id_salt(("filter", name))
        .selected_text(shown)
        .width(CHOICE * form.size())
        .truncate()
        .show_ui(ui, |ui| {
            form.dress(ui);
            ui.selectable_value(value, None, format!("any {name}"));
            for each in all {
                ui.selectable_value(value, Some(each.clone()), said(each));
            }
        })
        .response;
    let response = response.accessible_name(name);
    form.mark(ui, response);
}
