//! The pace wave: the wanted oscillations run ahead of the player towards now, counted, and what was
//! played lies over them.

use super::wave_axis::{half_width, mark, rate, reach, times, turn, usual_half, wanted};
use super::{Phase, Sight, said};
use crate::pen;
use crate::sheet::{self, Sheet, Times};
use crate::stand::picture::Point;
use crate::words;
use coach::{Beat, Kind, Showing, Wanted};
use egui::{
    Align2, Id, Painter, Pos2, Rangef, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use tuning::{Cents, Secs, pitch_name};

/// Corners of a wanted oscillation.
const CORNERS: usize = 28;
/// How much thicker than the trace the wanted wave is.
const BROAD: f32 = 2.6;
/// A beat is seen for so long.
const FLASH: Secs = Secs(0.12);
/// A wave lower than this, in sizes of small type, has no room for what was counted.
const LOW: f32 = 9.0;
/// How large the number of the count-in is, as a share of the height of the wave.
const COUNT_IN: f32 = 0.95;

/// What a screen reader says of the wave.
fn spoken(sight: &Sight) -> String {
    let room = sight.room;
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
                None => format!("beat {}", place.beat),
            };
            format!("pace wave: turn {}, {which}", place.turn + 1)
        }
        Some(Beat::After) => "pace wave: the round is over".to_owned(),
        Some(Beat::Before) => "count-in: about to begin".to_owned(),
        None if room.phase() == Phase::CountIn => "count-in: about to begin".to_owned(),
        None => "pace wave at your own pace".to_owned(),
    }
}

