//! Files that are made to harm.

use std::io::{Cursor, Write};

use rustix::time::{ClockId, clock_gettime};
use score::{Midi, MusicXml, ScoreError};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Processor time and memory that the refusal of a file may take.
const MOST_SECS: f64 = 1.0;
const MOST_BYTES: u64 = 200 << 20;

fn thread_secs() -> f64 {
    let time = clock_gettime(ClockId::ThreadCPUTime);
    time.tv_sec as f64 + 1e-9 * time.tv_nsec as f64
}

/// What is told of a file that has to be refused, and soon, and with little.
fn refused<T>(what: &str, read: impl FnOnce() -> Result<T, ScoreError>) -> String {
    let mut told = String::new();
    let begin = thread_secs();
    let used = allocation_counter::measure(|| {
        told = read().err().map(|fault| fault.to_string()).unwrap_or_default();
    });
    let secs = thread_secs() - begin;
    assert!(!told.is_empty(), "{what} was read");
    assert!(secs < MOST_SECS, "{what}: {secs:.2} s");
    assert!(used.bytes_max < MOST_BYTES, "{what}: {} MB", used.bytes_max >> 20);
    println!("{what}: {secs:.3} s, {} MB: {told}", used.bytes_max >> 20);
    told
}

fn part_of(bytes: &[u8]) -> Result<score::Part, ScoreError> {
    MusicXml::read(bytes)?.part(0)
}

fn score_of(bars: &str) -> String {
    format!(
        "<score-partwise><part-list><score-part id=\"P1\"/></part-list><part id=\"P1\">{bars}</part></score-partwise>"
    )
}

fn zip_of(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
        zip.start_file(*name, options).expect("in memory");
        zip.write_all(bytes).expect("in memory");
    }
    zip.finish().expect("in memory").into_inner()
}

fn container(path: &str) -> String {
    format!("<container><rootfiles><rootfile full-path=\"{path}\"/></rootfiles></container>")
}

#[test]
fn texts_that_swell_are_refused_in_words() {
    let entities: String =
        (1..30).map(|number| format!("<!ENTITY a{number} \"&a{0};&a{0};\">", number - 1)).collect();
    let bomb = format!("<!DOCTYPE a [<!ENTITY a0 \"ha\">{entities}]><a>&a29;</a>");
    assert!(refused("an entity bomb", || part_of(bomb.as_bytes())).contains("entities"));
    let outside = "<!DOCTYPE a [<!ENTITY b SYSTEM \"file:///etc/passwd\">]><a>&b;</a>";
    assert!(refused("an entity from outside", || part_of(outside.as_bytes())).contains("entities"));
    let deep = "<a>".repeat(200_000);
    assert!(
        refused("200 000 elements in each other", || part_of(deep.as_bytes()))
            .contains("within each other")
    );
    let many = score_of(&"<b/>".repeat(4_000_000));
    assert!(refused("4 million elements", || part_of(many.as_bytes())).contains("2 million"));
    let notes = score_of(&format!("<measure>{}</measure>", "<note/>".repeat(1_900_000)));
    assert!(refused("1.9 million notes", || part_of(notes.as_bytes())).contains("notes"));
    let bars = score_of(&"<measure/>".repeat(1_600_000));
    assert!(refused("1.6 million bars", || part_of(bars.as_bytes())).contains("bars"));
    let chord = format!("<measure><note/>{}</measure>", "<note><chord/></note>".repeat(700_000));
    let chord = score_of(&chord);
    part_of(chord.as_bytes()).expect("a chord of many notes without pitch is one note");
    let long = vec![b' '; 17 << 20];
    assert!(refused("17 MB", || part_of(&long)).contains("16 MB"));
    let tag = format!("<score-partwise {}>", "a=\"1\" ".repeat(2_600_000));
    assert!(refused("2.6 million attributes", || part_of(tag.as_bytes())).contains("ends"));
}

#[test]
fn repeats_that_never_end_are_refused_in_words() {
    let repeat = "<measure><barline><repeat direction=\"forward\"/></barline><note><pitch><step>C</step><octave>4</octave></pitch>\
        <duration>4</duration></note><barline><repeat direction=\"backward\" times=\"100\"/></barline></measure>";
    let score = score_of(&repeat.repeat(5_000));
    let told = refused("5 000 bars, each a hundred times", || {
        MusicXml::read(score.as_bytes())?.passage(&Default::default(), "a")
    });
    assert!(told.contains("repeats"), "{told}");
}

