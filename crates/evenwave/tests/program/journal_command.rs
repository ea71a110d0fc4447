//! `evenwave journal` seen from outside.

use std::fs;
use std::path::Path;
use std::process::Output;

use crate::common::{done, evenwave, fails, folder, objects, printed, status, told};
use journal::{Context, Fingering, Journal, LessonPart, Shelf, TakeId};
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Measures, Note, Quantity, Vibrato};

/// A name as someone might write it who means no good, or as it is.
const ODD: &str = "Zoë <script>alert(1)</script> \"&', ../\u{1b}[31m";

fn line<'a>(line: &[&'a str]) -> Vec<&'a str> {
    [&["journal", "--journal", "takes"][..], line].concat()
}

fn journal(folder: &Path, words: &[&str]) -> Output {
    evenwave(folder, &line(words))
}

/// The same where nothing may go wrong.
fn well(folder: &Path, words: &[&str]) -> Output {
    done(folder, &line(words))
}

/// The same where it must end with this status and these words.
fn refuses(folder: &Path, words: &[&str], due: i32, said: &str) {
    fails(folder, &line(words), due, said);
}

fn note(start: f64, rate: f64, width: f64) -> Note {
    let even = Vibrato::even(Hz(rate), Cents(width), Secs(start + 0.1), 1);
    let spread = Measures::default().with(Quantity::RateSpread, 4.0, Some(1.0));
    Note::plain(57, Hz(220.0), Secs(start), Secs(start + 1.0)).vibrated(Vibrato {
        centre: Measure::known(Cents(0.8), Cents(0.2)),
        others: spread.with(Quantity::WidthSpread, 6.0, Some(1.0)),
        onset: Measure::known(Secs(0.1), Secs(0.02)),
        ..even
    })
}

/// A take of two notes, played by the second and the third finger.
fn record(journal: &Journal, player: &str, drill: Option<&str>) -> TakeId {
    let drill = drill.map(str::to_owned);
    record_as(journal, Context { player: player.to_owned(), drill, ..Context::default() })
}

fn record_as(journal: &Journal, context: Context) -> TakeId {
    let context = Context { instrument: Some("cello".to_owned()), ..context };
    let mut take = journal.begin(&context, 48_000).expect("begun");
    let samples: Vec<f32> = (0..96_000).map(|n| (n as f32 * 0.03).sin() * 0.3).collect();
    take.sound(&samples).expect("written");
    for (start, finger, rate) in [(0.0, 2, 5.0), (1.0, 3, 6.0)] {
        let by = Fingering { finger: Some(finger), string: None };
        take.note_by(&note(start, rate, 30.0), &by).expect("written");
    }
    take.finish().expect("finished").id
}

/// Nothing may go wrong, and these words are printed.
fn prints(folder: &Path, words: &[&str], said: &str) {
    let output = well(folder, words);
    assert!(printed(&output).contains(said), "{words:?}: {}", printed(&output));
}

/// A journal of three takes of two players.
fn filled(test: &str) -> (std::path::PathBuf, [TakeId; 3]) {
    let folder = folder(test);
    let journal = Journal::open(&folder.join("takes")).expect("opened").journal;
    let ids = [
        record(&journal, "Mira", Some("there-and-back")),
        record(&journal, ODD, None),
        record(&journal, "Mira", None),
    ];
    (folder, ids)
}

#[test]
fn takes_are_listed_and_filtered() {
    let (folder, ids) = filled("journal_list");
    let table = printed(&well(&folder, &["list"]));
    assert!(!table.contains('\u{1b}'), "{table}");
    // The mean of 5 and 6 Hz, and half of their difference as its doubt.
    assert!(table.contains("5.5 ±0.5"), "{table}");
    assert!(table.ends_with("3 of 3 takes\n"), "{table}");
    let listed = |line: &[&str]| -> Vec<String> {
        let line = [&["list", "--json"][..], line].concat();
        let takes = objects(&well(&folder, &line)).into_iter().map(|take| {
            assert_eq!(take["schema"], "evenwave.take/2");
            take["take"].as_str().expect("named").to_owned()
        });
        takes.collect()
    };
    let named = |which: &[usize]| -> Vec<String> {
        which.iter().map(|&which| ids[which].to_string()).collect()
    };
    let day = ids[0].day();
    assert_eq!(listed(&[]), named(&[0, 1, 2]));
    assert_eq!(listed(&["--player", "Mira"]), named(&[0, 2]));
    assert_eq!(listed(&["--player", ODD]), named(&[1]));
    assert_eq!(listed(&["--drill", "there-and-back"]), named(&[0]));
    assert_eq!(listed(&["--finger", "4"]), named(&[]));
    assert_eq!(listed(&["--instrument", "cello", "--finger", "3"]), named(&[0, 1, 2]));
    assert_eq!(listed(&["--since", day]).len(), 3);
    assert_eq!(listed(&["--until", "2020-01-01"]), named(&[]));
    refuses(&folder, &["list", "--since", "yesterday"], 2, "");
    let text = printed(&journal(&folder, &["list", "--csv", "--notes"]));
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let heads = rows.headers().expect("a head").clone();
    let rows: Vec<csv::StringRecord> = rows.records().map(|row| row.expect("a row")).collect();
    assert_eq!(rows.len(), 6);
    let of = |row: usize, name: &str| {
        let column = heads.iter().position(|head| head == name).expect(name);
        rows[row][column].to_owned()
    };
    assert_eq!((of(0, "finger"), of(1, "finger")), ("2".into(), "3".into()));
    assert_eq!((of(2, "player"), of(3, "rate_hz")), (ODD.into(), "6".into()));
    assert_eq!(of(0, "rate_se_hz"), "0.02");
}

