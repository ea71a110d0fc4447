//! The trace of a take with the place that is heard, and the whole take below it.

use super::wording;
use super::{JournalAction, Opened, TraceOf};
use crate::shell::Shell;
use crate::stand::layout::names_width;
use crate::theme::Theme;
use crate::widgets::pen;
use egui::{
    Align2, Painter, Pos2, Rangef, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2,
    vec2,
};
use journal::{NoteMeasures, TakeFile};
use pictures::played::Point;
use pictures::sheet::{self as plot_area, Sheet, Times};
use tuning::{Cents, Hz, Secs, Temperament, Tuning, figure, pitch_name};

/// A take up to this length is shown as a whole.
const WHOLE: f64 = 24.0;
/// A longer one is shown in pages of so much.
const PAGE: f64 = 16.0;
/// The least that is shown above and below the middle, in cents.
const LEAST_REACH: f64 = 80.0;
/// Room above and below the outermost pitch, in cents.
const ROOM: f64 = 25.0;

/// Draws it, so high, and says where the player wants to hear it.
pub(super) fn take_trace_ui(
    ui: &mut Ui,
    height: f32,
    opened: &Opened,
    file: &TakeFile,
    shell: &Shell,
    theme: &Theme,
    actions: &mut Vec<JournalAction>,
) {
    let size = theme.sizes.scale;
    let (area, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Image, true, spoken(opened, file)));
    let strip_height = if file.length_s > WHOLE { 1.7 * size } else { 0.0 };
    let x = Rangef::new(area.left() + names_width(theme), area.right() - 0.3 * size);
    let times = times(x, opened.played.at, Secs(file.length_s));
    let strip = Rect::from_x_y_ranges(x, Rangef::new(area.bottom() - strip_height, area.bottom()));
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        let on_strip = strip_height > 0.0 && at.y >= strip.top();
        let of = if on_strip {
            let whole = Secs(file.length_s);
            Times { x, newest: whole, span: whole }
        } else {
            times
        };
        let share = ((at.x - x.min) / x.span().max(1.0)).clamp(0.0, 1.0);
        let secs = of.oldest().0 + f64::from(share) * of.span.0;
        actions.push(JournalAction::Seek(Secs(secs)));
    }
    if !ui.is_rect_visible(area) {
        return;
    }
    let axis = area.bottom() - strip_height - 1.75 * size;
    let y = Rangef::new(area.top() + 1.5 * theme.sizes.caption, axis);
    let seen: Vec<&NoteMeasures> = file
        .notes
        .iter()
        .filter(|note| note.end_s >= times.oldest().0 && note.start_s <= times.newest.0)
        .collect();
    let a4 = Hz(file.a4_hz);
    let (middle, reach) = view(&seen, a4);
    let sheet = Sheet { times, y, middle, reach };
    let painter = ui.painter_at(area);
    lines(&painter, &sheet, file, shell, theme);
    time_axis(&painter, &sheet, theme);
    lost(&painter, &sheet, file, theme);
    part(&painter, &sheet, opened, file, theme);
    names(&painter, &sheet, &seen, shell, theme);
    match &opened.trace {
        TraceOf::Here(points) => course(&painter, &sheet, points, &file.notes, theme),
        TraceOf::Coming => told(&painter, &sheet, "The sound is being measured.", theme),
        TraceOf::None(words) => told(&painter, &sheet, &figure::sentence(words), theme),
    }
    if !matches!(opened.trace, TraceOf::None(_)) {
        cursor(&painter, &sheet, opened, theme);
    }
    if strip_height > 0.0 {
        whole(&painter, strip, &times, opened, file, theme);
    }
    if response.has_focus() {
        let edge = Stroke::new(theme.sizes.value, theme.ink);
        ui.painter().rect_stroke(area, 3.0, edge, StrokeKind::Inside);
    }
}

