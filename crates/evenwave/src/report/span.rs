//! The report of some weeks of a player: practice, and how each measure ran.

use std::sync::Arc;

use journal::{
    Day, Entry, Filter, NoteGroup, Practised, Split, Trend, Trends, Week, day_of, practised,
};
use maud::{Markup, html};
use pictures::days::{self, Window, amounts};
use tuning::figure::{capital, number};
use vibrato::Quantity;

use super::figure::{empty, figure};
use super::page::{Page, details, isolated};
use crate::words::{counted, unread_said};

/// The page of these takes, of which `filter` wants some; so many others in the journal cannot be read.
pub fn span_page(
    entries: &[Arc<Entry>],
    filter: &Filter,
    about: Vec<(String, String)>,
    unread: usize,
) -> Page {
    let weeks = practised(entries, filter, true);
    let minutes: f64 = weeks.iter().map(|week| week.minutes).sum();
    let takes: usize = weeks.iter().map(|week| week.takes).sum();
    let body = html! {
        div class="figures" {
            @if !weeks.is_empty() { (minutes_by_week(&weeks)) }
            @for quantity in Quantity::followed() { (over_weeks(entries, filter, quantity)) }
        }
        p class="note" {
            "A dot is a note; a bar holds the middle half of a week's notes, its diamond their median. Each week from its Monday."
        }
        @for quantity in Quantity::followed() { (one_measure(entries, filter, quantity)) }
    };
    let sentence = format!(
        "{} in {}, {} minutes of sound.",
        counted(takes, "take"),
        counted(weeks.len(), "week"),
        number(Some(minutes), 0, false)
    );
    let mut lead = vec!["Minutes are counted to suggest rests, not to be raised.".to_owned()];
    if unread > 0 {
        lead.push(format!("{}.", unread_said(unread)));
    }
    let title = match filter.player.as_deref() {
        Some(player) => format!("{}: {}", isolated(player), time_of(entries)),
        None => format!("Practice, {}", time_of(entries)),
    };
    Page { title, sentence, lead, to_try: None, about, body, damaged: Vec::new() }
}

/// Height of a picture over weeks.
const HEIGHT: f32 = 180.0;

/// Minutes of sound, a bar for each week.
fn minutes_by_week(weeks: &[Practised]) -> Markup {
    let days = weeks.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), week| {
        (first.min(f64::from(week.day)), last.max(f64::from(week.day) + 7.0))
    });
    let most = weeks.iter().map(|week| week.minutes).fold(1.0, f64::max);
    let bars: Vec<(Day, f64)> = weeks.iter().map(|week| (week.day, week.minutes)).collect();
    let mut picture = empty(HEIGHT);
    let (area, window) = (picture.area, Window { days, values: (0.0, 1.08 * most) });
    amounts(&mut picture, area, "minutes a week", window, &bars, true);
    let says = weeks.iter().map(|week| {
        let minutes = number(Some(week.minutes), 0, false);
        format!("week of {}: {minutes} min", day_name(week.day))
    });
    picture.says = says.collect::<Vec<String>>().join("; ");
    figure("sound of takes, by week", &picture, "")
}

/// One measure of some notes over the weeks.
fn trend(quantity: Quantity, trend: &Trend, window: Window) -> Markup {
    let weeks: Vec<days::Week> = trend
        .weeks
        .iter()
        .map(|week| {
            let Week { monday, low, median, high, .. } = *week;
            days::Week { monday, low, median, high }
        })
        .collect();
    let mut picture = empty(HEIGHT);
    let area = picture.area;
    let name = format!("{}: {}", part_name(trend.part), quantity.headed());
    days::trend(&mut picture, area, &name, window, &trend.dots, &weeks);
    let word = |value| quantity.number(Some(value));
    let says = trend.weeks.iter().map(|week| {
        format!(
            "week of {}: median {} {} of {} notes, half of them from {} to {}",
            day_name(week.monday),
            word(week.median),
            quantity.unit(),
            week.count,
            word(week.low),
            word(week.high)
        )
    });
    picture.says = says.collect::<Vec<String>>().join("; ");
    figure(&format!("{} of {}", quantity.name(), part_name(trend.part)), &picture, "")
}

