//! The measures of a round: those of each turn, and of each finger against the one that moves most evenly.

use super::part::part_ui;
use super::table::{Cell, Column, Name, table_ui};
use super::{RoomContext, wording};
use coach::{Drill, Finding, FindingKind, FindingMeasure, Judged, Kind, Played, breaks_rule};
use egui::Ui;
use std::collections::BTreeMap;
use tuning::{Secs, figure, pitch_name};
use vibrato::{Measure, Quantity, Unit};

/// Bars are drawn against so many differences that matter at least, so that small ones look small...
const LEAST_BAR: f64 = 3.0;
/// ...and against so many cents where none is named that matters.
const LEAST_CENTS: f64 = 15.0;
/// A gap is drawn against this many of the longest that is let pass, or against so many seconds.
const GAP_LIMITS: f64 = 2.0;
const GAP_SECS: f64 = 0.4;

/// The least that bars of a measure are drawn against.
fn least_bar(quantity: Quantity) -> f64 {
    let row = quantity.row();
    let unnamed = if row.unit == Unit::Cents { LEAST_CENTS } else { 0.0 };
    row.matters.map_or(unnamed, |matters| LEAST_BAR * matters.least)
}

/// The column of a measure: a value and what was asked for of each turn.
fn column(
    quantity: Quantity,
    values: &[(Option<Measure<f64>>, Option<f64>)],
    least: f64,
) -> Column {
    let measured = values.iter().filter_map(|(measure, _)| Some(measure.as_ref()?.value.abs()));
    let asked = values.iter().filter_map(|(_, asked)| *asked);
    let most = (1.05 * measured.chain(asked).fold(0.0, f64::max)).max(least);
    let cells = values.iter().map(|&(measure, asked)| {
        let Some(Measure { value, se }) = measure else {
            return Cell::unknown();
        };
        let row = quantity.row();
        let share = |value: f64| (value / most) as f32;
        Cell {
            text: figure::number(Some(value), figure::decimals(se, row.decimals), row.signed),
            small: quantity.doubt(se),
            share: (most > 0.0).then(|| share(value)),
            tick: asked.filter(|_| most > 0.0).map(share),
        }
    });
    Column {
        caption: quantity.name(),
        unit: quantity.unit(),
        signed: quantity.row().signed,
        cells: cells.collect(),
    }
}

/// What is shown of each turn before all measures are asked for: of a motion, and of a straight note.
const FIRST: [Quantity; 2] = [Quantity::Rate, Quantity::Width];
const FIRST_STRAIGHT: [Quantity; 3] = [Quantity::Centre, Quantity::Drift, Quantity::Unsteadiness];

/// The measures of each turn: all of them, or those that matter most, with what to know of each.
pub(super) fn turns_ui(
    ui: &mut Ui,
    drill: &Drill,
    round: &Judged,
    all: bool,
    context: &RoomContext,
) {
    let may_gap = wording::may_gap(drill, context.room.fingers());
    let limit = |turn: &Played| turn.gap_limit(drill, &round.asked).filter(|_| may_gap);
    let longest = round.turns.iter().filter_map(limit).map(Secs::get).reduce(f64::max);
    let gap_bar = longest.map_or(GAP_SECS, |limit| GAP_LIMITS * limit);
    let only = |band: Option<(f64, f64)>| band.filter(|(low, high)| low == high).map(|band| band.0);
    let asked = |turn: &Played, quantity: Quantity| {
        let asked = &round.asked[turn.asked];
        match quantity {
            Quantity::Rate => only(asked.rate.map(|(low, high)| (low.0, high.0))),
            Quantity::Width => only(asked.width.map(|(low, high)| (low.0, high.0))),
            Quantity::Gap => turn.gap.and(limit(turn)).map(Secs::get),
            _ => None,
        }
    };
    let made = Column {
        caption: "made",
        unit: "of asked",
        signed: false,
        cells: round.turns.iter().map(|t| made(t, round.asked[t.asked].count)).collect(),
    };
    let straight = matches!(drill.kind, Kind::Straight { .. });
    let first = if straight { &FIRST_STRAIGHT[..] } else { &FIRST };
    let shown = Quantity::of_turns().filter(|quantity| all || first.contains(quantity));
    let measured = shown.map(|quantity| {
        // A stop that is asked for is no gap.
        let is_asked_for = quantity == Quantity::Gap && drill.stops();
        let of = |turn: &Played| turn.get(quantity).filter(|_| !is_asked_for);
        let values: Vec<_> =
            round.turns.iter().map(|turn| (of(turn), asked(turn, quantity))).collect();
        let least = if quantity == Quantity::Gap { gap_bar } else { least_bar(quantity) };
        column(quantity, &values, least)
    });
    let mut columns: Vec<Column> = std::iter::once(made).chain(measured).collect();
    // What nobody has is not shown.
    columns.retain(|column| column.cells.iter().any(|cell| cell.is_known()));
    if all {
        part_ui(
            ui,
            "Note by note; the gap is the one after it. A stroke on a bar is what was asked for, or the longest gap let pass.",
            context,
        );
    } else {
        let know = (0..round.turns.len())
            .map(|number| Cell { text: to_know(drill, round, number), ..Cell::default() });
        let cells = know.collect();
        // To read, and not to compare: without bars all rows have room.
        for cell in columns.iter_mut().flat_map(|column| &mut column.cells) {
            (cell.share, cell.tick) = (None, None);
        }
        columns.push(Column { caption: "what to know", unit: "", signed: false, cells });
    }
    table_ui(ui, "note", &names(round, context), &columns, context.theme);
}

