//! The folder of all takes.

use std::collections::BTreeSet;
use std::fs::{self, File, TryLockError};
use std::io;
use std::ops::Deref;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use jiff::{Unit, Zoned, civil::DateTime};

use crate::context::Context;
use crate::disk::Disk;
use crate::entry::{Entry, Stamp};
use crate::error::JournalError;
use crate::index::{Belief, Index};
use crate::mending::mend;
use crate::take::{DISCARDED, Kept, TakeWriter, UNFINISHED};
use crate::take_file::{SOUND, TAKE, read};
use crate::take_id::TakeId;
use crate::written::TakeFile;

/// Whoever holds a lock on it may write.
const LOCK: &str = ".lock";
/// Ends the name of a folder that is being copied into the journal.
pub(crate) const COPYING: &str = ".copying";

/// If the clock was set back by no more than this, as in autumn or on a journey, names go on from
/// the last take; if by more, that one's clock was wrong.
const SET_BACK_HOURS: i64 = 26;

/// The takes of a journal, to be read. What another window adds is seen after `refresh`.
#[derive(Clone)]
pub struct Shelf(pub(crate) Arc<Inner>);

/// A journal that is open for writing, by one at a time.
pub struct Journal(pub(crate) Shelf);

pub(crate) struct Inner {
    pub folder: PathBuf,
    pub disk: Disk,
    index: Mutex<Index>,
    /// Held until the journal and all its writers are dropped.
    lock: Option<File>,
}

/// A journal just opened.
pub struct Opened {
    /// The journal.
    pub journal: Journal,
    /// Takes that had broken off and are whole again.
    pub mended: Vec<Kept>,
    /// What could not be mended, and is left as it is.
    pub unmended: Vec<JournalError>,
    /// The last take, if it lies in the days to come: then this computer's clock is wrong, or was.
    pub ahead_of_time: Option<TakeId>,
}

/// A folder in the journal.
pub(crate) enum Found {
    /// A finished take.
    Take(TakeId),
    /// One that runs or broke off.
    Unfinished(TakeId),
    /// One of which nothing is to stay.
    Leftover,
    /// Nothing of ours.
    Strange,
}

impl Inner {
    pub fn index(&self) -> MutexGuard<'_, Index> {
        self.index.lock().unwrap_or_else(PoisonError::into_inner)
    }

    pub fn path(&self, id: &TakeId) -> PathBuf {
        self.folder.join(id.day()).join(id.time())
    }

    /// A take is new or has changed; `text` is what stands in its file now.
    pub fn changed(&self, id: &TakeId, file: &TakeFile, text: &[u8]) {
        // Without a stamp it is looked at anew when the journal is opened next.
        if let Ok(stamp) = Stamp::of(&self.path(id).join(TAKE), text) {
            let entry = Entry::of(id, file, stamp);
            self.index().add(&self.folder, &self.disk, entry);
        }
    }

    /// The first name from `id` on that no folder has.
    pub fn free(&self, id: &TakeId) -> TakeId {
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
    fn name(&self, now: DateTime) -> TakeId {
        let wanted = TakeId::at(now);
        let index = self.index();
        let known = index.entries().last().map(|entry| &entry.id);
        let last = known.max(index.unread.keys().next_back());
        let after_last = last.filter(|last| {
            **last >= wanted
                && last
                    .local()
                    .is_some_and(|last| hours(now, last) <= SET_BACK_HOURS)
        });
        let wanted = after_last.map_or(wanted, TakeId::following);
        drop(index);
        self.free(&wanted)
    }

    /// All that lies in the journal, in the order of names.
    pub fn folders(&self) -> Result<Vec<(Found, PathBuf)>, JournalError> {
        let mut found = Vec::new();
        for (day_name, day) in folders_in(&self.folder)? {
            for (name, path) in folders_in(&day)? {
                let found_here = if name.ends_with(DISCARDED) || name.ends_with(COPYING) {
                    Found::Leftover
                } else if let Some(time) = name.strip_suffix(UNFINISHED) {
                    TakeId::new(&day_name, time).map_or(Found::Strange, Found::Unfinished)
                } else {
                    TakeId::new(&day_name, &name).map_or(Found::Strange, Found::Take)
                };
                found.push((found_here, path));
            }
        }
        found.sort_by(|a, b| a.1.cmp(&b.1));
        Ok(found)
    }

    fn finished(&self) -> Result<Vec<(TakeId, PathBuf)>, JournalError> {
        let takes = self.folders()?.into_iter();
        Ok(takes
            .filter_map(|(found, path)| match found {
                Found::Take(id) => Some((id, path)),
                _ => None,
            })
            .collect())
    }
}

