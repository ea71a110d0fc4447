//! The trace: pitch in cents against the notes, flowing from right to left.

use crate::pen;
use crate::sheet::{self, Sheet};
use crate::stand::picture::{Picture, Sounding};
use crate::stand::state::Stand;
use crate::theme::Theme;
use egui::{Align2, Pos2, Rect, Role, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};
use tuning::{Cents, Secs, pitch_name};

/// Room for the names of notes at the left.
const NAMES_WIDTH: f32 = 54.0;
/// Room for the cents at the right.
const CENTS_WIDTH: f32 = 52.0;
/// Room for the names of notes at the top, and for the time at the bottom.
const LANE: f32 = 24.0;
/// Size of a notice, if there is room.
const NOTICE: egui::Vec2 = vec2(680.0, 184.0);
/// Distance of a mark from the trace.
const MARK_APART: f32 = 7.0;

/// Draws the trace into `area`.
pub fn trace_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(stand)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let picture = stand.picture();
    let inner = Rect::from_min_max(
        area.min + vec2(NAMES_WIDTH, LANE),
        area.max - vec2(CENTS_WIDTH, LANE),
    );
    let sheet = Sheet {
        rect: inner,
        newest: stand.right_edge(),
        span: stand.span(),
        middle: picture.middle().unwrap_or_default(),
        reach: stand.reach(),
    };
    let painter = ui.painter_at(area);
    missing(&painter, &sheet, picture, theme);
    if picture.middle().is_some() {
        notes(&painter, &sheet, stand, theme);
        cents(&painter, &sheet, picture, stand, theme);
    } else {
        painter.hline(inner.x_range(), inner.center().y, theme.hairline_stroke());
    }
    time(&painter, &sheet, theme);
    beginnings(&painter, &sheet, stand, theme);
    let on_sheet = ui.painter_at(inner.expand2(vec2(0.0, 2.0)));
    course(&on_sheet, &sheet, picture, theme);
    turns(&on_sheet, &sheet, picture, theme);
    rebows(&painter, &sheet, picture, theme);
    beyond(&painter, &sheet, picture, theme);
    if stand.holding() {
        held(&painter, inner, theme);
    }
    if let Some(trouble) = stand.source.trouble() {
        notice(ui, inner, trouble, &stand.source.said(), theme);
    }
}

