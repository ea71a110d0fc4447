//! What the tests of this crate have in common.
#![allow(dead_code, reason = "not every test needs all of it")]

use std::fs;
use std::path::{Path, PathBuf};

use journal::{Context, Journal, TakeId, TakeWriter};
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note, Remarks};

pub(crate) const RATE_HZ: u32 = 44_100;

/// A folder that is gone when the test is over.
pub(crate) struct Folder(pub PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
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
pub(crate) fn sound(samples: usize) -> Vec<f32> {
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

pub(crate) fn whole(samples: &[f32]) -> Vec<i32> {
    let full = 8_388_608.0;
    let whole = |&sample: &f32| (f64::from(sample) * full).round().clamp(-full, full - 1.0) as i32;
    samples.iter().map(whole).collect()
}

/// What an independent decoder makes of a file.
pub(crate) fn decoded(path: &Path) -> Vec<i32> {
    use symphonia::core::codecs::CodecParameters;
    use symphonia::core::codecs::audio::AudioDecoderOptions;
    use symphonia::core::formats::{FormatOptions, TrackType, probe::Hint};
    use symphonia::core::io::MediaSourceStream;
    let file = fs::File::open(path).expect("the sound is there");
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut reader = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), Default::default())
        .expect("it is FLAC");
    let track = reader.default_track(TrackType::Audio).expect("it has a track");
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

pub(crate) fn note(start: f64, end: f64) -> Note {
    Note {
        f0: Measure::known(Hz(220.1), Hz(0.02)),
        offset: Measure::doubtful(Cents(0.8)),
        rebows: vec![Secs(start + 0.1)],
        remarks: Remarks { room: true, ..Remarks::default() },
        ..Note::plain(57, Hz(220.0), Secs(start), Secs(end))
    }
}

pub(crate) fn opened(folder: &Folder) -> Journal {
    open_at(&folder.0)
}

/// The journal as it would be found had the computer gone off now.
pub(crate) fn as_after_a_crash(folder: &Folder, name: &str) -> Folder {
    let copy = Folder::new(name);
    copy_folder(&folder.0, &copy.0);
    copy
}

pub(crate) fn copy_folder(from: &Path, to: &Path) {
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
pub(crate) fn unfinished(folder: &Folder) -> PathBuf {
    let days = fs::read_dir(&folder.0).expect("there").flatten();
    days.filter(|day| day.path().is_dir())
        .flat_map(|day| fs::read_dir(day.path()).expect("there").flatten())
        .map(|take| take.path())
        .find(|take| take.extension().is_some_and(|ending| ending == "unfinished"))
        .expect("a take")
}

/// Chance from a seed: D. E. Knuth's generator (MMIX).
pub(crate) struct Chance(pub u64);

impl Chance {
    pub(crate) fn below(&mut self, limit: usize) -> usize {
        let seed = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = seed.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit
    }

    /// `bytes` with one bit flipped, or cut off, and where.
    pub(crate) fn damage(&mut self, bytes: &[u8]) -> (Vec<u8>, usize) {
        let mut damaged = bytes.to_vec();
        let place = self.below(bytes.len());
        if self.below(4) == 0 {
            damaged.truncate(place);
        } else {
            damaged[place] ^= 1 << self.below(8);
        }
        (damaged, place)
    }
}

/// The journal in this folder.
pub(crate) fn open_at(folder: &Path) -> Journal {
    Journal::open(folder).expect("opened").journal
}

/// A take that is being recorded.
pub(crate) fn begun(journal: &Journal) -> TakeWriter {
    journal.begin(&Context::default(), RATE_HZ).expect("begun")
}

/// Records a take of one note.
pub(crate) fn record(journal: &Journal, player: &str, samples: usize) -> TakeId {
    let context = Context { player: player.to_owned(), ..Context::default() };
    let mut take = journal.begin(&context, RATE_HZ).expect("begun");
    take.sound(&sound(samples)).expect("written");
    take.note(&note(0.0, 0.1)).expect("written");
    take.finish().expect("finished").id
}

/// The file of a take's measures.
pub(crate) fn take_ron(folder: &Folder, id: &TakeId) -> PathBuf {
    folder.0.join(id.day()).join(id.time()).join("take.ron")
}

/// A journal with one whole take.
pub(crate) fn with_a_take(name: &str) -> (Folder, TakeId) {
    let folder = Folder::new(name);
    let journal = opened(&folder);
    let id = record(&journal, "", 5_000);
    (folder, id)
}

/// A take of so many days ago, with its file.
pub(crate) fn days_ago(journal: &Journal, days: i64) -> TakeId {
    let now = jiff::Zoned::now();
    let then = now.checked_sub(jiff::Span::new().days(days)).expect("a time");
    let mut take = journal.begin_at(&then, &Context::default(), RATE_HZ).expect("begun");
    take.sound(&sound(3_000)).expect("written");
    take.note(&note(0.0, 0.05)).expect("written");
    let id = take.finish().expect("finished").id;
    let file = fs::File::options().write(true).open(journal.sound(&id)).expect("opened");
    file.set_modified(then.timestamp().into()).expect("dated");
    id
}