/// From one local time to a later one, in whole hours.
fn hours(from: DateTime, to: DateTime) -> i64 {
    from.until((Unit::Hour, to))
        .map_or(i64::MAX, |span| i64::from(span.get_hours()))
}

/// Names and paths of the folders in a folder.
fn folders_in(folder: &Path) -> Result<Vec<(String, PathBuf)>, JournalError> {
    let failed = |error: io::Error| JournalError::of(&error, folder);
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).map_err(failed)? {
        let entry = entry.map_err(failed)?;
        let kind = entry.file_type().map_err(failed)?;
        if kind.is_dir() || kind.is_symlink() && entry.path().is_dir() {
            found.push((
                entry.file_name().to_string_lossy().into_owned(),
                entry.path(),
            ));
        }
    }
    Ok(found)
}

impl Shelf {
    /// Opens the journal in `folder` to be read, also while another window writes in it. Changes nothing.
    /// Believes the index, if there is a whole one: what was changed without it is seen after `refresh`.
    pub fn open(folder: &Path) -> Result<Self, JournalError> {
        if !folder.is_dir() {
            return Err(JournalError::Gone {
                path: folder.to_owned(),
            });
        }
        let inner = Inner {
            folder: folder.to_owned(),
            disk: Disk::default(),
            index: Mutex::default(),
            lock: None,
        };
        let index = match Index::quick(folder) {
            Some(index) => index,
            None => Index::read(folder, inner.finished()?, Belief::IfUnchanged).0,
        };
        *inner.index() = index;
        Ok(Self(Arc::new(inner)))
    }

    /// Looks at every take for what others, or hands, have changed. Takes a second or so where there are ten
    /// years of takes: for a thread on which nobody waits.
    pub fn refresh(&self) -> Result<(), JournalError> {
        self.look_anew(Belief::IfUnchanged)
    }

    fn look_anew(&self, belief: Belief) -> Result<(), JournalError> {
        let inner = &self.0;
        if inner.lock.is_none() {
            // Whoever looks at the takes is not kept waiting.
            let (index, _) = Index::read(&inner.folder, inner.finished()?, belief);
            inner.index().take_over(index);
            return Ok(());
        }
        // No take may be finished meanwhile: it would be forgotten.
        let mut own = inner.index();
        let (index, stale) = Index::read(&inner.folder, inner.finished()?, belief);
        own.take_over(index);
        if stale {
            return own.store(&inner.folder, &inner.disk);
        }
        Ok(())
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.0.folder
    }

    /// What is known of all takes, in the order of time. Costs nothing; stays as it is now.
    pub fn entries(&self) -> Arc<Vec<Arc<Entry>>> {
        Arc::clone(self.0.index().entries())
    }

    /// What is known of a take.
    pub fn entry(&self, id: &TakeId) -> Option<Arc<Entry>> {
        self.0.index().entry(id).cloned()
    }

    /// Takes that cannot be understood, each with the reason in words. They are left as they are.
    pub fn unread(&self) -> Vec<(TakeId, String)> {
        let index = self.0.index();
        let told = index.unread.iter();
        told.map(|(id, error)| (id.clone(), error.to_string()))
            .collect()
    }

    /// All players that have a take, by name.
    pub fn players(&self) -> Vec<String> {
        let entries = self.entries();
        let players: BTreeSet<&String> = entries.iter().map(|entry| &entry.player).collect();
        players.into_iter().cloned().collect()
    }

