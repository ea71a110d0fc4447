//! Thousands of damaged files, from a fixed seed: none may panic, hang, grow or give what is no
//! sound. The same body runs without end in `fuzz/`.

use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use crate::decoding::wav;
use sound::{Recording, RecordingError};

/// Damaged copies of each good file.
const COPIES: u32 = 400;

/// Longest time for one file, in a test that runs beside others. The files hold less than half a second.
const LONGEST: Duration = Duration::from_secs(2);

/// More samples than that cannot be in a file of 20 kB by honest means (MP3 at 8 kbit/s: 20 s).
const MOST_SAMPLES: usize = 5_000_000;

/// Numbers from a seed (a linear congruence; Knuth's MMIX constants, from memory).
struct Dice(u64);

impl Dice {
    fn below(&mut self, most: usize) -> usize {
        let next = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = next.wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % most.max(1)
    }
}

/// Good files of every kind: the fixtures and small WAVs.
fn good_files() -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<(String, Vec<u8>)> = std::fs::read_dir("tests/fixtures")
        .expect("the fixtures are there")
        .map(|entry| entry.expect("a readable folder").path())
        .filter(|path| path.extension().is_some_and(|e| e != "sh"))
        .map(|path| {
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            let bytes = std::fs::read(&path).expect("a fixture");
            (name.into_owned(), bytes)
        })
        .collect();
    files.sort();
    for (tag, channels, bits) in [(1_u16, 1_u16, 16_u16), (1, 2, 24), (3, 1, 32), (3, 6, 64)] {
        let group = channels * bits / 8;
        let data: Vec<u8> = (0..u32::from(group) * 200).map(|n| (n * 37) as u8).collect();
        files.push((format!("{bits}-bit.wav"), wav(tag, channels, 48_000, bits, &data)));
    }
    files
}

fn damage(bytes: &mut Vec<u8>, dice: &mut Dice) {
    for _ in 0..=dice.below(4) {
        let at = match dice.below(3) {
            // Headers are where a change does most.
            0 => dice.below(bytes.len().min(64)),
            1 => dice.below(bytes.len().min(1_024)),
            _ => dice.below(bytes.len()),
        };
        let end = (at + 1 + dice.below(16)).min(bytes.len());
        match dice.below(7) {
            0 => bytes.truncate(at),
            1 => bytes[at..end].fill(0),
            2 => bytes[at..end].fill(0xFF),
            3 => bytes[at] ^= 1 << dice.below(8),
            4 => bytes[at..end].iter_mut().for_each(|byte| *byte = dice.below(256) as u8),
            5 => drop(bytes.drain(at..end)),
            _ => {
                let copy = bytes[at..end].to_vec();
                let to = dice.below(bytes.len());
                bytes.splice(to..to, copy);
            }
        }
        if bytes.is_empty() {
            return;
        }
    }
}

/// Panics in our own code, which `Recording` would catch along with those of the decoders.
static OURS: AtomicU32 = AtomicU32::new(0);

#[test]
fn damaged_files_are_heard_or_refused_in_words() {
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |what| {
        let place = what.location().map_or("", |at| at.file()).replace('\\', "/");
        if place.contains("sound/src") || place.contains("tests/") {
            OURS.fetch_add(1, Ordering::Relaxed);
            usual(what);
        }
    }));
    let mut dice = Dice(20_260_101);
    let (mut opened, mut refused, mut given_up) = (0, 0, 0);
    for (name, good) in good_files() {
        for copy in 0..COPIES {
            let mut bytes = good.clone();
            damage(&mut bytes, &mut dice);
            let start = Instant::now();
            let what = format!("copy {copy} of {name}");
            let mut recording = match Recording::from_bytes(bytes, &name) {
                Ok(recording) => recording,
                Err(error) => {
                    refused += 1;
                    let words = error.to_string();
                    assert!(words.ends_with(&name), "{what}: {words}");
                    let gave_up = matches!(&error, RecordingError::Damaged { reason, .. }
                        if reason.contains("gave up"));
                    given_up += u32::from(gave_up);
                    continue;
                }
            };
            opened += 1;
            assert!(sound::RATES_HZ.contains(&recording.sample_rate_hz()), "{what}");
            let mut samples = 0;
            while let Some(block) = recording.next_block().expect("memory can be read") {
                assert!(block.samples.iter().all(|x| x.is_finite()), "{what}: no numbers");
                samples += block.samples.len();
                assert!(samples < MOST_SAMPLES, "{what} has no end");
            }
            let remarks = recording.remarks();
            let gave_up = remarks.stopped.as_ref().is_some_and(|why| why.contains("gave up"));
            given_up += u32::from(gave_up);
            assert!(start.elapsed() < LONGEST, "{what} took {:?}", start.elapsed());
        }
    }
    assert_eq!(OURS.load(Ordering::Relaxed), 0, "panics in our own code");
    println!("{opened} opened, {refused} refused, {given_up} times a decoder gave up");
    assert!(opened > 1_000 && refused > 1_000, "{opened} opened, {refused} refused");
}
