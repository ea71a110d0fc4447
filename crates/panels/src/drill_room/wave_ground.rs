//! What lies under the pace wave: the line of the note, the turns with their fingers, rests, and what is to
//! be reached beside the count.

use super::wave_axis::{half_width, known_half, mark, turn, wanted};
use super::{RoomContext, wording};
use crate::widgets::pen;
use coach::{Asked, Kind, Wanted};
use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};
use pictures::sheet::Sheet;
use tuning::{Cents, Secs, figure, pitch_name};

/// Corners of the line of a bloom.
const CORNERS: usize = 112;

/// The line of the note, and the cents above and below it where they say something: of a straight note, and where the
/// wave is as high as a width that is known.
pub(super) fn ground(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let (room, theme) = (context.room, context.theme);
    let size = theme.sizes.scale;
    let font = theme.word_font(size);
    let label = |y: f32, said: &str| {
        let at = pos2(sheet.times.x.max + 0.7 * size, y);
        let font = pen::fitting(painter, said, font.clone(), LABELS * size);
        painter.text(at, Align2::LEFT_CENTER, said, font, theme.soft_ink);
    };
    painter.hline(sheet.times.x, sheet.y_from_cents(Cents(0.0)), theme.rule_stroke());
    let straight = matches!(room.drill().map(|drill| &drill.kind), Some(Kind::Straight { .. }));
    let half = if straight { Some(mark(sheet.reach)) } else { known_half(room) };
    let Some(half) = half else { return };
    let aim = context.shell.aim();
    let ends = if straight {
        (half, Cents(-half.0))
    } else {
        (aim.height(half, 0.5), aim.height(half, 0.0))
    };
    let [top, foot] = [ends.0, ends.1].map(|cents| sheet.y_from_cents(cents));
    for (cents, y) in [(ends.0, top), (ends.1, foot)] {
        if cents.0 != 0.0 {
            painter.hline(sheet.times.x, y, theme.hairline_stroke());
        }
        label(y, &figure::signed(cents.0, 0));
    }
    if straight {
        return;
    }
    // A bracket as high as the wave.
    let right = sheet.times.x.max + 0.4 * size;
    let stroke = Stroke::new(theme.sizes.mark, theme.oscillation);
    painter.vline(right, top..=foot, stroke);
    for y in [top, foot] {
        painter.hline(right - 0.35 * size..=right, y, stroke);
    }
    if foot - top > 3.0 * size {
        label(0.5 * (top + foot), "cents");
    }
}

/// Room for the numbers beside the wave, in sizes of small type.
const LABELS: f32 = 2.2;

/// Where each turn begins, with its finger and note.
pub(super) fn turns(painter: &Painter, sheet: &Sheet, top: f32, context: &RoomContext) {
    let room = context.room;
    let Some(practice) = room.practice() else {
        return;
    };
    let asked = practice.asked();
    let Some(pacer) = practice.pacer() else {
        // At a free pace those ahead lie where they will begin if the rate stays.
        let ahead = wanted(room, sheet.times.oldest(), sheet.times.newest);
        let playing = room.known().turn;
        let first = |each: &&Wanted| each.oscillation == 1 && each.turn > playing;
        let starts: Vec<&Wanted> = ahead.iter().filter(first).collect();
        for (place, each) in starts.iter().enumerate() {
            let from = sheet.times.x_from_secs(each.start);
            let to = starts
                .get(place + 1)
                .map_or(f32::INFINITY, |next| sheet.times.x_from_secs(next.start));
            head(painter, sheet, (from, to), top, &asked[each.turn], context);
        }
        return;
    };
    for number in 0..=asked.len() {
        let from = sheet.times.x_from_secs(pacer.turn_start(number));
        if from > sheet.times.x.max {
            break;
        }
        let Some(turn) = asked.get(number) else {
            painter.vline(from, top..=sheet.y.max, context.theme.rule_stroke());
            break;
        };
        let to = sheet.times.x_from_secs(pacer.turn_start(number + 1));
        head(painter, sheet, (from, to), top, turn, context);
    }
}

