//! What a ladder or a walk asked for and what was reached, in the plane of rate and width.

use super::part::part_ui;
use super::{RoomContext, wording};
use crate::widgets::painter;
use coach::{Drill, Judged};
use egui::{Role, Sense, Ui, WidgetInfo, vec2};
use pictures::reached::Reached;

/// Height of the picture and its most width, in heights of a word.
const SIZE: egui::Vec2 = vec2(34.0, 13.0);

/// Draws the picture across `ui`, for drills that have steps or regions.
pub(super) fn plane_ui(ui: &mut Ui, drill: &Drill, round: &Judged, context: &RoomContext) {
    if !wording::walks(drill) {
        return;
    }
    part_ui(ui, "Asked for (outlined) and reached (points).", context);
    let theme = context.theme;
    let size = (SIZE * theme.sizes.word).min(vec2(ui.available_width(), f32::INFINITY));
    let (area, response) = ui.allocate_exact_size(size, Sense::hover());
    let reached = Reached::of(drill, round);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &reached.says));
    if ui.is_rect_visible(area) {
        painter::show(ui, area, area, theme, |picture| reached.draw(picture, area));
    }
}
