//! The measures of the note that ended last, kept until the next one begins.

use crate::stand::picture::Sounding;
use crate::stand::state::Stand;
use crate::stand::words;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Id, Rect, Role, Sense, Ui, WidgetInfo, pos2};
use tuning::pitch_name;

/// Least distance between two measures.
const BETWEEN: f32 = 16.0;
/// From this width on, at the usual size of type, the measures of a note stand in one row.
const IN_ONE: f32 = 840.0;

/// How high the strip is in a window of this inner width.
pub(super) fn height(width: f32, theme: &Theme) -> f32 {
    let rows = if width >= IN_ONE * theme.sizes.grown.text { 1.0 } else { 2.0 };
    rows * row_height(theme)
}

/// Height of one row of measures: caption and value.
fn row_height(theme: &Theme) -> f32 {
    1.4 * theme.sizes.scale + 1.5 * theme.sizes.word
}

/// Draws the strip into `area`.
pub(super) fn measures_strip_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let picture = stand.picture();
    if picture.last.is_some() {
        told_ui(ui, area, stand);
        if let Some(note) = picture.last.as_ref().filter(|_| ui.is_rect_visible(area)) {
            columns(ui, area, &words::measures(note), theme);
        }
        return;
    }
    if picture.sounding == Sounding::Silence {
        return;
    }
    let said = "The measures of this note follow when it ends.";
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, said));
    let font = theme.word_font(theme.sizes.caption);
    let least = theme.sizes.scale;
    pen::write_lines(ui.painter(), area, said, font, least, theme.soft_ink);
}

/// Tells a screen reader the measures, of which nothing may be drawn where there is no room.
pub(super) fn told_ui(ui: &mut Ui, area: Rect, stand: &Stand) {
    let Some(note) = &stand.picture().last else {
        return;
    };
    let response = ui.interact(area, Id::unique("measures"), Sense::hover());
    response.widget_info(|| {
        let measures = words::measures(note);
        let all: Vec<String> =
            measures.iter().map(|(caption, value)| format!("{caption} {value}")).collect();
        let name = pitch_name(note.midi, stand.shell.naming());
        let said = format!("measures of {name}: {}", all.join(", "));
        WidgetInfo::labeled(Role::Note, true, said)
    });
}

/// The measures side by side, each under its caption, spread over the width where they leave room.
fn columns(ui: &Ui, area: Rect, measures: &[(&'static str, String)], theme: &Theme) {
    let painter = ui.painter_at(area.expand(2.0));
    let captions = theme.word_font(theme.sizes.scale);
    let row = row_height(theme);
    let mut values = theme.word_font(0.9 * theme.sizes.word);
    let rows = ((area.height() / row + 0.01) as usize).max(1);
    let cells = loop {
        let widths: Vec<f32> = measures
            .iter()
            .map(|(caption, value)| {
                let caption = pen::width(&painter, caption, captions.clone());
                caption.max(pen::width(&painter, value, values.clone()))
            })
            .collect();
        let cells = cells(&widths, area.width());
        let fits = cells.last().is_none_or(|last| last.row < rows);
        if fits || values.size <= theme.sizes.scale {
            break cells;
        }
        values.size -= 1.0;
    };
    for (place, (caption, value)) in cells.iter().zip(measures) {
        let top = area.top() + place.row as f32 * row;
        let left = area.left() + place.left;
        let under = pos2(left, top + 1.1 * theme.sizes.scale);
        pen::write(&painter, under, caption, captions.clone(), theme.soft_ink);
        let under = pos2(left, top + row - 0.4 * theme.sizes.word);
        pen::write(&painter, under, value, values.clone(), theme.ink);
    }
}

/// Where one measure stands.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Cell {
    row: usize,
    left: f32,
}

/// Lays pieces of these widths out in rows of `room`, evenly spread if one row holds them all.
fn cells(widths: &[f32], room: f32) -> Vec<Cell> {
    let needed: f32 = widths.iter().sum::<f32>() + BETWEEN * widths.len().saturating_sub(1) as f32;
    let spare = (room - needed).max(0.0) / widths.len().max(1) as f32;
    let between = BETWEEN + spare.min(2.0 * BETWEEN);
    let mut next = Cell { row: 0, left: 0.0 };
    widths
        .iter()
        .map(|&width| {
            if next.left > 0.0 && next.left + width > room {
                next = Cell { row: next.row + 1, left: 0.0 };
            }
            let here = next;
            next.left += width + between;
            here
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_fits_stands_in_one_row_and_does_not_touch() {
        let widths = [120.0, 140.0, 60.0];
        for room in [352.0, 400.0, 2000.0] {
            let cells = cells(&widths, room);
            assert!(cells.iter().all(|place| place.row == 0), "{room}");
            for (i, pair) in cells.windows(2).enumerate() {
                assert!(pair[0].left + widths[i] + BETWEEN <= pair[1].left + 0.01);
            }
            assert!(cells[2].left + widths[2] <= room + 0.01, "{cells:?}");
        }
    }

    #[test]
    fn what_does_not_fit_goes_into_the_next_row() {
        let cells = cells(&[120.0, 140.0, 60.0], 300.0);
        let rows: Vec<usize> = cells.iter().map(|place| place.row).collect();
        assert_eq!(rows, [0, 0, 1]);
        assert_eq!(cells[2].left, 0.0);
    }
}
