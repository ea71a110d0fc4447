//! The measures of a round: those of each turn, and of each finger against the one that moves most evenly.

use super::findings::part_ui;
use super::table::{Cell, Column, Name, table_ui};
use super::{Sight, said};
use coach::{Drill, Judged, Kind, Played};
use egui::Ui;
use std::collections::BTreeMap;
use tuning::{Cents, Hz, Secs, figure, pitch_name};
use vibrato::Measure;

/// Bars are drawn against so much at least: small differences look small. In cents, and in percent for
/// spreads and for what is out of round.
const LEAST_CENTS: f64 = 15.0;
const LEAST_SPREAD: f64 = 15.0;
const LEAST_SMOOTHNESS: f64 = 8.0;
/// A value and its standard error.
type Value = (f64, Option<f64>);

/// How a measure becomes a column.
struct Of<'a> {
    caption: &'static str,
    unit: &'static str,
    decimals: usize,
    signed: bool,
    /// Its bars are drawn against so much at least.
    least: f64,
    value: &'a dyn Fn(&Played) -> Option<Value>,
    /// What is asked for.
    asked: &'a dyn Fn(&Played) -> Option<f64>,
}

impl Of<'_> {
    fn column(&self, turns: &[Played]) -> Column {
        let values: Vec<_> = turns.iter().map(|turn| (self.value)(turn)).collect();
        let asked: Vec<_> = turns.iter().map(|turn| (self.asked)(turn)).collect();
        let all = values.iter().flatten().map(|value| value.0.abs());
        let most = all.chain(asked.iter().flatten().copied()).fold(0.0, f64::max);
        let most = (1.05 * most).max(self.least);
        let cells = values
            .into_iter()
            .zip(asked)
            .map(|(value, asked)| {
                let Some((value, se)) = value else {
                    return Cell { text: "–".to_owned(), ..Cell::default() };
                };
                let decimals = figure::decimals(se, self.decimals);
                let text = figure::number(Some(value), decimals, self.signed);
                let share = |value: f64| (value / most) as f32;
                Cell {
                    text,
                    small: se.map_or_else(String::new, |se| figure::doubt(Some(se), self.decimals)),
                    share: (most > 0.0).then(|| share(value)),
                    tick: asked.filter(|_| most > 0.0).map(share),
                }
            })
            .collect();
        Column { caption: self.caption, unit: self.unit, signed: self.signed, cells }
    }
}

fn of<T: Copy>(measure: Option<Measure<T>>, bare: fn(T) -> f64) -> Option<Value> {
    measure.map(|measure| (bare(measure.value), measure.se.map(bare)))
}

fn itself(value: f64) -> f64 {
    value
}

/// The measures of each turn.
pub fn turns_ui(ui: &mut Ui, drill: &Drill, round: &Judged, sight: &Sight) {
    let asked_of = |turn: &Played| &round.asked[turn.asked];
    let none = |_: &Played| None;
    let limit = drill.rules.gap_below.filter(|_| said::may_gap(drill, sight.room.fingers()));
    let rate_asked = |turn: &Played| {
        let (low, high) = asked_of(turn).rate?;
        (low == high).then_some(low.0)
    };
    let width_asked = |turn: &Played| {
        let (low, high) = asked_of(turn).width?;
        (low == high).then_some(low.0)
    };
    let gap_asked = |turn: &Played| turn.gap.and(limit).map(|gap| gap.0);
    let made = Column {
        caption: "made",
        unit: "of asked",
        signed: false,
        cells: round.turns.iter().map(|turn| made(turn, asked_of(turn).count)).collect(),
    };
    // A stop that is asked for is no gap.
    let stops = drill.stops();
    let gap_of = |turn: &Played| of(turn.gap.filter(|_| !stops), Secs::get);
    let unsteady = |turn: &Played| turn.unsteadiness.map(|cents| (cents.0, None));
    let all = [
        Of {
            caption: "rate",
            unit: "Hz",
            decimals: 2,
            signed: false,
            least: 0.0,
            value: &|turn| of(turn.rate, Hz::get),
            asked: &rate_asked,
        },
        Of {
            caption: "width",
            unit: "cents",
            decimals: 0,
            signed: false,
            least: 0.0,
            value: &|turn| of(turn.width, Cents::get),
            asked: &width_asked,
        },
        Of {
            caption: "rate spread",
            unit: "%",
            decimals: 0,
            signed: false,
            least: LEAST_SPREAD,
            value: &|turn| of(turn.rate_spread_pct, itself),
            asked: &none,
        },
        Of {
            caption: "width spread",
            unit: "%",
            decimals: 0,
            signed: false,
            least: LEAST_SPREAD,
            value: &|turn| of(turn.width_spread_pct, itself),
            asked: &none,
        },
        Of {
            caption: "out of round",
            unit: "%",
            decimals: 0,
            signed: false,
            least: LEAST_SMOOTHNESS,
            value: &|turn| of(turn.smoothness_pct, itself),
            asked: &none,
        },
        Of {
            caption: "centre",
            unit: "cents",
            decimals: 0,
            signed: true,
            least: LEAST_CENTS,
            value: &|turn| of(turn.centre, Cents::get),
            asked: &none,
        },
        Of {
            caption: "drift",
            unit: "cents",
            decimals: 0,
            signed: true,
            least: LEAST_CENTS,
            value: &|turn| of(turn.drift, Cents::get),
            asked: &none,
        },
        Of {
            caption: "wavers",
            unit: "cents",
            decimals: 1,
            signed: false,
            least: LEAST_SMOOTHNESS,
            value: &unsteady,
            asked: &none,
        },
        Of {
            caption: "gap after it",
            unit: "s",
            decimals: 2,
            signed: false,
            least: 2.0 * limit.map_or(0.2, |limit| limit.0),
            value: &gap_of,
            asked: &gap_asked,
        },
    ];
    let mut columns = vec![made];
    columns.extend(all.iter().map(|of| of.column(&round.turns)));
    // What nobody has is not shown.
    columns
        .retain(|column| column.cells.iter().any(|cell| cell.text != "–" && !cell.text.is_empty()));
    part_ui(
        ui,
        "Turn by turn. A stroke on a bar is what was asked for, or the longest gap let pass.",
        sight,
    );
    table_ui(ui, "turn", &names(round, sight), &columns, sight.theme);
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

fn names(round: &Judged, sight: &Sight) -> Vec<Name> {
    let naming = sight.stand.naming();
    let drill = sight.room.drill();
    round
        .turns
        .iter()
        .map(|turn| {
            let asked = &round.asked[turn.asked];
            let step = drill.map_or_else(String::new, |drill| said::step(drill, asked));
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
            (said::sign(asked.finger), small)
        })
        .collect()
}

/// Means of a finger's turns.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    sum: f64,
    count: f64,
}

