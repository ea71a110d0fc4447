//! The beats along the foot of the pace wave.

use super::RoomContext;
use crate::widgets::pen;
use coach::{Drill, Pacer};
use egui::{Painter, Pos2, Shape, Stroke, pos2, vec2};
use pictures::sheet::Sheet;
use tuning::Secs;

/// A beat is seen for so long.
const FLASH: Secs = Secs(0.12);
/// How large a strong beat's diamond is beside the circle of another.
const STRONG: f32 = 1.9;
/// The same beat, but for a number's rounding.
const SAME: f64 = 1e-6;

/// When the strong beat of each turn falls, where there is one.
fn strong_beats(drill: &Drill, pacer: &Pacer, turns: usize) -> Vec<Secs> {
    let Some((strong, beat)) = drill.strong_beat().zip(drill.pace.beat()) else {
        return Vec::new();
    };
    let into = f64::from(strong - 1) * beat.0;
    (0..turns).map(|turn| Secs(pacer.turn_start(turn).0 + into)).collect()
}

/// A diamond around `centre`.
fn diamond(centre: Pos2, half: f32) -> Vec<Pos2> {
    [(0.0, -1.0), (1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)]
        .map(|(x, y)| centre + half * vec2(x, y))
        .to_vec()
}

/// The beats along the foot, a strong one as a diamond with a line up to the contour; that of now is filled.
pub(super) fn beats_ui(painter: &Painter, sheet: &Sheet, bottom: f32, context: &RoomContext) {
    let (room, theme) = (context.room, context.theme);
    let Some(practice) = room.practice() else {
        return;
    };
    let Some(pacer) = practice.pacer() else {
        return;
    };
    let now = room.now();
    let y = bottom - 0.95 * theme.sizes.scale;
    let radius = 0.32 * theme.sizes.scale;
    let counted_in = u64::from(practice.drill().count_in);
    let sounds = |at: Secs| (0.0..FLASH.0).contains(&(now.0 - at.0));
    let place = |at: Secs| pos2(sheet.times.x_from_secs(at), y);
    let strong = strong_beats(practice.drill(), pacer, practice.asked().len());
    for &at in &strong {
        if at < sheet.times.oldest() || at > sheet.times.newest {
            continue;
        }
        let centre = place(at);
        let half = STRONG * radius;
        let line = Stroke::new(theme.sizes.rule, theme.soft_ink);
        let up = [centre - vec2(0.0, half), pos2(centre.x, sheet.y.min)];
        painter.extend(Shape::dashed_line(&up, line, 3.0, 4.0));
        let edge = Stroke::new(theme.sizes.value, theme.ink);
        painter.add(if sounds(at) {
            Shape::convex_polygon(diamond(centre, 1.2 * half), theme.ink, Stroke::NONE)
        } else {
            Shape::closed_line(diamond(centre, half), edge)
        });
        // Its name, where it ends before the next beat.
        let beat = practice.drill().pace.beat().map_or(0.0, |beat| beat.0);
        let font = theme.word_font(theme.sizes.caption);
        let left = centre.x + 1.6 * half;
        let free = place(Secs(at.0 + beat)).x - 2.0 * radius - left;
        if pen::width(painter, NAME, font.clone()) <= free {
            let foot = pos2(left, y + 0.35 * theme.sizes.caption);
            pen::write(painter, foot, NAME, font, theme.soft_ink);
        }
    }
    let Some(first) = pacer.next_beat(sheet.times.oldest()) else {
        return;
    };
    for beat in first.. {
        let at = pacer.beat_at(beat);
        if at > sheet.times.newest || pacer.next_beat(at).is_none() {
            break;
        }
        if strong.iter().any(|strong| (strong.0 - at.0).abs() < SAME) {
            continue;
        }
        let stroke = Stroke::new(theme.sizes.rule, theme.soft_ink);
        if sounds(at) {
            painter.circle_filled(place(at), 1.7 * radius, theme.ink);
        } else if beat < counted_in {
            painter.circle_stroke(place(at), 0.7 * radius, stroke);
        } else {
            painter.circle_stroke(place(at), radius, stroke);
        }
    }
}

/// What stands beside a strong beat.
const NAME: &str = "strong beat";
