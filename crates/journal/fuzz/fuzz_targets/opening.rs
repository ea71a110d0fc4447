//! Arbitrary bytes as the files of a journal: no panic of ours, no hang, and the take beside is unharmed. Each kind of file
//! is bent from a whole one again and again. Run by `cargo xtask fuzz` (see DEVELOPERS.md); `tests/damage.rs` is the short form.
//!
//! A panic inside the decoder is caught and told as damage, which is right for the player. The fuzzer must
//! see only what gets past that, so its own panic hook, which would abort at once, is replaced by one that
//! aborts for panics in our own code alone.
#![no_main]

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use coach::{Task, Work};
use journal::{Context, GivenTask, Journal, Shelf, TakeId};
use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};

/// A journal with one whole take, its name, and a whole file of each kind.
static JOURNAL: OnceLock<(PathBuf, TakeId, [Vec<u8>; KINDS])> = OnceLock::new();
/// Kinds of files that may be damaged.
const KINDS: usize = 6;

/// The folder of the take that is damaged.
const DAMAGED: &str = "2020-02-02/20-20-20";

/// Where a file of this kind lies, for the take in this folder without an ending.
fn place(journal: &Path, take: &str, kind: usize) -> PathBuf {
    let (finished, unfinished) = (journal.join(take), journal.join(format!("{take}.unfinished")));
    match kind {
        0 => finished.join("take.ron"),
        1 => journal.join(".index"),
        2 => unfinished.join("head.ron"),
        3 => unfinished.join("course.ron.lines"),
        4 => journal.join("tasks.ron"),
        _ => unfinished.join("sound.flac"),
    }
}

fn journal() -> (PathBuf, TakeId, [Vec<u8>; KINDS]) {
    std::panic::set_hook(Box::new(|what| {
        let ours = |file: &str| file.contains("journal/src") || file.contains("fuzz_targets");
        if what.location().is_some_and(|at| ours(at.file())) {
            eprintln!("{what}");
            std::process::abort();
        }
    }));
    let folder = std::env::temp_dir().join(format!("journal-fuzz-{}", std::process::id()));
    let journal = Journal::open(&folder).expect("opened").journal;
    let given = GivenTask { task: Task::of_model(&[], Work::Drill("bloom".to_owned())), unix_s: 1 };
    journal.tasks().keep("Mira", &given).expect("written");
    let mut take = journal.begin(&Context::default(), 48_000).expect("begun");
    take.sound(&[0.1; 60_000]).expect("written");
    let id = take.id().to_string();
    let whole = |kind| fs::read(place(&folder, &id, kind)).unwrap_or_default();
    let mut seeds: [Vec<u8>; KINDS] = std::array::from_fn(whole);
    let id = take.finish().expect("finished").id;
    journal.rebuild_index().expect("written");
    for kind in [0, 1] {
        seeds[kind] = fs::read(place(&folder, &id.to_string(), kind)).expect("there");
    }
    (folder, id, seeds)
}

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    // Now and then from a whole file again, so that what is bent is nearly one.
    let (_, _, seeds) = JOURNAL.get_or_init(journal);
    let kind = (seed / 8) as usize % KINDS;
    let whole = &seeds[kind];
    let mut size = size;
    if seed % 8 == 0 && whole.len() < max_size {
        data[..whole.len()].copy_from_slice(whole);
        size = fuzzer_mutate(data, whole.len(), max_size - 1);
        data[size] = kind as u8;
        return size + 1;
    }
    if size > 1 {
        // The kind stays as it is.
        let kind = data[size - 1];
        size = fuzzer_mutate(data, size - 1, max_size - 1);
        data[size] = kind;
        return size + 1;
    }
    fuzzer_mutate(data, size, max_size)
});

fuzz_target!(|data: &[u8]| {
    let (folder, whole, _) = JOURNAL.get_or_init(journal);
    // The last byte chooses which file it is.
    let Some((&kind, bytes)) = data.split_last() else {
        return;
    };
    let path = place(folder, DAMAGED, usize::from(kind) % KINDS);
    fs::create_dir_all(path.parent().expect("it has one")).expect("a folder");
    fs::write(&path, bytes).expect("written");
    let shelf = Shelf::open(folder).expect("told, not refused");
    shelf.verify().expect("looked");
    shelf.refresh().expect("looked");
    assert!(shelf.entry(whole).is_some(), "the other take");
    let opened = Journal::open(folder).expect("told, not refused");
    for error in &opened.unmended {
        // Or it is another computer's, which may be at work in it.
        let words = error.to_string();
        let told = ["left as it is", "open the journal there, or wait a day"];
        assert!(told.iter().any(|told| words.contains(told)), "{words}");
    }
    opened.journal.verify().expect("looked");
    // Either a task, or words why there is none.
    opened.journal.tasks().task("Mira").map_err(|error| error.to_string()).ok();
    drop(opened);
    fs::remove_dir_all(folder.join("2020-02-02")).ok();
    fs::remove_file(folder.join(".index")).ok();
    fs::remove_file(folder.join("tasks.ron")).ok();
});