/// The line where a turn begins, and its finger and note, where they have room before the next.
fn head(
    painter: &Painter,
    sheet: &Sheet,
    (from, to): (f32, f32),
    top: f32,
    turn: &Asked,
    context: &RoomContext,
) {
    let theme = context.theme;
    let Some(practice) = context.room.practice() else {
        return;
    };
    painter.vline(from, top..=sheet.y.max, theme.rule_stroke());
    let left = from.max(sheet.times.x.min) + 6.0;
    // What comes in at the right edge is written once there is room for it.
    let to = to.min(sheet.times.x.max);
    let sign = wording::sign(turn.finger);
    let figure = theme.figure_font(1.25 * theme.sizes.word);
    let foot = pos2(left, top + 1.15 * theme.sizes.word);
    let wide = pen::width(painter, &sign, figure.clone());
    if to < sheet.times.x.min || wide > to - left - 6.0 {
        return;
    }
    let right = pen::write(painter, foot, &sign, figure, theme.ink);
    let mut note = pitch_name(turn.midi, context.shell.naming());
    let step = wording::step(practice.drill(), turn);
    if !step.is_empty() {
        note = format!("{note} · {step}");
    }
    let font = theme.word_font(theme.sizes.caption);
    let left = right + 0.4 * theme.sizes.caption;
    let wide = pen::width(painter, &note, font.clone());
    if left + wide <= to - 4.0 {
        pen::write(painter, pos2(left, foot.y), &note, font, theme.soft_ink);
    }
}

/// Where the hand or the bow rests between two turns.
pub(super) fn rests(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let theme = context.theme;
    let Some(practice) = context.room.practice() else {
        return;
    };
    let Some(pacer) = practice.pacer() else {
        return;
    };
    let word = if practice.drill().stops() { "the bow stops" } else { "still" };
    for (number, turn) in practice.asked().iter().enumerate() {
        let Some(length) = practice.drill().turn_length(turn.finger) else {
            continue;
        };
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
        let half = pen::width(painter, word, font.clone()) / 2.0;
        let at = rest.center() - vec2(0.0, 0.2 * font.size);
        if !sheet.times.x.contains(at.x - half) || !sheet.times.x.contains(at.x + half) {
            continue;
        }
        painter.text(at, Align2::CENTER_BOTTOM, word, font, theme.soft_ink);
    }
}

/// What is to be reached beside the count: the band of a straight note, the bounds of a width, the line of
/// a bloom.
pub(super) fn targets(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let (room, theme) = (context.room, context.theme);
    let Some(practice) = room.practice() else {
        return;
    };
    let drill = practice.drill();
    let Some(pacer) = practice.pacer() else {
        free_target(painter, sheet, context);
        return;
    };
    for (number, asked) in practice.asked().iter().enumerate() {
        let Some(length) = drill.turn_length(asked.finger) else {
            continue;
        };
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
                    let line: Vec<Pos2> = (0..=CORNERS)
                        .map(|corner| {
                            let into = length.0 * corner as f64 / (CORNERS) as f64;
                            let half = half_width(drill, asked, Secs(into));
                            let half = half.unwrap_or_default().0;
                            sheet.place(Secs(start.0 + into), Cents(side * half))
                        })
                        .collect();
                    painter.line(line, Stroke::new(theme.sizes.pen, theme.oscillation));
                }
            }
            _ => bounds(painter, sheet, asked.width, (start, end), context),
        }
    }
}

/// The bounds of the width asked for now, at a free pace.
fn free_target(painter: &Painter, sheet: &Sheet, context: &RoomContext) {
    let room = context.room;
    let asked = room.practice().and_then(|p| p.asked().get(turn(room)));
    if let Some(asked) = asked {
        let all = (sheet.times.oldest(), sheet.times.newest);
        bounds(painter, sheet, asked.width, all, context);
    }
}

/// A line where the crests and where the troughs are to be: of a region its least and its greatest width.
fn bounds(
    painter: &Painter,
    sheet: &Sheet,
    width: Option<(Cents, Cents)>,
    (from, to): (Secs, Secs),
    context: &RoomContext,
) {
    let Some((low, high)) = width else { return };
    let theme = context.theme;
    for side in [0.5, -0.5] {
        if low == high {
            let ends =
                [sheet.place(from, Cents(side * low.0)), sheet.place(to, Cents(side * low.0))];
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
