//! From round to round: what changed most, what to try, and signs of tiring.

use tuning::Secs;

use crate::findings::{Finding, FindingKind};
use crate::judging::Judged;

/// Rounds in which tiring can show.
const LEAST_ROUNDS: usize = 3;
/// The width has collapsed once it is less than this share of the first rounds'.
const COLLAPSED: f64 = 0.75;
/// The spread has risen by so many points, and by this factor.
const RISEN_POINTS: f64 = 6.0;
const RISEN: f64 = 1.6;
/// A change is worth a sentence from this on, as a multiple of what is usual for its measure.
const WORTH: f64 = 1.0;
/// A rest after this much sounding time, and its length: 5 min after 25 (Klickstein, The Musician's
/// Way, p. 75).
pub const REST_AFTER: Secs = Secs(25.0 * 60.0);
/// See [`REST_AFTER`].
pub const REST: Secs = Secs(5.0 * 60.0);

/// A measure of a whole round.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Whole {
    /// What it is called.
    pub name: &'static str,
    /// Its value.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// A change by this much is worth a word.
    usual: f64,
    decimals: usize,
}

/// The measures of a round as a whole: means over its turns; the longest gap.
pub fn whole(round: &Judged) -> Vec<Whole> {
    let mean = |of: &dyn Fn(&crate::turns::Played) -> Option<f64>| {
        let values: Vec<f64> = round.turns.iter().filter_map(of).collect();
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let gap = round
        .turns
        .iter()
        .filter_map(|turn| turn.gap)
        .map(Secs::get)
        .reduce(f64::max);
    let width = mean(&|turn| Some(turn.width?.value.get()));
    let rate = mean(&|turn| Some(turn.rate?.value.get()));
    let line = |name, value: Option<f64>, unit, usual, decimals| {
        value.map(|value| Whole {
            name,
            value,
            unit,
            usual,
            decimals,
        })
    };
    [
        line("longest gap", gap, "s", 0.08, 2),
        line("width", width, "cents", 0.15 * width.unwrap_or(1.0), 0),
        line("rate", rate, "Hz", 0.08 * rate.unwrap_or(1.0), 1),
        line(
            "rate spread",
            mean(&|turn| Some(turn.rate_spread_pct?.value)),
            "%",
            4.0,
            0,
        ),
        line(
            "width spread",
            mean(&|turn| Some(turn.width_spread_pct?.value)),
            "%",
            6.0,
            0,
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// One sentence on what changed most since the round before, if anything did.
pub(crate) fn changed(before: &Judged, now: &Judged) -> Option<Finding> {
    let earlier = whole(before);
    let changes = whole(now).into_iter().filter_map(|now| {
        let before = earlier.iter().find(|before| before.name == now.name)?;
        Some((
            *before,
            now,
            (now.value - before.value) / now.usual.max(before.usual),
        ))
    });
    let (before, now, size) = changes.max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))?;
    (size.abs() >= WORTH).then(|| Finding {
        kind: FindingKind::Changed,
        turn: None,
        words: format!(
            "since the last round the {} went from {:.*} to {:.*} {}",
            now.name, now.decimals, before.value, now.decimals, now.value, now.unit
        ),
        measure: now.name,
        value: now.value - before.value,
        unit: now.unit,
    })
}

/// Signs of tiring over rounds of the same figure at the same pace, the newest last.
pub(crate) fn tiring(rounds: &[&Judged]) -> Option<Finding> {
    if rounds.len() < LEAST_ROUNDS {
        return None;
    }
    let of = |round: &Judged, name: &str| {
        whole(round)
            .into_iter()
            .find(|whole| whole.name == name)
            .map(|whole| whole.value)
    };
    let edge = if rounds.len() > LEAST_ROUNDS { 2 } else { 1 };
    let mean = |part: &[&Judged], name: &str| {
        let values: Option<Vec<f64>> = part.iter().map(|round| of(round, name)).collect();
        values.map(|values| values.iter().sum::<f64>() / values.len() as f64)
    };
    let both = |name: &str| {
        let early = mean(&rounds[..edge], name)?;
        Some((early, mean(&rounds[rounds.len() - edge..], name)?))
    };
    let caution = "the hand may be tiring: rest, and stop at pain, numbness or tingling";
    if let Some((early, late)) = both("width").filter(|(early, late)| *late < COLLAPSED * early) {
        return Some(Finding {
            kind: FindingKind::Tiring,
            turn: None,
            words: format!(
                "over {} rounds the width fell from {early:.0} to {late:.0} cents; {caution}",
                rounds.len()
            ),
            measure: "width",
            value: late - early,
            unit: "cents",
        });
    }
    let rose = |(early, late): &(f64, f64)| late - early >= RISEN_POINTS && *late >= RISEN * early;
    let (early, late) = both("rate spread").filter(rose)?;
    Some(Finding {
        kind: FindingKind::Tiring,
        turn: None,
        words: format!(
            "over {} rounds the spread of the rate rose from {early:.0} to {late:.0} %; {caution}",
            rounds.len()
        ),
        measure: "rate spread",
        value: late - early,
        unit: "%",
    })
}

/// Time to rest: enough has sounded.
pub(crate) fn rest(sounding: Secs) -> Option<Finding> {
    (sounding.get() >= REST_AFTER.get()).then(|| Finding {
        kind: FindingKind::Rest,
        turn: None,
        words: format!(
            "{:.0} minutes of sound: common practice is to rest for {:.0} minutes now",
            sounding.get() / 60.0,
            REST.get() / 60.0
        ),
        measure: "sounding time",
        value: sounding.get() / 60.0,
        unit: "min",
    })
}

/// One sentence on what to try, from the finding that matters most. Each is common practice among
/// string teachers, not a result of trials.
pub(crate) fn to_try(found: &[Finding]) -> Option<Finding> {
    const WEIGHT: [FindingKind; 13] = [
        FindingKind::Tiring,
        FindingKind::Missing,
        FindingKind::Gap,
        FindingKind::Count,
        FindingKind::Sharp,
        FindingKind::Flat,
        FindingKind::FlatStart,
        FindingKind::Jerk,
        FindingKind::Coupled,
        FindingKind::Target,
        FindingKind::Bloom,
        FindingKind::Unsteady,
        FindingKind::Beat,
    ];
    let weight = |finding: &Finding| WEIGHT.iter().position(|kind| *kind == finding.kind);
    let first = found
        .iter()
        .filter_map(|finding| Some((weight(finding)?, finding)))
        .min_by(|a, b| {
            a.0.cmp(&b.0)
                .then(b.1.value.abs().total_cmp(&a.1.value.abs()))
        })?
        .1;
    let practice = match first.kind {
        FindingKind::Tiring => "put the instrument down for a while and go on slower and looser",
        FindingKind::Missing => "say the turns aloud in their order first, then play them slowly",
        FindingKind::Gap => {
            "go slower, one oscillation at a time, and let the new finger fall while the hand keeps swinging"
        }
        FindingKind::Count => "say the count aloud, slowly, before going on to the next finger",
        FindingKind::Sharp => {
            "put this finger down straight and in tune first, with no more weight than the others, then let it swing"
        }
        FindingKind::Flat => {
            "put this finger down straight and in tune first, then let it swing around the note"
        }
        FindingKind::FlatStart => "let the straight note settle in tune before the motion sets in",
        FindingKind::Jerk => "loosen thumb and hand and go as slowly as the motion stays round",
        FindingKind::Coupled => "change in smaller steps, with the beat for what is to be held",
        FindingKind::Target => "stay on one step, slowly, before the next",
        FindingKind::Bloom => "let the bow lead and the width follow it",
        FindingKind::Beat => "say the count aloud with the beat first, then let the hand join it",
        _ => "listen to the straight note against an open string or a drone",
    };
    Some(Finding {
        kind: FindingKind::Try,
        turn: first.turn,
        words: format!("common practice: {practice}{}", reason(first)),
        measure: first.measure,
        value: first.value,
        unit: first.unit,
    })
}

/// The measure that leads to an advice, in brackets. The finding itself is told beside it; where it is all numbers,
/// none is said again.
fn reason(finding: &Finding) -> String {
    let Finding {
        measure,
        value,
        unit,
        ..
    } = finding;
    match finding.kind {
        FindingKind::Missing | FindingKind::Beat | FindingKind::Tiring => String::new(),
        FindingKind::Count => format!(" (made {value:.0})"),
        FindingKind::Gap => format!(" (gap {value:.2} {unit})"),
        FindingKind::Target if *unit == "Hz" => format!(" ({measure} {value:.1} {unit})"),
        _ if ["centre", "drift"].contains(measure) || finding.kind == FindingKind::Bloom => {
            let sign = if *value < 0.0 { '−' } else { '+' };
            format!(" ({measure} {sign}{:.0} {unit})", value.abs())
        }
        _ => format!(" ({measure} {:.0} {unit})", value.abs()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_advice_names_its_measure_and_says_no_finding_again() {
        let finding = |kind, measure, value, unit| Finding {
            kind,
            turn: Some(0),
            words: "as it was found".to_owned(),
            measure,
            value,
            unit,
        };
        for (found, measure) in [
            (finding(FindingKind::Gap, "gap", 0.43, "s"), " (gap 0.43 s)"),
            (
                finding(FindingKind::Sharp, "centre", 18.6, "cents"),
                " (centre +19 cents)",
            ),
            (
                finding(FindingKind::Count, "made_cycles", 7.98, "cycles"),
                " (made 8)",
            ),
            (
                finding(FindingKind::Target, "rate", 2.04, "Hz"),
                " (rate 2.0 Hz)",
            ),
            (
                finding(FindingKind::Jerk, "rate spread", 24.4, "%"),
                " (rate spread 24 %)",
            ),
        ] {
            let advice = to_try(std::slice::from_ref(&found)).expect("an advice");
            assert!(advice.words.ends_with(measure), "{}", advice.words);
            assert!(!advice.words.contains(&found.words), "{}", advice.words);
        }
    }
}
