//! Disks that run full or break, at every byte and every call.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::common::{
    RATE_HZ, as_after_a_crash, begun, decoded, note, record, sound, whole, with_a_take,
};
use disk::{Disk, DiskFault};
use journal::{Context, Journal, JournalError, Kept, Label, Shelf, TakeId};

/// A disk that lets so much happen and then no more.
struct Ends {
    bytes: AtomicU64,
    changes: AtomicU64,
    kind: io::ErrorKind,
}

impl Ends {
    fn after(bytes: u64, changes: u64, kind: io::ErrorKind) -> Arc<Self> {
        Arc::new(Self { bytes: bytes.into(), changes: changes.into(), kind })
    }
}

impl DiskFault for Ends {
    fn write(&self, bytes: usize) -> io::Result<usize> {
        let left = self.bytes.load(Ordering::Relaxed);
        let fitting = left.min(bytes as u64);
        if fitting == 0 {
            return Err(self.kind.into());
        }
        self.bytes.store(left - fitting, Ordering::Relaxed);
        Ok(fitting as usize)
    }

    fn change(&self) -> io::Result<()> {
        let left = self.changes.load(Ordering::Relaxed);
        if left == 0 {
            return Err(self.kind.into());
        }
        self.changes.store(left - 1, Ordering::Relaxed);
        Ok(())
    }
}

/// Plays one take as the program does, up to where the disk no longer can. Says how many samples were
/// taken without complaint, and how it ended.
fn play(journal: &Journal, samples: &[f32]) -> (u64, Result<Kept, JournalError>) {
    let mut taken = 0;
    let outcome = (|| {
        let mut take = journal.begin(&Context::default(), RATE_HZ)?;
        for (number, part) in samples.chunks(4_410).enumerate() {
            take.sound(part)?;
            taken += part.len() as u64;
            if number % 4 == 3 {
                take.note(&note(0.1 * number as f64, 0.1 * number as f64 + 0.09))?;
            }
        }
        take.finish()
    })();
    (taken, outcome)
}

/// What a journal must be after a fault, opened on a sound disk: clean, the older take unharmed, of
/// the newer one all but its last second.
fn check(folder: &Path, old: &TakeId, samples: &[f32], taken: u64, kept: bool) {
    let opened = Journal::open(folder).expect("the disk is sound again");
    assert!(opened.unmended.is_empty(), "{:?}", opened.unmended);
    let journal = opened.journal;
    assert_eq!(journal.verify().expect("looked at"), []);
    assert_eq!(journal.entries().len(), journal.takes().expect("there").len());
    for id in journal.takes().expect("there") {
        let files = std::fs::read_dir(journal.sound(&id).with_file_name("")).expect("there");
        let mut names: Vec<_> = files.flatten().map(|file| file.file_name()).collect();
        names.sort();
        assert_eq!(names, ["sound.flac", "take.ron"]);
    }
    let first = journal.take(old).expect("unharmed");
    assert_eq!(first.notes.len(), 1);
    let newer: Vec<TakeId> =
        (journal.takes().expect("there").into_iter()).filter(|id| id != old).collect();
    let Some(id) = newer.first() else {
        assert!(!kept, "a take that was called kept is gone");
        assert!(taken <= 2 * u64::from(RATE_HZ), "{taken} samples are gone");
        return;
    };
    assert_eq!(newer.len(), 1);
    let sound = decoded(&journal.sound(id));
    assert!(sound[..] == whole(samples)[..sound.len()], "other sound than was played");
    let gone = taken.saturating_sub(sound.len() as u64);
    assert!(gone <= 2 * u64::from(RATE_HZ), "{gone} of {taken} samples are gone");
}

#[test]
fn wherever_the_disk_runs_full_only_the_last_two_seconds_are_lost_and_it_is_told() {
    let samples = sound(4 * RATE_HZ as usize);
    let (model, old) = with_a_take("full");
    let mut full = 0;
    // The take needs some 250 kB; to the end of it and beyond in uneven steps.
    for bytes in (0..400_000).step_by(9_973) {
        let folder = as_after_a_crash(&model, "full-copy");
        let disk = Disk::with(Ends::after(bytes, u64::MAX, io::ErrorKind::StorageFull));
        let journal = Journal::open_on(&folder.0, disk).expect("opened").journal;
        let (taken, outcome) = play(&journal, &samples);
        drop(journal);
        if let Err(error) = &outcome {
            assert!(matches!(error, JournalError::Full { .. }), "{error}");
            full += 1;
        }
        check(&folder.0, &old, &samples, taken, outcome.is_ok());
    }
    assert!((10..40).contains(&full), "{full} of 41 disks ran full");
}

