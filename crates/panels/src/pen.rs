//! Small helpers for writing on the sheet.

use egui::{Color32, FontId, Painter, Pos2, Rect};

/// Distance of two lines of text, as a share of the type size.
const LINE_HEIGHT: f32 = 1.35;

/// Writes `text` with its foot (baseline) on `foot.y`, starting at `foot.x`; says where it ends.
pub fn write(painter: &Painter, foot: Pos2, text: &str, font: FontId, ink: Color32) -> f32 {
    let galley = painter.layout_no_wrap(text.to_owned(), font, ink);
    let baseline = galley.rows.first().map_or(0.0, |row| {
        row.pos.y + row.glyphs.first().map_or(0.0, |glyph| glyph.pos.y)
    });
    let right = foot.x + galley.rect.width();
    painter.galley(Pos2::new(foot.x, foot.y - baseline), galley, ink);
    right
}

/// How wide `text` is.
pub fn width(painter: &Painter, text: &str, font: FontId) -> f32 {
    painter
        .layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER)
        .rect
        .width()
}

/// `font`, or a smaller one in which `text` fits into `room`.
pub fn fitting(painter: &Painter, text: &str, mut font: FontId, room: f32) -> FontId {
    let wide = width(painter, text, font.clone());
    if wide > room {
        font.size *= (room / wide).max(0.0);
    }
    font
}

/// Writes `text` in the upper part of `area`, broken into lines; where it does not fit in `font`,
/// the type shrinks, but not below `least`.
pub fn write_lines(
    painter: &Painter,
    area: Rect,
    text: &str,
    mut font: FontId,
    least: f32,
    ink: Color32,
) {
    let galley = loop {
        let row = font.size * LINE_HEIGHT;
        let mut job =
            egui::text::LayoutJob::simple(text.to_owned(), font.clone(), ink, area.width());
        for section in &mut job.sections {
            section.format.line_height = Some(row);
        }
        job.wrap.max_rows = ((area.height() / row) as usize).max(1);
        let galley = painter.layout_job(job);
        if !galley.elided || font.size <= least {
            break galley;
        }
        font.size -= 1.0;
    };
    painter.galley(area.min, galley, ink);
}
