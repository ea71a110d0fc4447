//! A table on disk that grows while files are measured, and what is known of it: so that work that was broken off
//! goes on where it was.
//!
//! Beside the table lies its state, one JSON object a line: how is measured, then, for each file, what it was and
//! how long the table is with its rows. A row is written before its line: of what the state does not know, half a row is
//! cut off, and whole rows stay. Rows go only when their file is measured anew, or when that is asked for.

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsString;
use std::fs::{self, File, TryLockError};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant, UNIX_EPOCH};

use disk::Disk;
use same_file::Handle;
use serde::{Deserialize, Serialize};

use crate::fault::Fault;
use crate::formats::{NoteRows, SoundRecord, cell};
use crate::outputs::{ending, json_line};

/// Name and version of the first line of the state.
const SCHEMA_OF_STATE: &str = "evenwave.batch/1";

#[derive(Debug, Deserialize, PartialEq, Serialize)]
struct Head {
    schema: String,
    /// The options that the numbers depend on.
    how: String,
}

/// What is known of a file.
#[derive(Clone, Debug, Deserialize, PartialEq, Eq, Serialize)]
struct Done {
    file: String,
    bytes: u64,
    changed_ns: u64,
    /// Why it could not be measured.
    failed: Option<String>,
    /// Length and CRC-32 of the table with its rows.
    table_bytes: u64,
    table_crc32: u32,
}

/// What is found of short files is written to the disk together, this often.
const WRITTEN_EACH: Duration = Duration::from_millis(100);

/// The table and its state, both open.
pub(super) struct KeptTable {
    path: PathBuf,
    how: String,
    /// Those it was begun with: an earlier version had others.
    columns: Vec<String>,
    table: File,
    state: File,
    sum: crc32fast::Hasher,
    length: u64,
    done: BTreeMap<String, Done>,
    /// Files that have rows of which the state knows nothing.
    unknown: BTreeSet<String>,
    /// A file was measured anew, so that the table has older rows of it.
    outdated: bool,
    /// What is not on the disk yet.
    rows: Vec<u8>,
    lines: Vec<u8>,
    written: Instant,
    _lock: Lock,
}

impl KeptTable {
    /// Opens the table at `path`, new or as it was when the work broke off; `how` must be as it was then. Rows of the files
    /// and folders in `forget` are taken out.
    pub(super) fn open(path: &Path, how: &str, forget: &[PathBuf]) -> Result<Self, Fault> {
        let is_there = disk::is_there(path);
        if is_there {
            disk::file_itself(path).map_err(|error| unusable(&error, path))?;
        }
        let lock = Lock::take(path)?;
        let wanted = Head { schema: SCHEMA_OF_STATE.to_owned(), how: how.to_owned() };
        let known = if is_there { Known::read(path, &wanted)? } else { Known::none(path)? };
        let known = known.without(forget)?;
        let table = &known.table;
        let mut state = Vec::new();
        json_line(&mut state, &wanted)?;
        let (table_bytes, table_crc32) = (table.len() as u64, crc32fast::hash(table));
        for done in known.done.values() {
            json_line(&mut state, &Done { table_bytes, table_crc32, ..done.clone() })?;
        }
        if known.done.is_empty() {
            // So that rows which are there are known to lie before those that come.
            let failed = Some("where the table goes on".to_owned());
            let (file, bytes, changed_ns) = (String::new(), 0, 0);
            let begin = Done { file, bytes, changed_ns, failed, table_bytes, table_crc32 };
            json_line(&mut state, &begin)?;
        }
        // The new state first, under a name at which it is looked for too: it goes with the new table, the old one with
        // the old table.
        let (disk, state_path, next) = (Disk::default(), state_of(path), next_state_of(path));
        let written = disk.write_whole(&next, &state).and_then(|()| match is_there {
            true => disk.write_whole(path, table),
            false => disk.write_new(path, table),
        });
        // What fails last may be to make a name lasting: the new table can be there all the same.
        let is_in_place = || match fs::read(path) {
            Ok(there) => there == *table,
            Err(error) => error.kind() != io::ErrorKind::NotFound,
        };
        if written.is_err() && !is_in_place() {
            disk.remove_file(&next).ok();
        }
        let written = written.and_then(|()| disk.rename(&next, &state_path));
        written.map_err(|error| unusable(&error, path))?;
        let open = |path: &Path| {
            let opened = File::options().append(true).open(path);
            opened.map_err(|error| unusable(&error, path))
        };
        let mut sum = crc32fast::Hasher::new();
        sum.update(table);
        Ok(Self {
            path: path.to_owned(),
            how: how.to_owned(),
            columns: columns_of(table)?,
            unknown: unknown(table, &known.done)?,
            table: open(path)?,
            state: open(&state_path)?,
            sum,
            length: table_bytes,
            done: known.done,
            outdated: false,
            rows: Vec::new(),
            lines: Vec::new(),
            written: Instant::now(),
            _lock: lock,
        })
    }

