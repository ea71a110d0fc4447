//! The ear on samples no instrument makes, and on any size of block: the short, seeded form of the
//! fuzz target `hearing`.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Note, Settings};

/// Sounds of a seeded run; each lasts a quarter of a second or so and has its own kind of oddness.
const SOUNDS: u64 = 120;

/// All that the ear tells of `samples` in blocks of one size.
fn tell(samples: &[f32], block: usize) -> (Vec<Event>, Vec<Note>) {
    let mut ear = Ear::new(Settings::default());
    let (mut events, mut notes) = (Vec::new(), Vec::new());
    let mut keep = |event: Event, ear: &Ear| {
        notes.extend(ear.note().cloned());
        events.push(event);
    };
    for part in samples.chunks(block) {
        ear.hear(part, &mut keep);
    }
    ear.finish();
    ear.hear(&[], &mut keep);
    (events, notes)
}

/// Two notes with vibrato, detached, under some noise.
fn two_notes() -> Vec<f32> {
    let note = |start, f0, rate, width| {
        NoteSpec::straight(Secs(start), Secs(1.6), Hz(f0))
            .with(VibratoSpec::regular(Hz(rate), Cents(width)))
    };
    let spec = Spec {
        seed: 77,
        lines: vec![Line {
            notes: vec![note(0.2, 98.4, 4.5, 30.0), note(2.0, 441.0, 6.2, 55.0)],
            level_db: 0.0,
        }],
        ..Spec::default()
    };
    spec.render().expect("a right specification").samples
}

#[test]
fn the_size_of_the_blocks_changes_no_bit() {
    let samples = two_notes();
    let whole = tell(&samples, samples.len());
    assert_eq!(whole.1.len(), 2, "{:?}", whole.1);
    for block in [1, 7, 64, 441, 4096] {
        let told = tell(&samples, block);
        // Written out, so that a different bit or a different zero shows.
        assert_eq!(format!("{told:?}"), format!("{whole:?}"), "block of {block}");
    }
}

#[test]
fn a_night_without_samples_is_passed_over_and_the_next_note_stands_in_its_place() {
    let samples = two_notes();
    let mut ear = Ear::new(Settings::default());
    let mut starts = Vec::new();
    let mut tell = |event: Event, _: &Ear| {
        if let Event::NoteBegan { start, .. } = event {
            starts.push(start.get());
        }
    };
    ear.hear(&samples, &mut tell);
    let night = 8 * 3_600 * 48_000_u64;
    ear.skip(night);
    ear.hear(&samples, &mut tell);
    ear.finish();
    ear.hear(&[], &mut tell);
    assert_eq!(starts.len() % 2, 0, "{starts:?}");
    let (before, after) = starts.split_at(starts.len() / 2);
    let shift = (samples.len() as u64 + night) as f64 / 48_000.0;
    for (before, after) in before.iter().zip(after) {
        assert!((after - before - shift).abs() < 0.02, "{before} came again at {after}");
    }
}

#[test]
fn odd_samples_give_numbers_or_nothing() {
    for seed in 0..SOUNDS {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let samples = odd(&mut chance, seed);
        let (events, notes) = tell(&samples, chance.random_range(1..2_000));
        let mut last = f64::NEG_INFINITY;
        let mut frames = 0;
        for event in events {
            if let Event::Frame(frame) = event {
                frames += 1;
                assert!(frame.time.0 > last, "seed {seed}: {frame:?} after {last}");
                last = frame.time.0;
                let right = (0.0..=1.0).contains(&frame.confidence)
                    && frame.level_dbfs.is_finite()
                    && frame.f0.is_none_or(|f0| f0.0.is_finite() && f0.0 > 0.0);
                assert!(right, "seed {seed}: {frame:?}");
            }
        }
        assert!(frames > 0, "seed {seed}: no frame of {} samples", samples.len());
        for note in notes {
            let vibrato = note.vibrato.as_ref();
            let right = note.end.0 > note.start.0
                && note.offset.value.0.is_finite()
                && vibrato
                    .is_none_or(|v| v.rate.value.0.is_finite() && v.width.value.0.is_finite());
            assert!(right, "seed {seed}: {note:?}");
        }
    }
}

#[test]
fn a_note_is_heard_after_samples_that_are_no_numbers() {
    let mut samples = vec![f32::NAN; 4_800];
    samples.extend([f32::INFINITY, f32::NEG_INFINITY, f32::MAX, f32::MIN]);
    samples.extend([0.0; 24_000]);
    samples.extend(two_notes());
    let (_, notes) = tell(&samples, 512);
    let heard: Vec<i32> = notes.iter().map(|note| note.midi).collect();
    assert!(heard.ends_with(&[43, 69]), "heard {heard:?}");
}

/// Samples of one kind of oddness, with values that are no numbers strewn in now and then.
fn odd(chance: &mut ChaCha8Rng, seed: u64) -> Vec<f32> {
    let count = chance.random_range(6_000..24_000);
    let level = 10_f32.powi(chance.random_range(-8..4));
    let step = chance.random_range(0.0001..0.4_f32);
    let mut samples: Vec<f32> = (0..count)
        .map(|n| match seed % 6 {
            0 => level * chance.random_range(-1.0..1.0_f32),
            1 => level * (n as f32 * step).sin(),
            2 => level * (n as f32 * step).sin().signum(),
            3 => f32::from_bits(chance.random()),
            4 => level * ((n as f32 * step) % 1.0 - 0.5) * f32::from(u8::from(n % 5_000 > 900)),
            _ => f32::from(u8::from(n % 97 == 0)) * level,
        })
        .collect();
    for _ in 0..chance.random_range(0..4) {
        let at = chance.random_range(0..samples.len());
        samples[at] = [f32::NAN, f32::INFINITY, f32::MIN, f32::MIN_POSITIVE / 8.0][at % 4];
    }
    samples
}