#[test]
fn whichever_call_of_the_system_is_the_first_to_go_wrong_nothing_is_lost() {
    let samples = sound(3 * RATE_HZ as usize);
    let (model, old) = with_a_take("calls");
    for changes in 0.. {
        let folder = as_after_a_crash(&model, "calls-copy");
        let disk = Disk::with(Ends::after(u64::MAX, changes, io::ErrorKind::Other));
        let (taken, outcome) = match Journal::open_on(&folder.0, disk) {
            Ok(opened) => play(&opened.journal, &samples),
            Err(error) => (0, Err(error)),
        };
        let whole = outcome.is_ok();
        check(&folder.0, &old, &samples, taken, whole);
        if whole {
            assert!(changes > 12, "{changes} calls cannot be all");
            return;
        }
    }
}

#[test]
fn mending_that_goes_wrong_can_be_done_again() {
    let samples = sound(3 * RATE_HZ as usize);
    let (model, old) = with_a_take("again");
    let disk = Disk::with(Ends::after(120_000, u64::MAX, io::ErrorKind::StorageFull));
    let journal = Journal::open_on(&model.0, disk).expect("opened").journal;
    let (taken, outcome) = play(&journal, &samples);
    outcome.expect_err("the disk ran full");
    drop(journal);
    // So many calls go well, or so many bytes: the next opening has to do with what is left.
    let fates = (0..24)
        .map(|calls| (u64::MAX, calls))
        .chain((0..140_000).step_by(10_007).map(|bytes| (bytes, u64::MAX)));
    let mut unmended = 0;
    for (bytes, changes) in fates {
        let folder = as_after_a_crash(&model, "again-copy");
        let fate = Ends::after(bytes, changes, io::ErrorKind::StorageFull);
        match Journal::open_on(&folder.0, Disk::with(fate)) {
            Ok(opened) if opened.unmended.is_empty() => {}
            Ok(opened) => {
                unmended += opened.unmended.len();
                if changes == u64::MAX {
                    // A disk that is full is not filled further.
                    let half_mended = crate::common::unfinished(&folder).join("mended.flac");
                    assert!(!half_mended.exists(), "{bytes} bytes");
                }
            }
            Err(_) => unmended += 1,
        }
        check(&folder.0, &old, &samples, taken, false);
    }
    assert!(unmended > 20, "only {unmended} went wrong");
}

#[test]
fn a_take_that_went_wrong_takes_no_more() {
    let (folder, _) = with_a_take("stopped");
    let disk = Disk::with(Ends::after(20_000, u64::MAX, io::ErrorKind::StorageFull));
    let journal = Journal::open_on(&folder.0, disk).expect("opened").journal;
    let mut take = begun(&journal);
    let first = (0..).find_map(|_| take.sound(&sound(44_100)).err());
    assert!(matches!(first, Some(JournalError::Full { .. })));
    for _ in 0..2 {
        let error = take.note(&note(0.0, 0.1)).expect_err("it has stopped");
        assert!(matches!(error, JournalError::Stopped { .. }), "{error}");
    }
    take.finish().expect_err("it has stopped");
}

#[test]
fn a_folder_that_may_not_be_written_to_is_told_so_and_can_be_read() {
    let (folder, id) = with_a_take("forbidden");
    let never = Ends::after(0, 0, io::ErrorKind::ReadOnlyFilesystem);
    let Err(error) = Journal::open_on(&folder.0, Disk::with(never)) else {
        panic!("it may not be written to");
    };
    assert!(matches!(error, JournalError::Forbidden { .. }), "{error}");
    assert!(error.to_string().contains("choose another"), "{error}");
    // It becomes so while it is open.
    let soon = Ends::after(u64::MAX, 1, io::ErrorKind::ReadOnlyFilesystem);
    let journal = Journal::open_on(&folder.0, Disk::with(soon)).expect("opened").journal;
    for error in [
        journal.keep(&id, true).expect_err("not written"),
        journal.delete_for_good(&id).expect_err("not deleted"),
        journal.begin(&Context::default(), RATE_HZ).err().expect("not begun"),
    ] {
        assert!(matches!(error, JournalError::Forbidden { .. }), "{error}");
    }
    drop(journal);
    let shelf = Shelf::open(&folder.0).expect("it can be read");
    assert_eq!(shelf.take(&id).expect("read").notes.len(), 1);
    assert_eq!(shelf.verify().expect("looked"), []);
}

