//! Disks that run full or break, clocks that are set back, files that were damaged or edited by hand.

mod common;

use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use common::{Chance, Folder, RATE_HZ, as_after_a_crash, decoded, note, opened, sound, whole};
use journal::{Answer, Context, Disk, Fate, Journal, JournalError, Kept, Shelf, SoundFile, TakeId};

/// A disk that lets so much happen and then no more.
struct Ends {
    bytes: AtomicU64,
    changes: AtomicU64,
    kind: io::ErrorKind,
}

impl Ends {
    fn after(bytes: u64, changes: u64, kind: io::ErrorKind) -> Arc<Self> {
        Arc::new(Self {
            bytes: bytes.into(),
            changes: changes.into(),
            kind,
        })
    }
}

impl Fate for Ends {
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
    assert_eq!(
        journal.entries().len(),
        journal.takes().expect("there").len()
    );
    let first = journal.take(old).expect("unharmed");
    assert_eq!(first.notes.len(), 1);
    let newer: Vec<TakeId> = (journal.takes().expect("there").into_iter())
        .filter(|id| id != old)
        .collect();
    let Some(id) = newer.first() else {
        assert!(!kept, "a take that was called kept is gone");
        assert!(taken <= 2 * u64::from(RATE_HZ), "{taken} samples are gone");
        return;
    };
    assert_eq!(newer.len(), 1);
    let sound = decoded(&journal.sound(id));
    assert!(
        sound[..] == whole(samples)[..sound.len()],
        "other sound than was played"
    );
    let gone = taken.saturating_sub(sound.len() as u64);
    assert!(
        gone <= 2 * u64::from(RATE_HZ),
        "{gone} of {taken} samples are gone"
    );
}

/// A journal with one whole take.
fn with_a_take(name: &str) -> (Folder, TakeId) {
    let folder = Folder::new(name);
    let journal = opened(&folder);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&sound(5_000)).expect("written");
    take.note(&note(0.0, 0.1)).expect("written");
    let id = take.finish().expect("finished").id;
    (folder, id)
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
            Ok(opened) => unmended += opened.unmended.len(),
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
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    let first = (0..).find_map(|_| take.sound(&sound(44_100)).err());
    assert!(matches!(first, Some(JournalError::Full { .. })));
    for _ in 0..2 {
        let error = take.note(&note(0.0, 0.1)).expect_err("it has stopped");
        assert!(matches!(error, JournalError::Stopped { .. }), "{error}");
    }
    take.finish().expect_err("it has stopped");
}

#[test]
fn names_go_on_when_the_clock_is_set_back_and_a_wrong_year_is_told() {
    let folder = Folder::new("clock");
    let journal = opened(&folder);
    let at = |time: &str| {
        let now = time.parse().expect("a time");
        let mut take = journal
            .begin_at(&now, &Context::default(), RATE_HZ)
            .expect("begun");
        take.sound(&[0.1; 100]).expect("written");
        take.finish().expect("finished").id
    };
    let ids = [
        at("2025-10-26T02:59:30+02:00[Europe/Berlin]"),
        // Summer time is over.
        at("2025-10-26T02:10:00+01:00[Europe/Berlin]"),
        at("2025-10-26T02:40:00+01:00[Europe/Berlin]"),
        at("2025-10-26T03:00:00+01:00[Europe/Berlin]"),
    ];
    assert!(ids.is_sorted(), "{ids:?}");
    assert_eq!(ids[2].to_string(), "2025-10-26/02-59-30-003");
    assert_eq!(journal.takes().expect("there"), ids);
    let entries = journal.entries();
    assert_eq!(entries[1].began_unix_s - entries[0].began_unix_s, 630);
    assert_eq!(entries[1].utc_offset_s, 3_600);
    // A clock that was wrong by years does not name takes for ever after.
    at("2199-01-01T00:00:00+00:00[UTC]");
    let next = at("2025-10-27T10:00:00+01:00[Europe/Berlin]");
    assert_eq!(next.to_string(), "2025-10-27/10-00-00");
    drop(journal);
    let opened = Journal::open(&folder.0).expect("opened");
    let future = opened.ahead_of_time.expect("it is told");
    assert_eq!(future.day(), "2199-01-01");
}

