//! The report of a lesson: a model, and one echo or several that answer it.

use std::sync::Arc;

use coach::{Align, Comparison, Difference, Instant, Pair, Phrase, beyond_doubt};
use emath::vec2;
use maud::{Markup, html};
use pictures::overlay::{OneNote, legend, one_note};
use pictures::phrase::{Whole, phrase};
use pictures::{Meaning, Picture, way as ways};
use tuning::{Naming, pitch_name};
use vibrato::{Measure, Quantity};

use super::figure::{THIRD, figure, over_all, sized, sizes};
use super::measures::{head, measures};
use super::page::{Page, details, isolated};
use super::playing::Playing;
use super::take::{gauges, records, vibratos};

/// The page; echoes in the order in which they were played.
pub fn lesson_page(model: &Playing, echoes: &[Playing], naming: Naming) -> Page {
    let compared: Vec<(&Playing, Comparison)> =
        echoes.iter().map(|echo| (echo, Comparison::new(&model.notes, &echo.notes))).collect();
    let number = |n: usize| match echoes.len() {
        1 => "Echo".to_owned(),
        _ => format!("Echo {}", n + 1),
    };
    let mut about = Vec::new();
    // What a file is called is its name; a take goes by whose it is, of what and when.
    about.push(("model".to_owned(), model.called()));
    let numbered = echoes.iter().enumerate();
    about.extend(numbered.map(|(n, echo)| (number(n).to_lowercase(), echo.called())));
    let last = compared.len().saturating_sub(1);
    let mut words =
        compared.last().map(|(_, last)| last.words(naming)).unwrap_or_default().into_iter();
    let sentence = words.next().unwrap_or_else(|| "No echo yet.".to_owned());
    let remarks = std::iter::once(model).chain(echoes).flat_map(|playing| {
        playing.remarks.iter().map(|words| format!("{}: {words}.", playing.called()))
    });
    let lead = remarks.chain(nearer(&compared)).collect();
    let to_try = compared.last().and_then(|(_, last)| to_try(last, naming));
    let rest: Vec<String> = words.collect();
    let body = html! {
        @for (n, (echo, comparison)) in compared.iter().enumerate().skip(last) {
            (one_echo(model, echo, comparison, &rest, naming))
            @if n > 0 { (way(&compared)) }
            (details("All differences", comparison.pairs.len(), &table(comparison, naming)))
        }
        @for (n, (echo, comparison)) in compared.iter().enumerate().take(last) {
            (details(&number(n), usize::MAX, &html! {
                (one_echo(model, echo, comparison, &comparison.words(naming), naming))
                (table(comparison, naming))
            }))
        }
        (details("Measures of the model", usize::MAX, &measures(&records(&model.notes, naming), &model.fingers)))
    };
    let player = echoes.last().and_then(|echo| Some(echo.take.as_ref()?.player.as_str()));
    let title = match player {
        Some(player) if !player.is_empty() => format!("Lesson · {}", isolated(player)),
        _ => "Lesson · model and echo".to_owned(),
    };
    let all = std::iter::once(model).chain(echoes);
    let damaged = all.filter_map(|playing| playing.damaged.clone()).collect();
    Page { title, sentence, lead, to_try, about, body, damaged }
}

/// What came nearer to the model from the first echo to the last, and what went away from it, where that can be told.
fn nearer(compared: &[(&Playing, Comparison)]) -> Option<String> {
    let [(_, first), .., (_, last)] = compared else {
        return None;
    };
    let told = [Quantity::Rate, Quantity::Width].into_iter().filter_map(|quantity| {
        let (first, last) = (first.mean(quantity)?, last.mean(quantity)?);
        let value = first.value.abs() - last.value.abs();
        let se = Some(first.se?.hypot(last.se?));
        let to = if value > 0.0 { "closer to" } else { "away from" };
        let said = format!("the {} came {} {to} the model", quantity.name(), quantity.size(value));
        beyond_doubt(Measure { value, se }, 2).then_some(said)
    });
    let told: Vec<String> = told.collect();
    (!told.is_empty()).then(|| format!("From the first echo to the last {}.", told.join(", ")))
}

