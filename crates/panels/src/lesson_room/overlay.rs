//! Model and echo laid over each other: the pitch of one note each, against the note, from its start or
//! cycle by cycle; below it how the width runs through both.

use super::said;
use super::state::LessonRoom;
use crate::pen;
use crate::sheet::{self, Sheet, Times};
use crate::stand::Stand;
use crate::stand::picture::{Point, Sounding};
use crate::theme::Theme;
use crate::words;
use coach::{Align, Comparison, Instant, Pair, cycles_at};
use egui::{
    Align2, Painter, Pos2, Rangef, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use tuning::{Cents, Hz, Secs, pitch_name};
use vibrato::Note;

/// The model's line is so much wider than the echo's.
const MODEL_PEN: f32 = 2.2;
/// The least that is shown above and below the middle, in cents, and the room around the outermost pitch.
const LEAST_REACH: f64 = 30.0;
const ROOM: f64 = 1.2;
/// A share of the frames at either end of the pitches that does not widen the view: attacks.
const OUTLIERS: f64 = 0.02;
/// What the height of the strip of widths may stand for, in cents.
const TOPS: [f64; 6] = [20.0, 40.0, 80.0, 150.0, 300.0, 500.0];
/// The strip of widths takes this share of the height, where that leaves enough.
const STRIP: f32 = 0.24;
/// Distances of the marks along the foot: seconds or oscillations.
const STEPS: [f64; 7] = [0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 60.0];
/// Distances of the marks at the right, in cents.
const CENTS: [f64; 6] = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0];

/// One line to be drawn: pitch against the note, by time from its start or by oscillation.
struct Course {
    points: Vec<Point>,
}

/// Draws it into `area`.
pub fn overlay_ui(ui: &mut Ui, area: Rect, room: &LessonRoom, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    let revealed = room.revealed(stand.options().showing);
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(room, stand, revealed)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let painter = ui.painter_at(area);
    if !revealed {
        let said = hidden(stand);
        let font = theme.figure_font(theme.sizes.big_word);
        let font = pen::fitting(&painter, &said, font, area.width() - 20.0);
        painter.text(
            area.center(),
            Align2::CENTER_CENTER,
            said,
            font,
            theme.soft_ink,
        );
        painter.rect_stroke(area, 2.0, theme.hairline_stroke(), egui::StrokeKind::Inside);
        return;
    }
    let shown = shown(room, stand);
    let size = theme.sizes.scale;
    let lane = 1.7 * theme.sizes.caption;
    let strip = shown
        .pair
        .filter(|_| STRIP * area.height() > 2.6 * size)
        .map(|_| STRIP * area.height());
    let foot = 1.5 * size;
    let x = Rangef::new(area.left() + 3.6 * size, area.right() - 3.0 * size);
    let bottom = area.bottom() - foot - strip.map_or(0.0, |height| height + 0.6 * size);
    let y = Rangef::new(area.top() + lane, bottom.max(area.top() + lane + 20.0));
    let (from, to) = reach_of_time(&shown, room.align());
    let times = Times {
        x,
        newest: Secs(to),
        span: Secs((to - from).max(0.1)),
    };
    let (middle, reach) = view(&shown);
    let sheet = Sheet {
        times,
        y,
        middle,
        reach,
    };
    legend(&painter, area, x, room, stand, theme);
    scales(
        &painter,
        &sheet,
        Rect::from_x_y_ranges(x, y.min..=area.bottom() - foot),
        room,
        theme,
    );
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
    if let Some(model) = &shown.model {
        let stroke = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
        draw(&on_sheet, &sheet, model, stroke);
    }
    if let Some(echo) = &shown.echo {
        draw(
            &on_sheet,
            &sheet,
            echo,
            Stroke::new(theme.sizes.pen, theme.ink),
        );
    }
    if let (Some(height), Some((comparison, pair))) = (strip, shown.pair) {
        let bottom = area.bottom() - foot;
        let lane = Rect::from_x_y_ranges(x, bottom - height..=bottom);
        widths(
            &painter,
            lane,
            &times,
            comparison,
            pair,
            room.align(),
            theme,
        );
    }
}