#[test]
fn an_edited_take_is_read_and_kept_beside_when_it_is_written_anew() {
    let (folder, id) = with_a_take("edited");
    let path = folder.0.join(id.day()).join(id.time()).join("take.ron");
    let text = fs::read_to_string(&path).expect("there");
    let edited = text.replace("word: \"\"", "word: \"the good one\" /* at last */");
    assert_ne!(edited, text);
    fs::write(&path, &edited).expect("edited");
    let journal = opened(&folder);
    assert_eq!(journal.take(&id).expect("read").word, "the good one");
    journal.keep(&id, true).expect("marked");
    let file = journal.take(&id).expect("read");
    assert!(file.keep && file.word == "the good one");
    assert!(journal.entry(&id).expect("there").keep);
    let aside = path.with_file_name("take.by-hand-1.ron");
    assert_eq!(fs::read_to_string(&aside).expect("kept"), edited);
    journal.keep(&id, false).expect("unmarked");
    assert!(
        !path.with_file_name("take.by-hand-2.ron").exists(),
        "it is as written now"
    );
    // Nothing is written over what cannot be understood.
    fs::write(&path, "(version: 9)").expect("written");
    journal.keep(&id, true).expect_err("of a later version");
    assert_eq!(fs::read_to_string(&path).expect("there"), "(version: 9)");
    let numbers = edited.replace("length_s: ", "length_s: -");
    fs::write(&path, &numbers).expect("written");
    let error = journal.take(&id).expect_err("no length").to_string();
    assert!(error.contains("is no length"), "{error}");
}

#[test]
fn a_reader_beside_a_writer_sees_its_takes_and_changes_nothing() {
    let (folder, id) = with_a_take("reader");
    let journal = opened(&folder);
    let shelf = Shelf::open(&folder.0).expect("the second window reads");
    assert_eq!(shelf.entries().len(), 1);
    let running = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    shelf.refresh().expect("looked");
    assert_eq!(
        shelf.entries().len(),
        1,
        "one that is being played is none yet"
    );
    let mut running = running;
    running.sound(&sound(50_000)).expect("written");
    let kept = running.finish().expect("finished");
    journal.keep(&id, true).expect("marked");
    // The file of the index has both already; the folders too.
    let other = Shelf::open(&folder.0).expect("the third window reads");
    shelf.refresh().expect("looked");
    for shelf in [&shelf, &other] {
        assert_eq!(shelf.entries().len(), 2);
        assert!(shelf.entry(&id).expect("there").keep);
        assert_eq!(shelf.entry(&kept.id).expect("there").notes.len(), 0);
    }
    assert_eq!(shelf.verify().expect("looked"), []);
    let Err(error) = Shelf::open(&folder.0.join("not there")) else {
        panic!("there is nothing");
    };
    assert!(matches!(error, JournalError::Gone { .. }));
}

#[test]
fn what_runs_on_another_computer_is_left_alone_for_a_day() {
    let (folder, _) = with_a_take("elsewhere");
    let journal = opened(&folder);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&sound(50_000)).expect("written");
    let copy = as_after_a_crash(&folder, "elsewhere-copy");
    let unfinished = common::unfinished(&copy);
    let head = unfinished.join("head.ron");
    let text = fs::read_to_string(&head).expect("there");
    let begin = text.find("computer: \"").expect("it is named") + 11;
    let end = begin + text[begin..].find('"').expect("it ends");
    let elsewhere = format!("{}the-studio{}", &text[..begin], &text[end..]);
    fs::write(&head, elsewhere).expect("written");
    let opened = Journal::open(&copy.0).expect("opened");
    assert!(opened.mended.is_empty());
    let words = opened.unmended[0].to_string();
    assert!(words.contains("the-studio"), "{words}");
    drop(opened);
    let days_ago = std::time::SystemTime::now() - std::time::Duration::from_secs(3 * 24 * 3_600);
    for file in fs::read_dir(&unfinished).expect("there").flatten() {
        let file = fs::File::options()
            .write(true)
            .open(file.path())
            .expect("opened");
        file.set_modified(days_ago).expect("dated");
    }
    let opened = Journal::open(&copy.0).expect("opened");
    assert_eq!(opened.mended.len(), 1);
}

