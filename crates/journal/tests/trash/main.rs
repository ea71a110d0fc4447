//! Deleting into the system's trash, in a process that has a home of its own. In a binary of its own: a process
//! that is just started holds the locks of tests beside it until it runs.
#![cfg(target_os = "linux")]

#[path = "../journal/common/mod.rs"]
mod common;

use std::fs;
use std::path::Path;
use std::process::Command;

use common::{Folder, begun, days_ago, opened, sound};
use journal::{Forgotten, Journal, Shelf, SoundFile, TakeId};

/// Says to the process that it is the one with the home.
const CHILD: &str = "JOURNAL_TEST_HOME";

/// Runs `deed` in a process of its own, `test`, which has a home of its own; gives the home in the process that
/// started it.
fn at_home(test: &str, name: &str, deed: impl FnOnce(&Path)) -> Option<Folder> {
    if let Some(home) = std::env::var_os(CHILD) {
        deed(Path::new(&home));
        return None;
    }
    let home = Folder::new(name);
    fs::create_dir_all(&home.0).expect("a folder");
    let me = std::env::current_exe().expect("it is running");
    let status = Command::new(me)
        .args(["--exact", test])
        .env(CHILD, &home.0)
        .env("HOME", &home.0)
        .env("XDG_DATA_HOME", home.0.join("share"))
        .status()
        .expect("it can be started");
    assert!(status.success());
    Some(home)
}

#[test]
fn a_deleted_take_lies_in_the_trash_with_its_sound() {
    let test = "a_deleted_take_lies_in_the_trash_with_its_sound";
    let Some(home) = at_home(test, "home", delete) else {
        return;
    };
    let files = home.0.join("share/Trash/files");
    let trashed = fs::read_dir(&files).expect("there is a trash").flatten();
    let takes: Vec<_> = trashed.map(|entry| entry.path()).collect();
    assert_eq!(takes.len(), 1, "{takes:?}");
    assert!(takes[0].join("sound.flac").is_file());
    assert!(takes[0].join("take.ron").is_file());
}

fn delete(home: &Path) {
    let folder = Folder(home.join("journal"));
    let journal = opened(&folder);
    let mut take = begun(&journal);
    take.sound(&sound(5_000)).expect("written");
    let id = take.finish().expect("finished").id;
    journal.delete(&id).expect("there is a trash");
    assert_eq!(journal.takes().expect("read"), []);
    assert!(journal.entries().is_empty());
    let shelf = Shelf::open(&folder.0).expect("opened");
    assert!(shelf.entries().is_empty(), "the index knows it too");
    assert!(!folder.0.join(id.day()).exists(), "an empty day goes too");
}

#[test]
fn old_sound_goes_to_the_trash_once_the_start_before_has_told_of_it() {
    let test = "old_sound_goes_to_the_trash_once_the_start_before_has_told_of_it";
    at_home(test, "forget-home", old_sound);
}

fn old_sound(home: &Path) {
    let folder = Folder(home.join("journal"));
    let journal = opened(&folder);
    let [older, old, marked, late] = [50, 45, 42, 40].map(|days| days_ago(&journal, days));
    journal.keep(&marked, true).expect("marked");
    let between = [36, 31].map(|days| days_ago(&journal, days));
    let forget =
        |journal: &Journal, days, most| journal.forget_sound_older_than(days, most).expect("done");
    // All takes are old: then the clock is not believed.
    assert_eq!(forget(&journal, 30, 9), Forgotten::default());
    let young = [26, 20, 14, 8, 2].map(|days| days_ago(&journal, days));
    // One that came in from elsewhere lately.
    let file = fs::File::options().write(true).open(journal.sound(&late)).expect("opened");
    file.set_modified(std::time::SystemTime::now()).expect("dated");
    let all = [older.clone(), old.clone(), between[0].clone(), between[1].clone()];
    let told = |next: &[TakeId]| Forgotten { next: next.to_vec(), ..Forgotten::default() };
    // However often it is asked, in one start it is only told.
    for _ in 0..2 {
        assert_eq!(forget(&journal, 30, 9), told(&all));
    }
    // Another number of days is another decision, and one that is marked meanwhile stays.
    let again = |journal: Journal| {
        drop(journal);
        opened(&folder)
    };
    let journal = again(journal);
    assert_eq!(forget(&journal, 29, 9), told(&all));
    let journal = again(journal);
    assert_eq!(forget(&journal, 30, 9), told(&all));
    let journal = again(journal);
    journal.keep(&between[1], true).expect("marked");
    // No more at a time than is said.
    for next in [&older, &old] {
        assert_eq!(forget(&journal, 30, 1).gone, std::slice::from_ref(next));
    }
    let last = Forgotten { gone: vec![between[0].clone()], ..Forgotten::default() };
    assert_eq!(forget(&journal, 30, 9), last);
    for id in &all[..3] {
        assert!(!journal.sound(id).exists());
    }
    for id in [&marked, &late, &between[1]].into_iter().chain(&young) {
        assert!(journal.sound(id).exists());
    }
    let trash = fs::read_dir(home.join("share/Trash/files")).expect("there is a trash");
    assert_eq!(trash.count(), 3);
    let file = journal.take(&old).expect("read");
    assert_eq!((file.sound, file.notes.len()), (SoundFile::Forgotten, 1));
    assert_eq!(forget(&journal, 30, 9), Forgotten::default());
    assert_eq!(journal.verify().expect("looked"), []);
}
