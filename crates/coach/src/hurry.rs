//! Whether oscillations that are counted to a beat go at its pace: hurrying, dragging.

use vibrato::{Measure, Quantity};

use crate::drill::{Asked, Drill, Kind, Pace};
use crate::finding::{Finding, FindingKind, named};
use crate::told::beyond_doubt;
use crate::turns::Played;

/// A single note is named only so many times as far off as a round may be: of its few oscillations chance makes the rate.
const SINGLE: f64 = 2.0;

/// How far the rate of a turn lies above what the beat asks for, in percent of that.
fn off_pct(turn: &Played, asked: &[Asked]) -> Option<Measure<f64>> {
    let wanted = wanted_hz(turn, asked)?;
    let rate = turn.rate?.bare();
    let pct = |hz: f64| 100.0 * hz / wanted;
    Some(Measure { value: pct(rate.value) - 100.0, se: rate.se.map(pct) })
}

fn wanted_hz(turn: &Played, asked: &[Asked]) -> Option<f64> {
    asked[turn.asked].rate.map(|(low, high)| 0.5 * (low.get() + high.get()))
}

/// Whether the round, or else single turns of it, hurried or dragged.
pub(crate) fn hurry(drill: &Drill, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    // Ladders of rate and width and walks have goals of their own.
    let to_the_beat = matches!(
        drill.kind,
        Kind::Transfer | Kind::PaceLadder { .. } | Kind::StartAndStop { .. } | Kind::OneBow { .. }
    );
    let Some(most) = drill
        .rules
        .pace_off_pct
        .filter(|_| to_the_beat && drill.counts() && matches!(drill.pace, Pace::Beat { .. }))
    else {
        return Vec::new();
    };
    let off: Vec<(usize, Measure<f64>)> = played
        .iter()
        .enumerate()
        .filter_map(|(number, turn)| Some((number, off_pct(turn, asked)?)))
        .collect();
    let tell = |turn: Option<usize>, number: usize, rate: f64, above: bool| {
        let (kind, whole, one) = match above {
            true => (FindingKind::Hurrying, "hurrying", "hurries"),
            false => (FindingKind::Dragging, "dragging", "drags"),
        };
        let who = match turn {
            Some(_) => format!("{} {one}", named(played[number].asked, asked)),
            None => whole.to_owned(),
        };
        let wanted = wanted_hz(&played[number], asked).unwrap_or(0.0);
        let words = format!(
            "{who}: {}; the beat asks for {}",
            Quantity::Rate.size(rate),
            Quantity::Rate.size(wanted)
        );
        Finding::new(kind, turn, words, Quantity::Rate, rate).beside(wanted)
    };
    let told =
        |off: &Measure<f64>, most: f64, asked| off.value.abs() > most && beyond_doubt(*off, asked);
    if let Some(mean) =
        Measure::mean(off.iter().map(|(_, off)| *off)).filter(|mean| told(mean, most, 1))
    {
        let wanted = wanted_hz(&played[off[0].0], asked).unwrap_or(0.0);
        let rate = wanted * (1.0 + 0.01 * mean.value);
        return vec![tell(None, off[0].0, rate, mean.value > 0.0)];
    }
    off.iter()
        .filter(|(_, of)| told(of, SINGLE * most, off.len()))
        .map(|(number, of)| {
            let rate = played[*number].rate.map_or(0.0, |rate| rate.value.get());
            tell(Some(*number), *number, rate, of.value > 0.0)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use tuning::{Hz, Secs};

    use super::*;

    const DRILL: &str = include_str!("../../../assets/drills/there-and-back.ron");

    fn told(rates: [f64; 3], se: f64) -> Vec<String> {
        let drill = Drill::from_ron(DRILL, "there-and-back", "").expect("shipped");
        let asked = drill.turns(drill.place(None).expect("a place"));
        let played = rates.iter().enumerate().map(|(number, rate)| Played {
            rate: Some(Measure { value: Hz(*rate), se: Some(Hz(se)) }),
            ..Played::unmeasured(number, Secs(0.0), Secs(2.0))
        });
        let found = hurry(&drill, &asked, &played.collect::<Vec<_>>());
        assert!(found.iter().all(|finding| crate::breaks_rule(&drill, finding)));
        found.into_iter().map(|finding| finding.words).collect()
    }

    #[test]
    fn a_round_at_another_rate_than_the_beats_hurries_or_drags() {
        assert_eq!(told([6.0; 3], 0.1), ["hurrying: 6.0 Hz; the beat asks for 2.0 Hz"]);
        assert_eq!(told([1.6; 3], 0.05), ["dragging: 1.6 Hz; the beat asks for 2.0 Hz"]);
        assert!(told([1.9, 2.1, 2.1], 0.02).is_empty(), "within 10 percent");
        assert!(told([2.4, 2.3, 2.3], 0.5).is_empty(), "nobody can tell");
    }

    #[test]
    fn one_finger_that_hurries_is_named() {
        assert_eq!(
            told([1.95, 2.5, 1.9], 0.03),
            ["note 2 (finger 3) hurries: 2.5 Hz; the beat asks for 2.0 Hz"]
        );
    }
}
