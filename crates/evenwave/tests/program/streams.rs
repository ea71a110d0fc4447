//! Streams that are full or that nobody reads, and decoders that give up: the work is done, and no panic is seen.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Output, Stdio};

use journal::{Context, Journal, Shelf, TakeId};

use crate::common::{
    done, evenwave, folder, program, samples, status, told, two_notes, write_sound,
};

/// A stream that nobody reads any more.
fn unread() -> Stdio {
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    writer.into()
}

/// A stream to a disk without room.
#[cfg(target_os = "linux")]
fn full() -> Stdio {
    File::options().write(true).open("/dev/full").expect("a device of Linux").into()
}

/// Nothing of a panic is seen.
fn is_calm(output: &Output, line: &[&str]) {
    let said = told(output);
    for word in ["panicked", "backtrace", "a mistake in evenwave"] {
        assert!(!said.contains(word), "{line:?}: {said}");
    }
}

/// A journal of so many takes.
fn journal_of(takes: usize, folder: &Path) -> Vec<TakeId> {
    let journal = Journal::open(&folder.join("takes")).expect("opened").journal;
    let keep = |_| {
        let mut take = journal.begin(&Context::default(), 48_000).expect("begun");
        take.sound(&[0.1; 4_800]).expect("written");
        take.finish().expect("finished").id
    };
    (0..takes).map(keep).collect()
}

#[test]
fn all_takes_are_kept_though_nobody_reads_of_it() {
    let folder = folder("streams_keep");
    let ids = journal_of(20, &folder);
    let names: Vec<String> = ids.iter().map(TakeId::to_string).collect();
    let mut line = vec!["journal", "--journal", "takes", "keep"];
    line.extend(names.iter().map(String::as_str));
    let output = program(&folder, &line).stdout(unread()).output().expect("the program starts");
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert_eq!(told(&output), "");
    let shelf = Shelf::open(&folder.join("takes")).expect("there");
    let kept = ids.iter().filter(|id| shelf.take(id).expect("read").keep);
    assert_eq!(kept.count(), 20);
}

#[test]
fn damage_has_its_status_though_nobody_reads_of_it() {
    let folder = folder("streams_verify");
    let ids = journal_of(2, &folder);
    fs::write(folder.join("takes").join(ids[0].to_string()).join("take.ron"), "(").expect("there");
    let line = ["journal", "--journal", "takes", "verify"];
    let output = program(&folder, &line).stdout(unread()).output().expect("the program starts");
    assert_eq!(status(&output), 1, "{}", told(&output));
}

#[test]
fn a_report_is_written_though_nobody_reads_its_name() {
    let folder = folder("streams_report");
    write_sound(&folder.join("s.wav"), &samples(&two_notes(6.0, 30.0)));
    let line = ["report", "-o", "a.html", "take", "s.wav"];
    let output = program(&folder, &line).stdout(unread()).output().expect("the program starts");
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert_eq!(told(&output), "");
    assert!(folder.join("a.html").is_file());
}

#[cfg(target_os = "linux")]
#[test]
fn where_words_cannot_be_written_a_command_ends_as_it_would() {
    let folder = folder("streams_full");
    let ids = journal_of(3, &folder);
    let name = ids[0].to_string();
    let keep = ["journal", "--journal", "takes", "keep", &name];
    for (line, due) in [
        (&["measure", "no1.wav", "no2.wav", "no3.wav"][..], 1),
        (&["measure", "no1.wav"], 1),
        (&["measure", "--into", "t.csv", "no1.wav", "no2.wav"], 1),
        (&["journal", "--journal", "nowhere", "list"], 1),
        (&["journal", "--journal", "takes", "show", "2001-01-01/10-00-00"], 1),
        (&["practise", "--demo", "waltz"], 2),
        (&["juggle"], 2),
        (&keep, 0),
    ] {
        for (err, which) in [(unread as fn() -> Stdio, "unread"), (full, "full")] {
            let output = program(&folder, line).stderr(err()).output();
            assert_eq!(status(&output.expect("the program starts")), due, "{line:?}, {which}");
        }
        let both = program(&folder, line).stderr(unread()).stdout(unread()).output();
        assert_eq!(status(&both.expect("the program starts")), due, "{line:?}, both");
    }
    // What was asked for was not delivered.
    write_sound(&folder.join("s.wav"), &samples(&two_notes(6.0, 30.0)));
    for line in [&["measure", "s.wav"][..], &["measure", "--csv", "s.wav"], &keep] {
        let output = program(&folder, line).stdout(full()).output().expect("the program starts");
        assert_eq!(status(&output), 1, "{line:?}");
        assert!(told(&output).contains("the output cannot be written"), "{}", told(&output));
    }
}

/// An AIFF file of 16 bits that states so many channels.
fn aiff(channels: u16) -> Vec<u8> {
    // 48 000 as a number of 80 bits (IEEE 754 extended), as AIFF has it.
    let rate = [0x40, 0x0E, 0xBB, 0x80, 0, 0, 0, 0, 0, 0];
    let common = [&channels.to_be_bytes()[..], &100_u32.to_be_bytes(), &[0, 16], &rate].concat();
    let sound = vec![0; 8 + 4 * usize::from(u16::MAX)];
    let chunk =
        |name: &[u8], bytes: &[u8]| [name, &(bytes.len() as u32).to_be_bytes(), bytes].concat();
    let body = [b"AIFF".to_vec(), chunk(b"COMM", &common), chunk(b"SSND", &sound)].concat();
    chunk(b"FORM", &body)
}

#[test]
fn a_decoder_that_panics_is_told_as_damage_and_nothing_else() {
    let folder = folder("streams_decoders");
    fs::write(folder.join("wide.aiff"), aiff(u16::MAX)).expect("room");
    let whole = include_bytes!("../../../sound/tests/fixtures/tone.m4a");
    let table = whole.windows(4).position(|four| four == b"stts").expect("a table of times");
    let mut overflowing = whole.to_vec();
    // Its first row: how many samples there are, and how long each is.
    overflowing[table + 12..table + 20].fill(0xFF);
    fs::write(folder.join("long.m4a"), overflowing).expect("room");
    for (name, due) in [("wide.aiff", 1), ("long.m4a", 0)] {
        let line = ["measure", name];
        let output = program(&folder, &line).env("RUST_BACKTRACE", "1").output();
        let output = output.expect("the program starts");
        is_calm(&output, &line);
        assert_eq!(status(&output), due, "{}", told(&output));
        let words = [output.stdout, output.stderr].concat();
        let words = String::from_utf8_lossy(&words);
        assert!(words.contains("decoder gave up"), "{words}");
    }
}

#[test]
fn a_take_whose_decoder_panics_is_told_as_damage() {
    let folder = folder("streams_flac");
    let ids = journal_of(1, &folder);
    let sound = folder.join("takes").join(ids[0].to_string()).join("sound.flac");
    let whole = fs::read(&sound).expect("there");
    for place in (0..whole.len()).step_by(7) {
        let mut bytes = whole.clone();
        bytes[place] ^= 0x55;
        fs::write(&sound, bytes).expect("room");
        let line = ["journal", "--journal", "takes", "verify"];
        let output = evenwave(&folder, &line);
        is_calm(&output, &line);
        assert_eq!(status(&output), 1, "byte {place}");
    }
    fs::write(&sound, whole).expect("room");
    done(&folder, &["journal", "--journal", "takes", "verify"]);
}
