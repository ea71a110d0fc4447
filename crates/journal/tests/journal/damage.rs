//! Files that were damaged, or edited by hand.

use std::fs;

use crate::common::{
    Chance, Folder, RATE_HZ, as_after_a_crash, begun, decoded, note, opened, sound, take_ron,
    with_a_take,
};
use journal::{Answer, Context, Journal, Shelf};

#[test]
fn an_edited_take_is_read_and_kept_beside_when_it_is_written_anew() {
    let (folder, id) = with_a_take("edited");
    let path = take_ron(&folder, &id);
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
    assert!(!path.with_file_name("take.by-hand-2.ron").exists(), "it is as written now");
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
fn numbers_that_cannot_be_are_told_and_the_take_is_left_as_it_is() {
    let (folder, id) = with_a_take("numbers");
    let journal = opened(&folder);
    let path = take_ron(&folder, &id);
    let text = fs::read_to_string(&path).expect("there");
    let field = |name: &str| {
        let from = text.find(name).expect("in a take") + name.len();
        let to = from + text[from..].find([',', '\n']).expect("another follows");
        text[from..to].to_owned()
    };
    for (name, values) in [
        ("midi: ", &["-2147483648", "128"][..]),
        ("end_s: ", &["-1.0", "1e308", "NaN", "inf"]),
        ("reference_hz: ", &["0.0", "-220.0"]),
        ("unsteadiness_cents: ", &["1e300"]),
        ("length_s: ", &["1e308", "-1.0", "NaN"]),
    ] {
        for value in values {
            let was = format!("{name}{}", field(name));
            let edited = text.replacen(&was, &format!("{name}{value}"), 1);
            assert_ne!(edited, text, "{name}");
            fs::write(&path, &edited).expect("written");
            let error = journal.take(&id).expect_err(value).to_string();
            assert!(
                error.contains("take.ron") && error.contains("left as it is"),
                "{name}{value}: {error}"
            );
            journal.keep(&id, true).expect_err("not understood");
            assert_eq!(fs::read_to_string(&path).expect("there"), edited);
        }
    }
    fs::write(&path, &text).expect("written");
    journal.take(&id).expect("as it was");
}

#[test]
fn sound_survives_a_head_that_is_lost_or_damaged() {
    let (folder, _) = with_a_take("headless");
    let journal = opened(&folder);
    let samples = sound(100_000);
    let mut take = begun(&journal);
    take.sound(&samples).expect("written");
    for (name, damage) in [("no-head", None), ("bad-head", Some("(version: 1, com"))] {
        let copy = as_after_a_crash(&folder, name);
        let head = crate::common::unfinished(&copy).join("head.ron");
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
fn a_line_that_cannot_be_understood_is_told_and_kept_and_the_answers_stay_with_their_notes() {
    let (folder, _) = with_a_take("lines");
    let journal = opened(&folder);
    let mut take = begun(&journal);
    take.sound(&sound(100_000)).expect("written");
    let answer = |note| Answer {
        note,
        question: "centre".to_owned(),
        answer: "high".to_owned(),
        measured: None,
    };
    for number in 0..4 {
        let start = 0.2 * f64::from(number);
        take.note(&note(start, start + 0.15)).expect("written");
    }
    take.answer(answer(1)).expect("written");
    take.answer(answer(3)).expect("written");
    take.note(&note(0.8, 0.95)).expect("written");
    let copy = as_after_a_crash(&folder, "lines-copy");
    let course = crate::common::unfinished(&copy).join("course.ron.lines");
    let text = fs::read_to_string(&course).expect("there");
    // The second note has a bracket too few, the third is one that cannot be, and the last broke off.
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    lines[1] = lines[1].replacen('(', "", 1);
    lines[2] = lines[2].replacen("midi:57", "midi:570", 1);
    assert_ne!(lines[2], text.lines().nth(2).expect("it is the third"));
    let damaged = lines.join("\n");
    let damaged = &damaged[..damaged.len() - 9];
    fs::write(&course, damaged).expect("written");
    let opened = Journal::open(&copy.0).expect("opened");
    let words = opened.words();
    assert!(words[0].contains("but 3 lines about its notes cannot be understood"), "{words:?}");
    let id = &opened.mended[0].id;
    let file = opened.journal.take(id).expect("read");
    let starts: Vec<f64> = file.notes.iter().map(|note| note.start_s).collect();
    assert_eq!(starts, [0.0, 0.6]);
    let answered: Vec<usize> = file.answers.iter().map(|answer| answer.note).collect();
    assert_eq!(answered, [1], "the answer about the fourth note, which is now the second");
    let aside = opened.journal.sound(id).with_file_name("course.broken.ron.lines");
    assert_eq!(fs::read_to_string(aside).expect("kept"), damaged);
}

#[test]
fn what_a_crash_does_not_explain_is_kept_as_it_was_found() {
    let (folder, _) = with_a_take("middle");
    let journal = opened(&folder);
    let samples = sound(200_000);
    let mut take = begun(&journal);
    take.sound(&samples).expect("written");
    let copy = as_after_a_crash(&folder, "middle-copy");
    let sound = crate::common::unfinished(&copy).join("sound.flac");
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
    let sound = crate::common::unfinished(&copy).join("sound.flac");
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
        let mut take = begun(&journal);
        take.sound(&sound(9_000)).expect("written");
        take.finish().expect("finished").id
    };
    let shelf = Shelf::open(&folder.0).expect("opened");
    assert_eq!(shelf.verify().expect("looked"), []);
    let take = folder.0.join(id.day()).join(id.time());
    let mut chance = Chance(303);
    for round in 0..1_000 {
        let path = take.join(if round % 3 == 0 { "take.ron" } else { "sound.flac" });
        let bytes = fs::read(&path).expect("there");
        let about = fs::metadata(&path).expect("there");
        let (damaged, place) = chance.damage(&bytes);
        fs::write(&path, &damaged).expect("written");
        // As a failing disk does it: without a new time.
        let file = fs::File::options().write(true).open(&path).expect("opened");
        file.set_modified(about.modified().expect("dated")).expect("dated");
        drop(file);
        let found = shelf.verify().expect("looked");
        // A cut take.ron differs in length, and if what is left can be read it counts as edited by hand.
        assert!(!found.is_empty(), "round {round}, byte {place} of {}", path.display());
        assert!(found.iter().all(|damage| damage.id.as_ref() == Some(&id)), "{found:?}");
        assert!(found.iter().all(|damage| damage.words.len() > 20), "{found:?}");
        shelf.take(&other).expect("unharmed");
        fs::write(&path, &bytes).expect("written");
        let file = fs::File::options().write(true).open(&path).expect("opened");
        file.set_modified(about.modified().expect("dated")).expect("dated");
    }
    assert_eq!(shelf.verify().expect("looked"), []);
}

#[test]
fn a_damaged_index_costs_nothing_but_time() {
    let folder = Folder::new("index");
    let journal = opened(&folder);
    for number in 0..20 {
        let context = Context { player: format!("player {}", number % 3), ..Context::default() };
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
        let (damaged, place) = chance.damage(&bytes);
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