    /// Whether a file is in the table as it is now. Earlier versions wrote the name as it was given.
    pub(super) fn has(&self, file: &Path) -> bool {
        let names = [name_of(file), file.display().to_string()];
        names.iter().filter_map(|name| self.done.get(name)).any(Done::is_current)
    }

    /// Files in the table that are not found now.
    pub(super) fn not_found(&self) -> Vec<&str> {
        let gone = |done: &&Done| match Path::new(&done.file).is_absolute() {
            true => outside(Path::new(&done.file)).is_none(),
            // Another file may have the same name here.
            false => !done.is_current(),
        };
        self.done.values().filter(gone).map(|done| done.file.as_str()).collect()
    }

    /// Adds the rows of a file that was measured.
    pub(super) fn add(&mut self, file: &Path, sound: SoundRecord) -> Result<(), Fault> {
        let sound = SoundRecord { file: name_of(file), ..sound };
        let mut rows = Vec::new();
        NoteRows::below(&mut rows, self.columns.clone()).write(&sound)?;
        self.sum.update(&rows);
        self.length += rows.len() as u64;
        self.rows.append(&mut rows);
        self.outdated |= self.done.contains_key(&sound.file) || self.unknown.contains(&sound.file);
        self.note(file, None)
    }

    /// Notes that a file could not be measured. Rows that it has in the table stay.
    pub(super) fn failed(&mut self, file: &Path, words: &str) -> Result<(), Fault> {
        self.note(file, Some(words.to_owned()))
    }

    fn note(&mut self, file: &Path, failed: Option<String>) -> Result<(), Fault> {
        let (bytes, changed_ns) = outside(file).unwrap_or_default();
        let done = Done {
            file: name_of(file),
            bytes,
            changed_ns,
            failed,
            table_bytes: self.length,
            table_crc32: self.sum.clone().finalize(),
        };
        json_line(&mut self.lines, &done)?;
        if self.written.elapsed() < WRITTEN_EACH {
            return Ok(());
        }
        self.write()
    }

    /// Writes to the disk itself what is not there yet, the rows before their lines.
    fn write(&mut self) -> Result<(), Fault> {
        for (file, bytes) in [(&mut self.table, &mut self.rows), (&mut self.state, &mut self.lines)]
        {
            let written = file.write_all(bytes).and_then(|()| file.sync_data());
            written.map_err(|error| unusable(&error, &self.path))?;
            bytes.clear();
        }
        self.written = Instant::now();
        Ok(())
    }

    /// Writes the rest, and takes out rows of files that were measured anew.
    pub(super) fn finish(mut self) -> Result<(), Fault> {
        self.write()?;
        if self.outdated {
            let (path, how) = (self.path.clone(), self.how.clone());
            drop(self);
            Self::open(&path, &how, &[])?;
        }
        Ok(())
    }
}

/// A table as it was left, and the files in it.
struct Known {
    path: PathBuf,
    table: Vec<u8>,
    done: BTreeMap<String, Done>,
}

impl Known {
    /// A new table. What has the name of its state and is none is not ours to write over.
    fn none(path: &Path) -> Result<Self, Fault> {
        let state_path = state_of(path);
        if disk::is_there(&state_path) && state_at(&state_path).is_none() {
            return Err(Fault::Failed(format!(
                "this has the name that the table's state would have; choose another name for the table, or move this: {}",
                state_path.display()
            )));
        }
        let mut table = Vec::new();
        NoteRows::new(&mut table)?;
        Ok(Self { path: path.to_owned(), table, done: BTreeMap::new() })
    }

