//! The report of a drill's rounds.

use coach::{Asked, Drill, Finding, FindingKind, Judged, Played, breaks_rule};
use maud::{Markup, html};
use pictures::bars::Bar;
use pictures::reached::Reached;
use tuning::figure::{number, sentence as sentence_of};
use tuning::{Naming, Secs, pitch_name};
use vibrato::{Measure, Quantity};

use super::figure::{barred, empty, figure};
use super::measures::head;
use super::page::{Page, details};
use super::playing::Playing;
use super::take::{FIELD, finger, traces};
use crate::formats::pace_said;

/// The page.
pub fn drill_page(drill: &Drill, rounds: &[Judged], playing: &Playing, naming: Naming) -> Page {
    let mut about = playing.about();
    about.retain(|(name, _)| !matches!(name.as_str(), "drill" | "pace"));
    about.push(("drill".to_owned(), drill.about.clone()));
    if let Some(round) = rounds.first() {
        about.push(("pace".to_owned(), pace_said(drill, round.pace)));
    }
    let title = match &playing.take {
        Some(_) => format!("{} · {}", drill.title, playing.called()),
        None => format!("{} · recording {}", drill.title, playing.name),
    };
    let secure = rounds.iter().filter(|round| round.holds).count();
    let sentence = match rounds {
        [round] if round.holds => "Secure.".to_owned(),
        [_] => "Not secure yet.".to_owned(),
        _ => format!("{secure} of {} rounds secure.", rounds.len()),
    };
    let last = rounds.last();
    let found = |wanted: &dyn Fn(&Finding) -> bool| {
        let found = last.into_iter().flat_map(|round| &round.findings);
        found.filter(|one| wanted(one)).map(|one| sentence_of(&one.words)).collect::<Vec<_>>()
    };
    let broken = found(&|one| breaks_rule(drill, one));
    let to_try = found(&|one| one.kind == FindingKind::Try).into_iter().next();
    let to_try = to_try.map(|words| format!("To try: {words}"));
    let lead = playing.remarks.iter().map(|words| sentence_of(words)).chain(broken).collect();
    let body = html! {
        (traces(playing, naming, &sections(rounds)))
        @for (number, round) in rounds.iter().enumerate() {
            @if rounds.len() > 1 {
                h2 { "Round " (number + 1) ": " @if round.holds { "secure" } @else { "not secure yet" } }
            }
            (one_round(drill, round, naming, number + 1 == rounds.len()))
        }
    };
    let damaged = playing.damaged.clone().into_iter().collect();
    Page { title, sentence, lead, to_try, about, body, damaged }
}

/// Where the turns begin.
fn sections(rounds: &[Judged]) -> Vec<(Secs, String)> {
    let turns = rounds.iter().flat_map(|round| round.turns.iter().map(move |turn| (round, turn)));
    turns.map(|(round, turn)| (turn.start, finger(round.asked[turn.asked].finger))).collect()
}

/// Tells which band of a measure was asked for.
type Wanted<'a> = &'a dyn Fn(&Asked) -> Option<(f64, f64)>;

fn one_round(drill: &Drill, round: &Judged, naming: Naming, last: bool) -> Markup {
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
    // What stands at the top of the page of the last round is not said again.
    let rest = round
        .findings
        .iter()
        .filter(|one| !(last && (breaks_rule(drill, one) || one.kind == FindingKind::Try)));
    let rest: Vec<String> = rest.map(|one| sentence_of(&one.words)).collect();
    html! {
        div class="figures small" {
            (barred("oscillations", "", 0, counts, ""))
            @if rates.iter().any(|bar| bar.value.is_some()) {
                (barred("rate", "Hz", 2, rates, ""))
                (barred("width", "cents", 0, widths, ""))
                (barred("rate spread", "%", 0, spreads, ""))
            }
            @if gaps.iter().any(|bar| bar.value.is_some()) {
                (barred("gap after it", "s", 2, gaps, ""))
            }
        }
        p class="note" {
            "Bracket: asked for; line on a bar: its margin. Gap: time without motion at the change to the next finger."
        }
        @if !rest.is_empty() { ul { @for words in &rest { li { (words) } } } }
        (details("All measures", turns.len(), &table(&turns, naming)))
        @if reached.turns.len() > 1 {
            (details("Rate and width", usize::MAX, &html! { div class="figures" { (plane(&reached)) } }))
        }
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
        "Each note by its rate and width, numbered as played; the ellipse is its margin.{outlined}"
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
            caption { "All notes, with the margin (±) of each measure" }
            thead {
                tr {
                    th scope="col" { "finger" }
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
                        th scope="row" data-label="finger" { (turn.asked + 1) ". " (finger(asked.finger)) }
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
