//! Model and echo laid over each other: a phrase as a whole, or one note of it.

mod one_note;
mod phrase;
mod scales;
mod stretch;

use super::action::{Laid, LessonAction};
use super::state::LessonRoom;
use super::wording;
use crate::stand::Stand;
use crate::stand::picture::Sounding;
use crate::theme::Theme;
use crate::widgets::pen;
use coach::Instant;
use egui::{Align2, Painter, Pos2, Rect, Role, Sense, Stroke, Ui, WidgetInfo, pos2};
use pictures::played::Point;
use pictures::sheet::{Line, Sheet};
use tuning::{Cents, Hz, Secs, pitch_name};

/// The model's line is so much wider than the echo's.
const MODEL_PEN: f32 = 2.2;
/// What sounds is written on pages that are so long, in seconds, each twice as long as the one before.
const PAGE: f64 = 2.0;

/// Draws it into `area` and says which note was pointed at.
pub(super) fn overlay_ui(
    ui: &mut Ui,
    area: Rect,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
) -> Option<LessonAction> {
    let whole = !matches!(room.laid(), Laid::Note(_));
    let sense = if whole { Sense::click() } else { Sense::hover() };
    let response = ui.allocate_rect(area, sense);
    let revealed = room.revealed(stand.shell.options().showing);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(room, stand, revealed)));
    if !ui.is_rect_visible(area) {
        return None;
    }
    if !revealed {
        hidden_ui(&ui.painter_at(area), area, stand, theme);
        return None;
    }
    let lane = 1.7 * theme.sizes.caption;
    let left = area.left() + 3.6 * theme.sizes.scale;
    legend(&ui.painter_at(area), area, left, room, stand, theme);
    if whole {
        let at = response.interact_pointer_pos().filter(|_| response.clicked());
        return phrase::phrase_ui(ui, area, lane, (room, stand), theme, at);
    }
    one_note::one_note_ui(ui, area, lane, room, stand, theme);
    None
}

fn hidden_ui(painter: &Painter, area: Rect, stand: &Stand, theme: &Theme) {
    let said = hidden(stand);
    let font = theme.figure_font(theme.sizes.big_word);
    let font = pen::fitting(painter, &said, font, area.width() - 20.0);
    painter.text(area.center(), Align2::CENTER_CENTER, said, font, theme.soft_ink);
    painter.rect_stroke(area, 2.0, theme.hairline_stroke(), egui::StrokeKind::Inside);
}

/// The pitch from one time to another against a note, from the first.
fn between(instants: &[Instant], (start, end): (Secs, Secs), reference: Hz) -> Vec<Point> {
    let from = instants.partition_point(|instant| instant.time.0 < start.0);
    instants[from..]
        .iter()
        .take_while(|instant| instant.time.0 <= end.0)
        .enumerate()
        .map(|(number, instant)| Point {
            time: Secs(instant.time.0 - start.0),
            pitch: instant.f0.map(|f0| f0.cents_above(reference)),
            confidence: instant.confidence,
            level_dbfs: 0.0,
            joined: number > 0,
        })
        .collect()
}

/// Where the page ends on which something is written that has come to `now`; it holds the model's `whole`.
fn page_end(now: f64, whole: f64) -> f64 {
    let mut end = PAGE;
    while end < now.max(whole) {
        end *= 2.0;
    }
    if whole >= now { whole.max(1.0) } else { end }
}

/// The note that sounds, as the tuning has it.
fn sounding_reference(stand: &Stand) -> Option<Hz> {
    match stand.live().sounding {
        Sounding::Note(live) => Some(live.reference),
        Sounding::Begun(begun) => Some(begun.reference),
        Sounding::Silence => None,
    }
}

fn draw(painter: &Painter, sheet: &Sheet, line: &Line, stroke: Stroke) {
    let stroke = if line.sure { stroke } else { Stroke::new(0.5 * stroke.width, stroke.color) };
    let corners = line.corners.iter();
    let places: Vec<Pos2> = corners.map(|&(time, pitch)| sheet.place(time, Cents(pitch))).collect();
    if places.len() > 1 {
        painter.line(places, stroke);
    }
}

/// Which line is whose, above the sheet; and which note it is.
fn legend(
    painter: &Painter,
    area: Rect,
    left: f32,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
) {
    let font = theme.word_font(theme.sizes.caption);
    let size = theme.sizes.caption;
    let foot = area.top() + 1.05 * size;
    let lesson = room.lesson();
    let playing = lesson.current().is_some();
    let echo = match (playing, room.echo_number()) {
        (true, _) if lesson.model().is_some() => Some("what sounds".to_owned()),
        (false, Some(number)) => Some(format!("echo {}", number + 1)),
        _ => None,
    };
    let mut left = left;
    let mut entry = |said: &str, stroke: Stroke| {
        let y = foot - 0.32 * size;
        painter.hline(left..=left + 1.6 * size, y, stroke);
        left = pen::write(painter, pos2(left + 2.0 * size, foot), said, font.clone(), theme.ink)
            + size;
    };
    let thick = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
    let thin = Stroke::new(theme.sizes.pen, theme.ink);
    match (lesson.model(), playing) {
        (Some(_), _) => entry("model", thick),
        (None, true) => entry("what sounds", thin),
        (None, false) => {}
    }
    if let Some(echo) = &echo {
        entry(echo, thin);
    }
    let Some(model) = lesson.model().filter(|model| model.notes.len() > 1 && !playing) else {
        return;
    };
    let name = model.notes.get(room.note()).map(|note| pitch_name(note.midi, stand.shell.naming()));
    let said =
        format!("note {} of {}, {}", room.note() + 1, model.notes.len(), name.unwrap_or_default());
    let font = pen::fitting(painter, &said, theme.word_font(size), area.right() - left);
    painter.text(
        pos2(area.right(), foot - 0.32 * size),
        Align2::RIGHT_CENTER,
        said,
        font,
        theme.soft_ink,
    );
}

fn hidden(stand: &Stand) -> String {
    let when = wording::showing(stand.shell.options().showing);
    format!("Listening; shown {when}")
}

/// What a screen reader says of the picture.
fn spoken(room: &LessonRoom, stand: &Stand, revealed: bool) -> String {
    if !revealed {
        return hidden(stand);
    }
    let lesson = room.lesson();
    let Some(model) = lesson.model() else {
        return "no model yet".to_owned();
    };
    let note = model.notes.get(room.note());
    let name = note.map_or_else(String::new, |note| pitch_name(note.midi, stand.shell.naming()));
    let laid = wording::laid(room.laid());
    if !matches!(room.laid(), Laid::Note(_)) {
        return phrase::spoken(room, stand, laid);
    }
    match (room.echo_number(), room.shown_pair()) {
        (Some(number), Some(_)) => {
            format!("model and echo {} of {name} over each other, {laid}", number + 1)
        }
        (Some(number), None) => {
            format!("the model's {name}; echo {} has no answer to it", number + 1)
        }
        (None, _) => format!("the model's {name}"),
    }
}
