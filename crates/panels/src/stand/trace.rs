//! The trace: pitch in cents against the notes, flowing from right to left.

use crate::shell::notice;
use crate::stand::HOLD;
use crate::stand::picture::{Picture, Placed, Sounding};
use crate::stand::state::{From, Stand};
use crate::stand::words;
use crate::theme::Theme;
use crate::widgets::{painter, pen};
use coach::Swing;
use egui::{Align2, Id, Painter, Rangef, Rect, Role, Sense, Ui, WidgetInfo, pos2, vec2};
use pictures::sheet::{Sheet, Times};
use pictures::{Against, Traced, newest, track};
use tuning::{Secs, pitch_name};
use vibrato::Note;

/// Draws the trace into `area`.
pub(super) fn trace_ui(ui: &mut Ui, area: Rect, times: &Times, stand: &Stand, theme: &Theme) {
    let response = ui.allocate_rect(area, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(stand)));
    if !ui.is_rect_visible(area) {
        return;
    }
    let picture = stand.picture();
    let sheet = sheet(area, times, stand, theme);
    let rect = sheet.rect();
    let a4 = stand.shell.options().tuning.a4;
    let own = midi(picture);
    let against = own.map(|midi| {
        let reference = stand.reference(midi);
        Against {
            pitch: reference.f0.cents_above(a4),
            name: match reference.from {
                From::Temperament | From::OpenString => None,
                From::Drone => Some("drone"),
                From::Own => Some("yours"),
            },
        }
    });
    let traced = Traced {
        played: &picture.played,
        lines: picture.middle().map(|_| stand.lines()),
        a4,
        naming: stand.shell.naming(),
        own: own.as_slice(),
        fingers: None,
        turns: true,
        against,
        swing_below: stand.shell.options().swing == Swing::Below && !stand.without_vibrato(),
        sections: &[],
        sounds: picture.sounding != Sounding::Silence,
    };
    caution(ui, area.with_max_y(rect.bottom()), stand, theme);
    let from = picture.played.notes.back().map_or(Secs(0.0), |note| note.start);
    let clip = area.expand2(vec2(0.0, theme.sizes.between));
    painter::show(ui, area, clip, theme, |drawn| newest(drawn, &sheet, &traced, from));
    if stand.holding() {
        held(&ui.painter_at(area), rect, stand, theme);
    }
}

/// How time and pitch lie in `area`.
pub(super) fn sheet(area: Rect, times: &Times, stand: &Stand, theme: &Theme) -> Sheet {
    let picture = stand.picture();
    let a4 = stand.shell.options().tuning.a4;
    let line = midi(picture).map(|midi| stand.lines().frequency(midi).cents_above(a4));
    let size = theme.sizes.scale;
    Sheet {
        times: *times,
        y: Rangef::new(area.top() + 2.0 * size, area.bottom() - 0.8 * size),
        middle: line.unwrap_or_default(),
        reach: stand.drawn_reach(),
    }
}

/// Draws the notes before, each on its line, with what it was in words.
pub(super) fn past_ui(ui: &mut Ui, lanes: &[Rect], times: &Times, stand: &Stand, theme: &Theme) {
    let picture = stand.picture();
    let traced = Traced {
        played: &picture.played,
        lines: None,
        a4: stand.shell.options().tuning.a4,
        naming: stand.shell.naming(),
        own: &[],
        fingers: None,
        turns: false,
        against: None,
        swing_below: false,
        sections: &[],
        sounds: false,
    };
    let notes: Vec<&Note> = picture.before().collect();
    for (note, lane) in notes.iter().rev().zip(lanes.iter().rev()) {
        if note.end < times.oldest() {
            continue;
        }
        let said = words::in_short(note);
        let name = pitch_name(note.midi, stand.shell.naming());
        let response = ui.allocate_rect(*lane, Sense::hover());
        let spoken = format!("before: {name}, {said}");
        response.widget_info(|| WidgetInfo::labeled(Role::Note, true, &spoken));
        let placed = Placed {
            start: note.start,
            end: Some(note.end),
            midi: note.midi,
            reference: note.reference,
            straight: note.straight(),
        };
        painter::show(ui, *lane, *lane, theme, |drawn| {
            track(drawn, *lane, times, &traced, &placed, &said);
        });
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
    let lost: f64 = picture.played.lost.iter().map(|(_, length)| length.0).sum();
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
    let begun = picture.begun || picture.sounding != Sounding::Silence;
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
pub(super) fn midi(picture: &Picture) -> Option<i32> {
    match picture.sounding {
        Sounding::Note(live) => Some(live.midi),
        Sounding::Begun(begun) => Some(begun.midi),
        Sounding::Silence => picture.last.as_ref().map(|note| note.midi),
    }
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
