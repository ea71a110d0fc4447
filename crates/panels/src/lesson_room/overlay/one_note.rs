//! One note of the model and the one that answers it, from their start or cycle by cycle; below them how the
//! width runs through both.

use super::scales::{self, Widths};
use super::{MODEL_PEN, between, draw, page_end, sounding_reference};
use crate::lesson_room::action::Laid;
use crate::lesson_room::state::LessonRoom;
use crate::stand::Stand;
use crate::theme::Theme;
use coach::{Align, Comparison, Instant, Pair, cycles_at};
use egui::{Align2, Rangef, Rect, Stroke, Ui, pos2, vec2};
use pictures::played::Point;
use pictures::sheet::{self as plot_area, Sheet, Times};
use tuning::{Cents, Secs, pitch_name};
use vibrato::Note;

/// The least that is shown above and below the middle, in cents, and the room around the outermost pitch.
const LEAST_REACH: f64 = 30.0;
const ROOM: f64 = 1.2;
/// While something sounds the height grows by so many cents at a time.
const PAGE_CENTS: f64 = 20.0;
/// A share of the frames at either end of the pitches that does not widen the view: attacks.
const OUTLIERS: f64 = 0.02;
/// The strip of widths takes this share of the height, where that leaves enough.
const STRIP: f32 = 0.24;

/// Draws it into `area`, under a lane of this height.
pub(super) fn one_note_ui(
    ui: &Ui,
    area: Rect,
    lane: f32,
    room: &LessonRoom,
    stand: &Stand,
    theme: &Theme,
) {
    let painter = ui.painter_at(area);
    let shown = shown(room, stand);
    let size = theme.sizes.scale;
    let strip =
        shown.pair.filter(|_| STRIP * area.height() > 2.6 * size).map(|_| STRIP * area.height());
    let foot = 1.5 * size;
    let x = Rangef::new(area.left() + 3.6 * size, area.right() - 3.0 * size);
    let bottom = area.bottom() - foot - strip.map_or(0.0, |height| height + 0.6 * size);
    let y = Rangef::new(area.top() + lane, bottom.max(area.top() + lane + 20.0));
    let sounds = room.lesson().current().is_some();
    let (from, to) = reach_of_time(&shown, align(room), sounds);
    let times = Times { x, newest: Secs(to), span: Secs((to - from).max(0.1)) };
    let (middle, reach) = view(&shown, sounds);
    let sheet = Sheet { times, y, middle, reach };
    scales::cents(&painter, &sheet, theme);
    let unit = match (align(room), sounds) {
        (Align::Cycles, false) => "oscillations",
        _ => "s",
    };
    let whole = Rangef::new(y.min, area.bottom() - foot);
    scales::along(&painter, &times, whole, unit, theme);
    if let Some(name) = &shown.name {
        let at = pos2(x.min - 0.4 * size, sheet.y_from_cents(Cents(0.0)));
        painter.text(
            at,
            Align2::RIGHT_CENTER,
            name,
            theme.word_font(theme.sizes.caption),
            theme.ink,
        );
    }
    let on_sheet = ui.painter_at(sheet.rect().expand2(vec2(0.0, 2.0)));
    let thick = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
    let thin = Stroke::new(theme.sizes.pen, theme.ink);
    for (course, stroke) in [(&shown.model, thick), (&shown.echo, thin)] {
        let pitch = |point: &Point| point.pitch.map(Cents::get);
        for line in plot_area::lines(course.iter().flatten(), &times, pitch, |_| true) {
            draw(&on_sheet, &sheet, &line, stroke);
        }
    }
    if let (Some(height), Some((comparison, pair))) = (strip, shown.pair) {
        let lane = Rect::from_x_y_ranges(x, whole.max - height..=whole.max);
        let widths = widths(comparison, pair, align(room));
        scales::widths(&painter, lane, &times, &[widths], theme);
    }
}

fn align(room: &LessonRoom) -> Align {
    match room.laid() {
        Laid::Note(align) => align,
        Laid::Whole | Laid::NoteByNote => Align::NoteStart,
    }
}

/// How the width runs through both notes.
fn widths(comparison: &Comparison, pair: &Pair, align: Align) -> Widths {
    // An oscillation stands in the middle of its own.
    let ahead = if align == Align::Cycles { 0.5 } else { 0.0 };
    let course = comparison.course(pair, align);
    Widths {
        model: course.iter().map(|p| (p.at + ahead, p.model.1)).collect(),
        echo: course.iter().map(|p| (p.at + ahead, p.echo.1)).collect(),
    }
}

