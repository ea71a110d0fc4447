//! A phrase as a whole: all notes of the model and of what answers it, laid over each other at the first onset,
//! or each answer at the onset of its own note; above them the names, and how much later each answer begins.

use super::scales::{self, Widths};
use super::stretch::Stretch;
use super::{MODEL_PEN, draw, page_end, sounding_reference};
use crate::lesson_room::action::{Laid, LessonAction};
use crate::lesson_room::state::LessonRoom;
use crate::stand::Stand;
use crate::theme::Theme;
use crate::widgets::pen;
use coach::{Align, Comparison, Phrase};
use egui::{Align2, Painter, Pos2, Rangef, Rect, Stroke, Ui, pos2, vec2};
use pictures::sheet::{Line, Sheet, Times};
use std::sync::Arc;
use tuning::{Cents, Hz, Secs, figure, pitch_name};
use vibrato::Note;

/// Room below the lowest and above the highest pitch, and the step by which the height grows, in cents.
const ROOM: f64 = 60.0;
const STEP: f64 = 100.0;
/// A share of the frames at either end of the pitches that does not widen the view: attacks.
const OUTLIERS: f64 = 0.02;
/// Time that is shown from before the first onset, in seconds.
const BEFORE: f64 = 0.1;
/// The strip of widths takes this share of the height where that is so many times the type size at least.
const STRIP: f32 = 0.2;
const STRIP_FROM: f32 = 26.0;
/// Height of a line of names, as a share of the type size.
const LINE: f32 = 1.3;

/// Length of the marks of seconds, as a share of the type size.
const TICK: f32 = 0.4;

/// A note of the model with its answer, on the time that is drawn.
struct Noted {
    /// Its name.
    name: String,
    /// Where it begins and ends.
    span: (f64, f64),
    /// How much later its answer begins; `None` where nothing answers it, or before there is an echo.
    late: Option<Secs>,
    /// Its pitch above that of the lowest line.
    pitch: Cents,
}

/// What is drawn: all times from the start of the first note that is answered.
struct Whole<'a> {
    notes: Vec<Noted>,
    model: Stretch<'a>,
    echo: Vec<Stretch<'a>>,
    /// The echo that is laid over it.
    laid: Option<LaidOver<'a>>,
    /// An echo is there, so that a note may be without an answer.
    echoed: bool,
}

/// An echo as it is laid over the model.
struct LaidOver<'a> {
    compared: &'a Comparison,
    /// Start of the first note of the model that is answered.
    zero: Secs,
    /// From which time of the echo on so much is taken off its times, in order.
    shifts: Vec<(Secs, Secs)>,
}

/// Draws it into `area`, under a lane of this height; says which note was pointed at.
pub(super) fn phrase_ui(
    ui: &Ui,
    area: Rect,
    lane: f32,
    (room, stand): (&LessonRoom, &Stand),
    theme: &Theme,
    pointed: Option<Pos2>,
) -> Option<LessonAction> {
    let whole = whole(room, stand)?;
    let painter = ui.painter_at(area);
    let size = theme.sizes.scale;
    let strip = area.height() > STRIP_FROM * size && whole.laid.is_some();
    let strip = if strip { STRIP * area.height() } else { 0.0 };
    let lines = if whole.echoed { 2.0 } else { 1.0 };
    let x = Rangef::new(area.left() + 3.6 * size, area.right() - 3.0 * size);
    let foot = area.bottom() - 1.5 * size;
    let top = area.top() + lane + lines * LINE * size;
    let apart = if strip > 0.0 { 0.6 * size } else { 0.0 };
    let y = Rangef::new(top, (foot - strip - apart).max(top + 20.0));
    let (from, to) = reach_of_time(&whole, room.lesson().current().is_some());
    let times = Times { x, newest: Secs(to), span: Secs(to - from) };
    let model = whole.model.lines(ui.ctx(), &times);
    let echo = whole.echo.iter();
    let echo: Vec<_> = echo.flat_map(|stretch| stretch.lines(ui.ctx(), &times)).collect();
    let (middle, reach) = view(&whole.notes, [&model, &echo]);
    let sheet = Sheet { times, y, middle, reach };
    pitches(&painter, &sheet, &whole.notes, theme);
    // Lines over the whole height are onsets here; seconds have short ones.
    let ticks = Rangef::new(foot - TICK * size, foot);
    scales::along(&painter, &times, ticks, "s", theme);
    let above = Rangef::new(area.top() + lane, top);
    let chosen = room.note();
    names(&painter, &sheet, above, &whole, chosen, theme);
    let on_sheet = ui.painter_at(sheet.rect().expand2(vec2(0.0, 2.0)));
    let thick = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
    let thin = Stroke::new(theme.sizes.pen, theme.ink);
    for (lines, stroke) in [(&model, thick), (&echo, thin)] {
        for line in lines.iter().flat_map(|part| part.iter()) {
            draw(&on_sheet, &sheet, line, stroke);
        }
    }
    if let Some(over) = whole.laid.as_ref().filter(|_| strip > 0.0) {
        let lane = Rect::from_x_y_ranges(x, foot - strip..=foot);
        let widths = widths(over);
        scales::widths(&painter, lane, &times, &widths, theme);
    }
    let at = pointed.filter(|at| x.contains(at.x))?;
    let starts = whole.notes.iter().map(|note| note.span.0);
    let before = starts.take_while(|start| times.x_from_secs(Secs(*start)) <= at.x);
    Some(LessonAction::Into(before.count().saturating_sub(1)))
}

