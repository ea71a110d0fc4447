//! What a hand may write or name by mistake, or in bad faith: nothing is lost, and it is told in words.

use std::fs;
use std::path::Path;

use crate::common::{done, evenwave, fails, folder, printed, program, status, told, write_sound};

const SPEC: &str = "(lines: [(notes: [(start: 0.3, length: 1.5, f0: 220.0)])])";

/// A recording and the specification it was made by.
fn made(folder: &Path) {
    fs::write(folder.join("a.ron"), SPEC).expect("written");
    done(folder, &["tone", "a.ron", "-o", "a.wav"]);
}

/// The line fails in words that hold these, and the file stays as it was.
fn keeps(folder: &Path, file: &str, line: &[&str], words: &str) {
    let before = fs::read(folder.join(file)).expect("there");
    let output = evenwave(folder, line);
    let said = told(&output);
    assert!(matches!(output.status.code(), Some(1 | 2)), "{line:?}: {said}");
    assert!(said.contains(words), "{line:?}: {said}");
    assert!(fs::read(folder.join(file)).expect("there") == before, "{line:?}");
}

#[test]
fn what_is_read_is_not_written_over() {
    let folder = folder("hostile_outputs");
    made(&folder);
    fs::copy(folder.join("a.wav"), folder.join("b.wav")).expect("room");
    fs::write(folder.join("notes.txt"), "my own words").expect("written");
    fs::hard_link(folder.join("a.wav"), folder.join("c.wav")).expect("on one disk");
    let frames = |out: &'static str| ["measure", "--frames", out, "a.wav"];
    keeps(&folder, "a.wav", &frames("a.wav"), "though it is read");
    keeps(&folder, "a.wav", &frames("./a.wav"), "though it is read");
    keeps(&folder, "c.wav", &frames("c.wav"), "though it is read");
    keeps(&folder, "b.wav", &frames("b.wav"), "no table of frames");
    keeps(&folder, "notes.txt", &frames("notes.txt"), "no table");
    let tone = |out: &'static str| ["tone", "a.ron", "-o", out];
    keeps(&folder, "a.ron", &tone("a.ron"), "though it is read");
    keeps(&folder, "notes.txt", &tone("notes.txt"), "no WAV file");
    let both = ["tone", "a.ron", "-o", "b.wav", "--truth", "b.wav"];
    keeps(&folder, "b.wav", &both, "the same file");
    let truth = ["tone", "a.ron", "-o", "d.wav", "--truth", "b.wav"];
    keeps(&folder, "b.wav", &truth, "no table");
    let report = ["report", "--replace", "-o", "a.wav", "take", "a.wav"];
    keeps(&folder, "a.wav", &report, "no page");
    // What a command itself has written, it may write anew.
    for line in [
        &["measure", "--frames", "f.csv", "a.wav"][..],
        &["tone", "a.ron", "--replace", "-o", "b.wav", "--truth", "t.csv"],
        &["report", "--replace", "-o", "p.html", "take", "a.wav"],
    ] {
        for _ in 0..2 {
            done(&folder, line);
        }
    }
}

#[cfg(unix)]
#[test]
fn files_beside_what_is_written_stay_and_so_does_a_recording_of_ones_own() {
    let folder = folder("hostile_beside");
    made(&folder);
    let id = with_a_spoilt_take(&folder, |_| ());
    let journal = ["journal", "--journal", "takes"];
    let sound = |out: &'static str| [&journal[..], &["sound", &id, out]].concat();
    for (line, out) in [
        ([&journal[..], &["export", "x.zip"]].concat(), "x.zip"),
        (sound("x.wav"), "x.wav"),
        (sound("x.flac"), "x.flac"),
        (vec!["report", "-o", "p.html", "take", "a.wav"], "p.html"),
        (vec!["tone", "a.ron", "-o", "b.wav", "--truth", "t.csv"], "b.wav"),
    ] {
        let beside = format!("{out}.new");
        fs::write(folder.join(&beside), "mine").expect("written");
        done(&folder, &line);
        assert!(folder.join(out).is_file(), "{line:?}");
        assert_eq!(fs::read(folder.join(&beside)).expect("there"), b"mine", "{line:?}");
    }
    fs::write(folder.join("b.txt.new"), "mine").expect("written");
    keeps(&folder, "b.txt.new", &sound("b.txt"), ".wav or .flac");
    fs::copy(folder.join("a.wav"), folder.join("mine.wav")).expect("room");
    fs::write(folder.join("quiet.ron"), SPEC.replace("1.5", "1.2")).expect("written");
    let tone = ["tone", "quiet.ron", "-o", "mine.wav"];
    keeps(&folder, "mine.wav", &tone, "say --replace");
    let truth = ["tone", "quiet.ron", "-o", "new.wav", "--truth", "t.csv"];
    keeps(&folder, "t.csv", &truth, "say --replace");
    assert!(!folder.join("new.wav").exists());
}

