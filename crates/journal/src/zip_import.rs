//! Takes and tasks in one file, a zip (APPNOTE.TXT 6.3, PKWARE): to carry or keep elsewhere. What comes back in such
//! a file may have been made by anyone: only files of takes are taken from it, none larger than sound can be, and none
//! to anywhere but the folder of its take.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::folder::FolderKind;
use crate::reader::Shelf;
use crate::source::{CopyFault, Source, copied, files, pour};
use crate::take_file::{SOUND, TAKE, parse};
use crate::take_id::TakeId;
use crate::tasks::{TASKS, WrittenTasks};
use disk::{Disk, Fresh};

/// A file of words and measures is at most so large: hours of notes are some megabytes.
const LARGEST_TEXT: u64 = 256 << 20;
/// Sound is at most so large: a day at 192 kHz.
const LARGEST_SOUND: u64 = 48 << 30;
/// What grows more than so many times when it is unpacked, and is larger than that, is no take: FLAC hardly
/// shrinks, and measures to about a fifth.
const MOST_GROWTH: u64 = 100;
const SMALL: u64 = 1 << 20;
/// The longest name of a file in a take.
const LONGEST_NAME: usize = 120;
/// So many words about what was left out.
const MOST_WORDS: usize = 50;

impl Shelf {
    /// Puts the takes of a player, or of all, and their task into one new file. Says how many takes. `passed` is told how many are
    /// done, and of how many.
    pub(crate) fn pack(
        &self,
        player: Option<&str>,
        into: &Path,
        passed: &mut dyn FnMut(usize, usize),
    ) -> Result<usize, JournalError> {
        let failed = |error: io::Error| JournalError::of(&error, into);
        if disk::is_there(into) {
            return Err(JournalError::Occupied { path: into.to_owned() });
        }
        let ids = self.ids_of(player);
        let fresh = self.0.disk.begin(into).map_err(failed)?;
        let mut zip = ZipWriter::new(BufWriter::new(fresh));
        for (number, id) in ids.iter().enumerate() {
            self.pack_take(id, &mut zip, into)?;
            passed(number + 1, ids.len());
        }
        if let Some(text) = self.tasks().text_of(player)? {
            zip.start_file(TASKS, SimpleFileOptions::default())
                .map_err(|error| failed(error.into()))?;
            zip.write_all(text.as_bytes()).map_err(failed)?;
        }
        let out = zip.finish().map_err(|error| failed(error.into()))?;
        let fresh = out.into_inner().map_err(|error| failed(error.into_error()))?;
        fresh.put_new().map_err(failed)?;
        Ok(ids.len())
    }

    fn pack_take(
        &self,
        id: &TakeId,
        zip: &mut ZipWriter<BufWriter<Fresh>>,
        into: &Path,
    ) -> Result<(), JournalError> {
        let folder = self.0.path(id);
        for name in files(&folder)? {
            let path = folder.join(&name);
            // Sound is packed as it is.
            let method = match name.ends_with(".flac") {
                true => CompressionMethod::Stored,
                false => CompressionMethod::Deflated,
            };
            let options = SimpleFileOptions::default().compression_method(method).large_file(true);
            let mut file =
                disk::open(&path).map_err(|error| JournalError::reading(&error, &path))?;
            let packed = zip
                .start_file(format!("{id}/{name}"), options)
                .map_err(io::Error::from)
                .and_then(|()| io::copy(&mut file, zip));
            packed.map_err(|error| JournalError::of(&error, into))?;
        }
        Ok(())
    }
}

/// A file of takes to be read.
pub(crate) struct ZipImport {
    path: PathBuf,
    archive: ZipArchive<BufReader<File>>,
    /// The files of each take, and where each lies.
    takes: BTreeMap<TakeId, BTreeMap<String, usize>>,
    /// Where the tasks lie, if there are any.
    tasks: Option<usize>,
    /// What is no file of a take, in words.
    pub left_out: Vec<String>,
}

