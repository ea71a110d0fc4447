//! The task of a player goes where their takes go: out, in, and away.

use std::fs::{self, File};
use std::io::Write;
use std::path::Path;

use crate::common::{Folder, RATE_HZ, open_at};
use coach::{Task, Work};
use journal::{Context, Differing, GivenTask, Journal, Received, Shelf};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

fn given(drill: &str) -> GivenTask {
    GivenTask { task: Task::of_model(&[], Work::Drill(drill.to_owned())), unix_s: 1_795_000_000 }
}

/// A journal in which two players have a take and a task each.
fn of_two(folder: &Folder) -> Journal {
    let journal = open_at(&folder.0.join("home"));
    for player in ["Mira", "Ada"] {
        let context = Context { player: player.to_owned(), ..Context::default() };
        let mut take = journal.begin(&context, RATE_HZ).expect("begun");
        take.sound(&[0.1; 5_000]).expect("written");
        take.finish().expect("finished");
        let tasks = journal.tasks();
        tasks.keep(player, &given("bloom")).expect("written");
    }
    journal
}

/// Whether the name stands in any file below a folder.
fn is_said(folder: &Path, name: &str) -> bool {
    let entries = fs::read_dir(folder).expect("there").flatten();
    entries.map(|entry| entry.path()).any(|path| {
        path.is_dir() && is_said(&path, name)
            || fs::read(&path).is_ok_and(|bytes| {
                let mut parts = bytes.windows(name.len());
                parts.any(|part| part == name.as_bytes())
            })
    })
}

fn task(journal: &Shelf, player: &str) -> Option<GivenTask> {
    journal.tasks().task(player).expect("read")
}

#[test]
fn a_task_is_handed_over_as_one_small_file_and_checked_on_its_way_in() {
    let folder = Folder::new("tasks-file");
    let journal = of_two(&folder);
    let file = folder.0.join("mira.ron");
    assert!(!journal.tasks().hand_over("Nobody", &file).expect("none"), "no task, no file");
    assert!(!file.exists());
    assert!(journal.tasks().hand_over("Mira", &file).expect("written"));
    assert!(fs::metadata(&file).expect("there").len() < 1_000);
    assert!(!fs::read_to_string(&file).expect("text").contains("Ada"), "it is one player's");
    journal.tasks().hand_over("Mira", &file).expect_err("nothing is written over");
    let home = open_at(&folder.0.join("mira-home"));
    let received = home.tasks().receive(&file, None, false).expect("read");
    assert_eq!(received, Received::For("Mira".to_owned()));
    assert_eq!(task(&home, "Mira"), Some(given("bloom")));
    let received = home.tasks().receive(&file, Some(""), false).expect("read");
    assert_eq!(received, Received::For(String::new()), "whoever practises here");
    // Another task stands already: it stays, unless it may go.
    home.tasks().keep("Mira", &given("straight")).expect("written");
    let received = home.tasks().receive(&file, None, false).expect("read");
    assert_eq!(received, Received::Another("Mira".to_owned()));
    assert_eq!(task(&home, "Mira"), Some(given("straight")));
    home.tasks().receive(&file, None, true).expect("read");
    assert_eq!(task(&home, "Mira"), Some(given("bloom")));
    let text = fs::read_to_string(&file).expect("text");
    for (broken, why) in [
        (text.replace("times: 5", "times: 0"), "makes no sense"),
        (text.replace("version: 1", "version: 9"), "9"),
        ("(version: 1, tasks: {})".to_owned(), "stands alone"),
        ("no task at all".to_owned(), "broken"),
    ] {
        fs::write(folder.0.join("broken.ron"), broken).expect("written");
        let fault = home.tasks().receive(&folder.0.join("broken.ron"), None, true);
        let said = fault.expect_err("it is none").to_string();
        assert!(said.contains("broken.ron") && said.contains(why), "{said}");
    }
    assert_eq!(task(&home, "Mira"), Some(given("bloom")), "what was wrong changed nothing");
}

