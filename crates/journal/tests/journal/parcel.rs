//! Takes in one file: carried out, carried in, and what others put into such a file.

use std::fs::{self, File};
use std::io::Write;
use std::path::{Path, PathBuf};

use crate::common::{Chance, Folder, decoded, open_at, record};
use journal::{Differing, Exported, Journal, JournalError, Label, SoundFile, TakeId};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// A journal of two players, and a file with the takes of one.
fn packed(name: &str) -> (Folder, Journal, PathBuf, Vec<TakeId>) {
    let folder = Folder::new(name);
    let journal = open_at(&folder.0.join("home"));
    let ids = vec![record(&journal, "Mira", 5_000), record(&journal, "Mira", 6_000)];
    record(&journal, "Ada", 7_000);
    let file = folder.0.join("mira.zip");
    let mut steps = Vec::new();
    let count = journal.export(Some("Mira"), &file, &mut |done, all| steps.push((done, all)));
    assert_eq!(count.expect("packed"), Exported { takes: 2, told: Vec::new() });
    assert_eq!(steps, [(1, 2), (2, 2)]);
    (folder, journal, file, ids)
}

/// Everything below a folder but its lock and index, with what is in it.
fn all_files(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).expect("there").flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(all_files(&path));
        } else if !entry.file_name().to_string_lossy().starts_with('.') {
            found.push((path.clone(), fs::read(path).expect("read")));
        }
    }
    found.sort();
    found
}

fn zip_of(path: &Path, files: &[(&str, &[u8])]) {
    let mut zip = ZipWriter::new(File::create(path).expect("made"));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Deflated);
    for (name, bytes) in files {
        zip.start_file(*name, options).expect("begun");
        zip.write_all(bytes).expect("written");
    }
    zip.finish().expect("finished");
}

#[test]
fn one_players_journal_goes_into_one_file_and_comes_back_bit_for_bit() {
    let (folder, journal, file, ids) = packed("pack");
    let error = journal.export(None, &file, &mut |_, _| ()).expect_err("it is there");
    assert!(matches!(error, JournalError::Occupied { .. }), "{error}");
    let other = open_at(&folder.0.join("other"));
    let imported = other.import(&file, Differing::Leave, &mut |_, _| ()).expect("taken over");
    assert_eq!(imported.added, ids);
    assert!(imported.unread.is_empty() && imported.left_out.is_empty());
    assert_eq!(other.players(), ["Mira"]);
    assert_eq!(other.verify().expect("looked"), []);
    for id in &ids {
        let bytes = |journal: &Journal| fs::read(journal.sound(id)).expect("there");
        assert_eq!(bytes(&other), bytes(&journal));
        assert_eq!(other.take(id).expect("read"), journal.take(id).expect("read"));
    }
    // Once more: nothing is new, nothing changes.
    let before = all_files(other.folder());
    let again = other.import(&file, Differing::Replace, &mut |_, _| ()).expect("looked");
    assert_eq!((again.added.len(), again.known), (0, ids));
    assert_eq!(all_files(other.folder()), before);
}

#[test]
fn a_take_that_differs_is_replaced_only_if_that_is_wanted_and_the_old_one_stays_beside() {
    let (_folder, journal, file, ids) = packed("differing");
    journal.label(&ids[0], Label::Word("the good one".to_owned())).expect("written");
    journal.keep(&ids[0], true).expect("marked");
    let left = journal.import(&file, Differing::Leave, &mut |_, _| ()).expect("looked");
    assert_eq!((&left.differing[..], &left.known[..]), (&ids[..1], &ids[1..]));
    assert_eq!(journal.take(&ids[0]).expect("read").word, "the good one");
    let own = fs::read(journal.sound(&ids[0]).with_file_name("take.ron")).expect("read");
    let done = journal.import(&file, Differing::Replace, &mut |_, _| ()).expect("replaced");
    assert_eq!(done.replaced, ids[..1]);
    let now = journal.take(&ids[0]).expect("read");
    assert!(now.word.is_empty() && !now.keep);
    assert!(!journal.entry(&ids[0]).expect("there").keep);
    let aside = journal.sound(&ids[0]).with_file_name("take.replaced-1.ron");
    assert_eq!(fs::read(aside).expect("kept"), own);
    assert_eq!(journal.verify().expect("looked"), []);
}

