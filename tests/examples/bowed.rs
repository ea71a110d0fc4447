//! What the program would keep of files of raw sound (48 kHz, mono, 32-bit floats): for each a line with its name, the takes
//! that are kept, those that are set aside, and the echoes that a lesson makes of it. With `--notes` first, a line for each note
//! before that: its start and end in seconds, its pitch in Hz, and how unlike a bow it is.

use std::process::ExitCode;

use coach::{Bowing, Change, Lesson, Rounds};
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Note, Settings};

/// Silence that ends a take, as the program has it at first.
const ENDS_AFTER: Secs = Secs(2.0);
/// Silence behind each sound, in samples.
const SILENCE: usize = 3 * 48_000;

fn main() -> ExitCode {
    let mut names: Vec<String> = std::env::args().skip(1).collect();
    let tells_notes = names.first().is_some_and(|first| first == "--notes");
    names.drain(..usize::from(tells_notes));
    for name in names {
        let Ok(bytes) = std::fs::read(&name) else {
            eprintln!("{name} cannot be read");
            return ExitCode::FAILURE;
        };
        let samples = bytes.as_chunks().0.iter().map(|sample| f32::from_le_bytes(*sample));
        let events = heard(samples.collect());
        if tells_notes {
            for note in events.iter().filter_map(|(_, note)| note.as_ref()) {
                let (start, end, f0) = (note.start.0, note.end.0, note.f0.value.get());
                println!("note\t{start:.2}\t{end:.2}\t{f0:.1}\t{:.2}", note.remarks.unlike_bow);
            }
        }
        let (kept, aside) = takes(&events);
        println!("{name}\t{kept}\t{aside}\t{}", echoes(&events));
    }
    ExitCode::SUCCESS
}

/// What the ear tells of a sound, with the note where one ended.
fn heard(mut samples: Vec<f32>) -> Vec<(Event, Option<Note>)> {
    samples.resize(samples.len() + SILENCE, 0.0);
    let mut ear = Ear::new(Settings::default());
    let mut events = Vec::new();
    for block in samples.chunks(480) {
        ear.hear(block, |event, ear| {
            let note = ear.note().filter(|_| event == Event::NoteEnded);
            events.push((event, note.cloned()));
        });
    }
    events
}

/// How many takes are kept, and how many are set aside.
fn takes(events: &[(Event, Option<Note>)]) -> (usize, usize) {
    let (mut rounds, mut bowing) = (Rounds::new(ENDS_AFTER), Bowing::default());
    let (mut kept, mut aside) = (0, 0);
    for (event, note) in events {
        if let Some(note) = note {
            rounds.note_ended(note.end);
            bowing.add(note);
        }
        match rounds.hear(event) {
            Some(Change::Began { .. }) => bowing = Bowing::default(),
            Some(Change::Ended { .. }) if bowing.is_bowed() => kept += 1,
            Some(Change::Ended { .. }) => aside += 1,
            Some(Change::Dropped) | None => {}
        }
    }
    (kept, aside)
}

/// How many echoes a lesson makes of it, whose model is four notes with vibrato.
fn echoes(events: &[(Event, Option<Note>)]) -> usize {
    let played = |(place, hz): (usize, f64)| {
        let vibrato = VibratoSpec::regular(Hz(5.2), Cents(34.0));
        NoteSpec::straight(Secs(0.4 + 1.5 * place as f64), Secs(1.3), Hz(hz)).with(vibrato)
    };
    let notes = [146.83, 164.81, 185.0, 164.81].into_iter().enumerate().map(played).collect();
    let spec = Spec { lines: vec![Line { notes, level_db: 0.0 }], ..Spec::default() };
    let model = spec.render().expect("a sound that can be made").samples;
    let mut lesson = Lesson::new(ENDS_AFTER);
    for (event, note) in heard(model).iter().chain(events) {
        lesson.hear(event, note.as_ref());
    }
    lesson.echoes().len()
}
