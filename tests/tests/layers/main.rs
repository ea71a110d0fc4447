//! Sound flows one way: every arrow between our crates is listed here, and the crates that only
//! compute reach for no file, clock, thread or device. Within a crate, folders use what lies below them, and no files go
//! round in a circle.

mod paths;

use paths::{Arrows, top};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use toml_edit::{DocumentMut, Item, TableLike};

/// Which of our crates each crate may use.
const ARROWS: &[(&str, &[&str])] = &[
    ("tuning", &[]),
    ("sound", &[]),
    ("xtask", &[]),
    ("disk", &[]),
    ("tone", &["tuning"]),
    ("pitch", &["tuning"]),
    ("vibrato", &["tuning", "pitch"]),
    ("late_sound", &["tuning", "pitch", "vibrato"]),
    ("coach", &["tuning", "vibrato"]),
    ("score", &["tuning", "coach"]),
    ("journal", &["tuning", "vibrato", "coach", "disk"]),
    ("pictures", &["tuning", "pitch", "vibrato", "coach"]),
    ("panels", &["tuning", "pitch", "vibrato", "coach", "journal", "pictures"]),
    (
        "evenwave",
        &[
            "tuning",
            "tone",
            "pitch",
            "vibrato",
            "late_sound",
            "sound",
            "coach",
            "score",
            "disk",
            "journal",
            "pictures",
            "panels",
        ],
    ),
    ("evenwave-python", &["evenwave"]),
    (
        "whole-chain",
        &[
            "tuning",
            "tone",
            "pitch",
            "vibrato",
            "late_sound",
            "sound",
            "coach",
            "journal",
            "pictures",
            "panels",
            "evenwave",
        ],
    ),
];

/// The floors on which the folders of a crate stand (and files beside them that matter), from the lowest up: each uses
/// lower floors alone, and those on one floor stand beside each other. A crate without folders has none.
const FLOORS: &[(&str, &[&[&str]])] = &[
    ("coach", &[&["comparison", "drill_file", "plan"], &["follow"], &["played"]]),
    ("score", &[&["musicxml"]]),
    (
        "panels",
        &[
            &["theme"],
            &["widgets"],
            &["shell"],
            &["stand"],
            &["drill_room", "journal_room", "passage_room"],
            &["lesson_room"],
            &["commands"],
        ],
    ),
    (
        "evenwave",
        &[
            &["arguments", "bin", "formats", "passages", "player", "settings", "takes"],
            &["listener", "report"],
            &["journal_thread"],
            &["window"],
            &["commands"],
        ],
    ),
    ("whole-chain", &[&["bin"]]),
    ("xtask", &[&["attack", "package"], &["windows"]]),
];

/// Crates that compute and nothing else: same input, same output.
const PURE: &[&str] = &["tone", "pitch", "vibrato", "late_sound", "coach", "score", "pictures"];

/// What the tests of any crate may use: made sound, sound from files, and the frames of pitch.
const TRIED_WITH: &[&str] = &["tone", "sound", "pitch"];

/// What a pure crate does not touch.
const OUTSIDE: &[&str] = &[
    "std::fs",
    "std::net",
    "std::process",
    "std::thread",
    "std::time",
    "SystemTime",
    "Instant::now",
    "println!",
    "eprintln!",
];

/// Libraries for devices, files and windows, and the only crates of ours that may name them.
const KEPT_APART: &[(&str, &[&str])] = &[
    ("cpal", &["sound"]),
    ("ringbuf", &["sound"]),
    ("symphonia", &["sound"]),
    ("rubato", &["sound"]),
    ("timestretch", &["sound"]),
    ("ebur128", &["sound"]),
    ("harfrust", &["pictures"]),
    ("skrifa", &["pictures"]),
    ("zip", &["journal", "score"]),
    ("quick-xml", &["score"]),
    ("midly", &["score"]),
    ("tempfile", &["disk"]),
    ("flac-codec", &["journal"]),
    ("egui", &["panels"]),
    ("eframe", &["evenwave"]),
    ("pyo3", &["evenwave-python"]),
];

fn root() -> PathBuf {
    PathBuf::from("..")
}

/// Folder, name and manifest of every package of the workspace.
fn packages() -> Vec<(PathBuf, String, DocumentMut)> {
    let mut folders = vec![root().join("tests")];
    let crates = fs::read_dir(root().join("crates")).expect("crates/ is there");
    folders.extend(crates.map(|entry| entry.expect("crates/ can be read").path()));
    folders
        .into_iter()
        .filter(|folder| folder.join("Cargo.toml").is_file())
        .map(|folder| {
            let text = fs::read_to_string(folder.join("Cargo.toml")).expect("a readable manifest");
            let manifest: DocumentMut = text.parse().expect("a manifest is TOML");
            let name = manifest["package"]["name"].as_str().expect("a name");
            (folder, name.to_owned(), manifest)
        })
        .collect()
}

