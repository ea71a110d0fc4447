//! `evenwave report` seen from outside. Pages are opened, printed and checked by `cargo xtask pages`.

mod common;

use std::fs;
use std::path::Path;
use std::process::Output;

use common::{evenwave, folder, told};
use journal::{Context, Journal, TakeId};
use sound::WavFormat;
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};

const HOSTILE: &str = "<script>alert(1)</script>\"'><svg onload=x> </title>";

fn status(output: &Output) -> i32 {
    output.status.code().expect("ended by itself")
}

/// A3 straight, then with this vibrato.
fn sound_of(rate: f64, width: f64) -> tone::Rendering {
    let straight = NoteSpec::straight(Secs(0.3), Secs(1.2), Hz(220.0));
    let vibrato = NoteSpec::straight(Secs(1.8), Secs(1.8), Hz(220.0))
        .with(VibratoSpec::regular(Hz(rate), Cents(width)));
    let spec = Spec {
        lines: vec![Line {
            notes: vec![straight, vibrato],
            level_db: 0.0,
        }],
        ..Spec::default()
    };
    spec.render().expect("a plain specification")
}

fn write(folder: &Path, name: &str, rate: f64, width: f64) {
    let made = sound_of(rate, width);
    let path = folder.join(name);
    sound::write_wav(
        path,
        &made.samples,
        made.sample_rate_hz,
        1,
        WavFormat::Int16,
    )
    .expect("written");
}

fn page(folder: &Path, line: &[&str]) -> String {
    let line = [&["report", "--replace", "--out", "page.html"][..], line].concat();
    let output = evenwave(folder, &line);
    assert_eq!(status(&output), 0, "{line:?}: {}", told(&output));
    fs::read_to_string(folder.join("page.html")).expect("written")
}

#[test]
fn a_recording_has_its_measures_and_its_trace_on_the_page() {
    let folder = folder("report_take");
    write(&folder, "<b>&.wav", 5.5, 40.0);
    let page = page(&folder, &["--instrument", "cello", "take", "<b>&.wav"]);
    assert!(page.contains("Recording &lt;b&gt;&amp;.wav") && !page.contains("<b>"));
    assert!(
        page.contains("2 notes, 1 with vibrato, 1 straight."),
        "{page}"
    );
    // The rate within 0.5 % of what was made.
    assert!(page.contains(">5.5") || page.contains(">5.4"), "{page}");
    assert!(page.contains("class=\"pen\"") && page.contains("Trace from 0 to 4 s"));
    assert!(page.contains("lang=\"en\"") && page.contains("numbness"));
    // What is there stays.
    let before = fs::read(folder.join("page.html")).expect("there");
    let output = evenwave(&folder, &["report", "-o", "page.html", "take", "<b>&.wav"]);
    assert_eq!(status(&output), 1);
    assert!(told(&output).contains("--replace"), "{}", told(&output));
    let output = evenwave(
        &folder,
        &["report", "--replace", "-o", "page.html", "take", "gone.wav"],
    );
    assert_eq!(status(&output), 1);
    assert_eq!(fs::read(folder.join("page.html")).expect("there"), before);
}

#[test]
fn a_lesson_says_what_differs_and_the_way_there() {
    let folder = folder("report_lesson");
    write(&folder, "model.wav", 5.5, 40.0);
    write(&folder, "one.wav", 4.5, 24.0);
    write(&folder, "two.wav", 5.2, 36.0);
    let page = page(&folder, &["lesson", "model.wav", "one.wav", "two.wav"]);
    let words = evenwave(&folder, &["compare", "--json", "model.wav", "one.wav"]);
    let compared: serde_json::Value = serde_json::from_slice(&words.stdout).expect("JSON");
    let first = compared["words"][0].as_str().expect("words");
    assert!(page.contains(&format!("<li>{first}</li>")), "{first}");
    assert!(page.contains("The way from the first echo to the last"));
    assert!(page.contains("class=\"model\"") && page.contains("class=\"echo\""));
    assert!(page.contains("Echo 1") && page.contains("Echo 2"));
}

/// A journal of one take of someone who means no good, with or without its sound.
fn hostile_take(folder: &Path) -> TakeId {
    let made = sound_of(5.0, 30.0);
    write(folder, "take.wav", 5.0, 30.0);
    let journal = Journal::open(&folder.join("takes"))
        .expect("opened")
        .journal;
    let context = Context {
        player: HOSTILE.to_owned(),
        word: HOSTILE.to_owned(),
        device: HOSTILE.to_owned(),
        finger: Some(2),
        ..Context::default()
    };
    let mut take = journal.begin(&context, made.sample_rate_hz).expect("begun");
    take.sound(&made.samples).expect("written");
    let wanted = evenwave::commands::measure::Wanted::whole(vibrato::Settings::default());
    let path = folder.join("take.wav");
    let measured =
        evenwave::commands::measure::measure_file(&path, &wanted, &mut |_, _| {}, &mut |_| {});
    for note in measured.expect("measured").notes {
        take.note(&note).expect("written");
    }
    take.finish().expect("finished").id
}

#[test]
fn a_take_and_weeks_of_anyone_are_pages_that_run_and_fetch_nothing() {
    let folder = folder("report_hostile");
    let id = hostile_take(&folder);
    let name = id.to_string();
    let of_take = page(&folder, &["--journal", "takes", "take", &name]);
    let by_folder = page(&folder, &["take", &format!("takes/{name}")]);
    assert_eq!(of_take, by_folder);
    let of_weeks = page(
        &folder,
        &["--journal", "takes", "weeks", "--player", HOSTILE],
    );
    for page in [&of_take, &of_weeks] {
        assert!(!page.contains("<script") && !page.contains("<svg onload"));
        assert_eq!(
            page.matches("</title>").count() - 1,
            page.matches("role=\"img\"").count()
        );
        assert!(page.contains("&lt;script&gt;alert(1)"));
        assert!(page.contains("default-src 'none'"));
    }
    assert!(of_weeks.contains("1 take in 1 week"), "{of_weeks}");
    // The measures stay when the sound is gone.
    let take = folder.join("takes").join(&name);
    fs::remove_file(take.join("sound.flac")).expect("there");
    let without = page(&folder, &["--journal", "takes", "take", &name]);
    assert!(without.contains("sound.flac") && !without.contains("class=\"pen\""));
    assert!(without.contains("Measures"));
    let output = evenwave(
        &folder,
        &[
            "report",
            "-o",
            "x.html",
            "--journal",
            "takes",
            "weeks",
            "--player",
            "nobody",
        ],
    );
    assert_eq!(status(&output), 1);
    assert!(!folder.join("x.html").exists());
}
