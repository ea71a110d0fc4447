//! How much was played: minutes of each day or week.

use super::plots;
use super::trends::span_ui;
use super::wording;
use super::{JournalAction, JournalRoom, Span};
use crate::widgets::form::Form;
use egui::Ui;
use journal::{Day, Practised};
use pictures::days::{Window, amounts};

/// Height of the plot: what is left, and at least and at most so many type sizes.
const HEIGHT: (f32, f32) = (11.0, 60.0);

/// Draws them.
pub(super) fn minutes_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    span_ui(ui, room, form, actions);
    if room.span != Span::All {
        let mut by_week = room.by_week;
        let all = [(false, "day".to_owned()), (true, "week".to_owned())];
        form.choice(ui, "a bar for each", &mut by_week, &all);
        if by_week != room.by_week {
            actions.push(JournalAction::ByWeek(by_week));
        }
    }
    let Some(all) = &room.practised else { return };
    let (Some(first), Some(last)) = (all.first(), all.last()) else {
        form.note(ui, "Nothing was played.");
        return;
    };
    let by_week = room.weekly();
    let end = last.day + if by_week { 6 } else { 0 };
    let days = plots::days(room.span, first.day, end);
    let seen: Vec<Practised> =
        all.iter().filter(|day| (days.0..days.1).contains(&f64::from(day.day))).copied().collect();
    let most = seen.iter().map(|day| day.minutes).fold(1.0, f64::max);
    let told = in_words(&seen, days, by_week);
    ui.label(&told);
    form.note(
        ui,
        "Minutes are the lengths of the takes. They are counted so that rests are not forgotten, and are no goal: rest often, \
         and stop at pain, numbness or tingling.",
    );
    let left = ui.clip_rect().bottom() - ui.cursor().top() - form.size();
    let height = left.clamp(HEIGHT.0 * form.size(), HEIGHT.1 * form.size());
    let window = Window { days, values: (0.0, 1.08 * most) };
    let axis = if by_week { "minutes a week" } else { "minutes a day" };
    let bars: Vec<(Day, f64)> = seen.iter().map(|day| (day.day, day.minutes)).collect();
    plots::plot_ui(ui, &format!("minutes played: {told}"), height, form.theme, |picture, area| {
        amounts(picture, area, axis, window, &bars, by_week);
    });
}

/// "From 3 Sep 2026 to 25 Nov 2026: 842 minutes in 96 takes on 41 days."
fn in_words(seen: &[Practised], days: (f64, f64), by_week: bool) -> String {
    let minutes: f64 = seen.iter().map(|day| day.minutes).sum();
    let takes: usize = seen.iter().map(|day| day.takes).sum();
    let (one, many) = if by_week { ("week", "weeks") } else { ("day", "days") };
    let in_some = if by_week { "in" } else { "on" };
    format!(
        "From {} to {}: {} minutes in {} {in_some} {}.",
        wording::short_date(days.0 as Day),
        wording::short_date(days.1 as Day - 1),
        wording::grouped(minutes.round() as usize),
        wording::counted(takes, "take", "takes"),
        wording::counted(seen.len(), one, many),
    )
}