/// Names in every table of dependencies, those for one target included, but not the tests' own.
fn dependencies(manifest: &dyn TableLike) -> Vec<String> {
    let mut names = Vec::new();
    for (key, value) in manifest.iter() {
        let Some(table) = value.as_table_like() else {
            continue;
        };
        match key {
            "dependencies" | "build-dependencies" => names.extend(table.iter().map(package)),
            "target" => {
                for one in table.iter().filter_map(|(_, item)| item.as_table_like()) {
                    names.extend(dependencies(one));
                }
            }
            _ => {}
        }
    }
    names
}

/// The package behind an entry: it may go by another name in the manifest.
fn package((name, value): (&str, &Item)) -> String {
    let renamed = value.get("package").and_then(|p| p.as_str());
    renamed.unwrap_or(name).to_owned()
}

fn dev_dependencies(manifest: &dyn TableLike) -> Vec<String> {
    let table = manifest.get("dev-dependencies").and_then(|t| t.as_table_like());
    table.into_iter().flat_map(|table| table.iter()).map(package).collect()
}

fn allowed(name: &str) -> Option<&'static [&'static str]> {
    ARROWS.iter().find(|(from, _)| *from == name).map(|a| a.1)
}

#[test]
fn every_crate_stands_in_the_list_of_arrows() {
    let mut found: Vec<String> = packages().into_iter().map(|(_, name, _)| name).collect();
    let mut listed: Vec<String> = ARROWS.iter().map(|(name, _)| (*name).to_owned()).collect();
    found.sort();
    listed.sort();
    assert_eq!(found, listed);
}

/// `cargo xtask practise` leaves it to cargo which program of the package is run.
#[test]
fn a_package_of_several_programs_says_which_is_run() {
    for (folder, name, manifest) in packages() {
        let src = folder.join("src");
        let more = fs::read_dir(src.join("bin")).is_ok_and(|mut bin| bin.next().is_some());
        if more && src.join("main.rs").is_file() {
            let run = manifest["package"].get("default-run").and_then(Item::as_str);
            assert_eq!(run, Some(name.as_str()), "default-run of {name}");
        }
    }
}

#[test]
fn each_library_has_its_reason_in_the_map() {
    let ours = |used: &String| ARROWS.iter().any(|(name, _)| name == used);
    let used: BTreeSet<String> = packages()
        .iter()
        .flat_map(|(_, _, manifest)| {
            let table = manifest.as_table();
            dependencies(table).into_iter().chain(dev_dependencies(table))
        })
        .filter(|used| !ours(used))
        .collect();
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the map is there");
    let (_, libraries) = map.split_once("\n### Libraries\n").expect("libraries have a heading");
    let rows = libraries.lines().take_while(|line| !line.starts_with('#'));
    let listed: BTreeSet<String> = rows
        .filter_map(|line| line.strip_prefix("| `")?.split_once("` | "))
        .filter(|(_, reason)| reason.trim_end_matches(['|', ' ']).len() > 10)
        .map(|(name, _)| name.to_owned())
        .collect();
    assert_eq!(used, listed, "one line with its reason for each library, in DEVELOPERS.md");
}

#[test]
fn each_test_of_what_must_not_happen_is_there() {
    let map = fs::read_to_string(root().join("DEVELOPERS.md")).expect("the map is there");
    let heading = "\n### Nothing lost, nothing let in\n";
    let (_, table) = map.split_once(heading).expect("it has a heading");
    let rows = table.lines().take_while(|line| !line.starts_with('#'));
    let quoted = |cell: &str| -> Vec<String> {
        cell.split('`').skip(1).step_by(2).map(str::to_owned).collect()
    };
    let mut count = 0;
    for row in rows.filter(|row| row.starts_with("| ")).skip(2) {
        let cells: Vec<&str> = row.trim_matches(['|', ' ']).split(" | ").collect();
        let [_, tests, files] = cells[..] else { panic!("three cells: {row}") };
        let read = |file: &String| {
            fs::read_to_string(root().join("crates").join(file)).expect("a file of tests")
        };
        let files: String = quoted(files).iter().map(read).collect();
        for test in quoted(tests) {
            assert!(
                files.contains(&format!("#[test]\nfn {test}()"))
                    || files.contains(&format!("#[test]\n    fn {test}()")),
                "{test} is not there"
            );
            count += 1;
        }
    }
    assert!(count >= 14, "{count} tests");
}

