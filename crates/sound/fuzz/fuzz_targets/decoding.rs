//! Arbitrary bytes as a sound file: no panic of ours, no hang, no memory without bound, only finite
//! samples. Run by `cargo xtask fuzz` (see DEVELOPERS.md); `tests/files/hostile_files.rs` is the
//! short form.
//!
//! A panic inside a decoder is caught by `Recording` and told as damage, which is right for the
//! player. The fuzzer must see only what gets past that, so its own panic hook, which would abort at
//! once, is replaced by one that aborts for panics in our own code alone.
#![no_main]

use std::sync::Once;

use libfuzzer_sys::fuzz_target;
use sound::Recording;

static HOOK: Once = Once::new();

/// Samples decoded of one input at most, so that inputs which honestly hold much do not slow the search.
const MOST_SAMPLES: usize = 2_000_000;

fuzz_target!(|data: &[u8]| {
    HOOK.call_once(|| {
        std::panic::set_hook(Box::new(|what| {
            let ours = |file: &str| file.contains("sound/src") || file.contains("fuzz_targets");
            if what.location().is_some_and(|at| ours(at.file())) {
                eprintln!("{what}");
                std::process::abort();
            }
        }));
    });
    // The last byte chooses the name, hence the hint to the decoders.
    let Some((&kind, bytes)) = data.split_last() else {
        return;
    };
    let names = ["a.wav", "a.aiff", "a.flac", "a.mp3", "a.ogg", "a.m4a", "a.aac", "a"];
    let name = names[usize::from(kind) % names.len()];
    let mut recording = match Recording::from_bytes(bytes.to_vec(), name) {
        Ok(recording) => recording,
        Err(error) => {
            assert!(error.to_string().ends_with(name), "the path comes last");
            return;
        }
    };
    assert!(sound::RATES_HZ.contains(&recording.sample_rate_hz()));
    let mut samples = 0;
    while samples < MOST_SAMPLES {
        let Ok(Some(block)) = recording.next_block() else {
            break;
        };
        assert!(block.samples.iter().all(|sample| sample.is_finite()));
        samples += block.samples.len();
    }
    recording.remarks().in_words();
});
