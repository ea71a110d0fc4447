//! From round to round: what changed most, what to try, and signs of tiring.

use tuning::{Secs, figure};
use vibrato::{Measure, Quantity, StraightLine};

use crate::drill::Asked;
use crate::finding::{Finding, FindingKind, FindingMeasure};
use crate::judged::Judged;
use crate::tightening::{both, over_rounds};
use crate::told::beyond_doubt;

/// The first so many rounds of a sitting are set against the last, for tiring...
const EDGE_ROUNDS: usize = 2;
/// ...once there are so many: with fewer, a round would be set against itself, or one against one, and nobody would know
/// how far two rounds differ anyway.
const LEAST_ROUNDS: usize = 2 * EDGE_ROUNDS;
/// What may show tiring: the width and the rate spread.
const TIRING_SIGNS: usize = 2;
/// The width has collapsed once it is less than this share of the first rounds'.
const COLLAPSED: f64 = 0.75;
/// The spread has risen by so many points, and by this factor.
const RISEN_POINTS: f64 = 6.0;
const RISEN: f64 = 1.6;
/// A rest after so long, and its length: 5 min after 25 (Klickstein, The Musician's
/// Way, p. 75).
const REST_AFTER: Secs = Secs(25.0 * 60.0);
/// See [`REST_AFTER`].
const REST: Secs = Secs(5.0 * 60.0);

/// What is followed from round to round, in the order in which it is read.
const FOLLOWED: [Quantity; 5] =
    [Quantity::Gap, Quantity::Width, Quantity::Rate, Quantity::RateSpread, Quantity::WidthSpread];

/// A measure of a whole round. Its doubt is `None` where that of a turn is unknown.
type Whole = (Quantity, Measure<f64>);

/// The measures of a round as a whole: means over its turns; the longest gap.
fn whole(round: &Judged) -> Vec<Whole> {
    let of = |quantity| match quantity {
        Quantity::Gap => longest_gap(round),
        _ => mean_of_turns(round, quantity),
    };
    FOLLOWED.into_iter().filter_map(|quantity| Some((quantity, of(quantity)?))).collect()
}

fn longest_gap(round: &Judged) -> Option<Measure<f64>> {
    let gaps = round.turns.iter().filter_map(|turn| turn.get(Quantity::Gap));
    // No gap at all is no doubtful one.
    let gaps = gaps.map(|gap| Measure { se: Some(gap.se.unwrap_or(0.0)), ..gap });
    gaps.reduce(|a, b| if b.value > a.value { b } else { a })
}