    /// The table as far as its state knows it.
    fn read(path: &Path, wanted: &Head) -> Result<Self, Fault> {
        let bytes = disk::bytes(path).map_err(|error| unusable(&error, path))?;
        let state_path = state_of(path);
        // The new one, where the work broke off before it had its name; the last is that of an earlier version.
        let states = [state_path.clone(), next_state_of(path), ending(&state_path, ".new")];
        let mut reason = "its state, a file beside it, is gone or no state of it".to_owned();
        for (head, lines) in states.iter().filter_map(|state| state_at(state)) {
            if head != *wanted {
                reason = format!("it was made in another way ({}; now {})", head.how, wanted.how);
                continue;
            }
            let (length, crc32) = match lines.last() {
                Some(last) => (last.table_bytes, last.table_crc32),
                None => {
                    let head = header(&bytes);
                    (head.len() as u64, crc32fast::hash(head))
                }
            };
            let known = usize::try_from(length).ok().and_then(|n| bytes.get(..n));
            match known {
                Some(known) if crc32fast::hash(known) == crc32 => {
                    return Self::of(
                        path,
                        &bytes[..known.len() + whole_rows(&bytes[known.len()..])],
                        lines,
                    );
                }
                _ => reason = "it has changed since".to_owned(),
            }
        }
        Err(Fault::Failed(format!(
            "this table cannot be gone on with: {reason}; name a new one: {}",
            path.display()
        )))
    }

    /// Of a file that was measured several times the last rows count. Failed ones are tried again.
    fn of(path: &Path, table: &[u8], lines: Vec<Done>) -> Result<Self, Fault> {
        let mut done = BTreeMap::new();
        // Rows of these files before these places are outdated.
        let mut outdated = BTreeMap::new();
        let mut begin = 0;
        for line in lines {
            let end = line.table_bytes;
            if line.failed.is_none() {
                let file = line.file.clone();
                if done.insert(file.clone(), line).is_some() || end > begin {
                    outdated.insert(file, begin);
                }
            }
            begin = end;
        }
        let is_old = |file: &str, at: u64| outdated.get(file).is_some_and(|&place| at < place);
        let table = if outdated.is_empty() { table.to_vec() } else { without(table, is_old)? };
        Ok(Self { path: path.to_owned(), table, done })
    }

    /// The same without the rows of these files and folders.
    fn without(mut self, forget: &[PathBuf]) -> Result<Self, Fault> {
        for asked in forget {
            let whole = PathBuf::from(name_of(asked));
            let is_asked = |file: &str| {
                let file = Path::new(file);
                file.starts_with(&whole) || file.starts_with(asked)
            };
            let all = self.done.len();
            self.done.retain(|file, _| !is_asked(file));
            if self.done.len() == all {
                return Err(Fault::Failed(format!(
                    "the table {} has no rows of this; nothing was taken out: {}",
                    self.path.display(),
                    asked.display()
                )));
            }
            self.table = without(&self.table, |file, _| is_asked(file))?;
        }
        Ok(self)
    }
}

/// Held while a table is open: two runs must not write one.
struct Lock {
    path: PathBuf,
    _held: Handle,
}

impl Lock {
    fn take(table: &Path) -> Result<Self, Fault> {
        let path = hidden(table, ".lock");
        let failed = |error: io::Error| unusable(&error, table);
        loop {
            let file = Disk::default().lock_file(&path).map_err(failed)?;
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    return Err(Fault::Failed(format!(
                        "another evenwave is at this table; wait for it, or name another: {}",
                        table.display()
                    )));
                }
                Err(TryLockError::Error(error)) => return Err(failed(error)),
            }
            let held = Handle::from_file(file).map_err(failed)?;
            match Handle::from_path(&path) {
                Ok(there) if there == held => return Ok(Self { path, _held: held }),
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    drop(Self { path, _held: held });
                    return Err(failed(error));
                }
                // Whoever had it before has taken the file away with it.
                _ => {}
            }
        }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        fs::remove_file(&self.path).ok();
    }
}

impl Done {
    fn is_current(&self) -> bool {
        outside(Path::new(&self.file)).is_some_and(|now| now == (self.bytes, self.changed_ns))
    }
}

/// Length and time of the last change of a file.
fn outside(path: &Path) -> Option<(u64, u64)> {
    let about = fs::metadata(path).ok()?;
    let changed = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
    Some((about.len(), changed.as_nanos() as u64))
}

/// Head and lines of a state; a last line that broke off is left out.
fn read_state(text: &str) -> Option<(Head, Vec<Done>)> {
    let mut lines = text.split_inclusive('\n');
    let head: Head = serde_json::from_str(lines.next()?).ok()?;
    let whole = lines.map_while(|line| {
        let line = line.strip_suffix('\n')?;
        serde_json::from_str(line).ok()
    });
    Some((head, whole.collect()))
}

/// The line with the names of the columns.
fn header(table: &[u8]) -> &[u8] {
    table.split_inclusive(|byte| *byte == b'\n').next().unwrap_or_default()
}

/// The columns of a table.
fn columns_of(table: &[u8]) -> Result<Vec<String>, Fault> {
    let mut reader = csv::Reader::from_reader(header(table));
    Ok(reader.headers()?.iter().map(str::to_owned).collect())
}

