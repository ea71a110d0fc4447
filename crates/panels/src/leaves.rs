//! The sheets that lie over the Stand: the list of keys, the settings, the sound.

use crate::keys::ENTRIES;
use crate::stand::{Action, Leaf, Stand};
use crate::theme::Theme;
use egui::Ui;

/// The sheet that is open.
pub fn leaf_ui(ui: &mut Ui, stand: &Stand, theme: &Theme) -> Vec<Action> {
    match stand.leaf {
        Some(Leaf::Keys) => keys_list(ui, theme),
        _ => Vec::new(),
    }
}

/// The list of keys; each line can be clicked as well.
fn keys_list(ui: &mut Ui, theme: &Theme) -> Vec<Action> {
    let mut asked = Vec::new();
    egui::Window::new("Keys")
        .title_bar(false)
        .resizable(false)
        .anchor(egui::Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .frame(
            egui::Frame::new()
                .fill(theme.patch)
                .inner_margin(theme.sizes.margin),
        )
        .show(ui.ctx(), |ui| {
            for entry in &ENTRIES {
                if ui.button(entry.said).clicked() {
                    asked.push(Action::Do(entry.command));
                }
            }
        });
    asked
}
