//! The index: what is known of all takes, in one file. It is never the only copy of anything: what is missing
//! or damaged in it is taken from the takes again.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};

use vibrato::Quantity;

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::index_entry::{Entry, Stamp};
use crate::take_file::{TAKE, parse};
use crate::take_id::TakeId;
use disk::{Disk, DiskFile};

/// Its name in the journal's folder.
pub(crate) const INDEX: &str = ".index";
/// What it begins with: another number when `Entry` changes, and what is followed, whose values stand in it in order.
static MAGIC: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let followed: Vec<&str> = Quantity::followed().map(Quantity::key).collect();
    format!("evenwave.index/8 {}\n", followed.join(" ")).into_bytes()
});
/// Before each record: its length and its CRC-32, both as `u32`, lowest byte first.
const BEFORE: usize = 8;
/// So many outdated records may stand in it before it is written anew.
const OUTDATED: usize = 256;

/// Takes by name.
#[derive(Default)]
pub(crate) struct Index {
    /// In the order of names; shared with whoever looks at it, and changed in a copy.
    entries: Arc<Vec<Arc<Entry>>>,
    /// Takes that cannot be understood, and why.
    pub unread: BTreeMap<TakeId, JournalError>,
    /// The file, once something was added to it.
    file: Option<DiskFile>,
    /// It could not be written: it is left alone until the journal is opened next.
    given_up: bool,
}

/// How far the file is believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Belief {
    /// Whatever has a record is as the record says.
    Full,
    /// If `take.ron` still looks as it did then.
    IfUnchanged,
    /// Not at all.
    None,
}

impl Index {
    /// What the file says; `None` if it is not there, broken off or damaged. What could be read of it
    /// stands in `some`.
    fn stored(folder: &Path, some: &mut Vec<Arc<Entry>>) -> Option<()> {
        let bytes = disk::bytes(&folder.join(INDEX)).ok()?;
        let mut rest = bytes.strip_prefix(MAGIC.as_slice())?;
        let mut outdated = 0;
        while !rest.is_empty() {
            let (record, after) = record(rest)?;
            let entry: Entry = postcard::from_bytes(record).ok()?;
            // They stand in order but for what was added.
            match some.binary_search_by(|other| other.id.cmp(&entry.id)) {
                Ok(place) => {
                    some[place] = Arc::new(entry);
                    outdated += 1;
                }
                Err(place) => some.insert(place, Arc::new(entry)),
            }
            rest = after;
        }
        (outdated <= OUTDATED).then_some(())
    }

    /// The index as the file has it, if that is whole. Takes that came or went without it are not seen.
    pub(crate) fn quick(folder: &Path) -> Option<Self> {
        let mut entries = Vec::new();
        Self::stored(folder, &mut entries)?;
        Some(Self { entries: Arc::new(entries), ..Self::default() })
    }

    /// The index of the takes in these folders, which come in the order of names: from the file as far
    /// as that is believed, from the takes else. Says whether the file is not as it should be.
    pub(crate) fn read(
        folder: &Path,
        takes: Vec<(TakeId, PathBuf)>,
        belief: Belief,
    ) -> (Self, bool) {
        let mut stored = Vec::new();
        let mut stale = belief == Belief::None || Self::stored(folder, &mut stored).is_none();
        let mut entries = Vec::with_capacity(takes.len());
        let mut unread = BTreeMap::new();
        let mut used = 0;
        for (id, take) in takes {
            let path = take.join(TAKE);
            if let Ok(place) = stored.binary_search_by(|other| other.id.cmp(&id)) {
                used += 1;
                let known = &stored[place];
                if belief == Belief::Full || known.stamp.seems_current(&path) {
                    entries.push(Arc::clone(known));
                    continue;
                }
            }
            match entry(&id, &path) {
                Ok(entry) => {
                    entries.push(Arc::new(entry));
                    stale = true;
                }
                Err(error) => {
                    unread.insert(id, error);
                }
            }
        }
        stale |= used < stored.len();
        let index = Self { entries: Arc::new(entries), unread, ..Self::default() };
        (index, stale)
    }

    /// All entries, in the order of names.
    pub(crate) fn entries(&self) -> &Arc<Vec<Arc<Entry>>> {
        &self.entries
    }

    /// One entry.
    pub(crate) fn entry(&self, id: &TakeId) -> Option<&Arc<Entry>> {
        let place = self.entries.binary_search_by(|other| other.id.cmp(id));
        self.entries.get(place.ok()?)
    }

    /// Takes over what another index knows.
    pub(crate) fn take_over(&mut self, other: Self) {
        self.entries = other.entries;
        self.unread = other.unread;
    }

    /// Writes the file anew.
    pub(crate) fn store(&mut self, folder: &Path, disk: &Disk) -> Result<(), JournalError> {
        let path = folder.join(INDEX);
        self.file = None;
        let mut bytes = MAGIC.to_vec();
        for entry in self.entries.iter() {
            bytes.extend(packed(entry));
        }
        let stored = disk.write_whole(&path, &bytes);
        self.given_up = stored.is_err();
        stored.map_err(|error| JournalError::of(&error, &path))
    }

    /// Sees to it that the file knows nothing of takes that are gone. On a full disk it goes itself; it can be made anew
    /// at any time.
    pub(crate) fn forget(&mut self, folder: &Path, disk: &Disk) -> Result<(), JournalError> {
        self.store(folder, disk)
            .or_else(|fault| disk.remove_file(&folder.join(INDEX)).map_err(|_| fault))
    }

    /// Takes up a new or changed take, here and in the file.
    pub(crate) fn add(&mut self, folder: &Path, disk: &Disk, entry: Entry) {
        let bytes = packed(&entry);
        self.unread.remove(&entry.id);
        let entries = Arc::make_mut(&mut self.entries);
        match entries.binary_search_by(|other| other.id.cmp(&entry.id)) {
            Ok(place) => entries[place] = Arc::new(entry),
            Err(place) => entries.insert(place, Arc::new(entry)),
        }
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

    /// A take is gone; its record is until the file is written anew.
    pub(crate) fn remove(&mut self, id: &TakeId) {
        if self.entry(id).is_some() {
            Arc::make_mut(&mut self.entries).retain(|entry| entry.id != *id);
        }
        self.unread.remove(id);
    }
}

/// Takes from a take what stands of it in the index.
fn entry(id: &TakeId, path: &Path) -> Result<Entry, JournalError> {
    let reading = |error: io::Error| JournalError::reading(&error, path);
    let bytes = disk::bytes(path).map_err(reading)?;
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
