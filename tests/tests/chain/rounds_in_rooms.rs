//! A round of a drill in a living room: each finger is told as wide as the string swung.

use coach::{Hints, Played, Practice};
use tone::{Room, Spec};
use tuning::{Secs, Tuning};
use vibrato::Note;
use whole_chain::drill_corpus::{Change, Round, counted_rounds};
use whole_chain::drill_scoring::Hearing;

/// A usual vibrato, carried through some fingers, in 1.5 m and a furnished room.
fn round() -> Round {
    let usual = |round: &Round| {
        round.change == Change::Through
            && (4.0..6.5).contains(&round.rate_hz)
            && (25.0..60.0).contains(&round.width)
            && round.turns.len() == 3
    };
    let round = counted_rounds(11, 400).into_iter().find(usual).expect("400 are enough");
    let spec = Spec { room: Some(Room { t60: Secs(0.5), drr_db: 0.0 }), ..round.spec };
    Round { spec, ..round }
}

fn turns(hearing: &Hearing, round: &Round) -> Vec<Played> {
    let judged = hearing.judge(&round.drill(), |_, _| {});
    judged.into_iter().next().expect("one round").turns
}

fn widths(turns: &[Played]) -> Vec<f64> {
    turns.iter().map(|turn| turn.width.expect("it swings").value.get()).collect()
}

#[test]
fn each_finger_is_told_as_wide_as_the_string_swung_and_a_note_that_is_settled_late_counts_too() {
    let round = round();
    let dry = Spec { room: None, ..round.spec.clone() };
    let dry = widths(&turns(&Hearing::of(&dry).expect("playable"), &round));
    let again = Hearing::again(&round.spec).expect("playable");
    let at_once = widths(&turns(&again, &round));
    assert_eq!(at_once.len(), 3);
    for (near, wide) in at_once.iter().zip(&dry) {
        assert!((near / wide - 1.0).abs() < 0.06, "{at_once:?}, and without the room {dry:?}");
    }
    // Live, the note comes as it was heard, and settled a moment later.
    let heard = Hearing::of(&round.spec).expect("playable");
    let drill = round.drill();
    let place = drill.place(None).expect("it has one").clone();
    let mut practice = Practice::new(drill, place, Tuning::default(), Hints::default());
    for (event, note) in heard.looks.iter().flat_map(|(_, events)| events) {
        practice.hear(event, note.as_ref());
    }
    let settled: Vec<&Note> = again
        .looks
        .iter()
        .flat_map(|(_, events)| events)
        .filter_map(|(_, note)| note.as_ref())
        .collect();
    settled.iter().for_each(|note| practice.settle(note));
    practice.finish();
    let late = practice.done().first().map(|judged| widths(&judged.turns));
    assert_eq!(late, Some(at_once));
}
