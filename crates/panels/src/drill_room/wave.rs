//! The pace wave: the wanted oscillations run ahead of the player towards now, counted, and what was
//! played lies over them.

use super::wave_axis::{half_width, known_half, rate, reach, times, usual_half, wanted};
use super::wave_beats::beats_ui;
use super::wave_ground::{ground, rests, targets, turns};
use super::{Phase, RoomContext, wording};
use crate::widgets::pen;
use coach::{Beat, Showing, Wanted};
use egui::{
    Align2, Id, Painter, Pos2, Rangef, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use pictures::played::Point;
use pictures::sheet::{self as plot_area, Sheet, Times};
use tuning::{Cents, Secs};

/// Corners of a wanted oscillation.
const CORNERS: usize = 28;
/// How much thicker than the trace the wanted wave is.
const BROAD: f32 = 2.6;
/// Height of the row of numbers under the wave, in sizes of words.
const NUMBERS: f32 = 1.3;
/// A wave lower than this, in sizes of small type, has no room for what was counted.
const LOW: f32 = 9.0;
/// How large the number of the count-in is, as a share of the height of the wave.
const COUNT_IN: f32 = 0.95;

/// What a screen reader says of the wave.
fn spoken(context: &RoomContext) -> String {
    let room = context.room;
    let Some(practice) = room.practice() else {
        return String::new();
    };
    match practice.pacer().map(|pacer| pacer.at(room.now())) {
        Some(Beat::CountIn { beat, .. }) => {
            format!("count-in: beat {beat} of {}", practice.drill().count_in)
        }
        Some(Beat::Turn(place)) => {
            let of = practice.asked()[place.turn].count;
            let which = match of {
                Some(count) if place.oscillation > count => "rest".to_owned(),
                Some(count) => format!("oscillation {} of {count}", place.oscillation),
                None => wording::beat(practice.drill(), place.beat),
            };
            format!("pace wave: note {}, {which}", place.turn + 1)
        }
        Some(Beat::After) => "pace wave: the round is over".to_owned(),
        Some(Beat::Before) => "count-in: about to begin".to_owned(),
        None if room.phase() == Phase::CountIn => "count-in: about to begin".to_owned(),
        None => "pace wave at your own pace".to_owned(),
    }
}

/// Draws the wave into `area`.
pub(super) fn wave_ui(ui: &mut Ui, area: Rect, context: &RoomContext) {
    let response = ui.interact(area, Id::unique("pace wave"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(context)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let (room, theme) = (context.room, context.theme);
    let sizes = &theme.sizes;
    let Some(practice) = room.practice() else {
        return;
    };
    let lane = 1.5 * sizes.word;
    let beats = 1.9 * sizes.scale;
    let numbers = NUMBERS * sizes.word;
    let x = Rangef::new(area.left(), area.right() - 3.0 * sizes.scale);
    let first = practice.pacer().map_or(Secs(0.0), |p| p.turn_start(0));
    let still = context.shell.options().still;
    let times = times(x, room.now(), rate(room), sizes.caption, still, first);
    let sheet = Sheet {
        times,
        y: Rangef::new(area.top() + lane, area.bottom() - beats - numbers),
        middle: Cents(0.0),
        reach: reach(room),
    };
    let painter = ui.painter_at(area);
    let clip = sheet.rect().with_min_y(area.top());
    let inside = ui.painter_at(clip.intersect(ui.clip_rect()));
    ground(&painter, &sheet, context);
    turns(&inside, &sheet, area.top(), context);
    rests(&inside, &sheet, context);
    targets(&inside, &sheet, context);
    let all = wanted(room, times.oldest(), times.newest);
    for each in &all {
        hump(&inside, &sheet, each, context);
    }
    course(&inside, &sheet, context);
    let under = clip.with_max_y(area.bottom());
    let numbers = ui.painter_at(under.intersect(ui.clip_rect()));
    for each in &all {
        number(&numbers, &sheet, each, context);
    }
    counted(&inside, &sheet, context);
    beats_ui(&painter, &sheet, area.bottom(), context);
    now_line(&painter, &sheet, context);
    count_in(&painter, &sheet, context);
}

/// When a wanted oscillation's turn began.
fn turn_start(each: &Wanted, context: &RoomContext) -> Secs {
    let pacer = context.room.practice().and_then(|p| p.pacer());
    pacer.map_or(each.start, |pacer| pacer.turn_start(each.turn))
}

/// The height of the wave at a time, in cents.
fn height(each: &Wanted, at: Secs, reach: Cents, context: &RoomContext) -> f64 {
    let Some(practice) = context.room.practice() else {
        return 0.0;
    };
    let into = Secs(at.0 - turn_start(each, context).0);
    let asked = practice.asked().get(each.turn);
    asked
        .and_then(|asked| half_width(practice.drill(), asked, into))
        .or_else(|| known_half(context.room))
        .map_or(usual_half(reach).0, |half| half.0)
}

/// One wanted oscillation, from where the beat falls in it to the next.
fn hump(painter: &Painter, sheet: &Sheet, each: &Wanted, context: &RoomContext) {
    let theme = context.theme;
    let now = context.room.now();
    let over = each.end.0 <= now.0;
    let aim = context.shell.aim();
    let line: Vec<Pos2> = (0..=CORNERS)
        .map(|corner| {
            let share = corner as f64 / CORNERS as f64;
            let at = Secs(each.start.0 + share * (each.end.0 - each.start.0));
            let high = height(each, at, sheet.reach, context);
            sheet.place(at, aim.height(Cents(high), aim.phase() + share))
        })
        .collect();
    let colour = if over { theme.hairline } else { theme.doubt };
    painter.line(line, Stroke::new(BROAD * theme.sizes.pen, colour));
}

/// The number of a wanted oscillation under it; that of now is large.
fn number(painter: &Painter, sheet: &Sheet, each: &Wanted, context: &RoomContext) {
    let (theme, now) = (context.theme, context.room.now());
    let sizes = &theme.sizes;
    let here = each.start.0 <= now.0 && now.0 < each.end.0;
    let middle = Secs((each.start.0 + each.end.0) / 2.0);
    let at = pos2(sheet.times.x_from_secs(middle), sheet.y.max + 0.5 * NUMBERS * sizes.word);
    let (font, ink) = if here {
        (theme.figure_font(1.2 * sizes.word), theme.ink)
    } else if each.end.0 <= now.0 {
        (theme.word_font(sizes.caption), theme.soft_ink)
    } else {
        (theme.word_font(sizes.caption), theme.ink)
    };
    let said = each.oscillation.to_string();
    let half = pen::width(painter, &said, font.clone()) / 2.0;
    // At the edge it comes and goes as a whole.
    if sheet.times.x.contains(at.x - half) && sheet.times.x.contains(at.x + half) {
        painter.text(at, Align2::CENTER_CENTER, said, font, ink);
    }
}

/// Until when what was played may be seen.
fn seen_until(context: &RoomContext) -> Option<Secs> {
    let room = context.room;
    match context.shell.options().showing {
        Showing::Live => Some(room.now()),
        Showing::AfterRound => None,
        // Up to the turn that is being played.
        Showing::AfterNote => {
            let playing = room.known().turn;
            let last = room.counted().rfind(|counted| counted.turn < playing);
            last.map(|counted| counted.at)
        }
    }
}

/// What was played.
fn course(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let Some(until) = seen_until(context) else {
        return;
    };
    let theme = context.theme;
    let course = context.room.course();
    let midis = context.room.midis();
    let mut line_at = course.lines(&midis);
    let points: Vec<(Point, Option<f64>)> = sheet
        .times
        .seen(course.points())
        .filter(|point| point.time <= until)
        .map(|point| {
            let line = line_at(point.time);
            let pitch = line.zip(point.pitch);
            (*point, pitch.map(|(line, pitch)| pitch.0 - line.0))
        })
        .collect();
    played(painter, sheet, &points, context.theme.sizes.pen, theme.ink);
}

/// The line through points that were heard, each with how far it lies from its note.
pub(super) fn played(
    painter: &Painter,
    sheet: &Sheet,
    points: &[(Point, Option<f64>)],
    width: f32,
    ink: egui::Color32,
) {
    // `plot_area::lines` asks for the value of each point in turn.
    let flat: Vec<Point> =
        points.iter().map(|(point, away)| Point { pitch: away.map(Cents), ..*point }).collect();
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    for line in plot_area::lines(flat.iter(), &sheet.times, pitch, |_| true) {
        let places: Vec<Pos2> = line
            .corners
            .iter()
            .map(|&(time, away)| {
                let most = sheet.reach.0;
                sheet.place(time, Cents(away.clamp(-most, most)))
            })
            .collect();
        let width = if line.sure { width } else { width / 2.0 };
        if places.len() > 1 {
            painter.line(places, Stroke::new(width, ink));
        }
    }
}

/// The oscillations that were counted, where they were.
fn counted(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let Some(until) = seen_until(context) else {
        return;
    };
    let theme = context.theme;
    let size = theme.sizes.scale;
    // Under a low wave there is no room for them.
    if sheet.y.span() < LOW * size {
        return;
    }
    let free_pace = context.room.practice().is_some_and(|p| p.pacer().is_none());
    let asked = context.room.practice().map_or(&[][..], |p| p.asked());
    let is_asked = |turn: usize| asked.get(turn).is_some_and(|asked| asked.count.is_some());
    // The newest first: of several that were counted at once only the last is told.
    let mut free = f32::INFINITY;
    for counted in context.room.counted().rev() {
        let x = sheet.times.x_from_secs(counted.at);
        if counted.at > until || !is_asked(counted.turn) || x > free {
            continue;
        }
        if x < sheet.times.x.min {
            break;
        }
        free = x - 0.8 * size;
        let foot = sheet.y.max;
        painter.vline(
            x,
            foot - 0.6 * size..=foot,
            Stroke::new(theme.sizes.mark, theme.oscillation),
        );
        // To the beat each has its number under the wave.
        if free_pace && x > sheet.times.x.min + size {
            let at = pos2(x, foot - 0.7 * size);
            let said = counted.count.to_string();
            let font = theme.word_font(size);
            painter.text(at, Align2::CENTER_BOTTOM, said, font, theme.oscillation);
        }
    }
}

/// Where now is.
fn now_line(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let theme = context.theme;
    let x = sheet.times.x_from_secs(context.room.now());
    let stroke = Stroke::new(theme.sizes.value, theme.ink);
    let half = 1.4 * theme.sizes.turn;
    painter.vline(x, sheet.y.min - 4.0..=sheet.y.max, stroke);
    let top = pos2(x, sheet.y.min + 1.2 * half);
    painter.add(Shape::convex_polygon(
        vec![top, top + vec2(-half, -1.6 * half), top + vec2(half, -1.6 * half)],
        theme.ink,
        Stroke::NONE,
    ));
}

/// The beat that is counted in, where the past will be.
fn count_in(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let (room, theme) = (context.room, context.theme);
    if room.phase() != Phase::CountIn {
        return;
    }
    let pacer = room.practice().and_then(|practice| practice.pacer());
    let beat = match pacer.map(|pacer| pacer.at(room.now())) {
        Some(Beat::CountIn { beat, .. }) => beat.to_string(),
        _ => "…".to_owned(),
    };
    let x = sheet.times.x_from_secs(room.now());
    let (left, right) = if x - sheet.times.x.min > 2.0 * theme.sizes.figure {
        (sheet.times.x.min, x)
    } else {
        (x, sheet.times.x.max)
    };
    let middle = pos2((left + right) / 2.0, sheet.y.center());
    let size = (COUNT_IN * sheet.y.span() / 0.7).min(1.2 * (right - left));
    let font = theme.figure_font(size);
    let wide = pen::width(painter, &beat, font.clone());
    let patch = Rect::from_center_size(middle, vec2(wide + 0.3 * size, sheet.y.span()));
    painter.rect_filled(patch, 0.0, theme.paper);
    let foot = pos2(middle.x - wide / 2.0, middle.y + 0.31 * size);
    pen::write(painter, foot, &beat, font, theme.ink);
    // It is no finger.
    let above = pos2(middle.x, sheet.y.min - 0.2 * theme.sizes.caption);
    let font = theme.word_font(theme.sizes.caption);
    painter.text(above, Align2::CENTER_BOTTOM, "count-in", font, theme.soft_ink);
}

/// Times of a picture of a whole round.
pub(super) fn whole(x: Rangef, from: Secs, to: Secs) -> Times {
    let span = (to.0 - from.0).max(0.5);
    Times { x, newest: Secs(from.0 + span), span: Secs(span) }
}