    /// Names of all finished takes, in the order of time, as the folders have them now.
    pub fn takes(&self) -> Result<Vec<TakeId>, JournalError> {
        let finished = self.0.finished()?.into_iter();
        Ok(finished.map(|(id, _)| id).collect())
    }

    /// All but the sound of a take.
    pub fn take(&self, id: &TakeId) -> Result<TakeFile, JournalError> {
        read(&self.0.path(id).join(TAKE))
    }

    /// The file of its sound.
    pub fn sound(&self, id: &TakeId) -> PathBuf {
        self.0.path(id).join(SOUND)
    }
}

impl Deref for Journal {
    type Target = Shelf;

    /// A journal can all that a shelf can.
    fn deref(&self) -> &Shelf {
        &self.0
    }
}

impl Journal {
    /// Opens the journal in `folder`, which is made if it is not there, and mends what a crash left. Only
    /// one window can do so at a time; the second one opens a `Shelf`.
    pub fn open(folder: &Path) -> Result<Opened, JournalError> {
        Self::open_on(folder, Disk::default())
    }

    /// The same on a disk that may have a fate.
    pub fn open_on(folder: &Path, disk: Disk) -> Result<Opened, JournalError> {
        let failed = |error: io::Error| JournalError::of(&error, folder);
        disk.create_folders(folder).map_err(failed)?;
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
        let inner = Inner {
            folder: folder.to_owned(),
            disk,
            index: Mutex::default(),
            lock: Some(lock),
        };
        let folders = inner.folders()?;
        let (mut takes, mut unfinished) = (Vec::new(), Vec::new());
        for (found, path) in folders {
            match found {
                Found::Take(id) => takes.push((id, path)),
                Found::Unfinished(id) => unfinished.push((id, path)),
                // What remains is tried again at the next opening.
                Found::Leftover => drop(inner.disk.remove_folder(&path)),
                Found::Strange => {}
            }
        }
        let (mut index, stale) = Index::read(folder, takes, Belief::Full);
        if stale {
            // Without it the next opening takes longer, and nothing else.
            index.store(folder, &inner.disk).ok();
        }
        *inner.index() = index;
        let mut opened = Opened {
            ahead_of_time: inner.ahead_of_time(Zoned::now().datetime()),
            journal: Self(Shelf(Arc::new(inner))),
            mended: Vec::new(),
            unmended: Vec::new(),
        };
        for (id, path) in unfinished {
            let inner = &opened.journal.0.0;
            let mut id = id;
            while inner.path(&id).exists() {
                id = id.following();
            }
            match mend(inner, &path, &id) {
                Ok(kept) => opened.mended.extend(kept),
                Err(error) => opened.unmended.push(error),
            }
        }
        Ok(opened)
    }

    /// Begins a take now.
    pub fn begin(&self, context: &Context, rate_hz: u32) -> Result<TakeWriter, JournalError> {
        self.begin_at(&Zoned::now(), context, rate_hz)
    }

    /// Begins a take as if it were this time.
    pub fn begin_at(
        &self,
        now: &Zoned,
        context: &Context,
        rate_hz: u32,
    ) -> Result<TakeWriter, JournalError> {
        if !self.folder().is_dir() {
            return Err(JournalError::Gone {
                path: self.folder().to_owned(),
            });
        }
        let id = self.0.0.name(now.datetime());
        let began = now.strftime("%Y-%m-%dT%H:%M:%S%:z[%Q]").to_string();
        TakeWriter::begin(Arc::clone(&self.0.0), id, context, began, rate_hz)
    }

    /// Makes the index anew from the takes.
    pub fn rebuild_index(&self) -> Result<(), JournalError> {
        self.look_anew(Belief::None)
    }
}

impl Inner {
    /// The last take, if it lies more than a day ahead.
    fn ahead_of_time(&self, now: DateTime) -> Option<TakeId> {
        let index = self.index();
        let last = &index.entries().last()?.id;
        (hours(now, last.local()?) > SET_BACK_HOURS).then(|| last.clone())
    }
}