/// What is to be drawn; `None` before there is a model.
fn whole<'a>(room: &'a LessonRoom, stand: &Stand) -> Option<Whole<'a>> {
    let lesson = room.lesson();
    let model = lesson.model()?;
    let first = model.notes.first()?;
    let current = lesson.current();
    let echo = room.shown_echo().filter(|_| current.is_none());
    let compared = echo.map(|echo| &echo.comparison);
    let starts = compared.and_then(Comparison::starts);
    let zero = starts.map_or(first.start, |(model, _)| model);
    let reference = first.reference;
    let mut whole = Whole {
        notes: notes(model, compared, zero, reference, stand),
        model: Stretch::of(&model.course, span(model), zero.0, reference),
        echo: Vec::new(),
        laid: None,
        echoed: compared.is_some(),
    };
    if let Some(current) = current {
        whole.echo = sounding(current, room.sounding(), first, stand);
    } else if let (Some(echo), Some(compared), Some((_, start))) = (echo, compared, starts) {
        let lowered = Hz(reference.0 * 2f64.powf(f64::from(compared.transposed) / 12.0));
        let shifts = shifts(compared, room.laid(), (zero, start));
        for (number, &(from, by)) in shifts.iter().enumerate() {
            let to = shifts.get(number + 1).map_or(span(&echo.phrase).1, |next| next.0);
            let stretch = Stretch::of(&echo.phrase.course, (from, to), by.0, lowered);
            whole.echo.push(stretch);
        }
        whole.laid = Some(LaidOver { compared, zero, shifts });
    }
    Some(whole)
}

fn span(phrase: &Phrase) -> (Secs, Secs) {
    phrase.span().unwrap_or_default()
}

fn notes(
    model: &Phrase,
    compared: Option<&Comparison>,
    zero: Secs,
    reference: Hz,
    stand: &Stand,
) -> Vec<Noted> {
    let late = compared.map(Comparison::lateness).unwrap_or_default();
    let answered = |number: usize| {
        let mut pairs = compared?.pairs.iter().zip(&late);
        Some(*pairs.find(|(pair, _)| pair.model == number)?.1)
    };
    let noted = |(number, note): (usize, &Note)| Noted {
        name: pitch_name(note.midi, stand.shell.naming()),
        span: (note.start.0 - zero.0, note.end.0 - zero.0),
        late: answered(number),
        pitch: note.reference.cents_above(reference),
    };
    model.notes.iter().enumerate().map(noted).collect()
}

/// From which time of the echo on so much is taken off its times, in order.
fn shifts(compared: &Comparison, laid: Laid, (model, echo): (Secs, Secs)) -> Vec<(Secs, Secs)> {
    let whole = Secs(echo.0);
    let begin = compared.echo.first().map_or(echo, |note| note.start);
    if laid != Laid::NoteByNote {
        return vec![(begin, whole)];
    }
    let mut all: Vec<(Secs, Secs)> = compared
        .pairs
        .iter()
        .map(|pair| {
            let (a, b) = (compared.model[pair.model].start, compared.echo[pair.echo].start);
            (b, Secs(b.0 - (a.0 - model.0)))
        })
        .collect();
    if let Some(first) = all.first_mut() {
        first.0 = begin;
    }
    all
}