#[test]
fn sound_survives_a_head_that_is_lost_or_damaged() {
    let (folder, _) = with_a_take("headless");
    let journal = opened(&folder);
    let samples = sound(100_000);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&samples).expect("written");
    for (name, damage) in [("no-head", None), ("bad-head", Some("(version: 1, com"))] {
        let copy = as_after_a_crash(&folder, name);
        let head = common::unfinished(&copy).join("head.ron");
        match damage {
            None => fs::remove_file(&head).expect("there"),
            Some(text) => fs::write(&head, text).expect("written"),
        }
        let opened = Journal::open(&copy.0).expect("opened");
        assert!(opened.unmended.is_empty(), "{:?}", opened.unmended);
        let id = &opened.mended[0].id;
        let file = opened.journal.take(id).expect("read");
        assert_eq!(file.sample_rate_hz, RATE_HZ);
        assert!(decoded(&opened.journal.sound(id)).len() > 90_000);
        let broken = opened.journal.sound(id).with_file_name("head.broken.ron");
        assert_eq!(broken.exists(), damage.is_some());
    }
}

#[test]
fn what_a_crash_does_not_explain_is_kept_as_it_was_found() {
    let (folder, _) = with_a_take("middle");
    let journal = opened(&folder);
    let samples = sound(200_000);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&samples).expect("written");
    let copy = as_after_a_crash(&folder, "middle-copy");
    let sound = common::unfinished(&copy).join("sound.flac");
    let mut bytes = fs::read(&sound).expect("there");
    let middle = bytes.len() / 2;
    bytes[middle] ^= 0x55;
    fs::write(&sound, &bytes).expect("written");
    let opened = Journal::open(&copy.0).expect("opened");
    let path = opened.journal.sound(&opened.mended[0].id);
    assert!(decoded(&path).len() > 40_000);
    let broken = path.with_file_name("sound.broken.flac");
    assert_eq!(fs::read(broken).expect("kept"), bytes);
    // Nothing can be read: it stays unfinished.
    let copy = as_after_a_crash(&folder, "nothing-copy");
    let sound = common::unfinished(&copy).join("sound.flac");
    bytes[0] ^= 0x55;
    fs::write(&sound, &bytes).expect("written");
    let opened = Journal::open(&copy.0).expect("opened");
    assert!(opened.mended.is_empty());
    let words = opened.unmended[0].to_string();
    assert!(words.contains("left as it is"), "{words}");
    assert_eq!(fs::read(&sound).expect("there"), bytes);
}

#[test]
fn a_flipped_bit_or_a_cut_anywhere_is_found_and_harms_no_other_take() {
    let (folder, id) = with_a_take("verify");
    let other = {
        let journal = opened(&folder);
        let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
        take.sound(&sound(9_000)).expect("written");
        take.finish().expect("finished").id
    };
    let shelf = Shelf::open(&folder.0).expect("opened");
    assert_eq!(shelf.verify().expect("looked"), []);
    let take = folder.0.join(id.day()).join(id.time());
    let mut chance = Chance(303);
    for round in 0..1_000 {
        let path = take.join(if round % 3 == 0 {
            "take.ron"
        } else {
            "sound.flac"
        });
        let bytes = fs::read(&path).expect("there");
        let about = fs::metadata(&path).expect("there");
        let mut damaged = bytes.clone();
        let place = chance.below(bytes.len());
        if chance.below(4) == 0 {
            damaged.truncate(place);
        } else {
            damaged[place] ^= 1 << chance.below(8);
        }
        fs::write(&path, &damaged).expect("written");
        // As a failing disk does it: without a new time.
        let file = fs::File::options().write(true).open(&path).expect("opened");
        file.set_modified(about.modified().expect("dated"))
            .expect("dated");
        drop(file);
        let found = shelf.verify().expect("looked");
        // A cut take.ron differs in length, and if what is left can be read it counts as edited by hand.
        assert!(
            !found.is_empty(),
            "round {round}, byte {place} of {}",
            path.display()
        );
        assert!(
            found.iter().all(|damage| damage.id.as_ref() == Some(&id)),
            "{found:?}"
        );
        assert!(
            found.iter().all(|damage| damage.words.len() > 20),
            "{found:?}"
        );
        shelf.take(&other).expect("unharmed");
        fs::write(&path, &bytes).expect("written");
        let file = fs::File::options().write(true).open(&path).expect("opened");
        file.set_modified(about.modified().expect("dated"))
            .expect("dated");
    }
    assert_eq!(shelf.verify().expect("looked"), []);
}