impl Mean {
    fn add(&mut self, value: Option<f64>) {
        if let Some(value) = value {
            (self.sum, self.count) = (self.sum + value, self.count + 1.0);
        }
    }

    fn get(self) -> Option<f64> {
        (self.count > 0.0).then(|| self.sum / self.count)
    }
}

/// Measures of a finger that are compared, with caption, unit, decimals, and the least its bars are drawn
/// against; rate and width against a share of the best finger's.
const COMPARED: [(&str, &str, usize, f64); 6] = [
    ("rate", "Hz", 1, 0.0),
    ("width", "cents", 0, 0.0),
    ("rate spread", "points", 0, LEAST_SPREAD),
    ("width spread", "points", 0, LEAST_SPREAD),
    ("out of round", "points", 0, LEAST_SMOOTHNESS),
    ("centre", "cents", 0, LEAST_CENTS),
];
const BASE_SHARE: f64 = 0.25;

/// Each finger against the one that moves most evenly.
pub fn against_best_ui(ui: &mut Ui, round: &Judged, sight: &Sight) {
    let mut fingers: BTreeMap<u8, [Mean; 6]> = BTreeMap::new();
    for turn in &round.turns {
        let means = fingers.entry(round.asked[turn.asked].finger).or_default();
        let values = [
            turn.rate.map(|m| m.value.0),
            turn.width.map(|m| m.value.0),
            turn.rate_spread_pct.map(|m| m.value),
            turn.width_spread_pct.map(|m| m.value),
            turn.smoothness_pct.map(|m| m.value),
            turn.centre.map(|m| m.value.0),
        ];
        for (mean, value) in means.iter_mut().zip(values) {
            mean.add(value);
        }
    }
    let best = fingers
        .iter()
        .filter_map(|(finger, means)| Some((*finger, means[2].get()?)))
        .min_by(|a, b| a.1.total_cmp(&b.1));
    let Some((best, _)) = best.filter(|_| fingers.len() > 1) else {
        return;
    };
    let base = fingers[&best].map(Mean::get);
    let others: Vec<(u8, [Mean; 6])> = fingers.into_iter().filter(|(f, _)| *f != best).collect();
    let columns: Vec<Column> = COMPARED
        .iter()
        .enumerate()
        .map(|(place, (caption, unit, decimals, least))| {
            let away: Vec<Option<f64>> =
                others.iter().map(|(_, means)| Some(means[place].get()? - base[place]?)).collect();
            let most = away.iter().flatten().fold(0.0_f64, |m, v| m.max(v.abs()));
            let of_base = base[place].map_or(0.0, |base| BASE_SHARE * base.abs());
            let least = if *least > 0.0 { *least } else { of_base };
            let most = most.max(least).max(1e-3);
            let cells = away.into_iter().map(|away| match away {
                Some(away) => Cell {
                    text: figure::signed(away, *decimals),
                    share: Some((away / most) as f32),
                    ..Cell::default()
                },
                None => Cell { text: "–".to_owned(), ..Cell::default() },
            });
            Column { caption, unit, signed: true, cells: cells.collect() }
        })
        .collect();
    let said =
        format!("Against {}, the one of this round that moves most evenly.", said::finger(best));
    part_ui(ui, &said, sight);
    let names: Vec<Name> =
        others.iter().map(|(finger, _)| (said::sign(*finger), String::new())).collect();
    let called = format!("against {}, finger", said::finger(best));
    table_ui(ui, &called, &names, &columns, sight.theme);
}