/// How the width runs through each pair, where the notes are drawn.
fn widths(over: &LaidOver) -> Vec<Widths> {
    let LaidOver { compared, zero, shifts } = over;
    let of = |pair: &coach::Pair| {
        let (model, echo) = (compared.model[pair.model].start, compared.echo[pair.echo].start);
        let shift = shifts.iter().rev().find(|(from, _)| *from <= echo);
        let (model, echo) = (model.0 - zero.0, echo.0 - shift.map_or(0.0, |(_, by)| by.0));
        let course = compared.course(pair, Align::NoteStart);
        Widths {
            model: course.iter().map(|p| (model + p.at, p.model.1)).collect(),
            echo: course.iter().map(|p| (echo + p.at, p.echo.1)).collect(),
        }
    };
    compared.pairs.iter().map(of).collect()
}

/// What sounds, from its first onset; whole octaves are taken off it.
fn sounding<'a>(
    current: &'a Phrase,
    begun: Option<Secs>,
    model: &Note,
    stand: &Stand,
) -> Vec<Stretch<'a>> {
    let first = current.notes.first();
    let first = first.map(|note| (note.start, note.reference));
    let Some((start, own)) = first.or_else(|| begun.zip(sounding_reference(stand))) else {
        return Vec::new();
    };
    let octaves = (own.cents_above(model.reference).0 / 1200.0).round();
    let reference = Hz(model.reference.0 * octaves.exp2());
    let all = (start, Secs(f64::MAX));
    vec![Stretch::of(&current.course, all, start.0, reference)]
}

fn reach_of_time(whole: &Whole, sounds: bool) -> (f64, f64) {
    let of_notes = whole.notes.first().zip(whole.notes.last());
    let (from, end) = of_notes.map_or((0.0, 1.0), |(a, b)| (a.span.0, b.span.1));
    let mut ends = whole.echo.iter().filter_map(Stretch::ends);
    let first = ends.next();
    let (echo, last) = first.map_or((from, end), |(echo, last)| {
        (echo, ends.next_back().map_or(last, |(_, last)| last))
    });
    let to = if sounds { page_end(last, end) } else { end.max(last) };
    (from.min(echo) - BEFORE, to)
}

/// The middle of the height and how far it reaches, in whole steps, so that nothing creeps.
fn view(notes: &[Noted], drawn: [&[Arc<Vec<Line>>]; 2]) -> (Cents, Cents) {
    let sure = |parts: &[Arc<Vec<Line>>]| {
        let lines = parts.iter().flat_map(|part| part.iter());
        let corners = lines.filter(|line| line.sure).flat_map(|line| &line.corners);
        let mut cents: Vec<f64> = corners.map(|corner| corner.1).collect();
        let last = cents.len().checked_sub(1)?;
        let outside = (OUTLIERS * cents.len() as f64) as usize;
        let mut at = |place: usize| *cents.select_nth_unstable_by(place, f64::total_cmp).1;
        Some((at(outside), at(last - outside)))
    };
    let notes = notes.iter().map(|note| (note.pitch.0, note.pitch.0));
    let (low, high) = drawn
        .into_iter()
        .filter_map(sure)
        .chain(notes)
        .fold((f64::MAX, f64::MIN), |(low, high), (a, b)| (low.min(a), high.max(b)));
    let low = ((low - ROOM) / STEP).floor() * STEP;
    let high = ((high + ROOM) / STEP).ceil() * STEP;
    (Cents(0.5 * (low + high)), Cents(0.5 * (high - low)))
}

/// A line for each pitch of the model, with its name; one more line each semitone.
fn pitches(painter: &Painter, sheet: &Sheet, notes: &[Noted], theme: &Theme) {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let mut lines: Vec<&Noted> = notes.iter().collect();
    lines.sort_by(|a, b| a.pitch.0.total_cmp(&b.pitch.0));
    lines.dedup_by(|a, b| a.name == b.name);
    let mut free = f32::MAX;
    for note in lines {
        let y = sheet.y_from_cents(note.pitch);
        painter.hline(sheet.times.x, y, theme.rule_stroke());
        if free - y < 0.9 * size {
            continue;
        }
        free = y;
        let at = pos2(sheet.times.x.min - 0.4 * size, y);
        let (align, font) = (Align2::RIGHT_CENTER, font.clone());
        painter.text(at, align, &note.name, font, theme.ink);
    }
}

