//! Names and clocks, readers beside a writer, deleting and forgetting.

use std::fs;

use crate::common::{
    Folder, RATE_HZ, as_after_a_crash, begun, copy_folder, days_ago, opened, sound, take_ron,
    with_a_take,
};
use journal::{Answer, Context, Journal, JournalError, Label, Shelf, TakeId};

#[test]
fn names_go_on_when_the_clock_is_set_back_and_a_wrong_year_is_told() {
    let folder = Folder::new("clock");
    let journal = opened(&folder);
    let at = |time: &str| {
        let now = time.parse().expect("a time");
        let mut take = journal.begin_at(&now, &Context::default(), RATE_HZ).expect("begun");
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
    let words = opened.words();
    assert!(words.iter().any(|words| words.contains("2199-01-01")), "{words:?}");
    let future = opened.ahead_of_time.expect("it is known");
    assert_eq!(future.day(), "2199-01-01");
}

#[test]
fn a_reader_beside_a_writer_sees_its_takes_and_changes_nothing() {
    let (folder, id) = with_a_take("reader");
    let journal = opened(&folder);
    let shelf = Shelf::open(&folder.0).expect("the second window reads");
    assert_eq!(shelf.entries().len(), 1);
    let running = begun(&journal);
    shelf.refresh().expect("looked");
    assert_eq!(shelf.entries().len(), 1, "one that is being played is none yet");
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
    let mut take = begun(&journal);
    take.sound(&sound(50_000)).expect("written");
    let copy = as_after_a_crash(&folder, "elsewhere-copy");
    let unfinished = crate::common::unfinished(&copy);
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
        let file = fs::File::options().write(true).open(file.path()).expect("opened");
        file.set_modified(days_ago).expect("dated");
    }
    let opened = Journal::open(&copy.0).expect("opened");
    assert_eq!(opened.mended.len(), 1);
}

#[test]
fn a_clock_that_jumps_ahead_takes_no_sound_with_it() {
    let folder = Folder::new("jump");
    let journal = opened(&folder);
    // The journal is as it was years ago, and one take was recorded since the clock jumped.
    let takes: Vec<TakeId> = (0..5).map(|day| days_ago(&journal, 5_000 - day)).collect();
    drop(journal);
    let journal = opened(&folder);
    days_ago(&journal, 0);
    drop(journal);
    let journal = opened(&folder);
    let forgotten = journal.forget_sound_older_than(30, 99).expect("done");
    assert_eq!(forgotten.gone, []);
    let words = forgotten.left.expect("it is told");
    assert!(words.contains("the sound of 5 takes stays"), "{words}");
    assert!(words.contains("a week is counted, so that a wrong clock takes no sound"), "{words}");
    assert!(takes.iter().all(|id| journal.sound(id).exists()));
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
    let leftover = take.with_file_name(".evenwave-1.gone");
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

#[test]
fn a_folder_that_a_hand_named_stays_whatever_its_name_ends_with() {
    let (folder, id) = with_a_take("named");
    let take = folder.0.join(id.day()).join(id.time());
    for ending in [" before.copying", " before.discarded"] {
        let named = take.with_file_name(format!("{}{ending}", id.time()));
        copy_folder(&take, &named);
    }
    // So an earlier version called what it had not come to an end with.
    let earlier = take.with_file_name("10-00-00.discarded");
    copy_folder(&take, &earlier);
    let journal = opened(&folder);
    assert_eq!(journal.entries().len(), 3);
    assert!(earlier.join("sound.flac").exists());
    let found = journal.verify().expect("looked");
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].words.contains("its name is not that of one"), "{found:?}");
}

#[cfg(unix)]
#[test]
fn no_link_in_a_journal_is_followed_to_write() {
    let (folder, id) = with_a_take("links");
    let theirs = Folder::new("theirs");
    fs::create_dir_all(&theirs.0).expect("made");
    let file = theirs.0.join("file");
    let take = folder.0.join(id.day()).join(id.time());
    // The lock cannot be a link; names that a writer might use beside its file can.
    for link in [folder.0.join(".index.new"), take.join("take.new"), folder.0.join(".lock")] {
        fs::write(&file, "theirs").expect("written");
        fs::remove_file(&link).ok();
        std::os::unix::fs::symlink(&file, &link).expect("linked");
        let opened = Journal::open(&folder.0);
        assert_eq!(opened.is_err(), link.ends_with(".lock"), "{}", link.display());
        if let Ok(opened) = opened {
            opened.journal.keep(&id, link.ends_with("take.new")).expect("marked");
            opened.journal.rebuild_index().expect("made anew");
        }
        assert_eq!(fs::read(&file).expect("there"), b"theirs", "{}", link.display());
        assert!(link.is_symlink(), "{}", link.display());
    }
}

