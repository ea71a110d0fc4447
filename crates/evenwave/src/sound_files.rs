//! Which files are to be measured: those that were named, and all sound in the folders that were.

use std::collections::HashSet;
use std::io::{self, Read};
use std::path::{Path, PathBuf};

use walkdir::{DirEntry, WalkDir};

use crate::fault::Fault;

/// Endings of files that are taken for sound in a folder.
pub(crate) const SOUND: [&str; 13] =
    ["wav", "wave", "aif", "aiff", "aifc", "flac", "mp3", "ogg", "oga", "m4a", "aac", "mp4", "caf"];

/// What is to be measured.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Gathered {
    /// The files, each once, folders in the order of names.
    pub files: Vec<PathBuf>,
    /// A folder was named.
    pub from_folders: bool,
    /// What could not be looked into, in words.
    pub unseen: Vec<String>,
    /// Folders without sound, in words.
    pub empty: Vec<String>,
}

/// Gathers the files that are named, and the sound in the folders and all folders in them. Links to folders are not
/// followed, and what begins with a dot is left out.
pub(crate) fn gather(named: &[PathBuf]) -> Result<Gathered, Fault> {
    let mut found = Gathered::default();
    let mut seen = HashSet::new();
    for path in named {
        if !path.is_dir() {
            if seen.insert(path.clone()) {
                found.files.push(path.clone());
            }
            continue;
        }
        found.from_folders = true;
        let before = found.files.len();
        let walk = WalkDir::new(path)
            .sort_by_file_name()
            .into_iter()
            .filter_entry(|entry| entry.depth() == 0 || !is_hidden(entry));
        for entry in walk {
            match entry {
                Ok(entry) if entry.path().is_file() && is_sound(entry.path()) => {
                    if seen.insert(entry.path().to_owned()) {
                        found.files.push(entry.into_path());
                    }
                }
                Ok(_) => {}
                Err(error) => found.unseen.push(unreachable(&error)),
            }
        }
        if found.files.len() == before && found.unseen.is_empty() {
            let path = path.display();
            let words = format!("no further sound file lies in this folder: {path}");
            found.empty.push(words);
        }
    }
    if found.files.is_empty() && !found.unseen.is_empty() {
        return Err(Fault::Failed(found.unseen.join("; ")));
    }
    if found.files.is_empty() {
        let folders: Vec<String> = named.iter().map(|path| path.display().to_string()).collect();
        return Err(Fault::Usage(format!(
            "no sound file lies in {}; sound files end in {}",
            folders.join(", "),
            SOUND.join(", ")
        )));
    }
    Ok(found)
}

/// The paths that a list names, one a line; `-` is the standard input. Empty lines count for nothing.
pub(crate) fn listed(list: &Path) -> Result<Vec<PathBuf>, Fault> {
    let failed = |error: io::Error| {
        Fault::Failed(format!("the list of files cannot be read ({error}): {}", list.display()))
    };
    let mut bytes = Vec::new();
    match list.to_str() {
        Some("-") => io::stdin().lock().read_to_end(&mut bytes),
        _ => disk::open(list).and_then(|mut file| file.read_to_end(&mut bytes)),
    }
    .map_err(failed)?;
    let lines =
        bytes.split(|byte| *byte == b'\n').map(|line| line.strip_suffix(b"\r").unwrap_or(line));
    lines.filter(|line| !line.is_empty()).map(|line| path_of(line, list)).collect()
}

/// A path as the system writes it: bytes on Unix, and Unicode elsewhere.
#[cfg(unix)]
fn path_of(line: &[u8], _: &Path) -> Result<PathBuf, Fault> {
    use std::os::unix::ffi::OsStrExt;
    Ok(PathBuf::from(std::ffi::OsStr::from_bytes(line)))
}

#[cfg(not(unix))]
fn path_of(line: &[u8], list: &Path) -> Result<PathBuf, Fault> {
    let path = std::str::from_utf8(line).map(PathBuf::from);
    path.map_err(|_| Fault::Failed(format!("write the list of files as UTF-8: {}", list.display())))
}

/// Why a folder or file could not be looked at, and what to do.
fn unreachable(error: &walkdir::Error) -> String {
    let path = error.path().unwrap_or(Path::new("")).display();
    match error.io_error().map(io::Error::kind) {
        Some(io::ErrorKind::PermissionDenied) => {
            format!("no permission to look into this folder; change its permissions: {path}")
        }
        _ => format!("this cannot be looked into ({error}); check the disk: {path}"),
    }
}

fn is_hidden(entry: &DirEntry) -> bool {
    entry.file_name().to_string_lossy().starts_with('.')
}

pub(crate) fn is_sound(path: &Path) -> bool {
    path.extension().is_some_and(|ending| {
        let ending = ending.to_string_lossy().to_ascii_lowercase();
        SOUND.contains(&ending.as_str())
    })
}
