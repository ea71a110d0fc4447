//! A table on disk that grows while files are measured, and what is known of it: so that work that was broken off
//! goes on where it was.
//!
//! Beside the table lies its state, one JSON object a line: how is measured, then, for each file, what it was and
//! how long the table is with its rows. A row is written before its line, so that what the state does not know of
//! can be cut off.

use std::collections::BTreeMap;
use std::fs::{self, File, TryLockError};
use std::io::{self, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};

use crate::fault::Fault;
use crate::formats::{NoteRows, SoundRecord};
use crate::outputs::{ending, json_line, synced};

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

/// The table and its state, both open.
pub(super) struct KeptTable {
    path: PathBuf,
    /// Those it was begun with: an earlier version had others.
    columns: Vec<String>,
    table: File,
    state: File,
    sum: crc32fast::Hasher,
    length: u64,
    done: BTreeMap<String, Done>,
}

impl KeptTable {
    /// Opens the table at `path`, new or as it was when the work broke off; `how` must be as it was then.
    /// Rows of files that have changed since are taken out.
    pub(super) fn open(path: &Path, how: &str) -> Result<Self, Fault> {
        let state_path = state_of(path);
        let wanted = Head { schema: SCHEMA_OF_STATE.to_owned(), how: how.to_owned() };
        if !path.exists() {
            return Self::begin(path, &state_path, &wanted);
        }
        let bytes = fs::read(path).map_err(|error| unusable(&error, path))?;
        // The new one, where the work broke off between the renaming of the two.
        let states = [state_path.clone(), fresh(&state_path)];
        let mut reason = "its state, a file beside it, is gone or no state of it".to_owned();
        for candidate in &states {
            let Ok(text) = fs::read_to_string(candidate) else {
                continue;
            };
            let Some((head, done)) = read_state(&text) else {
                continue;
            };
            if head != wanted {
                reason = format!("it was made in another way ({}; now {})", head.how, wanted.how);
                continue;
            }
            let (length, crc32) = match done.last() {
                Some(last) => (last.table_bytes, last.table_crc32),
                None => {
                    let head = header(&bytes);
                    (head.len() as u64, crc32fast::hash(head))
                }
            };
            let known = usize::try_from(length).ok().and_then(|n| bytes.get(..n));
            match known {
                Some(known) if crc32fast::hash(known) == crc32 => {
                    if candidate != &state_path {
                        fs::rename(candidate, &state_path)
                            .map_err(|error| unusable(&error, &state_path))?;
                    }
                    return Self::go_on(path, &state_path, &wanted, known, done);
                }
                _ => reason = "it has changed since".to_owned(),
            }
        }
        Err(Fault::Failed(format!(
            "this table cannot be gone on with: {reason}; name a new one: {}",
            path.display()
        )))
    }

    fn begin(path: &Path, state_path: &Path, head: &Head) -> Result<Self, Fault> {
        let mut header = Vec::new();
        NoteRows::new(&mut header)?;
        File::create(state_path).map_err(|error| unusable(&error, state_path))?;
        Self::go_on(path, state_path, head, &header, Vec::new())
    }

    fn go_on(
        path: &Path,
        state_path: &Path,
        head: &Head,
        known: &[u8],
        lines: Vec<Done>,
    ) -> Result<Self, Fault> {
        let open = |path: &Path| {
            File::options()
                .read(true)
                .write(true)
                .open(path)
                .map_err(|error| unusable(&error, path))
        };
        lock(&open(state_path)?, path)?;
        let mut done: BTreeMap<String, Done> = BTreeMap::new();
        for line in lines {
            done.insert(line.file.clone(), line);
        }
        let changed: Vec<String> = done
            .values()
            .filter(|known| !known.is_current())
            .map(|known| known.file.clone())
            .collect();
        // Failed ones are tried again.
        done.retain(|file, known| known.failed.is_none() && !changed.contains(file));
        let table = without(known, &changed)?;
        let crc32 = crc32fast::hash(&table);
        let mut state = Vec::new();
        json_line(&mut state, head)?;
        for known in done.values_mut() {
            known.table_bytes = table.len() as u64;
            known.table_crc32 = crc32;
            json_line(&mut state, known)?;
        }
        let (fresh_state, fresh_table) = (fresh(state_path), fresh(path));
        write_whole(&fresh_state, &state)?;
        write_whole(&fresh_table, &table)?;
        fs::rename(&fresh_table, path).map_err(|error| unusable(&error, path))?;
        fs::rename(&fresh_state, state_path).map_err(|error| unusable(&error, state_path))?;
        let (mut table_file, mut state) = (open(path)?, open(state_path)?);
        lock(&state, path)?;
        table_file.seek(SeekFrom::End(0))?;
        state.seek(SeekFrom::End(0))?;
        let mut sum = crc32fast::Hasher::new();
        sum.update(&table);
        Ok(Self {
            path: path.to_owned(),
            columns: columns_of(&table)?,
            table: table_file,
            state,
            sum,
            length: table.len() as u64,
            done,
        })
    }