/// What a screen reader says of the trace.
fn spoken(stand: &Stand) -> String {
    let picture = stand.picture();
    let sounding = match picture.sounding {
        Sounding::Silence => "silence".to_owned(),
        Sounding::Begun(begun) => pitch_name(begun.midi, stand.naming()),
        Sounding::Note(live) => pitch_name(live.midi, stand.naming()),
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

/// The lines of the notes, with their names at the left.
fn notes(painter: &egui::Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let tuning = stand.lines();
    let a4 = stand.options().tuning.a4;
    let line = stand.picture().line(a4);
    let lowest = ((sheet.middle.0 - sheet.reach.0) / 100.0).floor() as i32 + 68;
    let highest = ((sheet.middle.0 + sheet.reach.0) / 100.0).ceil() as i32 + 70;
    for midi in lowest..=highest {
        let pitch = tuning.frequency(midi).cents_above(a4);
        if !sheet.shows(pitch) {
            continue;
        }
        let y = sheet.y_from_cents(pitch);
        let its_own = line.is_some_and(|line| (line.0 - pitch.0).abs() < 1.0);
        let (stroke, ink) = if its_own {
            (theme.rule_stroke(), theme.ink)
        } else {
            (theme.hairline_stroke(), theme.soft_ink)
        };
        painter.hline(sheet.rect.x_range(), y, stroke);
        painter.text(
            pos2(sheet.rect.left() - 8.0, y),
            Align2::RIGHT_CENTER,
            pitch_name(midi, stand.naming()),
            theme.word_font(theme.sizes.caption),
            ink,
        );
    }
}

/// The distance in cents between two marks of the scale at the right, for a sheet of this reach.
fn cents_step(reach: Cents) -> f64 {
    match reach.0 {
        r if r <= 40.0 => 10.0,
        r if r <= 80.0 => 20.0,
        r if r <= 160.0 => 50.0,
        r if r <= 300.0 => 100.0,
        _ => 200.0,
    }
}

/// The cents above and below the line of the note, at the right.
fn cents(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, stand: &Stand, theme: &Theme) {
    let Some(line) = picture.line(stand.options().tuning.a4) else {
        return;
    };
    let step = cents_step(sheet.reach);
    let from = ((sheet.middle.0 - sheet.reach.0 - line.0) / step).ceil() as i32;
    let to = ((sheet.middle.0 + sheet.reach.0 - line.0) / step).floor() as i32;
    for mark in from..=to {
        let away = f64::from(mark) * step;
        let y = sheet.y_from_cents(Cents(line.0 + away));
        let x = sheet.rect.right();
        painter.hline(x..=x + 5.0, y, theme.rule_stroke());
        painter.text(
            pos2(x + 9.0, y),
            Align2::LEFT_CENTER,
            crate::words::signed(away, 0),
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// Seconds along the bottom; the right edge is now.
fn time(painter: &egui::Painter, sheet: &Sheet, theme: &Theme) {
    let foot = sheet.rect.bottom() + 3.0;
    let spans = sheet.span.0.round() as i32;
    for ago in 0..=spans {
        let x = sheet.x_from_secs(Secs(sheet.newest.0 - f64::from(ago)));
        let longer = ago % 2 == 0;
        painter.vline(
            x,
            foot..=foot + if longer { 6.0 } else { 3.0 },
            theme.rule_stroke(),
        );
        if !longer || ago == spans {
            continue;
        }
        let said = match ago {
            0 => "now".to_owned(),
            _ => format!("−{ago} s"),
        };
        painter.text(
            pos2(x - 6.0, foot - 1.0),
            Align2::RIGHT_TOP,
            said,
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// Where notes begin: a hairline and the name at the top.
fn beginnings(painter: &egui::Painter, sheet: &Sheet, stand: &Stand, theme: &Theme) {
    let font = theme.word_font(theme.sizes.caption);
    let mut free_until = f32::INFINITY;
    for note in stand.picture().notes.iter().rev() {
        let x = sheet.x_from_secs(note.start);
        let on_sheet = x >= sheet.rect.left();
        if on_sheet {
            painter.vline(x, sheet.rect.y_range(), theme.hairline_stroke());
        }
        let name = pitch_name(note.midi, stand.naming());
        let wide = pen::width(painter, &name, font.clone());
        let x = x.max(sheet.rect.left());
        if x + wide + 8.0 <= free_until.min(sheet.rect.right() + CENTS_WIDTH) {
            let foot = pos2(x, sheet.rect.top() - 6.0);
            pen::write(painter, foot, &name, font.clone(), theme.soft_ink);
            free_until = x;
        }
        if !on_sheet {
            break;
        }
    }
}

/// The trace itself.
fn course(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    for line in sheet::lines(&picture.points, sheet, |time| picture.in_note(time)) {
        let stroke = if line.sure {
            Stroke::new(theme.sizes.pen, theme.ink)
        } else {
            Stroke::new(theme.sizes.thin_pen, theme.rule)
        };
        let places: Vec<Pos2> = line
            .corners
            .iter()
            .map(|&(time, pitch)| sheet.place(time, pitch))
            .collect();
        match places[..] {
            [only] => painter.circle_filled(only, stroke.width / 2.0, stroke.color),
            _ => painter.line(places, stroke),
        };
    }
}

/// Crests get a small triangle above the trace, troughs one below; straight notes have neither.
fn turns(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let half = theme.sizes.turn;
    for turn in &picture.turns {
        if !sheet.shows(turn.pitch) || picture.in_straight_note(turn.time) {
            continue;
        }
        let at = sheet.place(turn.time, turn.pitch);
        let up = if turn.crest { -1.0 } else { 1.0 };
        let foot = at + vec2(0.0, up * MARK_APART);
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

/// Where the bow started anew on the same pitch: a short stroke at the foot, and the word.
fn rebows(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    for &time in &picture.rebows {
        let x = sheet.x_from_secs(time);
        if x < sheet.rect.left() {
            continue;
        }
        let foot = sheet.rect.bottom();
        painter.vline(
            x,
            foot - 20.0..=foot,
            Stroke::new(theme.sizes.mark, theme.soft_ink),
        );
        pen::write(
            painter,
            pos2(x + 6.0, foot - 5.0),
            "bow",
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// Where samples are missing: a patch over the full height, and the word.
fn missing(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    for &(time, length) in &picture.lost {
        let left = sheet.x_from_secs(time).max(sheet.rect.left());
        let right = sheet.x_from_secs(Secs(time.0 + length.0));
        let right = right.max(left + theme.sizes.mark).min(sheet.rect.right());
        let patch = Rect::from_x_y_ranges(left..=right, sheet.rect.y_range());
        painter.rect_filled(patch, 0.0, theme.missing);
        painter.text(
            pos2(left + 4.0, sheet.rect.top() + 4.0),
            Align2::LEFT_TOP,
            "lost",
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// The newest pitch lies off the sheet: a triangle at that edge and the word.
fn beyond(painter: &egui::Painter, sheet: &Sheet, picture: &Picture, theme: &Theme) {
    let newest = picture.points.back().and_then(|point| point.pitch);
    if picture.sounding == Sounding::Silence {
        return;
    }
    let Some(pitch) = newest.filter(|&pitch| !sheet.shows(pitch)) else {
        return;
    };
    let above = pitch.0 > sheet.middle.0;
    let (said, y, align) = if above {
        ("above", sheet.rect.top() + 4.0, Align2::RIGHT_TOP)
    } else {
        ("below", sheet.rect.bottom() - 4.0, Align2::RIGHT_BOTTOM)
    };
    painter.text(
        pos2(sheet.rect.right() - 4.0, y),
        align,
        said,
        theme.word_font(theme.sizes.caption),
        theme.attention,
    );
}

/// What keeps the sound from being heard, over the middle of the trace, and what to do.
fn notice(ui: &mut Ui, inner: Rect, trouble: &str, said: &str, theme: &Theme) {
    let size = vec2(inner.width().min(NOTICE.x), inner.height().min(NOTICE.y));
    let patch = Rect::from_center_size(inner.center(), size);
    let response = ui.allocate_rect(patch, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Alert, true, format!("{trouble}: {said}")));
    let painter = ui.painter_at(patch);
    painter.rect_filled(patch, 4.0, theme.patch);
    let text = patch.shrink(theme.sizes.margin);
    let foot = pos2(text.left(), text.top() + theme.sizes.big_word * 0.75);
    let title = theme.figure_font(theme.sizes.big_word);
    pen::write(&painter, foot, trouble, title, theme.attention);
    let under = Rect::from_min_max(pos2(text.left(), foot.y + 16.0), text.max);
    let font = theme.word_font(theme.sizes.word);
    let least = theme.sizes.scale;
    pen::write_lines(&painter, under, said, font, least, theme.ink);
}

/// Says that the picture is held.
fn held(painter: &egui::Painter, inner: Rect, theme: &Theme) {
    let font = theme.word_font(theme.sizes.word);
    let said = "held · Space goes on";
    let size = vec2(pen::width(painter, said, font.clone()) + 24.0, 36.0);
    let patch = Rect::from_center_size(pos2(inner.center().x, inner.top() + 26.0), size);
    painter.rect_filled(patch, 4.0, theme.patch);
    painter.text(patch.center(), Align2::CENTER_CENTER, said, font, theme.ink);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::ZOOMS;

    #[test]
    fn the_scale_has_three_to_seven_marks_at_every_zoom() {
        for reach in ZOOMS {
            let marks = 2.0 * (reach.0 / cents_step(reach)).floor() + 1.0;
            assert!((3.0..=7.0).contains(&marks), "{marks} at {reach:?}");
        }
    }
}
