//! Leaps in a room: the note before still sounds while the next one begins, and with it has a low period in common.

use tone::{Join, Line, NoteSpec, Room, Spec};
use tuning::{Secs, Tuning};
use vibrato::Settings;
use whole_chain::listening::listen;

#[test]
fn a_slurred_leap_in_a_room_is_two_notes_and_no_third() {
    let tuning = Tuning::default();
    for room in [(0.4, 10.0), (0.4, 6.0), (0.8, 6.0)] {
        for (from, to) in [(66, 71), (62, 69), (57, 62), (50, 57), (69, 74)] {
            let note = |start: f64, midi: i32| {
                NoteSpec::straight(Secs(start), Secs(0.8), tuning.frequency(midi))
            };
            let notes = vec![note(0.3, from), NoteSpec { join: Join::Legato, ..note(1.1, to) }];
            let (t60, drr_db) = room;
            let spec = Spec {
                lines: vec![Line { notes, level_db: 0.0 }],
                floor_dbfs: Some(-70.0),
                room: Some(Room { t60: Secs(t60), drr_db }),
                ..Spec::default()
            };
            let heard = listen(spec, Settings::default()).expect("within its bounds");
            let named = |note: &vibrato::Note| (note.midi, note.end.get() - note.start.get());
            let told: Vec<(i32, f64)> = heard.notes.iter().map(named).collect();
            let midi: Vec<i32> = told.iter().map(|(midi, _)| *midi).collect();
            assert_eq!(midi, [from, to], "{room:?}: {told:?}");
        }
    }
}
