//! Arbitrary samples, in arbitrary blocks, with arbitrary losses: no panic, times that only go
//! forward, numbers that are numbers. Run by `cargo xtask fuzz`; `arbitrary_samples.rs` among the
//! tests of the whole chain is the short form.
//!
//! The input is a row of orders. One byte chooses: lost samples, plain floats, or a tone that a few
//! bytes describe, since bytes alone hardly ever sound.
#![no_main]

use libfuzzer_sys::fuzz_target;
use vibrato::{Ear, Event, Settings};

/// Samples of one tone at most, so that an input stays quick.
const TONE: usize = 24_000;
/// Samples lost at once at most: the ear passes through a gap frame by frame.
const LOST: u64 = 100_000;

fuzz_target!(|data: &[u8]| {
    let mut ear = Ear::new(Settings::default());
    let mut last = f64::NEG_INFINITY;
    let mut rest = data;
    while let Some((&order, more)) = rest.split_first() {
        let (head, tail) = more.split_at(more.len().min(16));
        rest = tail;
        match order % 4 {
            0 => ear.skip(lost(head)),
            1 => hear(&mut ear, &floats(head), &mut last),
            _ => hear(&mut ear, &tone(head), &mut last),
        }
    }
    ear.finish();
    hear(&mut ear, &[], &mut last);
});

fn lost(bytes: &[u8]) -> u64 {
    let number = bytes.iter().fold(0_u64, |sum, &byte| (sum << 8) | u64::from(byte));
    number % LOST
}

fn floats(bytes: &[u8]) -> Vec<f32> {
    let parts = bytes.as_chunks::<4>().0;
    parts.iter().map(|&part| f32::from_le_bytes(part)).collect()
}

fn tone(bytes: &[u8]) -> Vec<f32> {
    let at = |i: usize| bytes.get(i).map_or(0.0, |&byte| f64::from(byte) / 255.0);
    let f0 = 20.0 * (8.0 * at(0)).exp2();
    let (rate, depth, tilt, gain) = (12.0 * at(1), 0.1 * at(2), 4.0 * at(3), 2.0 * at(4));
    let count = (at(5) * TONE as f64) as usize;
    let mut phase = 0.0_f64;
    (0..count)
        .map(|n| {
            let t = n as f64 / 48_000.0;
            phase += f0 * (1.0 + depth * (std::f64::consts::TAU * rate * t).sin()) / 48_000.0;
            let sum: f64 = (1..=12)
                .map(|k| {
                    (std::f64::consts::TAU * phase * f64::from(k)).sin() / f64::from(k).powf(tilt)
                })
                .sum();
            (gain * sum) as f32
        })
        .collect()
}

fn hear(ear: &mut Ear, samples: &[f32], last: &mut f64) {
    ear.hear(samples, |event, ear| match event {
        Event::Frame(frame) => {
            assert!(frame.time.0 > *last, "{frame:?} after {last}");
            *last = frame.time.0;
            assert!((0.0..=1.0).contains(&frame.confidence), "{frame:?}");
            assert!(frame.level_dbfs.is_finite(), "{frame:?}");
            assert!(frame.f0.is_none_or(|f0| f0.0.is_finite() && f0.0 > 0.0), "{frame:?}");
        }
        Event::NoteEnded => {
            let note = ear.note().expect("told of just now");
            assert!(note.end.0 > note.start.0, "{note:?}");
            assert!(note.offset.value.0.is_finite(), "{note:?}");
            let vibrato = note.vibrato.as_ref();
            assert!(
                vibrato.is_none_or(|v| v.rate.value.0.is_finite() && v.width.value.0.is_finite()),
                "{note:?}"
            );
        }
        _ => {}
    });
}
