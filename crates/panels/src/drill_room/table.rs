//! A table of measures with a small bar under each: numbers to read, lengths to compare.

use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::terms::explained;
use egui::{Id, Painter, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

/// Width of a column and of the names at the left, as shares of the type size of words.
const COLUMN: f32 = 4.0;
const NAMES: f32 = 4.6;
/// Height of a bar, as a share of the type size of the smallest words.
const BAR: f32 = 0.36;

/// What stands in one place of the table.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Cell {
    /// The value; empty where there is none.
    pub text: String,
    /// Its doubt, or what else stands small beside it.
    pub small: String,
    /// The length of its bar, as a share of the longest; below 0 it goes to the left of the middle.
    pub share: Option<f32>,
    /// Where on that scale what is asked for lies.
    pub tick: Option<f32>,
}

impl Cell {
    /// A place whose value is not known.
    pub(super) fn unknown() -> Self {
        Self { text: "–".to_owned(), ..Self::default() }
    }

    /// Whether a value stands in it.
    pub(super) fn is_known(&self) -> bool {
        !self.text.is_empty() && *self != Self::unknown()
    }
}

/// One measure of all rows.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Column {
    /// What it is called.
    pub caption: &'static str,
    /// Its unit.
    pub unit: &'static str,
    /// Bars start from the middle.
    pub signed: bool,
    /// A value for each row.
    pub cells: Vec<Cell>,
}

/// The name of a row: large, and small beside it where there is more to say.
pub(super) type Name = (String, String);

/// Draws the table across `ui`; where it has no room, its columns go on below. `called` and the names of
/// the rows are told to a screen reader with the values.
pub(super) fn table_ui(
    ui: &mut Ui,
    called: &str,
    names: &[Name],
    columns: &[Column],
    theme: &Theme,
) {
    let sizes = &theme.sizes;
    let width = ui.available_width();
    let names_wide = NAMES * sizes.word;
    let fits = (((width - names_wide) / (COLUMN * sizes.word)) as usize).max(1);
    let parts = columns.len().div_ceil(fits).max(1);
    // As many in each part, so that none stands alone.
    let each = columns.len().div_ceil(parts).max(1);
    let head = 2.5 * sizes.scale;
    let barred = columns.iter().flat_map(|column| &column.cells).any(|cell| cell.share.is_some());
    let under = |name: &Name| !stands_beside(ui.painter(), name, names_wide, theme);
    let two_lines = barred || names.iter().any(under);
    let row = 1.15 * sizes.word + if two_lines { 1.7 } else { 0.7 } * sizes.scale;
    for (part, columns) in columns.chunks(each).enumerate() {
        let height = head + names.len() as f32 * row + sizes.between;
        let (area, _) = ui.allocate_exact_size(vec2(width, height), Sense::hover());
        told(ui, area, (called, part), names, columns, row, head);
        let wide = (width - names_wide) / each as f32;
        let heads = Rect::from_min_size(area.min, vec2(width, head));
        explain(
            ui,
            heads.with_min_x(area.left() + names_wide),
            (called, part),
            wide,
            columns,
            theme,
        );
        if ui.is_rect_visible(area) {
            let painter = ui.painter_at(area.expand(2.0));
            captions(&painter, area.with_min_x(area.left() + names_wide), wide, columns, theme);
            for (number, name) in names.iter().enumerate() {
                let top = area.top() + head + number as f32 * row;
                let line = Rect::from_min_size(pos2(area.left(), top), vec2(width, row));
                painter.hline(line.x_range(), line.top(), theme.hairline_stroke());
                name_ui(&painter, line.with_max_x(line.left() + names_wide), name, theme);
                for (place, column) in columns.iter().enumerate() {
                    let left = line.left() + names_wide + place as f32 * wide;
                    let size = vec2(wide - 0.5 * sizes.word, row);
                    let cell = Rect::from_min_size(pos2(left, top), size);
                    if let Some(value) = column.cells.get(number) {
                        cell_ui(&painter, cell, value, column.signed, theme);
                    }
                }
            }
        }
    }
}

/// What each column means, to whoever points at its caption.
fn explain(
    ui: &Ui,
    area: Rect,
    called: (&str, usize),
    wide: f32,
    columns: &[Column],
    theme: &Theme,
) {
    for (place, column) in columns.iter().enumerate() {
        let left = area.left() + place as f32 * wide;
        let caption = area.with_min_x(left).with_max_x(left + wide);
        let id = Id::unique(("caption", called, place));
        let response = ui.interact(caption, id, Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(Role::ColumnHeader, true, column.caption));
        explained(response, column.caption, theme);
    }
}

