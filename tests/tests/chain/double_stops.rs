//! Two strings at once: told, in one stretch.

use vibrato::{Note, Settings};
use whole_chain::corpus::{Moving, double_stops};
use whole_chain::listening::listen;

const SEED: u64 = 71;

fn notes(moving: Moving) -> Vec<Vec<Note>> {
    let heard = |spec| listen(spec, Settings::default()).expect("within its bounds").notes;
    double_stops(SEED, moving, 35.0, 11).into_iter().map(heard).collect()
}

/// Of eleven intervals all are told but for the octave, which sounds as one string does. Before it is known that two strings
/// sound there may be a short note, and one stretch in ten may be in pieces.
#[test]
fn a_string_beside_a_still_one_is_told_in_one_stretch() {
    for moving in [Moving::Low, Moving::High, Moving::Neither] {
        let all = notes(moving);
        let told = |notes: &&Vec<Note>| notes.iter().any(|note| note.remarks.two_strings);
        assert!(all.iter().filter(told).count() >= 10, "{moving:?}: {all:?}");
        let whole = |notes: &&Vec<Note>| {
            let long = notes.iter().filter(|note| note.end.get() - note.start.get() > 0.4);
            long.count() == 1
        };
        let count = all.iter().filter(told).filter(whole).count();
        assert!(count >= 9, "{moving:?}: {count} in one stretch: {all:?}");
    }
}
