//! The oscillation strip: every cycle one bar, as long as its period and as tall as its width.

use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::painter;
use crate::widgets::terms::explained;
use egui::{Rect, Role, Sense, Ui, WidgetInfo};
use pictures::sheet::Times;
use pictures::strip::{oscillation_strip, oscillations_seen};

/// Draws the strip into `area`.
pub(super) fn oscillation_strip_ui(
    ui: &mut Ui,
    area: Rect,
    times: &Times,
    stand: &Stand,
    theme: &Theme,
) {
    let response = ui.allocate_rect(area, Sense::hover());
    let played = &stand.picture().played;
    response.widget_info(|| {
        let count = oscillations_seen(times, played);
        let said = format!("oscillation strip: {count} oscillations in {:.0} s", times.span.0);
        WidgetInfo::labeled(Role::Image, true, said)
    });
    explained(response, "oscillation strip", theme);
    if ui.is_rect_visible(area) {
        let clip = ui.clip_rect();
        painter::show(ui, area, clip, theme, |p| oscillation_strip(p, area, times, played));
    }
}
