//! What the program plays, heard by its own ear: the guide, the tone that follows a pitch, and sound played
//! slower.

use std::sync::Arc;

use sound::Playhead;
use tone::{
    FollowPoint, GuideTurn, GuideWish, Line, NoteSpec, Run, RunWish, Spec, VibratoSpec, follow,
};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Note, Settings, Vibrato};

const RATE_HZ: u32 = pitch::SAMPLE_RATE;

/// Frames and notes of a sound.
fn heard(samples: &[f32]) -> (Vec<pitch::Frame>, Vec<Note>) {
    let (events, notes) = Ear::new(Settings::default()).all_of(samples);
    let frames = events.into_iter().filter_map(|event| match event {
        Event::Frame(frame) => Some(frame),
        _ => None,
    });
    (frames.collect(), notes)
}

/// The longest note, which is nearly all there is: attack and end may count as moments of their own.
fn longest(notes: &[Note], secs: f64) -> (&Note, &Vibrato) {
    let length = |note: &&Note| note.end.get() - note.start.get();
    let longest =
        notes.iter().max_by(|a, b| length(a).total_cmp(&length(b))).expect("a note is heard");
    assert!(length(&longest) > 0.9 * secs, "{} notes", notes.len());
    (longest, longest.vibrato.as_ref().expect("it vibrates"))
}

/// A pitch that swings by 60 cents in all, 5 times a second, about 220 Hz for 3 s.
fn swinging(secs: f64) -> Hz {
    let cents = 30.0 * (std::f64::consts::TAU * 5.0 * secs).sin();
    Hz(220.0 * (cents / 1200.0).exp2())
}

fn course() -> Vec<FollowPoint> {
    (0..600)
        .map(|frame| {
            let time = Secs(0.005 * f64::from(frame));
            FollowPoint { time, f0: swinging(time.get()), level_db: -24.0 }
        })
        .collect()
}

/// Silence around, so that the note has a start and an end.
fn between_silence(samples: &[f32]) -> Vec<f32> {
    let mut out = vec![0.0; 24_000];
    out.extend_from_slice(samples);
    out.extend([0.0; 24_000]);
    out
}

#[test]
fn the_tone_that_follows_a_pitch_is_heard_at_that_pitch_within_a_cent() {
    let (frames, notes) = heard(&between_silence(&follow(&course(), 1.0, RATE_HZ)));
    let mut off: Vec<f64> = frames
        .iter()
        .filter(|frame| (0.7..3.3).contains(&frame.time.get()))
        .map(|frame| {
            let f0 = frame.f0.expect("a plain tone");
            f0.cents_above(swinging(frame.time.get() - 0.5)).get().abs()
        })
        .collect();
    assert!(off.len() > 500);
    off.sort_by(f64::total_cmp);
    assert!(off[off.len() / 2] < 1.0, "median {}", off[off.len() / 2]);
    assert!(off[off.len() * 95 / 100] < 1.0, "{}", off[off.len() * 95 / 100]);
    let rate = longest(&notes, 3.0).1.rate.value.get();
    assert!((rate - 5.0).abs() < 0.03, "{rate}");
}

#[test]
fn slower_it_swings_slower_and_as_wide() {
    for speed in [0.5, 0.25] {
        let (_, notes) = heard(&between_silence(&follow(&course(), speed, RATE_HZ)));
        let vibrato = longest(&notes, 3.0 / speed).1;
        let (rate, width) = (vibrato.rate.value.get(), vibrato.width.value.get());
        assert!((rate - 5.0 * speed).abs() < 0.02, "{speed}: {rate} Hz");
        assert!((width - 60.0).abs() < 1.0, "{speed}: {width} cents");
    }
}

#[test]
fn the_guide_is_heard_at_the_rate_and_width_that_were_asked_for() {
    for (rate, width) in [(2.0, 30.0), (4.0, 60.0), (6.0, 40.0)] {
        let turn = |f0, start| GuideTurn {
            f0: Hz(f0),
            start: Secs(start),
            end: Secs(start + 3.0),
            rate: Hz(rate),
            width: (Cents(width), Cents(width)),
            phase: 0.0,
            below: false,
        };
        let mut run = Run::new(RATE_HZ);
        run.set(Some(&RunWish {
            number: 1,
            bpm: 60.0,
            beats: 7,
            count_in: 1,
            bar: 3,
            audible: false,
            guide: Some(GuideWish {
                turns: vec![turn(146.83, 1.0), turn(164.81, 4.0)],
                level_db: -30.0,
            }),
        }));
        let mut sound = vec![0.0; 8 * RATE_HZ as usize];
        run.add(&mut sound, |_| {});
        let (_, notes) = heard(&sound);
        assert_eq!(notes.len(), 2, "{rate} Hz");
        for (note, start) in notes.iter().zip([1.0, 4.0]) {
            assert!((note.start.get() - start).abs() < 0.06, "{:?}", note.start);
            let vibrato = note.vibrato.as_ref().expect("it vibrates");
            let (told, wide) = (vibrato.rate.value.get(), vibrato.width.value.get());
            assert!((told - rate).abs() < 0.05, "{told} of {rate} Hz");
            assert!((wide - width).abs() < 1.5, "{wide} of {width} cents");
        }
    }
}

#[test]
fn a_bowed_vibrato_played_slower_keeps_its_pitch_and_width() {
    for (f0, rate, width) in [(110.0, 5.0, 50.0), (220.0, 6.0, 40.0), (440.0, 5.5, 60.0)] {
        let vibrato = VibratoSpec::regular(Hz(rate), Cents(width));
        let note = NoteSpec::straight(Secs(0.5), Secs(3.0), Hz(f0)).with(vibrato);
        let spec =
            Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() };
        let sound = spec.render().expect("playable");
        let as_played = heard(&sound.samples).1;
        let (as_bowed, before) = longest(&as_played, 3.0);
        let samples: Arc<[f32]> = sound.samples.clone().into();
        for speed in [0.5, 0.25] {
            let mut playhead = Playhead::new(Arc::clone(&samples), RATE_HZ, speed, RATE_HZ)
                .expect("a usual speed");
            let mut slow = vec![0.0; (samples.len() as f64 / speed) as usize];
            let count = playhead.read(&mut slow);
            assert!(count + 4_800 > slow.len(), "{count} of {}", slow.len());
            let (_, notes) = heard(&slow);
            let (slowed, after) = longest(&notes, 3.0 / speed);
            let rate = after.rate.value.get() / before.rate.value.get() / speed;
            assert!((rate - 1.0).abs() < 0.02, "{f0} Hz at {speed}: rate {rate}");
            let centre = slowed.f0.value.cents_above(as_bowed.f0.value).get();
            assert!(centre.abs() < 2.0, "{f0} Hz at {speed}: centre {centre}");
            let width = after.width.value.get() / before.width.value.get();
            println!(
                "{f0} Hz at {speed}: rate {rate:.4}, centre {centre:.2} cents, width {width:.3}"
            );
            assert!((width - 1.0).abs() < 0.08, "{f0} Hz at {speed}: width {width}");
        }
    }
}