impl ZipImport {
    /// Looks at what is in a file; unpacks nothing.
    pub(crate) fn open(path: &Path) -> Result<Self, JournalError> {
        let file = disk::open(path).map_err(|error| JournalError::reading(&error, path))?;
        let archive = ZipArchive::new(BufReader::new(file)).map_err(|error| told(&error, path))?;
        let mut parcel = Self {
            path: path.to_owned(),
            archive,
            takes: BTreeMap::new(),
            tasks: None,
            left_out: Vec::new(),
        };
        let mut strange = Vec::new();
        for index in 0..parcel.archive.len() {
            let name = match parcel.archive.name_for_index(index) {
                Some(Ok(name)) => name.into_owned(),
                _ => String::from("\u{fffd}"),
            };
            match place(&name) {
                Some((id, file)) => {
                    parcel.takes.entry(id).or_default().insert(file, index);
                }
                None if is_tasks(&name) => parcel.tasks = Some(index),
                None if name.ends_with('/') => {}
                None => strange.push(name),
            }
        }
        parcel.takes.retain(|id, files| {
            let whole = files.contains_key(TAKE);
            if !whole {
                strange.push(id.to_string());
            }
            whole
        });
        let count = strange.len();
        parcel.left_out = strange
            .into_iter()
            .take(MOST_WORDS)
            .map(|name| format!("{name:?} is no file of a take"))
            .collect();
        if count > MOST_WORDS {
            let more = format!("{} more are no files of a take", count - MOST_WORDS);
            parcel.left_out.push(more);
        }
        Ok(parcel)
    }

    /// Unpacks a file of a take.
    fn unpack(&mut self, id: &TakeId, name: &str, to: &mut impl Write) -> Result<(), CopyFault> {
        let path = self.path.join(id.day()).join(id.time()).join(name);
        let index = self.takes.get(id).and_then(|files| files.get(name));
        let Some(&index) = index else {
            return Err(CopyFault::There(JournalError::Missing { path }));
        };
        let largest = if name == SOUND { LARGEST_SOUND } else { LARGEST_TEXT };
        self.unpack_at(index, &path, largest, to)
    }

    /// Unpacks a file, but no more than it can be; errors call it `path`.
    fn unpack_at(
        &mut self,
        index: usize,
        path: &Path,
        largest: u64,
        to: &mut impl Write,
    ) -> Result<(), CopyFault> {
        let there = |error: ZipError| CopyFault::There(told(&error, path));
        let entry = self.archive.by_index(index).map_err(there)?;
        let grown = entry.compressed_size().saturating_mul(MOST_GROWTH).max(SMALL);
        let limit = largest.min(grown);
        let too_large = |bytes: u64| {
            let size = in_megabytes(bytes);
            let reason = format!("it would unpack to {size} or more, which no take does");
            CopyFault::There(JournalError::Parcel { reason, path: path.to_owned() })
        };
        if entry.size() > limit {
            return Err(too_large(entry.size()));
        }
        // What it says of its size need not be so.
        let mut entry = entry.take(limit + 1);
        pour(&mut entry, to, |error| there(ZipError::Io(error)), path)?;
        if entry.limit() == 0 { Err(too_large(limit + 1)) } else { Ok(()) }
    }
}

impl Source for ZipImport {
    fn ids(&self) -> Vec<TakeId> {
        self.takes.keys().cloned().collect()
    }

    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError> {
        let mut text = Vec::new();
        self.unpack(id, TAKE, &mut text)?;
        parse(&text, &self.path.join(id.day()).join(id.time()).join(TAKE))
    }

    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError> {
        let files = self.takes.get(id).into_iter().flatten();
        Ok(files.map(|(name, _)| name.clone()).collect())
    }

    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault> {
        copied(disk, to, |out| self.unpack(id, file, out))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let Some(index) = self.tasks else {
            return Ok(WrittenTasks::default());
        };
        let path = self.path.join(TASKS);
        let mut text = Vec::new();
        self.unpack_at(index, &path, LARGEST_TEXT, &mut text)?;
        parse::<WrittenTasks>(&text, &path)?.checked(&path)
    }
}

/// Whether a name in a zip is that of the tasks; a journal may have been packed by hand with its folder.
fn is_tasks(name: &str) -> bool {
    match name.rsplit_once('/') {
        None => name == TASKS,
        Some((folder, file)) => file == TASKS && is_plain(folder),
    }
}

