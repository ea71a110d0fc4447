//! The bow line: loudness over the axis of time, and where the bow started anew.

use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::plot_area::Point;
use crate::widgets::plot_area::{self, Times};
use egui::{Align2, Pos2, Rangef, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2};
use tuning::figure;

/// The levels at the foot and at the top, in dB below full scale.
const FOOT_DBFS: f64 = -60.0;
const TOP_DBFS: f64 = 0.0;
/// Half the side of the mark of a bow change, as a share of the type size of scales.
const MARK: f32 = 0.3;

/// Where a level lies, in points from the top of the window.
fn y_from_dbfs(lane: Rangef, level: f64) -> f32 {
    let share = (level - FOOT_DBFS) / (TOP_DBFS - FOOT_DBFS);
    lane.max - share.clamp(0.0, 1.0) as f32 * lane.span()
}

/// Draws the bow line into `area`.
pub(super) fn bow_line_ui(ui: &mut Ui, area: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    let picture = stand.picture();
    response.widget_info(|| {
        let oldest = times.oldest();
        let count = picture.rebows.iter().filter(|&&time| time >= oldest).count();
        let said = match count {
            0 => "bow line: no bow change within a note".to_owned(),
            1 => "bow line: 1 bow change within a note".to_owned(),
            _ => format!("bow line: {count} bow changes within notes"),
        };
        WidgetInfo::labeled(Role::Image, true, said)
    });
    if !ui.is_rect_visible(area) {
        return;
    }
    let lane = Rect::from_x_y_ranges(times.x, area.top() + 4.0..=area.bottom() - 2.0);
    let painter = ui.painter();
    let small = theme.word_font(theme.sizes.scale);
    let beside = pos2(lane.left() - 8.0, lane.center().y);
    painter.text(beside, Align2::RIGHT_CENTER, "bow", small.clone(), theme.soft_ink);
    painter.hline(lane.x_range(), lane.bottom(), theme.rule_stroke());
    let y = y_from_dbfs(lane.y_range(), -20.0);
    painter.hline(lane.right()..=lane.right() + 5.0, y, theme.rule_stroke());
    let said = format!("{} dB", figure::signed(-20.0, 0));
    let at = pos2(lane.right() + 9.0, y);
    painter.text(at, Align2::LEFT_CENTER, said, small, theme.soft_ink);

    let level = |point: &Point| Some(point.level_dbfs.max(FOOT_DBFS));
    let mut note_at = picture.notes_in_order();
    let seen = times.seen(&picture.points);
    let on_sheet = ui.painter_at(Rect::from_x_y_ranges(times.x, area.y_range()));
    for line in plot_area::lines(seen, times, level, |time| note_at(time).is_some()) {
        let stroke = if line.sure {
            Stroke::new(0.7 * theme.sizes.pen, theme.soft_ink)
        } else {
            Stroke::new(theme.sizes.thin_pen, theme.rule)
        };
        let places: Vec<Pos2> = line
            .corners
            .iter()
            .map(|&(time, level)| pos2(times.x_from_secs(time), y_from_dbfs(lane.y_range(), level)))
            .collect();
        match places[..] {
            [only] => on_sheet.circle_filled(only, stroke.width / 2.0, stroke.color),
            _ => on_sheet.line(places, stroke),
        };
    }
    let half = MARK * theme.sizes.scale;
    for &time in &picture.rebows {
        let x = times.x_from_secs(time);
        if !times.x.contains(x) {
            continue;
        }
        painter.vline(x, lane.y_range(), Stroke::new(theme.sizes.rule, theme.ink));
        let top = lane.top();
        painter.add(egui::Shape::convex_polygon(
            vec![pos2(x - half, top), pos2(x + half, top), pos2(x, top + 1.6 * half)],
            theme.ink,
            Stroke::NONE,
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn louder_lies_higher_and_nothing_leaves_the_lane() {
        let lane = Rangef::new(100.0, 160.0);
        assert_eq!(y_from_dbfs(lane, 0.0), 100.0);
        assert_eq!(y_from_dbfs(lane, -30.0), 130.0);
        assert_eq!(y_from_dbfs(lane, -60.0), 160.0);
        assert_eq!(y_from_dbfs(lane, -120.0), 160.0);
        assert_eq!(y_from_dbfs(lane, 6.0), 100.0);
    }
}
