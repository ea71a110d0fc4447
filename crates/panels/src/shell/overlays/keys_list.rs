//! The list of keys, place by place; the lines of what can be done from here can be pressed as well.

use crate::shell::Shell;
use crate::shell::action::Action;
use crate::shell::commands::CLOSE;
use crate::shell::keys::{Entry, KeyMap, Scope, key_name};
use crate::widgets::form::Form;
use crate::widgets::terms::TERMS;
use egui::{Align, Button, Label, Layout, Ui, vec2};

/// Least width of a line, as a share of the type size: two stand side by side from twice this on.
const LINE: f32 = 24.0;
/// Width of the keys' names in a line, as a share of the type size.
const NAMES: f32 = 8.5;

/// A line of the list.
pub struct Line {
    /// The command.
    pub entry: &'static Entry,
    /// What it does if it is pressed here; `None` where it only tells.
    pub action: Option<Action>,
}

/// Draws it: the room that is looked at first, then what is the same everywhere, then the other rooms.
pub(super) fn keys_list_ui(
    ui: &mut Ui,
    shell: &Shell,
    lines: &[Line],
    form: &Form,
    actions: &mut Vec<Action>,
) {
    form.note(
        ui,
        "Page-turner pedals send Page Up and Page Down, the arrows, Space or Enter: all that is needed \
         while playing lies on these. While a question is asked, they answer it. Home and End turn long pages. \
         Keys of every room can be changed in the settings file, under “keys”.",
    );
    for hidden in hidden(&shell.options().keys, lines) {
        form.trouble(ui, &hidden);
    }
    let mut scopes = Scope::ALL;
    scopes.sort_by_key(|place| match place.room() {
        Some(room) if room == shell.room => 0,
        None => 1,
        Some(_) => 2,
    });
    for place in scopes {
        form.part(ui, place.name());
        let here: Vec<&Line> =
            lines.iter().filter(|line| line.entry.scopes.contains(&place)).collect();
        place_ui(ui, &here, shell, form, actions);
    }
    form.part(ui, "Words");
    for term in &TERMS {
        ui.add(Label::new(format!("{}: {}", term.name, term.means)).wrap());
    }
}

fn place_ui(ui: &mut Ui, here: &[&Line], shell: &Shell, form: &Form, actions: &mut Vec<Action>) {
    let columns = if ui.available_width() >= 2.0 * LINE * form.size() { 2 } else { 1 };
    let each = here.len().div_ceil(columns).max(1);
    ui.columns(columns, |columns| {
        for (column, lines) in columns.iter_mut().zip(here.chunks(each)) {
            for line in lines {
                line_ui(column, line, shell, form, actions);
            }
        }
    });
}

fn line_ui(ui: &mut Ui, line: &Line, shell: &Shell, form: &Form, actions: &mut Vec<Action>) {
    let Line { entry, action } = line;
    let keys = shell.options().keys.listed(entry);
    ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
        let names = vec2(NAMES * form.size(), ui.spacing().interact_size.y);
        ui.allocate_ui_with_layout(names, Layout::left_to_right(Align::Center), |ui| {
            ui.set_min_size(names);
            form.note(ui, &keys);
        });
        let Some(action) = action else {
            ui.add(egui::Label::new(entry.help).wrap());
            return;
        };
        let response = ui.add(Button::new(entry.help).frame(false).wrap());
        let response = form.mark(ui, response);
        ui.ctx().accesskit_node_builder(response.id, |node| node.set_keyboard_shortcut(keys));
        if response.clicked() {
            actions.push(action.clone());
        }
    });
}

/// What a key does in a room that it does not do elsewhere, in sentences: a room hears its own keys first.
pub(crate) fn hidden(map: &KeyMap, lines: &[Line]) -> Vec<String> {
    let entries = || lines.iter().map(|line| line.entry);
    let mut all = Vec::new();
    for entry in entries() {
        let Some(place) = entry.scopes.iter().find(|place| place.is_in_a_room()) else {
            continue;
        };
        // What lies over a room is closed before the room hears a key.
        let common = entries().filter(|common| {
            common.scopes.contains(&Scope::Everywhere) && common.name != CLOSE.entry.name
        });
        for common in common {
            let shared = map.of(entry).iter().find(|key| map.of(common).contains(key));
            all.extend(shared.map(|&key| {
                format!(
                    "{}: {} is “{}” here, and not “{}” as elsewhere.",
                    place.name(),
                    key_name(key),
                    entry.help,
                    common.help
                )
            }));
        }
    }
    all
}
