//! Arbitrary bytes as a drill file: a drill or words, no panic and no hang.
#![no_main]

use coach::Drill;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    if let Err(error) = Drill::from_ron(text, "mine", "mine.ron") {
        assert!(error.to_string().contains("mine.ron"), "{error}");
    }
});