/// The take and file that a name in a zip stands for; `None` where it is no file of a take, above all one that
/// leads out of the folder.
fn place(name: &str) -> Option<(TakeId, String)> {
    let parts: Vec<&str> = name.split('/').collect();
    let &[day, time, file] = parts.get(parts.len().checked_sub(3)?..)? else {
        return None;
    };
    // A journal may have been packed by hand with its folder.
    if parts.len() > 4 || parts.len() == 4 && !is_plain(parts[0]) {
        return None;
    }
    match FolderKind::of(day, time) {
        FolderKind::Take(id) if is_plain(time) && is_plain(file) => Some((id, file.to_owned())),
        _ => None,
    }
}

/// A name that is one on every system.
fn is_plain(name: &str) -> bool {
    let odd = |sign: char| sign.is_control() || "/\\:*?\"<>|".contains(sign);
    !name.is_empty()
        && name.len() <= LONGEST_NAME
        && !name.starts_with('.')
        && !name.ends_with(['.', ' '])
        && !name.contains(odd)
        && !is_device(name)
}

/// Windows takes these for devices in every folder, in small letters too, and whatever follows a dot. Source: Microsoft,
/// "Naming Files, Paths, and Namespaces"; `CONIN$` and `CONOUT$` are the console's. All from memory.
fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or(name).trim_end().to_ascii_uppercase();
    let port = stem.strip_prefix("COM").or_else(|| stem.strip_prefix("LPT"));
    matches!(stem.as_str(), "CON" | "PRN" | "AUX" | "NUL" | "CONIN$" | "CONOUT$")
        || port.is_some_and(|number| {
            let mut signs = number.chars();
            let one = signs.next().is_some_and(|sign| "0123456789¹²³".contains(sign));
            one && signs.next().is_none()
        })
}

/// What is wrong with a zip.
fn told(error: &ZipError, path: &Path) -> JournalError {
    let reason = match error {
        ZipError::Io(error) if error.kind() == io::ErrorKind::UnexpectedEof => {
            "it breaks off; copy it anew from where it came".to_owned()
        }
        ZipError::Io(error) if error.kind() == io::ErrorKind::InvalidData => {
            "it is damaged; copy it anew from where it came".to_owned()
        }
        ZipError::Io(error) => error.to_string(),
        ZipError::InvalidArchive(_) => {
            "it is no zip, or breaks off; copy it anew from where it came".to_owned()
        }
        other => format!("it is packed in a way that is not read here: {other}"),
    };
    JournalError::Parcel { reason, path: path.to_owned() }
}

fn in_megabytes(bytes: u64) -> String {
    format!("{} MB", bytes.div_ceil(1_000_000))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_of_files_of_takes_are_taken_from_a_zip() {
        for name in [
            "2026-11-25/17-41-09/take.ron",
            "2026-11-25/17-41-09 the good one/sound.flac",
            "takes/2026-11-25/17-41-09-002/take.by-hand-1.ron",
            "2026-11-25/17-41-09/console.ron",
            "com10/2026-11-25/17-41-09/null.flac",
        ] {
            assert!(place(name).is_some(), "{name}");
        }
        for name in [
            "../2026-11-25/17-41-09/take.ron",
            "/2026-11-25/17-41-09/take.ron",
            "C:/2026-11-25/17-41-09/take.ron",
            "2026-11-25/17-41-09/../take.ron",
            "2026-11-25/17-41-09/..",
            "2026-11-25/17-41-09/",
            "2026-11-25/17-41-09/a/take.ron",
            "2026-11-25/17-41-09/..\\..\\take.ron",
            "2026-11-25/17-41-09.unfinished/take.ron",
            "2026-11-25/17-41-09.copying/take.ron",
            "2026-11-25/17-41-09:x/take.ron",
            "2026-11-25/17-41-09/take.ron\0",
            "2026-11-25/17-41-09/CON",
            "2026-11-25/17-41-09/nul.flac",
            "2026-11-25/17-41-09/Aux .take.ron",
            "2026-11-25/17-41-09/com1.ron",
            "2026-11-25/17-41-09/LPT².ron",
            "prn/2026-11-25/17-41-09/take.ron",
            "2026-11-25/17-41-09/take.ron.",
            "2026-11-25/17-41-09 /take.ron",
            "2026-11-25/17-41-09/.take.ron",
            "a/b/2026-11-25/17-41-09/take.ron",
            "take.ron",
            "",
        ] {
            assert!(place(name).is_none(), "{name:?}");
        }
    }
}
