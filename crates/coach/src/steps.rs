//! What ladders and walks ask for, step by step, and what was reached.

use tuning::{Cents, Hz};

use crate::drill::{Asked, Drill, Kind};
use crate::finding::{Finding, FindingKind, named};
use crate::turns::Played;

/// A step of a ladder is reached within these shares of what is asked.
const RATE_SHARE: f64 = 0.1;
const WIDTH_SHARE: f64 = 0.25;
/// What is to be held has moved with the other from this on, in percent of its mean.
const COUPLED_PCT: f64 = 8.0;

/// Whether a value lies within what is asked, give or take a share where one value is asked.
fn reaches(value: f64, (low, high): (f64, f64), share: f64) -> bool {
    let slack = if low == high { share * low } else { 0.0 };
    (low - slack..=high + slack).contains(&value)
}

/// Steps and regions that were not reached.
pub(crate) fn targets(asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let mut found = Vec::new();
    for (number, turn) in played.iter().enumerate() {
        let who = named(turn.asked, asked);
        let asked = &asked[turn.asked];
        let (Some(rate), Some(width)) = (turn.rate, turn.width) else {
            continue;
        };
        let (rate, width) = (rate.value.get(), width.value.get());
        let hz = |(low, high): (Hz, Hz)| (low.get(), high.get());
        let cents = |(low, high): (Cents, Cents)| (low.get(), high.get());
        let wanted = |(low, high): (f64, f64), decimals: usize| {
            if low == high {
                format!("{low:.decimals$}")
            } else {
                format!("{low:.decimals$} to {high:.decimals$}")
            }
        };
        if let Some(range) = asked.rate.map(hz).filter(|range| !reaches(rate, *range, RATE_SHARE)) {
            found.push(Finding {
                kind: FindingKind::Target,
                turn: Some(number),
                words: format!("{who}: {rate:.1} Hz where {} Hz are asked", wanted(range, 1)),
                measure: "rate",
                value: rate,
                unit: "Hz",
            });
        }
        let range = asked.width.map(cents);
        if let Some(range) = range.filter(|range| !reaches(width, *range, WIDTH_SHARE)) {
            found.push(Finding {
                kind: FindingKind::Target,
                turn: Some(number),
                words: format!(
                    "{who}: {width:.0} cents where {} cents are asked",
                    wanted(range, 0)
                ),
                measure: "width",
                value: width,
                unit: "cents",
            });
        }
    }
    found
}

/// How much that which was to be held moved while the other was changed, in percent of its mean.
pub fn held_moved_pct(drill: &Drill, played: &[Played]) -> Option<f64> {
    let held: Vec<f64> = match drill.kind {
        Kind::WidthLadder { .. } => {
            played.iter().filter_map(|turn| Some(turn.rate?.value.get())).collect()
        }
        Kind::RateLadder { .. } => {
            played.iter().filter_map(|turn| Some(turn.width?.value.get())).collect()
        }
        _ => return None,
    };
    let (low, high) =
        held.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
    let mean = held.iter().sum::<f64>() / held.len() as f64;
    (held.len() >= 2 && mean > 0.0).then(|| 100.0 * (high - low) / mean)
}

/// How far the one went with the other, where the one was changed and the other to be held.
pub(crate) fn coupling(drill: &Drill, played: &[Played]) -> Option<Finding> {
    let moved = held_moved_pct(drill, played)?;
    let (held, changed, most) = match drill.kind {
        Kind::WidthLadder { .. } => ("rate", "width", COUPLED_PCT),
        _ => ("width", "rate", 3.0 * COUPLED_PCT),
    };
    Some(Finding {
        kind: if moved >= most { FindingKind::Coupled } else { FindingKind::Apart },
        turn: None,
        words: format!(
            "while the {changed} was changed, the {held}, which was to be held, moved by {moved:.0} %"
        ),
        measure: if held == "rate" { "rate moved" } else { "width moved" },
        value: moved,
        unit: "%",
    })
}
