//! Which finger lies beside its note, and which note was another one.
//!
//! Every finger is held against the note it was asked for, as the reference that was chosen has it: so it can be said
//! of any finger, and of one of two, which of them is off.

use std::collections::BTreeMap;
use std::f64::consts::TAU;

use tuning::{Cents, Naming, Tuning, pitch_name};
use vibrato::{Measure, Quantity, median};

use crate::drill::Asked;
use crate::ears::Swing;
use crate::finding::{Finding, FindingKind, by_finger, finger, named, turn_of};
use crate::on_beat::OnStart;
use crate::reference::just_above;
use crate::told::beyond_doubt;
use crate::turns::Played;

/// A finger lies beside its note from this on, in cents. Slow scales of eight professionals agree with equal temperament
/// and with pure fifths alike, which lie up to 10 cents apart within a position (Loosen 1993, J. Acoust. Soc. Am. 93,
/// 525).
pub const BESIDE_CENTS: f64 = 10.0;
/// From here on it is another note, and not one out of tune, in cents.
pub(crate) const OTHER_NOTE_CENTS: f64 = 70.0;

/// Where notes are meant to lie.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Aim {
    /// What falls on the beat.
    pub on_start: OnStart,
    /// Whether the motion goes around the note or below it.
    pub swing: Swing,
    /// The drone that notes are tuned to, by its MIDI number; `None`: the tuning has them.
    pub drone: Option<i32>,
}

impl Aim {
    /// Where in an oscillation the beat falls, as a share of it from a trough on.
    pub fn phase(self) -> f64 {
        self.on_start.phase(self.swing)
    }

    /// How far above the note the motion is at such a place of an oscillation, where it goes so far up and down from its
    /// centre.
    pub fn height(self, half: Cents, place: f64) -> Cents {
        let middle = if self.swing == Swing::Below { -half.get() } else { 0.0 };
        Cents(middle - half.get() * (TAU * place).cos())
    }

    /// Measures the centres against the drone, where that is the reference.
    pub(crate) fn set_against(self, asked: &[Asked], played: &mut [Played], tuning: &Tuning) {
        let Some(drone) = self.drone else { return };
        for turn in played {
            let midi = asked[turn.asked].midi;
            let pure = just_above(tuning.frequency(drone), midi - drone);
            if let Some(centre) = &mut turn.centre {
                let up = pure.cents_above(tuning.frequency(midi)).get();
                centre.value = Cents(centre.value.get() - up);
            }
        }
    }

    /// How far what is meant to lie on the note lies above it: the centre, or the crests.
    fn place(self, turn: &Played) -> Option<Measure<f64>> {
        let centre = turn.centre?.bare();
        let half = turn.width.filter(|_| self.swing == Swing::Below).map(Measure::bare);
        Some(half.map_or(centre, |width| Measure {
            value: centre.value + 0.5 * width.value,
            se: centre.se.zip(width.se).map(|(centre, width)| centre.hypot(0.5 * width)),
        }))
    }

    /// Semitones from the note asked for to the one that was played; `None` where it is that note, however far beside.
    fn other_note(self, turn: &Played) -> Option<i32> {
        let place = self.place(turn)?.value;
        (place.abs() >= OTHER_NOTE_CENTS).then(|| (place / 100.0).round() as i32)
    }

    /// Notes that were not the ones asked for.
    pub(crate) fn wrong_notes(self, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
        let wrong = |(number, turn): (usize, &Played)| {
            let by = self.other_note(turn)?;
            let midi = asked[turn.asked].midi;
            let name = |midi| pitch_name(midi, Naming::default());
            let who = named(turn.asked, asked);
            let words =
                format!("{who}: {} instead of {}: another finger?", name(midi + by), name(midi));
            let measure = ("other note", "semitones");
            let kind = FindingKind::WrongNote;
            Some(Finding::new(kind, Some(number), words, measure, f64::from(by)))
        };
        played.iter().enumerate().filter_map(wrong).collect()
    }

