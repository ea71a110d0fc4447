//! Measures over the weeks: every note a dot, each week's middle half a bar, its median a mark; weeks that follow each
//! other are joined by a line, and only those.

use super::plots;
use super::wording;
use super::{JournalAction, JournalRoom, Span};
use crate::shell::Shell;
use crate::widgets::form::Form;
use egui::{Rect, Ui, UiBuilder, pos2, vec2};
use journal::{Day, NoteGroup, Split, Trend, Week};
use pictures::days::{self, Window};
use vibrato::{Of, Quantity};

/// Height of a plot: what is left, and at least and at most so many type sizes.
const HEIGHT: (f32, f32) = (11.0, 60.0);
/// Two plots stand beside each other from this width on, in type sizes each.
const BESIDE: f32 = 24.0;

/// Draws them.
pub(super) fn trends_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    choices_ui(ui, room, form, actions);
    let Some(trends) = &room.trends else { return };
    let last = trends.parts.iter().filter_map(|t| t.weeks.last()).map(|w| w.monday).max();
    let first = trends.parts.iter().filter_map(|t| t.weeks.first()).map(|w| w.monday).min();
    let (Some(first), Some(last)) = (first, last) else {
        form.note(ui, "No note has this measure.");
        return;
    };
    let days = plots::days(room.span, first, last + 6);
    let Some(values) = values(&trends.parts, days) else {
        form.note(ui, "No note has this measure.");
        return;
    };
    let window = Window { days, values };
    let shown: Vec<&Trend> = trends.parts.iter().filter(|t| seen(t, days)).collect();
    note_ui(ui, room, &shown, trends.left_out, form);
    let size = form.size();
    let columns =
        if shown.len() > 1 && ui.available_width() >= 2.0 * BESIDE * size { 2 } else { 1 };
    let rows = shown.len().div_ceil(columns);
    let left = ui.clip_rect().bottom() - ui.cursor().top();
    let apart = ui.spacing().item_spacing.y;
    let name = ui.text_style_height(&egui::TextStyle::Body) + apart;
    let each = left / rows as f32 - name - apart;
    let height = each.clamp(HEIGHT.0 * size, HEIGHT.1 * size);
    let between = form.theme.sizes.margin;
    for row in shown.chunks(columns) {
        let top = ui.cursor().left_top();
        let width = (ui.available_width() - between * (columns - 1) as f32) / columns as f32;
        let high = height + name;
        for (place, trend) in row.iter().enumerate() {
            let at = pos2(top.x + place as f32 * (width + between), top.y);
            let area = Rect::from_min_size(at, vec2(width, high));
            let mut ui = ui.new_child(UiBuilder::new().max_rect(area));
            trend_ui(&mut ui, trend, room.followed, window, height, shell, form);
        }
        let area = Rect::from_min_size(top, vec2(ui.available_width(), high));
        ui.allocate_rect(area, egui::Sense::hover());
    }
}

fn choices_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, actions: &mut Vec<JournalAction>) {
    let mut quantity = room.followed;
    let named = |quantity: Quantity| (quantity, quantity.name().to_owned());
    let all: Vec<(Quantity, String)> = Quantity::followed().map(named).collect();
    form.choice(ui, "measure", &mut quantity, &all);
    if quantity != room.followed {
        actions.push(JournalAction::Follow(quantity));
    }
    let mut split = room.split;
    let all = [
        (Split::None, "all notes together".to_owned()),
        (Split::Finger, "finger".to_owned()),
        (Split::Register, "register".to_owned()),
    ];
    form.choice(ui, "show by", &mut split, &all);
    if split != room.split {
        actions.push(JournalAction::Split(split));
    }
    span_ui(ui, room, form, actions);
}

/// How much time is shown.
pub(super) fn span_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let mut span = room.span;
    let all = Span::ALL.map(|span| (span, span.name().to_owned()));
    form.choice(ui, "time", &mut span, &all);
    if span != room.span {
        actions.push(JournalAction::Span(span));
    }
}