#[cfg(unix)]
#[test]
fn a_copy_that_finds_no_room_is_told_in_one_sentence_and_nothing_of_it_stays() {
    let folder = folder("hostile_no_room");
    with_a_spoilt_take(&folder, |_| ());
    for out in ["out.zip", "out"] {
        // Files may have 512 bytes at most; the system says so and does not end the program.
        let line = format!(
            "trap '' XFSZ; ulimit -f 1; exec '{}' journal --journal takes export {out}",
            env!("CARGO_BIN_EXE_evenwave")
        );
        let mut limited = std::process::Command::new("sh");
        let output = limited.args(["-c", &line]).current_dir(&folder).output().expect("a shell");
        let said = told(&output);
        assert_eq!(status(&output), 1, "{said}");
        assert!(said.starts_with("evenwave: ") && said.lines().count() == 1, "{said}");
        assert_eq!(fs::read_dir(&folder).expect("there").count(), 1, "{out}: only the takes");
    }
}

/// Two takes of a second, the first of which is then spoilt.
#[cfg(unix)]
fn with_a_spoilt_take(folder: &Path, spoil: impl FnOnce(&Path)) -> String {
    let journal = journal::Journal::open(&folder.join("takes")).expect("opened").journal;
    let keep = || {
        let mut take = journal.begin(&journal::Context::default(), 48_000).expect("begun");
        take.sound(&[0.1; 4_800]).expect("written");
        take.finish().expect("finished").id.to_string()
    };
    let (first, _) = (keep(), keep());
    fs::remove_file(folder.join("takes/.index")).ok();
    spoil(&folder.join("takes").join(&first));
    first
}

#[cfg(unix)]
#[test]
fn a_pipe_in_place_of_a_file_is_told_and_not_waited_for() {
    let folder = folder("hostile_pipes");
    let pipe = |path: &Path| {
        fs::remove_file(path).ok();
        let made = std::process::Command::new("mkfifo").arg(path).status();
        assert!(made.is_ok_and(|status| status.success()), "{}", path.display());
    };
    let id = with_a_spoilt_take(&folder, |take| pipe(&take.join("take.ron")));
    for line in [&["verify"][..], &["show", &id], &["keep", &id], &["export", "out.zip"]] {
        let line = [&["journal", "--journal", "takes"][..], line].concat();
        let output = evenwave(&folder, &line);
        let said = told(&output) + &printed(&output);
        assert_eq!(status(&output), 1, "{line:?}: {said}");
        assert!(said.contains("cannot be read") || said.contains("no ordinary file"), "{said}");
    }
    for name in [".index", "tasks.ron"] {
        pipe(&folder.join("takes").join(name));
    }
    done(&folder, &["journal", "--journal", "takes", "list"]);
    pipe(&folder.join("in.zip"));
    let output = evenwave(&folder, &["journal", "--journal", "takes", "import", "in.zip"]);
    assert_eq!(status(&output), 1);
    assert!(told(&output).contains("in.zip"), "{}", told(&output));
}

