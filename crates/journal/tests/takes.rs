//! Takes as they are written, broken off, mended and read.

use std::fs;
use std::path::{Path, PathBuf};

use journal::{Answer, Context, FlacWriter, Journal, JournalError, TakeId};
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note, Remarks};

const RATE_HZ: u32 = 44_100;

/// A folder that is gone when the test is over.
struct Folder(PathBuf);

impl Folder {
    fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("journal-{}-{name}", std::process::id()));
        fs::remove_dir_all(&path).ok();
        Self(path)
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        fs::remove_dir_all(&self.0).ok();
    }
}

/// Sound that is neither silent nor predictable: every kind of subframe is used.
fn sound(samples: usize) -> Vec<f32> {
    let mut seed: u32 = 7;
    (0..samples)
        .map(|i| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            let noise = (seed >> 8) as f32 / (1 << 24) as f32 - 0.5;
            let tone = (i as f32 * 0.03).sin();
            match (i / 5_000) % 4 {
                0 => 0.0,
                1 => 0.5 * tone,
                2 => 0.3 * tone + 0.01 * noise,
                _ => 1.9 * noise,
            }
        })
        .collect()
}

fn whole(samples: &[f32]) -> Vec<i32> {
    let full = 8_388_608.0;
    let whole = |&sample: &f32| (f64::from(sample) * full).round().clamp(-full, full - 1.0) as i32;
    samples.iter().map(whole).collect()
}

/// What an independent decoder makes of a file.
fn decoded(path: &Path) -> Vec<i32> {
    use symphonia::core::codecs::CodecParameters;
    use symphonia::core::codecs::audio::AudioDecoderOptions;
    use symphonia::core::formats::{FormatOptions, TrackType, probe::Hint};
    use symphonia::core::io::MediaSourceStream;
    let file = fs::File::open(path).expect("the sound is there");
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut reader = symphonia::default::get_probe()
        .probe(
            &Hint::new(),
            stream,
            FormatOptions::default(),
            Default::default(),
        )
        .expect("it is FLAC");
    let track = reader
        .default_track(TrackType::Audio)
        .expect("it has a track");
    let Some(CodecParameters::Audio(codec)) = &track.codec_params else {
        panic!("it is sound");
    };
    // The checksum of the whole is held against the samples.
    let options = AudioDecoderOptions::default().verify(true);
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(codec, &options)
        .expect("it can be decoded");
    let (mut samples, mut packet) = (Vec::new(), Vec::<f32>::new());
    while let Some(next) = reader.next_packet().expect("it is whole") {
        let decoded = decoder.decode(&next).expect("every frame is sound");
        decoded.copy_to_vec_interleaved(&mut packet);
        samples.extend(whole(&packet));
    }
    let verified = decoder.finalize().verify_ok;
    assert_ne!(verified, Some(false), "the checksum is right");
    samples
}

fn note(start: f64, end: f64) -> Note {
    Note {
        start: Secs(start),
        end: Secs(end),
        midi: 57,
        reference: Hz(220.0),
        f0: Measure {
            value: Hz(220.1),
            se: Some(Hz(0.02)),
        },
        offset: Measure {
            value: Cents(0.8),
            se: None,
        },
        level_dbfs: -20.0,
        confidence: 0.9,
        unsteadiness: Cents(1.2),
        vibrato: None,
        straight: true,
        rebows: vec![Secs(start + 0.1)],
        remarks: Remarks {
            room: true,
            ..Remarks::default()
        },
    }
}

fn opened(folder: &Folder) -> Journal {
    Journal::open(&folder.0).expect("it can be opened").journal
}

fn only_take(journal: &Journal) -> TakeId {
    let takes = journal.takes().expect("it can be read");
    assert_eq!(takes.len(), 1, "{takes:?}");
    takes[0].clone()
}