/// What a screen reader says of the trace.
fn spoken(opened: &Opened, file: &TakeFile) -> String {
    let at = wording::length(opened.played.at.0);
    let mut said = format!("trace of the take, at {at} of {}", wording::length(file.length_s));
    let lost: f64 = file.lost.iter().map(|lost| lost.length_s).sum();
    if lost > 0.0 {
        said += &format!(", {lost:.1} s of the sound is lost");
    }
    match &opened.trace {
        TraceOf::Here(_) => {}
        TraceOf::Coming => said += ", being measured",
        TraceOf::None(words) => said += &format!(", {words}"),
    }
    said
}

/// The time that is seen: all of a short take, of a longer one the page on which it is heard.
fn times(x: Rangef, at: Secs, length: Secs) -> Times {
    if length.0 <= WHOLE {
        return Times { x, newest: Secs(length.0.max(0.1)), span: Secs(length.0.max(0.1)) };
    }
    let page = (at.0.clamp(0.0, length.0 - 1e-6) / PAGE).floor();
    Times { x, newest: Secs((page + 1.0) * PAGE), span: Secs(PAGE) }
}

/// The middle and the reach that show these notes with their swing.
fn view(notes: &[&NoteMeasures], a4: Hz) -> (Cents, Cents) {
    let (mut low, mut high) = (f64::MAX, f64::MIN);
    for note in notes {
        let line = Hz(note.reference_hz).cents_above(a4).0;
        let mut takes = |cents: f64| {
            low = low.min(line + cents);
            high = high.max(line + cents);
        };
        takes(0.0);
        takes(note.offset_cents.0);
        if let Some(vibrato) = &note.vibrato {
            for (_, _, crest, trough) in &vibrato.oscillations {
                takes(*crest);
                takes(*trough);
            }
        }
    }
    if low > high {
        return (Cents(0.0), Cents(LEAST_REACH));
    }
    let reach = ((high - low) / 2.0 + ROOM).max(LEAST_REACH);
    (Cents((low + high) / 2.0), Cents(reach))
}

/// The lines of the notes in the take's own tuning, and their names.
fn lines(painter: &Painter, sheet: &Sheet, file: &TakeFile, shell: &Shell, theme: &Theme) {
    let tuning = Tuning {
        a4: Hz(file.a4_hz),
        temperament: match file.temperament.as_str() {
            "pure-fifths" => Temperament::PureFifths,
            _ => Temperament::Equal,
        },
    };
    let semitone = f64::from(sheet.y.span()) / (2.0 * sheet.reach.0) * 100.0;
    let every = (1.15 * f64::from(theme.sizes.caption) / semitone).ceil().max(1.0) as i32;
    let lowest = ((sheet.middle.0 - sheet.reach.0) / 100.0).floor() as i32 + 68;
    let highest = ((sheet.middle.0 + sheet.reach.0) / 100.0).ceil() as i32 + 70;
    for midi in (lowest..=highest).filter(|midi| midi.rem_euclid(every) == 0) {
        let pitch = tuning.frequency(midi).cents_above(tuning.a4);
        if !sheet.shows(pitch) {
            continue;
        }
        let y = sheet.y_from_cents(pitch);
        painter.hline(sheet.times.x, y, theme.hairline_stroke());
        painter.text(
            pos2(sheet.times.x.min - 8.0, y),
            Align2::RIGHT_CENTER,
            pitch_name(midi, shell.naming()),
            theme.word_font(theme.sizes.caption),
            theme.soft_ink,
        );
    }
}

/// Seconds below the sheet.
fn time_axis(painter: &Painter, sheet: &Sheet, theme: &Theme) {
    let times = &sheet.times;
    let room = 4.0 * theme.sizes.scale;
    let fits = |step: &f64| f64::from(times.x.span()) / times.span.0 * step >= f64::from(room);
    let step = [1.0, 2.0, 5.0, 10.0, 20.0].into_iter().find(fits).unwrap_or(20.0);
    painter.hline(times.x, sheet.y.max, theme.hairline_stroke());
    let first = (times.oldest().0 / step).ceil() as i64;
    let last = (times.newest.0 / step).floor() as i64;
    for mark in first..=last {
        let secs = mark as f64 * step;
        let x = times.x_from_secs(Secs(secs));
        painter.vline(x, sheet.y.max..=sheet.y.max + 4.0, theme.rule_stroke());
        let (align, x) = if mark == last && x > times.x.max - room / 2.0 {
            (Align2::RIGHT_TOP, times.x.max)
        } else {
            (Align2::CENTER_TOP, x)
        };
        painter.text(
            pos2(x, sheet.y.max + 3.0),
            align,
            format!("{secs:.0} s"),
            theme.word_font(theme.sizes.scale),
            theme.soft_ink,
        );
    }
}

