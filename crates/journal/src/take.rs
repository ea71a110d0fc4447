//! A take while it is being played, and what a crash left of one.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};

use vibrato::Note;

use crate::context::{Context, TakeId};
use crate::error::JournalError;
use crate::flac::FlacWriter;
use crate::written::{Answer, Lost, NoteMeasures, TakeFile};

/// Names within the folder of a take.
pub(crate) const SOUND: &str = "sound.flac";
pub(crate) const TAKE: &str = "take.ron";
/// Only while it is unfinished: what was known at its beginning, and a line for each note.
pub(crate) const HEAD: &str = "head.ron";
pub(crate) const NOTES: &str = "notes.ron.lines";
/// Ends the name of the folder until the take is finished.
pub(crate) const UNFINISHED: &str = ".unfinished";

/// What is written reaches the disk at least so often, in seconds of sound.
const SAFE_EVERY_SECS: f64 = 1.0;

/// A take that was finished.
#[derive(Clone, Debug, PartialEq)]
pub struct Kept {
    /// What it is called.
    pub id: TakeId,
    /// How long it is, in seconds.
    pub length_s: f64,
}

/// A take while it is being played. What was given reaches the disk within about a second. Dropped without
/// an end it is left as a crash would leave it, to be mended.
pub struct TakeWriter {
    /// Where it will be.
    id: TakeId,
    journal: PathBuf,
    /// Where it is until then.
    folder: PathBuf,
    sound: FlacWriter,
    notes: File,
    file: TakeFile,
    /// Samples that have reached the disk for sure.
    safe: u64,
}

impl TakeWriter {
    /// Begins a take in a folder that is free.
    pub(crate) fn begin(
        journal: &Path,
        id: TakeId,
        context: &Context,
        began: String,
        rate_hz: u32,
    ) -> Result<Self, JournalError> {
        let day = journal.join(&id.day);
        let folder = day.join(format!("{}{UNFINISHED}", id.time));
        let failed = |error| JournalError::of(&error, &folder);
        fs::create_dir_all(&folder).map_err(failed)?;
        let file = TakeFile::begun(context, began, rate_hz);
        write_whole(&folder.join(HEAD), &as_ron(&file, &folder)?)?;
        let sound = FlacWriter::create(&folder.join(SOUND), rate_hz).map_err(failed)?;
        let notes = OpenOptions::new()
            .create(true)
            .append(true)
            .open(folder.join(NOTES))
            .map_err(failed)?;
        sync_folder(&folder)?;
        sync_folder(&day)?;
        Ok(Self {
            id,
            journal: journal.to_owned(),
            folder,
            sound,
            notes,
            file,
            safe: 0,
        })
    }

    fn failed(&self, error: &std::io::Error) -> JournalError {
        JournalError::of(error, &self.folder)
    }

    /// The sound goes on; full scale = 1.0.
    pub fn sound(&mut self, samples: &[f32]) -> Result<(), JournalError> {
        self.sound
            .write(samples)
            .map_err(|error| self.failed(&error))?;
        let due = SAFE_EVERY_SECS * f64::from(self.file.sample_rate_hz);
        if (self.sound.samples() - self.safe) as f64 >= due {
            self.sound.save().map_err(|error| self.failed(&error))?;
            self.safe = self.sound.samples();
        }
        Ok(())
    }

    /// So many samples are missing here; silence stands in their place.
    pub fn lost(&mut self, samples: u64) -> Result<(), JournalError> {
        let rate = f64::from(self.file.sample_rate_hz);
        self.file.lost.push(Lost {
            at_s: self.sound.samples() as f64 / rate,
            length_s: samples as f64 / rate,
        });
        const SILENCE: [f32; 4_096] = [0.0; 4_096];
        // A gap longer than an hour is no part of a take.
        let mut left = samples.min(3_600 * u64::from(self.file.sample_rate_hz));
        while left > 0 {
            let count = left.min(SILENCE.len() as u64);
            self.sound(&SILENCE[..count as usize])?;
            left -= count;
        }
        Ok(())
    }

    /// A note ended; its times count from the start of the take.
    pub fn note(&mut self, note: &Note) -> Result<(), JournalError> {
        let note = NoteMeasures::from(note);
        let mut line = ron::to_string(&note).map_err(|error| JournalError::Failed {
            reason: error.to_string(),
            path: self.folder.clone(),
        })?;
        line.push('\n');
        self.notes
            .write_all(line.as_bytes())
            .and_then(|()| self.notes.sync_data())
            .map_err(|error| self.failed(&error))?;
        self.file.notes.push(note);
        Ok(())
    }

    /// The ear said this of a note; kept with the others when the take ends.
    pub fn answer(&mut self, answer: Answer) -> Result<(), JournalError> {
        self.file.answers.push(answer);
        // A crash would otherwise lose it: there is little enough to write it anew.
        let text = as_ron(&self.file, &self.folder)?;
        write_whole(&self.folder.join(HEAD), &text)
    }

    /// Notes so far.
    pub fn notes(&self) -> usize {
        self.file.notes.len()
    }

