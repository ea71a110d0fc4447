//! The round as a whole: the course of the pitch through all turns, with the gap at each change.

use super::part::part_ui;
use super::wave::{played, whole};
use super::{RoomContext, wording};
use crate::widgets::pen;
use coach::{Drill, Judged};
use egui::{Align2, Painter, Rangef, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};
use pictures::played::Point;
use pictures::sheet::Sheet;
use tuning::{Cents, Secs, figure};

/// Height of the picture, in heights of a word.
const HEIGHT: f32 = 7.5;
/// Sound that is shown around the round.
const AROUND: Secs = Secs(0.15);
/// The least the picture reaches up and down.
const LEAST: Cents = Cents(20.0);

/// Draws the picture across `ui`.
pub(super) fn changes_ui(ui: &mut Ui, drill: &Drill, round: &Judged, context: &RoomContext) {
    let course = context.room.course();
    let (Some(first), Some(last)) = (round.turns.first(), round.turns.last()) else {
        return;
    };
    if course.points().is_empty() {
        return;
    }
    if context.room.all_measures() {
        part_ui(ui, "The round: cents around each note, and the gap at each change.", context);
    }
    let theme = context.theme;
    let sizes = &theme.sizes;
    let size = vec2(ui.available_width(), HEIGHT * sizes.word + 2.2 * sizes.caption);
    let (area, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(round)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let midis: Vec<i32> = round.asked.iter().map(|asked| asked.midi).collect();
    let reach = Cents((1.25 * course.reach(&midis).0).max(LEAST.0));
    let x = Rangef::new(area.left(), area.right() - 2.6 * sizes.scale);
    let sheet = Sheet {
        times: whole(x, Secs(first.start.0 - AROUND.0), Secs(last.end.0 + AROUND.0)),
        y: Rangef::new(area.top() + 1.5 * sizes.word, area.bottom() - 1.7 * sizes.caption),
        middle: Cents(0.0),
        reach,
    };
    let painter = ui.painter_at(area);
    painter.hline(x, sheet.y_from_cents(Cents(0.0)), theme.rule_stroke());
    for away in [(0.6 * reach.0).round(), -(0.6 * reach.0).round()] {
        let y = sheet.y_from_cents(Cents(away));
        painter.hline(x, y, theme.hairline_stroke());
        let at = pos2(x.max + 4.0, y);
        let font = theme.word_font(sizes.scale);
        painter.text(at, Align2::LEFT_CENTER, figure::signed(away, 0), font, theme.soft_ink);
    }
    gaps(&painter, &sheet, area, drill, round, context);
    turns(&painter, &sheet, area, round, context);
    let mut line_at = course.lines(&midis);
    let points: Vec<(Point, Option<f64>)> = sheet
        .times
        .seen(course.points())
        .filter(|point| point.time <= sheet.times.newest)
        .map(|point| {
            let away = line_at(point.time).zip(point.pitch);
            (*point, away.map(|(line, pitch)| pitch.0 - line.0))
        })
        .collect();
    let inside = ui.painter_at(sheet.rect().intersect(ui.clip_rect()));
    played(&inside, &sheet, &points, 0.8 * sizes.pen, theme.ink);
}

/// What a screen reader says.
fn spoken(round: &Judged) -> String {
    let changes: Vec<String> = round
        .turns
        .windows(2)
        .filter_map(|pair| {
            let gap = pair[0].gap?;
            let sign = |turn: &coach::Played| wording::sign(round.asked[turn.asked].finger);
            Some(format!("{} to {} {:.2} s", sign(&pair[0]), sign(&pair[1]), gap.value.0))
        })
        .collect();
    if changes.is_empty() {
        "the course of the round".to_owned()
    } else {
        format!("the course of the round; gaps: {}", changes.join(", "))
    }
}

/// Where each turn begins, with its finger.
fn turns(painter: &Painter, sheet: &Sheet, area: Rect, round: &Judged, context: &RoomContext) {
    let theme = context.theme;
    for turn in &round.turns {
        let left = sheet.times.x_from_secs(turn.start);
        painter.vline(left, area.top()..=sheet.y.max, theme.rule_stroke());
        let font = theme.figure_font(1.15 * theme.sizes.word);
        let sign = wording::sign(round.asked[turn.asked].finger);
        let foot = pos2(left + 6.0, area.top() + 1.1 * theme.sizes.word);
        pen::write(painter, foot, &sign, font, theme.ink);
    }
}

/// A bar as long as each gap, centred under its change, with its length; beside it the longest let pass.
fn gaps(
    painter: &Painter,
    sheet: &Sheet,
    area: Rect,
    drill: &Drill,
    round: &Judged,
    context: &RoomContext,
) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    // A stop that is asked for is no gap.
    if drill.stops() {
        return;
    }
    let may_gap = wording::may_gap(drill, context.room.fingers());
    let high = 0.35 * sizes.scale;
    let mut free = area.left();
    for pair in round.turns.windows(2) {
        let Some(gap) = pair[0].gap.map(|gap| gap.value) else {
            continue;
        };
        let x = sheet.times.x_from_secs(pair[1].start);
        let per_sec = sheet.times.x.span() / sheet.times.span.0 as f32;
        let long = gap.0 as f32 * per_sec;
        let limit = pair[0].gap_limit(drill, &round.asked).filter(|_| may_gap);
        let over = limit.is_some_and(|limit| gap.0 >= limit.0);
        let top = sheet.y.max + 3.0;
        let bar = Rect::from_min_max(pos2(x - long / 2.0, top), pos2(x + long / 2.0, top + high));
        if over {
            let column = bar.with_min_y(sheet.y.min).with_max_y(sheet.y.max);
            painter.rect_filled(column, 0.0, theme.faded(theme.attention, 0.16));
        }
        let ink = if over { theme.attention } else { theme.rule };
        painter.rect_filled(bar, 0.0, ink);
        painter.vline(x, top - 3.0..=top + high + 2.0, Stroke::new(sizes.rule, ink));
        let said = if gap.0 < 0.005 { "no gap".to_owned() } else { format!("gap {:.2} s", gap.0) };
        let font = theme.word_font(sizes.scale);
        let wide = pen::width(painter, &said, font.clone());
        let left = (x - wide / 2.0).clamp(area.left(), area.right() - wide);
        if left >= free {
            let foot = pos2(left, area.bottom() - 0.3 * sizes.scale);
            let ink = if over { theme.attention } else { theme.soft_ink };
            pen::write(painter, foot, &said, font, ink);
            free = left + wide + 0.6 * sizes.scale;
        }
    }
}