#[cfg(unix)]
#[test]
fn what_a_copy_leaves_out_is_told_and_the_rest_is_there() {
    let folder = folder("hostile_export");
    with_a_spoilt_take(&folder, |take| {
        fs::write(take.join("take.ron"), "(version: 1").expect("written");
    });
    for place in ["out", "out.zip"] {
        let output = evenwave(&folder, &["journal", "--journal", "takes", "export", place]);
        let said = told(&output);
        assert_eq!(status(&output), 1, "{said}");
        assert!(said.contains("1 take in the journal cannot be read"), "{said}");
        let line = ["journal", "--journal", "back", "import", place];
        done(&folder, &line);
    }
    let output = evenwave(&folder, &["journal", "--journal", "back", "list"]);
    assert!(printed(&output).ends_with("1 of 1 take\n"));
}

#[cfg(all(target_os = "linux", feature = "window"))]
#[test]
fn a_command_leaves_settings_that_cannot_be_understood_where_they_are() {
    let folder = folder("hostile_settings");
    let home = folder.join("home");
    let run = |line: &[&str]| {
        program(&folder, line)
            .env("HOME", &home)
            .env("XDG_CONFIG_HOME", home.join("config"))
            .env("XDG_DATA_HOME", home.join("data"))
            .output()
            .expect("the program starts")
    };
    let settings = home.join("config/evenwave/settings.ron");
    fs::create_dir_all(settings.parent().expect("it has one")).expect("writable");
    fs::create_dir_all(home.join("data/evenwave/takes")).expect("writable");
    fs::write(&settings, "(journal: Some(\"elsewhere\"), a4_hz: 9000.0)").expect("written");
    for line in [
        &["journal", "list"][..],
        &["journal", "erase", "Mira", "--for-good"],
        &["report", "-o", "p.html", "weeks"],
    ] {
        let output = run(line);
        let said = told(&output);
        assert_eq!(status(&output), 1, "{line:?}: {said}");
        assert!(said.contains("--journal") && said.contains("9000"), "{said}");
    }
    let kept = fs::read_to_string(&settings).expect("it is not moved");
    assert!(kept.contains("9000"));
    let output = run(&["journal", "--journal", "home/data/evenwave/takes", "list"]);
    assert_eq!(status(&output), 0, "{}", told(&output));
    fs::remove_file(&settings).expect("there");
    let output = run(&["journal", "list"]);
    assert_eq!(status(&output), 0, "{}", told(&output));
}

#[cfg(unix)]
#[test]
fn a_name_commands_no_terminal() {
    use std::ffi::OsStr;
    use std::os::unix::ffi::OsStrExt;
    let folder = folder("hostile_names");
    made(&folder);
    let name = OsStr::from_bytes(b"a\x1b[31m\nb\xff.wav");
    fs::copy(folder.join("a.wav"), folder.join(name)).expect("room");
    fs::write(folder.join("bad\u{1b}.wav"), "no sound").expect("written");
    for line in [&["measure"][..], &["compare", "a.wav"], &["drill", "one-finger"]] {
        for file in [name, OsStr::new("bad\u{1b}.wav"), OsStr::new("gone\u{7}.wav")] {
            let output = program(&folder, line).arg(file).output().expect("the program starts");
            let said = [output.stdout, output.stderr].concat();
            let obeyed = |byte: &&u8| **byte < 32 && **byte != b'\n';
            assert_eq!(said.iter().find(obeyed), None, "{line:?} {file:?}");
        }
    }
}

#[cfg(unix)]
#[test]
fn signs_that_are_not_seen_are_shown_as_escapes_and_come_back_from_json() {
    let folder = folder("hostile_signs");
    made(&folder);
    let name = "ab\u{202e}c\u{9b}d\u{7f}e\u{2067}.wav";
    fs::copy(folder.join("a.wav"), folder.join(name)).expect("room");
    fs::write(folder.join("no\u{202e}.wav"), "no sound").expect("written");
    for line in
        [&["measure", name][..], &["measure", "no\u{202e}.wav"], &["measure", "--json", name]]
    {
        let output = evenwave(&folder, line);
        let said = told(&output) + &printed(&output);
        let raw =
            |sign: char| sign != '\n' && (sign.is_control() || "\u{202e}\u{2067}".contains(sign));
        assert!(!said.contains(raw), "{line:?}: {said:?}");
        assert!(said.contains("202e"), "{line:?}: {said:?}");
    }
    let record = &crate::common::objects(&done(&folder, &["measure", "--json", name]))[0];
    assert_eq!(record["file"], name);
}

