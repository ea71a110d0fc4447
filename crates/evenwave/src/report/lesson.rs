//! The report of a lesson: a model, and one echo or several that answer it.

use std::sync::Arc;

use coach::{Align, Comparison, Difference, Instant, Pair, Phrase};
use emath::vec2;
use maud::{Markup, html};
use pictures::overlay::{OneNote, legend, one_note};
use pictures::phrase::{Whole, phrase};
use pictures::{Meaning, Picture, way as ways};
use tuning::{Naming, pitch_name};
use vibrato::Quantity;

use super::figure::{empty, figure, sizes};
use super::measures::{head, measures};
use super::page::{Page, isolated};
use super::playing::Playing;
use super::take::{gauges, records, vibratos};
use crate::words::counted;

/// The page; echoes in the order in which they were played.
pub fn lesson_page(model: &Playing, echoes: &[Playing], naming: Naming) -> Page {
    let compared: Vec<(&Playing, Comparison)> =
        echoes.iter().map(|echo| (echo, Comparison::new(&model.notes, &echo.notes))).collect();
    let mut about = vec![("model".to_owned(), wording(model))];
    let number = |n: usize| match echoes.len() {
        1 => "Echo".to_owned(),
        _ => format!("Echo {}", n + 1),
    };
    let numbered = echoes.iter().enumerate();
    about.extend(numbered.map(|(n, echo)| (number(n).to_lowercase(), wording(echo))));
    let body = html! {
        p { "Differences are echo minus model." }
        @for playing in std::iter::once(model).chain(echoes) {
            @for words in &playing.remarks { p class="verdict" { (isolated(&playing.name)) ": " (words) } }
        }
        @if compared.len() > 1 { (way(&compared)) }
        @for (n, (echo, comparison)) in compared.iter().enumerate() {
            h2 { (number(n)) }
            (one_echo(model, echo, comparison, naming))
        }
        h2 { "Measures of the model" }
        (measures(&records(&model.notes, naming), &model.fingers))
    };
    let title = match echoes.last().and_then(|echo| echo.take.as_ref()) {
        Some(take) if !take.player.is_empty() => {
            format!("Lesson: {}", isolated(&take.player))
        }
        _ => "Lesson: model and echo".to_owned(),
    };
    Page { title, about, body }
}

