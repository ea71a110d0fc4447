//! Arbitrary bytes as a zip that is taken over: no panic of ours, no hang, nothing outside the journal, and what
//! comes in can be read. A zip of a whole take is the seed; libFuzzer bends it.
#![no_main]

use std::fs;
use std::path::PathBuf;
use std::sync::OnceLock;

use journal::{Context, Differing, Journal, Shelf};
use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};

/// A folder to work in, and a zip of one whole take.
static GIVEN: OnceLock<(PathBuf, Vec<u8>)> = OnceLock::new();

fn given() -> (PathBuf, Vec<u8>) {
    let folder = std::env::temp_dir().join(format!("import-fuzz-{}", std::process::id()));
    let journal = Journal::open(&folder.join("from")).expect("opened").journal;
    let mut take = journal.begin(&Context::default(), 48_000).expect("begun");
    take.sound(&[0.1; 100]).expect("written");
    take.finish().expect("finished");
    let zip = folder.join("seed.zip");
    journal.export(None, &zip, &mut |_, _| ()).expect("put into a zip");
    let bytes = fs::read(&zip).expect("there");
    fs::remove_file(zip).expect("gone");
    (folder, bytes)
}

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    // Now and then from the whole zip again, so that what is bent is nearly one.
    let (_, zip) = GIVEN.get_or_init(given);
    let mut size = size;
    if seed % 16 == 0 && zip.len() <= max_size {
        data[..zip.len()].copy_from_slice(zip);
        size = zip.len();
    }
    fuzzer_mutate(data, size, max_size)
});

fuzz_target!(|data: &[u8]| {
    let (folder, _) = GIVEN.get_or_init(given);
    let (zip, into) = (folder.join("it.zip"), folder.join("into"));
    fs::write(&zip, data).expect("written");
    let shelf = Shelf::open(&folder.join("from")).expect("opened");
    shelf.weigh(&zip, &mut |_, _| ()).ok();
    let journal = Journal::open(&into).expect("opened").journal;
    if let Ok(imported) = journal.import(&zip, Differing::Leave, &mut |_, _| ()) {
        for id in &imported.added {
            journal.take(id).expect("what came in can be read");
        }
        assert_eq!(imported.added.len(), journal.takes().expect("looked").len());
    } else {
        assert_eq!(journal.entries().len(), journal.takes().expect("looked").len());
    }
    drop(journal);
    fs::remove_dir_all(&into).expect("gone");
    let mut left: Vec<_> =
        fs::read_dir(folder).expect("there").flatten().map(|it| it.file_name()).collect();
    left.sort();
    assert_eq!(left, ["from", "it.zip"]);
});
