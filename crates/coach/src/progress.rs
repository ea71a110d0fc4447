//! From round to round: what changed most, what to try, and signs of tiring.

use tuning::Secs;
use vibrato::{Measure, Quantity};

use crate::drill::Asked;
use crate::finding::{Finding, FindingKind};
use crate::judged::Judged;
use crate::told::beyond_doubt;
use crate::turns::Played;

/// The first so many rounds of a sitting are set against the last, for tiring...
const EDGE_ROUNDS: usize = 2;
/// ...from so many on: of fewer, a round would be set against itself, or one against one, of which nobody knows how
/// far one round lies from the next.
const LEAST_ROUNDS: usize = 2 * EDGE_ROUNDS;
/// What may show tiring: the width and the rate spread.
const TIRING_SIGNS: usize = 2;
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
    /// Its standard error; `None` where that of a turn is unknown.
    pub se: Option<f64>,
    /// Its unit.
    pub unit: &'static str,
    /// A change by this much is worth a word.
    usual: f64,
    decimals: usize,
}

impl Whole {
    fn measure(&self) -> Measure<f64> {
        Measure { value: self.value, se: self.se }
    }
}

/// The measures of a round as a whole: means over its turns; the longest gap.
pub fn whole(round: &Judged) -> Vec<Whole> {
    let mean = |of: &dyn Fn(&Played) -> Option<Measure<f64>>| mean_of_turns(round, of);
    let gaps = round.turns.iter().filter_map(|turn| turn.gap);
    let gap = gaps
        .map(|gap| Measure {
            // No gap at all is no doubtful one.
            se: Some(gap.se.map_or(0.0, Secs::get)),
            value: gap.value.get(),
        })
        .reduce(|a, b| if b.value > a.value { b } else { a });
    let width = mean(&|turn| Some(turn.width?.bare()));
    let rate = mean(&|turn| Some(turn.rate?.bare()));
    let share = |whole: Option<Measure<f64>>, share: f64| whole.map_or(1.0, |w| share * w.value);
    let line = |name, measure: Option<Measure<f64>>, unit, usual, decimals| {
        measure.map(|Measure { value, se }| Whole { name, value, se, unit, usual, decimals })
    };
    [
        line("longest gap", gap, "s", 0.08, 2),
        line("width", width, "cents", share(width, 0.15), 0),
        line("rate", rate, "Hz", share(rate, 0.08), 1),
        line("rate spread", mean(&|turn| turn.get(Quantity::RateSpread)), "%", 4.0, 0),
        line("width spread", mean(&|turn| turn.get(Quantity::WidthSpread)), "%", 6.0, 0),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Mean over the turns of a round. Turns of which different things are asked differ on purpose: only those of which
/// the same is asked scatter by chance ([`Measure::mean`] of each such stratum; the mean of strata weighted by their
/// size, W. G. Cochran, *Sampling Techniques*, 1977, section 5.3; from memory).
fn mean_of_turns(
    round: &Judged,
    of: impl Fn(&Played) -> Option<Measure<f64>>,
) -> Option<Measure<f64>> {
    let mut alike: Vec<(Asked, Vec<Measure<f64>>)> = Vec::new();
    for turn in &round.turns {
        let Some(measure) = of(turn) else { continue };
        let asked = round.asked[turn.asked];
        match alike.iter_mut().find(|(other, _)| *other == asked) {
            Some((_, measures)) => measures.push(measure),
            None => alike.push((asked, vec![measure])),
        }
    }
    let count = alike.iter().map(|(_, measures)| measures.len()).sum::<usize>() as f64;
    let parts: Vec<(f64, Measure<f64>)> = alike
        .into_iter()
        .filter_map(|(_, measures)| Some((measures.len() as f64 / count, Measure::mean(measures)?)))
        .collect();
    let squares: Option<f64> =
        parts.iter().map(|(share, mean)| Some((share * mean.se?).powi(2))).sum();
    (!parts.is_empty()).then(|| Measure {
        value: parts.iter().map(|(share, mean)| share * mean.value).sum(),
        se: squares.map(f64::sqrt),
    })
}

/// One sentence on what changed most since the round before, of what lies outside the doubt of both rounds; `None`
/// if they have no measure in common.
pub(crate) fn changed(before: &Judged, now: &Judged) -> Option<Finding> {
    most_changed(&whole(before), &whole(now))
}

fn most_changed(before: &[Whole], now: &[Whole]) -> Option<Finding> {
    let pairs: Vec<(&Whole, &Whole)> = now
        .iter()
        .filter_map(|now| Some((before.iter().find(|before| before.name == now.name)?, now)))
        .collect();
    let asked = pairs.len();
    let size = |(before, now): &(&Whole, &Whole)| {
        ((now.value - before.value) / now.usual.max(before.usual)).abs()
    };
    let sure = |(before, now): &(&Whole, &Whole)| {
        beyond_doubt(now.measure().above(before.measure()), asked)
    };
    // What can be told comes before what cannot, however large.
    let most =
        pairs.into_iter().max_by(|a, b| sure(a).cmp(&sure(b)).then(size(a).total_cmp(&size(b))))?;
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

/// Signs of tiring over rounds of the same figure at the same pace, the newest last. Asked after each round anew, it
/// has as many chances to be wrong: the later it is, the surer it must be.
pub(crate) fn tiring(rounds: &[&Judged]) -> Option<Finding> {
    if rounds.len() < LEAST_ROUNDS {
        return None;
    }
    let asked = TIRING_SIGNS * (rounds.len() - LEAST_ROUNDS + 1);
    let both = |name: &str| {
        let of = |round: &&Judged| whole(round).into_iter().find(|whole| whole.name == name);
        let wholes: Option<Vec<Whole>> = rounds.iter().map(of).collect();
        let course: Vec<Measure<f64>> = wholes?.iter().map(Whole::measure).collect();
        let (early, late) = (&course[..EDGE_ROUNDS], &course[course.len() - EDGE_ROUNDS..]);
        let mean = |edge: &[Measure<f64>]| Measure::mean(edge.iter().copied());
        let (early, late) = (mean(early)?.value, mean(late)?.value);
        beyond_doubt(slope(&course), asked).then_some((early, late))
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
            "over {} rounds the rate spread rose from {early:.0} to {late:.0} %; {caution}",
            rounds.len()
        ),
        measure: "rate spread",
        value: late - early,
        unit: "%",
    })
}

/// How steeply the line rises that fits these measures best, from each to the next. Its standard error is the larger
/// of what their own leave and of how they scatter about the line, as that of a mean is ([`Measure::mean`]); unknown
/// where one of theirs is, or where there are fewer than three.
fn slope(course: &[Measure<f64>]) -> Measure<f64> {
    let count = course.len() as f64;
    let mean = course.iter().map(|one| one.value).sum::<f64>() / count;
    let place = |i: usize| i as f64 - 0.5 * (count - 1.0);
    let squares: f64 = (0..course.len()).map(|i| place(i).powi(2)).sum();
    let each = || course.iter().enumerate();
    let slope = each().map(|(i, one)| place(i) * one.value).sum::<f64>() / squares;
    let left: f64 = each().map(|(i, one)| (one.value - mean - slope * place(i)).powi(2)).sum();
    let own: Option<f64> = each().map(|(i, one)| Some((place(i) * one.se?).powi(2))).sum();
    let se = own
        .filter(|_| count > 2.0)
        .map(|own| (own.sqrt() / squares).max((left / (count - 2.0) / squares).sqrt()));
    Measure { value: slope, se }
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
    use tuning::{Cents, Hz};

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
        let asked =
            |step| Asked { finger: 2, midi: 57, count: None, rate: None, width: None, step };
        let se_of = |steps: [usize; 2], ses: [Option<Hz>; 2]| {
            let turns = vec![
                Played { asked: 0, ..turn(4.0, ses[0]) },
                Played { asked: 1, ..turn(5.0, ses[1]) },
            ];
            let known = whole(&round(steps.map(asked).to_vec(), turns));
            assert_eq!(known.len(), 1);
            assert_eq!((known[0].name, known[0].value), ("rate", 4.5));
            known[0].se
        };
        let (sure, less_sure) = (Some(Hz(0.3)), Some(Hz(0.4)));
        // Of two things that are asked for: half of what their doubts make together.
        let apart = se_of([0, 1], [sure, less_sure]).expect("both are known");
        assert!((apart - 0.25).abs() < 1e-9, "{apart}");
        // Of one thing asked for twice they should be alike, and are 1 Hz apart.
        let alike = se_of([0, 0], [sure, less_sure]).expect("both are known");
        assert!((alike - 0.5).abs() < 1e-9, "{alike}");
        assert_eq!(se_of([0, 1], [sure, None]), None);
        assert_eq!(se_of([0, 0], [sure, None]), None);
    }

    fn round(asked: Vec<Asked>, turns: Vec<Played>) -> Judged {
        Judged {
            pace: crate::drill::Pace::Free,
            asked,
            turns,
            holds: true,
            findings: Vec::new(),
            on_beat: None,
        }
    }

    /// Rounds of one turn with widths of these, each known to 2 cents.
    fn rounds_of(widths: &[f64]) -> Vec<Judged> {
        let asked = Asked { finger: 2, midi: 57, count: None, rate: None, width: None, step: 0 };
        let turn = |width| Played {
            width: Some(Measure { value: Cents(width), se: Some(Cents(2.0)) }),
            ..Played::unmeasured(0, Secs(0.0), Secs(1.0))
        };
        widths.iter().map(|width| round(vec![asked], vec![turn(*width)])).collect()
    }

    #[test]
    fn a_hand_tires_where_its_rounds_fall_off_by_more_than_they_differ_anyway() {
        let tires = |widths: &[f64]| {
            let rounds = rounds_of(widths);
            tiring(&rounds.iter().collect::<Vec<_>>()).map(|found| found.measure)
        };
        assert_eq!(tires(&[40.0, 40.0, 20.0]), None, "one round against one");
        assert_eq!(tires(&[40.0, 41.0, 25.0, 24.0]), Some("width"));
        // The same fall of the mean in a hand of which no round is like the other.
        assert_eq!(tires(&[60.0, 20.0, 40.0, 10.0]), None);
        assert_eq!(tires(&[40.0, 41.0, 39.0, 40.0]), None);
    }

    #[test]
    fn chance_tells_a_change_of_five_measures_in_one_of_twenty_rounds_at_most() {
        const TRIES: u32 = 4_000;
        // Uniform numbers between 0 and 1, the same each time; twelve of them make a normal one.
        let mut state = 1_u64;
        let mut even = || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            (state >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut normal = || (0..12).map(|_| even()).sum::<f64>() - 6.0;
        let mut round = || -> Vec<Whole> {
            ["a", "b", "c", "d", "e"]
                .into_iter()
                .map(|name| Whole {
                    name,
                    value: 10.0 + normal(),
                    se: Some(1.0),
                    unit: "",
                    usual: 0.01,
                    decimals: 0,
                })
                .collect()
        };
        let told = (0..TRIES)
            .filter(|_| {
                let found = most_changed(&round(), &round()).expect("measures in common");
                found.words.contains(" went from ")
            })
            .count();
        let share = told as f64 / f64::from(TRIES);
        assert!(share < 0.06, "nothing changed, and a change was told in {share} of the rounds");
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
