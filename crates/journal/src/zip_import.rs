//! Takes and tasks in one file, a zip (APPNOTE.TXT 6.3, PKWARE): to carry or keep elsewhere. What comes back in such
//! a file may have been made by anyone: only files of takes are taken from it, none larger than sound can be, all
//! together not much larger than the zip, and none to anywhere but the folder of its take.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::folder::FolderKind;
use crate::reader::Shelf;
use crate::source::{CopyFault, Exported, Source, copied, files, pour};
use crate::take::sound_told;
use crate::take_file::{SOUND, TAKE, is_of_a_take, parse};
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
/// All of it together grows no more than so many times, unless it stays small: 64 MB.
const MOST_GROWTH_OF_ALL: u64 = 20;
const SMALL_IN_ALL: u64 = 64 << 20;
/// So many files are at most in a zip: those of 200 000 takes, which are a hundred years.
const MOST_FILES: usize = 500_000;
/// The longest name of a folder.
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
    ) -> Result<Exported, JournalError> {
        let failed = |error: io::Error| JournalError::of(&error, into);
        if disk::is_there(into) {
            return Err(JournalError::Occupied { path: into.to_owned() });
        }
        let ids = self.ids_of(player);
        let fresh = self.0.disk.begin(into).map_err(failed)?;
        let mut zip = ZipWriter::new(OnceFull::new(BufWriter::new(fresh)));
        let mut exported = Exported { takes: ids.len(), ..Exported::default() };
        for (number, id) in ids.iter().enumerate() {
            self.pack_take(id, &mut zip, into, &mut exported)?;
            passed(number + 1, ids.len());
        }
        if let Some(text) = self.task_text(player, &mut exported) {
            zip.start_file(TASKS, SimpleFileOptions::default())
                .map_err(|error| failed(error.into()))?;
            zip.write_all(text.as_bytes()).map_err(failed)?;
        }
        let out = zip.finish().map_err(|error| failed(error.into()))?;
        let fresh = out.out.into_inner().map_err(|error| failed(error.into_error()))?;
        fresh.put_new().map_err(failed)?;
        Ok(exported)
    }

    fn pack_take(
        &self,
        id: &TakeId,
        zip: &mut ZipWriter<OnceFull<BufWriter<Fresh>>>,
        into: &Path,
        exported: &mut Exported,
    ) -> Result<(), JournalError> {
        let folder = self.0.path(id);
        exported.told.extend(sound_told(id, &folder.join(SOUND), &self.take(id)?));
        let (names, others) = files(&folder, true)?;
        exported.told.extend(others);
        for name in names {
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

/// Takes all in silence once something could not be written: the writer of zips, when it is dropped half done, tries to
/// go on and would print what it is told then. It also asks where it stands, and breaks off where that lies before the
/// start of what it was writing: so the place is kept even where nothing is written any more.
struct OnceFull<W> {
    out: W,
    failed: bool,
    place: u64,
    end: u64,
}

impl<W> OnceFull<W> {
    fn new(out: W) -> Self {
        Self { out, failed: false, place: 0, end: 0 }
    }

    fn once<T>(&mut self, silent: T, work: impl FnOnce(&mut W) -> io::Result<T>) -> io::Result<T> {
        if self.failed {
            return Ok(silent);
        }
        work(&mut self.out).inspect_err(|_| {
            self.failed = true;
            // It may have gone back to say how long a file became.
            self.place = self.end;
        })
    }
}

impl<W: Write> Write for OnceFull<W> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let count = self.once(bytes.len(), |out| out.write(bytes))?;
        self.place += count as u64;
        self.end = self.end.max(self.place);
        Ok(count)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.once((), Write::flush)
    }
}

impl<W: Seek> Seek for OnceFull<W> {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        let there = match to {
            SeekFrom::Start(place) => place,
            SeekFrom::Current(by) => self.place.saturating_add_signed(by),
            SeekFrom::End(by) => self.end.saturating_add_signed(by),
        };
        self.place = self.once(there, |out| out.seek(to))?;
        Ok(self.place)
    }
}

