//! Pictures over days: which days they show, and how they stand in the window.

use super::Span;
use crate::theme::Theme;
use crate::widgets::painter;
use egui::{Rect, Role, Sense, Ui, WidgetInfo, vec2};
use journal::Day;
use pictures::Picture;

/// So many days are shown at least.
const LEAST_DAYS: f64 = 14.0;

/// The days of a span that ends with the last day there is, and begins with the first where that is later.
pub(super) fn days(span: Span, first: Day, last: Day) -> (f64, f64) {
    let to = f64::from(last) + 1.0;
    let from = match span.days() {
        // A first week is not a dot at the edge of twelve empty ones.
        Some(days) => (to - f64::from(days)).max(f64::from(first).min(to - LEAST_DAYS)),
        None => f64::from(first).min(to - 28.0),
    };
    (from, to)
}

/// A picture over days, so high, with what a screen reader says of it.
pub(super) fn plot_ui(
    ui: &mut Ui,
    spoken: &str,
    height: f32,
    theme: &Theme,
    make: impl FnOnce(&mut Picture, Rect),
) {
    let (area, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken));
    if ui.is_rect_visible(area) {
        let clip = ui.clip_rect();
        painter::show(ui, area, clip, theme, |picture| make(picture, area));
    }
}