/// The names of the model's notes where they begin, the one that is looked at in ink with a line under it; below
/// them how much later each answer begins.
fn names(
    painter: &Painter,
    sheet: &Sheet,
    lane: Rangef,
    whole: &Whole,
    chosen: usize,
    theme: &Theme,
) {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let line = LINE * size;
    let left = sheet.times.x.min - 0.4 * size;
    let middle = |row: f32| lane.min + (row + 0.45) * line;
    if whole.echoed {
        let at = pos2(left, middle(1.0));
        painter.text(at, Align2::RIGHT_CENTER, "later, s", font.clone(), theme.soft_ink);
    }
    let late = |note: &Noted| match note.late {
        Some(late) => figure::signed(late.0, 2),
        None => "none".to_owned(),
    };
    let place = |note: &Noted| sheet.times.x_from_secs(Secs(note.span.0));
    let wide = |note: &Noted| {
        let late = if whole.echoed { late(note) } else { String::new() };
        let name = pen::width(painter, &note.name, font.clone());
        name.max(pen::width(painter, &late, font.clone())) + 0.5 * size
    };
    // The note that is looked at has its words; those that would stand in its way have none.
    let looked_at = whole.notes.get(chosen);
    let kept = looked_at.map(|note| (place(note), place(note) + wide(note)));
    let mut free = f32::MIN;
    for (number, note) in whole.notes.iter().enumerate() {
        let x = place(note);
        let of_choice = number == chosen;
        let stroke = if of_choice { theme.rule_stroke() } else { theme.hairline_stroke() };
        // The line of a note without words strikes through none of others'.
        let onset = |from: f32| painter.vline(x, from..=sheet.y.max, stroke);
        let right = x + wide(note);
        let in_the_way = kept.is_some_and(|(from, to)| x < to && right > from);
        if !of_choice && (x < free || in_the_way) {
            onset(sheet.y.min);
            continue;
        }
        onset(lane.min);
        free = right;
        let ink = if of_choice { theme.ink } else { theme.soft_ink };
        // The last one has no room at the right.
        let text = (x + 0.25 * size).min(painter.clip_rect().right() - wide(note));
        let at = |row: f32| pos2(text, middle(row));
        painter.text(at(0.0), Align2::LEFT_CENTER, &note.name, font.clone(), ink);
        if whole.echoed {
            painter.text(at(1.0), Align2::LEFT_CENTER, late(note), font.clone(), ink);
        }
        if of_choice {
            let end = sheet.times.x_from_secs(Secs(note.span.1));
            let stroke = Stroke::new(theme.sizes.value, theme.ink);
            painter.hline(x..=end, lane.max, stroke);
        }
    }
}

/// What a screen reader says of it: how both are laid over each other, and when each answer begins.
pub(super) fn spoken(room: &LessonRoom, stand: &Stand, laid: &str) -> String {
    let Some(whole) = whole(room, stand) else {
        return "no model yet".to_owned();
    };
    let each = |note: &Noted| match note.late {
        Some(late) if late.0.abs() < 0.005 => format!("{} together", note.name),
        Some(late) if late.0 > 0.0 => format!("{} {:.2} seconds late", note.name, late.0),
        Some(late) => format!("{} {:.2} seconds early", note.name, -late.0),
        None if whole.echoed => format!("{} not answered", note.name),
        None => note.name.clone(),
    };
    let notes: Vec<String> = whole.notes.iter().map(each).collect();
    let notes = notes.join(", ");
    match room.echo_number().filter(|_| whole.echoed) {
        Some(number) => {
            format!("model and echo {} as a whole over each other, {laid}: {notes}", number + 1)
        }
        None => format!("the model as a whole: {notes}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_height_holds_all_notes_and_grows_by_whole_semitones() {
        let noted = |cents: f64| Noted {
            name: String::new(),
            span: (0.0, 1.0),
            late: None,
            pitch: Cents(cents),
        };
        let notes = [noted(0.0), noted(400.0)];
        let seen = |echo: f64| {
            let line = Line { sure: true, corners: vec![(Secs(0.0), echo)] };
            view(&notes, [&[], &[Arc::new(vec![line])]])
        };
        assert_eq!(seen(210.0), (Cents(200.0), Cents(300.0)));
        assert_eq!(seen(430.0), (Cents(200.0), Cents(300.0)));
        assert_eq!(seen(460.0), (Cents(250.0), Cents(350.0)));
    }
}