fn wording(playing: &Playing) -> String {
    let take = playing.take.as_ref();
    let player = take.map_or("", |take| take.player.as_str());
    let word = take.map_or("", |take| take.word.as_str());
    let parts = [playing.name.as_str(), player, word];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// From the first echo to the last: the mean difference of each measure.
fn way(compared: &[(&Playing, Comparison)]) -> Markup {
    let rows = Quantity::compared().map(|quantity| {
        let means = compared.iter().map(|(_, comparison)| comparison.mean(quantity));
        (quantity.headed(), means.collect::<Vec<_>>())
    });
    let rows: Vec<_> = rows.filter(|(_, means)| means.iter().flatten().next().is_some()).collect();
    let mut picture = empty(ways::height(rows.len(), sizes().scale));
    let area = picture.area.shrink2(vec2(2.0, 0.0));
    ways::ways(&mut picture, area, &rows);
    picture.says = "the figures stand in the table below".to_owned();
    html! {
        h2 { "The way from the first echo to the last" }
        @if !rows.is_empty() {
            div class="figures wide" {
                (figure("The way from the first echo to the last", &picture, "First echo (ring) to last (full); the line is the model."))
            }
        }
        table {
            caption { "Mean difference from the model over all notes that answer each other" }
            thead {
                tr {
                    th scope="col" { "echo" }
                    @for quantity in Quantity::compared() { (head(quantity)) }
                }
            }
            tbody {
                @for (number, (_, comparison)) in compared.iter().enumerate() {
                    tr {
                        th scope="row" data-label="echo" { (number + 1) }
                        @for quantity in Quantity::compared() {
                            @let mean = comparison.mean(quantity);
                            td data-label=(quantity.headed()) {
                                (quantity.difference(mean.as_ref().map(Difference::measure)))
                            }
                        }
                    }
                }
            }
        }
    }
}

fn one_echo(model: &Playing, echo: &Playing, comparison: &Comparison, naming: Naming) -> Markup {
    let words = comparison.words(naming);
    html! {
        ul { @for words in &words { li { (words) } } }
        @if !vibratos(&echo.notes).is_empty() { (gauges(&echo.notes, Some(&model.notes))) }
        @if !comparison.missing.is_empty() {
            p { (counted(comparison.missing.len(), "note")) " of the model " @if comparison.missing.len() == 1 { "is" } @else { "are" } " not answered." }
        }
        @if !comparison.extra.is_empty() {
            p { (counted(comparison.extra.len(), "note")) " of the echo " @if comparison.extra.len() == 1 { "answers" } @else { "answer" } " nothing." }
        }
        @if !(model.frames.is_empty() || echo.frames.is_empty()) {
            @let (model, echo) = (phrase_of(model), phrase_of(echo));
            @if model.notes.len() > 1 && let Some(whole) = whole(&model, &echo, comparison, naming) {
                h3 { "The whole phrase, from its first note on: notes up, seconds along" }
                div class="figures wide" { (whole) }
            }
            h3 { "Laid over each other, from the start of each note: cents up, seconds along" }
            div class="figures wide" {
                @for pair in comparison.pairs.iter().take(MOST_PICTURES) {
                    (overlaid(&model, &echo, comparison, pair, naming))
                }
            }
        }
        (table(comparison, naming))
    }
}

/// So many notes are drawn; the table has all.
const MOST_PICTURES: usize = 24;
/// Height of the picture of one note, and of a whole phrase.
const HEIGHT: f32 = 210.0;
const PHRASE_HEIGHT: f32 = 300.0;

/// What was played, as a lesson has it.
fn phrase_of(playing: &Playing) -> Phrase {
    let course = playing.frames.iter().map(|frame| Instant {
        time: frame.time,
        f0: frame.drawn(),
        confidence: frame.confidence,
    });
    Phrase { notes: playing.notes.clone(), course: course.collect() }
}

/// An empty overlay with its legend.
fn overlay(height: f32, said: Option<&str>) -> Picture {
    let mut picture = empty(height);
    let area = picture.area;
    legend(&mut picture, area, &[(Meaning::Model, "model"), (Meaning::Echo, "echo")], said);
    picture
}

/// All notes over each other.
fn whole(model: &Phrase, echo: &Phrase, comparison: &Comparison, naming: Naming) -> Option<Markup> {
    let whole = Whole::of(model, Some((echo, comparison)), false, naming)?;
    let mut picture = overlay(PHRASE_HEIGHT, None);
    let area = picture.area;
    phrase(&mut picture, area, &whole, None, |part, times| Arc::new(part.lines(times)));
    picture.says = whole.said();
    Some(figure("The phrase as a whole, model and echo", &picture, ""))
}

fn overlaid(
    model: &Phrase,
    echo: &Phrase,
    comparison: &Comparison,
    pair: &Pair,
    naming: Naming,
) -> Markup {
    let name = pitch_name(comparison.model[pair.model].midi, naming);
    let answer = Some((echo, comparison, pair));
    let shown = OneNote::of(model, pair.model, answer, Align::NoteStart, naming);
    let mut picture = overlay(HEIGHT, Some(&format!("note {}, {name}", pair.model + 1)));
    let area = picture.area;
    one_note(&mut picture, area, &shown);
    let told: Vec<String> = pair
        .told()
        .iter()
        .map(|d| {
            let difference = d.quantity.difference(Some(d.measure()));
            format!("{} {difference} {}", d.quantity.name(), d.quantity.unit())
        })
        .collect();
    picture.says = if told.is_empty() {
        "nothing differs by more than can be told".to_owned()
    } else {
        told.join("; ")
    };
    figure(&format!("{name}, model and echo"), &picture, &picture.says)
}

fn table(comparison: &Comparison, naming: Naming) -> Markup {
    html! {
        table {
            caption { "What differs, note by note, with its doubt; ? where it is not known" }
            thead {
                tr {
                    th scope="col" { "note" }
                    @for quantity in Quantity::compared() { (head(quantity)) }
                }
            }
            tbody {
                @for pair in &comparison.pairs {
                    tr {
                        th scope="row" data-label="note" {
                            (pair.model + 1) " " (pitch_name(comparison.model[pair.model].midi, naming))
                        }
                        @if let Some(words) = pair.motions.wording() {
                            td data-label="centre, cents" colspan=(Quantity::compared().count()) class="wide" {
                                (words)
                                @if let Some(d) = pair.difference(Quantity::Centre) {
                                    "; pitch " (Quantity::Centre.difference(Some(d.measure()))) " cents"
                                }
                            }
                        } @else {
                            @for quantity in Quantity::compared() {
                                @let difference = pair.difference(quantity).map(Difference::measure);
                                td data-label=(quantity.headed()) { (quantity.difference(difference)) }
                            }
                        }
                    }
                }
            }
        }
    }
}
