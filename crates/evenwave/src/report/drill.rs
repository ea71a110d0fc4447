//! The report of a drill's rounds.

use coach::{Asked, Drill, Judged, Played};
use maud::{Markup, html};
use pictures::bars::Bar;
use pictures::reached::Reached;
use tuning::figure::number;
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Quantity};

use super::figure::{barred, empty, figure};
use super::measures::head;
use super::page::{Page, isolated};
use super::playing::Playing;
use super::take::{FIELD, traces};
use crate::formats::pace_said;

/// The page.
pub fn drill_page(drill: &Drill, rounds: &[Judged], playing: &Playing, naming: Naming) -> Page {
    let mut about = playing.about();
    about.retain(|(name, _)| !matches!(name.as_str(), "drill" | "pace"));
    if let Some(round) = rounds.first() {
        about.push(("pace".to_owned(), pace_said(drill, round.pace)));
    }
    let player = playing.take.as_ref().map(|take| take.player.as_str());
    let title = match player.filter(|player| !player.is_empty()) {
        Some(player) => format!("{}: {}", isolated(player), drill.title),
        None => drill.title.clone(),
    };
    let body = html! {
        p { (drill.about) }
        @for words in &playing.remarks { p class="verdict" { (words) } }
        @for (number, round) in rounds.iter().enumerate() {
            h2 { @if rounds.len() > 1 { "Round " (number + 1) } @else { "The round" } }
            (one_round(drill, round, naming))
        }
        (traces(playing, naming, &sections(rounds)))
    };
    Page { title, about, body }
}

fn finger(finger: u8) -> String {
    match finger {
        0 => "thumb".to_owned(),
        finger => format!("finger {finger}"),
    }
}

/// Where the turns begin.
fn sections(rounds: &[Judged]) -> Vec<(Secs, String)> {
    let turns = rounds.iter().flat_map(|round| round.turns.iter().map(move |turn| (round, turn)));
    turns.map(|(round, turn)| (turn.start, finger(round.asked[turn.asked].finger))).collect()
}

/// Tells which band of a measure was asked for.
type Wanted<'a> = &'a dyn Fn(&Asked) -> Option<(f64, f64)>;

fn one_round(drill: &Drill, round: &Judged, naming: Naming) -> Markup {
    let turns: Vec<(&Played, &Asked)> =
        round.turns.iter().map(|turn| (turn, &round.asked[turn.asked])).collect();
    let bars = |value: &dyn Fn(&Played) -> Option<Measure<f64>>, asked: Wanted<'_>| {
        let bars = turns.iter().map(|(turn, wanted)| Bar {
            name: format!("{}. {}", turn.asked + 1, finger(wanted.finger)),
            value: value(turn).map(|measure| (measure.value, measure.se)),
            said: String::new(),
            asked: asked(wanted),
        });
        bars.collect::<Vec<Bar>>()
    };
    let of = |quantity: Quantity, asked: Wanted<'_>| bars(&|turn| turn.get(quantity), asked);
    let made = |turn: &Played| Some(Measure { value: f64::from(turn.made), se: None });
    let counts =
        bars(&made, &|asked| asked.count.map(|count| (f64::from(count), f64::from(count))));
    let rates = of(Quantity::Rate, &|asked| asked.rate.map(|(low, high)| (low.0, high.0)));
    let widths = of(Quantity::Width, &|asked| asked.width.map(|(low, high)| (low.0, high.0)));
    let spreads = of(Quantity::RateSpread, &|_| None);
    let mut gaps = of(Quantity::Gap, &|_| None);
    gaps.pop();
    let reached = Reached::of(drill, round);
    let wanted = "The bracket is what was asked for; the line on a bar is its doubt.";
    html! {
        p class="verdict" {
            @if round.holds { "Secure." }
            @else { "Not secure yet." }
        }
        @if !round.findings.is_empty() {
            ul { @for finding in &round.findings { li { (finding.words) } } }
        }
        div class="figures" {
            (barred("oscillations", "", 0, counts, wanted))
            @if rates.iter().any(|bar| bar.value.is_some()) {
                (barred("rate", "Hz", 2, rates, wanted))
                (barred("width", "cents", 0, widths, wanted))
                (barred("rate spread", "%", 0, spreads, "How uneven the beat was; 0 is even."))
            }
            @if gaps.iter().any(|bar| bar.value.is_some()) {
                (barred("gap after it", "s", 2, gaps, "Time without motion at the change to the next finger."))
            }
            @if reached.turns.len() > 1 { (plane(&reached)) }
        }
        (table(&turns, naming))
    }
}

/// The plane of rate and width, as it stands in the window too.
fn plane(reached: &Reached) -> Markup {
    let mut picture = empty(FIELD);
    let area = picture.area;
    reached.draw(&mut picture, area);
    picture.says.clone_from(&reached.says);
    let outlined = if reached.asked.is_empty() { "" } else { " What was asked for is outlined." };
    let said = format!(
        "Each turn by its rate and width, numbered as played; the ellipse is its doubt.{outlined}"
    );
    figure("Rate and width", &picture, &said)
}

fn table(turns: &[(&Played, &Asked)], naming: Naming) -> Markup {
    // What no turn has is not shown.
    let has = |quantity: &Quantity| turns.iter().any(|(turn, _)| turn.get(*quantity).is_some());
    let shown: Vec<Quantity> = Quantity::of_turns().filter(has).collect();
    let said = |turn: &Played, quantity: Quantity| match turn.get(quantity) {
        // After the last turn there is none.
        None if quantity == Quantity::Gap => String::new(),
        measure => quantity.figure(measure),
    };
    html! {
        table {
            caption { "All turns, with the doubt of each measure" }
            thead {
                tr {
                    th scope="col" { "turn" }
                    th scope="col" { "note" }
                    th scope="col" { "start" small { "s" } }
                    th scope="col" { "asked" }
                    th scope="col" { "made" }
                    @for &quantity in &shown { (head(quantity)) }
                }
            }
            tbody {
                @for (turn, asked) in turns {
                    tr {
                        th scope="row" data-label="turn" { (turn.asked + 1) ". " (finger(asked.finger)) }
                        td data-label="note" { (pitch_name(asked.midi, naming)) }
                        td data-label="start, s" { (number(Some(turn.start.0), 2, false)) }
                        td data-label="asked" { @if let Some(count) = asked.count { (count) } @else { "−" } }
                        td data-label="made" { @if asked.count.is_some() { (turn.made) } @else { "−" } }
                        @for &quantity in &shown {
                            td data-label=(quantity.headed()) { (said(turn, quantity)) }
                        }
                    }
                }
            }
        }
    }
}
