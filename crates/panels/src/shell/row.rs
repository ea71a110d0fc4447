//! A command is one row of its room's table: its name, its keys, where they are heard, what it does, and what
//! its button shows. Keys and buttons, the list of keys and the settings file all read the rows.

use crate::shell::Shell;
use crate::shell::keys::{Entry, Scope};
use crate::widgets::button_row::{Button, Label};
use crate::widgets::form::Form;
use egui::{Event, Id, Key, Ui};

/// A command of the room `R`, which asks for `A`.
pub struct Row<R, A> {
    /// What the settings file and the list of keys say of it.
    pub entry: Entry,
    action: fn(&R, &Shell) -> Option<A>,
    label: Option<fn(&R, &Shell) -> Option<Label>>,
    at_foot: bool,
    repeats: bool,
}

impl<R, A> Row<R, A> {
    /// What the settings file calls it, where it is heard, its keys at first, what it does in words, and what it
    /// asks for: `None` where it cannot be done now.
    pub const fn new(
        name: &'static str,
        scopes: &'static [Scope],
        keys: &'static [Key],
        help: &'static str,
        action: fn(&R, &Shell) -> Option<A>,
    ) -> Self {
        let entry = Entry { name, scopes, keys, while_playing: false, help };
        Self { entry, action, label: None, at_foot: false, repeats: false }
    }

    /// It has a button at the foot of the room that shows this; `None` where it is not there now.
    pub const fn button(self, label: fn(&R, &Shell) -> Option<Label>) -> Self {
        Self { label: Some(label), at_foot: true, ..self }
    }

    /// It has a button on a page of the room ([`Self::button_ui`]), or a switch there.
    pub const fn page_button(self, label: fn(&R, &Shell) -> Option<Label>) -> Self {
        Self { label: Some(label), ..self }
    }

    /// A key that is held down does it again and again. With most commands it does not: a pedal is often held
    /// for long.
    pub const fn repeats(self) -> Self {
        Self { repeats: true, ..self }
    }

    /// It is needed while playing, and so lies on a key of a pedal.
    pub const fn while_playing(self) -> Self {
        let Entry { name, scopes, keys, help, .. } = self.entry;
        Self { entry: Entry { name, scopes, keys, while_playing: true, help }, ..self }
    }

    /// What it asks for; `None` where it cannot be done now.
    pub fn action(&self, room: &R, shell: &Shell) -> Option<A> {
        (self.action)(room, shell)
    }

    /// Its button as it is now, if it has one.
    fn button_of(&self, room: &R, shell: &Shell) -> Option<Button<A>> {
        Some(Button {
            label: (self.label?)(room, shell)?,
            key: shell.options().keys.shown(&self.entry).unwrap_or(""),
            action: self.action(room, shell),
        })
    }

    /// Draws its button, or its switch, in the flow of a page; what it asks for if it was pressed.
    pub fn button_ui(&self, ui: &mut Ui, form: &Form, room: &R, shell: &Shell) -> Option<A> {
        let Button { label, key, action } = self.button_of(room, shell)?;
        let text = format!("{}  {key}", label.text);
        let pressed = match label.on {
            Some(mut on) => {
                let switch = ui.checkbox(&mut on, text).accessible_name(label.name);
                form.mark(ui, switch).changed()
            }
            None => form.button(ui, &text, &label.name, action.is_some()),
        };
        action.filter(|_| pressed)
    }
}

/// The buttons at the foot of this place that can be pressed now, in the order of the rows.
pub(crate) fn buttons<R, A>(
    rows: &[Row<R, A>],
    place: Scope,
    room: &R,
    shell: &Shell,
) -> Vec<Button<A>> {
    rows.iter()
        .filter(|row| row.at_foot && row.entry.scopes.contains(&place))
        .filter_map(|row| row.button_of(room, shell))
        .filter(|button| button.action.is_some())
        .collect()
}