/// What is found of a turn, in a word or two each.
fn to_know(drill: &Drill, round: &Judged, number: usize) -> String {
    let of = round.findings.iter().filter(|finding| finding.turn == Some(number));
    let words: Vec<String> = of.filter_map(in_short).collect();
    let whole =
        || round.findings.iter().any(|found| found.turn.is_none() && breaks_rule(drill, found));
    match words.is_empty() {
        // What holds the whole round back holds each of its notes back.
        true if whole() => String::new(),
        true => "secure".to_owned(),
        false => words.join(", "),
    }
}

fn in_short(finding: &Finding) -> Option<String> {
    let size = || match finding.measure {
        FindingMeasure::Quantity(quantity) => quantity.size(finding.value.abs()),
        FindingMeasure::Other(..) => String::new(),
    };
    Some(match finding.kind {
        FindingKind::Count => "miscounted".to_owned(),
        FindingKind::Gap => "stops after it".to_owned(),
        FindingKind::WrongNote => "another note".to_owned(),
        FindingKind::Hurrying => "hurries".to_owned(),
        FindingKind::Dragging => "drags".to_owned(),
        FindingKind::Sharp => format!("{} sharp", size()),
        FindingKind::Flat => format!("{} flat", size()),
        FindingKind::FlatStart => "starts low".to_owned(),
        FindingKind::Jerk => "less even".to_owned(),
        FindingKind::Target => "goal not reached".to_owned(),
        FindingKind::Bloom => "leaves the line".to_owned(),
        FindingKind::Unsteady => "not still and in tune".to_owned(),
        FindingKind::Lost => "a little sound was lost".to_owned(),
        _ => return None,
    })
}

fn made(turn: &Played, asked: Option<u32>) -> Cell {
    let Some(asked) = asked else {
        return Cell::default();
    };
    let most = asked.max(turn.made).max(1) as f32;
    Cell {
        text: format!("{} / {asked}", turn.made),
        small: String::new(),
        share: Some(turn.made as f32 / most),
        tick: Some(asked as f32 / most),
    }
}

fn names(round: &Judged, context: &RoomContext) -> Vec<Name> {
    let naming = context.shell.naming();
    let drill = context.room.drill();
    round
        .turns
        .iter()
        .map(|turn| {
            let asked = &round.asked[turn.asked];
            let step = drill.map_or_else(String::new, |drill| wording::step(drill, asked));
            let note = pitch_name(asked.midi, naming);
            let small = if step.is_empty()
                || matches!(
                    drill.map(|d| &d.kind),
                    Some(Kind::Straight { .. } | Kind::Bloom { .. })
                ) {
                note
            } else {
                step
            };
            (wording::sign(asked.finger), small)
        })
        .collect()
}

/// The rate and width of a finger are drawn against this share of the best finger's at least.
const BASE_SHARE: f64 = 0.25;

/// Each finger against the one that moves most evenly.
pub(super) fn against_best_ui(ui: &mut Ui, round: &Judged, context: &RoomContext) {
    let mut fingers: BTreeMap<u8, Vec<&Played>> = BTreeMap::new();
    for turn in &round.turns {
        fingers.entry(round.asked[turn.asked].finger).or_default().push(turn);
    }
    let mean = |finger: &u8, quantity: Quantity| {
        Measure::mean(fingers[finger].iter().filter_map(|turn| turn.get(quantity)))
    };
    let spread = |finger: &u8| Some((*finger, mean(finger, Quantity::RateSpread)?.value));
    let best = fingers.keys().filter_map(spread).min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((best, _)) = best.filter(|_| fingers.len() > 1) else {
        return;
    };
    let others: Vec<u8> = fingers.keys().copied().filter(|finger| *finger != best).collect();
    // A gap lies between two fingers and is neither's.
    let compared = Quantity::compared()
        .filter(|quantity| quantity.row().of_turns && *quantity != Quantity::Gap);
    let columns: Vec<Column> = compared
        .map(|quantity| {
            let base = mean(&best, quantity);
            let away = |finger: &u8| Some(mean(finger, quantity)?.value - base?.value);
            let away: Vec<Option<f64>> = others.iter().map(away).collect();
            let of_base = base.map_or(0.0, |base| BASE_SHARE * base.value.abs());
            let least = match quantity {
                Quantity::Rate | Quantity::Width => of_base,
                _ => least_bar(quantity),
            };
            let most = away.iter().flatten().fold(least, |most, away| most.max(away.abs()));
            let cell = |away: Option<f64>| match away {
                Some(away) => Cell {
                    text: figure::signed(away, quantity.row().decimals),
                    share: (most > 0.0).then_some((away / most) as f32),
                    ..Cell::default()
                },
                None => Cell::unknown(),
            };
            let unit = match quantity.row().unit {
                Unit::Percent => "points",
                unit => unit.word(),
            };
            let cells = away.into_iter().map(cell).collect();
            Column { caption: quantity.name(), unit, signed: true, cells }
        })
        .collect();
    let said =
        format!("Against {}, the one of this round that moves most evenly.", wording::finger(best));
    part_ui(ui, &said, context);
    let names: Vec<Name> =
        others.iter().map(|finger| (wording::sign(*finger), String::new())).collect();
    let called = format!("against {}, finger", wording::finger(best));
    table_ui(ui, &called, &names, &columns, context.theme);
}
