//! The report of some weeks of a player: practice, and how each measure ran.

use std::sync::Arc;

use journal::{Aspect, Entry, Filter, Split, Trend, Trends, day_of, practised};
use maud::{Markup, html};

use super::bars::{Bar, bars};
use super::page::{Page, isolated, measure};
use super::trend::{day_name, decimals, part_name, trend};
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
    let practice: Vec<Bar> = weeks
        .iter()
        .map(|week| Bar {
            name: short_day(week.day),
            value: Some((week.minutes, None)),
            asked: None,
        })
        .collect();
    let body = html! {
        p {
            (counted(takes, "take")) " in " (counted(weeks.len(), "week")) ", "
            (measure(Some(minutes), None, 0, false)) " minutes of sound. Minutes are counted to suggest rests, not to be raised."
        }
        @if unread > 0 {
            p { (unread_said(unread)) "." }
        }
        @if !practice.is_empty() {
            h2 { "Practice" }
            div class="figures" {
                (bars("sound of takes, by week", "min", 0, &practice, "Each week by its Monday."))
            }
        }
        @for aspect in Aspect::ALL {
            (one_aspect(entries, filter, aspect))
        }
    };
    let title = match filter.player.as_deref() {
        Some(player) => format!("{}: {}", isolated(player), time_of(entries)),
        None => format!("Practice, {}", time_of(entries)),
    };
    Page { title, about, body }
}

fn short_day(day: journal::Day) -> String {
    let name = day_name(day);
    name.rsplit_once(' ').map_or_else(String::new, |(day, _)| day.to_owned())
}

fn time_of(entries: &[Arc<Entry>]) -> String {
    match (entries.first(), entries.last()) {
        (Some(first), Some(last)) => {
            format!("{} to {}", day_name(day_of(first)), day_name(day_of(last)))
        }
        _ => "no takes".to_owned(),
    }
}

fn one_aspect(entries: &[Arc<Entry>], filter: &Filter, aspect: Aspect) -> Markup {
    let gather = |split| Trends::gather(entries, filter, aspect, split);
    let all = gather(Split::None);
    let fingers = gather(Split::Finger);
    let registers = gather(Split::Register);
    let dots = || all.parts.iter().flat_map(|trend| &trend.dots);
    if dots().next().is_none() {
        return html! {};
    }
    let (low, high) = dots().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), dot| {
        (low.min(dot.1), high.max(dot.1))
    });
    let room = 0.05 * (high - low).max(0.1);
    let values = (low - room, high + room);
    let mondays = all.parts.iter().flat_map(|trend| &trend.weeks);
    let (first, last) = mondays.fold((f64::INFINITY, f64::NEG_INFINITY), |(first, last), week| {
        let monday = f64::from(week.monday);
        (first.min(monday), last.max(monday + 7.0))
    });
    let mut shown: Vec<&Trend> = all.parts.iter().collect();
    if fingers.parts.len() > 1 {
        shown.extend(&fingers.parts);
    }
    if registers.parts.len() > 1 {
        shown.extend(&registers.parts);
    }
    html! {
        h2 { (capital(aspect.name())) }
        p {
            "Each note is a dot; a square is the median of a week, the line through it spans half of its notes."
            @if fingers.left_out > 0 && fingers.parts.len() > 1 {
                " Of " (counted(fingers.left_out, "note")) " the finger is not known."
            }
        }
        div class="figures" {
            @for part in &shown { (trend(aspect, part, (first, last), values)) }
        }
        (table(aspect, &shown))
    }
}

fn capital(words: &str) -> String {
    let mut signs = words.chars();
    signs.next().map_or_else(String::new, |first| first.to_uppercase().chain(signs).collect())
}

/// First and last week of each part, in numbers.
fn table(aspect: Aspect, parts: &[&Trend]) -> Markup {
    let word = |value| measure(Some(value), None, decimals(aspect), aspect == Aspect::Centre);
    html! {
        table {
            caption { "Median, and in brackets the range of half of the notes, in " (aspect.unit()) }
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
