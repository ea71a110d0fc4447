//! The program seen from outside: what it prints, where, and its exit status.

use std::path::Path;

use crate::common::{
    done, evenwave, fails, folder, objects, printed, program, status, told, two_notes,
};
use serde_json::Value;
use sound::WavFormat;
use tone::Spec;

/// What the made notes are played on.
const CELLO: &str = "--instrument=cello";

/// [`two_notes`] with 5.5 Hz and 40 cents, 44 100 times a second, written as `name`.
fn write_two_notes(folder: &Path, name: &str) {
    let spec = Spec { sample_rate_hz: 44_100, ..two_notes(5.5, 40.0) };
    let sound = spec.render().expect("a plain specification");
    sound::write_wav(folder.join(name), &sound.samples, sound.sample_rate_hz, 1, WavFormat::Int16)
        .expect("the folder is writable");
}

/// A WAV header as its fields say, and whatever follows it.
fn wav(channels: u16, bits: u16, format: u16, stated: u32, data: &[u8]) -> Vec<u8> {
    let block = channels * bits / 8;
    let mut bytes = Vec::new();
    bytes.extend(b"RIFF");
    bytes.extend((36 + stated).to_le_bytes());
    bytes.extend(b"WAVEfmt ");
    bytes.extend(16_u32.to_le_bytes());
    bytes.extend(format.to_le_bytes());
    bytes.extend(channels.to_le_bytes());
    bytes.extend(48_000_u32.to_le_bytes());
    bytes.extend((48_000 * u32::from(block)).to_le_bytes());
    bytes.extend(block.to_le_bytes());
    bytes.extend(bits.to_le_bytes());
    bytes.extend(b"data");
    bytes.extend(stated.to_le_bytes());
    bytes.extend(data);
    bytes
}

fn float_wav(samples: impl Iterator<Item = f32>) -> Vec<u8> {
    let data: Vec<u8> = samples.flat_map(f32::to_le_bytes).collect();
    wav(1, 32, 3, data.len() as u32, &data)
}

#[test]
fn two_notes_are_measured_as_they_were_made() {
    let folder = folder("two_notes");
    write_two_notes(&folder, "two.wav");
    let sounds = objects(&done(&folder, &["measure", "--json", CELLO, "two.wav"]));
    assert_eq!(sounds.len(), 1);
    let sound = &sounds[0];
    assert_eq!(sound["schema"], "evenwave.measures/2");
    assert_eq!(sound["file"], "two.wav");
    assert_eq!(sound["sample_rate_hz"], 44_100);
    let secs = sound["duration_s"].as_f64().expect("known");
    assert!((secs - 4.1).abs() < 0.01, "{secs} s");

    let notes = sound["notes"].as_array().expect("a list");
    assert_eq!(notes.len(), 2, "{notes:#?}");
    assert!(notes[0]["vibrato"].is_null() && notes[0]["straight"] == true);
    assert_eq!(notes[1]["name"], "A3");
    assert_eq!(notes[1]["midi"], 57);
    let vibrato = &notes[1]["vibrato"];
    let near = |value: &Value, truth: f64, tolerance: f64| {
        let value = value.as_f64().expect("a number");
        assert!((value - truth).abs() <= tolerance, "{value}, not {truth} ± {tolerance}");
    };
    // The bars of the main figures: rate 0.5 %, width 1 cent or 2 %, centre 1 cent.
    near(&vibrato["rate_hz"], 5.5, 0.0275);
    near(&vibrato["width_cents"], 40.0, 1.0);
    near(&vibrato["centre_cents"], 0.0, 1.0);
    near(&notes[1]["f0_hz"], 220.0, 0.13);
    near(&notes[1]["start_s"], 1.8, 0.06);
    near(&notes[1]["end_s"], 3.6, 0.06);
    let oscillations = vibrato["oscillations"].as_array().expect("a list");
    assert!((8..=10).contains(&oscillations.len()), "{oscillations:?}");
    for oscillation in oscillations {
        near(&oscillation["period_s"], 1.0 / 5.5, 0.02);
    }
}