/// Mean over the turns of a round. Turns of which different things are asked differ on purpose: only those of which
/// the same is asked scatter by chance ([`Measure::mean`] of each such stratum; the mean of strata weighted by their
/// size, W. G. Cochran, *Sampling Techniques*, 1977, section 5.3; from memory).
fn mean_of_turns(round: &Judged, quantity: Quantity) -> Option<Measure<f64>> {
    let mut alike: Vec<(Asked, Vec<Measure<f64>>)> = Vec::new();
    for turn in &round.turns {
        let Some(measure) = turn.get(quantity) else { continue };
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
    let before_of = |quantity| before.iter().find(|before| before.0 == quantity);
    let pairs: Vec<(Quantity, Measure<f64>, Measure<f64>)> = now
        .iter()
        .filter_map(|&(quantity, now)| Some((quantity, before_of(quantity)?.1, now)))
        .collect();
    let asked = pairs.len();
    // As a multiple of the least that matters in the larger of both.
    let size = |&(quantity, before, now): &(Quantity, Measure<f64>, Measure<f64>)| {
        let least = quantity.least(now.value).max(quantity.least(before.value));
        (now.value - before.value).abs() / least
    };
    let sure = |&(_, before, now): &(Quantity, Measure<f64>, Measure<f64>)| {
        beyond_doubt(now.above(before), asked)
    };
    // What can be told comes before what cannot, however large.
    let most =
        pairs.into_iter().max_by(|a, b| sure(a).cmp(&sure(b)).then(size(a).total_cmp(&size(b))))?;
    let (quantity, before, now) = most;
    let words = match (sure(&most), size(&most) >= 1.0) {
        (true, true) => format!(
            "since the last round the {}{} went from {} to {}",
            if quantity == Quantity::Gap { "longest " } else { "" },
            quantity.name(),
            quantity.rounded(before.value),
            quantity.size(now.value)
        ),
        (true, false) => "since the last round little changed".to_owned(),
        (false, _) => "no clear change since the last round".to_owned(),
    };
    Some(Finding::new(FindingKind::Changed, None, words, quantity, now.value - before.value))
}

/// Signs of tiring over rounds of the same figure at the same pace, the newest last. Asked after each round anew, it
/// has as many chances to be wrong: the later it is, the surer it must be.
pub(crate) fn tiring(rounds: &[&Judged]) -> Option<Finding> {
    if rounds.len() < LEAST_ROUNDS {
        return None;
    }
    let asked = TIRING_SIGNS * (rounds.len() - LEAST_ROUNDS + 1);
    let edges = |quantity| {
        let measures: Option<Vec<Measure<f64>>> =
            rounds.iter().map(|round| mean_of_turns(round, quantity)).collect();
        let measures = measures?;
        let (early, late) = (&measures[..EDGE_ROUNDS], &measures[measures.len() - EDGE_ROUNDS..]);
        let mean = |edge: &[Measure<f64>]| Measure::mean(edge.iter().copied());
        let (early, late) = (mean(early)?.value, mean(late)?.value);
        beyond_doubt(slope(&measures), asked).then_some((early, late))
    };
    let tell = |quantity: Quantity, way, early, late| {
        let words = format!(
            "over {} rounds the {} {way} from {} to {}; the hand may be tiring: rest, and stop at pain, numbness or tingling",
            rounds.len(),
            quantity.name(),
            quantity.rounded(early),
            quantity.size(late)
        );
        Finding::new(FindingKind::Tiring, None, words, quantity, late - early)
    };
    let fell = |(early, late): &(f64, f64)| *late < COLLAPSED * early;
    if let Some((early, late)) = edges(Quantity::Width).filter(fell) {
        return Some(tell(Quantity::Width, "fell", early, late));
    }
    let rose = |(early, late): &(f64, f64)| late - early >= RISEN_POINTS && *late >= RISEN * early;
    let (early, late) = edges(Quantity::RateSpread).filter(rose)?;
    Some(tell(Quantity::RateSpread, "rose", early, late))
}

/// Rate up and width down over rounds of the same figure at the same pace, the newest last. Asked after each round anew.
pub(crate) fn tightening(rounds: &[&Judged]) -> Option<Finding> {
    if rounds.len() < LEAST_ROUNDS {
        return None;
    }
    let course = |quantity| {
        let of = |round: &&Judged| mean_of_turns(round, quantity);
        rounds.iter().map(of).collect::<Option<Vec<Measure<f64>>>>()
    };
    let (rates, widths) = (course(Quantity::Rate)?, course(Quantity::Width)?);
    // As a change of the logarithm from the first round to the last.
    let change = |course: &[Measure<f64>]| {
        let log =
            |m: &Measure<f64>| Measure { value: m.value.ln(), se: m.se.map(|se| se / m.value) };
        let logs: Vec<Measure<f64>> = course.iter().map(log).collect();
        let (slope, steps) = (slope(&logs), course.len() as f64 - 1.0);
        Measure { value: steps * slope.value, se: slope.se.map(|se| steps * se) }
    };
    let edges = |course: &[Measure<f64>]| {
        let mean =
            |edge: &[Measure<f64>]| edge.iter().map(|m| m.value).sum::<f64>() / edge.len() as f64;
        (mean(&course[..EDGE_ROUNDS]), mean(&course[course.len() - EDGE_ROUNDS..]))
    };
    let asked = rounds.len() - LEAST_ROUNDS + 1;
    both(change(&rates), change(&widths), asked)
        .then(|| over_rounds(rounds.len(), edges(&rates), edges(&widths)))
}

/// How steeply the line rises that fits these measures best, from each to the next. Its standard error is the larger
/// of what their own leave and of how they scatter about the line, as that of a mean is ([`Measure::mean`]); unknown
/// where one of theirs is, or where there are fewer than three.
fn slope(course: &[Measure<f64>]) -> Measure<f64> {
    let line = StraightLine::through_even(course.iter().map(|one| one.value));
    let place = |i: usize| i as f64 - line.mean.0;
    let own = course.iter().enumerate().map(|(i, one)| Some((place(i) * one.se?).powi(2)));
    let own: Option<f64> = own.sum();
    let se =
        own.filter(|_| line.count > 2.0).map(|own| (own.sqrt() / line.places).max(line.slope_se()));
    Measure { value: line.slope, se }
}

/// How long was played since the last rest, whatever it was: by the clock, short pauses and all.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SinceRest {
    /// The first note and the end of the last one, by the clock that counts now.
    played: Option<(Secs, Secs)>,
    /// What was played by clocks before.
    before: Secs,
}

impl SinceRest {
    /// A note sounded; after a quiet as long as a rest it is the first one.
    pub fn note(&mut self, start: Secs, end: Secs) {
        let rested = |last: Secs| start.get() - last.get() >= REST.get();
        let first = match self.played {
            Some((_, last)) if rested(last) => {
                self.before = Secs(0.0);
                start
            }
            Some((first, _)) => first,
            None => start,
        };
        self.played = Some((first, end));
    }