/// Each row as one sentence.
fn told(
    ui: &Ui,
    area: Rect,
    (called, part): (&str, usize),
    names: &[Name],
    columns: &[Column],
    row: f32,
    head: f32,
) {
    for (number, (large, small)) in names.iter().enumerate() {
        let top = area.top() + head + number as f32 * row;
        let line = Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), row));
        let response = ui.interact(line, Id::unique((called, part, number)), Sense::hover());
        response.widget_info(|| {
            let values: Vec<String> = columns
                .iter()
                .filter_map(|column| {
                    let cell = column.cells.get(number)?;
                    let parts = [column.caption, &cell.text, &cell.small, column.unit];
                    let said: Vec<&str> =
                        parts.into_iter().filter(|part| !part.is_empty()).collect();
                    (!cell.text.is_empty()).then(|| said.join(" "))
                })
                .collect();
            let name = match small.as_str() {
                "" => format!("{called} {large}"),
                small => format!("{called}, {small} {large}"),
            };
            let said = format!("{name}: {}", values.join(", "));
            WidgetInfo::labeled(Role::Row, true, said)
        });
    }
}

fn captions(painter: &Painter, area: Rect, wide: f32, columns: &[Column], theme: &Theme) {
    let size = theme.sizes.scale;
    for (place, column) in columns.iter().enumerate() {
        let left = area.left() + place as f32 * wide;
        let room = wide - 0.4 * size;
        let font = theme.word_font(size);
        for (line, text) in [(0.95, column.caption), (2.05, column.unit)] {
            let font = pen::fitting(painter, text, font.clone(), room);
            let at = pos2(left, area.top() + line * size);
            pen::write(painter, at, text, font, theme.soft_ink);
        }
    }
}

/// Whether there is room for all of a name on one line.
fn stands_beside(painter: &Painter, (large, small): &Name, wide: f32, theme: &Theme) -> bool {
    let sizes = &theme.sizes;
    let large = pen::width(painter, large, theme.figure_font(1.2 * sizes.word));
    let small = pen::width(painter, small, theme.word_font(sizes.caption));
    large + 0.35 * sizes.caption + small + 4.0 <= wide
}

fn name_ui(painter: &Painter, area: Rect, name: &Name, theme: &Theme) {
    let sizes = &theme.sizes;
    let (large, small) = name;
    let font = theme.figure_font(1.2 * sizes.word);
    let foot = area.top() + 1.15 * sizes.word;
    let right = pen::write(painter, pos2(area.left(), foot), large, font, theme.ink);
    if stands_beside(painter, name, area.width(), theme) {
        let left = right + 0.35 * sizes.caption;
        let font = theme.word_font(sizes.caption);
        pen::write(painter, pos2(left, foot), small, font, theme.soft_ink);
        return;
    }
    // A long one stands under it.
    let font = theme.word_font(sizes.scale);
    let font = pen::fitting(painter, small, font, area.width() - 4.0);
    let under = pos2(area.left(), foot + 1.2 * sizes.scale);
    pen::write(painter, under, small, font, theme.soft_ink);
}

fn cell_ui(painter: &Painter, area: Rect, cell: &Cell, signed: bool, theme: &Theme) {
    let sizes = &theme.sizes;
    let foot = area.top() + 1.15 * sizes.word;
    let font = theme.word_font(sizes.word);
    let font = pen::fitting(painter, &cell.text, font, area.width());
    let at = pos2(area.left(), foot);
    let right = pen::write(painter, at, &cell.text, font, theme.ink);
    let left = right + 0.3 * sizes.scale;
    let font = theme.word_font(sizes.scale);
    let wide = pen::width(painter, &cell.small, font.clone());
    if left + wide <= area.right() + 0.4 * sizes.word {
        pen::write(painter, pos2(left, foot), &cell.small, font, theme.soft_ink);
    }
    let Some(share) = cell.share else { return };
    let high = BAR * sizes.scale;
    let top = foot + 0.45 * sizes.scale;
    let rail = Rect::from_min_size(pos2(area.left(), top), vec2(area.width(), high));
    let x = |share: f32| {
        if signed {
            rail.center().x + share.clamp(-1.0, 1.0) * rail.width() / 2.0
        } else {
            rail.left() + share.clamp(0.0, 1.0) * rail.width()
        }
    };
    painter.rect_filled(rail, 0.0, theme.patch);
    let bar = Rect::from_x_y_ranges(x(0.0).min(x(share))..=x(0.0).max(x(share)), rail.y_range());
    painter.rect_filled(bar, 0.0, theme.oscillation);
    if signed {
        let stroke = Stroke::new(sizes.rule, theme.rule);
        painter.vline(x(0.0), rail.top() - 2.0..=rail.bottom() + 2.0, stroke);
    }
    if let Some(tick) = cell.tick {
        let stroke = Stroke::new(sizes.mark, theme.ink);
        painter.vline(x(tick), rail.top() - 3.0..=rail.bottom() + 3.0, stroke);
    }
}