/// A file of takes to be read.
pub(crate) struct ZipImport {
    path: PathBuf,
    archive: ZipArchive<BufReader<File>>,
    /// The files of each take, and where each lies.
    takes: BTreeMap<TakeId, BTreeMap<String, usize>>,
    /// Where tasks lie.
    tasks: Vec<usize>,
    /// What is no file of a take, in words.
    pub left_out: Vec<String>,
}

impl ZipImport {
    /// Looks at what is in a file; unpacks nothing.
    pub(crate) fn open(path: &Path) -> Result<Self, JournalError> {
        let file = disk::open(path).map_err(|error| JournalError::reading(&error, path))?;
        let about = file.metadata().map_err(|error| JournalError::reading(&error, path))?;
        let packed = about.len();
        let archive = ZipArchive::new(BufReader::new(file)).map_err(|error| told(&error, path))?;
        let mut parcel = Self {
            path: path.to_owned(),
            archive,
            takes: BTreeMap::new(),
            tasks: Vec::new(),
            left_out: Vec::new(),
        };
        parcel.check_size(packed)?;
        let mut strange = Vec::new();
        // By the folder, too, that a journal may have been packed with: two players' takes may have one name.
        let mut takes: BTreeMap<(TakeId, String), BTreeMap<String, usize>> = BTreeMap::new();
        for index in 0..parcel.archive.len() {
            let name = match parcel.archive.name_for_index(index) {
                Some(Ok(name)) => name.into_owned(),
                _ => String::from("\u{fffd}"),
            };
            match place(&name) {
                Some((root, id, file)) => {
                    takes.entry((id, root)).or_default().insert(file, index);
                }
                None if is_tasks(&name) => parcel.tasks.push(index),
                None if name.ends_with('/') => {}
                None => strange.push(name),
            }
        }
        for ((mut id, _), files) in takes {
            if !files.contains_key(TAKE) {
                strange.push(id.to_string());
                continue;
            }
            while parcel.takes.contains_key(&id) {
                id = id.following();
            }
            parcel.takes.insert(id, files);
        }
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

    /// It is a fault if it would unpack to more than a journal can.
    fn check_size(&mut self, packed: u64) -> Result<(), JournalError> {
        let path = self.path.clone();
        let fault = |reason: String| JournalError::Parcel { reason, path };
        if self.archive.len() > MOST_FILES {
            let reason = format!("it has {} files, more than any journal", self.archive.len());
            return Err(fault(reason));
        }
        // Where this cannot be told, the sizes are looked at all the same.
        if self.archive.has_overlapping_files().unwrap_or(false) {
            let reason = "its files lie in one another, which those of no journal do".to_owned();
            return Err(fault(reason));
        }
        let limit = packed.saturating_mul(MOST_GROWTH_OF_ALL).max(SMALL_IN_ALL);
        let count = self.archive.len();
        let size = |index| self.archive.by_index_raw(index).map_or(0, |entry| entry.size());
        let all = (0..count).map(size).fold(0, u64::saturating_add);
        if all > limit {
            let (all, packed) = (in_megabytes(all), in_megabytes(packed));
            let reason = format!("its {packed} would unpack to {all}, which no journal does");
            return Err(fault(reason));
        }
        Ok(())
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

    fn files(&mut self, id: &TakeId) -> Result<(Vec<String>, Vec<String>), JournalError> {
        let files = self.takes.get(id).into_iter().flatten();
        // What is no file of a take was told when it was opened.
        Ok((files.map(|(name, _)| name.clone()).collect(), Vec::new()))
    }

    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path) -> Result<(), CopyFault> {
        copied(disk, to, |out| self.unpack(id, file, out))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let path = self.path.join(TASKS);
        let mut all = WrittenTasks::default();
        for index in self.tasks.clone() {
            let mut text = Vec::new();
            self.unpack_at(index, &path, LARGEST_TEXT, &mut text)?;
            all.join(parse::<WrittenTasks>(&text, &path)?.checked(&path)?).map_err(|player| {
                let reason = format!("it has two tasks of {player:?}; no task is taken over");
                JournalError::Parcel { reason, path: path.clone() }
            })?;
        }
        Ok(all)
    }
}

/// Whether a name in a zip is that of the tasks; a journal may have been packed by hand with its folder.
fn is_tasks(name: &str) -> bool {
    match name.rsplit_once('/') {
        None => name == TASKS,
        Some((folder, file)) => file == TASKS && is_plain(folder),
    }
}

/// The folder of the journal, take and file that a name in a zip stands for; `None` where it is no file of a take, above
/// all one that leads out of the folder.
fn place(name: &str) -> Option<(String, TakeId, String)> {
    let parts: Vec<&str> = name.split('/').collect();
    let &[day, time, file] = parts.get(parts.len().checked_sub(3)?..)? else {
        return None;
    };
    // A journal may have been packed by hand with its folder.
    if parts.len() > 4 || parts.len() == 4 && !is_plain(parts[0]) {
        return None;
    }
    match FolderKind::of(day, time) {
        FolderKind::Take(id) if is_plain(time) && is_of_a_take(file) => {
            let root = if parts.len() == 4 { parts[0] } else { "" };
            Some((root.to_owned(), id, file.to_owned()))
        }
        _ => None,
    }
}

/// A name that is one on every system.
fn is_plain(name: &str) -> bool {
    // Marks that turn the direction of writing make a name look like another.
    let turns = |sign| matches!(sign, '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
    let odd = |sign: char| sign.is_control() || turns(sign) || "/\\:*?\"<>|".contains(sign);
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

    /// A disk with so much room.
    struct Disk {
        bytes: io::Cursor<Vec<u8>>,
        room: usize,
    }

    impl Write for Disk {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            match self.bytes.position() as usize + bytes.len() <= self.room {
                true => self.bytes.write(bytes),
                false => Err(io::ErrorKind::StorageFull.into()),
            }
        }

        fn flush(&mut self) -> io::Result<()> {
            Ok(())
        }
    }

    impl Seek for Disk {
        fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
            self.bytes.seek(to)
        }
    }

