//! Takes of several players in one journal: carried out, carried in, erased.

use std::fs;

use crate::common::{Folder, RATE_HZ, decoded, note, opened, record, sound, take_ron};
use journal::{
    Context, Differing, Fingering, JournalError, Label, LessonPart, Pace, Shelf, SoundFile,
    WrittenLesson,
};

#[test]
fn one_players_takes_are_carried_out_whole_and_back_in_without_doubles() {
    let (home, out) = (Folder::new("home"), Folder::new("out"));
    let journal = opened(&home);
    let mira = [record(&journal, "Mira", 5_000), record(&journal, "Mira", 6_000)];
    let ada = record(&journal, "Ada", 7_000);
    assert_eq!(journal.export(Some("Mira"), &out.0, &mut |_, _| ()).expect("copied").takes, 2);
    let Err(error) = journal.export(None, &out.0, &mut |_, _| ()) else {
        panic!("it is not empty");
    };
    assert!(matches!(error, JournalError::Occupied { .. }), "{error}");
    let copy = Shelf::open(&out.0).expect("a journal of its own");
    assert_eq!(copy.takes().expect("read"), mira);
    assert_eq!(copy.verify().expect("looked"), []);
    assert_eq!(copy.players(), ["Mira"]);
    for id in &mira {
        assert_eq!(copy.take(id).expect("read"), journal.take(id).expect("read"));
        assert_eq!(decoded(&copy.sound(id)), decoded(&journal.sound(id)));
    }
    // Nothing is new.
    let imported = journal.import(&out.0, Differing::Leave, &mut |_, _| ()).expect("looked");
    assert_eq!((imported.added.len(), imported.known), (0, mira.to_vec()));
    // One is gone, and its name is another take's now.
    journal.delete_for_good(&mira[1]).expect("deleted");
    let theirs = home.0.join(ada.day()).join(ada.time());
    fs::rename(theirs, journal.sound(&mira[1]).with_file_name("")).expect("renamed");
    journal.refresh().expect("looked");
    let imported = journal.import(&out.0, Differing::Leave, &mut |_, _| ()).expect("copied");
    assert_eq!(imported.known, mira[..1]);
    let [added] = &imported.added[..] else {
        panic!("{imported:?}");
    };
    assert_ne!(*added, mira[1]);
    assert_eq!(journal.take(&mira[1]).expect("read").player, "Ada");
    assert_eq!(decoded(&journal.sound(added)).len(), 6_000);
    assert_eq!(journal.verify().expect("looked"), []);
}

#[test]
fn what_cannot_be_understood_elsewhere_is_told_and_not_carried_in() {
    let (home, out) = (Folder::new("in"), Folder::new("later-version"));
    let journal = opened(&home);
    let other = opened(&out);
    let id = record(&other, "Mira", 5_000);
    let good = record(&other, "Mira", 6_000);
    drop(other);
    fs::write(take_ron(&out, &id), "(version: 7)").expect("written");
    fs::remove_file(out.0.join(".index")).expect("there");
    let imported = journal.import(&out.0, Differing::Leave, &mut |_, _| ()).expect("copied");
    assert_eq!(imported.added, [good]);
    assert_eq!(imported.unread.len(), 1);
    assert!(imported.unread[0].1.contains("later evenwave"), "{imported:?}");
}

