//! Two strings at once: told, in one stretch, and the moving one followed beside one that is still.

use vibrato::{Note, Settings};
use whole_chain::corpus::{Moving, double_stops};
use whole_chain::listening::{HeardSound, listen};

const SEED: u64 = 71;

fn heard(moving: Moving) -> Vec<HeardSound> {
    let heard = |spec| listen(spec, Settings::default()).expect("within its bounds");
    double_stops(SEED, moving, 35.0, 11).into_iter().map(heard).collect()
}

fn told(heard: &HeardSound) -> Option<&Note> {
    heard.notes.iter().find(|note| note.remarks.two_strings)
}

/// Of eleven intervals all are told but for the octave, which sounds as one string does. Before it is known that two strings
/// sound there may be a short note, and one stretch in ten may be in pieces.
#[test]
fn a_string_beside_a_still_one_is_told_in_one_stretch() {
    for moving in [Moving::Low, Moving::High, Moving::Neither] {
        let all = heard(moving);
        let count = all.iter().filter(|heard| told(heard).is_some()).count();
        assert!(count >= 10, "{moving:?}: {count} told");
        let whole = |heard: &&HeardSound| {
            let long = |note: &&Note| note.end.get() - note.start.get() > 0.4;
            told(heard).is_some() && heard.notes.iter().filter(long).count() == 1
        };
        let count = all.iter().filter(whole).count();
        assert!(count >= 9, "{moving:?}: {count} in one stretch");
    }
}

/// Nine of ten are followed, each as wide and as fast as it was played, and the other is named.
#[test]
fn the_string_that_moves_is_followed_beside_the_still_one() {
    for (moving, line) in [(Moving::Low, 0), (Moving::High, 1)] {
        let mut followed = 0;
        for heard in heard(moving) {
            // One that is told of two strings without a still one is not to be trusted, and says so.
            let told = told(&heard).filter(|note| note.remarks.still.is_some());
            let Some((note, vibrato)) = told.and_then(|note| Some((note, note.vibrato.as_ref()?)))
            else {
                continue;
            };
            let [moved, still] = [line, 1 - line].map(|i| &heard.spec.lines[i].notes[0]);

            let played = moved.vibrato.as_ref().expect("it moves");
            let width = vibrato.width.value.get() - played.width.get();
            let rate = vibrato.rate.value.get() / played.rate.get() - 1.0;
            assert!(width.abs() < 1.0_f64.max(0.03 * played.width.get()), "{width} c: {note:?}");
            assert!(rate.abs() < 0.01, "{rate}: {note:?}");
            let apart = note.f0.value.cents_above(moved.f0).get();
            assert!(apart.abs() < 10.0, "{apart} c: {note:?}");
            let named = Settings::default().tuning.nearest(still.f0).midi;
            assert_eq!(note.remarks.still, Some(named), "{note:?}");
            followed += 1;
        }
        assert!(followed >= 9, "{moving:?}: {followed}");
    }
}