/// Draws the wave into `area`.
pub fn wave_ui(ui: &mut Ui, area: Rect, sight: &Sight) {
    let response = ui.interact(area, Id::unique("pace wave"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(sight)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let (room, theme) = (sight.room, sight.theme);
    let sizes = &theme.sizes;
    let Some(practice) = room.practice() else {
        return;
    };
    let lane = 1.5 * sizes.word;
    let beats = 1.9 * sizes.scale;
    // The number over a crest does not reach into the lane of the fingers.
    let high = 1.5 * sizes.word - 0.22 * (area.height() - lane - beats);
    let lane = lane + high.max(0.0);
    let x = Rangef::new(area.left(), area.right() - 2.6 * sizes.scale);
    let first = practice.pacer().map_or(Secs(0.0), |p| p.turn_start(0));
    let still = sight.stand.options().still;
    let times = times(x, room.now(), rate(room), sizes.caption, still, first);
    let sheet = Sheet {
        times,
        y: Rangef::new(area.top() + lane, area.bottom() - beats),
        middle: Cents(0.0),
        reach: reach(room),
    };
    let painter = ui.painter_at(area);
    let clip = sheet.rect().with_min_y(area.top());
    let inside = ui.painter_at(clip.intersect(ui.clip_rect()));
    ground(&painter, &sheet, sight);
    turns(&inside, &sheet, area.top(), sight);
    rests(&inside, &sheet, sight);
    targets(&inside, &sheet, sight);
    let all = wanted(room, times.oldest(), times.newest);
    for each in &all {
        hump(&inside, &sheet, each, sight);
    }
    course(&inside, &sheet, sight);
    for each in &all {
        number(&inside, &sheet, each, sight);
    }
    counted(&inside, &sheet, sight);
    beats_ui(&painter, &sheet, area.bottom(), sight);
    now_line(&painter, &sheet, sight);
    count_in(&painter, &sheet, sight);
}

/// The line of the note and the cents above and below it.
fn ground(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let theme = sight.theme;
    let font = theme.word_font(theme.sizes.scale);
    let half = mark(sheet.reach).0;
    let apart = sheet.y_from_cents(Cents(0.0)) - sheet.y_from_cents(Cents(half));
    for away in [half, 0.0, -half] {
        let y = sheet.y_from_cents(Cents(away));
        let stroke = if away == 0.0 {
            theme.rule_stroke()
        } else {
            theme.hairline_stroke()
        };
        painter.hline(sheet.times.x, y, stroke);
        let said = if away == 0.0 && apart < 1.25 * theme.sizes.scale {
            continue;
        } else if away == 0.0 {
            "cents".to_owned()
        } else {
            words::signed(away, 0)
        };
        let at = pos2(sheet.times.x.max + 4.0, y);
        let font = pen::fitting(painter, &said, font.clone(), 2.5 * theme.sizes.scale);
        painter.text(at, Align2::LEFT_CENTER, said, font, theme.soft_ink);
    }
}

/// Where each turn begins, with its finger and note.
fn turns(painter: &Painter, sheet: &Sheet, top: f32, sight: &Sight) {
    let (room, theme) = (sight.room, sight.theme);
    let Some(practice) = room.practice() else {
        return;
    };
    let Some(pacer) = practice.pacer() else {
        return;
    };
    let asked = practice.asked();
    let naming = sight.stand.naming();
    for number in 0..=asked.len() {
        let from = sheet.times.x_from_secs(pacer.turn_start(number));
        if from > sheet.times.x.max {
            break;
        }
        painter.vline(from, top..=sheet.y.max, theme.rule_stroke());
        let Some(turn) = asked.get(number) else { break };
        let to = sheet.times.x_from_secs(pacer.turn_start(number + 1));
        if to < sheet.times.x.min {
            continue;
        }
        let left = from.max(sheet.times.x.min) + 6.0;
        let space = to - left - 6.0;
        let sign = said::sign(turn.finger);
        let figure = theme.figure_font(1.25 * theme.sizes.word);
        let foot = pos2(left, top + 1.15 * theme.sizes.word);
        let wide = pen::width(painter, &sign, figure.clone());
        if wide > space {
            continue;
        }
        let right = pen::write(painter, foot, &sign, figure, theme.ink);
        let mut note = pitch_name(turn.midi, naming);
        let step = said::step(practice.drill(), turn);
        if !step.is_empty() {
            note = format!("{note} · {step}");
        }
        let font = theme.word_font(theme.sizes.caption);
        let left = right + 0.4 * theme.sizes.caption;
        let wide = pen::width(painter, &note, font.clone());
        if left + wide <= to - 4.0 || to > sheet.times.x.max {
            pen::write(painter, pos2(left, foot.y), &note, font, theme.soft_ink);
        }
    }
}

/// Where the hand or the bow rests between two turns.
fn rests(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let theme = sight.theme;
    let Some(practice) = sight.room.practice() else {
        return;
    };
    let (Some(pacer), Some(length)) = (practice.pacer(), practice.drill().turn_length()) else {
        return;
    };
    let word = if practice.drill().stops() {
        "the bow stops"
    } else {
        "still"
    };
    for number in 0..practice.asked().len() {
        let from = Secs(pacer.turn_start(number).0 + length.0);
        let to = pacer.turn_start(number + 1);
        if to.0 - from.0 < 1e-3 || to < sheet.times.oldest() || from > sheet.times.newest {
            continue;
        }
        let (left, right) = (sheet.times.x_from_secs(from), sheet.times.x_from_secs(to));
        let rest = Rect::from_x_y_ranges(left..=right, sheet.y);
        painter.rect_filled(rest, 0.0, theme.faded(theme.patch, 0.6));
        let font = theme.word_font(theme.sizes.caption);
        let font = pen::fitting(painter, word, font, 0.9 * rest.width());
        let at = rest.center() - vec2(0.0, 0.2 * font.size);
        painter.text(at, Align2::CENTER_BOTTOM, word, font, theme.soft_ink);
    }
}

/// What is to be reached beside the count: the band of a straight note, the bounds of a width, the line of
/// a bloom.
fn targets(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let (room, theme) = (sight.room, sight.theme);
    let Some(practice) = room.practice() else {
        return;
    };
    let drill = practice.drill();
    let Some(pacer) = practice.pacer() else {
        free_target(painter, sheet, sight);
        return;
    };
    let Some(length) = drill.turn_length() else {
        return;
    };
    for (number, asked) in practice.asked().iter().enumerate() {
        let start = pacer.turn_start(number);
        let end = Secs(start.0 + length.0);
        if end < sheet.times.oldest() || start > sheet.times.newest {
            continue;
        }
        match &drill.kind {
            Kind::Straight { within, .. } => {
                let band = Rect::from_two_pos(
                    sheet.place(start, *within),
                    sheet.place(end, Cents(-within.0)),
                );
                painter.rect_filled(band, 0.0, theme.doubt);
            }
            Kind::Bloom { .. } => {
                for side in [1.0, -1.0] {
                    let line: Vec<Pos2> = (0..=CORNERS * 4)
                        .map(|corner| {
                            let into = length.0 * corner as f64 / (CORNERS * 4) as f64;
                            let half = half_width(drill, asked.width, Secs(into));
                            let half = half.unwrap_or_default().0;
                            sheet.place(Secs(start.0 + into), Cents(side * half))
                        })
                        .collect();
                    painter.line(line, Stroke::new(theme.sizes.pen, theme.oscillation));
                }
            }
            _ => bounds(painter, sheet, asked.width, (start, end), sight),
        }
    }
}

/// The bounds of the width asked for now, at a free pace.
fn free_target(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let room = sight.room;
    let asked = room.practice().and_then(|p| p.asked().get(turn(room)));
    if let Some(asked) = asked {
        let all = (sheet.times.oldest(), sheet.times.newest);
        bounds(painter, sheet, asked.width, all, sight);
    }
}

/// A line where the crests and where the troughs are to be: of a region its least and its greatest width.
fn bounds(
    painter: &Painter,
    sheet: &Sheet,
    width: Option<(Cents, Cents)>,
    (from, to): (Secs, Secs),
    sight: &Sight,
) {
    let Some((low, high)) = width else { return };
    let theme = sight.theme;
    for side in [0.5, -0.5] {
        if low == high {
            let ends = [
                sheet.place(from, Cents(side * low.0)),
                sheet.place(to, Cents(side * low.0)),
            ];
            let stroke = Stroke::new(theme.sizes.rule, theme.oscillation);
            painter.extend(Shape::dashed_line(&ends, stroke, 7.0, 5.0));
        } else {
            let band = Rect::from_two_pos(
                sheet.place(from, Cents(side * low.0)),
                sheet.place(to, Cents(side * high.0)),
            );
            painter.rect_filled(band, 0.0, theme.faded(theme.doubt, 0.5));
        }
    }
}

/// When a wanted oscillation's turn began.
fn turn_start(each: &Wanted, sight: &Sight) -> Secs {
    let pacer = sight.room.practice().and_then(|p| p.pacer());
    pacer.map_or(each.start, |pacer| pacer.turn_start(each.turn))
}

/// The height of the wave at a time, in cents.
fn height(each: &Wanted, at: Secs, reach: Cents, sight: &Sight) -> f64 {
    let Some(practice) = sight.room.practice() else {
        return 0.0;
    };
    let width = practice
        .asked()
        .get(each.turn)
        .and_then(|asked| asked.width);
    let into = Secs(at.0 - turn_start(each, sight).0);
    half_width(practice.drill(), width, into).map_or(usual_half(reach).0, |half| half.0)
}

/// One wanted oscillation, from trough to trough.
fn hump(painter: &Painter, sheet: &Sheet, each: &Wanted, sight: &Sight) {
    let theme = sight.theme;
    let now = sight.room.now();
    let over = each.end.0 <= now.0;
    let line: Vec<Pos2> = (0..=CORNERS)
        .map(|corner| {
            let share = corner as f64 / CORNERS as f64;
            let at = Secs(each.start.0 + share * (each.end.0 - each.start.0));
            let high = height(each, at, sheet.reach, sight);
            sheet.place(at, Cents(-high * (std::f64::consts::TAU * share).cos()))
        })
        .collect();
    let colour = if over { theme.hairline } else { theme.doubt };
    painter.line(line, Stroke::new(BROAD * theme.sizes.pen, colour));
}

/// The number of a wanted oscillation over its crest; that of now is large.
fn number(painter: &Painter, sheet: &Sheet, each: &Wanted, sight: &Sight) {
    let (theme, now) = (sight.theme, sight.room.now());
    let sizes = &theme.sizes;
    let here = each.start.0 <= now.0 && now.0 < each.end.0;
    let middle = Secs((each.start.0 + each.end.0) / 2.0);
    let high = height(each, middle, sheet.reach, sight);
    let at = sheet.place(middle, Cents(high));
    let (font, ink) = if here {
        (theme.figure_font(1.35 * sizes.word), theme.ink)
    } else if each.end.0 <= now.0 {
        (theme.word_font(sizes.caption), theme.soft_ink)
    } else {
        (theme.word_font(sizes.caption), theme.ink)
    };
    let above = at - vec2(0.0, BROAD * sizes.pen);
    let said = each.oscillation.to_string();
    painter.text(above, Align2::CENTER_BOTTOM, said, font, ink);
}

/// Until when what was played may be seen.
fn seen_until(sight: &Sight) -> Option<Secs> {
    let room = sight.room;
    match sight.stand.options().showing {
        Showing::Live => Some(room.now()),
        Showing::AfterRound => None,
        // Up to the turn that is being played.
        Showing::AfterNote => {
            let playing = room.known().turn;
            let last = room
                .counted()
                .iter()
                .rfind(|counted| counted.turn < playing);
            last.map(|counted| counted.at)
        }
    }
}

/// What was played.
fn course(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let Some(until) = seen_until(sight) else {
        return;
    };
    let theme = sight.theme;
    let course = sight.room.course();
    let midis = sight.room.midis();
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
    played(painter, sheet, &points, sight.theme.sizes.pen, theme.ink);
}

/// The line through points that were heard, each with how far it lies from its note.
pub fn played(
    painter: &Painter,
    sheet: &Sheet,
    points: &[(Point, Option<f64>)],
    width: f32,
    ink: egui::Color32,
) {
    // `sheet::lines` asks for the value of each point in turn.
    let flat: Vec<Point> = points
        .iter()
        .map(|(point, away)| Point {
            pitch: away.map(Cents),
            ..*point
        })
        .collect();
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    for line in sheet::lines(flat.iter(), &sheet.times, pitch, |_| true) {
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
fn counted(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let Some(until) = seen_until(sight) else {
        return;
    };
    let theme = sight.theme;
    let size = theme.sizes.scale;
    // Under a low wave there is no room for them.
    if sheet.y.span() < LOW * size {
        return;
    }
    let asked = sight.room.practice().map_or(&[][..], |p| p.asked());
    let is_asked = |turn: usize| asked.get(turn).is_some_and(|asked| asked.count.is_some());
    for counted in sight.room.counted() {
        if counted.at > until || !is_asked(counted.turn) {
            continue;
        }
        let x = sheet.times.x_from_secs(counted.at);
        if x < sheet.times.x.min {
            continue;
        }
        let foot = sheet.y.max;
        painter.vline(
            x,
            foot - 0.6 * size..=foot,
            Stroke::new(theme.sizes.mark, theme.oscillation),
        );
        let at = pos2(x, foot - 0.7 * size);
        let font = theme.word_font(size);
        let said = counted.count.to_string();
        painter.text(at, Align2::CENTER_BOTTOM, said, font, theme.oscillation);
    }
}

/// The beats along the foot; that of now is filled.
fn beats_ui(painter: &Painter, sheet: &Sheet, bottom: f32, sight: &Sight) {
    let (room, theme) = (sight.room, sight.theme);
    let Some(pacer) = room.practice().and_then(|practice| practice.pacer()) else {
        return;
    };
    let now = room.now();
    let y = (sheet.y.max + bottom) / 2.0;
    let radius = 0.32 * theme.sizes.scale;
    let counted_in = room.practice().map_or(0, |p| p.drill().count_in);
    let Some(first) = pacer.next_beat(sheet.times.oldest()) else {
        return;
    };
    for beat in first.. {
        let at = pacer.beat_at(beat);
        if at > sheet.times.newest || pacer.next_beat(at).is_none() {
            break;
        }
        let centre = pos2(sheet.times.x_from_secs(at), y);
        let since = now.0 - at.0;
        let stroke = Stroke::new(theme.sizes.rule, theme.soft_ink);
        if (0.0..FLASH.0).contains(&since) {
            painter.circle_filled(centre, 1.7 * radius, theme.ink);
        } else if beat < u64::from(counted_in) {
            painter.circle_stroke(centre, 0.7 * radius, stroke);
        } else {
            painter.circle_stroke(centre, radius, stroke);
        }
    }
}

/// Where now is.
fn now_line(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let theme = sight.theme;
    let x = sheet.times.x_from_secs(sight.room.now());
    let stroke = Stroke::new(theme.sizes.value, theme.ink);
    painter.vline(x, sheet.y.min - 4.0..=sheet.y.max, stroke);
    let half = 1.4 * theme.sizes.turn;
    let top = pos2(x, sheet.y.min + 1.2 * half);
    painter.add(Shape::convex_polygon(
        vec![
            top,
            top + vec2(-half, -1.6 * half),
            top + vec2(half, -1.6 * half),
        ],
        theme.ink,
        Stroke::NONE,
    ));
}

/// The beat that is counted in, where the past will be.
fn count_in(painter: &Painter, sheet: &Sheet, sight: &Sight) {
    let (room, theme) = (sight.room, sight.theme);
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
}

/// Times of a picture of a whole round.
pub fn whole(x: Rangef, from: Secs, to: Secs) -> Times {
    let span = (to.0 - from.0).max(0.5);
    Times {
        x,
        newest: Secs(from.0 + span),
        span: Secs(span),
    }
}
