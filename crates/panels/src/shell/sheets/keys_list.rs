//! The list of keys, place by place; the lines of what can be done from here can be pressed as well.

use crate::keys::{Does, Entry, Place, entries};
use crate::stand::{Action, Stand};
use crate::widgets::form::Form;
use egui::{Align, Button, Layout, Ui, vec2};

/// Least width of a line, as a share of the type size: two stand side by side from twice this on.
const LINE: f32 = 24.0;
/// Width of the keys' names in a line, as a share of the type size.
const NAMES: f32 = 8.5;

/// Draws it: the room that is looked at first, then what is the same everywhere, then the other rooms.
pub fn keys_list_ui(ui: &mut Ui, stand: &Stand, form: &Form, asked: &mut Vec<Action>) {
    form.note(
        ui,
        "Page-turner pedals send Page Up and Page Down, the arrows, Space or Enter: all that is needed \
         while playing lies on these. While a question is asked, they answer it. Home and End turn long pages. \
         Keys of every room can be changed in the settings file, under “keys”.",
    );
    for hidden in stand.options().keys.hidden() {
        form.trouble(ui, &hidden);
    }
    let mut places = Place::ALL;
    places.sort_by_key(|place| match place.room() {
        Some(room) if room == stand.room => 0,
        None => 1,
        Some(_) => 2,
    });
    for place in places {
        form.part(ui, place.name());
        let here: Vec<&Entry> = entries().filter(|entry| entry.places.contains(&place)).collect();
        place_ui(ui, &here, stand, form, asked);
    }
}

fn place_ui(ui: &mut Ui, here: &[&Entry], stand: &Stand, form: &Form, asked: &mut Vec<Action>) {
    let columns = if ui.available_width() >= 2.0 * LINE * form.size() { 2 } else { 1 };
    let each = here.len().div_ceil(columns).max(1);
    ui.columns(columns, |columns| {
        for (column, entries) in columns.iter_mut().zip(here.chunks(each)) {
            for entry in entries {
                line_ui(column, entry, stand, form, asked);
            }
        }
    });
}

fn line_ui(ui: &mut Ui, entry: &Entry, stand: &Stand, form: &Form, asked: &mut Vec<Action>) {
    let keys = stand.options().keys.listed(entry.does);
    ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
        let names = vec2(NAMES * form.size(), ui.spacing().interact_size.y);
        ui.allocate_ui_with_layout(names, Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_size(names);
            form.note(ui, &keys);
        });
        let button = Button::new(entry.said).frame(false).wrap();
        // What a room does with a key it does in that room alone, not under this sheet.
        let Does::Command(command) = entry.does else {
            let word = egui::Label::new(entry.said).wrap();
            ui.add(word);
            return;
        };
        let response = ui.add(button);
        let response = form.mark(ui, response);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_keyboard_shortcut(keys));
        if response.clicked() {
            asked.push(Action::Do(command));
        }
    });
}
