//! MIDI files.

use score::Midi;

/// A MIDI file of one track: events as (delta, bytes).
fn file(events: &[(u8, &[u8])]) -> Vec<u8> {
    let mut track: Vec<u8> =
        events.iter().flat_map(|(delta, bytes)| [&[*delta], *bytes].concat()).collect();
    track.extend([0, 0xff, 0x2f, 0]);
    let mut bytes = b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk".to_vec();
    bytes.extend((track.len() as u32).to_be_bytes());
    bytes.extend(track);
    bytes
}

#[test]
fn a_track_becomes_a_passage_in_its_meter_key_and_pace() {
    let bytes = file(&[
        (0, b"\xff\x51\x03\x0a\x2c\x2a"),
        (0, b"\xff\x58\x04\x03\x02\x18\x08"),
        (0, b"\xff\x59\x02\xff\x00"),
        (0, b"\xff\x03\x05Tune!"),
        (0, b"\x90\x32\x40"),
        (94, b"\x80\x32\x40"),
        (2, b"\x90\x36\x40"),
        (50, b"\x90\x36\x00"),
        (0, b"\x90\x39\x40"),
        (94, b"\x80\x39\x40"),
        (0, b"\x90\x3c\x40"),
        (0, b"\x90\x40\x40"),
        (48, b"\x80\x3c\x40"),
        (0, b"\x80\x40\x40"),
    ]);
    let midi = Midi::read(&bytes).expect("read");
    assert_eq!(midi.tracks, [(1, "Tune!".to_owned(), 5)]);
    let read = midi.passage(None, "cello", "tune.mid").expect("a passage");
    let text = read.passage.to_text();
    let bars: Vec<&str> = text.lines().filter(|line| line.starts_with("bar")).collect();
    assert_eq!(bars, ["bar 1  D3 1, Gb3 1/2, A3 1, C4+E4 1/2"]);
    assert!(text.contains("key F major\n") && text.contains("beats 3 of quarter\n"), "{text}");
    assert!((read.passage.pace.bpm - 90.0).abs() < 0.1, "{}", read.passage.pace.bpm);
    assert!(read.told[0].contains("up to 0.02 of a beat"), "{:?}", read.told);
    assert!(read.told[1].contains("1 notes sound with another"), "{:?}", read.told);
    let other = midi.passage(Some(2), "cello", "tune.mid").expect_err("no such track");
    assert!(other.to_string().contains("1 Tune!"), "{other}");
}

#[test]
fn bytes_at_random_are_read_or_refused_and_no_more() {
    let good =
        file(&[(0, b"\x90\x32\x40"), (94, b"\x80\x32\x40"), (0, b"\xff\x58\x04\x03\x02\x18\x08")]);
    for at in 0..good.len() {
        for value in [0, 1, 0x7f, 0x80, 0xff] {
            let mut bytes = good.clone();
            bytes[at] = value;
            if let Ok(midi) = Midi::read(&bytes) {
                let read = midi.passage(Some(1), "cello", "a");
                let whole = |read: score::ReadPassage| !read.passage.notes().is_empty();
                assert!(
                    read.map_or_else(|fault| !fault.to_string().is_empty(), whole),
                    "{at} {value}"
                );
            }
        }
    }
}
