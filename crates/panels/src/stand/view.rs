//! The Stand as it is drawn: a picture of [`Stand`] that says what the player asked for.

use super::layout::{LEAST_WIDTH, Layout};
use super::state::{Action, Stand};
use crate::gauge::{self, gauge_ui};
use crate::{bar, keys, leaves, level_meter, measures_strip, note_head, question, theme, trace};
use egui::{CentralPanel, Frame, Rect, ScrollArea, Ui};

/// Draws the Stand over the whole window and says what was asked for.
pub fn stand_ui(ui: &mut Ui, stand: &Stand) -> Vec<Action> {
    theme::lay(ui.ctx(), stand.options().paper);
    let theme = &stand.options().paper.theme();
    let mut asked = keys::pressed(ui, stand);
    CentralPanel::default()
        .frame(Frame::new().fill(theme.paper))
        .show(ui, |ui| {
            let room = ui.available_rect_before_wrap();
            ScrollArea::both()
                .auto_shrink(false)
                .show_viewport(ui, |ui, _| {
                    let width = room.width().max(LEAST_WIDTH);
                    let height = room.height().max(Layout::least_height(width, theme));
                    let size = egui::vec2(width, height);
                    let area = Rect::from_min_size(ui.min_rect().min, size);
                    let layout = Layout::of(area, theme);
                    note_head::note_head_ui(ui, layout.note, stand, theme);
                    level_meter::level_meter_ui(ui, layout.words, stand, theme);
                    if stand.revealed() {
                        trace::trace_ui(ui, layout.trace, stand, theme);
                    }
                    asked.extend(question::question_ui(ui, layout.trace, stand, theme));
                    gauge_ui(ui, layout.rate, &gauge::rate(stand), theme);
                    gauge_ui(ui, layout.width, &gauge::width(stand), theme);
                    measures_strip::measures_strip_ui(ui, layout.strip, stand, theme);
                    asked.extend(bar::bar_ui(ui, layout.keys, stand, theme));
                    if size != room.size() {
                        ui.allocate_rect(area, egui::Sense::hover());
                    }
                });
        });
    asked.extend(leaves::leaf_ui(ui, stand, theme));
    asked
}