#[test]
fn zips_that_swell_or_lead_out_are_refused_in_words() {
    let inner = score_of(&" ".repeat(100 << 20));
    let names = container("score.xml");
    let bomb =
        zip_of(&[("META-INF/container.xml", names.as_bytes()), ("score.xml", inner.as_bytes())]);
    assert!(bomb.len() < 1 << 20, "{}", bomb.len());
    assert!(refused("a zip of 100 MB", || part_of(&bomb)).contains("16 MB"));
    let swollen = zip_of(&[("META-INF/container.xml", inner.as_bytes())]);
    assert!(refused("a list of 100 MB", || part_of(&swollen)).contains("16 MB"));
    for path in ["../score.xml", "/etc/passwd", "a\\b.xml", "C:/score.xml", "a/../../b.xml", ""] {
        let names = container(path);
        let zip = zip_of(&[("META-INF/container.xml", names.as_bytes()), ("score.xml", b"<a/>")]);
        assert!(refused(path, || part_of(&zip)).contains("no place within"), "{path:?}");
    }
    let empty = zip_of(&[("score.xml", b"<a/>")]);
    assert!(refused("a zip without a list", || part_of(&empty)).contains("container.xml"));
    let missing = zip_of(&[("META-INF/container.xml", container("other.xml").as_bytes())]);
    assert!(refused("a zip without its score", || part_of(&missing)).contains("other.xml"));
    let many: Vec<String> = (0..1_500).map(|number| format!("{number}")).collect();
    let many: Vec<(&str, &[u8])> = many.iter().map(|name| (name.as_str(), &b""[..])).collect();
    assert!(refused("a zip of 1 500 files", || part_of(&zip_of(&many))).contains("1000 files"));
    assert!(refused("a zip cut short", || part_of(&bomb[..bomb.len() / 2])).contains("damaged"));
}

#[test]
fn files_of_other_kinds_are_refused_in_words() {
    for (what, bytes) in [
        ("nothing", &b""[..]),
        ("words", b"hello"),
        ("a page", b"<html><body/></html>"),
        ("sound", b"RIFF\x24\x00\x00\x00WAVEfmt "),
        ("half a sign", b"\xff\xfe<\x00\xd8"),
        ("other letters", b"<a>\xe9</a>"),
    ] {
        let told = refused(what, || part_of(bytes));
        assert!(told.contains("MusicXML") || told.contains("no score"), "{what}: {told}");
        let told = refused(what, || Midi::read(bytes));
        assert!(told.contains("MIDI"), "{what}: {told}");
    }
}

#[test]
fn a_file_that_was_changed_anywhere_is_read_or_refused_and_no_more() {
    let note = "<note><pitch><step>C</step><alter>1</alter><octave>4</octave></pitch><duration>3</duration><tie type=\"start\"/>\
        <time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>\
        <notations><slur type=\"start\" number=\"1\"/><technical><fingering>3</fingering></technical></notations></note>";
    let bar = format!(
        "<measure number=\"1\"><attributes><divisions>6</divisions><time><beats>3</beats><beat-type>4</beat-type></time>\
         <transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>{note}{note}\
         <backup><duration>6</duration></backup>{note}<barline><ending number=\"1\" type=\"start\"/>\
         <repeat direction=\"backward\"/></barline></measure>"
    );
    let text = score_of(&bar.repeat(3));
    let mut seed = 1u64;
    let mut below = |most: usize| {
        seed = seed.wrapping_mul(6364136223846793005).wrapping_add(1442695040888963407);
        (seed >> 33) as usize % most
    };
    let signs = b"<>/=\"0123456789-aC. \xff";
    let mut read = 0;
    for _ in 0..4_000 {
        let mut bytes = text.clone().into_bytes();
        for _ in 0..1 + below(3) {
            let at = below(bytes.len());
            match below(3) {
                0 => bytes[at] = signs[below(signs.len())],
                1 => drop(bytes.drain(at..(at + below(40)).min(bytes.len()))),
                _ => bytes.insert(at, signs[below(signs.len())]),
            }
        }
        let choice = score::Choice { voice: Some(String::new()), ..Default::default() };
        match MusicXml::read(&bytes).and_then(|score| score.passage(&choice, "a")) {
            Ok(_) => read += 1,
            Err(fault) => assert!(!fault.to_string().is_empty()),
        }
    }
    assert!((200..3_800).contains(&read), "{read} of 4000 were read");
}