#[test]
fn what_is_weighed_is_what_comes_in_and_weighing_changes_nothing() {
    let (folder, journal, file, ids) = packed("weigh");
    let copy = folder.0.join("copy");
    let quiet = &mut |_, _| ();
    journal.export(Some("Mira"), &copy, quiet).expect("copied");
    let other = open_at(&folder.0.join("other"));
    for from in [&copy, &file] {
        let weighed = other.weigh(from, quiet).expect("looked");
        assert_eq!((weighed.new, weighed.known, weighed.differing), (2, 0, 0));
        assert!(weighed.unread.is_empty() && weighed.differing_tasks.is_empty());
    }
    assert!(all_files(other.folder()).is_empty());
    let mut steps = Vec::new();
    let mut passed = |done, all| steps.push((done, all));
    other.import(&file, Differing::Leave, &mut passed).expect("taken over");
    assert_eq!(steps, [(1, 2), (2, 2)]);
    other.label(&ids[0], Label::Word("the good one".to_owned())).expect("written");
    fs::write(copy.join(ids[1].to_string()).join("take.ron"), "(version: 7)").expect("written");
    let before = all_files(other.folder());
    for (from, known, unread) in [(&file, 1, 0), (&copy, 0, 1)] {
        let weighed = other.weigh(from, quiet).expect("looked");
        assert_eq!((weighed.new, weighed.known, weighed.differing), (0, known, 1));
        assert_eq!(weighed.unread.len(), unread, "{:?}", weighed.unread);
        let imported = other.import(from, Differing::Leave, quiet).expect("looked");
        let came = (imported.known.len(), imported.differing.len());
        assert_eq!(came, (known, 1));
        assert_eq!(imported.unread.len(), unread);
    }
    assert_eq!(all_files(other.folder()), before);
    let error = other.weigh(&folder.0.join("gone"), quiet).expect_err("nothing is there");
    assert!(error.to_string().contains("gone"), "{error}");
}

#[test]
fn sound_that_was_thrown_away_comes_back_from_a_file() {
    let (_folder, journal, file, ids) = packed("back");
    let before = decoded(&journal.sound(&ids[1]));
    let path = journal.sound(&ids[1]).with_file_name("take.ron");
    let text = fs::read_to_string(&path).expect("there");
    let start = text.find("sound: Whole(").expect("it has sound");
    let end = start + text[start..].find(')').expect("closed") + 1;
    let text = format!("{}sound: Forgotten{}", &text[..start], &text[end..]);
    fs::write(&path, text).expect("written");
    fs::remove_file(journal.sound(&ids[1])).expect("there");
    journal.refresh().expect("looked");
    assert_eq!(journal.entry(&ids[1]).expect("there").sound, SoundFile::Forgotten);
    let left = journal.import(&file, Differing::Leave, &mut |_, _| ()).expect("looked");
    assert_eq!(left.differing, ids[1..]);
    let done = journal.import(&file, Differing::Replace, &mut |_, _| ()).expect("replaced");
    assert_eq!(done.replaced, ids[1..]);
    assert_eq!(decoded(&journal.sound(&ids[1])), before);
    assert_eq!(journal.verify().expect("looked"), []);
}