/// What is drawn now.
struct Shown<'a> {
    model: Option<Course>,
    echo: Option<Course>,
    /// The note's name.
    name: Option<String>,
    pair: Option<(&'a Comparison, &'a Pair)>,
}

fn shown<'a>(room: &'a LessonRoom, stand: &Stand) -> Shown<'a> {
    let lesson = room.lesson();
    let name = |note: &Note| pitch_name(note.midi, stand.naming());
    // While something sounds it is drawn as it comes.
    if let Some(current) = lesson.current() {
        let reference = match stand.live().sounding {
            Sounding::Note(live) => Some(live.reference),
            Sounding::Begun(begun) => Some(begun.reference),
            Sounding::Silence => None,
        };
        let number = current.notes.len()
            - usize::from(room.sounding().is_none() && !current.notes.is_empty());
        let model = lesson.model().and_then(|model| {
            let note = model.notes.get(number)?;
            Some((
                course(&model.course, note, Align::NoteStart, 0.0),
                name(note),
            ))
        });
        let echo = match (room.sounding(), reference, current.notes.last()) {
            (Some(start), Some(reference), _) => Some(course_from(
                &current.course,
                (start, Secs(f64::MAX)),
                reference,
            )),
            (_, _, Some(last)) => Some(course(&current.course, last, Align::NoteStart, 0.0)),
            _ => None,
        };
        let (model, name) = model.map_or((None, None), |(course, name)| (Some(course), Some(name)));
        return Shown {
            model,
            echo,
            name,
            pair: None,
        };
    }
    let Some(model) = lesson.model() else {
        return Shown {
            model: None,
            echo: None,
            name: None,
            pair: None,
        };
    };
    let note = model.notes.get(room.note());
    let pair = room.shown_pair();
    let echo = pair
        .zip(room.shown_echo())
        .and_then(|((comparison, pair), echo)| {
            let note = comparison.echo.get(pair.echo)?;
            let astray = 100.0 * f64::from(pair.astray);
            Some(course(&echo.phrase.course, note, room.align(), astray))
        });
    Shown {
        model: note.map(|note| course(&model.course, note, room.align(), 0.0)),
        echo,
        name: note.map(name),
        pair,
    }
}

fn course(instants: &[Instant], note: &Note, align: Align, astray: f64) -> Course {
    let mut course = course_from(instants, (note.start, note.end), note.reference);
    for point in &mut course.points {
        if let Some(pitch) = &mut point.pitch {
            pitch.0 += astray;
        }
    }
    if align == Align::Cycles && note.vibrato.is_some() {
        for point in &mut course.points {
            let time = Secs(note.start.0 + point.time.0);
            point.time = Secs(cycles_at(note, time).unwrap_or_default());
        }
    }
    course
}

fn course_from(instants: &[Instant], (start, end): (Secs, Secs), reference: Hz) -> Course {
    let from = instants.partition_point(|instant| instant.time.0 < start.0);
    let points = instants[from..]
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
        .collect();
    Course { points }
}

/// The time or the oscillations that are shown.
fn reach_of_time(shown: &Shown, align: Align) -> (f64, f64) {
    let all = [&shown.model, &shown.echo].into_iter().flatten();
    let ends = all
        .filter_map(|course| Some((course.points.first()?.time.0, course.points.last()?.time.0)));
    let (from, to) = ends.fold((f64::MAX, f64::MIN), |(from, to), (a, b)| {
        (from.min(a), to.max(b))
    });
    if from > to {
        return (0.0, 2.0);
    }
    match align {
        Align::NoteStart => (from.max(-0.1), to.max(from + 1.0)),
        Align::Cycles => (from.max(-3.0), to.max(from + 2.0)),
    }
}