    /// Times count anew from here on, as where another source is heard.
    pub fn anew(&mut self) {
        (self.before, self.played) = (self.length(), None);
    }

    fn length(&self) -> Secs {
        let now = self.played.map_or(0.0, |(first, last)| last.get() - first.get());
        Secs(self.before.get() + now)
    }

    /// In words that it is time to rest, once enough was played.
    pub fn time_to_rest(&self) -> Option<String> {
        self.rest().map(|found| found.words)
    }

    /// The same as a finding.
    pub(crate) fn rest(&self) -> Option<Finding> {
        let length = self.length();
        (length.get() >= REST_AFTER.get()).then(|| {
            let minutes = |secs: Secs| figure::number(Some(secs.get() / 60.0), 0, false);
            let words = format!(
                "{} minutes of playing: a good moment for a rest of {} minutes",
                minutes(length),
                minutes(REST)
            );
            let measure = ("playing time", "min");
            Finding::new(FindingKind::Rest, None, words, measure, length.get() / 60.0)
        })
    }
}

/// One sentence on what to try, from the finding that matters most. Each is common practice among
/// string teachers, not a result of trials.
pub(crate) fn to_try(found: &[Finding]) -> Option<Finding> {
    const WEIGHT: [FindingKind; 17] = [
        FindingKind::Tiring,
        FindingKind::Missing,
        FindingKind::WrongNote,
        FindingKind::Hurrying,
        FindingKind::Dragging,
        FindingKind::Tightening,
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
        FindingKind::Missing => "say aloud what comes, in order, then play it slowly",
        FindingKind::WrongNote => {
            "play the notes slowly without vibrato first, then let the hand move"
        }
        FindingKind::Hurrying => {
            "say the count aloud with the click before you play, and wait for each beat"
        }
        FindingKind::Dragging => {
            "take fewer oscillations to the beat, or a slower beat, until it goes with ease"
        }
        FindingKind::Tightening => "stop for a breath, and begin again slower and wider",
        FindingKind::Gap => {
            "go slower, one oscillation at a time, and let the new finger fall while the hand keeps swinging"
        }
        FindingKind::Count => "say the count aloud, slowly, while you play",
        FindingKind::Sharp => {
            "put this finger down in tune without vibrato first, then let it move"
        }
        FindingKind::Flat => "put this finger down in tune without vibrato first, then let it move",
        FindingKind::FlatStart => "let the note settle in tune before the vibrato begins",
        // The shape of an oscillation alone says nothing of how loose a hand is.
        FindingKind::Jerk => "go as slowly as it takes for all oscillations to sound alike",
        FindingKind::Coupled => "change in smaller steps, with the beat for what is to be held",
        FindingKind::Target => match (first.measure, first.too_much()) {
            (FindingMeasure::Quantity(Quantity::Rate), Some(false)) => {
                "go back to the last rate that went with ease, and come up in smaller steps"
            }
            (FindingMeasure::Quantity(Quantity::Rate), _) => {
                "stay on this step, slower, with the click"
            }
            (_, Some(false)) => "keep the rate and let the motion grow wider",
            _ => "keep the rate and let the motion grow narrower",
        },
        FindingKind::Bloom => "let the bow lead and the width follow it",
        FindingKind::Beat => "say the count aloud with the beat first, then let the hand join it",
        FindingKind::Unsteady if first.measure == Quantity::Centre.into() => {
            "listen to the note beside an open string or a drone"
        }
        _ => "hold the note with an even bow until it stays still",
    };
    let words = format!("{practice}{}", reason(first));
    Some(Finding { kind: FindingKind::Try, words, ..first.clone() })
}

/// The measure that leads to an advice, in brackets. The finding itself is told beside it; where it is all numbers,
/// none is said again.
fn reason(finding: &Finding) -> String {
    let Finding { kind, measure, value, .. } = *finding;
    let whole = || figure::number(Some(value.abs()), 0, false);
    match (kind, measure) {
        (
            FindingKind::Missing
            | FindingKind::Beat
            | FindingKind::Tiring
            | FindingKind::Tightening
            | FindingKind::WrongNote,
            _,
        ) => String::new(),
        (FindingKind::Count, _) => format!(" (made {})", whole()),
        (_, FindingMeasure::Quantity(quantity)) => {
            let (name, size) = (quantity.name(), quantity.size(value));
            match quantity.row().signed || kind == FindingKind::Bloom {
                true => format!(" ({name} {}{size})", if value < 0.0 { '−' } else { '+' }),
                false => format!(" ({name} {size})"),
            }
        }
        (_, FindingMeasure::Other(name, unit)) => format!(" ({name} {} {unit})", whole()),
    }
}