/// What the signs mean, and what is not shown.
fn note_ui(ui: &mut Ui, room: &JournalRoom, shown: &[&Trend], left_out: usize, form: &Form) {
    let notes: usize = shown.iter().map(|trend| trend.notes).sum();
    let dots: usize = shown.iter().map(|trend| trend.dots.len()).sum();
    let mut said = String::from("A dot is a note");
    if dots < notes {
        said += &format!(" ({} of {} are drawn)", wording::grouped(dots), wording::grouped(notes));
    }
    said += "; a bar holds the middle half of a week's notes, its diamond their median.";
    if left_out > 0 {
        let count = wording::counted(left_out, "note", "notes");
        said += &format!(" {count} of unknown finger left out.");
    }
    if let Some(player) = &room.trend_filter().player {
        said += &match player.as_str() {
            "" => " From takes without a name.".to_owned(),
            name => format!(" Of {name}."),
        };
    }
    if room.filter.drill.is_none() {
        said += " Models of lessons and drills are left out: filter for a drill to follow it by itself.";
    }
    if room.followed == Quantity::Centre {
        said += " The centre lies above or below what the note was measured against then.";
    }
    if matches!(room.followed.row().of, Of::Note(_)) {
        said += " Of straight notes.";
    }
    form.note(ui, &said);
}

/// Whether any week of it lies in these days.
fn seen(trend: &Trend, days: (f64, f64)) -> bool {
    weeks(trend, days).next().is_some()
}

fn weeks(trend: &Trend, days: (f64, f64)) -> impl Iterator<Item = &Week> {
    trend.weeks.iter().filter(move |week| {
        f64::from(week.monday) + 7.0 > days.0 && f64::from(week.monday) < days.1
    })
}

/// From the least to the greatest value that is seen, with a little room.
fn values(trends: &[Trend], days: (f64, f64)) -> Option<(f64, f64)> {
    let dots = trends.iter().flat_map(|trend| &trend.dots);
    let seen = dots.filter(|dot| (days.0..=days.1).contains(&dot.0));
    let (low, high) =
        seen.fold((f64::MAX, f64::MIN), |(low, high), dot| (low.min(dot.1), high.max(dot.1)));
    let room = (0.06 * (high - low)).max(0.02 * high.abs()).max(1e-3);
    (low <= high).then_some((low - room, high + room))
}

fn trend_ui(
    ui: &mut Ui,
    trend: &Trend,
    quantity: Quantity,
    window: Window,
    height: f32,
    shell: &Shell,
    form: &Form,
) {
    let name = wording::part(trend.part, shell.options());
    let count = wording::counted(trend.notes, "note", "notes");
    ui.label(match trend.part {
        NoteGroup::All => count,
        _ => format!("{name}: {count}"),
    });
    let spoken = spoken(trend, &name, quantity, window.days);
    let axis = quantity.headed();
    let weeks: Vec<days::Week> = trend.weeks.iter().map(drawn).collect();
    plots::plot_ui(ui, &spoken, height, form.theme, |picture, area| {
        days::trend(picture, area, &axis, window, &trend.dots, &weeks);
    });
}

/// A week as it is drawn.
fn drawn(week: &Week) -> days::Week {
    let Week { monday, low, median, high, .. } = *week;
    days::Week { monday, low, median, high }
}

/// What a screen reader says: the newest week beside the first one that is seen.
fn spoken(trend: &Trend, name: &str, quantity: Quantity, days: (f64, f64)) -> String {
    let said = |week: &Week| {
        let monday: Day = week.monday;
        format!(
            "median {}, middle half {} to {} {} in the week of {}",
            quantity.number(Some(week.median)),
            quantity.number(Some(week.low)),
            quantity.number(Some(week.high)),
            quantity.unit(),
            wording::short_date(monday)
        )
    };
    let mut seen = weeks(trend, days);
    let first = seen.next().map(said).unwrap_or_default();
    let mut spoken = format!("{} of {name}: {first}", quantity.name());
    if let Some(last) = seen.last() {
        spoken += &format!("; {}", said(last));
    }
    spoken
}
