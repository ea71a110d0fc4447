//! From round to round: what changed most, what to try, and signs of tiring.

use tuning::{Cents, Hz, Secs};
use vibrato::Measure;

use crate::findings::{Finding, FindingKind};
use crate::judging::Judged;
use crate::turns::Played;

/// Rounds in which tiring can show.
const LEAST_ROUNDS: usize = 3;
/// The width has collapsed once it is less than this share of the first rounds'.
const COLLAPSED: f64 = 0.75;
/// The spread has risen by so many points, and by this factor.
const RISEN_POINTS: f64 = 6.0;
const RISEN: f64 = 1.6;
/// A change is worth a sentence from this on, as a multiple of what is usual for its measure...
const WORTH: f64 = 1.0;
/// ...and can be told at all from so many standard errors of both rounds together: in one of twenty cases chance
/// alone makes as much.
const TOLD: f64 = 2.0;
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
    /// Its standard error; `None` where that of a turn is unknown.
    pub se: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
    /// A change by this much is worth a word.
    usual: f64,
    decimals: usize,
}

/// The measures of a round as a whole: means over its turns; the longest gap.
pub fn whole(round: &Judged) -> Vec<Whole> {
    let mean = |of: &dyn Fn(&Played) -> Option<Measure<f64>>| {
        let measures: Vec<Measure<f64>> = round.turns.iter().filter_map(of).collect();
        let count = measures.len() as f64;
        let squares: Option<f64> = measures.iter().map(|one| Some(one.se?.powi(2))).sum();
        (!measures.is_empty()).then(|| Measure {
            value: measures.iter().map(|one| one.value).sum::<f64>() / count,
            se: squares.map(|squares| squares.sqrt() / count),
        })
    };
    let gaps = round.turns.iter().filter_map(|turn| turn.gap);
    let gap = gaps
        .map(|gap| Measure {
            // No gap at all is no doubtful one.
            se: Some(gap.se.map_or(0.0, Secs::get)),
            value: gap.value.get(),
        })
        .reduce(|a, b| if b.value > a.value { b } else { a });
    let width = mean(&|turn| Some(bare(turn.width?, Cents::get)));
    let rate = mean(&|turn| Some(bare(turn.rate?, Hz::get)));
    let share = |whole: Option<Measure<f64>>, share: f64| whole.map_or(1.0, |w| share * w.value);
    let line = |name, measure: Option<Measure<f64>>, unit, usual, decimals| {
        measure.map(|Measure { value, se }| Whole { name, value, se, unit, usual, decimals })
    };
    [
        line("longest gap", gap, "s", 0.08, 2),
        line("width", width, "cents", share(width, 0.15), 0),
        line("rate", rate, "Hz", share(rate, 0.08), 1),
        line("rate spread", mean(&|turn| turn.rate_spread_pct), "%", 4.0, 0),
        line("width spread", mean(&|turn| turn.width_spread_pct), "%", 6.0, 0),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn bare<T>(measure: Measure<T>, bare: fn(T) -> f64) -> Measure<f64> {
    Measure { value: bare(measure.value), se: measure.se.map(bare) }
}

/// One sentence on what changed most since the round before, of what lies outside the doubt of both rounds; `None`
/// if they have no measure in common.
pub(crate) fn changed(before: &Judged, now: &Judged) -> Option<Finding> {
    most_changed(&whole(before), &whole(now))
}

fn most_changed(before: &[Whole], now: &[Whole]) -> Option<Finding> {
    let pairs = now.iter().filter_map(|now| {
        let before = before.iter().find(|before| before.name == now.name)?;
        Some((before, now))
    });
    let size = |(before, now): &(&Whole, &Whole)| {
        ((now.value - before.value) / now.usual.max(before.usual)).abs()
    };
    let sure = |(before, now): &(&Whole, &Whole)| {
        let doubt = before.se.zip(now.se).map(|(before, now)| before.hypot(now));
        doubt.is_some_and(|doubt| (now.value - before.value).abs() >= TOLD * doubt)
    };
    // What can be told comes before what cannot, however large.
    let most = pairs.max_by(|a, b| sure(a).cmp(&sure(b)).then(size(a).total_cmp(&size(b))))?;
    let (before, now) = most;
    let words = match (sure(&most), size(&most) >= WORTH) {
        (true, true) => format!(
            "since the last round the {} went from {:.*} to {:.*} {}",
            now.name, now.decimals, before.value, now.decimals, now.value, now.unit
        ),
        (true, false) => "since the last round little changed".to_owned(),
        (false, _) => "since the last round nothing changed beyond its doubt".to_owned(),
    };
    Some(Finding {
        kind: FindingKind::Changed,
        turn: None,
        words,
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
        whole(round).into_iter().find(|whole| whole.name == name).map(|whole| whole.value)
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
        .min_by(|a, b| a.0.cmp(&b.0).then(b.1.value.abs().total_cmp(&a.1.value.abs())))?
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
    let Finding { measure, value, unit, .. } = finding;
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
    fn a_change_is_told_only_outside_the_doubt_of_both_rounds() {
        let spread = |value, se| Whole {
            name: "rate spread",
            value,
            se,
            unit: "%",
            usual: 4.0,
            decimals: 0,
        };
        let width = |value: f64| Whole {
            name: "width",
            value,
            se: Some(1.0),
            unit: "cents",
            usual: 0.15 * value,
            decimals: 0,
        };
        let told = |before: &[Whole], now: &[Whole]| {
            let found = most_changed(before, now).expect("measures in common");
            (found.words, found.measure)
        };
        let nothing = "since the last round nothing changed beyond its doubt";
        // 5 to 16 % with doubts of 3 and 11: less than two joint ones, 22.8; with doubts of 1 and 2 it is more.
        let unsure = [spread(5.0, Some(3.0))];
        assert_eq!(told(&unsure, &[spread(16.0, Some(11.0))]).0, nothing);
        assert_eq!(told(&unsure, &[spread(16.0, None)]).0, nothing);
        assert_eq!(
            told(&[spread(5.0, Some(1.0))], &[spread(16.0, Some(2.0))]).0,
            "since the last round the rate spread went from 5 to 16 %"
        );
        // A smaller change that can be told goes before a larger one that cannot.
        let (words, measure) =
            told(&[spread(5.0, Some(3.0)), width(40.0)], &[spread(16.0, Some(11.0)), width(30.0)]);
        assert_eq!(measure, "width");
        assert_eq!(words, "since the last round the width went from 40 to 30 cents");
        // Beyond doubt, and yet hardly anything.
        let (words, _) = told(&[width(40.0)], &[width(37.0)]);
        assert_eq!(words, "since the last round little changed");
        assert!(most_changed(&unsure, &[width(40.0)]).is_none());
    }

    #[test]
    fn the_doubt_of_a_mean_is_that_of_its_turns_together() {
        let turn = |value, se| Played {
            rate: Some(Measure { value: Hz(value), se }),
            ..Played::unmeasured(0, Secs(0.0), Secs(1.0))
        };
        let round = |turns| Judged {
            pace: crate::drill::Pace::Free,
            asked: Vec::new(),
            turns,
            holds: true,
            findings: Vec::new(),
            on_beat: None,
        };
        let known = whole(&round(vec![turn(4.0, Some(Hz(0.3))), turn(5.0, Some(Hz(0.4)))]));
        assert_eq!(known.len(), 1);
        assert_eq!((known[0].name, known[0].value), ("rate", 4.5));
        let se = known[0].se.expect("both are known");
        assert!((se - 0.25).abs() < 1e-9, "half of 0.5: {se}");
        let half = whole(&round(vec![turn(4.0, Some(Hz(0.3))), turn(5.0, None)]));
        assert_eq!(half[0].se, None);
    }

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
            (finding(FindingKind::Sharp, "centre", 18.6, "cents"), " (centre +19 cents)"),
            (finding(FindingKind::Count, "made_cycles", 7.98, "cycles"), " (made 8)"),
            (finding(FindingKind::Target, "rate", 2.04, "Hz"), " (rate 2.0 Hz)"),
            (finding(FindingKind::Jerk, "rate spread", 24.4, "%"), " (rate spread 24 %)"),
        ] {
            let advice = to_try(std::slice::from_ref(&found)).expect("an advice");
            assert!(advice.words.ends_with(measure), "{}", advice.words);
            assert!(!advice.words.contains(&found.words), "{}", advice.words);
        }
    }
}
