//! Keys that are let go under another name than they were pressed.

use std::collections::HashMap;

use eframe::egui::{Event, Key, RawInput};

/// The keys that are down, by their place on the keyboard: who lets Shift go first presses "?" and lets "/" go, and
/// "?" would count as held down for ever.
#[derive(Debug, Default)]
pub(super) struct Pressed(HashMap<Key, Key>);

impl Pressed {
    /// Lets each key go by the name by which it was pressed.
    pub(super) fn let_go(&mut self, input: &mut RawInput) {
        let mut more = Vec::new();
        for event in &input.events {
            let &Event::Key { key, physical_key: Some(place), pressed, modifiers, .. } = event
            else {
                continue;
            };
            let before = if pressed { self.0.insert(place, key) } else { self.0.remove(&place) };
            if let Some(key) = before.filter(|before| *before != key) {
                let (physical_key, repeat) = (Some(place), false);
                more.push(Event::Key { key, physical_key, pressed: false, repeat, modifiers });
            }
        }
        input.events.extend(more);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use eframe::egui::Modifiers;

    #[test]
    fn a_key_that_shift_named_is_let_go_by_that_name() {
        let event = |key, pressed| Event::Key {
            key,
            physical_key: Some(Key::Slash),
            pressed,
            repeat: false,
            modifiers: Modifiers::NONE,
        };
        let mut pressed = Pressed::default();
        let mut passed = |event| {
            let mut input = RawInput { events: vec![event], ..RawInput::default() };
            pressed.let_go(&mut input);
            input.events
        };
        for _ in 0..2 {
            let down = event(Key::Questionmark, true);
            assert_eq!(passed(down.clone()), [down]);
            let up = event(Key::Slash, false);
            assert_eq!(passed(up.clone()), [up, event(Key::Questionmark, false)]);
        }
        let same = event(Key::Slash, true);
        assert_eq!(passed(same.clone()), [same]);
        let up = event(Key::Slash, false);
        assert_eq!(passed(up.clone()), [up], "nothing is let go twice");
    }
}
