//! The folder of all takes.

use std::fs::{self, File, TryLockError};
use std::path::{Path, PathBuf};

use jiff::Zoned;

use crate::context::{Context, TakeId};
use crate::error::JournalError;
use crate::take::{Kept, SOUND, TAKE, TakeWriter, UNFINISHED, as_ron, mend, read, write_whole};
use crate::written::{Answer, TakeFile};

/// Whoever holds a lock on it may write.
const LOCK: &str = ".lock";

/// A journal that is open for writing.
pub struct Journal {
    folder: PathBuf,
    /// Held until the journal is dropped.
    _lock: File,
}

/// A journal just opened.
pub struct Opened {
    /// The journal.
    pub journal: Journal,
    /// Takes that had broken off and are whole again.
    pub mended: Vec<Kept>,
    /// What could not be mended, and is left as it is.
    pub unmended: Vec<JournalError>,
}

impl Journal {
    /// Opens the journal in `folder`, which is made if it is not there, and mends what a crash left.
    pub fn open(folder: &Path) -> Result<Opened, JournalError> {
        let failed = |error: std::io::Error| JournalError::of(&error, folder);
        fs::create_dir_all(folder).map_err(failed)?;
        let lock = File::create(folder.join(LOCK)).map_err(failed)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(JournalError::InUse {
                    path: folder.to_owned(),
                });
            }
            Err(TryLockError::Error(error)) => return Err(failed(error)),
        }
        let mut opened = Opened {
            journal: Self {
                folder: folder.to_owned(),
                _lock: lock,
            },
            mended: Vec::new(),
            unmended: Vec::new(),
        };
        for (id, unfinished) in opened.journal.folders()? {
            let Some(unfinished) = unfinished else {
                continue;
            };
            let id = opened.journal.free(id, false);
            match mend(folder, &unfinished, &id) {
                Ok(kept) => opened.mended.extend(kept),
                Err(error) => opened.unmended.push(error),
            }
        }
        Ok(opened)
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.folder
    }

    /// Begins a take now.
    pub fn begin(&self, context: &Context, rate_hz: u32) -> Result<TakeWriter, JournalError> {
        let now = Zoned::now();
        let id = TakeId {
            day: now.strftime("%Y-%m-%d").to_string(),
            time: now.strftime("%H-%M-%S").to_string(),
        };
        let id = self.free(id, true);
        let began = now.strftime("%Y-%m-%dT%H:%M:%S%:z[%Q]").to_string();
        if !self.folder.is_dir() {
            return Err(JournalError::Gone {
                path: self.folder.clone(),
            });
        }
        TakeWriter::begin(&self.folder, id, context, began, rate_hz)
    }

    /// Names of all finished takes, in the order of time.
    pub fn takes(&self) -> Result<Vec<TakeId>, JournalError> {
        let folders = self.folders()?.into_iter();
        let finished = folders.filter(|(_, unfinished)| unfinished.is_none());
        Ok(finished.map(|(id, _)| id).collect())
    }

    /// All but the sound of a take.
    pub fn take(&self, id: &TakeId) -> Result<TakeFile, JournalError> {
        read(&self.path(id).join(TAKE))
    }

    /// The file of its sound.
    pub fn sound(&self, id: &TakeId) -> PathBuf {
        self.path(id).join(SOUND)
    }

    /// Adds what the ear said of a note.
    pub fn answer(&self, id: &TakeId, answer: Answer) -> Result<(), JournalError> {
        let path = self.path(id).join(TAKE);
        let mut file = read(&path)?;
        file.answers.push(answer);
        write_whole(&path, &as_ron(&file, &path)?)
    }

    fn path(&self, id: &TakeId) -> PathBuf {
        self.folder.join(&id.day).join(&id.time)
    }

    /// The first name from `id` on that no finished take has, nor an unfinished one if that counts.
    fn free(&self, id: TakeId, unfinished_counts: bool) -> TakeId {
        let taken = |id: &TakeId| {
            let unfinished = format!("{}{UNFINISHED}", id.time);
            self.path(id).exists()
                || (unfinished_counts && self.folder.join(&id.day).join(unfinished).exists())
        };
        let mut free = id.clone();
        let mut number = 1;
        while taken(&free) {
            number += 1;
            free.time = format!("{}-{number}", id.time);
        }
        free
    }

    /// All takes in the order of their names, with the folder of those that are unfinished.
    fn folders(&self) -> Result<Vec<(TakeId, Option<PathBuf>)>, JournalError> {
        let failed = |error: std::io::Error| JournalError::of(&error, &self.folder);
        let mut found = Vec::new();
        for day in fs::read_dir(&self.folder).map_err(failed)? {
            let day = day.map_err(failed)?;
            if !day.path().is_dir() {
                continue;
            }
            let day_name = day.file_name().to_string_lossy().into_owned();
            for take in fs::read_dir(day.path()).map_err(failed)? {
                let take = take.map_err(failed)?;
                if !take.path().is_dir() {
                    continue;
                }
                let name = take.file_name().to_string_lossy().into_owned();
                let time = name.strip_suffix(UNFINISHED).unwrap_or(&name).to_owned();
                let unfinished = (time != name).then(|| take.path());
                let id = TakeId {
                    day: day_name.clone(),
                    time,
                };
                found.push((id, unfinished));
            }
        }
        found.sort();
        Ok(found)
    }
}
