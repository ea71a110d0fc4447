//! The trace: pitch in cents against the notes, flowing from right to left.

use crate::shell::notice;
use crate::stand::HOLD;
use crate::stand::layout::lane_height;
use crate::stand::picture::{Picture, Sounding};
use crate::stand::state::{From, Stand};
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::plot_area::{self, Point, Sheet, Times};
use coach::Swing;
use egui::{
    Align2, Id, Painter, Pos2, Rangef, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2,
};
use tuning::{Cents, figure, pitch_name};

/// Distance of a mark from the trace, as a share of its size.
const MARK_APART: f32 = 1.5;
/// Dash and gap of the line of a reference that is not the temperament's.
const DASH: (f32, f32) = (9.0, 5.0);
/// Distances between two marks of the scale at the right, in cents.
const STEPS: [f64; 8] = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 400.0, 600.0];

/// Draws the trace into `area`.
pub(super) fn trace_ui(ui: &mut Ui, area: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(stand)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let picture = stand.picture();
    let sheet = Sheet {
        times: *times,
        y: Rangef::new(area.top() + lane_height(theme), area.bottom() - 0.6 * theme.sizes.scale),
        middle: picture.middle().unwrap_or_default(),
        reach: stand.reach(),
    };
    let rect = sheet.rect();
    let painter = ui.painter_at(area);
    if picture.middle().is_some() {
        notes(&painter, &sheet, stand, theme);
        cents(&painter, &sheet, stand, theme);
        reference(&painter, &sheet, stand, theme);
    }
    caution(ui, area.with_max_y(rect.bottom()), stand, theme);
    beginnings(&painter, &sheet, stand, theme);
    let on_sheet = ui.painter_at(rect.expand2(vec2(0.0, 2.0)));
    course(&on_sheet, &sheet, picture, theme);
    turns(&on_sheet, &sheet, picture, theme);
    rebows(&painter, &sheet, picture, theme);
    beyond(&painter, &sheet, picture, theme);
    if stand.holding() {
        held(&painter, rect, stand, theme);
    }
}

/// What a screen reader says of the trace.
fn spoken(stand: &Stand) -> String {
    let picture = stand.picture();
    let sounding = match picture.sounding {
        Sounding::Silence => "silence".to_owned(),
        Sounding::Begun(begun) => pitch_name(begun.midi, stand.shell.naming()),
        Sounding::Note(live) => pitch_name(live.midi, stand.shell.naming()),
    };
    let lost: f64 = picture.lost.iter().map(|(_, length)| length.0).sum();
    let mut said = format!("trace of the pitch: {sounding}");
    if lost > 0.0 {
        said += &format!(", {lost:.1} s of the sound is lost");
    }
    if stand.holding() {
        said += ", held";
    }
    said
}

/// The caution before the first note.
fn caution(ui: &mut Ui, room: Rect, stand: &Stand, theme: &Theme) {
    let picture = stand.picture();
    let begun = picture.played || picture.sounding != Sounding::Silence;
    if begun || stand.shell.source.trouble().is_some() {
        return;
    }
    let room = room.shrink2(vec2(theme.sizes.between, 0.0));
    let response = ui.interact(room, Id::unique("caution"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Note, true, notice::CAUTION));
    let font = theme.word_font(theme.sizes.word);
    let least = 0.7 * theme.sizes.scale;
    let ink = theme.soft_ink;
    pen::write_lines(ui.painter(), room, notice::CAUTION, font, least, ink);
}

/// The note that sounds or sounded last.
fn midi(picture: &Picture) -> Option<i32> {
    match picture.sounding {
        Sounding::Note(live) => Some(live.midi),
        Sounding::Begun(begun) => Some(begun.midi),
        Sounding::Silence => picture.last.as_ref().map(|note| note.midi),
    }
}

/// The lines of the notes, with their names at the left; where they lie too close for all names,
/// those at even distances from the note that sounds.
fn notes(painter: &Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let tuning = stand.lines();
    let a4 = stand.shell.options().tuning.a4;
    let own = midi(stand.picture());
    let semitone = f64::from(sheet.y.span()) / (2.0 * sheet.reach.0) * 100.0;
    let every = (1.15 * f64::from(theme.sizes.caption) / semitone).ceil() as i32;
    let lowest = ((sheet.middle.0 - sheet.reach.0) / 100.0).floor() as i32 + 68;
    let highest = ((sheet.middle.0 + sheet.reach.0) / 100.0).ceil() as i32 + 70;
    for midi in lowest..=highest {
        let pitch = tuning.frequency(midi).cents_above(a4);
        if !sheet.shows(pitch) {
            continue;
        }
        let y = sheet.y_from_cents(pitch);
        let its_own = own == Some(midi);
        let (stroke, ink) = if its_own {
            (theme.rule_stroke(), theme.ink)
        } else {
            (theme.hairline_stroke(), theme.soft_ink)
        };
        painter.hline(sheet.times.x, y, stroke);
        if (midi - own.unwrap_or(midi)) % every.max(1) != 0 {
            continue;
        }
        painter.text(
            pos2(sheet.times.x.min - 8.0, y),
            Align2::RIGHT_CENTER,
            pitch_name(midi, stand.shell.naming()),
            theme.word_font(theme.sizes.caption),
            ink,
        );
    }
}