#[test]
fn a_damaged_index_costs_nothing_but_time() {
    let folder = Folder::new("index");
    let journal = opened(&folder);
    for number in 0..20 {
        let context = Context {
            player: format!("player {}", number % 3),
            ..Context::default()
        };
        let mut take = journal.begin(&context, RATE_HZ).expect("begun");
        take.note(&note(0.1, 0.4)).expect("written");
        take.finish().expect("finished");
    }
    journal.rebuild_index().expect("rebuilt");
    let due = journal.entries();
    assert_eq!(journal.players(), ["player 0", "player 1", "player 2"]);
    drop(journal);
    let path = folder.0.join(".index");
    let bytes = fs::read(&path).expect("there");
    let mut chance = Chance(404);
    for round in 0..1_000 {
        let mut damaged = bytes.clone();
        let place = chance.below(bytes.len());
        if chance.below(4) == 0 {
            damaged.truncate(place);
        } else {
            damaged[place] ^= 1 << chance.below(8);
        }
        fs::write(&path, &damaged).expect("written");
        let shelf = Shelf::open(&folder.0).expect("opened");
        // A cut between two records shows only when the folders are looked at.
        if round % 10 == 0 || shelf.entries() != due {
            shelf.refresh().expect("looked");
        }
        assert_eq!(shelf.entries(), due, "round {round}, byte {place}");
    }
    // The writer sets it right.
    drop(opened(&folder));
    assert_eq!(fs::read(&path).expect("there"), bytes);
}

#[test]
fn old_sound_is_forgotten_its_measures_and_marked_takes_stay() {
    let folder = Folder::new("forget");
    let journal = opened(&folder);
    let at = |time: &str| {
        let now = time.parse().expect("a time");
        let mut take = journal
            .begin_at(&now, &Context::default(), RATE_HZ)
            .expect("begun");
        take.sound(&sound(3_000)).expect("written");
        take.note(&note(0.0, 0.05)).expect("written");
        take.finish().expect("finished").id
    };
    let old = at("2001-01-01T10:00:00+00:00[UTC]");
    let marked = at("2001-01-02T10:00:00+00:00[UTC]");
    journal.keep(&marked, true).expect("marked");
    // All takes are old: then the clock is not believed.
    assert_eq!(journal.forget_sound_older_than(30).expect("done"), []);
    assert!(journal.sound(&old).exists());
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&sound(3_000)).expect("written");
    let fresh = take.finish().expect("finished").id;
    assert_eq!(
        journal.forget_sound_older_than(30).expect("done"),
        std::slice::from_ref(&old)
    );
    assert!(!journal.sound(&old).exists());
    assert!(journal.sound(&marked).exists() && journal.sound(&fresh).exists());
    let file = journal.take(&old).expect("read");
    assert_eq!((file.sound, file.notes.len()), (SoundFile::Forgotten, 1));
    assert_eq!(journal.forget_sound_older_than(30).expect("done"), []);
    assert_eq!(journal.verify().expect("looked"), []);
}

#[test]
fn what_is_deleted_for_good_is_gone_and_what_a_crash_leaves_of_it_too() {
    let (folder, id) = with_a_take("delete");
    let journal = opened(&folder);
    let answer = Answer {
        note: 0,
        question: "centre".to_owned(),
        answer: "high".to_owned(),
        measured: None,
    };
    let take = folder.0.join(id.day()).join(id.time());
    let leftover = take.with_file_name("10-00-00.discarded");
    fs::create_dir(&leftover).expect("made");
    fs::write(leftover.join("take.ron"), "()").expect("written");
    journal.delete_for_good(&id).expect("deleted");
    assert!(!take.exists());
    assert_eq!(journal.entries().len(), 0);
    let error = journal.answer(&id, answer).expect_err("it is gone");
    assert!(matches!(error, JournalError::Missing { .. }), "{error}");
    let error = journal.delete_for_good(&id).expect_err("it is gone");
    assert!(matches!(error, JournalError::Missing { .. }), "{error}");
    drop(journal);
    let journal = opened(&folder);
    assert!(!leftover.exists());
    assert_eq!(journal.entries().len(), 0);
}
