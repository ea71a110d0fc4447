//! Takes as they are written, broken off, mended and read.

use std::fs;

use crate::common::{
    Folder, RATE_HZ, as_after_a_crash, begun, decoded, note, opened, sound, take_ron, unfinished,
    whole,
};
use journal::{Answer, Context, FlacWriter, Journal, JournalError, TakeId, Turn};

fn only_take(journal: &Journal) -> TakeId {
    let takes = journal.takes().expect("it can be read");
    assert_eq!(takes.len(), 1, "{takes:?}");
    takes[0].clone()
}

#[test]
fn sound_is_kept_to_the_last_bit() {
    let folder = Folder::new("bits");
    fs::create_dir_all(&folder.0).expect("a folder");
    let lengths = [1, 4_096, 4_097, 100_000].map(|count| (count, RATE_HZ));
    let rates = [8_000, 48_000, 88_200, 96_000, 192_000].map(|rate_hz| (20_000, rate_hz));
    for (count, rate_hz) in lengths.into_iter().chain(rates) {
        let path = folder.0.join(format!("{count}-{rate_hz}.flac"));
        let samples = sound(count);
        let file = disk::Disk::default().create(&path).expect("a new file");
        let mut writer = FlacWriter::new(file, rate_hz).expect("a head");
        for part in samples.chunks(997) {
            writer.write(part).expect("written");
        }
        writer.finish().expect("finished");
        assert!(decoded(&path) == whole(&samples), "{count} samples at {rate_hz} Hz");
    }
}

#[test]
fn a_take_is_read_as_it_was_written() {
    let folder = Folder::new("whole");
    let journal = opened(&folder);
    let samples = sound(60_000);
    let context = Context {
        room: "Stand".to_owned(),
        instrument: Some("cello".to_owned()),
        ..Context::default()
    };
    let mut take = journal.begin(&context, RATE_HZ).expect("begun");
    take.sound(&samples[..30_000]).expect("written");
    take.lost(100).expect("written");
    take.sound(&samples[30_000..]).expect("written");
    take.note(&note(0.2, 0.6)).expect("written");
    let kept = take.finish().expect("finished");
    assert_eq!(only_take(&journal), kept.id);
    let answer = Answer {
        note: 0,
        question: "centre".to_owned(),
        answer: "high".to_owned(),
        measured: None,
    };
    journal.answer(&kept.id, answer.clone()).expect("added");
    let file = journal.take(&kept.id).expect("read");
    assert_eq!(file.room, "Stand");
    assert_eq!(file.notes.len(), 1);
    assert_eq!(file.notes[0].f0_hz, (220.1, Some(0.02)));
    assert_eq!(file.notes[0].remarks, ["room"]);
    assert_eq!(file.answers, [answer]);
    assert_eq!(file.lost.len(), 1);
    assert!(!file.mended);
    assert!((file.length_s - 60_100.0 / 44_100.0).abs() < 1e-9);
    let mut due = whole(&samples);
    due.splice(30_000..30_000, [0; 100]);
    assert!(decoded(&journal.sound(&kept.id)) == due);
    let folder = folder.0.join(kept.id.day()).join(kept.id.time());
    let text = fs::read_to_string(folder.join("take.ron")).expect("there");
    assert!(!text.contains("turns"), "as takes without any always were");
    assert_eq!(fs::read_dir(folder).expect("there").count(), 2, "nothing else is left");
}

fn turn(made: u32) -> Turn {
    Turn {
        start_s: 0.1,
        end_s: 0.8,
        finger: 3,
        made,
        asked: Some(4),
        shuffle: None,
        secure: Some(made == 4),
    }
}

#[test]
fn turns_of_a_drill_stay_through_a_crash_and_come_late() {
    let running = Folder::new("turns-running");
    let journal = opened(&running);
    let mut take = begun(&journal);
    take.note(&note(0.2, 0.6)).expect("written");
    take.turns(vec![turn(3)]).expect("written");
    take.sound(&sound(100_000)).expect("written");
    let crashed = as_after_a_crash(&running, "turns-crashed");
    let kept = take.finish().expect("finished");
    journal.turns(&kept.id, &[turn(4)]).expect("added");
    let file = journal.take(&kept.id).expect("read");
    assert_eq!(file.turns, [turn(3), turn(4)]);
    assert_eq!(file.notes[0].finger, Some(3));
    let counts = |journal: &Journal| journal.entries()[0].counts.clone();
    assert_eq!(counts(&journal), [(3, Some(4)), (4, Some(4))]);
    let mended = opened(&crashed);
    assert_eq!(counts(&mended), [(3, Some(4))]);
    let id = only_take(&mended);
    assert_eq!(mended.take(&id).expect("read").notes[0].finger, Some(3));
}