    /// Fingers that lie `most` cents or more above or below their notes. Where all lie on the same side, as with an instrument tuned to another
    /// A, that is said once, and a finger is held against the others.
    pub(crate) fn beside(self, most: f64, asked: &[Asked], played: &[Played]) -> Vec<Finding> {
        let right = |turn: &Played| self.place(turn).filter(|_| self.other_note(turn).is_none());
        let places = by_finger(asked, played, right);
        let count = places.len();
        let off = |place: &Measure<f64>| place.value.abs() >= most && beyond_doubt(*place, count);
        let one_side = |of: fn(f64) -> bool| places.values().all(|p| off(p) && of(p.value));
        let all = count > 1 && (one_side(|value| value > 0.0) || one_side(|value| value < 0.0));
        let common =
            if all { median(places.values().map(|place| place.value).collect()) } else { None };
        let Some(common) = common else {
            let beside = places.iter().filter(|(_, place)| off(place));
            let told = beside
                .map(|(&number, place)| self.told(number, place.value, "its note", asked, played));
            return told.collect();
        };
        let from_others: BTreeMap<u8, Measure<f64>> = places
            .iter()
            .map(|(&number, place)| (number, Measure { value: place.value - common, ..*place }))
            .filter(|(_, place)| count > 2 && off(place))
            .collect();
        let mut found: Vec<Finding> = from_others
            .iter()
            .map(|(&number, place)| {
                self.told(number, place.value, "the other fingers", asked, played)
            })
            .collect();
        let (kind, side) = sides(common);
        let words = format!(
            "all fingers lie about {} {side} their notes; is that the A you play to?",
            Quantity::Centre.size(common)
        );
        found.push(Finding::new(kind, None, words, Quantity::Centre, common));
        found
    }

    fn told(self, number: u8, by: f64, what: &str, asked: &[Asked], played: &[Played]) -> Finding {
        let (kind, side) = sides(by);
        let lies = match self.swing {
            Swing::Around => format!("{} lies", finger(number)),
            Swing::Below => format!("the crests of {} lie", finger(number)),
        };
        // Cellists' thumb positions lie slightly low (Pope 2012, String Research J. 3).
        let leans = if number == 0 && by < 0.0 { "; the thumb tends to lean back" } else { "" };
        let words = format!("{lies} {} {side} {what}{leans}", Quantity::Centre.size(by));
        Finding::new(kind, turn_of(number, asked, played), words, Quantity::Centre, by)
    }
}

fn sides(by: f64) -> (FindingKind, &'static str) {
    if by > 0.0 { (FindingKind::Sharp, "above") } else { (FindingKind::Flat, "below") }
}

#[cfg(test)]
mod tests {
    use tuning::Secs;

    use super::*;

    /// The hand of a violin on the A string, and a turn for each of these fingers with its centre.
    fn hand(turns: &[(u8, f64)]) -> (Vec<Asked>, Vec<Played>) {
        let asked = turns.iter().map(|(finger, _)| Asked::plain(*finger, 70 + i32::from(*finger)));
        let played = turns.iter().enumerate().map(|(number, (_, centre))| Played {
            centre: Some(Measure { value: Cents(*centre), se: Some(Cents(0.8)) }),
            width: Some(Measure { value: Cents(40.0), se: Some(Cents(1.0)) }),
            ..Played::unmeasured(number, Secs(0.0), Secs(2.0))
        });
        (asked.collect(), played.collect())
    }

    fn told(aim: Aim, turns: &[(u8, f64)]) -> Vec<String> {
        let (asked, played) = hand(turns);
        let mut found = aim.wrong_notes(&asked, &played);
        found.extend(aim.beside(BESIDE_CENTS, &asked, &played));
        found.into_iter().map(|finding| finding.words).collect()
    }

    #[test]
    fn of_two_fingers_the_one_that_is_off_its_note_is_named_in_either_direction() {
        for (turns, words) in [
            ([(3, 0.4), (2, -17.8), (3, -0.2)], "finger 2 lies 18 cents below its note"),
            ([(3, 0.4), (2, 16.0), (3, -0.2)], "finger 2 lies 16 cents above its note"),
            ([(3, -15.0), (2, 1.0), (3, -15.0)], "finger 3 lies 15 cents below its note"),
            ([(3, 21.0), (2, 1.0), (3, 21.0)], "finger 3 lies 21 cents above its note"),
        ] {
            assert_eq!(told(Aim::default(), &turns), [words]);
        }
    }

    #[test]
    fn fingers_within_ten_cents_of_their_notes_pass_and_two_may_be_off_at_once() {
        assert!(told(Aim::default(), &[(1, -8.0), (2, 9.0), (3, 9.9)]).is_empty());
        let both = told(Aim::default(), &[(1, 0.0), (2, 15.0), (3, -15.0)]);
        assert_eq!(both.len(), 2, "{both:?}");
    }