#[test]
fn on_a_full_disk_takes_are_deleted_and_leave_no_trace() {
    for erased in [false, true] {
        let folder = crate::common::Folder::new("full-delete");
        let id = record(&crate::common::opened(&folder), "Mira", 5_000);
        let full = Ends::after(0, u64::MAX, io::ErrorKind::StorageFull);
        // A hand has changed something, so that the index is not as it should be.
        std::fs::write(folder.0.join(".index"), "old").expect("written");
        let journal = Journal::open_on(&folder.0, Disk::with(full)).expect("opened").journal;
        journal.refresh().expect("looked");
        match erased {
            false => journal.delete_for_good(&id).expect("deleted"),
            true => assert_eq!(journal.erase("Mira").expect("erased"), 1),
        }
        assert!(!folder.0.join(id.day()).exists());
        assert!(!folder.0.join(".index").exists(), "it would know of them still");
        assert!(journal.entries().is_empty());
    }
}

#[test]
fn a_take_that_became_a_players_goes_out_and_is_erased_though_the_index_did_not_hear_of_it() {
    let folder = crate::common::Folder::new("old-index");
    let journal = crate::common::opened(&folder);
    let id = record(&journal, "Mira", 5_000);
    let index = folder.0.join(".index");
    let before = std::fs::read(&index).expect("there");
    journal.label(&id, Label::Player("Anna".to_owned())).expect("changed");
    drop(journal);
    let fail = || std::fs::write(&index, &before).expect("as if the disk had failed just then");
    fail();
    let out = folder.0.join("out.zip");
    let exported = crate::common::opened(&folder).export(Some("Anna"), &out, &mut |_, _| {});
    assert_eq!(exported.expect("exported").takes, 1);
    fail();
    assert_eq!(crate::common::opened(&folder).erase("Anna").expect("erased"), 1);
    assert!(!folder.0.join(id.day()).exists());
}

#[test]
fn a_copy_that_fills_the_disk_is_told_as_such_and_nothing_of_it_stays() {
    let (folder, _) = with_a_take("full-export");
    let out = crate::common::Folder::new("full-export-out");
    std::fs::create_dir_all(&out.0).expect("made");
    for bytes in (0..20_000).step_by(53) {
        let full = Ends::after(bytes, u64::MAX, io::ErrorKind::StorageFull);
        let journal = Journal::open_on(&folder.0, Disk::with(full)).expect("opened").journal;
        for name in ["copy.zip", "copy"] {
            let into = out.0.join(name);
            match journal.export(None, &into, &mut |_, _| ()) {
                Ok(_) => {
                    drop(std::fs::remove_dir_all(&into).or_else(|_| std::fs::remove_file(&into)))
                }
                Err(error) => {
                    assert!(matches!(error, JournalError::Full { .. }), "{bytes}, {name}: {error}");
                }
            }
            let left = std::fs::read_dir(&out.0).expect("there").count();
            assert_eq!(left, 0, "{bytes}, {name}");
        }
    }
}

#[test]
fn a_mark_that_finds_no_room_changes_nothing_and_leaves_nothing() {
    let (folder, id) = with_a_take("no-room");
    let full = Ends::after(0, u64::MAX, io::ErrorKind::StorageFull);
    let journal = Journal::open_on(&folder.0, Disk::with(full)).expect("opened").journal;
    let before = journal.take(&id).expect("read");
    let error = journal.keep(&id, true).expect_err("no room");
    assert!(matches!(error, JournalError::Full { .. }), "{error}");
    assert_eq!(journal.take(&id).expect("read"), before);
    let files = std::fs::read_dir(journal.sound(&id).with_file_name("")).expect("there");
    assert_eq!(files.count(), 2);
}

#[test]
fn deleting_that_breaks_off_leaves_a_whole_take_or_none() {
    let (model, id) = with_a_take("breaks-off");
    let mut gone = 0;
    for changes in 0.. {
        let folder = as_after_a_crash(&model, "breaks-off-copy");
        let fate = Ends::after(u64::MAX, 3 + changes, io::ErrorKind::Other);
        let journal = Journal::open_on(&folder.0, Disk::with(fate)).expect("opened").journal;
        let done = journal.delete_for_good(&id);
        drop(journal);
        let journal = Journal::open(&folder.0).expect("opened").journal;
        assert_eq!(journal.verify().expect("looked"), [], "{changes} calls");
        let shelf = Shelf::open(&folder.0).expect("opened");
        assert_eq!(shelf.entries().len(), journal.takes().expect("there").len());
        gone += usize::from(shelf.entries().is_empty());
        if done.is_ok() {
            assert!(shelf.entries().is_empty());
            assert!(changes > 4, "{changes} calls cannot be all");
            break;
        }
    }
    assert!(gone > 1);
}
