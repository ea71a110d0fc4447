//! How a drill, its pace and its rules are said.

use coach::{Asked, Drill, GapLimit, Kind, Pace, Rules};
pub(super) use pictures::reached::{step, walks};
use tuning::{Cents, Hz, Instrument, Naming, Tuning, pitch_name};
use vibrato::Quantity;

/// `2-3-2`; the thumb is a T.
pub(super) fn figure(fingers: &[u8]) -> String {
    let all: Vec<String> = fingers.iter().map(|finger| sign(*finger)).collect();
    all.join("-")
}

/// The sign of a finger: its number, and T for the thumb.
pub(super) fn sign(finger: u8) -> String {
    if finger == 0 { "T".to_owned() } else { finger.to_string() }
}

/// `finger 2`, `thumb`.
pub(super) fn finger(number: u8) -> String {
    if number == 0 { "thumb".to_owned() } else { format!("finger {number}") }
}

/// Half an oscillation as a fraction, others as whole numbers.
pub(super) fn per_beat(per_beat: f64) -> String {
    if per_beat == 0.5 { "½".to_owned() } else { format!("{per_beat:.0}") }
}

/// `2 a beat = 2.0 Hz`.
pub(super) fn rate(drill: &Drill) -> String {
    if let Kind::OneBow { per_beat: steps } = &drill.kind {
        let steps: Vec<String> = steps.iter().map(|step| per_beat(*step)).collect();
        return format!("{} a beat", steps.join("-"));
    }
    match (drill.pace, drill.pace.rate()) {
        (Pace::Beat { .. }, Some(_)) if matches!(drill.kind, Kind::Straight { .. }) => {
            "without vibrato".to_owned()
        }
        (Pace::Beat { per_beat: each, .. }, Some(rate)) => {
            format!("{} a beat = {}", per_beat(each), Quantity::Rate.size(rate.0))
        }
        _ => "your own rate".to_owned(),
    }
}

/// `60 beats a minute, 2 a beat = 2.0 Hz`.
pub(super) fn pace(drill: &Drill) -> String {
    match drill.pace {
        Pace::Free => "free pace".to_owned(),
        Pace::Beat { bpm, .. } => format!("{bpm:.0} beats a minute, {}", rate(drill)),
    }
}

/// `4.0 to 6.0 Hz`, or one value where they are the same.
pub(super) fn hz((low, high): (Hz, Hz)) -> String {
    Quantity::Rate.range((low.0, high.0))
}

/// `20 to 45 cents`, or one value where they are the same.
pub(super) fn cents((low, high): (Cents, Cents)) -> String {
    Quantity::Width.range((low.0, high.0))
}

/// How far the finger goes for the widths that are asked for; `None` where none are, or where nobody knows the strings.
pub(super) fn travel(asked: &[Asked], tuning: &Tuning, instrument: &Instrument) -> Option<String> {
    let strings = instrument.stopped(tuning)?;
    let far = asked.iter().filter_map(|turn| {
        let (low, high) = turn.width?;
        let mm = |width| strings.travel(tuning.frequency(turn.midi), width);
        Some((mm(low)?, mm(high)?.1))
    });
    let ((string, least), most) = far.reduce(|all, one| {
        let ((string, least), most) = all;
        ((string, least.min(one.0.1)), most.max(one.1))
    })?;
    let (least, most) = (format!("{least:.0}"), format!("{most:.0}"));
    let mm = if least == most { least } else { format!("{least} to {most}") };
    Some(format!(
        "On the {} string the finger goes {mm} mm for this, from the lowest point to the highest; an octave up, half as far.",
        instrument.strings[string].name
    ))
}

/// Least and most oscillations of these turns; `None` where they are not counted.
pub(super) fn counts(asked: &[Asked]) -> Option<(u32, u32)> {
    let counts = asked.iter().filter_map(|turn| turn.count);
    counts.map(|count| (count, count)).reduce(|all, one| (all.0.min(one.0), all.1.max(one.1)))
}

/// `beat 3`; that to which a bloom swells is `beat 4, the strong one`.
pub(super) fn beat(drill: &Drill, beat: u32) -> String {
    if drill.strong_beat() == Some(beat) {
        format!("beat {beat}, the strong one")
    } else {
        format!("beat {beat}")
    }
}

/// `finger 2, F3`.
pub(super) fn who(asked: &Asked, naming: Naming) -> String {
    format!("{}, {}", finger(asked.finger), pitch_name(asked.midi, naming))
}

