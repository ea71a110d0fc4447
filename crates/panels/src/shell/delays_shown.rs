//! How late the picture is and what it costs: a small panel for those who want to know.

use crate::shell::Shell;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Id, Rect, Role, Sense, StrokeKind, Ui, WidgetInfo, pos2, vec2};

/// Draws the panel into the lower left corner of `sheet`, if it was asked for.
pub(crate) fn figures_ui(ui: &mut Ui, sheet: Rect, shell: &Shell, theme: &Theme) {
    let Some(figures) = shell.figures else {
        return;
    };
    let lines = [
        format!("delay median {:.0} ms", figures.delay_median_ms),
        format!("delay most {:.0} ms", figures.delay_most_ms),
        format!("work p99 {:.1} ms", figures.work_p99_ms),
        format!("{:.0} pictures a second", figures.pictures_per_sec),
    ];
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let painter = ui.painter();
    let wide = lines.iter().map(|line| pen::width(painter, line, font.clone())).fold(0.0, f32::max);
    let line = 1.3 * size;
    let panel = vec2(wide + 1.2 * size, line * lines.len() as f32 + 0.8 * size);
    let slip = Rect::from_min_size(sheet.left_bottom() - vec2(0.0, panel.y), panel);
    let response = ui.interact(slip, Id::unique("figures"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, lines.join(", ")));
    let painter = ui.painter();
    painter.rect_filled(slip, 2.0, theme.patch);
    painter.rect_stroke(slip, 2.0, theme.hairline_stroke(), StrokeKind::Inside);
    for (index, text) in lines.iter().enumerate() {
        let foot = slip.top() + 0.4 * size + line * (index as f32 + 0.78);
        let at = pos2(slip.left() + 0.6 * size, foot);
        pen::write(painter, at, text, font.clone(), theme.ink);
    }
}
