//! What is found in a round: each with the measure that led to it, in words.
//!
//! Nothing is held against a norm: a finger is compared with the player's other fingers, with the notes asked for and with
//! what the drill asks.

use tuning::{Cents, Secs, figure};
use vibrato::{ContourPoint, Measure, Quantity};

use crate::drill::{Asked, Drill, Kind};
use crate::finding::{Finding, FindingKind, by_finger, finger, named, turn_of};
use crate::hurry::hurry;
use crate::intonation::{Aim, BESIDE_CENTS, OTHER_NOTE_CENTS};
use crate::steps::{coupling, targets};
use crate::tightening::within_notes;
use crate::told::beyond_doubt;
use crate::turns::Played;

/// The centre rises within the turn by this much at least where the start is said to be flat, in cents.
const FLAT_START_CENTS: f64 = 8.0;
/// A finger is jerky if an oscillation holds so many points more outside its fundamental than the best
/// finger's.
const JERKY_POINTS: f64 = 2.5;
/// Spread above the best finger's by so many points, where the drill has no rule of its own.
const SPREAD_POINTS: f64 = 10.0;
/// A bloom strays from the drawn contour by this share of its width.
const BLOOM_SHARE: f64 = 0.3;

/// All that is found in one round by itself.
pub(crate) fn of_round(
    drill: &Drill,
    aim: Aim,
    asked: &[Asked],
    played: &[Played],
) -> Vec<Finding> {
    let mut found = missing(asked, played);
    found.extend(aim.wrong_notes(asked, played));
    match &drill.kind {
        Kind::Straight { within, beside, .. } => {
            found.extend(unsteady(asked, played, *within, *beside));
        }
        Kind::Bloom { width, beats } => found.extend(blooms(drill, asked, played, *width, beats)),
        _ => {
            found.extend(counts(drill, asked, played));
            found.extend(hurry(drill, asked, played));
            found.extend(within_notes(played));
            found.extend(gaps(drill, asked, played));
            let points = drill.rules.spread_above_best.unwrap_or(SPREAD_POINTS);
            found.extend(jerks(points, asked, played));
            found.extend(flat_starts(asked, played));
        }
    }
    match &drill.kind {
        Kind::WidthLadder { .. } | Kind::RateLadder { .. } | Kind::FieldWalk { .. } => {
            found.extend(targets(asked, played));
            found.extend(coupling(drill, played));
        }
        Kind::Straight { .. } => {}
        _ => {
            let most = drill.rules.beside_cents.unwrap_or(BESIDE_CENTS);
            found.extend(aim.beside(most, asked, played));
        }
    }
    found
}

fn missing(asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    (0..asked.len())
        .filter(|number| played.iter().all(|turn| turn.asked != *number))
        .map(|number| {
            let words = format!("{} was not heard", named(number, asked));
            Finding::new(FindingKind::Missing, Some(number), words, ("made", ""), 0.0)
        })
        .collect()
}

/// Turns in which a little of the sound was lost: of each loss its time and its length.
pub(crate) fn lost_in(asked: &[Asked], played: &[Played], losses: &[(Secs, Secs)]) -> Vec<Finding> {
    let mut found = Vec::new();
    for (number, turn) in played.iter().enumerate() {
        let within = |loss: &&(Secs, Secs)| {
            loss.0.get() < turn.end.get() && loss.0.get() + loss.1.get() > turn.start.get()
        };
        let lost_secs: f64 = losses.iter().filter(within).map(|loss| loss.1.get()).sum();
        if lost_secs > 0.0 {
            let words = format!(
                "{}: a little of the sound was lost here, {} ms; take its measures with care",
                named(turn.asked, asked),
                figure::number(Some((1e3 * lost_secs).max(1.0)), 0, false)
            );
            let measure = ("lost", "s");
            found.push(Finding::new(FindingKind::Lost, Some(number), words, measure, lost_secs));
        }
    }
    found
}

