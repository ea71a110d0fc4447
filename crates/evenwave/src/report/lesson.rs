//! The report of a lesson: a model, and one echo or several that answer it.

use coach::{Align, Comparison, Difference, Motions, Pair};
use emath::{Align2, pos2};
use maud::{Markup, html};
use pictures::Meaning;
use pictures::overlay::{OneNote, Widths, legend, one_note};
use pictures::played::Point;
use pitch::Frame;
use tuning::{Hz, Naming, Secs, pitch_name};
use vibrato::{Note, Quantity};

use super::figure::{empty, figure};
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
    html! {
        h2 { "The way from the first echo to the last" }
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
            h3 { "Laid over each other, from the start of each note: cents up, seconds along" }
            div class="figures wide" {
                @for pair in comparison.pairs.iter().take(MOST_PICTURES) {
                    (overlaid(model, echo, comparison, pair, naming))
                }
            }
        }
        (table(comparison, naming))
    }
}

/// So many notes are drawn; the table has all.
const MOST_PICTURES: usize = 24;
/// Height of the picture of one note.
const HEIGHT: f32 = 210.0;

/// The pitch of a note against a reference, from its start.
fn course(frames: &[Frame], note: &Note, reference: Hz) -> Vec<Point> {
    let first = frames.partition_point(|frame| frame.time < note.start);
    let last = frames.partition_point(|frame| frame.time < note.end);
    let mut before = None;
    frames[first..last.max(first)]
        .iter()
        .map(|frame| {
            let point = Point::of(frame, before, reference);
            before = Some(frame.time);
            Point { time: Secs(frame.time.0 - note.start.0), ..point }
        })
        .collect()
}

fn overlaid(
    model: &Playing,
    echo: &Playing,
    comparison: &Comparison,
    pair: &Pair,
    naming: Naming,
) -> Markup {
    let (one, other) = (&comparison.model[pair.model], &comparison.echo[pair.echo]);
    // Both against the model's note, wherever the echo was played.
    let shift = 2f64.powf(f64::from(comparison.transposed) / 12.0);
    let of_model = course(&model.frames, one, one.reference);
    let of_echo = course(&echo.frames, other, Hz(one.reference.0 * shift));
    let widths = comparison.course(pair, Align::NoteStart);
    let last = |points: &[Point]| points.last().map_or(0.0, |point| point.time.0);
    let longest = last(&of_model).max(last(&of_echo)).max(1.0);
    let name = pitch_name(one.midi, naming);
    let shown = OneNote {
        model: Some(of_model),
        echo: Some(of_echo),
        name: Some(name.clone()),
        widths: Some(Widths {
            model: widths.iter().map(|point| (point.at, point.model.1)).collect(),
            echo: widths.iter().map(|point| (point.at, point.echo.1)).collect(),
        })
        .filter(|widths| !widths.model.is_empty()),
        sounds: false,
    };
    let mut picture = empty(HEIGHT);
    let area = picture.area;
    legend(&mut picture, area, &[(Meaning::Model, "model"), (Meaning::Echo, "echo")]);
    let at = pos2(area.right() - 2.0, area.top() + 0.73 * picture.sizes.caption);
    let number = format!("note {}, {name}", pair.model + 1);
    picture.text(Meaning::Caption, at, Align2::RIGHT_CENTER, number);
    one_note(&mut picture, area, &shown, (0.0, longest), "s");
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
                        @if let Some(words) = without(pair.motions) {
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

fn without(motions: Motions) -> Option<&'static str> {
    match motions {
        Motions::Both => None,
        Motions::Neither => Some("both straight"),
        Motions::ModelOnly => Some("the model has vibrato, the echo is straight"),
        Motions::EchoOnly => Some("the model is straight, the echo has vibrato"),
        Motions::Unknown => Some("one of them is too short or too unclear to tell"),
    }
}