    /// Whether a file is in the table as it is now.
    pub(super) fn has(&self, file: &Path) -> bool {
        self.done.contains_key(&file.display().to_string())
    }

    /// Adds the rows of a file that was measured.
    pub(super) fn add(&mut self, file: &Path, sound: &SoundRecord) -> Result<(), Fault> {
        let mut rows = Vec::new();
        NoteRows::below(&mut rows, self.columns.clone()).write(sound)?;
        let written = self.table.write_all(&rows).and_then(|()| self.table.sync_data());
        written.map_err(|error| unusable(&error, &self.path))?;
        self.sum.update(&rows);
        self.length += rows.len() as u64;
        self.note(file, None)
    }

    /// Notes that a file could not be measured.
    pub(super) fn failed(&mut self, file: &Path, words: &str) -> Result<(), Fault> {
        self.note(file, Some(words.to_owned()))
    }

    fn note(&mut self, file: &Path, failed: Option<String>) -> Result<(), Fault> {
        let (bytes, changed_ns) = outside(file).unwrap_or_default();
        let done = Done {
            file: file.display().to_string(),
            bytes,
            changed_ns,
            failed,
            table_bytes: self.length,
            table_crc32: self.sum.clone().finalize(),
        };
        let mut line = serde_json::to_vec(&done)?;
        line.push(b'\n');
        let written = self.state.write_all(&line).and_then(|()| self.state.sync_data());
        written.map_err(|error| unusable(&error, &self.path))
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

/// The table without the rows of some files.
fn without(table: &[u8], files: &[String]) -> Result<Vec<u8>, Fault> {
    if files.is_empty() {
        return Ok(table.to_vec());
    }
    let mut kept = Vec::new();
    let mut rows = csv::ReaderBuilder::new().has_headers(false).from_reader(table);
    let mut out = csv::Writer::from_writer(&mut kept);
    for row in rows.byte_records() {
        let row = row?;
        let file = row.get(0).unwrap_or_default();
        if !files.iter().any(|other| other.as_bytes() == file) {
            out.write_byte_record(&row)?;
        }
    }
    out.flush()?;
    drop(out);
    Ok(kept)
}

fn state_of(path: &Path) -> PathBuf {
    ending(path, ".state")
}

fn fresh(path: &Path) -> PathBuf {
    ending(path, ".new")
}

fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), Fault> {
    synced(path, bytes).map_err(|error| unusable(&error, path))
}

/// Two runs must not write one table.
fn lock(state: &File, path: &Path) -> Result<(), Fault> {
    match state.try_lock() {
        Ok(()) => Ok(()),
        Err(TryLockError::WouldBlock) => Err(Fault::Failed(format!(
            "another evenwave is at this table; wait for it, or name another: {}",
            path.display()
        ))),
        Err(TryLockError::Error(error)) => Err(unusable(&error, path)),
    }
}

fn unusable(error: &io::Error, path: &Path) -> Fault {
    Fault::Failed(format!(
        "the table cannot be written ({error}); make room or choose another place: {}",
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
        let mut table = KeptTable::open(&path, "so").expect("it goes on");
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
        table.add(Path::new("a.wav"), &sound).expect("a row");
        let text = fs::read_to_string(&path).expect("there");
        assert_eq!(text, format!("{OLD}a.wav,0.5,A4,5.5,0.02,2,1\n"));
        fs::remove_dir_all(&folder).expect("no longer needed");
    }
}