/// Which way to go in the next echo, by the largest difference that can be told.
fn to_try(comparison: &Comparison, naming: Naming) -> Option<String> {
    let (pair, difference) = comparison.largest()?;
    let (less, more) = match difference.quantity {
        Quantity::Rate => ("a little faster", "a little slower"),
        Quantity::Width => ("wider", "narrower"),
        Quantity::Centre => ("a little higher", "a little lower"),
        _ => return None,
    };
    let way = if difference.value < 0.0 { less } else { more };
    let name = pitch_name(comparison.model[pair.model].midi, naming);
    Some(format!(
        "To try: hear note {} ({name}) of the model again, and answer it {way}.",
        pair.model + 1
    ))
}

/// From the first echo to the last: the mean difference of each measure.
fn way(compared: &[(&Playing, Comparison)]) -> Markup {
    let rows = Quantity::compared().map(|quantity| {
        let means = compared.iter().map(|(_, comparison)| comparison.mean(quantity));
        (quantity.headed(), means.collect::<Vec<_>>())
    });
    let rows: Vec<_> = rows.filter(|(_, means)| means.iter().flatten().next().is_some()).collect();
    let rows = &rows[..rows.len().min(FIRST_WAYS)];
    let draw = |width: f32| {
        let mut picture = sized(width, ways::height(rows.len(), sizes().scale));
        let area = picture.area.shrink2(vec2(2.0, 0.0));
        ways::ways(&mut picture, area, rows);
        picture.says = "the figures stand in the table below".to_owned();
        figure("The way from the first echo to the last", &picture, "")
    };
    html! {
        h2 { "The way from the first echo to the last" }
        p class="note" { "First echo: ring; last: full; the upright line is the model. Each echo is held against its model note by note." }
        @if !rows.is_empty() { (over_all(draw)) }
        (details("The way in numbers", usize::MAX, &html! {
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
        }))
    }
}

fn one_echo(
    model: &Playing,
    echo: &Playing,
    comparison: &Comparison,
    words: &[String],
    naming: Naming,
) -> Markup {
    let (of_model, of_echo) = (phrase_of(model), phrase_of(echo));
    let heard = !(model.frames.is_empty() || echo.frames.is_empty());
    let draw = |width| whole(&of_model, &of_echo, comparison, naming, width).unwrap_or_default();
    html! {
        @if heard && model.notes.len() > 1 {
            (over_all(draw))
        }
        @if heard {
            div class="figures small" {
                @for pair in comparison.pairs.iter().take(FIRST_PICTURES) {
                    (overlaid(&of_model, &of_echo, comparison, pair, naming))
                }
            }
        }
        // Notes of a phrase may be meant to differ, and have no gauge in common.
        @if model.notes.len() == 1 && !vibratos(&echo.notes).is_empty() {
            (gauges(&echo.notes, Some(&model.notes)))
        }
        @if !words.is_empty() { ul { @for words in words { li { (words) } } } }
        @if heard && comparison.pairs.len() > FIRST_PICTURES {
            (details("The other notes, laid over each other", usize::MAX, &html! {
                div class="figures small" {
                    @for pair in comparison.pairs.iter().take(MOST_PICTURES).skip(FIRST_PICTURES) {
                        (overlaid(&of_model, &of_echo, comparison, pair, naming))
                    }
                }
            }))
        }
    }
}

/// So many notes are drawn, and so many of them where a page begins; the table has all.
const FIRST_PICTURES: usize = 3;
/// So many measures have their way drawn.
const FIRST_WAYS: usize = 6;
const MOST_PICTURES: usize = 24;
/// Height of the picture of one note, and of a whole phrase.
const HEIGHT: f32 = 150.0;
const PHRASE_HEIGHT: f32 = 190.0;

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
fn overlay(width: f32, height: f32, said: Option<&str>) -> Picture {
    let mut picture = sized(width, height);
    let area = picture.area;
    legend(&mut picture, area, &[(Meaning::Model, "model"), (Meaning::Echo, "echo")], said);
    picture
}

/// All notes over each other.
fn whole(
    model: &Phrase,
    echo: &Phrase,
    comparison: &Comparison,
    naming: Naming,
    width: f32,
) -> Option<Markup> {
    let whole = Whole::of(model, Some((echo, comparison)), false, naming)?;
    let mut picture = overlay(width, PHRASE_HEIGHT, None);
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
    let mut picture = overlay(THIRD, HEIGHT, Some(&format!("note {}, {name}", pair.model + 1)));
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
            caption { "What differs, note by note, with its margin; ? where it is not known" }
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