#[test]
fn list_report_and_comparison_are_equally_sure_of_one_take() {
    let folder = folder("journal_sure");
    let opened = Journal::open(&folder.join("takes")).expect("opened").journal;
    let mut take = opened.begin(&Context::default(), 48_000).expect("begun");
    take.sound(&[0.1; 96_000]).expect("written");
    // Each known to 0.2 Hz and 1 cent, and alike by chance.
    for (start, rate, width) in [(0.0, 5.60, 31.0), (1.0, 5.62, 31.2)] {
        let mut note = note(start, rate, width);
        let vibrato = note.vibrato.as_mut().expect("it has one");
        (vibrato.rate.se, vibrato.width.se) = (Some(Hz(0.2)), Some(Cents(1.0)));
        take.note(&note).expect("written");
    }
    let id = take.finish().expect("finished").id;
    drop(opened);
    let list = printed(&journal(&folder, &["list"]));
    assert!(list.contains("5.6 ±0.1 ") && list.contains("31.1 ±0.7"), "{list}");
    let name = id.to_string();
    let line = ["report", "--out", "page.html", "--journal", "takes", "take", &name];
    done(&folder, &line);
    let page = fs::read_to_string(folder.join("page.html")).expect("written");
    // The page makes no mean of notes that may be meant to differ; each has its own doubt there.
    assert!(page.contains("5.6 Hz, 31 cents wide.</h1>") && page.contains(">5.6 ±0.2<"), "{page}");
    // What the window compares takes by.
    let file = Shelf::open(&folder.join("takes")).expect("there").take(&id).expect("there");
    let se = |mean| file.mean(mean).expect("of two notes").se.expect("known");
    assert!((se(Quantity::Rate) - 0.2 / 2f64.sqrt()).abs() < 1e-9, "{}", se(Quantity::Rate));
    assert!((se(Quantity::Width) - 1.0 / 2f64.sqrt()).abs() < 1e-9, "{}", se(Quantity::Width));
}

#[test]
fn a_take_is_shown_with_its_measures_and_its_sound_is_written() {
    let (folder, ids) = filled("journal_show");
    let id = ids[0].to_string();
    let table = printed(&well(&folder, &["show", &id]));
    assert!(table.contains("6.00 ±0.02") && table.contains("there-and-back"), "{table}");
    let take = objects(&well(&folder, &["show", "--json", &id])).remove(0);
    assert_eq!(take["measures"]["notes"][1]["vibrato"]["rate_hz"], 6.0);
    assert_eq!(take["fingers"], serde_json::json!([2, 3]));
    for name in ["take.wav", "take.flac"] {
        well(&folder, &["sound", &id, name]);
        let mut recording = sound::Recording::open(folder.join(name)).expect("sound");
        let mut samples = Vec::new();
        while let Some(block) = recording.next_block().expect("whole") {
            samples.extend_from_slice(block.samples);
        }
        assert_eq!(samples.len(), 96_000);
        // As played, to the last of 24 bits.
        let due = |n: usize| {
            let full = 8_388_608.0;
            ((f64::from((n as f32 * 0.03).sin() * 0.3) * full).round() / full) as f32
        };
        assert!(samples.iter().enumerate().all(|(n, &sample)| sample == due(n)));
        let output = journal(&folder, &["sound", &id, name]);
        assert_eq!(status(&output), 1, "it is there already");
    }
    refuses(&folder, &["sound", &id, "take.mp3"], 2, "");
    refuses(&folder, &["show", "2001-01-01/10-00-00"], 1, "not there");
}