/// The rules by which a round of these fingers holds, each a few words.
pub(super) fn rules(drill: &Drill, fingers: &[u8]) -> Vec<String> {
    let Rules { count_off, gap_below, spread_above_best, pace_off_pct, beside_cents } = drill.rules;
    let mut all = vec!["every note is played, and no other one".to_owned()];
    let moves = !matches!(drill.kind, Kind::Straight { .. } | Kind::Bloom { .. });
    if moves && let Some(off) = count_off {
        all.push(match off {
            0 => "each count is exact".to_owned(),
            1 => "no count is off by more than 1".to_owned(),
            off => format!("no count is off by more than {off}"),
        });
    }
    if may_gap(drill, fingers)
        && let Some(gap) = gap_below
    {
        let cycles = 0.01 * f64::from(gap_pct(gap, drill.pace.rate()));
        all.push(match gap {
            GapLimit::Secs(gap) => {
                format!("no gap of {} or more at a change", Quantity::Gap.size(gap.0))
            }
            GapLimit::Usual if drill.pace.rate().is_none() => {
                "no gap of half an oscillation or more at a change".to_owned()
            }
            _ => format!("no gap of {cycles:.1} oscillations or more at a change"),
        });
    }
    if moves
        && rate_is_asked(drill)
        && let Some(most) = pace_off_pct
    {
        all.push(format!("the rate keeps to the beat within {most:.0} %"));
    }
    if moves
        && several(fingers)
        && let Some(points) = spread_above_best
    {
        all.push(format!("no finger’s rate spread more than {points:.0} points above the best’s"));
    }
    match &drill.kind {
        Kind::WidthLadder { .. } | Kind::RateLadder { .. } => {
            all.push("each step is reached".to_owned());
        }
        Kind::FieldWalk { .. } => all.push("each region is reached".to_owned()),
        Kind::Bloom { .. } => all.push("the width follows the drawn line".to_owned()),
        Kind::Straight { within, beside, .. } => {
            all.push(format!(
                "each note stays still within {} and in tune within {}",
                Quantity::Centre.size(within.0),
                Quantity::Centre.size(beside.0)
            ));
        }
        _ => {}
    }
    if note_is_asked(drill)
        && let Some(cents) = beside_cents
    {
        all.push(format!("no finger lies {cents:.0} cents or more beside its note"));
    }
    all
}

/// A gap as a share of an oscillation, in percent; where no rate is known, that of the usual limit at its strictest.
pub(super) fn gap_pct(gap: GapLimit, rate: Option<Hz>) -> u32 {
    match (gap, rate) {
        (GapLimit::Oscillations(count), _) => (100.0 * count).round() as u32,
        (GapLimit::Usual, None) => 50,
        (limit, rate) => {
            let rate = rate.unwrap_or(Hz(2.0));
            (100.0 * limit.at(Some(rate)).0 * rate.0).round() as u32
        }
    }
}

/// Whether the round is held against the notes of its fingers by a rule of its own.
pub(super) fn note_is_asked(drill: &Drill) -> bool {
    !matches!(
        drill.kind,
        Kind::WidthLadder { .. }
            | Kind::RateLadder { .. }
            | Kind::FieldWalk { .. }
            | Kind::Straight { .. }
    )
}

/// Whether the beat asks for a rate that the round is held against.
pub(super) fn rate_is_asked(drill: &Drill) -> bool {
    drill.counts()
        && drill.pace.rate().is_some()
        && matches!(
            drill.kind,
            Kind::Transfer
                | Kind::PaceLadder { .. }
                | Kind::StartAndStop { .. }
                | Kind::OneBow { .. }
        )
}

/// There is more than one finger: one can be held against another.
pub(super) fn several(fingers: &[u8]) -> bool {
    fingers.iter().any(|finger| *finger != fingers[0])
}

/// The rule of gaps says something in this drill: there is a change, and the bow goes on.
pub(super) fn may_gap(drill: &Drill, fingers: &[u8]) -> bool {
    fingers.len() > 1
        && !drill.stops()
        && !matches!(
            drill.kind,
            Kind::StartAndStop { .. } | Kind::Straight { .. } | Kind::Bloom { .. }
        )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shipped(text: &str) -> Drill {
        Drill::from_ron(text, "shipped", "").expect("shipped")
    }

    #[test]
    fn one_bow_says_its_counts_and_how_far_the_finger_goes_is_said_where_a_width_is_asked_for() {
        let one_bow = shipped(include_str!("../../../../assets/drills/one-bow.ron"));
        assert_eq!(pace(&one_bow), "60 beats a minute, 1-2-3-4-6-4-3-2-1 a beat");
        let widths = shipped(include_str!("../../../../assets/drills/width-ladder.ron"));
        let (tuning, cello) = (Tuning::default(), Instrument::shipped("cello").expect("shipped"));
        let said = |drill: &Drill| {
            travel(&drill.turns(drill.place(None).expect("a place")), &tuning, &cello)
        };
        let words = said(&widths).expect("widths are asked for");
        assert!(
            words.starts_with("On the D string the finger goes 4 to 20 mm for this"),
            "{words}"
        );
        assert_eq!(said(&one_bow), None);
    }

    #[test]
    fn a_figure_reads_as_it_is_played() {
        assert_eq!(figure(&[2, 3, 4, 3, 2]), "2-3-4-3-2");
        assert_eq!(figure(&[0, 1]), "T-1");
        assert_eq!(per_beat(0.5), "½");
        assert_eq!(hz((Hz(4.0), Hz(4.0))), "4.0 Hz");
        assert_eq!(cents((Cents(8.0), Cents(22.0))), "8 to 22 cents");
    }
}
