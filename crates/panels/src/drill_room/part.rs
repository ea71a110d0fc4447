//! The words above a part of the findings.

use super::RoomContext;
use egui::{Label, RichText, Ui};

/// A caption over a part of the page.
pub(super) fn part_ui(ui: &mut Ui, text: &str, context: &RoomContext) {
    let theme = context.theme;
    ui.add_space(0.5 * theme.sizes.caption);
    let text = RichText::new(text).font(theme.word_font(theme.sizes.caption)).color(theme.soft_ink);
    ui.add(Label::new(text).wrap());
}
