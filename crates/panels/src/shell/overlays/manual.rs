//! The manual, a page at a time.

use crate::shell::Shell;
use crate::shell::action::Action;
use crate::shell::manual::{Block, blocks};
use crate::widgets::form::Form;
use egui::{Align, Label, Layout, RichText, Ui, vec2};

/// Width of what a row of a table is about, as a share of the type size.
const ABOUT: f32 = 11.0;

/// Draws it: the names of all pages, and the one that is read.
pub(super) fn manual_ui(ui: &mut Ui, shell: &Shell, form: &Form, actions: &mut Vec<Action>) {
    let manual = &shell.manual;
    ui.horizontal_wrapped(|ui| {
        for (place, page) in manual.pages.iter().enumerate() {
            let response = ui.selectable_label(place == manual.at, page.title());
            let response = response.accessible_name(format!("manual: {}", page.title()));
            if form.mark(ui, response).clicked() {
                actions.push(Action::ManualPage(place));
            }
        }
    });
    let Some(page) = manual.pages.get(manual.at) else {
        return;
    };
    form.part(ui, page.title());
    let size = form.size();
    for block in blocks(page.text) {
        match block {
            Block::Heading(text) => form.part(ui, &text),
            Block::Paragraph(text) => {
                ui.add(Label::new(text).wrap());
                ui.add_space(0.2 * size);
            }
            Block::Point(text) => beside(ui, 1.0 * size, "•", &text),
            Block::Row(about, rest) => beside(ui, ABOUT * size, &about, &rest),
            Block::Typed(line) => {
                ui.add(Label::new(RichText::new(line).color(form.theme.soft_ink)).wrap());
            }
        }
    }
}

/// Words, and others behind them that begin so far from the left.
fn beside(ui: &mut Ui, indent: f32, first: &str, rest: &str) {
    ui.with_layout(Layout::left_to_right(Align::Min), |ui| {
        let place = vec2(indent.min(0.4 * ui.available_width()), 0.0);
        ui.allocate_ui_with_layout(place, Layout::top_down(Align::Min), |ui| {
            ui.set_width(place.x);
            ui.add(Label::new(first).wrap());
        });
        ui.add(Label::new(rest).wrap());
    });
}