#[test]
fn a_take_whose_sound_is_missing_elsewhere_is_told_and_the_others_come_in() {
    let (home, out) = (Folder::new("no-sound-here"), Folder::new("no-sound-there"));
    let (journal, other) = (opened(&home), opened(&out));
    let (bad, good) = (record(&other, "Mira", 5_000), record(&other, "Mira", 6_000));
    journal.import(&out.0, Differing::Leave, &mut |_, _| ()).expect("copied");
    journal.delete_for_good(&good).expect("deleted");
    // Here it has no sound; there it has another word, and its sound has gone.
    let here = journal.sound(&bad).with_file_name("take.ron");
    let mut file = journal.take(&bad).expect("read");
    file.sound = SoundFile::None;
    let text = ron::to_string(&file).expect("text");
    fs::write(&here, &text).expect("written");
    fs::remove_file(journal.sound(&bad)).expect("there");
    other.label(&bad, Label::Word("warm".to_owned())).expect("written");
    fs::remove_file(other.sound(&bad)).expect("there");
    drop(other);
    let imported = journal.import(&out.0, Differing::Replace, &mut |_, _| ()).expect("copied");
    assert_eq!(imported.added, [good]);
    assert_eq!(imported.replaced, []);
    let [(id, words)] = &imported.unread[..] else {
        panic!("{imported:?}");
    };
    assert_eq!(*id, bad);
    let theirs = out.0.join(bad.to_string()).join("sound.flac");
    assert!(words.contains("not there any more"), "{words}");
    assert!(words.ends_with(&theirs.display().to_string()), "{words}");
    let files: Vec<_> = fs::read_dir(here.with_file_name("")).expect("there").flatten().collect();
    assert_eq!(files.len(), 1, "{files:?}");
    assert_eq!(fs::read_to_string(&here).expect("there"), text, "what is here stays");
}

#[test]
fn damaged_sound_is_told_wherever_it_goes() {
    type Spoil = fn(&mut Vec<u8>);
    let spoils: [(&str, Spoil); 3] = [
        ("cut", |bytes| bytes.truncate(bytes.len() / 2)),
        ("flipped", |bytes| {
            let middle = bytes.len() / 2;
            bytes[middle] ^= 1;
        }),
        ("empty", Vec::clear),
    ];
    for (spoilt, spoil) in spoils {
        let (home, out) = (Folder::new("spoilt-home"), Folder::new("spoilt-out"));
        let journal = opened(&home);
        let (id, good) = (record(&journal, "Mira", 9_000), record(&journal, "Mira", 8_000));
        let mut bytes = fs::read(journal.sound(&id)).expect("there");
        spoil(&mut bytes);
        fs::write(journal.sound(&id), &bytes).expect("written");
        let file = journal.take(&id).expect("read");
        let error = journal.check_sound(&id, &file).expect_err("it is damaged");
        assert!(matches!(error, JournalError::Damaged { .. }), "{spoilt}: {error}");
        let whole = journal.take(&good).expect("read");
        journal.check_sound(&good, &whole).expect("that is whole");
        fs::create_dir_all(&out.0).expect("made");
        for name in ["copy", "copy.zip"] {
            let copy = out.0.join(name);
            let exported = journal.export(None, &copy, &mut |_, _| ()).expect("copied");
            assert_eq!((exported.takes, exported.told.len()), (2, 1), "{spoilt}: {exported:?}");
            assert!(exported.told[0].contains(&format!("{id} is damaged")), "{exported:?}");
            let other = Folder(out.0.join(format!("{name}-in")));
            let into = opened(&other);
            let imported = into.import(&copy, Differing::Leave, &mut |_, _| ()).expect("taken");
            assert_eq!((imported.added.len(), imported.left_out.len()), (2, 1), "{spoilt}, {name}");
            assert!(imported.left_out[0].contains(&format!("{id} is damaged")), "{imported:?}");
            assert_eq!(into.verify().expect("looked").len(), 1, "{spoilt}, {name}");
        }
    }
}

#[test]
fn tasks_that_cannot_be_read_keep_no_take_from_being_carried_out() {
    let (home, out) = (Folder::new("tasks-home"), Folder::new("tasks-out"));
    let journal = opened(&home);
    record(&journal, "Mira", 5_000);
    fs::write(home.0.join("tasks.ron"), "(version: 1, ").expect("written");
    fs::create_dir_all(&out.0).expect("made");
    for name in ["copy", "copy.zip"] {
        let exported = journal.export(None, &out.0.join(name), &mut |_, _| ()).expect("copied");
        assert_eq!(exported.takes, 1);
        assert!(exported.told[0].contains("tasks of lessons stay here"), "{exported:?}");
    }
}