    /// Packs two files, one as it is and one packed, into so much room; says how much it took.
    fn packed_into(room: usize) -> io::Result<usize> {
        let disk = Disk { bytes: io::Cursor::default(), room };
        let mut zip = ZipWriter::new(OnceFull::new(disk));
        for (name, method) in
            [("a/sound.flac", CompressionMethod::Stored), ("a/b.ron", CompressionMethod::Deflated)]
        {
            let options = SimpleFileOptions::default().compression_method(method).large_file(true);
            zip.start_file(name, options)?;
            zip.write_all(&b"some words of a take, ".repeat(20))?;
        }
        Ok(zip.finish()?.out.bytes.into_inner().len())
    }

    #[test]
    fn a_zip_for_which_there_is_no_room_is_an_error_and_no_panic_wherever_the_room_ends() {
        let all = packed_into(usize::MAX).expect("there is room");
        assert!(all > 500, "{all}");
        for room in 0..all {
            assert!(packed_into(room).is_err(), "{room} of {all} bytes");
        }
        assert_eq!(packed_into(all).expect("there is just room"), all);
    }

    #[test]
    fn only_names_of_files_of_takes_are_taken_from_a_zip() {
        for name in [
            "2026-11-25/17-41-09/take.ron",
            "2026-11-25/17-41-09 the good one/sound.flac",
            "takes/2026-11-25/17-41-09-002/take.by-hand-1.ron",
            "2026-11-25/17-41-09 before.copying/course.broken.ron.lines",
            "com10/2026-11-25/17-41-09/sound.broken.flac",
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
            "2026-11-25/17-41-09/console.ron",
            "2026-11-25/17-41-09/run.sh",
            "2026-11-25/17-41-09/desktop.ini",
            "2026-11-25/17-41-09/take.by-hand-.ron",
            "2026-11-25/17-41-09/head.ron",
            "2026-11-25/17-41-09 \u{202e}x/take.ron",
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
