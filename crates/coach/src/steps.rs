//! What ladders and walks ask for, step by step, and what was reached.

use tuning::figure;
use vibrato::Quantity;

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
        let rates = asked.rate.map(|(low, high)| (low.get(), high.get()));
        let widths = asked.width.map(|(low, high)| (low.get(), high.get()));
        for (quantity, value, range, share) in [
            (Quantity::Rate, rate.value.get(), rates, RATE_SHARE),
            (Quantity::Width, width.value.get(), widths, WIDTH_SHARE),
        ] {
            if let Some(range) = range.filter(|range| !reaches(value, *range, share)) {
                let (size, wanted) = (quantity.size(value), quantity.range(range));
                let words = format!("{who}: {size}; the goal was {wanted}");
                let kind = FindingKind::Target;
                let nearest = value.clamp(range.0, range.1);
                let finding = Finding::new(kind, Some(number), words, quantity, value);
                found.push(finding.beside(nearest));
            }
        }
    }
    found
}

/// What a ladder lets the player hold, and what it changes; `None` for other drills.
fn held_and_changed(drill: &Drill) -> Option<(Quantity, Quantity)> {
    match drill.kind {
        Kind::WidthLadder { .. } => Some((Quantity::Rate, Quantity::Width)),
        Kind::RateLadder { .. } => Some((Quantity::Width, Quantity::Rate)),
        _ => None,
    }
}

/// How much that which was to be held moved while the other was changed, in percent of its mean.
pub fn held_moved_pct(drill: &Drill, played: &[Played]) -> Option<f64> {
    let (held, _) = held_and_changed(drill)?;
    let held = played.iter().filter_map(|turn| Some(turn.get(held)?.value));
    let held: Vec<f64> = held.collect();
    let (low, high) =
        held.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
    let mean = held.iter().sum::<f64>() / held.len() as f64;
    (held.len() >= 2 && mean > 0.0).then(|| 100.0 * (high - low) / mean)
}

/// How far the one went with the other, where the one was changed and the other to be held.
pub(crate) fn coupling(drill: &Drill, played: &[Played]) -> Option<Finding> {
    let moved = held_moved_pct(drill, played)?;
    let (held, changed) = held_and_changed(drill)?;
    let (most, measure) = match held {
        Quantity::Rate => (COUPLED_PCT, ("rate moved", "%")),
        _ => (3.0 * COUPLED_PCT, ("width moved", "%")),
    };
    let words = format!(
        "as the {} changed, the {} changed with it by {} %",
        changed.name(),
        held.name(),
        figure::number(Some(moved), 0, false)
    );
    let kind = if moved >= most { FindingKind::Coupled } else { FindingKind::Apart };
    Some(Finding::new(kind, None, words, measure, moved))
}
