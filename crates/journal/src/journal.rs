//! A journal that is open for writing.

use std::fs::TryLockError;
use std::io;
use std::ops::Deref;
use std::path::Path;
use std::sync::{Arc, Mutex};

use jiff::{Timestamp, Zoned};

use crate::context::Context;
use crate::error::JournalError;
use crate::folder::{FolderKind, Inner, UNFINISHED};
use crate::index::{Belief, Index};
use crate::leaving::Leaving;
use crate::mending::mend;
use crate::reader::Shelf;
use crate::seen_time::add_start;
use crate::take::{Kept, TakeWriter};
use crate::take_id::TakeId;
use disk::{Disk, HIDDEN};

/// Whoever holds a lock on it may write.
const LOCK: &str = ".lock";
/// A journal that is open for writing, by one at a time; its clones are the same one.
#[derive(Clone)]
pub struct Journal(pub(crate) Shelf);

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

impl Opened {
    /// What the player should know, in words.
    pub fn words(&self) -> Vec<String> {
        let mended = self.mended.iter().map(Kept::mended_words);
        let unmended = self
            .unmended
            .iter()
            .map(|error| format!("a take that had broken off cannot be mended: {error}"));
        let ahead = self.ahead_of_time.iter().map(|id| {
            format!("the take {id} lies in days to come: this computer's clock is wrong now, or was then")
        });
        mended.chain(unmended).chain(ahead).collect()
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
        Self::open_on(folder, Disk::default().private())
    }

    /// The same on a disk that may have a fate.
    pub fn open_on(folder: &Path, disk: Disk) -> Result<Opened, JournalError> {
        let failed = |error: io::Error| JournalError::of(&error, folder);
        disk.create_folders(folder).map_err(failed)?;
        let lock = disk.lock_file(&folder.join(LOCK)).map_err(failed)?;
        match lock.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(JournalError::InUse { path: folder.to_owned() });
            }
            Err(TryLockError::Error(error)) => return Err(failed(error)),
        }
        let inner = Inner {
            folder: folder.to_owned(),
            disk,
            index: Mutex::default(),
            leaving: Leaving::read(folder),
            lock: Some(lock),
        };
        inner.disk.sweep(folder);
        inner.close();
        let folders = inner.folders()?;
        let (mut takes, mut unfinished) = (Vec::new(), Vec::new());
        for (found, path) in folders {
            match found {
                FolderKind::Take(id) => takes.push((id, path)),
                FolderKind::Unfinished(id) => unfinished.push((id, path)),
                // What remains is tried again at the next opening.
                FolderKind::Leftover => drop(inner.disk.remove_folder(&path)),
                FolderKind::Strange => {}
            }
        }
        let (mut index, stale) = Index::read(folder, takes, Belief::Full);
        if stale {
            // Without it the next opening takes longer, and nothing else.
            index.store(folder, &inner.disk).ok();
        }
        *inner.index() = index;
        // Without it no sound is taken to be older than it is.
        add_start(folder, &inner.disk, Timestamp::now().as_second()).ok();
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
        let id = self.0.0.name(now.datetime());
        let folder = format!("{}{UNFINISHED}", id.time());
        self.begin_as((id, folder), now, context, rate_hz)
    }

    /// Begins a take of a recording that was made elsewhere, at this time: it is named by that time, wherever this lies among the
    /// others. Until it is finished nothing is to be seen of it, and what a crash leaves goes: the recording is still there.
    pub fn begin_recording(
        &self,
        made: &Zoned,
        context: &Context,
        rate_hz: u32,
    ) -> Result<TakeWriter, JournalError> {
        let id = TakeId::at(made.datetime());
        let folder = format!("{HIDDEN}{}-{}", id.time(), std::process::id());
        let mut take = self.begin_as((id, folder), made, context, rate_hz)?;
        take.keep();
        Ok(take)
    }

    fn begin_as(
        &self,
        (id, folder): (TakeId, String),
        began: &Zoned,
        context: &Context,
        rate_hz: u32,
    ) -> Result<TakeWriter, JournalError> {
        if !self.folder().is_dir() {
            return Err(JournalError::Gone { path: self.folder().to_owned() });
        }
        let began = began.strftime("%Y-%m-%dT%H:%M:%S%:z[%Q]").to_string();
        TakeWriter::begin(Arc::clone(&self.0.0), (id, &folder), context, began, rate_hz)
    }

    /// Makes the index anew from the takes.
    pub fn rebuild_index(&self) -> Result<(), JournalError> {
        self.look_anew(Belief::None)
    }
}