fn counts(drill: &Drill, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let Some(off) = drill.rules.count_off else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (number, turn) in played.iter().enumerate() {
        if let Some(count) = asked[turn.asked].count
            && turn.made.abs_diff(count) > off
        {
            let who = named(turn.asked, asked);
            let words = format!("{who}: {} asked, {} made", oscillations(count), turn.made);
            let (kind, measure) = (FindingKind::Count, ("made_cycles", "cycles"));
            found.push(Finding::new(kind, Some(number), words, measure, turn.made_cycles));
        }
    }
    found
}

fn oscillations(count: u32) -> String {
    if count == 1 { "1 oscillation".to_owned() } else { format!("{count} oscillations") }
}

/// A gap is told as a rough one if its standard error is greater than this, in seconds.
const DOUBTFUL_GAP: f64 = 0.03;

fn gaps(drill: &Drill, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let mut found = Vec::new();
    for (number, pair) in played.windows(2).enumerate() {
        let Some(limit) = pair[0].gap_limit(drill, asked) else {
            continue;
        };
        if let Some(gap) = pair[0].gap.filter(|gap| gap.value.get() >= limit.get()) {
            let (doubtful, gap) =
                (gap.se.is_some_and(|se| se.get() > DOUBTFUL_GAP), gap.value.get());
            let rate = pair[0].rate.map_or(0.0, |rate| rate.value.get());
            let cycles = figure::number(Some(gap * rate), 1, false);
            let about = if doubtful { "about " } else { "" };
            let long = Quantity::Gap.size(gap);
            let [from, to] = [pair[0].asked, pair[1].asked];
            let same = asked[from].finger == asked[to].finger;
            let called =
                |place: usize| if same { named(place, asked) } else { finger(asked[place].finger) };
            let words = format!(
                "from {} to {} the motion stops for {about}{}",
                called(from),
                called(to),
                if rate > 0.0 { format!("{cycles} oscillations ({long})") } else { long }
            );
            found.push(Finding::new(FindingKind::Gap, Some(number), words, Quantity::Gap, gap));
        }
    }
    found
}

fn flat_starts(asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let rises = by_finger(asked, played, |turn| turn.get(Quantity::Drift));
    let fingers = rises.len();
    rises
        .into_iter()
        .filter(|(_, rise)| rise.value >= FLAT_START_CENTS && beyond_doubt(*rise, fingers))
        .map(|(number, Measure { value: rise, .. })| {
            let words = format!(
                "{} starts low: its centre rises by {} within the note",
                finger(number),
                Quantity::Drift.size(rise)
            );
            let turn = turn_of(number, asked, played);
            Finding::new(FindingKind::FlatStart, turn, words, Quantity::Drift, rise)
        })
        .collect()
}

/// Fingers that move less smoothly than the player's best one, or whose rate spreads by so many `points` more.
fn jerks(points: f64, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
    let mut found = less_even(Quantity::RateSpread, points, "less evenly", asked, played);
    found.extend(less_even(Quantity::OutOfRound, JERKY_POINTS, "less smoothly", asked, played));
    // One finding a finger: the one that is clearest.
    found.sort_by(|a, b| b.2.total_cmp(&a.2));
    let mut told = Vec::new();
    found.retain(|(number, ..)| {
        let first = !told.contains(number);
        told.push(*number);
        first
    });
    found.into_iter().map(|(_, finding, _)| finding).collect()
}