#[test]
fn a_hostile_file_writes_nowhere_but_in_takes_and_is_told_in_words() {
    let (folder, journal, file, ids) = packed("hostile");
    drop(file);
    let text = fs::read(journal.sound(&ids[0]).with_file_name("take.ron")).expect("there");
    let zip = folder.0.join("hostile.zip");
    let zeros = vec![0; 40 << 20];
    zip_of(
        &zip,
        &[
            ("../../2026-11-25/17-41-09/take.ron", &text),
            ("/2026-11-25/17-41-09/take.ron", &text),
            ("2026-11-25/17-41-09/../../../evil.txt", b"evil"),
            ("2026-11-25/17-41-09.unfinished/take.ron", &text),
            (".lock", b""),
            // A take whose words are no take, and one that grows without end.
            ("2026-11-24/10-00-00/take.ron", b"(version: 1, began: "),
            ("2026-11-24/11-00-00/take.ron", &zeros),
            ("2026-11-24/12-00-00/sound.flac", b"fLaC"),
        ],
    );
    drop(zeros);
    let target = folder.0.join("new");
    let other = open_at(&target);
    let before = all_files(&folder.0);
    let imported = other.import(&zip, Differing::Replace, &mut |_, _| ()).expect("looked");
    assert!(imported.added.is_empty() && imported.replaced.is_empty());
    assert_eq!(imported.left_out.len(), 6, "{:?}", imported.left_out);
    assert!(imported.left_out.iter().any(|words| words.contains("evil")));
    assert_eq!(imported.unread.len(), 2, "{:?}", imported.unread);
    assert!(imported.unread[1].1.contains("MB"), "{:?}", imported.unread);
    assert_eq!(all_files(&folder.0), before);
}

#[test]
fn two_takes_that_claim_one_name_in_a_zip_stay_two() {
    let folder = Folder::new("two-roots");
    let zip = folder.0.join("both.zip");
    let mut files = Vec::new();
    for (player, samples) in [("Anna", 5_000), ("Mira", 6_000)] {
        let journal = open_at(&folder.0.join(player));
        let id = record(&journal, player, samples);
        for name in ["take.ron", "sound.flac"] {
            let bytes = fs::read(journal.sound(&id).with_file_name(name)).expect("there");
            files.push((format!("{player}/2026-11-25/17-41-09/{name}"), bytes));
        }
    }
    // As they may lie in a zip made by hand.
    files.swap(1, 2);
    let listed: Vec<(&str, &[u8])> =
        files.iter().map(|(name, bytes)| (name.as_str(), &bytes[..])).collect();
    zip_of(&zip, &listed);
    let journal = open_at(&folder.0.join("home"));
    let imported = journal.import(&zip, Differing::Leave, &mut |_, _| ()).expect("taken over");
    assert_eq!(imported.added.len(), 2, "{imported:?}");
    assert_eq!(journal.players(), ["Anna", "Mira"]);
    assert_eq!(journal.verify().expect("looked"), [], "each has its own sound");
}

#[test]
fn a_zip_whose_files_lie_in_one_another_or_grow_without_end_is_not_unpacked() {
    let (folder, journal, _, ids) = packed("grows");
    let text = fs::read(journal.sound(&ids[0]).with_file_name("take.ron")).expect("there");
    let zip = folder.0.join("grows.zip");
    // Each file grows less than it may, all of them together more.
    let zeros = [&text[..], &vec![b' '; (1 << 20) - 9_000]].concat();
    let names: Vec<String> =
        (10..90).map(|second| format!("2026-11-24/10-00-{second}/take.ron")).collect();
    let files: Vec<(&str, &[u8])> = names.iter().map(|name| (name.as_str(), &zeros[..])).collect();
    zip_of(&zip, &files);
    let other = open_at(&folder.0.join("new"));
    let error = other.import(&zip, Differing::Leave, &mut |_, _| ()).expect_err("too large");
    assert!(error.to_string().contains("would unpack to 8"), "{error}");
    // The second entry of the directory at the end leads to the file of the first.
    zip_of(&zip, &files[..2]);
    let mut bytes = fs::read(&zip).expect("there");
    let second = bytes.windows(4).rposition(|sign| sign == b"PK\x01\x02").expect("there");
    bytes[second + 42..second + 46].copy_from_slice(&[0; 4]);
    fs::write(&zip, &bytes).expect("written");
    let error = other.import(&zip, Differing::Leave, &mut |_, _| ()).expect_err("overlapping");
    assert!(error.to_string().contains("lie in one another"), "{error}");
    assert!(other.entries().is_empty());
}

