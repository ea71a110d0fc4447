//! The list of keys; each line can be pressed as well.

use super::form::Form;
use crate::keys::{ENTRIES, Entry};
use crate::stand::{Action, Stand};
use egui::{Align, Button, Layout, Ui, vec2};

/// Least width of a line, as a share of the type size: two stand side by side from twice this on.
const LINE: f32 = 24.0;
/// Width of the keys' names in a line, as a share of the type size.
const NAMES: f32 = 8.5;

/// Draws it.
pub fn keys_list_ui(ui: &mut Ui, stand: &Stand, form: &Form, asked: &mut Vec<Action>) {
    form.note(
        ui,
        "Page-turner pedals send Page Up and Page Down, the arrows, Space or Enter: all that is needed \
         while playing lies on these. While a question is asked, they answer it. Keys can be changed in \
         the settings file, under “keys”.",
    );
    ui.add_space(0.4 * form.size());
    let columns = if ui.available_width() >= 2.0 * LINE * form.size() {
        2
    } else {
        1
    };
    let each = ENTRIES.len().div_ceil(columns);
    ui.columns(columns, |columns| {
        for (column, entries) in columns.iter_mut().zip(ENTRIES.chunks(each)) {
            for entry in entries {
                line_ui(column, entry, stand, form, asked);
            }
        }
    });
}

fn line_ui(ui: &mut Ui, entry: &Entry, stand: &Stand, form: &Form, asked: &mut Vec<Action>) {
    let keys = stand.options().keys.listed(entry.command);
    ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
        let names = vec2(NAMES * form.size(), ui.spacing().interact_size.y);
        ui.allocate_ui_with_layout(names, Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_size(names);
            form.note(ui, &keys);
        });
        let button = Button::new(entry.said).frame(false).wrap();
        let response = ui.add(button);
        let response = form.mark(ui, response);
        ui.ctx()
            .accesskit_node_builder(response.id, |node| node.set_keyboard_shortcut(keys));
        if response.clicked() {
            asked.push(Action::Do(entry.command));
        }
    });
}
