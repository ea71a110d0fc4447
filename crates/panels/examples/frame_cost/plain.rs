//! What pictures are measured by: a sheet of plain text and lines, by egui's own means alone.

use crate::Room;
use egui::{Align2, Color32, FontId, Stroke, Ui, pos2};

/// So many lines of words, with so many words that change from picture to picture as figures do.
const LINES: usize = 40;
const CHANGE: usize = 10;
/// So many curves, each of so many points.
const CURVES: usize = 20;
const POINTS: usize = 200;

/// The sheet.
pub(crate) struct Sheet;

impl Room for Sheet {
    fn frame(&mut self) {}

    fn draw(&mut self, ui: &mut Ui) {
        let painter = ui.painter().clone();
        let (page, ink) = (painter.clip_rect(), Color32::BLACK);
        let picture = ui.ctx().cumulative_pass_nr();
        for line in 0..LINES {
            let at = pos2(page.left(), page.top() + page.height() * line as f32 / LINES as f32);
            let changes = if line < CHANGE { picture } else { 0 };
            let words = format!("Line {line} of a sheet of plain text, {changes} times changed");
            painter.text(at, Align2::LEFT_TOP, words, FontId::proportional(14.0), ink);
        }
        for curve in 0..CURVES {
            let high = page.top() + page.height() * curve as f32 / CURVES as f32;
            let point = |at: usize| {
                let along = at as f32 / POINTS as f32;
                pos2(page.left() + page.width() * along, high + 10.0 * (40.0 * along).sin())
            };
            painter.line((0..POINTS).map(point).collect(), Stroke::new(1.5, ink));
        }
    }
}