#[test]
fn a_copy_that_breaks_off_is_not_there_and_a_folder_that_was_empty_is_again() {
    let (home, out) = (Folder::new("breaks-home"), Folder::new("breaks-out"));
    let journal = opened(&home);
    let ids = [record(&journal, "Mira", 5_000), record(&journal, "Mira", 5_000)];
    let second = take_ron(&home, &ids[1]);
    let text = fs::read(&second).expect("there");
    for was_there in [false, true] {
        fs::write(&second, &text).expect("written");
        fs::create_dir_all(&out.0).expect("made");
        let into = out.0.join("copy");
        if was_there {
            fs::create_dir(&into).expect("made");
        }
        let mut done = 0;
        // The second take goes while the first is copied.
        let mut passed = |now, _| {
            done = now;
            fs::remove_file(&second).expect("there");
        };
        journal.export(None, &into, &mut passed).expect_err("it breaks off");
        assert_eq!(done, 1, "the first one was copied");
        assert_eq!(into.exists(), was_there);
        let left = fs::read_dir(&out.0).expect("there").count();
        assert_eq!(left, usize::from(was_there));
        assert!(!was_there || fs::read_dir(&into).expect("there").next().is_none());
    }
}

#[cfg(unix)]
#[test]
fn no_link_in_another_journal_is_followed() {
    let (home, out) = (Folder::new("followed-home"), Folder::new("followed-out"));
    let (journal, other) = (opened(&home), opened(&out));
    let [sound, whole, plain] = [5_000, 6_000, 7_000].map(|count| record(&other, "Mira", count));
    drop(other);
    let secret = Folder::new("secret");
    fs::create_dir_all(&secret.0).expect("made");
    let link = |path: &std::path::Path| {
        let place = secret.0.join(path.file_name().expect("it has one"));
        fs::rename(path, &place).expect("moved");
        std::os::unix::fs::symlink(&place, path).expect("linked");
    };
    link(&out.0.join(sound.to_string()).join("sound.flac"));
    link(&out.0.join(whole.to_string()));
    let imported = journal.import(&out.0, Differing::Leave, &mut |_, _| ()).expect("taken over");
    assert_eq!(imported.added, [sound.clone(), plain.clone()]);
    let said = imported.left_out.join("; ");
    for words in [
        format!("a link leads to {whole}"),
        "sound.flac is a link".to_owned(),
        format!("the sound of {sound} is missing"),
    ] {
        assert!(said.contains(&words), "{said}");
    }
    assert!(!journal.sound(&sound).exists() && journal.sound(&plain).exists());
}

#[test]
fn an_erased_player_leaves_no_trace_and_the_others_stay() {
    let folder = Folder::new("erase");
    let journal = opened(&folder);
    record(&journal, "Mira", 5_000);
    let ada = record(&journal, "Ada", 5_000);
    record(&journal, "Mira", 5_000);
    let holds = |name: &str| {
        let index = fs::read(folder.0.join(".index")).expect("there");
        index.windows(name.len()).any(|part| part == name.as_bytes())
    };
    assert!(holds("Mira"));
    assert_eq!(journal.erase("Mira").expect("erased"), 2);
    assert_eq!(journal.takes().expect("read"), [ada]);
    assert_eq!(journal.players(), ["Ada"]);
    assert!(!holds("Mira") && holds("Ada"));
    assert_eq!(journal.erase("Mira").expect("nothing to do"), 0);
}

