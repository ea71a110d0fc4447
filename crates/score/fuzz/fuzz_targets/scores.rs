//! Arbitrary bytes as a score: a passage or words, no panic and no hang.
#![no_main]

use coach::plan::Passage;
use libfuzzer_sys::fuzz_target;
use score::{Choice, Midi, MusicXml};

fuzz_target!(|data: &[u8]| {
    if let Ok(score) = MusicXml::read(data) {
        let choice = Choice { part: Some("1".into()), ..Choice::default() };
        if let Ok(read) = score.passage(&choice, "score.xml") {
            let text = read.passage.to_text();
            assert!(Passage::from_text(&text).is_ok(), "{text}");
        }
    }
    if let Ok(midi) = Midi::read(data) {
        let read = midi.passage(Some(1), "cello", "score.mid");
        assert!(read.map_or(true, |read| !read.passage.notes().is_empty()));
    }
    if let Ok(text) = std::str::from_utf8(data)
        && let Ok(passage) = Passage::from_text(text)
    {
        assert!(Passage::from_text(&passage.to_text()).is_ok(), "{text}");
    }
});
