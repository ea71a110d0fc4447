//! Small helpers for writing on the sheet.

use crate::theme::Theme;
use egui::text::{LayoutJob, TextFormat};
use egui::{Color32, FontId, Galley, Painter, Pos2, Rect};

/// Distance of two lines of text, as a share of the type size.
const LINE_HEIGHT: f32 = 1.35;

/// Writes `text` with its foot (baseline) on `foot.y`, starting at `foot.x`; says where it ends.
pub(crate) fn write(painter: &Painter, foot: Pos2, text: &str, font: FontId, ink: Color32) -> f32 {
    let galley = painter.layout_no_wrap(text.to_owned(), font, ink);
    let right = foot.x + galley.rect.width();
    painter.galley(Pos2::new(foot.x, foot.y - baseline(&galley)), galley, ink);
    right
}

/// How far the foot of the first line lies below the top.
pub(crate) fn baseline(galley: &Galley) -> f32 {
    let row = galley.rows.first();
    row.map_or(0.0, |row| row.pos.y + row.glyphs.first().map_or(0.0, |glyph| glyph.pos.y))
}

/// How wide `text` is.
pub(crate) fn width(painter: &Painter, text: &str, font: FontId) -> f32 {
    painter.layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER).rect.width()
}

/// `font`, or a smaller one in which `text` fits into `room`.
pub(crate) fn fitting(painter: &Painter, text: &str, mut font: FontId, room: f32) -> FontId {
    let wide = width(painter, text, font.clone());
    if wide > room {
        font.size *= (room / wide).max(0.0);
    }
    font
}

/// Writes a caption and under it a unit with its doubt beside a large figure, whose foot is that of
/// `foot`; in one line where two are taller than the figure.
pub(crate) fn write_beside(
    painter: &Painter,
    foot: Pos2,
    right: f32,
    (caption, unit): (&str, &str),
    theme: &Theme,
) {
    let sizes = &theme.sizes;
    let room = right - foot.x;
    let rise = 1.45 * sizes.word;
    if rise + 0.75 * sizes.caption > sizes.figure_height {
        let line = format!("{caption}, {unit}");
        let font = fitting(painter, &line, theme.word_font(sizes.word), room);
        write(painter, foot, &line, font, theme.soft_ink);
        return;
    }
    let small = fitting(painter, unit, theme.word_font(sizes.word), room);
    write(painter, foot, unit, small, theme.soft_ink);
    let above = Pos2::new(foot.x, foot.y - rise);
    let small = fitting(painter, caption, theme.word_font(sizes.caption), room);
    write(painter, above, caption, small, theme.soft_ink);
}

/// Writes `text` in one row in the middle of `area`'s height; where it does not fit in `font`, the type shrinks to no
/// less than `least`, and then the row is broken into two.
pub(crate) fn write_row(
    painter: &Painter,
    area: Rect,
    text: &str,
    font: FontId,
    least: f32,
    ink: Color32,
) {
    let mut font = fitting(painter, text, font, area.width());
    let wrapped = font.size < least;
    font.size = font.size.max(least.min(area.height() / 2.6));
    let wide = if wrapped { area.width() } else { f32::INFINITY };
    let galley = painter.layout(text.to_owned(), font, ink, wide);
    let at = Pos2::new(area.left(), area.center().y - galley.rect.height() / 2.0);
    painter.galley(at, galley, ink);
}

/// Writes `text` in the upper part of `area`, broken into lines; where it does not fit in `font`,
/// the type shrinks, but not below `least`.
pub(crate) fn write_lines(
    painter: &Painter,
    area: Rect,
    text: &str,
    font: FontId,
    least: f32,
    ink: Color32,
) {
    write_pieces(painter, area, &[(text, ink)], font, least);
}

/// The same for pieces of text, one after another, each in its own ink.
pub(crate) fn write_pieces(
    painter: &Painter,
    area: Rect,
    pieces: &[(&str, Color32)],
    mut font: FontId,
    least: f32,
) {
    let galley = loop {
        let row = font.size * LINE_HEIGHT;
        let mut job = LayoutJob::default();
        for (index, &(text, ink)) in pieces.iter().enumerate() {
            let mut format = TextFormat::simple(font.clone(), ink);
            format.line_height = Some(row);
            let text = if index > 0 { format!(" {text}") } else { text.to_owned() };
            job.append(&text, 0.0, format);
        }
        job.wrap.max_width = area.width();
        job.wrap.max_rows = ((area.height() / row + 0.02) as usize).max(1);
        let galley = painter.layout_job(job);
        if !galley.elided || font.size <= least {
            break galley;
        }
        font.size -= 1.0;
    };
    painter.galley(area.min, galley, Color32::PLACEHOLDER);
}
