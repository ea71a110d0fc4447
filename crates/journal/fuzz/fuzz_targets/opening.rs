//! Arbitrary bytes as the files of a journal: no panic of ours, no hang, and the take beside is unharmed. Run by
//! `cargo fuzz run opening` (see DEVELOPERS.md); `tests/damage.rs` is the short form.
//!
//! A panic inside the decoder is caught and told as damage, which is right for the player. The fuzzer must
//! see only what gets past that, so its own panic hook, which would abort at once, is replaced by one that
//! aborts for panics in our own code alone.
#![no_main]

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use journal::{Context, Journal, Shelf, TakeId};
use libfuzzer_sys::fuzz_target;

/// A journal with one whole take, and its name.
static JOURNAL: OnceLock<(PathBuf, TakeId)> = OnceLock::new();

/// The folder of the take that is damaged.
const DAMAGED: &str = "2020-02-02/20-20-20";

fn journal() -> (PathBuf, TakeId) {
    std::panic::set_hook(Box::new(|what| {
        let ours = |file: &str| file.contains("journal/src") || file.contains("fuzz_targets");
        if what.location().is_some_and(|at| ours(at.file())) {
            eprintln!("{what}");
            std::process::abort();
        }
    }));
    let folder = std::env::temp_dir().join(format!("journal-fuzz-{}", std::process::id()));
    let journal = Journal::open(&folder).expect("opened").journal;
    let mut take = journal.begin(&Context::default(), 48_000).expect("begun");
    take.sound(&[0.1; 100]).expect("written");
    let id = take.finish().expect("finished").id;
    (folder, id)
}

fuzz_target!(|data: &[u8]| {
    let (folder, whole) = JOURNAL.get_or_init(journal);
    // The last byte chooses which file it is.
    let Some((&kind, bytes)) = data.split_last() else {
        return;
    };
    let finished = folder.join(DAMAGED);
    let unfinished = folder.join(format!("{DAMAGED}.unfinished"));
    let index = folder.join(".index");
    let path = match kind % 6 {
        0 => finished.join("take.ron"),
        1 => index.clone(),
        2 => unfinished.join("head.ron"),
        3 => unfinished.join("course.ron.lines"),
        4 => folder.join("tasks.ron"),
        _ => unfinished.join("sound.flac"),
    };
    fs::create_dir_all(path.parent().expect("it has one")).expect("a folder");
    fs::write(&path, bytes).expect("written");
    let shelf = Shelf::open(folder).expect("told, not refused");
    shelf.verify().expect("looked");
    shelf.refresh().expect("looked");
    assert!(shelf.entry(whole).is_some(), "the other take");
    let opened = Journal::open(folder).expect("told, not refused");
    for error in &opened.unmended {
        assert!(error.to_string().contains("left as it is"), "{error}");
    }
    opened.journal.verify().expect("looked");
    // Either a task, or words why there is none.
    opened.journal.tasks().task("Mira").map_err(|error| error.to_string()).ok();
    drop(opened);
    fs::remove_dir_all(folder.join("2020-02-02")).ok();
    fs::remove_file(index).ok();
    fs::remove_file(folder.join("tasks.ron")).ok();
});
