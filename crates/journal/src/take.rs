//! A take while it is being played.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use vibrato::Note;

use crate::context::{Context, Fingering, LessonPart};
use crate::error::JournalError;
use crate::file_format::{
    Answer, Lost, NoteMeasures, PassOf, SoundFile, TakeFile, Turn, VERSION, WrittenLesson,
};
use crate::flac::{FlacWriter, hear};
use crate::folder::Inner;
use crate::take_file::{BROKEN_COURSE, COURSE, HEAD, Head, Line, SOUND, TAKE, as_line, as_ron};
use crate::take_id::TakeId;
use disk::{Disk, DiskFile};

/// What is written reaches the disk at least so often, in seconds of sound.
const SAFE_EVERY_SECS: f64 = 1.0;

/// The longest gap that is filled with silence, in seconds; a longer one is no part of a take.
const LONGEST_GAP_SECS: u64 = 3_600;

/// A take that was finished.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// What it is called.
    pub id: TakeId,
    /// How long it is, in seconds.
    pub length_s: f64,
    /// Lines about its notes that could not be understood when it was mended; they stay beside it.
    pub unread_lines: usize,
}

impl Kept {
    /// That it was mended, in words.
    pub(crate) fn mended_words(&self) -> String {
        let Self { id, length_s, unread_lines } = self;
        let mut words =
            format!("the take {id} had broken off; it is whole again, {length_s:.1} s long");
        if *unread_lines > 0 {
            let lines =
                if *unread_lines == 1 { "1 line" } else { &format!("{unread_lines} lines") };
            words += &format!(
                ", but {lines} about its notes cannot be understood and can be found beside it, in {BROKEN_COURSE}"
            );
        }
        words
    }
}

/// A take while it is being played. What was given reaches the disk within about a second. Dropped without
/// an end it is left as a crash would leave it, to be mended.
pub struct TakeWriter {
    /// Where it will be.
    id: TakeId,
    /// Where it is until then.
    folder: PathBuf,
    journal: Arc<Inner>,
    sound: FlacWriter,
    course: DiskFile,
    file: TakeFile,
    by: Fingering,
    /// Samples that have reached the disk for sure.
    safe: u64,
    /// Something could not be written: what would come after it could not be read either.
    stopped: bool,
}

/// A take whose sound is whole, still in the folder of one that is played.
struct Closed {
    id: TakeId,
    folder: PathBuf,
    journal: Arc<Inner>,
    file: TakeFile,
}

impl TakeWriter {
    /// Begins a take in a folder that is free.
    pub(crate) fn begin(
        journal: Arc<Inner>,
        (id, folder): (TakeId, &str),
        context: &Context,
        began: String,
        rate_hz: u32,
    ) -> Result<Self, JournalError> {
        let disk = journal.disk.clone();
        let day = journal.folder.join(id.day());
        let folder = day.join(folder);
        let head = Head {
            version: VERSION,
            computer: computer(),
            take: TakeFile::begun(context, began, rate_hz),
        };
        let text = as_ron(&head, &folder)?;
        let begun = || -> io::Result<(FlacWriter, DiskFile)> {
            disk.create_folders(&folder)?;
            disk.write_whole(&folder.join(HEAD), text.as_bytes())?;
            let sound = FlacWriter::new(disk.create(&folder.join(SOUND))?, rate_hz)?;
            let course = disk.append(&folder.join(COURSE))?;
            disk.sync_folder(&folder)?;
            disk.sync_folder(&day)?;
            disk.sync_folder(&journal.folder)?;
            Ok((sound, course))
        };
        let (sound, course) = begun().map_err(|error| {
            // Nothing was played yet, so nothing is to be mended.
            disk.remove_folder(&folder).ok();
            disk.tidy(&day);
            JournalError::of(&error, &folder)
        })?;
        Ok(Self {
            id,
            folder,
            journal,
            sound,
            course,
            file: head.take,
            by: Fingering { finger: context.finger, string: context.string.clone() },
            safe: 0,
            stopped: false,
        })
    }

    /// Neither it nor its sound will ever go by itself.
    pub(crate) fn keep(&mut self) {
        self.file.keep = true;
    }

    /// What it will be called.
    pub fn id(&self) -> &TakeId {
        &self.id
    }

