//! Leaps in a room: the note before still sounds while the next one begins, and with it has a low period in common.

use tone::{Join, Line, NoteSpec, Room, Spec};
use tuning::{Secs, Tuning};
use vibrato::Settings;
use whole_chain::listening::listen;
use whole_chain::phrases::{PLACES, phrases, score_phrases};

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

#[test]
fn an_octave_upward_in_a_room_is_heard_while_the_note_before_fades() {
    let tuning = Tuning::default();
    for (t60, drr_db) in [(0.4, 6.0), (0.8, 6.0), (0.8, 3.0)] {
        for midi in [43, 50, 57, 62, 66] {
            let note = |start: f64, midi: i32| {
                NoteSpec::straight(Secs(start), Secs(0.8), tuning.frequency(midi))
            };
            let upper = NoteSpec { join: Join::Legato, ..note(1.1, midi + 12) };
            let spec = Spec {
                lines: vec![Line { notes: vec![note(0.3, midi), upper], level_db: 0.0 }],
                floor_dbfs: Some(-70.0),
                room: Some(Room { t60: Secs(t60), drr_db }),
                ..Spec::default()
            };
            let heard = listen(spec, Settings::default()).expect("within its bounds");
            let named = |note: &vibrato::Note| (note.midi, note.start.get());
            let told: Vec<(i32, f64)> = heard.notes.iter().map(named).collect();
            let [(low, _), (high, start)] = told[..] else { panic!("{told:?}") };
            assert_eq!((low, high), (midi, midi + 12), "{t60} s, {drr_db} dB");
            assert!(
                (1.05..1.25).contains(&start),
                "{t60} s, {drr_db} dB: {midi} leaps at {start} s"
            );
        }
    }
}

#[test]
fn what_two_notes_sound_together_is_no_third() {
    for (place, number) in [(3, 10), (3, 11), (4, 1), (4, 8), (4, 12), (4, 18)] {
        let all = phrases(303, PLACES[place], 20);
        let score = score_phrases(&all[number..=number], true).expect("within its bounds");
        assert_eq!((score.invented, score.missed), (0, 0), "{}: {number}", PLACES[place].name);
    }
}

#[test]
fn a_short_low_note_between_two_of_its_harmonics_is_heard() {
    let tuning = Tuning::default();
    for room in [None, Some(Room { t60: Secs(0.4), drr_db: 10.0 })] {
        for midi in [[62, 50, 69], [57, 45, 64], [55, 43, 55], [67, 48, 72], [74, 62, 81]] {
            let note = |start: f64, length: f64, midi: i32| NoteSpec {
                join: Join::Legato,
                ..NoteSpec::straight(Secs(start), Secs(length), tuning.frequency(midi))
            };
            let [from, low, to] = midi;
            let first = NoteSpec { join: Join::Detached, ..note(0.3, 0.6, from) };
            let notes = vec![first, note(0.9, 0.25, low), note(1.15, 0.6, to)];
            let spec = Spec {
                lines: vec![Line { notes, level_db: 0.0 }],
                floor_dbfs: Some(-70.0),
                room,
                ..Spec::default()
            };
            let heard = listen(spec, Settings::default()).expect("within its bounds");
            let told: Vec<i32> = heard.notes.iter().map(|note| note.midi).collect();
            assert_eq!(told, midi, "{room:?}");
        }
    }
}