#[test]
fn without_an_instrument_the_same_notes_are_heard_in_the_same_octave() {
    let folder = folder("any_instrument");
    write_two_notes(&folder, "two.wav");
    let sound = &objects(&evenwave(&folder, &["measure", "--json", "two.wav"]))[0];
    let notes = sound["notes"].as_array().expect("a list");
    let names: Vec<&Value> = notes.iter().map(|note| &note["name"]).collect();
    assert_eq!(names, ["A3", "A3"]);
}

#[test]
fn a_part_of_a_file_keeps_the_times_of_the_file() {
    let folder = folder("part");
    write_two_notes(&folder, "two.wav");
    let line = ["measure", "--json", CELLO, "--from", "1.65", "--to", "3", "two.wav"];
    let output = done(&folder, &line);
    let sound = &objects(&output)[0];
    let notes = sound["notes"].as_array().expect("a list");
    assert_eq!(notes.len(), 1, "{notes:?}");
    let at = |field: &str| notes[0][field].as_f64().expect("a number");
    assert!((at("start_s") - 1.8).abs() < 0.06, "{}", at("start_s"));
    assert!((at("end_s") - 3.0).abs() < 0.06, "{}", at("end_s"));
    let first =
        notes[0]["vibrato"]["oscillations"][0]["start_s"].as_f64().expect("there are oscillations");
    assert!((1.75..2.2).contains(&first), "{first}");

    fails(&folder, &["measure", "--from", "60", "two.wav"], 1, "ends after 4.1");
}

#[test]
fn frames_are_written_200_a_second_beside_the_table() {
    let folder = folder("frames");
    write_two_notes(&folder, "two.wav");
    let output = done(&folder, &["measure", "--frames", "frames.csv", "two.wav"]);
    assert!(printed(&output).contains("A3"), "{}", printed(&output));
    let text = std::fs::read_to_string(folder.join("frames.csv")).expect("written");
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("time_s,f0_hz,confidence,level_dbfs"));
    let cell = |text: &str| (!text.is_empty()).then(|| text.parse::<f64>().expect("a number"));
    let rows: Vec<Vec<Option<f64>>> = lines.map(|row| row.split(',').map(cell).collect()).collect();
    let time = |row: &[Option<f64>]| row[0].expect("each frame has a time");
    assert!((810..=821).contains(&rows.len()), "{} rows in 4.1 s", rows.len());
    assert!(rows.windows(2).all(|pair| (time(&pair[1]) - time(&pair[0]) - 0.005).abs() < 1e-9));
    let inside = rows.iter().filter(|row| (0.5..1.4).contains(&time(row)));
    for row in inside {
        assert!(row[1].is_some_and(|f0| (f0 - 220.0).abs() < 1.0), "{row:?}");
        assert!(row[2].is_some_and(|confidence| confidence > 0.5), "{row:?}");
    }
    let silent = rows.iter().filter(|row| time(row) < 0.2);
    for row in silent {
        assert_eq!(row[1..3], [None, None], "unknown is empty and never 0: {row:?}");
    }
}

#[test]
fn csv_has_a_row_a_note_under_one_head_for_all_files() {
    let folder = folder("csv");
    write_two_notes(&folder, "a.wav");
    write_two_notes(&folder, "b.wav");
    let text = printed(&done(&folder, &["measure", "--csv", CELLO, "a.wav", "b.wav"]));
    let files: Vec<&str> =
        text.lines().map(|row| row.split(',').next().expect("a first field")).collect();
    assert_eq!(files, ["file", "a.wav", "a.wav", "b.wav", "b.wav"]);
}

#[test]
fn bad_files_are_told_in_words_and_the_others_are_done() {
    let folder = folder("bad_files");
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.join(name), bytes).expect(name);
    write("empty.wav", b"");
    write("letter.wav", b"Dear cellist,\nplease practise slowly.\n");
    write("header.wav", &wav(1, 16, 1, 0, b"")[..20]);
    write("nochannel.wav", &wav(0, 16, 1, 400, &[0; 400]));
    std::fs::create_dir(folder.join("folder.wav")).expect("writable");
    write_two_notes(&folder, "good.wav");
    let bad = [
        ("empty.wav", "empty"),
        ("letter.wav", "no sound file"),
        ("header.wav", "header.wav"),
        ("nochannel.wav", "0 channels"),
        ("folder.wav", "folder"),
        ("missing.wav", "no such file"),
    ];
    let mut line = vec!["measure", "--json", CELLO];
    line.extend(bad.iter().map(|(name, _)| *name));
    line.insert(5, "good.wav");
    let output = evenwave(&folder, &line);
    assert_eq!(status(&output), 1);
    let sounds = objects(&output);
    assert_eq!(sounds.len(), 1, "only the good file is measured");
    assert_eq!(sounds[0]["notes"].as_array().expect("a list").len(), 2);
    let told = told(&output);
    assert!(!told.contains("panicked"), "{told}");
    for (name, words) in bad {
        let about = told
            .lines()
            .find(|words| words.ends_with(name))
            .unwrap_or_else(|| panic!("nothing is said of {name}:\n{told}"));
        assert!(about.contains(words), "{about}");
    }
    assert!(told.contains("5 of 6 files"), "{told}");
}