    /// The sound goes on; full scale = 1.0.
    pub fn sound(&mut self, samples: &[f32]) -> Result<(), JournalError> {
        self.go_on(|take| {
            take.sound.write(samples)?;
            let due = SAFE_EVERY_SECS * f64::from(take.file.sample_rate_hz);
            if (take.sound.samples() - take.safe) as f64 >= due {
                take.sound.save()?;
                take.course.sync_data()?;
                take.safe = take.sound.samples();
            }
            Ok(())
        })
    }

    /// So many samples are missing here; silence stands in their place, for at most an hour.
    pub fn lost(&mut self, samples: u64) -> Result<(), JournalError> {
        let rate_hz = self.file.sample_rate_hz;
        let samples = samples.min(LONGEST_GAP_SECS * u64::from(rate_hz));
        let lost = Lost {
            at_s: self.sound.samples() as f64 / f64::from(rate_hz),
            length_s: samples as f64 / f64::from(rate_hz),
        };
        self.came(&Line::Lost(lost))?;
        self.file.lost.push(lost);
        const SILENCE: [f32; 4_096] = [0.0; 4_096];
        let mut left = samples;
        while left > 0 {
            let count = left.min(SILENCE.len() as u64);
            self.sound(&SILENCE[..count as usize])?;
            left -= count;
        }
        Ok(())
    }

    /// A note ended; its times count from the start of the take. Finger and string are the take's.
    pub fn note(&mut self, note: &Note) -> Result<(), JournalError> {
        let by = self.by.clone();
        self.note_by(note, &by)
    }

    /// A note ended that was played by this finger on this string.
    pub fn note_by(&mut self, note: &Note, by: &Fingering) -> Result<(), JournalError> {
        let line = Line::Note(Box::new(NoteMeasures::of(note, by)));
        self.came(&line)?;
        if let Line::Note(note) = line {
            self.file.notes.push(*note);
        }
        Ok(())
    }

    /// A drill's round is over: finger by finger what was played in it.
    pub fn turns(&mut self, turns: Vec<Turn>) -> Result<(), JournalError> {
        let line = Line::Turns(turns);
        self.came(&line)?;
        if let Line::Turns(turns) = line {
            self.file.played_in(&turns);
        }
        Ok(())
    }

    /// It is this part of a lesson; `None` for none. Written when it is finished.
    pub fn lesson(&mut self, part: Option<&LessonPart>) -> Result<(), JournalError> {
        self.file.lesson = part.map(WrittenLesson::of);
        Ok(())
    }

    /// A pass through a passage is over. Written when the take is finished.
    pub fn pass(&mut self, pass: PassOf) -> Result<(), JournalError> {
        self.file.pass = Some(pass);
        Ok(())
    }

    /// The ear said this of a note.
    pub fn answer(&mut self, answer: Answer) -> Result<(), JournalError> {
        let line = Line::Answer(answer);
        self.came(&line)?;
        if let Line::Answer(answer) = line {
            self.file.answers.push(answer);
        }
        Ok(())
    }

    /// Adds a line; the next saving of the sound sees to it that it stays.
    fn came(&mut self, line: &Line) -> Result<(), JournalError> {
        let text = as_line(line, &self.folder)?;
        self.go_on(|take| take.course.write_all(text.as_bytes()))
    }

    fn go_on(
        &mut self,
        work: impl FnOnce(&mut Self) -> io::Result<()>,
    ) -> Result<(), JournalError> {
        if self.stopped {
            return Err(JournalError::Stopped { path: self.folder.clone() });
        }
        work(self).map_err(|error| {
            self.stopped = true;
            JournalError::of(&error, &self.folder)
        })
    }

    /// Ends the take: whole on disk, then under its own name. If that cannot be done it is mended when
    /// the journal is opened next.
    pub fn finish(self) -> Result<Kept, JournalError> {
        let Closed { id, folder, journal, file } = self.closed()?;
        settle(&journal, &folder, &id, file)
    }

    /// Ends a take of a recording, under the first name that is free, unless its player has a take of the very same sound: then
    /// nothing of it stays, and the name of that one is given as the error.
    pub fn finish_new(self) -> Result<Result<Kept, TakeId>, JournalError> {
        let Closed { id, folder, journal, file } = self.closed()?;
        let known = journal.index().entries().iter().find_map(|entry| {
            let same = entry.sound == file.sound && entry.player == file.player;
            same.then(|| entry.id.clone())
        });
        match known {
            Some(known) => discard(&journal.disk, &folder).map(|()| Err(known)),
            None => settle(&journal, &folder, &journal.free(&id), file).map(Ok),
        }
    }

