//! What lies in the folder of a journal, and under which names.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};

use jiff::{Unit, civil::DateTime};

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::index::{INDEX, Index};
use crate::index_entry::{Entry, Stamp};
use crate::leaving::Leaving;
use crate::take_file::TAKE;
use crate::take_id::TakeId;
use disk::{Disk, HIDDEN};

/// Ends the name of the folder of a take until it is finished.
pub(crate) const UNFINISHED: &str = ".unfinished";
/// So ended the names of folders that an earlier version copied in or threw away, and did not come to an end with.
const EARLIER: [&str; 2] = [".discarded", ".copying"];

/// If the clock was set back by no more than this, as in autumn or on a journey, names go on from
/// the last take; if by more, that one's clock was wrong.
const SET_BACK_HOURS: i64 = 26;

/// What a shelf, a journal and the takes that are being played have in common.
pub(crate) struct Inner {
    pub folder: PathBuf,
    pub disk: Disk,
    pub index: Mutex<Index>,
    /// Sound that goes, as was told before it was opened.
    pub leaving: Leaving,
    /// Held until the journal and all its writers are dropped.
    pub lock: Option<File>,
}

/// A folder in the journal.
pub(crate) enum FolderKind {
    /// A finished take.
    Take(TakeId),
    /// One that runs or broke off.
    Unfinished(TakeId),
    /// One of which nothing is to stay.
    Leftover,
    /// Nothing of ours.
    Strange,
}

impl FolderKind {
    /// What a folder is by its name and that of its day.
    pub(crate) fn of(day: &str, name: &str) -> Self {
        if name.starts_with(HIDDEN) {
            return Self::Leftover;
        }
        if let Some(time) = name.strip_suffix(UNFINISHED) {
            return TakeId::new(day, time).map_or(Self::Strange, Self::Unfinished);
        }
        // A name with words was given by a hand, whatever it ends with.
        let earlier = EARLIER.iter().find_map(|ending| name.strip_suffix(ending));
        let worded = |time: &str| time.contains(char::is_whitespace);
        if earlier.is_some_and(|time| !worded(time)) {
            return Self::Strange;
        }
        TakeId::new(day, name).map_or(Self::Strange, Self::Take)
    }
}

impl Inner {
    pub(crate) fn index(&self) -> MutexGuard<'_, Index> {
        self.index.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub(crate) fn path(&self, id: &TakeId) -> PathBuf {
        self.folder.join(id.day()).join(id.time())
    }

    /// A take is new or has changed; `text` is what stands in its file now.
    pub(crate) fn changed(&self, id: &TakeId, file: &TakeFile, text: &[u8]) {
        // Without a stamp it is looked at anew when the journal is opened next.
        if let Ok(stamp) = Stamp::of(&self.path(id).join(TAKE), text) {
            let entry = Entry::of(id, file, stamp);
            self.index().add(&self.folder, &self.disk, entry);
        }
    }

    /// The first name from `id` on that no folder has.
    pub(crate) fn free(&self, id: &TakeId) -> TakeId {
        let taken = |id: &TakeId| {
            let path = self.path(id);
            let unfinished = format!("{}{UNFINISHED}", id.time());
            path.exists() || path.with_file_name(unfinished).exists()
        };
        let mut free = id.clone();
        while taken(&free) {
            free = free.following();
        }
        free
    }

    /// What a take that begins now is called: after all others, if the clock can be believed.
    pub(crate) fn name(&self, now: DateTime) -> TakeId {
        let wanted = TakeId::at(now);
        let index = self.index();
        let known = index.entries().last().map(|entry| &entry.id);
        let last = known.max(index.unread.keys().next_back());
        let after_last = last.filter(|last| {
            **last >= wanted && last.local().is_some_and(|last| hours(now, last) <= SET_BACK_HOURS)
        });
        let wanted = after_last.map_or(wanted, TakeId::following);
        drop(index);
        self.free(&wanted)
    }

    /// Sees to it that the takes of each day, and what is known of them, are for the owner alone; an earlier version left them open. One that a
    /// group may write to was shared by hand.
    pub(crate) fn close(&self) {
        for (name, day) in folders_in(&self.folder).unwrap_or_default() {
            if TakeId::new(&name, "00-00-00").is_some() {
                disk::close(&day);
            }
        }
        for name in [INDEX, "tasks.ron"] {
            disk::close(&self.folder.join(name));
        }
    }

    /// All that lies in the journal, in the order of names.
    pub(crate) fn folders(&self) -> Result<Vec<(FolderKind, PathBuf)>, JournalError> {
        let mut found = Vec::new();
        for (day_name, day) in folders_in(&self.folder)? {
            for (name, path) in folders_in(&day)? {
                found.push((FolderKind::of(&day_name, &name), path));
            }
        }
        found.sort_by(|a, b| a.1.cmp(&b.1));
        Ok(found)
    }

    pub(crate) fn finished(&self) -> Result<Vec<(TakeId, PathBuf)>, JournalError> {
        let takes = self.folders()?.into_iter();
        Ok(takes
            .filter_map(|(found, path)| match found {
                FolderKind::Take(id) => Some((id, path)),
                _ => None,
            })
            .collect())
    }

    /// The last take, if it lies more than a day ahead.
    pub(crate) fn ahead_of_time(&self, now: DateTime) -> Option<TakeId> {
        let index = self.index();
        let last = &index.entries().last()?.id;
        (hours(now, last.local()?) > SET_BACK_HOURS).then(|| last.clone())
    }
}

/// From one local time to a later one, in whole hours.
fn hours(from: DateTime, to: DateTime) -> i64 {
    from.until((Unit::Hour, to)).map_or(i64::MAX, |span| i64::from(span.get_hours()))
}

/// Names and paths of the folders in a folder.
fn folders_in(folder: &Path) -> Result<Vec<(String, PathBuf)>, JournalError> {
    let failed = |error: io::Error| match error.kind() {
        // Without its folder a journal is gone, and no take is missing.
        io::ErrorKind::NotFound => JournalError::of(&error, folder),
        _ => JournalError::reading(&error, folder),
    };
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let kind = entry.file_type().map_err(failed)?;
        if kind.is_dir() || kind.is_symlink() && entry.path().is_dir() {
            found.push((entry.file_name().to_string_lossy().into_owned(), entry.path()));
        }
    }
    Ok(found)
}