#[test]
fn every_damaged_take_is_found_and_the_exit_status_says_so() {
    let (folder, ids) = filled("journal_verify");
    prints(&folder, &["verify"], "3 takes looked at");
    let place = |id: &TakeId| folder.join("takes").join(id.to_string());
    let sound = place(&ids[0]).join("sound.flac");
    let mut bytes = fs::read(&sound).expect("there");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 1;
    fs::write(&sound, bytes).expect("written");
    // What is left of it is written, and the exit status says what it is.
    for out in ["left.wav", "left.flac"] {
        let id = ids[0].to_string();
        refuses(&folder, &["sound", &id, out], 1, "is damaged, and what is left of it is in");
        assert!(folder.join(out).is_file());
    }
    fs::write(place(&ids[2]).join("take.ron"), "(version: 1, ").expect("written");
    let output = journal(&folder, &["verify", "--json"]);
    assert_eq!(status(&output), 1);
    let found = objects(&output);
    let found: Vec<&str> = found.iter().filter_map(|fault| fault["take"].as_str()).collect();
    assert_eq!(found, [ids[0].to_string(), ids[2].to_string()]);
    let output = well(&folder, &["list"]);
    assert!(told(&output).contains(&format!("{} cannot be read", ids[2])));
    assert!(printed(&output).ends_with("2 of 2 takes\n"));
}

#[test]
fn while_a_window_keeps_takes_reading_works_and_writing_says_so() {
    let (folder, ids) = filled("journal_locked");
    // A program that another test starts at this moment holds the lock of `filled` until it runs.
    let takes = folder.join("takes");
    let window = (0..500)
        .find_map(|_| {
            let opened = Journal::open(&takes).ok();
            if opened.is_none() {
                std::thread::sleep(std::time::Duration::from_millis(10));
            }
            opened
        })
        .expect("opened before long");
    let id = ids[0].to_string();
    for line in [&["list"][..], &["show", &id], &["verify"], &["export", "out.zip"]] {
        well(&folder, line);
    }
    for line in [
        &["keep", &id][..],
        &["delete", "--for-good", &id],
        &["erase", "Mira", "--for-good"],
        &["index"],
        &["import", "out.zip"],
        &["mend"],
    ] {
        refuses(&folder, line, 1, "another window");
    }
    assert_eq!(window.journal.takes().expect("read"), ids);
}

#[test]
fn a_player_goes_into_a_zip_is_erased_with_a_second_word_and_comes_back() {
    let (folder, ids) = filled("journal_zip");
    well(&folder, &["export", "--player", ODD, "odd.zip"]);
    // A second word is asked for.
    refuses(&folder, &["erase", ODD], 2, "--for-good");
    let shelf = || Shelf::open(&folder.join("takes")).expect("opened");
    assert_eq!(shelf().takes().expect("read").len(), 3);
    well(&folder, &["erase", ODD, "--for-good"]);
    assert_eq!(shelf().players(), ["Mira"]);
    prints(&folder, &["import", "odd.zip"], "came in: 1");
    prints(&folder, &["import", "odd.zip"], "here already: 1");
    let id = ids[1].to_string();
    assert_eq!(status(&journal(&folder, &["keep", &id])), 0);
    prints(&folder, &["import", "odd.zip"], "--replace");
    assert!(shelf().take(&ids[1]).expect("read").keep);
    well(&folder, &["import", "--replace", "odd.zip"]);
    assert!(!shelf().take(&ids[1]).expect("read").keep);
    fs::write(folder.join("cut.zip"), &fs::read(folder.join("odd.zip")).expect("read")[..900])
        .expect("written");
    refuses(&folder, &["import", "cut.zip"], 1, "breaks off");
    well(&folder, &["delete", "--for-good", &id]);
    well(&folder, &["verify"]);
    // A misspelt folder is not made.
    let output = evenwave(&folder, &["journal", "--journal", "taks", "index"]);
    assert_eq!(status(&output), 1);
    assert!(!folder.join("taks").exists());
}

#[test]
fn a_take_is_labelled_anew_and_found_by_that() {
    let (folder, ids) = filled("journal_label");
    let id = ids[0].to_string();
    let line = ["label", &id, "--player", "Noor", "--passage", "bars 9 to 16", "--finger", "4"];
    well(&folder, &line);
    for wanted in [["--player", "Noor"], ["--passage", "bars 9 to 16"]] {
        let listed = journal(&folder, &[&["list", "--json"][..], &wanted].concat());
        let lines = printed(&listed);
        let found: Vec<&str> = lines.lines().filter(|line| line.contains(&id)).collect();
        assert_eq!((lines.lines().count(), found.len()), (1, 1), "{lines}");
    }
    assert_eq!(status(&journal(&folder, &["label", &id])), 2);
}

