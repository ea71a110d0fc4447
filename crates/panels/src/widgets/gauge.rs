//! A gauge in the window.

use super::painter;
use super::terms::explained;
use crate::theme::Theme;
use egui::{Rect, Role, Sense, Ui, WidgetInfo};
use pictures::gauge::{self, Gauge, Reading};

/// Draws `gauge` into `area`.
pub(crate) fn gauge_ui(ui: &mut Ui, area: Rect, gauge: &Gauge, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Meter, true, gauge.spoken());
        if let Reading::Value { value, .. } = gauge.reading {
            info.value = Some(value);
        }
        info
    });
    explained(response, gauge.name, theme);
    if ui.is_rect_visible(area) {
        // The feet of the numbers reach a little into the room between the parts.
        let clip = area.expand(theme.sizes.between / 2.0);
        painter::show(ui, area, clip, theme, |picture| gauge::gauge(picture, area, gauge));
    }
}