#[test]
fn what_no_take_has_is_neither_carried_in_nor_out_and_is_told() {
    let (folder, journal, _, ids) = packed("strays");
    let take = journal.sound(&ids[0]).with_file_name("");
    let text = fs::read(take.join("take.ron")).expect("there");
    fs::write(take.join("notes.txt"), "mine").expect("written");
    let names = |path: &Path| {
        let mut names: Vec<_> =
            fs::read_dir(path).expect("there").flatten().map(|file| file.file_name()).collect();
        names.sort();
        names
    };
    for out in ["out", "out.zip"] {
        let out = folder.0.join(out);
        let exported = journal.export(Some("Mira"), &out, &mut |_, _| ()).expect("copied");
        assert_eq!((exported.takes, exported.told.len()), (2, 1), "{exported:?}");
        assert!(exported.told[0].contains("notes.txt"), "{exported:?}");
    }
    assert_eq!(names(&folder.0.join("out").join(ids[0].to_string())).len(), 2);
    let zip = folder.0.join("strays.zip");
    let here = "2026-11-24/10-00-00/take.ron";
    let strays = ["run.sh", "desktop.ini", "autorun.inf", "mended.flac"];
    let paths = strays.map(|name| format!("2026-11-24/10-00-00/{name}"));
    let mut files: Vec<(&str, &[u8])> = vec![(here, &text)];
    files.extend(paths.iter().map(|path| (path.as_str(), &b"evil"[..])));
    zip_of(&zip, &files);
    let other = open_at(&folder.0.join("new"));
    let imported = other.import(&zip, Differing::Leave, &mut |_, _| ()).expect("taken over");
    // And that its sound is missing.
    assert_eq!((imported.added.len(), imported.left_out.len()), (1, strays.len() + 1));
    assert_eq!(names(&other.folder().join("2026-11-24/10-00-00")), ["take.ron"]);
}

#[test]
fn a_file_cut_or_damaged_anywhere_harms_no_take_and_is_told() {
    let (folder, journal, file, _) = packed("cut");
    drop(journal);
    let bytes = fs::read(&file).expect("there");
    let mut chance = Chance(17);
    let damaged_file = folder.0.join("damaged.zip");
    let (mut told, mut whole) = (0, 0);
    for round in 0..200 {
        let target = Folder(folder.0.join("round"));
        let other = open_at(&target.0);
        let (damaged, place) = chance.damage(&bytes);
        fs::write(&damaged_file, &damaged).expect("written");
        let mut missing = 0;
        match other.import(&damaged_file, Differing::Leave, &mut |_, _| ()) {
            Err(error) => {
                told += 1;
                assert!(error.to_string().len() > 30, "{error}");
            }
            Ok(imported) => {
                let words = imported.unread.len() + imported.left_out.len();
                told += usize::from(words > 0);
                whole += imported.added.len();
                let is_missing =
                    |words: &&String| words.contains("missing") || words.contains("damaged");
                missing = imported.left_out.iter().filter(is_missing).count();
                assert!(
                    words > 0 || imported.added.len() == 2,
                    "round {round}, byte {place}: {imported:?}"
                );
            }
        }
        // Whatever came in is whole, but for sound of which it was said that it is not.
        let found = other.verify().expect("looked");
        assert!(found.len() <= missing, "round {round}, byte {place}: {found:?}");
    }
    assert!(told > 150 && whole > 20, "{told} told, {whole} whole");
    fs::write(&damaged_file, b"no zip at all").expect("written");
    let other = open_at(&folder.0.join("last"));
    let error = other.import(&damaged_file, Differing::Leave, &mut |_, _| ()).expect_err("no zip");
    assert!(error.to_string().contains("no zip"), "{error}");
}