/// Fingers that have so many `points` more of what is measured than the player's best one, each with what is found
/// and how far it goes, as a multiple of that.
fn less_even(
    quantity: Quantity,
    points: f64,
    word: &str,
    asked: &[Asked],
    played: &[Played],
) -> Vec<(u8, Finding, f64)> {
    let measured = by_finger(asked, played, |turn| turn.get(quantity));
    let lowest = measured.iter().min_by(|a, b| a.1.value.total_cmp(&b.1.value));
    let Some((&best, &least)) = lowest else {
        return Vec::new();
    };
    let fingers = measured.iter().filter(|(number, _)| **number != best);
    let above = fingers.map(|(&number, &own)| (number, own, own.above(least)));
    above
        .filter(|(.., above)| above.value >= points && beyond_doubt(*above, measured.len() - 1))
        .map(|(number, own, above)| {
            let words = format!(
                "{} moves {word} than {}, the best of this round: {} {} against {}",
                finger(number),
                finger(best),
                quantity.name(),
                quantity.size(own.value),
                quantity.size(least.value)
            );
            let turn = turn_of(number, asked, played);
            let finding = Finding::new(FindingKind::Jerk, turn, words, quantity, own.value);
            (number, finding, above.value / points)
        })
        .collect()
}

/// Width that the drawn contour has at `share` of the turn.
pub fn bloom_width(width: Cents, beats: &[f64; 3], share: f64) -> Cents {
    let at = share.clamp(0.0, 1.0) * beats.iter().sum::<f64>();
    let grown = at / beats[0];
    let faded = (beats.iter().sum::<f64>() - at) / beats[2];
    Cents(width.get() * grown.min(faded).min(1.0))
}

fn blooms(
    drill: &Drill,
    asked: &[Asked],
    played: &[Played],
    width: Cents,
    beats: &[f64; 3],
) -> Vec<Finding> {
    let mut found = Vec::new();
    for (number, turn) in played.iter().enumerate() {
        let length = drill
            .turn_length(asked[turn.asked].finger)
            .map_or(turn.end.get() - turn.start.get(), Secs::get);
        let away = turn.contour.iter().map(|point| {
            let share = (point.time.get() - turn.start.get()) / length;
            (share, point.width.get() - bloom_width(width, beats, share).get())
        });
        let Some((share, most)) = away.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())) else {
            continue;
        };
        let away = Measure { value: most, se: unrest(&turn.contour) };
        if most.abs() > BLOOM_SHARE * width.get() && beyond_doubt(away, turn.contour.len()) {
            let words = format!(
                "{}: after {} s the width is {} {} than drawn",
                finger(asked[turn.asked].finger),
                figure::number(Some(share * length), 1, false),
                Quantity::Width.size(most),
                if most > 0.0 { "wider" } else { "narrower" }
            );
            found.push(Finding::new(
                FindingKind::Bloom,
                Some(number),
                words,
                Quantity::Width,
                most,
            ));
        }
    }
    found
}

/// By how much the width of an oscillation strays by chance, in cents: as far as it does from the one before it. `None` of
/// fewer than three.
fn unrest(contour: &[ContourPoint]) -> Option<f64> {
    let steps = contour.windows(2).map(|pair| pair[1].width.get() - pair[0].width.get());
    let count = steps.clone().count() as f64;
    let squares: f64 = steps.map(|step| step * step).sum();
    (count >= 2.0).then(|| (0.5 * squares / count).sqrt())
}

/// The standard deviation of an even rise, which is its whole height over √12, to the rise from the mean of the first
/// third to that of the last, which is two thirds of the height.
const SPREAD_OF_RISE: f64 = 0.433;

