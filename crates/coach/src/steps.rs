//! What ladders and walks ask for, step by step, and what was reached.

use tuning::figure;
use vibrato::{Measure, Quantity};

use crate::drill::{Asked, Drill, Kind};
use crate::finding::{Finding, FindingKind, named};
use crate::told::beyond_doubt;
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

/// Steps and regions that were missed beyond doubt.
pub(crate) fn targets(asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let mut found = Vec::new();
    // The rate and the width of each turn.
    let looked_at = 2 * played.len();
    for (number, turn) in played.iter().enumerate() {
        let who = named(turn.asked, asked);
        let asked = &asked[turn.asked];
        let (Some(rate), Some(width)) = (turn.rate, turn.width) else {
            continue;
        };
        let rates = asked.rate.map(|(low, high)| (low.get(), high.get()));
        let widths = asked.width.map(|(low, high)| (low.get(), high.get()));
        for (quantity, measure, range, share) in [
            (Quantity::Rate, rate.bare(), rates, RATE_SHARE),
            (Quantity::Width, width.bare(), widths, WIDTH_SHARE),
        ] {
            let Measure { value, se } = measure;
            let missed = |&(low, high): &(f64, f64)| {
                let beside = Measure { value: value - value.clamp(low, high), se };
                !reaches(value, (low, high), share) && beyond_doubt(beside, looked_at)
            };
            if let Some(range) = range.filter(missed) {
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

/// How much that which was to be held moved while the other was changed, in percent of its mean: from its lowest turn to
/// its highest.
pub fn held_moved_pct(drill: &Drill, played: &[Played]) -> Option<f64> {
    held_moved(drill, played).map(|(moved, _)| moved.value)
}

/// The same with its doubt, and of how many pairs of turns it is the largest.
fn held_moved(drill: &Drill, played: &[Played]) -> Option<(Measure<f64>, usize)> {
    let (held, _) = held_and_changed(drill)?;
    let held: Vec<Measure<f64>> = played.iter().filter_map(|turn| turn.get(held)).collect();
    let low = held.iter().min_by(|a, b| a.value.total_cmp(&b.value))?;
    let high = held.iter().max_by(|a, b| a.value.total_cmp(&b.value))?;
    let mean = held.iter().map(|of| of.value).sum::<f64>() / held.len() as f64;
    let pct = |of: f64| 100.0 * of / mean;
    let apart = high.above(*low);
    let moved = Measure { value: pct(apart.value), se: apart.se.map(pct) };
    (held.len() >= 2 && mean > 0.0).then_some((moved, held.len() * (held.len() - 1) / 2))
}

/// How far the one went with the other, where the one was changed and the other to be held.
pub(crate) fn coupling(drill: &Drill, played: &[Played]) -> Option<Finding> {
    let (apart, pairs) = held_moved(drill, played)?;
    let moved = apart.value;
    let (held, changed) = held_and_changed(drill)?;
    let (most, measure) = match held {
        Quantity::Rate => (COUPLED_PCT, ("rate moved", "%")),
        _ => (3.0 * COUPLED_PCT, ("width moved", "%")),
    };
    let told = moved >= most && beyond_doubt(apart, pairs);
    let moved_pct = figure::number(Some(moved), 0, false);
    let (changed, held) = (changed.name(), held.name());
    let words = match told {
        true => format!("as the {changed} changed, the {held} changed with it by {moved_pct} %"),
        false if moved < most => {
            format!("as the {changed} changed, the {held} stayed, within {moved_pct} %")
        }
        false => {
            format!("as the {changed} changed, it is too close to tell whether the {held} stayed")
        }
    };
    let kind = if told { FindingKind::Coupled } else { FindingKind::Apart };
    Some(Finding::new(kind, None, words, measure, moved))
}

#[cfg(test)]
mod tests {
    use tuning::{Cents, Hz, Secs};

    use super::*;

    #[test]
    fn a_step_is_missed_and_what_is_held_has_moved_only_beyond_doubt() {
        let drill = Drill::from_ron(
            include_str!("../../../assets/drills/rate-ladder.ron"),
            "rate-ladder",
            "",
        )
        .expect("shipped");
        let asked = drill.turns(drill.place(None).expect("a place"));
        let found = |rates: [f64; 4], widths: [f64; 4], se: f64| {
            let played =
                rates.iter().zip(widths).enumerate().map(|(number, (rate, width))| Played {
                    rate: Some(Measure { value: Hz(*rate), se: Some(Hz(se)) }),
                    width: Some(Measure { value: Cents(width), se: Some(Cents(10.0 * se)) }),
                    ..Played::unmeasured(number, Secs(0.0), Secs(2.0))
                });
            let played: Vec<Played> = played.collect();
            let missed = targets(&asked, &played).into_iter().map(|found| found.words).collect();
            (missed, coupling(&drill, &played).map(|found| (found.kind, found.words)))
        };
        let held = [30.0; 4];
        let (missed, said): (Vec<String>, _) = found([3.0, 4.0, 4.3, 6.0], held, 0.05);
        assert_eq!(missed, ["note 3: 4.3 Hz; the goal was 5.0 Hz"]);
        let stayed = "as the rate changed, the width stayed, within 0 %";
        assert_eq!(said, Some((FindingKind::Apart, stayed.to_owned())));
        assert!(found([3.0, 4.0, 4.3, 6.0], held, 0.4).0.is_empty(), "nobody can tell");
        let fell = [36.0, 34.0, 30.0, 26.0];
        let went_along = "as the rate changed, the width changed with it by 32 %";
        let said = found([3.0, 4.0, 5.0, 6.0], fell, 0.05).1;
        assert_eq!(said, Some((FindingKind::Coupled, went_along.to_owned())));
        let unsure = "as the rate changed, it is too close to tell whether the width stayed";
        let said = found([3.0, 4.0, 5.0, 6.0], fell, 0.4).1;
        assert_eq!(said, Some((FindingKind::Apart, unsure.to_owned())));
    }
}
