//! What each released version wrote is read by the program of today.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::common::{done, folder, objects};

/// The folders of all released versions.
fn versions() -> Vec<PathBuf> {
    let inside = fs::read_dir("../../tests/kept").expect("tests/kept is there");
    let mut versions: Vec<PathBuf> = inside.map(|entry| entry.expect("readable").path()).collect();
    versions.retain(|path| path.is_dir());
    assert!(!versions.is_empty());
    versions
}

/// A copy of a version's files, which may be written to.
fn copied(version: &Path, test: &str) -> PathBuf {
    let name = version.file_name().expect("a name").to_string_lossy();
    let copy = folder(&format!("{test}-{name}"));
    for entry in walkdir::WalkDir::new(version) {
        let entry = entry.expect("readable");
        let to = copy.join(entry.path().strip_prefix(version).expect("below it"));
        if entry.file_type().is_dir() {
            fs::create_dir_all(to).expect("made");
        } else {
            fs::copy(entry.path(), to).expect("copied");
        }
    }
    copy
}

#[test]
fn takes_and_index_of_every_version_are_listed_as_they_were() {
    for version in versions() {
        let copy = copied(&version, "kept-takes");
        let was = fs::read_to_string(copy.join("takes.jsonl")).expect("kept");
        let was: Vec<Value> =
            was.lines().map(|line| serde_json::from_str(line).expect("JSON")).collect();
        let listed = || objects(&done(&copy, &["journal", "--journal", "takes", "list", "--json"]));
        let by_index = listed();
        done(&copy, &["journal", "--journal", "takes", "verify"]);
        done(&copy, &["journal", "--journal", "takes", "index"]);
        assert_eq!(by_index, listed(), "the index says what the takes say: {}", version.display());
        assert_eq!(was.len(), by_index.len(), "{}", version.display());
        for (was, is) in was.iter().zip(&by_index) {
            // What a later version says besides is its own affair; what was said stays.
            for (name, said) in was.as_object().expect("an object") {
                if name != "schema" {
                    assert_eq!(&is[name], said, "{name} in {}", version.display());
                }
            }
        }
    }
}

#[test]
fn the_task_of_every_version_is_still_given() {
    for version in versions() {
        let copy = copied(&version, "kept-task");
        done(&copy, &["journal", "--journal", "takes", "export-task", "Mira", "task.ron"]);
        let task = fs::read_to_string(copy.join("task.ron")).expect("written");
        assert!(task.contains("bars 12 to 20") && task.contains("slowly first"), "{task}");
    }
}

#[cfg(feature = "window")]
#[test]
fn the_settings_of_every_version_hold() {
    use evenwave::settings::Settings;
    use tuning::Hz;

    for version in versions() {
        let copy = copied(&version, "kept-settings");
        let settings = Settings::at(Some(&copy.join("settings.ron")));
        let read = settings.read();
        assert_eq!(read.word, None, "{}", version.display());
        assert_eq!(read.options.tuning.a4, Hz(442.0));
        assert_eq!(read.options.player, "Mira");
        settings.write(&read.options).expect("written by the version of today");
        assert_eq!(settings.read(), read, "{}", version.display());
    }
}