fn unsteady(asked: &[Asked], played: &[Played], within: Cents, beside: Cents) -> Vec<Finding> {
    let mut found = Vec::new();
    for (number, turn) in played.iter().enumerate() {
        let who = finger(asked[turn.asked].finger);
        // Where each turn lies and whether it rises are looked at.
        let looked_at = 2 * played.len();
        let too_far = |quantity, most: Cents| {
            let measure = turn.get(quantity)?;
            let told = measure.value.abs() > most.get() && beyond_doubt(measure, looked_at);
            told.then_some(measure.value)
        };
        let mut tell = |words, quantity, value| {
            found.push(Finding::new(FindingKind::Unsteady, Some(number), words, quantity, value));
        };
        if let Some(centre) =
            too_far(Quantity::Centre, beside).filter(|c| c.abs() < OTHER_NOTE_CENTS)
        {
            let side = if centre > 0.0 { "above" } else { "below" };
            let size = Quantity::Centre.size(centre);
            tell(format!("{who} lies {size} {side} the note"), Quantity::Centre, centre);
        }
        if let Some(rise) = too_far(Quantity::Drift, within) {
            let way = if rise > 0.0 { "rises" } else { "sinks" };
            let size = Quantity::Drift.size(rise);
            let words = format!("{who} {way} by {size} from its start to its end");
            tell(words, Quantity::Drift, rise);
        }
        // An even rise is told above: only what it leaves of the spread is wavering.
        let rise = turn.get(Quantity::Drift).map_or(0.0, |rise| rise.value);
        let wavering = turn
            .get(Quantity::Unsteadiness)
            .map(|spread| (spread.value.powi(2) - (SPREAD_OF_RISE * rise).powi(2)).max(0.0).sqrt());
        if let Some(spread) = wavering.filter(|spread| *spread > within.get()) {
            let size = Quantity::Unsteadiness.size(spread);
            tell(format!("{who} wavers by {size}"), Quantity::Unsteadiness, spread);
        }
    }
    found
}

/// Whether a round with this in it does not hold by the drill's rules.
pub fn breaks_rule(drill: &Drill, finding: &Finding) -> bool {
    match finding.kind {
        FindingKind::Missing
        | FindingKind::WrongNote
        | FindingKind::Hurrying
        | FindingKind::Dragging
        | FindingKind::Count
        | FindingKind::Gap
        | FindingKind::Target
        | FindingKind::Bloom
        | FindingKind::Unsteady => true,
        FindingKind::Jerk => {
            drill.rules.spread_above_best.is_some()
                && finding.measure == Quantity::RateSpread.into()
        }
        // An instrument that is tuned to another A holds no round back.
        FindingKind::Sharp | FindingKind::Flat => {
            drill.rules.beside_cents.is_some() && finding.turn.is_some()
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use vibrato::Measures;

    use super::*;

    #[test]
    fn one_cycle_of_which_nobody_knows_the_doubt_makes_no_finger_jerky() {
        let asked =
            |finger| Asked { count: Some(1), ..Asked::plain(finger, 50 + i32::from(finger)) };
        let turn = |number, value, se| Played {
            others: Measures::default().with(Quantity::OutOfRound, value, se),
            ..Played::unmeasured(number, Secs(0.0), Secs(1.0))
        };
        let jerky = |se| {
            let played = [turn(0, 2.0, Some(0.5)), turn(1, 12.0, se)];
            jerks(SPREAD_POINTS, &[asked(1), asked(2)], &played).len()
        };
        assert_eq!(jerky(Some(0.5)), 1);
        assert_eq!(jerky(Some(6.0)), 0, "10 points with a doubt of 6");
        assert_eq!(jerky(None), 0, "of one cycle nobody knows the doubt");
    }

    #[test]
    fn an_even_glide_is_told_once_and_a_wavering_beside_it_too() {
        let asked = [Asked { finger: 2, midi: 57, count: None, rate: None, width: None, step: 0 }];
        let told = |rise: f64, spread: f64| {
            let mut turn = Played::unmeasured(0, Secs(0.0), Secs(3.0));
            turn.others.set(Quantity::Drift, Some(Measure { value: rise, se: Some(2.0) }));
            turn.others.set(Quantity::Unsteadiness, Some(Measure::doubtful(spread)));
            let found = unsteady(&asked, &[turn], Cents(8.0), Cents(8.0));
            found.iter().map(|found| found.measure.name()).collect::<Vec<_>>()
        };
        // A line of 45 cents: 30 from third to third, and a standard deviation of 13.
        assert_eq!(told(30.0, 45.0 / 12_f64.sqrt()), ["drift"]);
        assert_eq!(told(30.0, 20.0), ["drift", "unsteadiness"]);
        assert_eq!(told(0.0, 9.0), ["unsteadiness"]);
    }
}