#[test]
fn all_that_is_known_of_a_take_is_in_its_file_and_the_index() {
    let folder = Folder::new("context");
    let journal = opened(&folder);
    let model = record(&journal, "Ada", 100);
    let context = Context {
        room: "Lesson".to_owned(),
        player: "Mira".to_owned(),
        instrument: Some("cello".to_owned()),
        device: "USB Audio".to_owned(),
        drill: Some("by count".to_owned()),
        passage: Some("slow line".to_owned()),
        pace: Some(Pace { bpm: 60.0, oscillations_per_beat: Some(4.0) }),
        finger: Some(2),
        string: Some("D".to_owned()),
        lesson: Some(LessonPart::Echo { of: model.clone() }),
        word: "looser".to_owned(),
        ..Context::default()
    };
    let mut take = journal.begin(&context, RATE_HZ).expect("begun");
    take.sound(&sound(5_000)).expect("written");
    take.note(&note(0.0, 0.05)).expect("written");
    let by = Fingering { finger: Some(4), string: Some("A".to_owned()) };
    take.note_by(&note(0.05, 0.1), &by).expect("written");
    let id = take.finish().expect("finished").id;
    let text = fs::read_to_string(take_ron(&folder, &id));
    let text = text.expect("there");
    for line in [
        "room: \"Lesson\"",
        "player: \"Mira\"",
        "instrument: Some(\"cello\")",
        "device: \"USB Audio\"",
        "drill: Some(\"by count\")",
        "passage: Some(\"slow line\")",
        "pace_bpm: Some(60.0)",
        "oscillations_per_beat: Some(4.0)",
        "finger: Some(2)",
        "string: Some(\"D\")",
        &format!("lesson: Some(Echo(of: \"{model}\"))"),
        "word: \"looser\"",
        "a4_hz: 440.0",
        "temperament: \"equal\"",
        "sample_rate_hz: 44100",
    ] {
        let flat: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let flat = flat.replace("( ", "(").replace(", )", ")");
        assert!(flat.contains(line), "{line} is not in\n{text}");
    }
    drop(journal);
    // From the file of the index, and from the takes.
    let quick = Shelf::open(&folder.0).expect("opened");
    fs::remove_file(folder.0.join(".index")).expect("there");
    let slow = Shelf::open(&folder.0).expect("opened");
    for shelf in [quick, slow] {
        let entry = shelf.entry(&id).expect("there");
        assert_eq!(entry.player, "Mira");
        assert_eq!(entry.passage.as_deref(), Some("slow line"));
        let echo = WrittenLesson::Echo { of: model.to_string() };
        assert_eq!(entry.lesson, Some(echo));
        assert_eq!(entry.finger, Some(2));
        let fingers: Vec<_> = entry.notes.iter().map(|note| note.finger).collect();
        assert_eq!(fingers, [Some(2), Some(4)]);
    }
}

#[test]
fn a_hand_that_edits_is_seen_when_the_takes_are_looked_at() {
    let folder = Folder::new("hand");
    let journal = opened(&folder);
    let id = record(&journal, "Mira", 5_000);
    let shelf = Shelf::open(&folder.0).expect("opened");
    let path = take_ron(&folder, &id);
    let text = fs::read_to_string(&path).expect("there");
    fs::write(&path, text.replace("\"Mira\"", "\"Mira Lind\"")).expect("written");
    assert_eq!(shelf.players(), ["Mira"], "the index is believed at first");
    for shelf in [&shelf, &*journal] {
        shelf.refresh().expect("looked");
        assert_eq!(shelf.players(), ["Mira Lind"]);
    }
    assert_eq!(Shelf::open(&folder.0).expect("opened").players(), ["Mira Lind"]);
    // A folder may be moved or named by hand too.
    let good = path.with_file_name("").with_file_name(format!("{} the good one", id.time()));
    fs::rename(path.with_file_name(""), &good).expect("renamed");
    shelf.refresh().expect("looked");
    assert_eq!(shelf.entries()[0].id.time(), format!("{} the good one", id.time()));
    fs::rename(&good, good.with_file_name("the good one")).expect("renamed");
    let found = shelf.verify().expect("looked");
    assert!(found[0].words.contains("its name is not that of one"), "{found:?}");
    journal.refresh().expect("looked");
    assert!(journal.entries().is_empty());
}
