//! What a ladder or a walk asked for and what was reached, in the plane of rate and width.

use super::part::part_ui;
use super::{RoomContext, wording};
use crate::widgets::pen;
use coach::{Drill, Judged};
use egui::{Align2, Pos2, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};
use pictures::{RATE, WIDTH};
use tuning::{Cents, Hz};

/// Height of the picture and its most width, in heights of a word.
const SIZE: egui::Vec2 = vec2(34.0, 13.0);
/// Half a step's mark: a step is one value, and is reached within a share of it (see `coach`).
const RATE_SHARE: f64 = 0.1;
const WIDTH_SHARE: f64 = 0.25;

fn place(plane: Rect, rate: Hz, width: Cents) -> Pos2 {
    pos2(
        plane.left() + RATE.share(rate.0) * plane.width(),
        plane.bottom() - WIDTH.share(width.0) * plane.height(),
    )
}

/// Draws the picture across `ui`, for drills that have steps or regions.
pub(super) fn plane_ui(ui: &mut Ui, drill: &Drill, round: &Judged, context: &RoomContext) {
    if !wording::walks(drill) {
        return;
    }
    part_ui(ui, "Asked for (outlined) and reached (points).", context);
    let theme = context.theme;
    let sizes = &theme.sizes;
    let size = (SIZE * sizes.word).min(vec2(ui.available_width(), f32::INFINITY));
    let (area, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| {
        let all: Vec<String> = round
            .turns
            .iter()
            .enumerate()
            .map(|(number, turn)| {
                let step = wording::step(drill, &round.asked[turn.asked]);
                match (turn.rate, turn.width) {
                    (Some(rate), Some(width)) => format!(
                        "{} {step}: {:.1} Hz, {:.0} cents",
                        number + 1,
                        rate.value.0,
                        width.value.0
                    ),
                    _ => format!("{} {step}: unknown", number + 1),
                }
            })
            .collect();
        let said = format!("asked for and reached: {}", all.join("; "));
        WidgetInfo::labeled(Role::Image, true, said)
    });
    if !ui.is_rect_visible(area) {
        return;
    }
    let painter = ui.painter_at(area);
    let plane = Rect::from_min_max(
        area.min + vec2(2.6 * sizes.scale, 0.6 * sizes.scale),
        area.max - vec2(0.8 * sizes.scale, 2.9 * sizes.scale),
    );
    let small = theme.word_font(sizes.scale);
    for value in RATE.written {
        let x = place(plane, Hz(*value), Cents(0.0)).x;
        painter.vline(x, plane.y_range(), theme.hairline_stroke());
        let at = pos2(x, plane.bottom() + 3.0);
        painter.text(at, Align2::CENTER_TOP, format!("{value:.0}"), small.clone(), theme.soft_ink);
    }
    for value in WIDTH.written {
        let y = place(plane, Hz(0.0), Cents(*value)).y;
        painter.hline(plane.x_range(), y, theme.hairline_stroke());
        let at = pos2(plane.left() - 5.0, y);
        painter.text(
            at,
            Align2::RIGHT_CENTER,
            format!("{value:.0}"),
            small.clone(),
            theme.soft_ink,
        );
    }
    let at = pos2(plane.center().x, area.bottom());
    painter.text(
        at,
        Align2::CENTER_BOTTOM,
        "rate in Hz, width in cents",
        small.clone(),
        theme.soft_ink,
    );
    for asked in &round.asked {
        let (Some(rate), Some(width)) = (asked.rate, asked.width) else {
            continue;
        };
        let around = |(low, high): (f64, f64), share: f64| {
            if low == high { (low * (1.0 - share), high * (1.0 + share)) } else { (low, high) }
        };
        let rate = around((rate.0.0, rate.1.0), RATE_SHARE);
        let width = around((width.0.0, width.1.0), WIDTH_SHARE);
        let region = Rect::from_two_pos(
            place(plane, Hz(rate.0), Cents(width.0)),
            place(plane, Hz(rate.1), Cents(width.1)),
        );
        let stroke = Stroke::new(sizes.rule, theme.oscillation);
        painter.rect_stroke(region, 2.0, stroke, StrokeKind::Inside);
        let step = wording::step(drill, asked);
        let font =
            pen::fitting(&painter, &step, small.clone(), region.width().max(5.0 * sizes.scale));
        painter.text(
            region.left_top() + vec2(4.0, 2.0),
            Align2::LEFT_TOP,
            step,
            font,
            theme.soft_ink,
        );
    }
    for (number, turn) in round.turns.iter().enumerate() {
        let (Some(rate), Some(width)) = (turn.rate, turn.width) else {
            continue;
        };
        let at = place(plane, rate.value, width.value);
        painter.circle_filled(at, 2.0 * sizes.mark, theme.ink);
        let font = theme.word_font(sizes.caption);
        let beside = at + vec2(2.8 * sizes.mark, 0.0);
        painter.text(beside, Align2::LEFT_CENTER, (number + 1).to_string(), font, theme.ink);
    }
}