/// What the pressed keys ask for, looked for in these places one after another; they are used up.
/// Under a sheet only the keys of the Stand and those that are the same everywhere are heard.
pub(crate) fn pressed<R, A>(
    ui: &Ui,
    rows: &[Row<R, A>],
    scopes: &[Scope],
    room: &R,
    shell: &Shell,
) -> Vec<A> {
    if shell.overlay.is_some() && scopes.iter().any(|place| place.is_in_a_room()) {
        return Vec::new();
    }
    taken(ui, shell, |key, repeat| {
        let keys = &shell.options().keys;
        let has = |row: &&Row<R, A>| keys.of(&row.entry).contains(&key);
        let row = scopes.iter().find_map(|place| {
            rows.iter().filter(|row| row.entry.scopes.contains(place)).find(has)
        })?;
        let action = row.action(room, shell)?;
        Some((!repeat || row.repeats).then_some(action))
    })
}

/// Keys that a widget with the focus takes for itself.
const OF_WIDGETS: [Key; 7] = [
    Key::Space,
    Key::Enter,
    Key::ArrowLeft,
    Key::ArrowRight,
    Key::ArrowUp,
    Key::ArrowDown,
    Key::Backspace,
];
/// Keys that write nothing: a field that is written in leaves them to the rooms.
const OF_ROOMS: [Key; 12] = [
    Key::F1,
    Key::F2,
    Key::F3,
    Key::F4,
    Key::F5,
    Key::F6,
    Key::F7,
    Key::F8,
    Key::F9,
    Key::F10,
    Key::F11,
    Key::F12,
];
/// Keys that turn the pages of a sheet that lies over the room.
pub(crate) const OF_SHEETS: [[Key; 2]; 2] =
    [crate::widgets::paging::PEDAL, crate::widgets::paging::HOME_END];

/// What `wish` makes of the pressed keys, given each with whether it is held down and repeats. `None`
/// leaves a key to others, `Some(None)` uses it up for nothing. A widget that has the focus keeps Space,
/// Enter and the arrows for itself, a field that is written in keeps all but the function keys, and a sheet that lies
/// over the room keeps those that turn its pages.
pub(crate) fn taken<T>(
    ui: &Ui,
    shell: &Shell,
    wish: impl Fn(Key, bool) -> Option<Option<T>>,
) -> Vec<T> {
    let focused = ui.memory(|memory| memory.focused());
    let writing = ui.ctx().text_edit_focused();
    let mut waiting = waiting(ui);
    let mut actions = Vec::new();
    ui.input_mut(|input| {
        input.events.retain(|event| {
            let &Event::Key { key, pressed: true, repeat, modifiers, .. } = event else {
                return true;
            };
            if writing && OF_ROOMS.contains(&key) {
                waiting.push(event.clone());
                return false;
            }
            let kept = writing
                || modifiers.command
                || modifiers.ctrl
                || modifiers.alt
                || (focused.is_some() && OF_WIDGETS.contains(&key))
                || (shell.overlay.is_some() && OF_SHEETS.as_flattened().contains(&key));
            if kept {
                return true;
            }
            let Some(wished) = wish(key, repeat) else {
                return true;
            };
            actions.extend(wished);
            false
        });
    });
    if let Some(field) = focused.filter(|_| !waiting.is_empty()) {
        ui.memory_mut(|memory| memory.surrender_focus(field));
        let frame = ui.ctx().cumulative_frame_nr();
        ui.data_mut(|data| data.insert_temp(waiting_id(), (frame, waiting)));
        ui.ctx().request_repaint();
    }
    actions
}

fn waiting_id() -> Id {
    Id::unique("keys behind a field")
}

/// Keys of rooms that were pressed in a field: they wait for one picture, in which it takes up what was written.
fn waiting(ui: &Ui) -> Vec<Event> {
    let frame = ui.ctx().cumulative_frame_nr();
    let kept = ui.data(|data| data.get_temp::<(u64, Vec<Event>)>(waiting_id()));
    let Some((from, keys)) = kept else { return Vec::new() };
    if from == frame {
        return keys;
    }
    ui.data_mut(|data| data.remove::<(u64, Vec<Event>)>(waiting_id()));
    ui.input_mut(|input| input.events.extend(keys));
    Vec::new()
}