#[test]
fn what_broke_off_is_mended_at_the_next_opening_but_for_its_last_second() {
    let running = Folder::new("running");
    let journal = opened(&running);
    let samples = sound(200_000);
    let mut take = begun(&journal);
    let (first, then) = samples.split_at(90_000);
    for part in first.chunks(441) {
        take.sound(part).expect("written");
    }
    take.lost(1_000).expect("written");
    for part in then.chunks(441) {
        take.sound(part).expect("written");
    }
    let mut due = whole(&samples);
    due.splice(90_000..90_000, [0; 1_000]);
    let said = Answer {
        note: 0,
        question: "width".to_owned(),
        answer: "wider".to_owned(),
        measured: None,
    };
    take.note(&note(0.2, 0.6)).expect("written");
    take.answer(said.clone()).expect("written");
    take.note(&note(0.7, 1.6)).expect("written");
    let folder = as_after_a_crash(&running, "broken");
    // The last line was cut in the middle.
    let course = unfinished(&folder).join("course.ron.lines");
    let text = fs::read(&course).expect("lines");
    fs::write(&course, &text[..text.len() - 20]).expect("cut");
    let opened = Journal::open(&folder.0).expect("opened again");
    assert_eq!(opened.mended.len(), 1);
    assert!(opened.unmended.is_empty(), "{:?}", opened.unmended);
    let id = only_take(&opened.journal);
    let file = opened.journal.take(&id).expect("read");
    assert!(file.mended);
    assert_eq!(file.notes.len(), 1, "the whole line is kept");
    assert_eq!(file.answers, [said]);
    assert_eq!(file.lost.len(), 1);
    let kept = decoded(&opened.journal.sound(&id));
    assert!(kept[..] == due[..kept.len()]);
    let lost_secs = (due.len() - kept.len()) as f64 / f64::from(RATE_HZ);
    assert!(lost_secs <= 1.2, "{lost_secs} s of sound are gone");
    assert_eq!(opened.journal.verify().expect("looked at"), []);
    let files = fs::read_dir(opened.journal.sound(&id).with_file_name("")).expect("there");
    assert_eq!(files.count(), 2, "nothing but sound and measures is left");
    let entry = opened.journal.entry(&id).expect("it is in the index");
    assert!(entry.mended);
    drop(opened);
    let again = Journal::open(&folder.0).expect("a third time");
    assert!(again.mended.is_empty());
}

#[test]
fn sound_so_quiet_that_it_fills_no_buffer_reaches_the_disk_each_second() {
    let running = Folder::new("quiet");
    let journal = opened(&running);
    let mut take = begun(&journal);
    let silence = vec![0.0; RATE_HZ as usize / 10];
    for tenth in 1..=50 {
        take.sound(&silence).expect("written");
        if tenth % 7 == 0 {
            let folder = as_after_a_crash(&running, "quiet-copy");
            let opened = Journal::open(&folder.0).expect("opened again");
            let kept_secs = opened.mended.first().map_or(0.0, |kept| kept.length_s);
            let played_secs = 0.1 * f64::from(tenth);
            assert!(kept_secs > played_secs - 1.2, "{kept_secs} s of {played_secs} s");
        }
    }
}

#[test]
fn a_second_window_is_told_that_the_first_one_writes() {
    let folder = Folder::new("lock");
    let first = opened(&folder);
    let Err(error) = Journal::open(&folder.0) else {
        panic!("two may not write");
    };
    assert!(matches!(error, JournalError::InUse { .. }));
    assert!(error.to_string().contains("another window"), "{error}");
    drop(first);
    opened(&folder);
}

#[test]
fn two_takes_of_one_second_have_two_names_that_sort_by_time() {
    let folder = Folder::new("names");
    let journal = opened(&folder);
    let ids: Vec<TakeId> = (0..3)
        .map(|_| {
            let mut take = begun(&journal);
            take.sound(&[0.1; 100]).expect("written");
            take.finish().expect("finished").id
        })
        .collect();
    assert_eq!(journal.takes().expect("read"), ids);
    let mut take = begun(&journal);
    take.sound(&[0.1; 100]).expect("written");
    take.discard().expect("thrown away");
    assert_eq!(journal.takes().expect("read").len(), 3);
}

#[test]
fn a_take_of_a_later_version_or_without_sense_is_told_and_left_alone() {
    let folder = Folder::new("later");
    let journal = opened(&folder);
    let mut take = begun(&journal);
    take.sound(&[0.1; 100]).expect("written");
    let id = take.finish().expect("finished").id;
    let path = take_ron(&folder, &id);
    for (text, words) in [
        ("(version: 3, marks: [1])", "version 3 is of a later evenwave"),
        ("(version: 1,\n began: 3)", "line 2"),
        ("\u{0}", "line 1"),
    ] {
        fs::write(&path, text).expect("written");
        let error = journal.take(&id).expect_err("it makes no sense").to_string();
        assert!(error.contains(words), "{error}");
        assert!(error.ends_with("take.ron"), "{error}");
        assert_eq!(fs::read_to_string(&path).expect("there"), text);
    }
}

#[test]
fn a_folder_that_is_gone_is_told_so() {
    let folder = Folder::new("gone");
    let journal = opened(&folder);
    fs::remove_dir_all(&folder.0).expect("taken away");
    let Err(error) = journal.begin(&Context::default(), RATE_HZ) else {
        panic!("there is nowhere to write");
    };
    assert!(matches!(error, JournalError::Gone { .. }), "{error}");
}