#[test]
fn an_erased_player_leaves_no_task_and_the_others_stay() {
    let folder = Folder::new("tasks-erase");
    let journal = of_two(&folder);
    assert!(is_said(journal.folder(), "Mira"));
    assert_eq!(journal.erase("Mira").expect("erased"), 1);
    assert!(!is_said(journal.folder(), "Mira"));
    assert_eq!(task(&journal, "Ada"), Some(given("bloom")));
}

#[test]
fn a_players_task_is_carried_out_and_in_with_their_takes() {
    let folder = Folder::new("tasks-carry");
    let journal = of_two(&folder);
    let (copy, file) = (folder.0.join("copy"), folder.0.join("mira.zip"));
    journal.export(Some("Mira"), &copy, &mut |_, _| ()).expect("copied");
    journal.export(Some("Mira"), &file, &mut |_, _| ()).expect("packed");
    assert!(!is_said(&copy, "Ada"), "a copy is of one player alone");
    for (name, from) in [("folder", &copy), ("file", &file)] {
        let import = |to: &Journal, differing| {
            let taken = to.import(from, differing, &mut |_, _| ());
            taken.expect("taken over")
        };
        let other = open_at(&folder.0.join(format!("other-{name}")));
        let came = import(&other, Differing::Leave);
        assert_eq!((came.added.len(), came.tasks), (1, vec!["Mira".to_owned()]));
        assert!(came.left_out.is_empty(), "{:?}", came.left_out);
        assert_eq!(task(&other, "Mira"), Some(given("bloom")), "{name}");
        assert_eq!(task(&other, "Ada"), None, "{name}");
        // Another task since: it stays, unless theirs is wanted.
        let tasks = other.tasks();
        tasks.keep("Mira", &given("straight")).expect("written");
        let left = import(&other, Differing::Leave);
        assert!(left.tasks.is_empty());
        assert_eq!(left.differing_tasks, ["Mira"]);
        assert_eq!(task(&other, "Mira"), Some(given("straight")), "{name}");
        assert_eq!(import(&other, Differing::Replace).tasks, ["Mira"]);
        assert_eq!(task(&other, "Mira"), Some(given("bloom")), "{name}");
        // Once more: nothing is new.
        let again = import(&other, Differing::Replace);
        assert!(again.tasks.is_empty() && again.differing_tasks.is_empty());
    }
}

#[test]
fn tasks_that_cannot_be_are_told_and_harm_neither_takes_nor_tasks() {
    let folder = Folder::new("tasks-odd");
    let journal = of_two(&folder);
    let before = fs::read(journal.folder().join("tasks.ron")).expect("there");
    for (odd, words) in [
        ("(version: 9, tasks: {})", "version 9"),
        ("(version: 1, tasks: {\"Eve\": 3})", "line 1"),
        (
            "(version: 1, tasks: {\"Eve\": (given_unix_s: 0, drill: Some(\"bloom\"), passage: None, pace_bpm: None, \
             oscillations_per_beat: None, count: None, times: 0, rate_hz: None, width_cents: None, words: \"\")})",
            "times: 1 to 99",
        ),
    ] {
        let file = folder.0.join("odd.zip");
        let mut zip = ZipWriter::new(File::create(&file).expect("made"));
        zip.start_file("takes/tasks.ron", SimpleFileOptions::default()).expect("begun");
        zip.write_all(odd.as_bytes()).expect("written");
        zip.finish().expect("finished");
        let came = journal.import(&file, Differing::Replace, &mut |_, _| ()).expect("looked");
        let [told] = &came.left_out[..] else {
            panic!("{came:?}");
        };
        assert!(told.contains(words), "{told}");
        let now = fs::read(journal.folder().join("tasks.ron")).expect("there");
        assert_eq!(now, before);
    }
}
