//! The trace of a take with the place that is heard, and the whole take below it.

use super::wording;
use super::{JournalAction, Opened, TraceOf};
use crate::shell::Shell;
use crate::theme::Theme;
use crate::widgets::{painter, pen};
use egui::{Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};
use journal::TakeFile;
use pictures::Picture;
use pictures::sheet::{Sheet, Times};
use pictures::take::{TakeTrace, part, place, take_trace, whole};
use tuning::{Secs, figure};

/// A take up to this length is shown as a whole.
const WHOLE: f64 = 24.0;
/// A longer one is shown in pages of so much.
const PAGE: f64 = 16.0;

/// Draws it, so high, and says where the player wants to hear it.
pub(super) fn take_trace_ui(
    ui: &mut Ui,
    height: f32,
    opened: &Opened,
    file: &TakeFile,
    shell: &Shell,
    theme: &Theme,
    asked: &mut Vec<JournalAction>,
) {
    let size = theme.sizes.scale;
    let (area, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(opened, file)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let (length, at) = (Secs(file.length_s), opened.played.at);
    let strip_height = if length.0 > WHOLE { 1.7 * size } else { 0.0 };
    let mut picture = Picture::new(area, &theme.sizes);
    let fingers: Vec<Option<u8>> =
        file.notes.iter().map(|note| note.finger.or(file.finger)).collect();
    let shown = TakeTrace {
        played: &opened.drawn,
        fingers: &fingers,
        tuning: file.tuning(),
        naming: shell.naming(),
        sections: &[],
        span: span(at, length),
    };
    let sheet = take_trace(&mut picture, area.with_max_y(area.bottom() - strip_height), &shown);
    let (from, to) = opened.played.part;
    if from.0 > 0.0 || to.0 < length.0 - 1e-6 {
        part(&mut picture, &sheet, (from, to));
    }
    if !matches!(opened.trace, TraceOf::None(_)) {
        place(&mut picture, &sheet, at);
    }
    let strip = Rect::from_x_y_ranges(sheet.times.x, area.bottom() - strip_height..=area.bottom());
    let all = (strip_height > 0.0)
        .then(|| whole(&mut picture, strip, &opened.drawn, length, &sheet.times, at));
    painter::paint(&ui.painter_at(area), &picture, theme);
    match &opened.trace {
        TraceOf::Here => {}
        TraceOf::Coming => told(ui, &sheet, "The sound is being measured.", theme),
        TraceOf::None(words) => told(ui, &sheet, &figure::sentence(words), theme),
    }
    if response.has_focus() {
        let edge = Stroke::new(theme.sizes.value, theme.ink);
        ui.painter().rect_stroke(area, 3.0, edge, StrokeKind::Inside);
    }
    if let Some(at) = response.interact_pointer_pos().filter(|_| response.clicked()) {
        let times = all.filter(|_| at.y >= strip.top()).unwrap_or(sheet.times);
        asked.push(JournalAction::Seek(secs_at(&times, at.x)));
    }
}

/// The time that is pointed at.
fn secs_at(times: &Times, x: f32) -> Secs {
    let share = ((x - times.x.min) / times.x.span().max(1.0)).clamp(0.0, 1.0);
    Secs(times.oldest().0 + f64::from(share) * times.span.0)
}

/// What a screen reader says of the trace.
fn spoken(opened: &Opened, file: &TakeFile) -> String {
    let at = wording::length(opened.played.at.0);
    let mut said = format!("trace of the take, at {at} of {}", wording::length(file.length_s));
    let lost: f64 = file.lost.iter().map(|lost| lost.length_s).sum();
    if lost > 0.0 {
        said += &format!(", {lost:.1} s of the sound is lost");
    }
    match &opened.trace {
        TraceOf::Here => {}
        TraceOf::Coming => said += ", being measured",
        TraceOf::None(words) => said += &format!(", {words}"),
    }
    said
}

/// The time that is seen: all of a short take, of a longer one the page on which it is heard.
fn span(at: Secs, length: Secs) -> (Secs, Secs) {
    if length.0 <= WHOLE {
        return (Secs(0.0), Secs(length.0.max(0.1)));
    }
    let page = (at.0.clamp(0.0, length.0 - 1e-6) / PAGE).floor();
    (Secs(page * PAGE), Secs((page + 1.0) * PAGE))
}

/// Words in the place of the trace.
fn told(ui: &Ui, sheet: &Sheet, words: &str, theme: &Theme) {
    let rect = sheet.rect().shrink(theme.sizes.between);
    let font = theme.word_font(theme.sizes.word);
    pen::write_lines(ui.painter(), rect, words, font, theme.sizes.scale, theme.soft_ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_take_is_seen_whole_and_a_long_one_by_pages() {
        let of = |at, length| {
            let (from, to) = span(Secs(at), Secs(length));
            (from.0, to.0)
        };
        assert_eq!(of(3.0, 20.0), (0.0, 20.0));
        assert_eq!(of(0.0, 100.0), (0.0, 16.0));
        assert_eq!(of(15.9, 100.0), (0.0, 16.0));
        assert_eq!(of(16.0, 100.0), (16.0, 32.0));
        assert_eq!(of(100.0, 100.0), (96.0, 112.0));
    }
}