/// Where samples are missing.
fn lost(painter: &Painter, sheet: &Sheet, file: &TakeFile, theme: &Theme) {
    let rect = sheet.rect();
    for lost in &file.lost {
        let from = sheet.times.x_from_secs(Secs(lost.at_s)).max(rect.left());
        let to = sheet.times.x_from_secs(Secs(lost.at_s + lost.length_s));
        if to < rect.left() || from > rect.right() {
            continue;
        }
        let gap =
            Rect::from_x_y_ranges(from..=to.min(rect.right()).max(from + 1.0), rect.y_range());
        painter.rect_filled(gap, 0.0, theme.missing);
        if gap.width() > 3.0 * theme.sizes.scale {
            painter.text(
                gap.center_top(),
                Align2::CENTER_TOP,
                "lost",
                theme.word_font(theme.sizes.scale),
                theme.soft_ink,
            );
        }
    }
}

/// The part that is played, if it is not all: brackets at its ends.
fn part(painter: &Painter, sheet: &Sheet, opened: &Opened, file: &TakeFile, theme: &Theme) {
    let (from, to) = opened.played.part;
    if from.0 <= 0.0 && to.0 >= file.length_s - 1e-6 {
        return;
    }
    let rect = sheet.rect();
    let stroke = Stroke::new(theme.sizes.rule, theme.ink);
    let foot = 0.5 * theme.sizes.scale;
    for (time, inwards) in [(from, foot), (to, -foot)] {
        let x = sheet.times.x_from_secs(time);
        if !rect.x_range().contains(x) {
            continue;
        }
        let corners = [
            pos2(x + inwards, rect.top()),
            pos2(x, rect.top()),
            pos2(x, rect.bottom()),
            pos2(x + inwards, rect.bottom()),
        ];
        painter.line(corners.to_vec(), stroke);
    }
}

/// The names of the notes where they begin.
fn names(painter: &Painter, sheet: &Sheet, notes: &[&NoteMeasures], shell: &Shell, theme: &Theme) {
    let font = theme.word_font(theme.sizes.caption);
    let mut free_from = f32::NEG_INFINITY;
    for note in notes {
        let x = sheet.times.x_from_secs(Secs(note.start_s)).max(sheet.times.x.min);
        let mut name = pitch_name(note.midi, shell.naming());
        if let Some(finger) = note.finger {
            name += &match finger {
                0 => " (thumb)".to_owned(),
                finger => format!(" ({finger})"),
            };
        }
        let wide = pen::width(painter, &name, font.clone());
        if x < free_from || x + wide > sheet.times.x.max {
            continue;
        }
        let foot = pos2(x, sheet.y.min - 6.0);
        free_from = pen::write(painter, foot, &name, font.clone(), theme.soft_ink) + 8.0;
    }
}

