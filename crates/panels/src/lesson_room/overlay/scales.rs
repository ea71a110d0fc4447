//! The scales around the sheet: cents at the right, seconds or oscillations at the foot; and the strip of widths
//! below it.

use super::MODEL_PEN;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Align2, Painter, Pos2, Rangef, Rect, Shape, Stroke, pos2};
use pictures::sheet::{Sheet, Times};
use tuning::{Cents, Secs, figure};

/// What the height of the strip of widths may stand for, in cents.
const TOPS: [f64; 6] = [20.0, 40.0, 80.0, 150.0, 300.0, 500.0];
/// Distances of the marks along the foot: seconds or oscillations.
const STEPS: [f64; 7] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0];
/// Distances of the marks at the right, in cents.
const CENTS: [f64; 6] = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0];

/// The note's line and lines around it, with their cents at the right.
pub(super) fn cents(painter: &Painter, sheet: &Sheet, theme: &Theme) {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let (low, high) = (sheet.middle.0 - sheet.reach.0, sheet.middle.0 + sheet.reach.0);
    let cent = f64::from(sheet.y.span()) / (high - low);
    let step = CENTS
        .into_iter()
        .find(|step| step * cent >= f64::from(1.5 * size))
        .unwrap_or(CENTS[CENTS.len() - 1]);
    for mark in (low / step).ceil() as i32..=(high / step).floor() as i32 {
        let cents = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(cents));
        let stroke = if mark == 0 { theme.rule_stroke() } else { theme.hairline_stroke() };
        painter.hline(sheet.times.x, y, stroke);
        if y > sheet.y.max - 0.7 * size {
            // The strip of widths has its own number there.
            continue;
        }
        let at = pos2(sheet.times.x.max + 0.4 * size, y);
        painter.text(
            at,
            Align2::LEFT_CENTER,
            figure::signed(cents, 0),
            font.clone(),
            theme.soft_ink,
        );
    }
}

/// Seconds or oscillations along the foot of all that stands one below another over `y`.
pub(super) fn along(painter: &Painter, times: &Times, y: Rangef, unit: &str, theme: &Theme) {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let whole = Rect::from_x_y_ranges(times.x, y);
    let (from, to) = (times.oldest().0, times.newest.0);
    let second = f64::from(times.x.span()) / (to - from);
    let step = STEPS
        .into_iter()
        .find(|step| step * second >= f64::from(3.0 * size))
        .unwrap_or(STEPS[STEPS.len() - 1]);
    let said = |at: f64| {
        if step < 1.0 { format!("{at:.1}") } else { format!("{at:.0}") }
    };
    let right = whole.right() - pen::width(painter, unit, font.clone()) - size;
    for mark in (from / step).ceil() as i32..=(to / step).floor() as i32 {
        let at = f64::from(mark) * step;
        let x = times.x_from_secs(Secs(at));
        painter.vline(x, whole.y_range(), theme.hairline_stroke());
        if x < right {
            let place = pos2(x, whole.bottom() + 0.1 * size);
            painter.text(place, Align2::CENTER_TOP, said(at), font.clone(), theme.soft_ink);
        }
    }
    let place = pos2(whole.right(), whole.bottom() + 0.1 * size);
    painter.text(place, Align2::RIGHT_TOP, unit, font, theme.soft_ink);
}

/// How the width runs through a note of both: where, and how wide.
pub(super) struct Widths {
    /// The model's.
    pub model: Vec<(f64, Cents)>,
    /// The echo's.
    pub echo: Vec<(f64, Cents)>,
}

/// How the width runs through notes of both, in lines.
pub(super) fn widths(painter: &Painter, lane: Rect, times: &Times, all: &[Widths], theme: &Theme) {
    let size = theme.sizes.scale;
    let each = || all.iter().flat_map(|notes| notes.model.iter().chain(&notes.echo));
    let widest = each().fold(0.0, |most: f64, (_, width)| most.max(width.0));
    let top = TOPS.into_iter().find(|top| widest <= *top).unwrap_or(TOPS[TOPS.len() - 1]);
    let place = |&(at, width): &(f64, Cents)| {
        let share = (width.0 / top).clamp(0.0, 1.0) as f32;
        pos2(times.x_from_secs(Secs(at)), lane.bottom() - share * lane.height())
    };
    painter.hline(lane.x_range(), lane.bottom(), theme.rule_stroke());
    painter.hline(lane.x_range(), lane.top(), theme.hairline_stroke());
    let font = theme.word_font(size);
    let beside = pos2(lane.left() - 0.4 * size, lane.center().y);
    painter.text(beside, Align2::RIGHT_CENTER, "width", font.clone(), theme.soft_ink);
    let at = pos2(lane.right() + 0.4 * size, lane.top());
    painter.text(at, Align2::LEFT_CENTER, format!("{top:.0}"), font, theme.soft_ink);
    let thick = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
    let thin = Stroke::new(theme.sizes.pen, theme.ink);
    for notes in all {
        for (line, stroke) in [(&notes.model, thick), (&notes.echo, thin)] {
            let places: Vec<Pos2> = line.iter().map(place).collect();
            if places.len() > 1 {
                painter.add(Shape::line(places, stroke));
            }
        }
    }
}