#[test]
fn the_studio_sheet_has_a_line_of_each_student() {
    let folder = folder("studio");
    let window = Journal::open(&folder.join("takes")).expect("free");
    record(&window.journal, "Anna", None);
    record(&window.journal, "Anna", Some("field-walk"));
    record(&window.journal, "=Ben", None);
    let (player, model) = ("Teacher".to_owned(), Some(LessonPart::Model));
    record_as(&window.journal, Context { player, lesson: model, ..Context::default() });
    drop(window);
    let takes = objects(&well(&folder, &["list", "--json", "--player", "Anna"]));
    let ended: Vec<_> = takes.iter().map(|take| take["ended"].as_str()).collect();
    assert_eq!(ended, [None, Some("broken-off")]);
    let sheet = objects(&well(&folder, &["studio", "--json"]));
    let names: Vec<_> = sheet.iter().map(|student| student["player"].as_str()).collect();
    assert_eq!(names, [Some("=Ben"), Some("Anna")], "who teaches is no student");
    let anna = &sheet[1];
    assert_eq!(anna["schema"], "evenwave.student/1");
    let minutes = anna["minutes_this_week"].as_f64().expect("played just now");
    assert!((minutes - 4.0 / 60.0).abs() < 1e-3, "two takes of two seconds: {minutes}");
    assert!(anna["task"].is_null());
    assert_eq!(anna["last"], jiff::Zoned::now().date().to_string());
    let rows = printed(&well(&folder, &["studio", "--csv"]));
    assert!(rows.starts_with("player,last,minutes_this_week,task,changed\n'=Ben,"), "{rows}");
    let lines = printed(&well(&folder, &["studio"]));
    assert_eq!(lines.lines().count(), 3, "{lines}");
    assert!(lines.contains("too little yet to compare two weeks"), "{lines}");
}

/// Two seconds of a note at A3 in stereo, as a telephone might keep them, whose file was written at this time.
fn recording(path: &Path, seconds: u32, written_unix_s: u64) {
    let samples: Vec<f32> = (0..44_100 * seconds)
        .flat_map(|n| {
            let turn = f64::from(n) * 220.0 / 44_100.0 * std::f64::consts::TAU;
            let sound = (1..=6).map(|h| ((turn * f64::from(h)).sin() / f64::from(h)) as f32 * 0.2);
            let sound: f32 = sound.sum();
            [sound, 0.5 * sound]
        })
        .collect();
    sound::write_wav(path, &samples, 44_100, 2, sound::WavFormat::Int16).expect("written");
    let written = std::time::UNIX_EPOCH + std::time::Duration::from_secs(written_unix_s);
    let file = fs::File::options().write(true).open(path).expect("there");
    file.set_modified(written).expect("dated");
}

#[test]
fn recordings_become_takes_once_each_at_their_own_time_and_stay_as_they_are() {
    let folder = folder("journal_add");
    let phone = folder.join("phone");
    fs::create_dir(&phone).expect("made");
    recording(&phone.join("lesson 1.wav"), 2, 1_700_000_002);
    recording(&phone.join("lesson 2.wav"), 3, 1_700_000_003);
    fs::write(phone.join("notes.wav"), "no sound at all").expect("written");
    let before = fs::read(phone.join("lesson 1.wav")).expect("read");
    let add = ["add", "--player", "Mira", "--instrument", "cello", "phone"];
    let output = journal(&folder, &add);
    assert_eq!(status(&output), 1, "one is no sound: {}", told(&output));
    assert!(told(&output).contains("notes.wav"), "{}", told(&output));
    assert!(printed(&output).ends_with("came in: 2, here already: 0\n"), "{}", printed(&output));
    assert_eq!(fs::read(phone.join("lesson 1.wav")).expect("read"), before);
    let shelf = Shelf::open(&folder.join("takes")).expect("opened");
    let entries = shelf.entries();
    assert_eq!(entries.len(), 2);
    for (entry, length, word) in [(&entries[0], 2.0, "lesson 1"), (&entries[1], 3.0, "lesson 2")] {
        // Both ended at the second their file was written; the second of one name goes on to the next.
        assert_eq!(entry.began_unix_s, 1_700_000_000);
        assert_eq!((entry.player.as_str(), entry.word.as_str()), ("Mira", word));
        assert!(entry.keep, "old sound goes by itself, but this came by a decision");
        let file = shelf.take(&entry.id).expect("read");
        assert_eq!((file.length_s, file.sample_rate_hz, file.notes.len()), (length, 44_100, 1));
        assert!((file.notes[0].f0_hz.0 - 220.0).abs() < 0.1);
        shelf.check_sound(&entry.id, &file).expect("whole");
    }
    // Again, by other names and dates; of another player it is a take of their own.
    fs::remove_file(phone.join("notes.wav")).expect("removed");
    recording(&phone.join("copy.wav"), 2, 1_600_000_000);
    prints(&folder, &add, "came in: 0, here already: 3\n");
    prints(&folder, &["add", "--player", "Ben", "phone/copy.wav"], "came in: 1, here already: 0\n");
    prints(&folder, &["verify"], "3 takes looked at, nothing is damaged");
}
