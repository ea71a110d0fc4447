//! A phrase as a whole: all notes of the model and of what answers it, laid over each other at the first onset,
//! or each answer at the onset of its own note; above them the names, and how much later each answer begins.

use super::scales::{self, Widths};
use super::{MODEL_PEN, between, draw, page_end, sounding_reference};
use crate::lesson_room::action::{Laid, LessonAction};
use crate::lesson_room::state::LessonRoom;
use crate::pen;
use crate::sheet::{self, Sheet, Times};
use crate::stand::Stand;
use crate::stand::picture::Point;
use crate::theme::Theme;
use crate::words;
use coach::{Align, Comparison, Phrase};
use egui::{Align2, Painter, Pos2, Rangef, Rect, Stroke, Ui, pos2, vec2};
use tuning::{Cents, Hz, Secs, pitch_name};
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

/// A long phrase is drawn by each so manyth frame: two of them for each point of the width, and no fewer than one in
/// 40 ms, so that an oscillation stays one.
const A_POINT: usize = 2;
const MOST_SKIPPED: usize = 8;

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
struct Whole {
    notes: Vec<Noted>,
    model: Vec<Point>,
    echo: Vec<Point>,
    widths: Vec<Widths>,
    /// An echo is there, so that a note may be without an answer.
    echoed: bool,
}

/// Draws it into `area`, under a lane of this height; says which note was pointed at.
pub fn phrase_ui(
    ui: &Ui,
    area: Rect,
    lane: f32,
    (room, stand): (&LessonRoom, &Stand),
    theme: &Theme,
    pointed: Option<Pos2>,
) -> Option<LessonAction> {
    let whole = whole(room, stand, area.width())?;
    let painter = ui.painter_at(area);
    let size = theme.sizes.scale;
    let strip = area.height() > STRIP_FROM * size && !whole.widths.is_empty();
    let strip = if strip { STRIP * area.height() } else { 0.0 };
    let lines = if whole.echoed { 2.0 } else { 1.0 };
    let x = Rangef::new(area.left() + 3.6 * size, area.right() - 3.0 * size);
    let foot = area.bottom() - 1.5 * size;
    let top = area.top() + lane + lines * LINE * size;
    let apart = if strip > 0.0 { 0.6 * size } else { 0.0 };
    let y = Rangef::new(top, (foot - strip - apart).max(top + 20.0));
    let (from, to) = reach_of_time(&whole, room.lesson().current().is_some());
    let times = Times {
        x,
        newest: Secs(to),
        span: Secs(to - from),
    };
    let (middle, reach) = view(&whole);
    let sheet = Sheet {
        times,
        y,
        middle,
        reach,
    };
    pitches(&painter, &sheet, &whole.notes, theme);
    // Lines over the whole height are onsets here; seconds have short ones.
    let ticks = Rangef::new(foot - TICK * size, foot);
    scales::along(&painter, &times, ticks, "s", theme);
    let above = Rangef::new(area.top() + lane, top);
    let chosen = room.note();
    names(&painter, &sheet, above, &whole, chosen, theme);
    let on_sheet = ui.painter_at(sheet.rect().expand2(vec2(0.0, 2.0)));
    let thick = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
    draw(&on_sheet, &sheet, &whole.model, thick);
    let thin = Stroke::new(theme.sizes.pen, theme.ink);
    draw(&on_sheet, &sheet, &whole.echo, thin);
    if strip > 0.0 {
        let lane = Rect::from_x_y_ranges(x, foot - strip..=foot);
        scales::widths(&painter, lane, &times, &whole.widths, theme);
    }
    let at = pointed.filter(|at| x.contains(at.x))?;
    let starts = whole.notes.iter().map(|note| note.span.0);
    let before = starts.take_while(|start| times.x_from_secs(Secs(*start)) <= at.x);
    Some(LessonAction::Into(before.count().saturating_sub(1)))
}

/// What is to be drawn over so many points of width; `None` before there is a model.
fn whole(room: &LessonRoom, stand: &Stand, width: f32) -> Option<Whole> {
    let lesson = room.lesson();
    let model = lesson.model()?;
    let first = model.notes.first()?;
    let current = lesson.current();
    let echo = room.shown_echo().filter(|_| current.is_none());
    let compared = echo.map(|echo| &echo.comparison);
    let starts = compared.and_then(Comparison::starts);
    let every = every(model.course.len(), width);
    let zero = starts.map_or(first.start, |(model, _)| model);
    let reference = first.reference;
    let mut whole = Whole {
        notes: notes(model, compared, zero, reference, stand),
        model: later(
            between(&model.course, span(model), reference, every),
            first.start.0 - zero.0,
        ),
        echo: Vec::new(),
        widths: Vec::new(),
        echoed: compared.is_some(),
    };
    if let Some(current) = current {
        whole.echo = sounding(current, room.sounding(), (first, every), stand);
    } else if let (Some(echo), Some(compared), Some((_, start))) = (echo, compared, starts) {
        let lowered = reference.0 * 2f64.powf(f64::from(compared.transposed) / 12.0);
        let shifts = shifts(compared, room.laid(), (zero, start));
        for (number, &(from, by)) in shifts.iter().enumerate() {
            let to = shifts
                .get(number + 1)
                .map_or(span(&echo.phrase).1, |next| next.0);
            let points = between(&echo.phrase.course, (from, to), Hz(lowered), every);
            whole.echo.extend(later(points, from.0 - by.0));
        }
        whole.widths = widths(compared, zero, &shifts);
    }
    Some(whole)
}