#[test]
fn sound_is_kept_to_the_last_bit() {
    let folder = Folder::new("bits");
    fs::create_dir_all(&folder.0).expect("a folder");
    for count in [1, 4_096, 4_097, 100_000] {
        let path = folder.0.join(format!("{count}.flac"));
        let samples = sound(count);
        let mut writer = FlacWriter::create(&path, RATE_HZ).expect("a head");
        for part in samples.chunks(997) {
            writer.write(part).expect("written");
        }
        writer.finish().expect("finished");
        assert!(decoded(&path) == whole(&samples), "{count} samples");
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
    assert_eq!(
        fs::read_dir(folder).expect("there").count(),
        2,
        "nothing else is left"
    );
}

/// The journal as it would be found had the computer gone off now.
fn as_after_a_crash(folder: &Folder, name: &str) -> Folder {
    let copy = Folder::new(name);
    copy_folder(&folder.0, &copy.0);
    copy
}

fn copy_folder(from: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(from).expect("there").flatten() {
        let copy = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy_folder(&entry.path(), &copy);
        } else {
            fs::copy(entry.path(), copy).expect("copied");
        }
    }
}

/// The folder of the only unfinished take.
fn unfinished(folder: &Folder) -> PathBuf {
    let days = fs::read_dir(&folder.0).expect("there").flatten();
    days.filter(|day| day.path().is_dir())
        .flat_map(|day| fs::read_dir(day.path()).expect("there").flatten())
        .map(|take| take.path())
        .find(|take| {
            take.extension()
                .is_some_and(|ending| ending == "unfinished")
        })
        .expect("a take")
}

#[test]
fn what_broke_off_is_mended_at_the_next_opening_but_for_its_last_second() {
    let running = Folder::new("running");
    let journal = opened(&running);
    let samples = sound(200_000);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
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
    let entry = opened.journal.entry(&id).expect("it is in the index");
    assert!(entry.mended);
    drop(opened);
    let again = Journal::open(&folder.0).expect("a third time");
    assert!(again.mended.is_empty());
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
            let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
            take.sound(&[0.1; 100]).expect("written");
            take.finish().expect("finished").id
        })
        .collect();
    assert_eq!(journal.takes().expect("read"), ids);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&[0.1; 100]).expect("written");
    take.discard().expect("thrown away");
    assert_eq!(journal.takes().expect("read").len(), 3);
}

#[test]
fn a_take_of_a_later_version_or_without_sense_is_told_and_left_alone() {
    let folder = Folder::new("later");
    let journal = opened(&folder);
    let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
    take.sound(&[0.1; 100]).expect("written");
    let id = take.finish().expect("finished").id;
    let path = folder.0.join(id.day()).join(id.time()).join("take.ron");
    for (text, words) in [
        (
            "(version: 2, marks: [1])",
            "version 2 is of a later evenwave",
        ),
        ("(version: 1,\n began: 3)", "line 2"),
        ("\u{0}", "line 1"),
    ] {
        fs::write(&path, text).expect("written");
        let error = journal
            .take(&id)
            .expect_err("it makes no sense")
            .to_string();
        assert!(error.contains(words), "{error}");
        assert!(error.ends_with("take.ron"), "{error}");
        assert_eq!(fs::read_to_string(&path).expect("there"), text);
    }
}

#[test]
fn flipped_bits_and_cuts_are_told_in_words_and_harm_no_other_take() {
    let folder = Folder::new("flips");
    let journal = opened(&folder);
    let mut ids = Vec::new();
    for _ in 0..2 {
        let mut take = journal.begin(&Context::default(), RATE_HZ).expect("begun");
        take.sound(&sound(20_000)).expect("written");
        take.note(&note(0.1, 0.4)).expect("written");
        ids.push(take.finish().expect("finished").id);
    }
    let path = folder
        .0
        .join(ids[0].day())
        .join(ids[0].time())
        .join("take.ron");
    let text = fs::read(&path).expect("there");
    let mut seed: u64 = 303;
    for _ in 0..1_000 {
        seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let place = (seed >> 33) as usize % text.len();
        let mut damaged = text.clone();
        if seed & 4 == 0 {
            damaged.truncate(place);
        } else {
            damaged[place] ^= 1 << ((seed >> 20) % 8);
        }
        fs::write(&path, &damaged).expect("written");
        if let Err(error) = journal.take(&ids[0]) {
            assert!(error.to_string().ends_with("take.ron"), "{error}");
        }
        assert_eq!(journal.take(&ids[1]).expect("unharmed").notes.len(), 1);
    }
    assert_eq!(journal.takes().expect("read").len(), 2);
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