/// Every cell of a CSV as a spreadsheet would take it.
fn cells(output: &std::process::Output) -> Vec<String> {
    let text = printed(output);
    let rows =
        csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes()).into_records();
    rows.flat_map(|row| row.expect("a row").iter().map(str::to_owned).collect::<Vec<_>>()).collect()
}

#[test]
fn a_spreadsheet_has_nothing_to_compute_in_a_csv() {
    let folder = folder("hostile_formulas");
    made(&folder);
    let takes = journal::Journal::open(&folder.join("takes")).expect("opened").journal;
    let formulas = ["=cmd|' /C calc'!A1", "+1+cmd|x", "-2+3+cmd|x", "@SUM(1+1)", "\t=1+1"];
    for formula in formulas {
        let context = journal::Context {
            player: formula.to_owned(),
            passage: Some(formula.to_owned()),
            ..journal::Context::default()
        };
        let mut take = takes.begin(&context, 48_000).expect("begun");
        take.sound(&[0.1; 4_800]).expect("written");
        let id = take.finish().expect("finished").id;
        takes.label(&id, journal::Label::Word(formula.to_owned())).expect("labelled");
        let name = format!("{}.wav", formula.replace('/', "_"));
        fs::copy(folder.join("a.wav"), folder.join(name)).expect("room");
    }
    drop(takes);
    let mut found = cells(&done(&folder, &["journal", "--journal", "takes", "list", "--csv"]));
    for formula in formulas {
        let cell = format!("'{formula}");
        assert_eq!(found.iter().filter(|text| **text == cell).count(), 3, "{found:?}");
        let name = format!("{}.wav", formula.replace('/', "_"));
        // As a wildcard of the shell would name it: some begin like an option.
        found.extend(cells(&done(&folder, &["measure", "--csv", "--", &name])));
    }
    for cell in found {
        let computed = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
        assert!(!computed || cell.parse::<f64>().is_ok(), "{cell}");
    }
}

#[cfg(unix)]
#[test]
fn a_folder_that_must_not_be_looked_into_is_told_so() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let folder = folder("hostile_permission");
    made(&folder);
    for name in ["closed", "both/open", "both/closed"] {
        fs::create_dir_all(folder.join(name)).expect("made");
        fs::copy(folder.join("a.wav"), folder.join(name).join("a.wav")).expect("room");
    }
    let mode = |name: &str, mode| {
        fs::set_permissions(folder.join(name), fs::Permissions::from_mode(mode)).expect("ours");
    };
    let run = |line: &[&str]| {
        let mut program = program(&folder, line);
        // The superuser may look into every folder; 65534 is nobody.
        if fs::metadata("/proc/self")
            .is_ok_and(|about| std::os::unix::fs::MetadataExt::uid(&about) == 0)
        {
            program.uid(65_534).gid(65_534);
        }
        program.output()
    };
    for name in ["closed", "both/closed"] {
        mode(name, 0o000);
    }
    let told_of = ["closed", "both"].map(|name| run(&["measure", name]));
    for name in ["closed", "both/closed"] {
        mode(name, 0o755);
    }
    for output in told_of {
        // Where nobody may run the program, nothing is shown.
        let Ok(output) = output else { return };
        let said = told(&output);
        assert_eq!(status(&output), 1, "{said}");
        assert!(said.contains("no permission to look into this folder"), "{said}");
        assert!(!said.contains("no sound file") && !said.contains("os error"), "{said}");
    }
}

#[test]
fn a_folder_without_takes_is_no_import() {
    let folder = folder("hostile_import");
    fs::create_dir(folder.join("holiday")).expect("made");
    fs::write(folder.join("holiday/letter.txt"), "no take").expect("written");
    fs::create_dir(folder.join("empty")).expect("made");
    for from in ["holiday", "empty"] {
        let output = evenwave(&folder, &["journal", "--journal", "takes", "import", from]);
        assert_eq!(status(&output), 1, "{}", told(&output));
        assert!(told(&output).contains("no take lies there"), "{}", told(&output));
    }
}

