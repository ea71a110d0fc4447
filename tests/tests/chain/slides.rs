//! Slides of the hand along the string, heard through the whole ear and counted; what is not one is not.

use coach::{Slid, Slides};
use tone::{Join, Line, NoteSpec, Room, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::Settings;
use whole_chain::listening::listen;

/// What was slid in these notes, in a quiet room or in one that rings.
fn slid(notes: Vec<NoteSpec>, room: Option<Room>) -> Option<Slid> {
    let spec = Spec {
        lines: vec![Line { notes, level_db: 0.0 }],
        floor_dbfs: Some(-65.0),
        room,
        ..Spec::default()
    };
    let heard = listen(spec, Settings::default()).expect("within its bounds");
    let mut slides = Slides::default();
    for frame in &heard.frames {
        slides.push(frame.time, frame.f0, frame.confidence);
    }
    slides.slid()
}

#[test]
fn slides_up_and_back_are_counted_on_low_and_high_strings_and_in_a_room() {
    let furnished = Some(Room { t60: Secs(0.4), drr_db: 6.0 });
    for (midi, room) in [(40, None), (57, None), (57, furnished), (76, None)] {
        for (rate, width, times) in [(0.5, 580.0, 4), (1.2, 420.0, 6), (2.4, 320.0, 8)] {
            let vibrato = VibratoSpec {
                phase: Some(0.0),
                rate_jitter_pct: 4.0,
                width_jitter_pct: 5.0,
                ..VibratoSpec::regular(Hz(rate), Cents(width))
            };
            let secs = Secs(f64::from(times) / rate);
            let f0 = Tuning::default().frequency(midi);
            let note = NoteSpec::straight(Secs(0.5), secs, f0).with(vibrato);
            let slid = slid(vec![note], room);
            let what = format!("{midi} {rate} Hz {width} c {room:?}: {slid:?}");
            let slid = slid.expect(&what);
            // The unrest of the hand may add or take the last way.
            assert!(slid.times.abs_diff(times as usize) <= 1, "{what}");
            assert!((slid.rate.value.get() / rate - 1.0).abs() < 0.08, "{what}");
            assert!((slid.width.value.get() / width - 1.0).abs() < 0.08, "{what}");
        }
    }
}

#[test]
fn a_tune_with_leaps_and_a_wide_vibrato_is_no_slide() {
    let tuning = Tuning::default();
    let tune = [57, 64, 57, 62, 55, 64, 57, 69, 57].into_iter().enumerate();
    let notes = tune
        .map(|(place, midi)| {
            let start = Secs(0.4 + 0.6 * place as f64);
            let vibrato = VibratoSpec::regular(Hz(4.5), Cents(120.0));
            let join = if place == 0 { Join::Detached } else { Join::Legato };
            let note = NoteSpec::straight(start, Secs(0.6), tuning.frequency(midi));
            NoteSpec { join, ..note.with(vibrato) }
        })
        .collect();
    assert_eq!(slid(notes, Some(Room { t60: Secs(0.4), drr_db: 6.0 })), None);
}