/// The distance in cents between two marks of the scale at the right, for a sheet of this reach that
/// is so high, where a number needs so much height.
fn cents_step(reach: Cents, height: f32, number: f32) -> f64 {
    let cent = f64::from(height) / (2.0 * reach.0);
    let least = f64::from(number).max(f64::from(height) / 8.0);
    let fits = |step: &f64| step * cent >= least;
    STEPS.into_iter().find(fits).unwrap_or(STEPS[STEPS.len() - 1])
}

/// The cents above and below what the note is measured against, at the right.
fn cents(painter: &Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let Some(midi) = midi(stand.picture()) else {
        return;
    };
    let a4 = stand.shell.options().tuning.a4;
    let line = stand.reference(midi).f0.cents_above(a4);
    let number = 1.25 * theme.sizes.scale;
    let step = cents_step(sheet.reach, sheet.y.span(), number);
    let from = ((sheet.middle.0 - sheet.reach.0 - line.0) / step).ceil() as i32;
    let to = ((sheet.middle.0 + sheet.reach.0 - line.0) / step).floor() as i32;
    for mark in from..=to {
        let away = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(line.0 + away));
        let x = sheet.times.x.max;
        painter.hline(x..=x + 5.0, y, theme.rule_stroke());
        painter.text(
            pos2(x + 9.0, y),
            Align2::LEFT_CENTER,
            figure::signed(away, 0),
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// The line of a reference that is not the temperament's, dashed and named at the left, and a small
/// wave where a swing is meant to lie if that is below it.
fn reference(painter: &Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let Some(midi) = midi(stand.picture()) else {
        return;
    };
    let options = stand.shell.options();
    let reference = stand.reference(midi);
    let pitch = reference.f0.cents_above(options.tuning.a4);
    if !sheet.shows(pitch) {
        return;
    }
    let y = sheet.y_from_cents(pitch);
    let line = sheet.y_from_cents(stand.lines().frequency(midi).cents_above(options.tuning.a4));
    let said = match reference.from {
        From::Temperament | From::OpenString => None,
        From::Drone => Some("drone"),
        From::Own => Some("yours"),
    };
    if let Some(said) = said {
        let ends = [pos2(sheet.times.x.min, y), pos2(sheet.times.x.max, y)];
        let stroke = Stroke::new(theme.sizes.rule, theme.ink);
        painter.extend(Shape::dashed_line(&ends, stroke, DASH.0, DASH.1));
        let size = theme.sizes.scale;
        let apart = 0.55 * (theme.sizes.caption + size);
        // Beside the name of the note, not over it.
        let below = y > line || line - apart < sheet.y.min;
        let at = if below { y.max(line + apart) } else { y.min(line - apart) };
        painter.text(
            pos2(sheet.times.x.min - 8.0, at),
            Align2::RIGHT_CENTER,
            said,
            theme.word_font(size),
            theme.ink,
        );
    }
    if options.swing == Swing::Below && !stand.straight {
        swing(painter, pos2(sheet.times.x.min + 4.0, y), theme);
    }
}

/// A small wave whose crests touch the line.
fn swing(painter: &Painter, from: Pos2, theme: &Theme) {
    const PIECES: usize = 24;
    let size = theme.sizes.scale;
    let wave = (0..=PIECES)
        .map(|piece| {
            let along = piece as f32 / PIECES as f32;
            let down = 0.5 - 0.5 * (2.0 * std::f32::consts::TAU * along).cos();
            from + vec2(along * 2.4 * size, 2.0 + down * 0.8 * size)
        })
        .collect();
    let stroke = Stroke::new(theme.sizes.rule, theme.soft_ink);
    painter.add(Shape::line(wave, stroke));
}

/// The names of notes where they begin, above the sheet.
fn beginnings(painter: &Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let font = theme.word_font(theme.sizes.caption);
    let mut free_until = f32::INFINITY;
    for note in stand.picture().notes.iter().rev() {
        let x = sheet.times.x_from_secs(note.start);
        let on_sheet = x >= sheet.times.x.min;
        let gone = note.end.is_some_and(|end| end < sheet.times.oldest());
        if gone {
            break;
        }
        let name = pitch_name(note.midi, stand.shell.naming());
        let wide = pen::width(painter, &name, font.clone());
        let x = x.max(sheet.times.x.min);
        let edge = sheet.times.x.max + 3.0 * theme.sizes.scale;
        if x + wide + 8.0 <= free_until.min(edge) {
            let foot = pos2(x, sheet.y.min - 6.0);
            pen::write(painter, foot, &name, font.clone(), theme.soft_ink);
            free_until = x;
        }
        if !on_sheet {
            break;
        }
    }
}

/// The trace itself.
fn course(painter: &Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    let mut note_at = picture.notes_in_order();
    let seen = sheet.times.seen(&picture.points);
    for line in plot_area::lines(seen, &sheet.times, pitch, |time| note_at(time).is_some()) {
        let stroke = if line.sure {
            Stroke::new(theme.sizes.pen, theme.ink)
        } else {
            Stroke::new(theme.sizes.thin_pen, theme.rule)
        };
        let places: Vec<Pos2> =
            line.corners.iter().map(|&(time, pitch)| sheet.place(time, Cents(pitch))).collect();
        match places[..] {
            [only] => painter.circle_filled(only, stroke.width / 2.0, stroke.color),
            _ => painter.line(places, stroke),
        };
    }
}

/// Crests get a small triangle above the trace, troughs one below; straight notes have neither.
fn turns(painter: &Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let half = theme.sizes.turn;
    let mut note_at = picture.notes_in_order();
    let oldest = sheet.times.oldest();
    for turn in picture.turns.iter().filter(|turn| turn.time >= oldest) {
        let straight = note_at(turn.time).is_some_and(|note| note.straight);
        if straight || !sheet.shows(turn.pitch) {
            continue;
        }
        let at = sheet.place(turn.time, turn.pitch);
        let up = if turn.crest { -1.0 } else { 1.0 };
        let foot = at + vec2(0.0, up * MARK_APART * half);
        painter.add(Shape::convex_polygon(
            vec![
                foot + vec2(-half, 0.0),
                foot + vec2(half, 0.0),
                foot + vec2(0.0, up * 1.6 * half),
            ],
            theme.oscillation,
            Stroke::NONE,
        ));
    }
}

/// Where the bow started anew on the same pitch: a short stroke at the foot, and the word where it has
/// room.
fn rebows(painter: &Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let font = theme.word_font(theme.sizes.scale);
    let wide = pen::width(painter, "bow", font.clone()) + 12.0;
    let mut free_until = f32::INFINITY;
    for &time in picture.rebows.iter().rev() {
        let x = sheet.times.x_from_secs(time);
        if x < sheet.times.x.min {
            break;
        }
        let foot = sheet.y.max;
        painter.vline(
            x,
            foot - 1.3 * theme.sizes.scale..=foot,
            Stroke::new(theme.sizes.mark, theme.soft_ink),
        );
        if x + wide <= free_until.min(sheet.times.x.max) {
            let at = pos2(x + 6.0, foot - 5.0);
            pen::write(painter, at, "bow", font.clone(), theme.soft_ink);
        }
        free_until = x;
    }
}

/// The newest pitch lies off the sheet: a triangle at that edge and the word.
fn beyond(painter: &Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let newest = picture.points.back().and_then(|point| point.pitch);
    if picture.sounding == Sounding::Silence {
        return;
    }
    let Some(pitch) = newest.filter(|&pitch| !sheet.shows(pitch)) else {
        return;
    };
    let above = pitch.0 > sheet.middle.0;
    let (said, y, align) = if above {
        ("above", sheet.y.min + 4.0, Align2::RIGHT_TOP)
    } else {
        ("below", sheet.y.max - 4.0, Align2::RIGHT_BOTTOM)
    };
    painter.text(
        pos2(sheet.times.x.max - 4.0, y),
        align,
        said,
        theme.word_font(theme.sizes.caption),
        theme.attention,
    );
}

/// Says that the picture is held.
fn held(painter: &Painter, rect: Rect, stand: &Stand, theme: &Theme) {
    let font = theme.word_font(theme.sizes.word);
    let key = stand.shell.options().keys.shown(&HOLD.entry).unwrap_or("");
    let said = format!("held · {key} goes on");
    let font = pen::fitting(painter, &said, font, rect.width() - 24.0);
    let size = vec2(pen::width(painter, &said, font.clone()) + 24.0, 1.6 * font.size);
    let at = pos2(rect.center().x, rect.top() + font.size);
    let patch = Rect::from_center_size(at, size);
    painter.rect_filled(patch, 4.0, theme.patch);
    painter.text(patch.center(), Align2::CENTER_CENTER, said, font, theme.ink);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::shell::options::ZOOMS;

    #[test]
    fn the_scale_has_three_to_nine_marks_at_every_zoom_with_room_between_them() {
        for reach in ZOOMS {
            for (height, number) in [(150.0, 19.0), (300.0, 19.0), (900.0, 24.0), (200.0, 38.0)] {
                let step = cents_step(reach, height, number);
                let marks = 2.0 * (reach.0 / step).floor() + 1.0;
                assert!((3.0..=9.0).contains(&marks), "{marks} at {reach:?}, {height}");
                let apart = step * f64::from(height) / (2.0 * reach.0);
                assert!(apart >= f64::from(number), "{apart} at {reach:?}, {height}");
            }
        }
    }
}