#[test]
fn what_is_wrong_in_a_text_is_told_with_a_remedy() {
    let folder = folder("hostile_texts");
    fs::write(folder.join("bad.ron"), "(lines: [\n(notes: 5)])").expect("written");
    let output = evenwave(&folder, &["tone", "bad.ron", "-o", "x.wav"]);
    let said = told(&output);
    assert_eq!(status(&output), 1, "{said}");
    assert!(said.contains("line 2") && said.contains("mend that place"), "{said}");
    assert!(said.trim_end().ends_with("bad.ron"), "{said}");
    let journal = journal::Journal::open(&folder.join("takes")).expect("opened").journal;
    let mut take = journal.begin(&journal::Context::default(), 48_000).expect("begun");
    take.sound(&[0.1; 4_800]).expect("written");
    let id = take.finish().expect("finished").id.to_string();
    drop(journal);
    fs::write(folder.join("takes").join(&id).join("take.ron"), "(version: 1, ").expect("there");
    let output = evenwave(&folder, &["journal", "--journal", "takes", "show", &id]);
    assert!(told(&output).contains("mend that place"), "{}", told(&output));
}

/// How the program ends, within some seconds.
#[cfg(unix)]
fn ends(folder: &Path, line: &[&str]) -> std::process::Output {
    use std::time::{Duration, Instant};
    let piped = std::process::Stdio::piped;
    let mut child =
        program(folder, line).stdout(piped()).stderr(piped()).spawn().expect("it starts");
    let end = Instant::now() + Duration::from_secs(20);
    while child.try_wait().expect("asked").is_none() {
        if Instant::now() > end {
            child.kill().expect("ours");
            panic!("{line:?} does not end");
        }
        std::thread::sleep(Duration::from_millis(5));
    }
    child.wait_with_output().expect("it has ended")
}

#[cfg(target_os = "linux")]
#[test]
fn what_has_no_end_or_is_no_file_is_told_and_not_waited_for() {
    let folder = folder("hostile_ends");
    made(&folder);
    for name in ["pipe.ron", "pipe.csv", "pipe.wav"] {
        let made = std::process::Command::new("mkfifo").arg(folder.join(name)).status();
        assert!(made.is_ok_and(|status| status.success()), "{name}");
    }
    fs::create_dir(folder.join("dir.ron")).expect("made");
    fs::create_dir(folder.join("dir.csv")).expect("made");
    fs::write(folder.join("long.ron"), vec![b' '; 5_000_000]).expect("room");
    std::os::unix::fs::symlink("/dev/zero", folder.join("zero.ron")).expect("linked");
    let before = fs::read_dir(&folder).expect("there").count();
    for odd in ["pipe.ron", "dir.ron", "long.ron", "zero.ron", "/dev/zero"] {
        let lines = [
            &["measure", "--instrument", odd, "a.wav"][..],
            &["tone", odd, "-o", "new.wav"],
            &["drill", odd, "a.wav"],
        ];
        // A name without an ending is no file of an instrument or a drill.
        for line in &lines[if odd.starts_with('/') { 1..2 } else { 0..3 }] {
            let output = ends(&folder, line);
            let said = told(&output);
            assert!(matches!(output.status.code(), Some(1 | 2)), "{line:?}: {said}");
            let why = ["no ordinary file", "too long", "directory"];
            assert!(why.iter().any(|why| said.contains(why)), "{line:?}: {said}");
        }
    }
    for odd in ["pipe.csv", "dir.csv", "/dev/full", "/dev/zero"] {
        let output = ends(&folder, &["measure", "--into", odd, "a.wav"]);
        assert_eq!(status(&output), 1, "{odd}: {}", told(&output));
        assert!(told(&output).contains("no ordinary file"), "{odd}: {}", told(&output));
        for line in [
            &["measure", "--frames", odd, "a.wav"][..],
            &["tone", "a.ron", "-o", "new.wav", "--truth", odd],
        ] {
            fs::remove_file(folder.join("new.wav")).ok();
            let output = ends(&folder, line);
            assert_eq!(status(&output), 1, "{line:?}: {}", told(&output));
            let why = ["no ordinary file", "there already"];
            assert!(why.iter().any(|why| told(&output).contains(why)), "{}", told(&output));
        }
    }
    let output = ends(&folder, &["measure", "pipe.wav", "/dev/zero"]);
    assert!(told(&output).contains("no ordinary file"), "{}", told(&output));
    fs::remove_file(folder.join("new.wav")).ok();
    assert_eq!(fs::read_dir(&folder).expect("there").count(), before, "nothing is left");
}