#[cfg(unix)]
#[test]
fn a_file_that_must_not_be_read_is_told_so() {
    use std::os::unix::fs::PermissionsExt;

    let folder = folder("no_permission");
    write_two_notes(&folder, "secret.wav");
    let path = folder.join("secret.wav");
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o000)).expect("it is ours");
    if std::fs::File::open(&path).is_ok() {
        eprintln!("skipped: this user may read everything");
        return;
    }
    let output = evenwave(&folder, &["measure", "secret.wav"]);
    assert_eq!(status(&output), 1);
    assert!(told(&output).contains("permission"), "{}", told(&output));
}

#[test]
fn a_cut_file_is_measured_as_far_as_it_goes_and_said_to_be_cut() {
    let folder = folder("cut");
    write_two_notes(&folder, "whole.wav");
    let whole = std::fs::read(folder.join("whole.wav")).expect("just written");
    // Cut inside the second note, at 3 s.
    let length = 44 + 3 * 44_100 * 2 + 1;
    std::fs::write(folder.join("cut.wav"), &whole[..length]).expect("writable");
    let output = done(&folder, &["measure", "--json", CELLO, "cut.wav"]);
    let sound = &objects(&output)[0];
    assert_eq!(sound["notes"].as_array().expect("a list").len(), 2);
    let remarks = sound["remarks"].to_string();
    assert!(remarks.contains("3.0 s of 4.1 s"), "{remarks}");
    assert!(told(&output).contains("cut off"), "{}", told(&output));
}

#[test]
fn samples_that_are_no_numbers_are_taken_as_silence_and_told() {
    let folder = folder("nan");
    let odd = [f32::NAN, f32::INFINITY, f32::NEG_INFINITY, f32::MAX, -0.0];
    let samples = (0..48_000).map(|n| odd[n % odd.len()]);
    std::fs::write(folder.join("nan.wav"), float_wav(samples)).expect("writable");
    let output = done(&folder, &["measure", "--json", "--frames", "f.csv", "nan.wav"]);
    let sound = &objects(&output)[0];
    assert_eq!(sound["notes"].as_array().expect("a list").len(), 0);
    assert!(sound["remarks"].to_string().contains("not numbers"), "{sound}");
    let frames = std::fs::read_to_string(folder.join("f.csv")).expect("written");
    assert!(!frames.contains("NaN") && !frames.contains("inf"), "{frames}");
}

#[test]
fn wrong_usage_has_status_2_and_says_what_would_be_right() {
    let folder = folder("usage");
    write_two_notes(&folder, "two.wav");
    for (line, words) in [
        (&["measure"][..], "FILE"),
        (&["measure", "--a4", "500", "two.wav"], "392 to 466 Hz"),
        (&["measure", "--from", "3", "--to", "2", "two.wav"], "--to 2"),
        (&["measure", "--frames", "f.csv", "two.wav", "other.wav"], "only one"),
        (&["measure", "--instrument", "kazoo", "two.wav"], "double-bass"),
        (&["measure", "--json", "--csv", "two.wav"], "cannot be used with"),
        (&["practise", "--demo", "waltz"], "four-fingers"),
        (&["hear", "--seconds", "soon"], "no number"),
        (&["juggle"], "juggle"),
    ] {
        let output = fails(&folder, line, 2, words);
        assert!(output.stdout.is_empty(), "{line:?}: {}", printed(&output));
    }
    assert!(!folder.join("f.csv").exists(), "nothing is written on wrong usage");
}

