//! The metronome to be seen: a mark for each beat of the bar, the one that sounds filled.

use crate::stand::Stand;
use crate::theme::Theme;
use egui::{Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

/// A mark's size, as a share of the height of a main figure, and from one to the next of that.
const MARK: f32 = 0.36;
const STEP: f32 = 1.5;
/// No more marks than this are drawn; of a longer bar the beats are counted round.
const MOST: u32 = 12;

/// How wide the marks are; 0 while the metronome is off.
pub(super) fn width(stand: &Stand, theme: &Theme) -> f32 {
    if !stand.shell.beat_on {
        return 0.0;
    }
    marks(stand) as f32 * STEP * MARK * theme.sizes.figure_height
}

fn marks(stand: &Stand) -> u32 {
    stand.shell.options().beat.bar.clamp(1, MOST)
}

/// Which mark is filled.
fn place(stand: &Stand) -> Option<u32> {
    let (place, count) = stand.shell.beat?;
    let marks = marks(stand);
    // A bar of one beat alone would stay filled: it blinks instead.
    if marks == 1 {
        return count.is_multiple_of(2).then_some(0);
    }
    Some(place % marks)
}

/// Draws the marks into `area`.
pub(super) fn beat_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    if !stand.shell.beat_on {
        return;
    }
    let beat = stand.shell.options().beat;
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| {
        let said = format!("metronome: {} beats a minute, {} in a bar", beat.bpm, beat.bar);
        let mut info = WidgetInfo::labeled(Role::Meter, true, said);
        info.value = stand.shell.beat.map(|(place, _)| f64::from(place + 1));
        info
    });
    let marks = marks(stand);
    let step = area.width() / marks as f32;
    let radius = 0.5 * (step / STEP).min(area.height() - 2.0);
    let now = place(stand);
    let stroke = Stroke::new(theme.sizes.rule, theme.soft_ink);
    for mark in 0..marks {
        let at = pos2(area.left() + (mark as f32 + 0.5) * step, area.center().y);
        let full = now == Some(mark);
        let fill = if full { theme.ink } else { theme.paper };
        // The first of the bar is a lozenge.
        if mark == 0 && marks > 1 {
            let reach = 1.15 * radius;
            let corners = vec![
                at + vec2(0.0, -reach),
                at + vec2(reach, 0.0),
                at + vec2(0.0, reach),
                at + vec2(-reach, 0.0),
            ];
            ui.painter().add(Shape::convex_polygon(corners, fill, stroke));
        } else {
            let reach = if full { radius } else { 0.75 * radius };
            ui.painter().circle(at, reach, fill, stroke);
        }
    }
}