    /// Its sound is whole, and its files are closed: a folder with open files cannot be renamed everywhere.
    fn closed(mut self) -> Result<Closed, JournalError> {
        self.go_on(|_| Ok(()))?;
        let Self { id, folder, journal, sound, mut file, .. } = self;
        let samples = sound.samples();
        if samples > 0 {
            let failed = |error: io::Error| JournalError::of(&error, &folder);
            sound.finish().map_err(failed)?;
            file.sound = whole(&folder.join(SOUND), samples)?;
        }
        file.length_s = samples as f64 / f64::from(file.sample_rate_hz);
        Ok(Closed { id, folder, journal, file })
    }

    /// It was no take: nothing of it stays.
    pub fn discard(self) -> Result<(), JournalError> {
        let Self { folder, journal, sound, course, .. } = self;
        drop((sound, course));
        discard(&journal.disk, &folder)
    }
}

/// What stands of a finished file of sound in `take.ron`.
pub(crate) fn whole(path: &Path, samples: u64) -> Result<SoundFile, JournalError> {
    let crc32 = crc32(path).map_err(|error| JournalError::reading(&error, path))?;
    Ok(SoundFile::Whole { samples, crc32 })
}

/// It is a fault if the sound in this file is not what its take says of it.
pub(crate) fn check_sound(path: &Path, file: &TakeFile) -> Result<(), JournalError> {
    let SoundFile::Whole { samples, crc32: due } = file.sound else {
        return Ok(());
    };
    let damaged = |words: String| JournalError::Damaged { words, path: path.to_owned() };
    let unread = |error: io::Error| damaged(format!("its sound cannot be read ({error})"));
    if crc32(path).map_err(unread)? == due {
        return Ok(());
    }
    let secs = |samples: u64| samples as f64 / f64::from(file.sample_rate_hz.max(1));
    let heard = hear(path, |_, _| Ok(())).map_err(unread)?;
    Err(damaged(format!(
        "its sound has changed; {:.1} s of {:.1} s can still be heard",
        secs(heard.samples),
        secs(samples),
    )))
}

/// What is wrong with the sound of a take, in words.
pub(crate) fn sound_told(id: &TakeId, path: &Path, file: &TakeFile) -> Option<String> {
    match file.sound {
        SoundFile::Whole { .. } if !disk::is_there(path) => {
            Some(format!("the sound of {id} is missing there"))
        }
        _ => match check_sound(path, file) {
            Err(JournalError::Damaged { words, .. }) => {
                Some(format!("the take {id} is damaged there: {words}"))
            }
            other => other.err().map(|error| error.to_string()),
        },
    }
}

/// The checksum of a file.
pub(crate) fn crc32(path: &Path) -> io::Result<u32> {
    let mut file = disk::open(path)?;
    let mut sum = crc32fast::Hasher::new();
    let mut bytes = vec![0; 1 << 16];
    loop {
        match io::Read::read(&mut file, &mut bytes)? {
            0 => return Ok(sum.finalize()),
            count => sum.update(&bytes[..count]),
        }
    }
}

/// Takes a folder away so that what a crash leaves of it is not taken for a take.
pub(crate) fn discard(disk: &Disk, folder: &Path) -> Result<(), JournalError> {
    disk.discard_folder(folder).map_err(|error| JournalError::of(&error, folder))?;
    disk.tidy(folder.parent().unwrap_or(folder));
    Ok(())
}

/// Writes `take.ron`, takes away what was needed until then, and gives the folder its own name.
pub(crate) fn settle(
    journal: &Inner,
    folder: &Path,
    id: &TakeId,
    file: TakeFile,
) -> Result<Kept, JournalError> {
    let failed = |error: io::Error| JournalError::of(&error, folder);
    let disk = &journal.disk;
    let text = as_ron(&file, folder)?;
    disk.write_whole(&folder.join(TAKE), text.as_bytes()).map_err(failed)?;
    for name in [HEAD, COURSE] {
        disk.remove_file(&folder.join(name)).map_err(failed)?;
    }
    disk.sweep(folder);
    let day = journal.folder.join(id.day());
    disk.sync_folder(folder)
        .and_then(|()| disk.rename(folder, &day.join(id.time())))
        .map_err(failed)?;
    journal.changed(id, &file, text.as_bytes());
    disk.sync_folder(&day).map_err(failed)?;
    Ok(Kept { id: id.clone(), length_s: file.length_s, unread_lines: 0 })
}

/// The name of this computer.
pub(crate) fn computer() -> String {
    gethostname::gethostname().to_string_lossy().into_owned()
}