/// Each so manyth of these frames is drawn over so many points.
fn every(frames: usize, width: f32) -> usize {
    let all = frames / (A_POINT * (width as usize).max(1));
    all.clamp(1, MOST_SKIPPED)
}

fn span(phrase: &Phrase) -> (Secs, Secs) {
    phrase.span().unwrap_or_default()
}

fn later(mut points: Vec<Point>, by: f64) -> Vec<Point> {
    for point in &mut points {
        point.time.0 += by;
    }
    points
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
        name: pitch_name(note.midi, stand.naming()),
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
            let (a, b) = (
                compared.model[pair.model].start,
                compared.echo[pair.echo].start,
            );
            (b, Secs(b.0 - (a.0 - model.0)))
        })
        .collect();
    if let Some(first) = all.first_mut() {
        first.0 = begin;
    }
    all
}

/// How the width runs through each pair, where the notes are drawn.
fn widths(compared: &Comparison, zero: Secs, shifts: &[(Secs, Secs)]) -> Vec<Widths> {
    let of = |pair: &coach::Pair| {
        let (model, echo) = (
            compared.model[pair.model].start,
            compared.echo[pair.echo].start,
        );
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
fn sounding(
    current: &Phrase,
    begun: Option<Secs>,
    (model, every): (&Note, usize),
    stand: &Stand,
) -> Vec<Point> {
    let first = current.notes.first();
    let first = first.map(|note| (note.start, note.reference));
    let Some((start, own)) = first.or_else(|| begun.zip(sounding_reference(stand))) else {
        return Vec::new();
    };
    let octaves = (own.cents_above(model.reference).0 / 1200.0).round();
    let reference = Hz(model.reference.0 * octaves.exp2());
    between(&current.course, (start, Secs(f64::MAX)), reference, every)
}

fn reach_of_time(whole: &Whole, sounds: bool) -> (f64, f64) {
    let of_notes = whole.notes.first().zip(whole.notes.last());
    let (from, end) = of_notes.map_or((0.0, 1.0), |(a, b)| (a.span.0, b.span.1));
    let ends = whole.echo.first().zip(whole.echo.last());
    let (echo, last) = ends.map_or((from, end), |(a, b)| (a.time.0, b.time.0));
    let to = if sounds {
        page_end(last, end)
    } else {
        end.max(last)
    };
    (from.min(echo) - BEFORE, to)
}

/// The middle of the height and how far it reaches, in whole steps, so that nothing creeps.
fn view(whole: &Whole) -> (Cents, Cents) {
    let sure = |points: &[Point]| {
        let points = points.iter();
        let sure = points.filter(|point| point.confidence >= sheet::DOUBTFUL_BELOW);
        let mut cents: Vec<f64> = sure.filter_map(|point| Some(point.pitch?.0)).collect();
        let last = cents.len().checked_sub(1)?;
        let outside = (OUTLIERS * cents.len() as f64) as usize;
        let mut at = |place: usize| *cents.select_nth_unstable_by(place, f64::total_cmp).1;
        Some((at(outside), at(last - outside)))
    };
    let ends = [sure(&whole.model), sure(&whole.echo)];
    let notes = whole.notes.iter().map(|note| (note.pitch.0, note.pitch.0));
    let (low, high) = ends
        .into_iter()
        .flatten()
        .chain(notes)
        .fold((f64::MAX, f64::MIN), |(low, high), (a, b)| {
            (low.min(a), high.max(b))
        });
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
        painter.text(
            at,
            Align2::RIGHT_CENTER,
            "later, s",
            font.clone(),
            theme.soft_ink,
        );
    }
    let late = |note: &Noted| match note.late {
        Some(late) => words::signed(late.0, 2),
        None => "none".to_owned(),
    };
    let place = |note: &Noted| sheet.times.x_from_secs(Secs(note.span.0));
    let wide = |note: &Noted| {
        let late = if whole.echoed {
            late(note)
        } else {
            String::new()
        };
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
        let stroke = if of_choice {
            theme.rule_stroke()
        } else {
            theme.hairline_stroke()
        };
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
pub fn spoken(room: &LessonRoom, stand: &Stand, laid: &str) -> String {
    let Some(whole) = whole(room, stand, 1.0) else {
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
        Some(number) => format!(
            "model and echo {} as a whole over each other, {laid}: {notes}",
            number + 1
        ),
        None => format!("the model as a whole: {notes}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_phrase_is_drawn_by_fewer_frames_and_a_short_one_by_all() {
        assert_eq!(every(1_000, 780.0), 1);
        assert_eq!(every(9_000, 780.0), 5);
        assert_eq!(every(24_000, 780.0), 8);
        assert_eq!(every(24_000, 0.0), 8);
    }

    #[test]
    fn the_height_holds_all_notes_and_grows_by_whole_semitones() {
        let noted = |cents: f64| Noted {
            name: String::new(),
            span: (0.0, 1.0),
            late: None,
            pitch: Cents(cents),
        };
        let whole = |echo: f64| Whole {
            notes: vec![noted(0.0), noted(400.0)],
            model: Vec::new(),
            echo: vec![Point {
                time: Secs(0.0),
                pitch: Some(Cents(echo)),
                confidence: 1.0,
                level_dbfs: -20.0,
                joined: false,
            }],
            widths: Vec::new(),
            echoed: true,
        };
        assert_eq!(view(&whole(210.0)), (Cents(200.0), Cents(300.0)));
        assert_eq!(view(&whole(430.0)), (Cents(200.0), Cents(300.0)));
        assert_eq!(view(&whole(460.0)), (Cents(250.0), Cents(350.0)));
    }
}
