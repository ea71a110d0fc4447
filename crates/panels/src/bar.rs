//! The row of keys at the foot of the Stand.

use crate::keys::Command;
use crate::stand::{Action, Stand};
use crate::theme::Theme;
use egui::{Rect, Ui};

/// Draws the row into `area` and says what was asked for.
pub fn bar_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let shown = stand.options().keys.shown(Command::Keys).unwrap_or("");
    let text = egui::RichText::new(format!("Keys {shown}"))
        .font(theme.word_font(theme.sizes.caption))
        .color(theme.soft_ink);
    let clicked = ui.put(area, egui::Button::new(text)).clicked();
    clicked
        .then_some(Action::Do(Command::Keys))
        .into_iter()
        .collect()
}