/// What is drawn now.
struct Shown<'a> {
    model: Option<Vec<Point>>,
    echo: Option<Vec<Point>>,
    /// The note's name.
    name: Option<String>,
    pair: Option<(&'a Comparison, &'a Pair)>,
}

fn shown<'a>(room: &'a LessonRoom, stand: &Stand) -> Shown<'a> {
    let lesson = room.lesson();
    let name = |note: &Note| pitch_name(note.midi, stand.shell.naming());
    // While something sounds it is drawn as it comes.
    if let Some(current) = lesson.current() {
        let reference = sounding_reference(stand);
        let number = current.notes.len()
            - usize::from(room.sounding().is_none() && !current.notes.is_empty());
        let model = lesson.model().and_then(|model| {
            let note = model.notes.get(number)?;
            Some((course(&model.course, note, Align::NoteStart, 0.0), name(note)))
        });
        let echo = match (room.sounding(), reference, current.notes.last()) {
            (Some(start), Some(reference), _) => {
                Some(between(&current.course, (start, Secs(f64::MAX)), reference))
            }
            (_, _, Some(last)) => Some(course(&current.course, last, Align::NoteStart, 0.0)),
            _ => None,
        };
        let (model, name) = model.map_or((None, None), |(course, name)| (Some(course), Some(name)));
        return Shown { model, echo, name, pair: None };
    }
    let Some(model) = lesson.model() else {
        return Shown { model: None, echo: None, name: None, pair: None };
    };
    let note = model.notes.get(room.note());
    let pair = room.shown_pair();
    let echo = pair.zip(room.shown_echo()).and_then(|((comparison, pair), echo)| {
        let note = comparison.echo.get(pair.echo)?;
        let astray = 100.0 * f64::from(pair.astray);
        Some(course(&echo.phrase.course, note, align(room), astray))
    });
    Shown {
        model: note.map(|note| course(&model.course, note, align(room), 0.0)),
        echo,
        name: note.map(name),
        pair,
    }
}

fn course(instants: &[Instant], note: &Note, align: Align, astray: f64) -> Vec<Point> {
    let mut points = between(instants, (note.start, note.end), note.reference);
    for point in &mut points {
        if let Some(pitch) = &mut point.pitch {
            pitch.0 += astray;
        }
    }
    if align == Align::Cycles && note.vibrato.is_some() {
        for point in &mut points {
            let time = Secs(note.start.0 + point.time.0);
            point.time = Secs(cycles_at(note, time).unwrap_or_default());
        }
    }
    points
}

/// The time or the oscillations that are shown.
fn reach_of_time(shown: &Shown, align: Align, sounds: bool) -> (f64, f64) {
    let all = [&shown.model, &shown.echo].into_iter().flatten();
    let ends = all.filter_map(|course| Some((course.first()?.time.0, course.last()?.time.0)));
    let (from, to) = ends.fold((f64::MAX, f64::MIN), |(from, to), (a, b)| (from.min(a), to.max(b)));
    if from > to {
        return (0.0, 2.0);
    }
    if sounds {
        // The echo's line is written over the model's; where it comes to the end there is another page.
        let model = shown.model.as_ref().and_then(|course| course.last());
        return (0.0, page_end(to, model.map_or(0.0, |point| point.time.0)));
    }
    match align {
        Align::NoteStart => (from.max(-0.1), to.max(from + 1.0)),
        Align::Cycles => (from.max(-3.0), to.max(from + 2.0)),
    }
}

/// The middle of the height and how far it reaches.
fn view(shown: &Shown, sounds: bool) -> (Cents, Cents) {
    let mut cents: Vec<f64> = [&shown.model, &shown.echo]
        .into_iter()
        .flatten()
        .flatten()
        .filter(|point| point.confidence >= plot_area::DOUBTFUL_BELOW)
        .filter_map(|point| point.pitch.map(Cents::get))
        .filter(|cents| cents.abs() < 600.0)
        .collect();
    if cents.is_empty() {
        return (Cents(0.0), Cents(2.0 * LEAST_REACH));
    }
    cents.sort_by(f64::total_cmp);
    let outside = (OUTLIERS * cents.len() as f64) as usize;
    let (low, high) = (cents[outside].min(0.0), cents[cents.len() - 1 - outside].max(0.0));
    if sounds {
        // Nothing creeps: it reaches as far to both sides, and farther by whole steps.
        let farthest = (ROOM * high.max(-low)).max(LEAST_REACH);
        let reach = (farthest / PAGE_CENTS).ceil() * PAGE_CENTS;
        return (Cents(0.0), Cents(reach));
    }
    let reach = (ROOM * 0.5 * (high - low)).max(LEAST_REACH);
    (Cents(0.5 * (low + high)), Cents(reach))
}