#[cfg(unix)]
#[test]
fn nothing_is_deleted_through_a_link() {
    let (folder, id) = with_a_take("linked");
    let theirs = Folder::new("linked-theirs");
    fs::create_dir_all(&theirs.0).expect("made");
    let day = folder.0.join(id.day());
    for linked in [day.clone(), day.join(id.time())] {
        let place = theirs.0.join("place");
        fs::rename(&linked, &place).expect("moved");
        std::os::unix::fs::symlink(&place, &linked).expect("linked");
        let journal = opened(&folder);
        assert_eq!(journal.entries().len(), 1, "it is read all the same");
        for error in [
            journal.delete_for_good(&id).expect_err("a link"),
            journal.delete(&id).expect_err("a link"),
            journal.erase("").expect_err("a link"),
        ] {
            assert!(matches!(error, JournalError::Linked { .. }), "{error}");
        }
        assert!(journal.sound(&id).exists() && linked.is_symlink());
        fs::remove_file(&linked).expect("the link");
        fs::rename(&place, &linked).expect("moved back");
    }
}

#[cfg(unix)]
#[test]
fn takes_are_for_the_owner_alone() {
    use std::os::unix::fs::PermissionsExt;
    let (folder, id) = with_a_take("private");
    let journal = opened(&folder);
    journal.keep(&id, true).expect("marked");
    let out = Folder::new("private-out");
    journal.export(None, &out.0.join("copy"), &mut |_, _| ()).expect("copied");
    let zip = out.0.join("copy.zip");
    journal.export(None, &zip, &mut |_, _| ()).expect("copied");
    let day = id.day();
    for (path, due) in [
        (folder.0.clone(), 0o700),
        (folder.0.join(day), 0o700),
        (folder.0.join(id.to_string()), 0o700),
        (journal.sound(&id), 0o600),
        (take_ron(&folder, &id), 0o600),
        (folder.0.join(".index"), 0o600),
        (out.0.join("copy").join(id.to_string()).join("sound.flac"), 0o600),
        (zip, 0o600),
    ] {
        let mode = fs::metadata(&path).expect("there").permissions().mode();
        assert_eq!(mode & 0o777, due, "{}", path.display());
    }
    // A journal of an earlier version is closed when it is opened to be written to.
    drop(journal);
    let open = fs::Permissions::from_mode(0o755);
    fs::set_permissions(folder.0.join(day), open).expect("changed");
    drop(opened(&folder));
    let mode = fs::metadata(folder.0.join(day)).expect("there").permissions().mode();
    assert_eq!(mode & 0o777, 0o700);
}

#[test]
fn a_take_that_a_hand_took_away_is_forgotten_at_the_next_opening_for_writing() {
    let (folder, id) = with_a_take("by-hand");
    fs::remove_dir_all(folder.0.join(id.day()).join(id.time())).expect("taken away");
    drop(opened(&folder));
    let shelf = Shelf::open(&folder.0).expect("opened");
    assert!(shelf.entries().is_empty());
}

#[test]
fn what_a_hand_says_of_a_take_stands_in_its_file_and_in_the_index() {
    let folder = Folder::new("label");
    let journal = opened(&folder);
    let mut take = begun(&journal);
    take.sound(&sound(5_000)).expect("written");
    let id = take.finish().expect("finished").id;
    for label in [
        Label::Word("warm".to_owned()),
        Label::Player("Mira".to_owned()),
        Label::Passage("bars 9 to 16".to_owned()),
        Label::Finger(Some(4)),
        Label::String("D".to_owned()),
    ] {
        journal.label(&id, label).expect("written");
    }
    drop(journal);
    let shelf = Shelf::open(&folder.0).expect("opened");
    let (file, entry) = (shelf.take(&id).expect("read"), shelf.entry(&id).expect("there"));
    assert_eq!((file.player.as_str(), file.word.as_str()), ("Mira", "warm"));
    assert_eq!((file.passage.clone(), file.finger), (entry.passage.clone(), entry.finger));
    assert_eq!((file.passage.as_deref(), file.finger), (Some("bars 9 to 16"), Some(4)));
    assert_eq!((file.string.as_deref(), entry.string.as_deref()), (Some("D"), Some("D")));
    assert_eq!(shelf.players(), ["Mira"]);
    assert_eq!(shelf.verify().expect("looked"), []);
    let journal = opened(&folder);
    for label in [Label::Passage(String::new()), Label::String(String::new())] {
        journal.label(&id, label).expect("written");
    }
    assert_eq!(journal.take(&id).expect("read").string, None);
    assert_eq!(journal.take(&id).expect("read").passage, None);
}
