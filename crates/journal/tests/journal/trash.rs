//! Deleting into the system's trash, in a process that has a home of its own.
use std::fs;
use std::path::Path;
use std::process::Command;

use crate::common::{Folder, begun, opened, sound};
use journal::Shelf;

/// Says to the process that it is the one with the home.
const CHILD: &str = "JOURNAL_TEST_HOME";

/// Runs `deed` in a process of its own, `test`, which has a home of its own; gives the home in the process that
/// started it.
pub(crate) fn at_home(test: &str, name: &str, deed: impl FnOnce(&Path)) -> Option<Folder> {
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
    let test = "trash::a_deleted_take_lies_in_the_trash_with_its_sound";
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