/// The middle of the height and how far it reaches.
fn view(shown: &Shown) -> (Cents, Cents) {
    let mut cents: Vec<f64> = [&shown.model, &shown.echo]
        .into_iter()
        .flatten()
        .flat_map(|course| &course.points)
        .filter(|point| point.confidence >= sheet::DOUBTFUL_BELOW)
        .filter_map(|point| point.pitch.map(Cents::get))
        .filter(|cents| cents.abs() < 600.0)
        .collect();
    if cents.is_empty() {
        return (Cents(0.0), Cents(2.0 * LEAST_REACH));
    }
    cents.sort_by(f64::total_cmp);
    let outside = (OUTLIERS * cents.len() as f64) as usize;
    let (low, high) = (
        cents[outside].min(0.0),
        cents[cents.len() - 1 - outside].max(0.0),
    );
    let reach = (ROOM * 0.5 * (high - low)).max(LEAST_REACH);
    (Cents(0.5 * (low + high)), Cents(reach))
}

fn draw(painter: &Painter, sheet: &Sheet, course: &Course, stroke: Stroke) {
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    for line in sheet::lines(&course.points, &sheet.times, pitch, |_| true) {
        let stroke = if line.sure {
            stroke
        } else {
            Stroke::new(0.5 * stroke.width, stroke.color)
        };
        let places: Vec<Pos2> = line
            .corners
            .iter()
            .map(|&(time, pitch)| sheet.place(time, Cents(pitch)))
            .collect();
        if places.len() > 1 {
            painter.line(places, stroke);
        }
    }
}

/// Which line is whose, above the sheet; and which note it is.
fn legend(
    painter: &Painter,
    area: Rect,
    x: Rangef,
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
    let mut left = x.min;
    let mut entry = |said: &str, stroke: Stroke| {
        let y = foot - 0.32 * size;
        painter.hline(left..=left + 1.6 * size, y, stroke);
        left = pen::write(
            painter,
            pos2(left + 2.0 * size, foot),
            said,
            font.clone(),
            theme.ink,
        ) + size;
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
    let Some(model) = lesson
        .model()
        .filter(|model| model.notes.len() > 1 && !playing)
    else {
        return;
    };
    let name = model
        .notes
        .get(room.note())
        .map(|note| pitch_name(note.midi, stand.naming()));
    let said = format!(
        "note {} of {}, {}",
        room.note() + 1,
        model.notes.len(),
        name.unwrap_or_default()
    );
    let font = pen::fitting(painter, &said, theme.word_font(size), area.right() - left);
    painter.text(
        pos2(area.right(), foot - 0.32 * size),
        Align2::RIGHT_CENTER,
        said,
        font,
        theme.soft_ink,
    );
}

/// The note's line, cents at the right, seconds or oscillations at the foot.
fn scales(painter: &Painter, sheet: &Sheet, whole: Rect, room: &LessonRoom, theme: &Theme) {
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let (low, high) = (
        sheet.middle.0 - sheet.reach.0,
        sheet.middle.0 + sheet.reach.0,
    );
    let cent = f64::from(sheet.y.span()) / (high - low);
    let step = CENTS
        .into_iter()
        .find(|step| step * cent >= f64::from(1.5 * size))
        .unwrap_or(CENTS[CENTS.len() - 1]);
    for mark in (low / step).ceil() as i32..=(high / step).floor() as i32 {
        let cents = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(cents));
        let stroke = if mark == 0 {
            theme.rule_stroke()
        } else {
            theme.hairline_stroke()
        };
        painter.hline(sheet.times.x, y, stroke);
        if y > sheet.y.max - 0.7 * size {
            // The strip of widths has its own number there.
            continue;
        }
        let at = pos2(sheet.times.x.max + 0.4 * size, y);
        painter.text(
            at,
            Align2::LEFT_CENTER,
            words::signed(cents, 0),
            font.clone(),
            theme.soft_ink,
        );
    }
    let (from, to) = (sheet.times.oldest().0, sheet.times.newest.0);
    let second = f64::from(sheet.times.x.span()) / (to - from);
    let step = STEPS
        .into_iter()
        .find(|step| step * second >= f64::from(3.0 * size))
        .unwrap_or(STEPS[STEPS.len() - 1]);
    let unit = match (room.align(), room.lesson().current().is_some()) {
        (Align::Cycles, false) => "oscillations",
        _ => "s",
    };
    let said = |at: f64| {
        if step < 1.0 {
            format!("{at:.1}")
        } else {
            format!("{at:.0}")
        }
    };
    let right = whole.right() - pen::width(painter, unit, font.clone()) - size;
    for mark in (from / step).ceil() as i32..=(to / step).floor() as i32 {
        let at = f64::from(mark) * step;
        let x = sheet.times.x_from_secs(Secs(at));
        painter.vline(x, whole.y_range(), theme.hairline_stroke());
        if x < right {
            let place = pos2(x, whole.bottom() + 0.1 * size);
            painter.text(
                place,
                Align2::CENTER_TOP,
                said(at),
                font.clone(),
                theme.soft_ink,
            );
        }
    }
    let place = pos2(whole.right(), whole.bottom() + 0.1 * size);
    painter.text(place, Align2::RIGHT_TOP, unit, font, theme.soft_ink);
}