    #[test]
    fn a_finger_beside_its_note_holds_a_round_back_and_another_a_does_not() {
        let text = include_str!("../../../assets/drills/there-and-back.ron");
        let drill = crate::Drill::from_ron(text, "there-and-back", "").expect("shipped");
        let holds = |turns: &[(u8, f64)]| {
            let (asked, played) = hand(turns);
            let found = Aim::default().beside(BESIDE_CENTS, &asked, &played);
            !found.iter().any(|finding| crate::breaks_rule(&drill, finding))
        };
        assert!(holds(&[(2, 0.4), (3, 9.0)]));
        assert!(!holds(&[(2, 0.4), (3, -17.8)]));
        assert!(holds(&[(1, 14.0), (2, 16.0), (3, 15.0)]), "all of them: another A");
    }

    #[test]
    fn another_a_is_said_once_and_not_of_each_finger() {
        let words = told(Aim::default(), &[(1, 14.0), (2, 16.0), (3, 15.0)]);
        assert_eq!(
            words,
            ["all fingers lie about 15 cents above their notes; is that the A you play to?"]
        );
        let words = told(Aim::default(), &[(1, 14.0), (2, 16.0), (3, 15.0), (4, 39.0)]);
        assert_eq!(words[0], "finger 4 lies 24 cents above the other fingers");
        assert_eq!(words.len(), 2);
    }

    #[test]
    fn a_motion_below_the_note_is_in_tune_where_it_is_meant_so_and_flat_where_it_is_not() {
        let below = [(2, -20.0), (3, -19.0), (4, -18.0)];
        assert!(told(Aim { swing: Swing::Below, ..Aim::default() }, &below).is_empty());
        assert!(!told(Aim::default(), &below).is_empty());
        let around = told(Aim { swing: Swing::Below, ..Aim::default() }, &[(2, -20.0), (3, 0.0)]);
        assert_eq!(around, ["the crests of finger 3 lie 20 cents above its note"]);
    }

    #[test]
    fn a_motion_starts_where_it_is_meant_to_and_goes_below_first() {
        for (on_start, swing, start, soon) in [
            (OnStart::Note, Swing::Around, 0.0, -20.0),
            (OnStart::Crest, Swing::Around, 20.0, 0.0),
            (OnStart::Trough, Swing::Around, -20.0, 0.0),
            (OnStart::Note, Swing::Below, 0.0, -20.0),
            (OnStart::Trough, Swing::Below, -40.0, -20.0),
        ] {
            let aim = Aim { on_start, swing, drone: None };
            let at = |share: f64| aim.height(Cents(20.0), aim.phase() + share).get();
            assert!((at(0.0) - start).abs() < 1e-9, "{aim:?}: {}", at(0.0));
            assert!((at(0.25) - soon).abs() < 1e-9, "{aim:?}: {}", at(0.25));
        }
    }

    #[test]
    fn a_low_thumb_is_told_as_thumbs_are() {
        let told = |finger| told(Aim::default(), &[(finger, -15.0), (1, 0.0)]);
        assert_eq!(
            told(0),
            ["the thumb lies 15 cents below its note; the thumb tends to lean back"]
        );
        assert_eq!(told(2), ["finger 2 lies 15 cents below its note"]);
    }

    #[test]
    fn a_wrong_note_is_another_note_and_no_bad_intonation() {
        let (asked, mut played) = hand(&[(2, 0.0), (3, -408.0), (2, 0.0)]);
        let found = Aim::default().wrong_notes(&asked, &played);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].words, "note 2 (finger 3): A4 instead of C♯5: another finger?");
        assert_eq!(found[0].turn, Some(1));
        assert!(
            Aim::default().beside(BESIDE_CENTS, &asked, &played).is_empty(),
            "it is not out of tune"
        );
        // Far out of tune is no other note.
        played[1].centre = Some(Measure { value: Cents(-60.0), se: Some(Cents(1.0)) });
        assert!(Aim::default().wrong_notes(&asked, &played).is_empty());
        assert_eq!(Aim::default().beside(BESIDE_CENTS, &asked, &played).len(), 1);
    }

    #[test]
    fn notes_in_just_tune_with_the_drone_pass_where_the_drone_is_the_reference() {
        let tuning = Tuning::default();
        // C sharp over A, 14 cents below the tempered one.
        let (asked, mut played) = hand(&[(3, -13.7), (3, -13.7)]);
        assert_eq!(Aim::default().beside(BESIDE_CENTS, &asked, &played).len(), 1);
        let aim = Aim { drone: Some(57), ..Aim::default() };
        aim.set_against(&asked, &mut played, &tuning);
        assert!(aim.beside(BESIDE_CENTS, &asked, &played).is_empty(), "{played:?}");
    }
}