#[test]
fn only_listed_arrows_are_drawn() {
    for (_, name, manifest) in packages() {
        let allowed = allowed(&name).expect("listed");
        for used in dependencies(manifest.as_table()) {
            let ours = ARROWS.iter().any(|(crate_name, _)| *crate_name == used);
            assert!(
                !ours || allowed.contains(&used.as_str()),
                "`{name}` uses `{used}`: not a listed arrow"
            );
        }
    }
}

#[test]
fn tests_draw_no_arrow_against_the_flow() {
    // A test of a crate may make its sound with `tone`, which uses `tuning` alone.
    for (_, name, manifest) in packages() {
        let allowed = allowed(&name).expect("listed");
        for used in dev_dependencies(manifest.as_table()) {
            let ours = ARROWS.iter().any(|(crate_name, _)| *crate_name == used);
            assert!(
                !ours || TRIED_WITH.contains(&used.as_str()) || allowed.contains(&used.as_str()),
                "the tests of `{name}` use `{used}`: not a listed arrow"
            );
        }
    }
}

#[test]
fn devices_files_and_windows_are_kept_apart() {
    for (_, name, manifest) in packages() {
        for used in dependencies(manifest.as_table()) {
            let Some((_, at_home)) = KEPT_APART.iter().find(|(library, _)| *library == used) else {
                continue;
            };
            assert!(
                at_home.contains(&name.as_str()),
                "`{name}` uses `{used}`, which only {at_home:?} may"
            );
        }
    }
}

#[test]
fn pure_crates_touch_no_file_clock_or_thread() {
    for (folder, name, _) in packages() {
        if !PURE.contains(&name.as_str()) {
            continue;
        }
        let sources = sources(&folder.join("src"));
        assert!(!sources.is_empty(), "`{name}` has no source");
        for path in sources {
            assert_untouched(&path, OUTSIDE);
        }
    }
}

#[test]
fn panels_start_no_thread_and_read_no_clock_or_file() {
    for path in sources(&root().join("crates/panels/src")) {
        assert_untouched(&path, &["std::fs", "std::thread", "SystemTime", "Instant::now"]);
    }
}

#[test]
fn tuning_opens_files_for_instruments_only() {
    for path in sources(&root().join("crates/tuning/src")) {
        if path.file_name().is_some_and(|name| name != "instrument.rs") {
            assert_untouched(&path, OUTSIDE);
        }
    }
}

#[test]
fn no_files_of_a_crate_go_round_in_a_circle() {
    let mut told = Vec::new();
    for (folder, name, _) in packages() {
        let arrows = Arrows::of_folder(&folder.join("src"));
        assert!(!arrows.0.is_empty(), "`{name}` has no source");
        told.extend(arrows.circles().iter().map(|circle| format!("{name}: {}", circle.join(", "))));
    }
    assert!(told.is_empty(), "these go round in a circle: {told:#?}");
}

#[test]
fn folders_of_a_crate_use_lower_floors_alone() {
    let mut told = Vec::new();
    for (folder, name, _) in packages() {
        let arrows = Arrows::of_folder(&folder.join("src"));
        let floors = FLOORS.iter().find(|(listed, _)| *listed == name).map_or(&[][..], |it| it.1);
        for file in arrows.0.keys().filter(|file| file.contains('/')) {
            let listed = floors.iter().any(|floor| floor.contains(&top(file)));
            assert!(listed, "`{name}` has a folder {} that stands on no floor", top(file));
        }
        told.extend(arrows.upward(floors).iter().map(|arrow| format!("{name}: {arrow}")));
    }
    assert!(told.is_empty(), "these use what does not lie below them: {told:#?}");
}

/// Every Rust file below a folder.
fn sources(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("a readable folder") {
        let path = entry.expect("a readable folder").path();
        if path.is_dir() {
            found.extend(sources(&path));
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
    found
}

/// Fails if a line that is no comment, above the file's unit tests, holds one of the words.
fn assert_untouched(path: &Path, words: &[&str]) {
    let text = fs::read_to_string(path).expect("a readable source");
    let code = text.lines().take_while(|line| *line != "#[cfg(test)]");
    for (number, line) in code.enumerate() {
        let comment = line.trim_start().starts_with("//");
        let found = words.iter().find(|word| !comment && line.contains(**word));
        assert!(found.is_none(), "{}:{}: {found:?} has no place here", path.display(), number + 1);
    }
}
