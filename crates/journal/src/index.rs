//! The index: what is known of all takes, in one file. It is never the only copy of anything: what is missing
//! or damaged in it is taken from the takes again.

use std::collections::BTreeMap;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::disk::{Disk, DiskFile};
use crate::entry::{Entry, Stamp};
use crate::error::JournalError;
use crate::take_file::{TAKE, parse};
use crate::take_id::TakeId;
use crate::written::TakeFile;

/// Its name in the journal's folder.
const INDEX: &str = ".index";
/// What it begins with; another number when `Entry` changes.
const MAGIC: &[u8] = b"evenwave.index/1\n";
/// Before each record: its length and its CRC-32, both as `u32`, lowest byte first.
const BEFORE: usize = 8;
/// So many outdated records may stand in it before it is written anew.
const OUTDATED: usize = 256;

/// The takes by name.
#[derive(Default)]
pub(crate) struct Index {
    pub entries: BTreeMap<TakeId, Arc<Entry>>,
    /// Takes that cannot be understood, and why.
    pub unread: BTreeMap<TakeId, JournalError>,
    /// The file, once something was added to it.
    file: Option<DiskFile>,
    /// It could not be written: it is left alone until the journal is opened next.
    given_up: bool,
}

impl Index {
    /// What the file says, and whether it has to be written anew.
    fn stored(folder: &Path) -> (BTreeMap<TakeId, Arc<Entry>>, bool) {
        let mut entries = BTreeMap::new();
        let Ok(bytes) = fs::read(folder.join(INDEX)) else {
            return (entries, true);
        };
        let Some(mut rest) = bytes.strip_prefix(MAGIC) else {
            return (entries, true);
        };
        let mut records = 0;
        while !rest.is_empty() {
            let Some((record, after)) = record(rest) else {
                // It broke off here, or is damaged.
                return (entries, true);
            };
            let Ok(entry) = postcard::from_bytes::<Entry>(record) else {
                return (entries, true);
            };
            entries.insert(entry.id.clone(), Arc::new(entry));
            records += 1;
            rest = after;
        }
        let outdated = records - entries.len();
        (entries, outdated > OUTDATED)
    }

    /// The index of the takes in these folders: from the file where that is current, from the takes else. Says
    /// whether the file is not as it should be.
    pub fn read(folder: &Path, takes: Vec<(TakeId, PathBuf)>) -> (Self, bool) {
        let (mut stored, mut stale) = Self::stored(folder);
        let mut index = Self::default();
        for (id, take) in takes {
            let path = take.join(TAKE);
            if let Some(entry) = stored.remove(&id)
                && entry.stamp.seems_current(&path)
            {
                index.entries.insert(id, entry);
                continue;
            }
            stale |= index.look(&id, &path);
        }
        stale |= !stored.is_empty();
        (index, stale)
    }

    /// The index of the takes in these folders, whatever the file says.
    pub fn anew(takes: Vec<(TakeId, PathBuf)>) -> Self {
        let mut index = Self::default();
        for (id, take) in takes {
            index.look(&id, &take.join(TAKE));
        }
        index
    }

    /// Reads a take anew; whether it can be understood.
    fn look(&mut self, id: &TakeId, path: &Path) -> bool {
        match entry(id, path) {
            Ok(entry) => {
                self.entries.insert(id.clone(), Arc::new(entry));
                true
            }
            Err(error) => {
                self.unread.insert(id.clone(), error);
                false
            }
        }
    }

    /// Writes the file anew.
    pub fn store(&mut self, folder: &Path, disk: &Disk) -> Result<(), JournalError> {
        let path = folder.join(INDEX);
        self.file = None;
        let mut bytes = MAGIC.to_vec();
        for entry in self.entries.values() {
            bytes.extend(packed(entry));
        }
        let stored = disk.write_whole(&path, &bytes);
        self.given_up = stored.is_err();
        stored.map_err(|error| JournalError::of(&error, &path))
    }

    /// Takes up a new or changed take, here and in the file.
    pub fn add(&mut self, folder: &Path, disk: &Disk, entry: Entry) {
        let bytes = packed(&entry);
        self.unread.remove(&entry.id);
        self.entries.insert(entry.id.clone(), Arc::new(entry));
        if self.given_up {
            return;
        }
        let mut write = || -> io::Result<()> {
            let file = match &mut self.file {
                Some(file) => file,
                none => none.insert(disk.append(&folder.join(INDEX))?),
            };
            file.write_all(&bytes)
        };
        // What is missing in it is found when the journal is opened next; that only takes longer. Nothing may
        // follow half a record.
        self.given_up = write().is_err();
    }

    /// A take is gone. The file is not touched: a record without a take is passed over.
    pub fn remove(&mut self, id: &TakeId) {
        self.entries.remove(id);
        self.unread.remove(id);
    }
}

/// Takes from a take what stands of it in the index.
fn entry(id: &TakeId, path: &Path) -> Result<Entry, JournalError> {
    let reading = |error: io::Error| JournalError::reading(&error, path);
    let bytes = fs::read(path).map_err(reading)?;
    let file: TakeFile = parse(&bytes, path)?;
    let stamp = Stamp::of(path, &bytes).map_err(reading)?;
    Ok(Entry::of(id, &file, stamp))
}

fn packed(entry: &Entry) -> Vec<u8> {
    let mut bytes = vec![0; BEFORE];
    // Into memory this cannot go wrong; a record that did would be empty, and so taken as damaged.
    let record = postcard::to_stdvec(entry).unwrap_or_default();
    bytes[..4].copy_from_slice(&(record.len() as u32).to_le_bytes());
    bytes[4..].copy_from_slice(&crc32fast::hash(&record).to_le_bytes());
    bytes.extend(record);
    bytes
}

/// The first record of these bytes if it is whole, and what follows it.
fn record(bytes: &[u8]) -> Option<(&[u8], &[u8])> {
    let number = |from: usize| -> Option<u32> {
        let four = bytes.get(from..from + 4)?;
        Some(u32::from_le_bytes(four.try_into().ok()?))
    };
    let length = number(0)? as usize;
    let sum = number(4)?;
    let (record, after) = bytes[BEFORE..].split_at_checked(length)?;
    (crc32fast::hash(record) == sum).then_some((record, after))
}