/// The bytes of the rows that are whole.
fn whole_rows(rows: &[u8]) -> usize {
    rows.iter().rposition(|&byte| byte == b'\n').map_or(0, |end| end + 1)
}

/// Files that have rows, but are not among those that are done.
fn unknown(table: &[u8], done: &BTreeMap<String, Done>) -> Result<BTreeSet<String>, Fault> {
    let mut unknown = BTreeSet::new();
    for row in csv::Reader::from_reader(table).byte_records() {
        let row = row?;
        let file = String::from_utf8_lossy(row.get(0).unwrap_or_default()).into_owned();
        if !done.contains_key(cell::read(&file)) {
            unknown.insert(cell::read(&file).to_owned());
        }
    }
    Ok(unknown)
}

/// The table without the rows of which `goes` says so, of what file they are and at which byte they begin.
fn without(table: &[u8], goes: impl Fn(&str, u64) -> bool) -> Result<Vec<u8>, Fault> {
    let head = header(table);
    let mut kept = head.to_vec();
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(&table[head.len()..]);
    let mut out = csv::Writer::from_writer(&mut kept);
    for row in rows.byte_records() {
        let row = row?;
        let file = String::from_utf8_lossy(row.get(0).unwrap_or_default());
        let at = head.len() as u64 + row.position().map_or(0, csv::Position::byte);
        if !goes(cell::read(&file), at) {
            out.write_byte_record(&row)?;
        }
    }
    out.flush()?;
    drop(out);
    Ok(kept)
}

/// The name of a file in the table: the same from wherever the program is started.
fn name_of(file: &Path) -> String {
    let whole = || {
        let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
        let folder = folder.unwrap_or(Path::new(".")).canonicalize().ok()?;
        Some(folder.join(file.file_name()?))
    };
    let whole = whole().or_else(|| std::path::absolute(file).ok());
    whole.as_deref().unwrap_or(file).display().to_string()
}

fn state_of(path: &Path) -> PathBuf {
    ending(path, ".state")
}

/// Where the next state lies until the table that goes with it has its name.
fn next_state_of(path: &Path) -> PathBuf {
    hidden(path, ".state")
}

/// A name beside the table that no file of a user has.
fn hidden(path: &Path, ending: &str) -> PathBuf {
    let mut name = OsString::from(disk::HIDDEN);
    name.push(path.file_name().unwrap_or_default());
    name.push(ending);
    path.with_file_name(name)
}

/// The state in a file, if it is one.
fn state_at(path: &Path) -> Option<(Head, Vec<Done>)> {
    let text = String::from_utf8(disk::bytes(path).ok()?).ok()?;
    let (head, lines) = read_state(&text)?;
    (head.schema == SCHEMA_OF_STATE).then_some((head, lines))
}

fn unusable(error: &io::Error, path: &Path) -> Fault {
    Fault::Failed(format!(
        "the table cannot be written ({error}); close it in other programs, make room, or choose another place: {}",
        path.display()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::formats::{NoteRecord, SCHEMA};

    /// Columns as the first version wrote them, in short.
    const OLD: &str = "file,start_s,name,rate_hz,rate_se_hz,smoothness_pct,oscillations\n";

    #[test]
    fn a_table_of_the_first_version_goes_on_in_its_own_columns() {
        let folder =
            std::env::temp_dir().join(format!("evenwave-old-table-{}", std::process::id()));
        fs::create_dir_all(&folder).expect("a place for files");
        let path = folder.join("all.csv");
        fs::write(&path, OLD).expect("written");
        let head = Head { schema: SCHEMA_OF_STATE.to_owned(), how: "so".to_owned() };
        let state = serde_json::to_string(&head).expect("plain data") + "\n";
        fs::write(state_of(&path), state).expect("written");
        let mut table = KeptTable::open(&path, "so", &[]).expect("it goes on");
        let note = crate::formats::record_tests::note_with_vibrato();
        let sound = SoundRecord {
            schema: SCHEMA,
            file: "a.wav".to_owned(),
            sample_rate_hz: 48_000,
            duration_s: None,
            notes: vec![NoteRecord::new(&note, tuning::Naming::Scientific, tuning::Secs(0.0))],
            lost: Vec::new(),
            remarks: Vec::new(),
        };
        table.add(&folder.join("a.wav"), sound).expect("a row");
        table.finish().expect("room");
        let text = fs::read_to_string(&path).expect("there");
        let file = folder.canonicalize().expect("there").join("a.wav");
        assert_eq!(text, format!("{OLD}{},0.5,A4,5.5,0.02,2,1\n", file.display()));
        fs::remove_dir_all(&folder).expect("no longer needed");
    }
}
