//! Another note than the one asked for, and a finger that was left out.

use coach::{Aim, FindingKind, Judged};
use whole_chain::drill_corpus::{Fault, Sitting, sittings};
use whole_chain::drill_scoring::{Hearing, on_threads};

/// Not the seed of the figures.
const SEED: u64 = 4_242;
const SITTINGS: usize = 12;

fn found(judged: &[Judged], kind: FindingKind) -> bool {
    judged.iter().any(|round| round.findings.iter().any(|found| found.kind == kind))
}

fn judged(sitting: &Sitting) -> Vec<Judged> {
    let hearing = Hearing::of(&sitting.spec).expect("playable");
    hearing.judge_at((sitting.tuning, Aim::default()), &sitting.drill, |_, _| {})
}

#[test]
fn another_note_is_told_also_a_semitone_from_its_neighbour_where_a_whole_tone_is_asked() {
    let made = sittings(SEED, Some(Fault::WrongNote), false, SITTINGS);
    let told = on_threads(&made, |sitting| found(&judged(sitting), FindingKind::WrongNote));
    assert!(told.iter().filter(|told| **told).count() + 1 >= SITTINGS, "{told:?}");
}

#[test]
fn a_finger_that_was_left_out_is_missing_and_no_other_note_is_made_up_for_it() {
    let mut made = sittings(SEED, None, false, SITTINGS);
    // The thumb is asked for in the middle, and nobody plays it.
    for sitting in &mut made {
        for place in sitting.drill.places.values_mut() {
            let lowest = place.hand.values().copied().min().expect("a hand");
            place.hand.insert(0, lowest - 2);
            place.fingers.insert(place.fingers.len() / 2, 0);
        }
    }
    let told = on_threads(&made, |sitting| {
        let judged = judged(sitting);
        (found(&judged, FindingKind::Missing), found(&judged, FindingKind::WrongNote))
    });
    let right = told.iter().filter(|told| **told == (true, false)).count();
    assert!(right + 1 >= SITTINGS, "{told:?}");
}
