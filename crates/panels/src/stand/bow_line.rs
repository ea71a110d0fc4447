//! The bow line: loudness over the axis of time, and where the bow started anew.

use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::painter;
use crate::widgets::terms::explained;
use egui::{Rect, Role, Sense, Ui, WidgetInfo};
use pictures::bow_line;
use pictures::sheet::Times;

/// Draws the bow line into `area`.
pub(super) fn bow_line_ui(ui: &mut Ui, area: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    let played = &stand.picture().played;
    response.widget_info(|| {
        let oldest = times.oldest();
        let count = played.rebows.iter().filter(|&&time| time >= oldest).count();
        let said = match count {
            0 => "bow line: no bow change within a note".to_owned(),
            1 => "bow line: 1 bow change within a note".to_owned(),
            _ => format!("bow line: {count} bow changes within notes"),
        };
        WidgetInfo::labeled(Role::Image, true, said)
    });
    explained(response, "bow line", theme);
    if ui.is_rect_visible(area) {
        let clip = ui.clip_rect();
        painter::show(ui, area, clip, theme, |p| bow_line(p, area, times, played));
    }
}