/// What a part is called.
fn part_name(part: NoteGroup) -> String {
    match part {
        NoteGroup::All => "all notes".to_owned(),
        NoteGroup::Finger(0) => "thumb".to_owned(),
        NoteGroup::Finger(finger) => format!("finger {finger}"),
        NoteGroup::From(midi) => {
            format!("from {} up", tuning::pitch_name(i32::from(midi), tuning::Naming::default()))
        }
    }
}

/// A day as it is written.
fn day_name(day: Day) -> String {
    jiff::civil::date(1970, 1, 1)
        .checked_add(jiff::Span::new().days(i64::from(day)))
        .map_or_else(|_| String::new(), |date| date.strftime("%-d %b %Y").to_string())
}

fn time_of(entries: &[Arc<Entry>]) -> String {
    match (entries.first(), entries.last()) {
        (Some(first), Some(last)) => {
            format!("{} to {}", day_name(day_of(first)), day_name(day_of(last)))
        }
        _ => "no takes".to_owned(),
    }
}

/// The days and the values that a picture of these trends shows; `None` where no note is known.
fn window(trends: &Trends) -> Option<Window> {
    let dots = || trends.parts.iter().flat_map(|trend| &trend.dots);
    dots().next()?;
    let (low, high) = dots().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), dot| {
        (low.min(dot.1), high.max(dot.1))
    });
    let room = 0.05 * (high - low).max(0.1);
    let mondays = trends.parts.iter().flat_map(|trend| &trend.weeks);
    let (first, last) = mondays.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), week| {
        let monday = f64::from(week.monday);
        (first.min(monday), last.max(monday + 7.0))
    });
    Some(Window { days: (first, last), values: (low - room, high + room) })
}

/// One measure of all notes.
fn over_weeks(entries: &[Arc<Entry>], filter: &Filter, quantity: Quantity) -> Markup {
    let all = Trends::gather(entries, filter, quantity, Split::None);
    html! {
        @if let Some(window) = window(&all) {
            @for part in &all.parts { (trend(quantity, part, window)) }
        }
    }
}

/// The same by finger and by register, and in numbers.
fn one_measure(entries: &[Arc<Entry>], filter: &Filter, quantity: Quantity) -> Markup {
    let gather = |split| Trends::gather(entries, filter, quantity, split);
    let all = gather(Split::None);
    let (fingers, registers) = (gather(Split::Finger), gather(Split::Register));
    let Some(window) = window(&all) else {
        return html! {};
    };
    let parts = [&fingers, &registers].into_iter().filter(|trends| trends.parts.len() > 1);
    let parts: Vec<&Trend> = parts.flat_map(|trends| &trends.parts).collect();
    let shown: Vec<&Trend> = all.parts.iter().chain(parts.iter().copied()).collect();
    details(
        &format!("{} by finger and register", capital(quantity.name())),
        usize::MAX,
        &html! {
            @if fingers.left_out > 0 && fingers.parts.len() > 1 {
                p { "Of " (counted(fingers.left_out, "note")) " the finger is not known." }
            }
            div class="figures" { @for part in &parts { (trend(quantity, part, window)) } }
            (table(quantity, &shown))
        },
    )
}

/// First and last week of each part, in numbers.
fn table(quantity: Quantity, parts: &[&Trend]) -> Markup {
    let word = |value| quantity.number(Some(value));
    html! {
        table {
            caption { "Median, and in brackets the range of half of the notes, in " (quantity.unit()) }
            thead {
                tr {
                    th scope="col" class="words" { "notes" }
                    th scope="col" { "how many" }
                    th scope="col" { "first week" }
                    th scope="col" { "last week" }
                }
            }
            tbody {
                @for part in parts {
                    tr {
                        th scope="row" class="words" { (part_name(part.part)) }
                        td data-label="how many" { (part.notes) }
                        @if let (Some(first), Some(last)) = (part.weeks.first(), part.weeks.last()) {
                            td data-label=(format!("week of {}", day_name(first.monday))) { (word(first.median)) " (" (word(first.low)) " to " (word(first.high)) ")" }
                            td data-label=(format!("week of {}", day_name(last.monday))) {
                                @if part.weeks.len() > 1 { (word(last.median)) " (" (word(last.low)) " to " (word(last.high)) ")" }
                            }
                        }
                    }
                }
            }
        }
    }
}