/// The program in so much address space, in KiB: its status and what it said. `None` if the system could not even load it.
#[cfg(target_os = "linux")]
fn in_space(folder: &Path, space_kib: u64, line: &str) -> Option<(i32, String)> {
    let program = env!("CARGO_BIN_EXE_evenwave");
    let line = format!("ulimit -v {space_kib} && exec '{program}' {line}");
    let mut shell = std::process::Command::new("sh");
    let output = shell.args(["-c", &line]).current_dir(folder).output().expect("a shell");
    // 127: its libraries do not fit; the loader says so itself, or is ended by a signal.
    let code = output.status.code().filter(|code| *code != 127)?;
    Some((code, told(&output)))
}

#[cfg(target_os = "linux")]
#[test]
fn where_memory_ends_a_command_ends_in_words_and_leaves_nothing_half_done() {
    let folder = folder("hostile_memory");
    // Making it takes some 100 MB.
    fs::write(
        folder.join("long.ron"),
        "(length: Some(25.0), lines: [(notes: [(start: 0.1, length: 0.9, f0: 220.0)])])",
    )
    .expect("written");
    let mut ended = Vec::new();
    for space_kib in (40_000..).step_by(6_000) {
        let Some((code, said)) = in_space(&folder, space_kib, "tone long.ron -o new.wav") else {
            assert!(ended.is_empty(), "loaded before, but not with {space_kib} KiB");
            continue;
        };
        ended.push(code);
        if code == 0 {
            break;
        }
        assert_eq!(code, 1, "{space_kib} KiB: {said}");
        assert!(said.starts_with("evenwave: the system has no more memory"), "{said}");
        assert_eq!(said.lines().count(), 1, "{said}");
        assert_eq!(fs::read_dir(&folder).expect("there").count(), 1, "{space_kib} KiB");
    }
    assert!(ended.len() > 10, "{ended:?}");
}

#[cfg(target_os = "linux")]
#[test]
fn twenty_thousand_files_are_measured_in_memory_that_does_not_grow_with_them() {
    const FILES: usize = 20_000;
    let folder = folder("hostile_many");
    let many = folder.join("many");
    fs::create_dir(&many).expect("made");
    write_sound(&folder.join("one.wav"), &[0.1]);
    for number in 0..FILES {
        let file = many.join(format!("{number}.wav"));
        fs::hard_link(folder.join("one.wav"), file).expect("a link");
    }
    let out = folder.join("all.json");
    let mut running = program(&folder, &["measure", "--json", "many"])
        .stdout(fs::File::create(&out).expect("room"))
        .spawn()
        .expect("it starts");
    // The most memory it has held, again and again until it ends.
    let mut most_kib: Vec<u64> = Vec::new();
    let about = format!("/proc/{}/status", running.id());
    while running.try_wait().expect("ours").is_none() {
        let about = fs::read_to_string(&about).unwrap_or_default();
        let line = about.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        most_kib
            .extend(line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<u64>().ok()));
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    assert!(running.wait().expect("ours").success());
    assert_eq!(fs::read_to_string(&out).expect("written").lines().count(), FILES);
    assert!(most_kib.len() > 20, "it was over before it could be looked at: {most_kib:?}");
    let (early, last) = (most_kib[most_kib.len() / 4], most_kib[most_kib.len() - 1]);
    assert!(last < early + 4_096, "{early} KiB after a quarter, {last} KiB at the end");
    // There is no take among them, and so nothing comes in.
    let import = ["journal", "--journal", "in", "import", "many"];
    fails(&folder, &import, 1, "no take lies there that could come in");
}
