//! The oscillation strip: every cycle one bar, as long as its period and as tall as its width.

use crate::stand::picture::Picture;
use crate::stand::state::Stand;
use crate::theme::Theme;
use crate::widgets::plot_area::Times;
use egui::{Align2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2};
use tuning::{Cents, Secs};
use vibrato::Oscillation;

/// What the full height may stand for, in cents: the least that all cycles of the sheet fit into, so
/// that it changes seldom.
const TOPS: [f64; 6] = [20.0, 40.0, 80.0, 150.0, 300.0, 500.0];
/// Paper between two bars, in points.
const APART: f32 = 1.0;

/// Width of one cycle.
fn width(oscillation: &Oscillation) -> Cents {
    Cents(oscillation.crest.0 - oscillation.trough.0)
}

/// The cycles that belong to a vibrato.
fn cycles(picture: &Picture) -> impl Iterator<Item = &Oscillation> {
    let mut note_at = picture.notes_in_order();
    picture.strip.iter().filter(move |oscillation| {
        let middle = Secs(oscillation.start.0 + oscillation.period.0 / 2.0);
        note_at(middle).is_none_or(|note| !note.straight)
    })
}

/// What the full height stands for.
fn top(picture: &Picture) -> Cents {
    let widest = cycles(picture).fold(0.0, |most: f64, cycle| most.max(width(cycle).0));
    let fits = |top: &f64| widest <= *top;
    Cents(TOPS.into_iter().find(fits).unwrap_or(TOPS[TOPS.len() - 1]))
}

/// The bar of one cycle in `lane`, whose full height stands for `top`; `None` off the sheet.
fn bar(oscillation: &Oscillation, lane: Rect, times: &Times, top: Cents) -> Option<Rect> {
    let left = times.x_from_secs(oscillation.start);
    let right = times.x_from_secs(Secs(oscillation.start.0 + oscillation.period.0));
    let (left, right) = (left.max(times.x.min), (right - APART).min(times.x.max));
    let share = (width(oscillation).0 / top.0).clamp(0.0, 1.0) as f32;
    let height = (share * lane.height()).max(1.0);
    (right > left)
        .then(|| Rect::from_min_max(pos2(left, lane.bottom() - height), pos2(right, lane.bottom())))
}

/// Draws the strip into `area`.
pub(super) fn oscillation_strip_ui(
    ui: &mut Ui,
    area: Rect,
    times: &Times,
    stand: &Stand,
    theme: &Theme,
) {
    let response = ui.allocate_rect(area, Sense::hover());
    let picture = stand.picture();
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(picture, times)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let lane = Rect::from_x_y_ranges(times.x, area.top() + 2.0..=area.bottom() - 2.0);
    let painter = ui.painter();
    let top = top(picture);
    let small = theme.word_font(theme.sizes.scale);
    let beside = pos2(lane.left() - 8.0, lane.center().y);
    painter.text(beside, Align2::RIGHT_CENTER, "width", small.clone(), theme.soft_ink);
    painter.hline(lane.x_range(), lane.bottom(), theme.rule_stroke());
    painter.hline(lane.x_range(), lane.top(), theme.hairline_stroke());
    painter.hline(lane.right()..=lane.right() + 5.0, lane.top(), theme.rule_stroke());
    let at = pos2(lane.right() + 9.0, lane.top());
    painter.text(at, Align2::LEFT_CENTER, format!("{:.0}", top.0), small, theme.soft_ink);
    let edge = Stroke::new(theme.sizes.hairline, theme.oscillation);
    for cycle in cycles(picture) {
        if let Some(bar) = bar(cycle, lane, times, top) {
            painter.rect(bar, 0.0, theme.doubt, edge, StrokeKind::Inside);
        }
    }
}

fn spoken(picture: &Picture, times: &Times) -> String {
    let oldest = times.oldest();
    let count = cycles(picture).filter(|cycle| cycle.start >= oldest).count();
    format!("oscillation strip: {count} oscillations in {:.0} s", times.span.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::{Rangef, vec2};

    fn cycle(start: f64, period: f64, width: f64) -> Oscillation {
        Oscillation {
            start: Secs(start),
            period: Secs(period),
            crest: Cents(width / 2.0),
            trough: Cents(-width / 2.0),
        }
    }

    fn times() -> Times {
        Times { x: Rangef::new(100.0, 900.0), newest: Secs(18.0), span: Secs(8.0) }
    }

    #[test]
    fn a_bar_is_as_long_as_its_period_and_as_tall_as_its_width() {
        let lane = Rect::from_min_size(pos2(100.0, 500.0), vec2(800.0, 60.0));
        let of = |cycle| bar(&cycle, lane, &times(), Cents(40.0));
        let half = of(cycle(14.0, 0.2, 20.0)).expect("on the sheet");
        assert!((half.left() - 500.0).abs() < 0.01 && (half.width() - 20.0 + APART).abs() < 0.01);
        assert!((half.height() - 30.0).abs() < 0.01 && half.bottom() == lane.bottom());
        let taller = of(cycle(14.0, 0.2, 90.0)).expect("on the sheet");
        assert_eq!(taller.height(), 60.0, "never beyond the strip");
        assert_eq!(of(cycle(9.0, 0.2, 20.0)), None, "before the left edge");
        let cut = of(cycle(9.9, 0.2, 20.0)).expect("half of it");
        assert_eq!(cut.left(), 100.0);
    }

    #[test]
    fn the_height_stands_for_the_least_that_holds_all() {
        let mut picture = Picture::default();
        assert_eq!(top(&picture), Cents(20.0));
        picture.strip.push_back(cycle(1.0, 0.2, 35.0));
        assert_eq!(top(&picture), Cents(40.0));
        picture.strip.push_back(cycle(1.2, 0.2, 199.0));
        assert_eq!(top(&picture), Cents(300.0));
    }
}
