//! The words above a part of the findings.

use super::Sight;
use egui::{Label, RichText, Ui};

/// A caption over a part of the page.
pub(super) fn part_ui(ui: &mut Ui, text: &str, sight: &Sight) {
    let theme = sight.theme;
    ui.add_space(0.5 * theme.sizes.caption);
    let text = RichText::new(text).font(theme.word_font(theme.sizes.caption)).color(theme.soft_ink);
    ui.add(Label::new(text).wrap());
}
