//! Pages that are longer than the window, turned by keys.

use egui::accesskit;
use egui::style::ScrollAnimation;
use egui::{Key, Modifiers, Role, Ui, vec2};

/// The keys of a page-turner pedal, and two that no pedal sends: up, down.
pub(crate) const PEDAL: [Key; 2] = [Key::PageUp, Key::PageDown];
/// For pages on which the keys of pedals have a use of their own.
pub(crate) const HOME_END: [Key; 2] = [Key::Home, Key::End];

/// Tells a screen reader that what `ui` holds is scrolled, and which part of the window it is seen in. To be called
/// within the scroll area, first of all.
pub(crate) fn tell_scrolled(ui: &Ui) {
    let seen = ui.clip_rect();
    ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
        node.set_role(Role::ScrollView);
        let [x0, y0, x1, y1] =
            [seen.left(), seen.top(), seen.right(), seen.bottom()].map(f64::from);
        node.set_bounds(accesskit::Rect { x0, y0, x1, y1 });
    });
}

/// Turns what is scrolled by so many points for each of `keys`, unless something is written, or a sheet lies over it.
/// To be called within the scroll area.
pub(crate) fn turn_pages(ui: &Ui, by: f32, keys: [Key; 2]) {
    let covered = ui.memory(|memory| memory.top_modal_layer());
    if ui.ctx().text_edit_focused() || covered.is_some_and(|over| over != ui.layer_id()) {
        return;
    }
    for (key, by) in keys.into_iter().zip([by, -by]) {
        if ui.input_mut(|input| input.consume_key(Modifiers::NONE, key)) {
            ui.scroll_with_delta_animation(vec2(0.0, by), ScrollAnimation::none());
        }
    }
}
