//! The measures of model and echo, a row each: both values, the difference with its doubt, and the way from
//! the first echo to the last.

use super::state::LessonRoom;
use super::wording;
use crate::theme::Theme;
use crate::widgets::terms::explained;
use crate::widgets::{painter, pen};
use coach::Difference;
use egui::{
    Align2, Id, Painter, Rangef, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use vibrato::Quantity;

/// Height of a row, as a share of the type size.
const ROW: f32 = 1.32;
/// Widths of the columns as shares of the type size; the way takes the rest.
const CAPTION: f32 = 10.2;
const VALUE: f32 = 5.0;
const DIFFERENCE: f32 = 8.2;

/// The quantities that have a row: a gap has none where notes stand alone.
fn shown(room: &LessonRoom) -> impl Iterator<Item = Quantity> {
    let alone = room.lesson().model().is_none_or(|model| model.notes.len() < 2);
    Quantity::compared().filter(move |quantity| !alone || *quantity != Quantity::Gap)
}

/// How high the table is.
pub(super) fn height(room: &LessonRoom, theme: &Theme) -> f32 {
    ROW * theme.sizes.scale * (shown(room).count() + 1) as f32
}

/// Draws the table over the width there is.
pub(super) fn rows_ui(ui: &mut Ui, room: &LessonRoom, theme: &Theme) {
    let size = theme.sizes.scale;
    let wide = ui.available_width();
    let least = (CAPTION + 2.0 * VALUE + DIFFERENCE + 4.0) * size;
    // Where there is less room the type shrinks.
    let size = size * (wide / least).min(1.0);
    let (area, _) = ui.allocate_exact_size(vec2(wide, height(room, theme)), Sense::hover());
    let columns = Columns::of(area, size);
    let painter = ui.painter().clone();
    let echoed = !room.lesson().echoes().is_empty();
    heads(&painter, area, &columns, echoed, size, theme);
    for (number, quantity) in shown(room).enumerate() {
        let top = area.top() + ROW * theme.sizes.scale * (number + 1) as f32;
        let row = Rect::from_min_size(pos2(area.left(), top), vec2(wide, ROW * theme.sizes.scale));
        row_ui(ui, row, room, quantity, &columns, size, theme);
    }
}

struct Columns {
    model: f32,
    echo: f32,
    difference: f32,
    way: Rangef,
}

impl Columns {
    /// Right ends of the columns of numbers, and where the way lies.
    fn of(area: Rect, size: f32) -> Self {
        let model = area.left() + (CAPTION + VALUE) * size;
        let echo = model + VALUE * size;
        let difference = echo + DIFFERENCE * size;
        Self {
            model,
            echo,
            difference,
            way: Rangef::new(difference + 1.6 * size, area.right() - 0.6 * size),
        }
    }
}

fn heads(painter: &Painter, area: Rect, columns: &Columns, echoed: bool, size: f32, theme: &Theme) {
    let font = theme.word_font(size);
    let y = area.top() + 0.5 * ROW * theme.sizes.scale;
    for (right, head) in
        [(columns.model, "model"), (columns.echo, "echo"), (columns.difference, "echo − model")]
    {
        painter.text(pos2(right, y), Align2::RIGHT_CENTER, head, font.clone(), theme.soft_ink);
    }
    let head = "first echo (ring) to last (full); the line is the model";
    let font = pen::fitting(painter, head, font, columns.way.span());
    if echoed && font.size > 0.6 * size {
        painter.text(
            pos2(columns.way.center(), y),
            Align2::CENTER_CENTER,
            head,
            font,
            theme.soft_ink,
        );
    }
    painter.hline(area.x_range(), area.top() + ROW * theme.sizes.scale, theme.rule_stroke());
}

fn row_ui(
    ui: &mut Ui,
    row: Rect,
    room: &LessonRoom,
    quantity: Quantity,
    columns: &Columns,
    size: f32,
    theme: &Theme,
) {
    let shown = room.shown_pair();
    let (model, echo, difference) = match shown {
        Some((comparison, pair)) => (
            wording::measure(&comparison.model, pair.model, quantity),
            wording::measure(&comparison.echo, pair.echo, quantity),
            pair.difference(quantity).copied(),
        ),
        None => {
            let model = room.lesson().model();
            let model = model.map(|model| wording::measure(&model.notes, room.note(), quantity));
            (model.unwrap_or_default(), String::new(), None)
        }
    };
    let told = difference.is_some_and(|difference| difference.units() > 1.0);
    let way = room.lesson().way(quantity);
    let response = ui.interact(row, Id::unique(("lesson", quantity)), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(
            Role::Row,
            true,
            spoken(quantity, (&model, &echo), difference, way.len()),
        )
    });
    explained(response, quantity.name(), theme);
    if !ui.is_rect_visible(row) {
        return;
    }
    let (sheet, font) = (ui.painter(), theme.word_font(size));
    let y = row.center().y;
    let write = |right: f32, said: &str, ink| {
        sheet.text(pos2(right, y), Align2::RIGHT_CENTER, said, font.clone(), ink);
    };
    let ink = if told { theme.ink } else { theme.soft_ink };
    let caption = quantity.headed();
    sheet.text(row.left_center(), Align2::LEFT_CENTER, caption, font.clone(), ink);
    write(columns.model, &model, theme.ink);
    write(columns.echo, &echo, theme.ink);
    if let Some(difference) = difference {
        write(columns.difference, &wording::difference(&difference), ink);
        if told {
            // A small wedge says what can be told apart.
            let at = pos2(columns.difference + 0.75 * size, y);
            let half = 0.28 * size;
            let corners = vec![at + vec2(half, -half), at + vec2(half, half), at - vec2(half, 0.0)];
            sheet.add(Shape::convex_polygon(corners, theme.ink, Stroke::NONE));
        }
    }
    let lane = Rect::from_x_y_ranges(columns.way, row.y_range());
    painter::show(ui, lane, ui.clip_rect(), theme, |p| pictures::way::way(p, lane, &way, size));
}

fn spoken(
    quantity: Quantity,
    (model, echo): (&str, &str),
    difference: Option<Difference>,
    echoes: usize,
) -> String {
    let mut parts = vec![quantity.headed()];
    for (whose, value) in [("model", model), ("echo", echo)] {
        if !value.is_empty() {
            parts.push(format!("{whose} {value}"));
        }
    }
    if let Some(difference) = difference {
        let told = if difference.units() > 1.0 { "" } else { ", too little to tell" };
        parts.push(format!("echo minus model {}{told}", wording::difference(&difference)));
    }
    if echoes > 1 {
        parts.push(format!("{echoes} echoes"));
    }
    parts.join("; ")
}