/// The trace itself.
fn course(
    painter: &Painter,
    sheet: &Sheet,
    points: &[Point],
    notes: &[NoteMeasures],
    theme: &Theme,
) {
    let on_sheet = painter.with_clip_rect(sheet.rect().expand2(vec2(0.0, 2.0)));
    let (oldest, newest) = (sheet.times.oldest().0, sheet.times.newest.0);
    let from = points.partition_point(|point| point.time.0 < oldest);
    let to = points.partition_point(|point| point.time.0 <= newest);
    let seen = &points[from.saturating_sub(1)..to];
    let mut notes = notes.iter().peekable();
    let in_note = |time: Secs| {
        while notes.next_if(|note| note.end_s < time.0).is_some() {}
        notes.peek().is_some_and(|note| note.start_s <= time.0)
    };
    let pitch = |point: &Point| point.pitch.map(Cents::get);
    for line in plot_area::lines(seen, &sheet.times, pitch, in_note) {
        let stroke = if line.sure {
            Stroke::new(theme.sizes.pen, theme.ink)
        } else {
            Stroke::new(theme.sizes.thin_pen, theme.rule)
        };
        let corners = line.corners.iter();
        let places: Vec<Pos2> = corners.map(|&(t, p)| sheet.place(t, Cents(p))).collect();
        match places[..] {
            [only] => on_sheet.circle_filled(only, stroke.width / 2.0, stroke.color),
            _ => on_sheet.line(places, stroke),
        };
    }
}

/// Words in the place of the trace.
fn told(painter: &Painter, sheet: &Sheet, words: &str, theme: &Theme) {
    let rect = sheet.rect().shrink(theme.sizes.between);
    let font = theme.word_font(theme.sizes.word);
    pen::write_lines(painter, rect, words, font, theme.sizes.scale, theme.soft_ink);
}

/// The place that is heard: a line with a foot.
fn cursor(painter: &Painter, sheet: &Sheet, opened: &Opened, theme: &Theme) {
    let x = sheet.times.x_from_secs(opened.played.at);
    if !sheet.times.x.contains(x) {
        return;
    }
    let stroke = Stroke::new(theme.sizes.value, theme.oscillation);
    painter.vline(x, sheet.y.min..=sheet.y.max, stroke);
    let half = 1.4 * theme.sizes.turn;
    let foot = pos2(x, sheet.y.max);
    painter.add(egui::Shape::convex_polygon(
        vec![foot + vec2(0.0, -half), foot + vec2(half, half), foot + vec2(-half, half)],
        theme.oscillation,
        Stroke::NONE,
    ));
}

/// The whole of a long take: its notes as bars, the page that is seen, the place that is heard.
fn whole(
    painter: &Painter,
    strip: Rect,
    page: &Times,
    opened: &Opened,
    file: &TakeFile,
    theme: &Theme,
) {
    let times =
        Times { x: strip.x_range(), newest: Secs(file.length_s), span: Secs(file.length_s) };
    let at = |secs: f64| times.x_from_secs(Secs(secs));
    painter.rect_filled(strip, 2.0, theme.patch);
    let bars = strip.shrink2(vec2(0.0, 0.32 * strip.height()));
    for note in &file.notes {
        let to = at(note.end_s).max(at(note.start_s) + 1.0);
        let bar = Rect::from_x_y_ranges(at(note.start_s)..=to, bars.y_range());
        painter.rect_filled(bar, 0.0, theme.rule);
    }
    let seen = Rect::from_x_y_ranges(
        at(page.oldest().0)..=at(page.newest.0.min(file.length_s)),
        strip.y_range(),
    );
    let edge = Stroke::new(theme.sizes.rule, theme.ink);
    painter.rect_stroke(seen, 2.0, edge, StrokeKind::Inside);
    let stroke = Stroke::new(theme.sizes.value, theme.oscillation);
    painter.vline(at(opened.played.at.0), strip.y_range(), stroke);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_take_is_seen_whole_and_a_long_one_by_pages() {
        let x = Rangef::new(0.0, 800.0);
        let short = times(x, Secs(3.0), Secs(20.0));
        assert_eq!((short.oldest().0, short.newest.0), (0.0, 20.0));
        let long = |at| {
            let times = times(x, Secs(at), Secs(100.0));
            (times.oldest().0, times.newest.0)
        };
        assert_eq!(long(0.0), (0.0, 16.0));
        assert_eq!(long(15.9), (0.0, 16.0));
        assert_eq!(long(16.0), (16.0, 32.0));
        assert_eq!(long(100.0), (96.0, 112.0));
    }

    #[test]
    fn without_notes_the_view_is_around_a4() {
        assert_eq!(view(&[], Hz(440.0)), (Cents(0.0), Cents(LEAST_REACH)));
    }
}