#[cfg(test)]
mod tests {
    use tuning::{Cents, Hz};

    use super::*;
    use crate::told::tests::chance;
    use crate::turns::Played;

    #[test]
    fn a_rest_is_due_after_25_minutes_whatever_was_played_and_no_more_after_one() {
        let mut since = SinceRest::default();
        let mut play = |from: f64, to: f64| {
            for minute in from as u32..to as u32 {
                let start = 60.0 * f64::from(minute);
                since.note(Secs(start), Secs(start + 60.0));
            }
            since.time_to_rest()
        };
        assert_eq!(play(0.0, 24.0), None);
        let words = play(24.0, 25.0).expect("25 minutes");
        assert_eq!(words, "25 minutes of playing: a good moment for a rest of 5 minutes");
        assert!(play(29.0, 30.0).is_some(), "four minutes are no rest");
        assert_eq!(play(35.0, 36.0), None, "five are one");
        // Ten minutes by the clock of one microphone, and fifteen by that of another.
        assert_eq!(play(36.0, 45.0), None);
        since.anew();
        since.note(Secs(0.0), Secs(14.0 * 60.0));
        assert_eq!(since.time_to_rest(), None);
        since.note(Secs(14.0 * 60.0), Secs(15.0 * 60.0));
        assert!(since.time_to_rest().is_some());
    }

    #[test]
    fn a_change_is_told_only_outside_the_doubt_of_both_rounds() {
        let spread = |value, se| (Quantity::RateSpread, Measure { value, se });
        let width = |value| (Quantity::Width, Measure { value, se: Some(1.0) });
        let told = |before: &[Whole], now: &[Whole]| {
            let found = most_changed(before, now).expect("measures in common");
            (found.words, found.measure)
        };
        let nothing = "no clear change since the last round";
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
        assert_eq!(measure, Quantity::Width.into());
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
        let asked = |step| Asked { step, ..Asked::plain(2, 57) };
        let se_of = |steps: [usize; 2], ses: [Option<Hz>; 2]| {
            let turns = vec![
                Played { asked: 0, ..turn(4.0, ses[0]) },
                Played { asked: 1, ..turn(5.0, ses[1]) },
            ];
            let known = whole(&round(steps.map(asked).to_vec(), turns));
            assert_eq!(known.len(), 1);
            assert_eq!((known[0].0, known[0].1.value), (Quantity::Rate, 4.5));
            known[0].1.se
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
        let asked = Asked::plain(2, 57);
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
            tiring(&rounds.iter().collect::<Vec<_>>()).map(|found| found.measure.name())
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
        let mut chance = chance();
        // Far wider than what matters of any of them.
        let mut round = || {
            FOLLOWED.map(|quantity| {
                (
                    quantity,
                    Measure { value: 100.0 * chance.next().expect("endless"), se: Some(100.0) },
                )
            })
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
    fn a_step_that_is_missed_is_advised_towards_what_was_wanted() {
        for (measure, value, wanted, said) in [
            (Quantity::Rate, 4.0, 5.0, "come up in smaller steps"),
            (Quantity::Rate, 6.0, 5.0, "stay on this step, slower"),
            (Quantity::Width, 20.0, 30.0, "grow wider"),
            (Quantity::Width, 40.0, 30.0, "grow narrower"),
        ] {
            let words = "as it was found".to_owned();
            let found = Finding::new(FindingKind::Target, Some(0), words, measure, value);
            let advice = to_try(&[found.beside(wanted)]).expect("an advice");
            assert!(advice.words.contains(said), "{}", advice.words);
        }
    }

    #[test]
    fn an_advice_names_its_measure_and_says_no_finding_again() {
        let cycles = FindingMeasure::Other("made_cycles", "cycles");
        for (kind, measure, value, said) in [
            (FindingKind::Gap, Quantity::Gap.into(), 0.43, " (gap 0.43 s)"),
            (FindingKind::Sharp, Quantity::Centre.into(), 18.6, " (centre +19 cents)"),
            (FindingKind::Count, cycles, 7.98, " (made 8)"),
            (FindingKind::Target, Quantity::Rate.into(), 2.04, " (rate 2.0 Hz)"),
            (FindingKind::Jerk, Quantity::RateSpread.into(), 24.4, " (rate spread 24 %)"),
            (FindingKind::Coupled, ("rate moved", "%").into(), 12.4, " (rate moved 12 %)"),
        ] {
            let found = Finding::new(kind, Some(0), "as it was found".to_owned(), measure, value);
            let advice = to_try(std::slice::from_ref(&found)).expect("an advice");
            assert!(advice.words.ends_with(said), "{}", advice.words);
            assert!(!advice.words.contains(&found.words), "{}", advice.words);
        }
    }
}