    /// Ends the take: whole on disk, then under its own name.
    pub fn finish(mut self) -> Result<Kept, JournalError> {
        let folder = self.folder.clone();
        let failed = |error: std::io::Error| JournalError::of(&error, &folder);
        let samples = self.sound.samples();
        self.sound.finish().map_err(failed)?;
        self.file.length_s = samples as f64 / f64::from(self.file.sample_rate_hz);
        settle(&self.journal, &folder, &self.id, &self.file)?;
        Ok(Kept {
            length_s: self.file.length_s,
            id: self.id,
        })
    }

    /// It was no take: nothing of it stays.
    pub fn discard(self) -> Result<(), JournalError> {
        fs::remove_dir_all(&self.folder).map_err(|error| self.failed(&error))
    }
}

/// Writes `take.ron`, takes away what was needed until then, and gives the folder its own name.
fn settle(journal: &Path, folder: &Path, id: &TakeId, file: &TakeFile) -> Result<(), JournalError> {
    let failed = |error: std::io::Error| JournalError::of(&error, folder);
    write_whole(&folder.join(TAKE), &as_ron(file, folder)?)?;
    for name in [HEAD, NOTES] {
        match fs::remove_file(folder.join(name)) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(failed(error));
            }
            _ => {}
        }
    }
    sync_folder(folder)?;
    let day = journal.join(&id.day);
    fs::rename(folder, day.join(&id.time)).map_err(failed)?;
    sync_folder(&day)
}

/// Mends what a crash left in `folder`. Says what became of it: `None` if there was nothing to save.
pub(crate) fn mend(
    journal: &Path,
    folder: &Path,
    id: &TakeId,
) -> Result<Option<Kept>, JournalError> {
    let failed = |error: std::io::Error| JournalError::of(&error, folder);
    let kept = |length_s| Kept {
        id: id.clone(),
        length_s,
    };
    // It was whole but for its name.
    if let Ok(file) = read(&folder.join(TAKE))
        && folder.join(SOUND).is_file()
    {
        settle(journal, folder, id, &file)?;
        return Ok(Some(kept(file.length_s)));
    }
    let Ok(mut file) = read(&folder.join(HEAD)) else {
        // The very beginning broke off; there is no sound yet.
        fs::remove_dir_all(folder).map_err(failed)?;
        return Ok(None);
    };
    let samples = crate::flac::samples_of(&folder.join(SOUND));
    if samples.is_empty() {
        fs::remove_dir_all(folder).map_err(failed)?;
        return Ok(None);
    }
    let fresh = folder.join("mended.flac");
    let mut sound = FlacWriter::create(&fresh, file.sample_rate_hz).map_err(failed)?;
    sound.write(&samples).map_err(failed)?;
    sound
        .finish()
        .and_then(|()| fs::rename(&fresh, folder.join(SOUND)))
        .map_err(failed)?;
    file.length_s = samples.len() as f64 / f64::from(file.sample_rate_hz);
    file.mended = true;
    let lines = fs::read(folder.join(NOTES)).unwrap_or_default();
    file.notes = String::from_utf8_lossy(&lines)
        .lines()
        .map_while(|line| ron::from_str(line).ok())
        .collect();
    settle(journal, folder, id, &file)?;
    Ok(Some(kept(file.length_s)))
}

/// Reads `take.ron` or `head.ron`.
pub(crate) fn read(path: &Path) -> Result<TakeFile, JournalError> {
    let bytes = fs::read(path).map_err(|error| JournalError::of(&error, path))?;
    let text = String::from_utf8_lossy(&bytes);
    /// The version stands alone, so that a later take is told as such.
    #[derive(serde::Deserialize)]
    struct Versioned {
        version: u32,
    }
    let file: Result<TakeFile, _> = ron::from_str(&text);
    match file {
        Ok(file) if file.version == crate::written::VERSION => Ok(file),
        other => {
            if let Ok(Versioned { version }) = ron::from_str(&text)
                && version > crate::written::VERSION
            {
                return Err(JournalError::Later {
                    version,
                    path: path.to_owned(),
                });
            }
            let (reason, line, column) = match other {
                Ok(file) => (format!("version {} is none", file.version), 1, 1),
                Err(error) => (
                    error.code.to_string(),
                    error.span.end.line,
                    error.span.end.col,
                ),
            };
            Err(JournalError::Unwritten {
                reason,
                line,
                column,
                path: path.to_owned(),
            })
        }
    }
}

pub(crate) fn as_ron(file: &TakeFile, path: &Path) -> Result<String, JournalError> {
    let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
    ron::ser::to_string_pretty(file, pretty)
        .map(|text| text + "\n")
        .map_err(|error| JournalError::Failed {
            reason: error.to_string(),
            path: path.to_owned(),
        })
}

/// Writes a file so that it is there whole or not at all.
pub(crate) fn write_whole(path: &Path, text: &str) -> Result<(), JournalError> {
    let fresh = path.with_extension("new");
    File::create(&fresh)
        .and_then(|mut file| {
            file.write_all(text.as_bytes())?;
            file.sync_all()
        })
        .and_then(|()| fs::rename(&fresh, path))
        .map_err(|error| JournalError::of(&error, path))
}

/// Makes a change of names in `folder` last.
fn sync_folder(folder: &Path) -> Result<(), JournalError> {
    // Only Unix can open a folder; elsewhere the system sees to it.
    if cfg!(unix) {
        File::open(folder)
            .and_then(|folder| folder.sync_all())
            .map_err(|error| JournalError::of(&error, folder))?;
    }
    Ok(())
}