/// How the width runs through both notes: the model's as a filled field, the echo's as a line of dots.
fn widths(
    painter: &Painter,
    lane: Rect,
    times: &Times,
    comparison: &Comparison,
    pair: &Pair,
    align: Align,
    theme: &Theme,
) {
    let course = comparison.course(pair, align);
    let size = theme.sizes.scale;
    let widest = course.iter().fold(0.0, |most: f64, point| {
        most.max(point.model.1.0).max(point.echo.1.0)
    });
    let top = TOPS
        .into_iter()
        .find(|top| widest <= *top)
        .unwrap_or(TOPS[TOPS.len() - 1]);
    let place = |at: f64, width: Cents| {
        // An oscillation stands in the middle of its own.
        let at = if align == Align::Cycles { at + 0.5 } else { at };
        let share = (width.0 / top).clamp(0.0, 1.0) as f32;
        pos2(
            times.x_from_secs(Secs(at)),
            lane.bottom() - share * lane.height(),
        )
    };
    painter.hline(lane.x_range(), lane.bottom(), theme.rule_stroke());
    painter.hline(lane.x_range(), lane.top(), theme.hairline_stroke());
    let font = theme.word_font(size);
    let beside = pos2(lane.left() - 0.4 * size, lane.center().y);
    painter.text(
        beside,
        Align2::RIGHT_CENTER,
        "width",
        font.clone(),
        theme.soft_ink,
    );
    let at = pos2(lane.right() + 0.4 * size, lane.top());
    painter.text(
        at,
        Align2::LEFT_CENTER,
        format!("{top:.0}"),
        font,
        theme.soft_ink,
    );
    let model: Vec<Pos2> = course
        .iter()
        .map(|point| place(point.at, point.model.1))
        .collect();
    let echo: Vec<Pos2> = course
        .iter()
        .map(|point| place(point.at, point.echo.1))
        .collect();
    if model.len() > 1 {
        let stroke = Stroke::new(MODEL_PEN * theme.sizes.pen, theme.oscillation);
        painter.add(Shape::line(model, stroke));
        painter.add(Shape::line(echo, Stroke::new(theme.sizes.pen, theme.ink)));
    }
}

fn hidden(stand: &Stand) -> String {
    let when = said::showing(stand.options().showing);
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
    let name = note.map_or_else(String::new, |note| pitch_name(note.midi, stand.naming()));
    let align = match room.align() {
        Align::NoteStart => "from the start of the note",
        Align::Cycles => "cycle by cycle",
    };
    match (room.echo_number(), room.shown_pair()) {
        (Some(number), Some(_)) => format!(
            "model and echo {} of {name} over each other, {align}",
            number + 1
        ),
        (Some(number), None) => format!(
            "the model's {name}; echo {} has no answer to it",
            number + 1
        ),
        (None, _) => format!("the model's {name}"),
    }
}