#[test]
fn a_channel_can_be_chosen_and_a_missing_one_is_told() {
    let folder = folder("channel");
    write_two_notes(&folder, "two.wav");
    fails(&folder, &["measure", "--channel", "2", "two.wav"], 1, "no channel 2");
    assert_eq!(status(&evenwave(&folder, &["measure", "--channel", "1", "two.wav"])), 0);
}

#[test]
fn tuning_and_naming_change_the_cents_and_the_names_alone() {
    let folder = folder("tuning");
    write_two_notes(&folder, "two.wav");
    let line = ["measure", "--json", "--a4", "442", "--names", "german", "two.wav"];
    let note = objects(&evenwave(&folder, &line))[0]["notes"][1].clone();
    assert_eq!(note["name"], "a");
    assert_eq!(note["reference_hz"], 221.0);
    // 440 Hz lies 7.85 cents below 442 Hz: 1200 · log2(440 / 442).
    let offset = note["offset_cents"].as_f64().expect("a number");
    assert!((offset + 7.85).abs() < 1.0, "{offset}");
    let f0 = note["f0_hz"].as_f64().expect("a number");
    assert!((f0 - 220.0).abs() < 0.13, "{f0}");
}

#[test]
fn tone_writes_what_measure_finds_and_refuses_what_it_cannot_play() {
    let folder = folder("tone");
    let spec = "(lines: [(notes: [(start: 0.2, length: 1.5, f0: 110.0,
        vibrato: Some((rate: 6.0, width: 30.0)))])])";
    std::fs::write(folder.join("spec.ron"), spec).expect("writable");
    let line = ["tone", "spec.ron", "-o", "out.wav", "--truth", "out.csv"];
    done(&folder, &line);
    let truth = std::fs::read_to_string(folder.join("out.csv")).expect("written");
    assert!(truth.lines().count() > 400, "a row each 5 ms");
    let note = objects(&evenwave(&folder, &["measure", "--json", CELLO, "out.wav"]))[0]["notes"][0]
        .clone();
    let rate = note["vibrato"]["rate_hz"].as_f64().expect("vibrato is found");
    assert!((rate - 6.0).abs() < 0.05, "{rate}");

    std::fs::write(folder.join("wrong.ron"), spec.replace("1.5", "-1.5")).expect("writable");
    let output = evenwave(&folder, &["tone", "wrong.ron", "-o", "never.wav"]);
    assert_eq!(status(&output), 1);
    assert!(told(&output).trim_end().ends_with("wrong.ron"), "{}", told(&output));
    assert!(!folder.join("never.wav").exists());
}

#[cfg(target_os = "linux")]
#[test]
fn without_a_display_the_demo_session_is_measured_instead() {
    let folder = folder("no_display");
    let output = program(&folder, &["practise", "--demo", "four-fingers"])
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .expect("the program starts");
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert!(told(&output).contains("demo session four-fingers"), "{}", told(&output));
    let text = printed(&output);
    // All nine notes of the session, five of them with vibrato.
    for (name, count) in [("E3", 2), ("F3", 2), ("F♯3", 2), ("G3", 3)] {
        let found = text.lines().filter(|line| line.split_whitespace().nth(2) == Some(name));
        assert_eq!(found.count(), count, "{name}:\n{text}");
    }
}

#[test]
fn completions_name_the_commands() {
    let folder = folder("completions");
    for shell in ["bash", "zsh", "fish", "powershell", "elvish"] {
        let output = evenwave(&folder, &["completions", shell]);
        assert_eq!(status(&output), 0);
        assert!(printed(&output).contains("measure"), "{shell}");
    }
}

#[test]
fn help_shows_examples() {
    let folder = folder("help");
    for line in [&["--help"][..], &["measure", "--help"], &["hear", "--help"], &["tone", "--help"]]
    {
        let output = evenwave(&folder, line);
        assert_eq!(status(&output), 0);
        assert!(printed(&output).contains("Example"), "{line:?}");
    }
}

#[cfg(unix)]
#[test]
fn a_reader_that_has_seen_enough_is_no_error() {
    use std::process::Stdio;

    let folder = folder("pipe");
    write_two_notes(&folder, "two.wav");
    let mut child = program(&folder, &["measure", "--json", "two.wav"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stdout.take());
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(status(&output), 0, "{}", told(&output));
    assert!(output.stderr.is_empty(), "{}", told(&output));
}
