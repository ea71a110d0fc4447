//! `take.ron` and its kin as text.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::error::JournalError;
use crate::file_format::{Answer, Lost, NoteMeasures, PassNote, TakeFile, Turn, VERSION};
use crate::measured::can_be;
use crate::vibrato_measures::of_first_version;
use disk::Disk;

/// Names within the folder of a take.
pub(crate) const SOUND: &str = "sound.flac";
pub(crate) const TAKE: &str = "take.ron";
/// Only while it is unfinished: what was known at its beginning, and a line for all that came since.
pub(crate) const HEAD: &str = "head.ron";
pub(crate) const COURSE: &str = "course.ron.lines";
/// The lines as a crash left them, if not all could be understood.
pub(crate) const BROKEN_COURSE: &str = "course.broken.ron.lines";

/// What stood in the way of mending, as it was found.
pub(crate) const BROKEN: &str = "sound.broken.flac";
pub(crate) const BROKEN_HEAD: &str = "head.broken.ron";
/// Begins the names of files that stood in place of `take.ron`; a number follows, and `.ron`.
pub(crate) const BY_HAND: &str = "take.by-hand-";
pub(crate) const REPLACED: &str = "take.replaced-";

/// Whether a file of this name is one that a take has. Nothing else is carried out or in.
pub(crate) fn is_of_a_take(name: &str) -> bool {
    let numbered = |begin: &str| {
        let number = name.strip_prefix(begin).and_then(|rest| rest.strip_suffix(".ron"));
        number.is_some_and(|number| number.parse::<u32>().is_ok())
    };
    [TAKE, SOUND, BROKEN, BROKEN_HEAD, BROKEN_COURSE].contains(&name)
        || numbered(BY_HAND)
        || numbered(REPLACED)
}

/// The first name that is free beside `path`: `begin`, a number, and `.ron`.
pub(crate) fn free_beside(path: &Path, begin: &str) -> PathBuf {
    let mut number = 1_u32;
    loop {
        let aside = path.with_file_name(format!("{begin}{number}.ron"));
        if !disk::is_there(&aside) || number == u32::MAX {
            return aside;
        }
        number += 1;
    }
}

/// What is known while a take is played.
#[derive(Clone, Debug, Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Head {
    pub version: u32,
    /// Where it is played: a folder may be shared by several computers.
    pub computer: String,
    pub take: TakeFile,
}

/// What came while it was played, one a line.
#[derive(Clone, Debug, Deserialize, Serialize)]
pub(crate) enum Line {
    Note(Box<NoteMeasures>),
    Lost(Lost),
    Answer(Answer),
    Turns(Vec<Turn>),
}

/// Shapes that say their version.
pub(crate) trait Versioned: for<'de> Deserialize<'de> {
    /// The version that is read and written.
    const VERSION: u32;
    /// The same, read of an earlier version, as of the one that is written.
    fn renewed(self) -> Self;
    fn version(&self) -> u32;
    /// What cannot be so, though it can be read.
    fn nonsense(&self) -> Option<String>;
}

impl Turn {
    /// Whether its times are any.
    pub(crate) fn can_be(&self) -> bool {
        can_be(self.start_s) && can_be(self.end_s)
    }
}

impl Lost {
    /// Whether its times are any.
    pub(crate) fn can_be(&self) -> bool {
        can_be(self.at_s) && can_be(self.length_s)
    }
}

impl Versioned for TakeFile {
    const VERSION: u32 = VERSION;

    fn renewed(self) -> Self {
        Self { version: VERSION, ..self }
    }

    fn version(&self) -> u32 {
        self.version
    }

    fn nonsense(&self) -> Option<String> {
        if !(can_be(self.length_s) && self.length_s >= 0.0) {
            return Some(format!("length_s: {} is no length", self.length_s));
        }
        if let Some(number) = self.turns.iter().position(|turn| !turn.can_be()) {
            return Some(format!("a time of note {number} of the drill is no time"));
        }
        let times = |note: &PassNote| can_be(note.start_s) && can_be(note.end_s);
        let mut passed = self.pass.iter().flat_map(|pass| &pass.notes);
        if !passed.all(times) {
            return Some("a time of a note of the passage is no time".to_owned());
        }
        if let Some(number) = self.lost.iter().position(|lost| !lost.can_be()) {
            return Some(format!("what was lost at {number} has no time"));
        }
        let number = self.notes.iter().position(|note| !note.can_be())?;
        Some(format!(
            "a number of note {number} cannot be; times are in order, a MIDI number is 0 to 127"
        ))
    }
}

impl Versioned for Head {
    const VERSION: u32 = VERSION;

    fn renewed(self) -> Self {
        Self { version: VERSION, take: self.take.renewed(), ..self }
    }

    fn version(&self) -> u32 {
        self.version
    }

    fn nonsense(&self) -> Option<String> {
        self.take.nonsense()
    }
}

/// Reads `take.ron`, `head.ron` or `tasks.ron`.
pub(crate) fn read<T: Versioned>(path: &Path) -> Result<T, JournalError> {
    let bytes = disk::bytes(path).map_err(|error| JournalError::reading(&error, path))?;
    parse(&bytes, path)
}

/// Understands the bytes of `path`.
pub(crate) fn parse<T: Versioned>(bytes: &[u8], path: &Path) -> Result<T, JournalError> {
    let unwritten = |reason: String, line, column| JournalError::Unwritten {
        reason,
        line,
        column,
        path: path.to_owned(),
    };
    let text = match std::str::from_utf8(bytes) {
        Ok(text) => text,
        Err(error) => {
            let before = &bytes[..error.valid_up_to()];
            let line = before.iter().filter(|byte| **byte == b'\n').count() + 1;
            let column = before.iter().rev().take_while(|byte| **byte != b'\n').count() + 1;
            return Err(unwritten("this is no text".to_owned(), line, column));
        }
    };
    /// The version stands alone, so that a later take is told as such.
    #[derive(Deserialize)]
    struct Version {
        version: u32,
    }
    match ron::from_str::<T>(text) {
        Ok(file) if (1..=T::VERSION).contains(&file.version()) => match file.nonsense() {
            None => Ok(file.renewed()),
            Some(reason) => Err(unwritten(reason, 1, 1)),
        },
        other => {
            if let Ok(Version { version }) = ron::from_str(text)
                && version > T::VERSION
            {
                let path = path.to_owned();
                return Err(JournalError::Later { version, path });
            }
            Err(match other {
                Ok(file) => unwritten(format!("version {} is none", file.version()), 1, 1),
                Err(error) => {
                    let end = error.span.end;
                    unwritten(error.code.to_string(), end.line, end.col)
                }
            })
        }
    }
}

/// The text of a file.
pub(crate) fn as_ron(file: &impl Serialize, path: &Path) -> Result<String, JournalError> {
    let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
    ron::ser::to_string_pretty(file, pretty)
        .map(|text| text + "\n")
        .map_err(|error| unwritable(&error, path))
}

/// One line.
pub(crate) fn as_line(line: &Line, path: &Path) -> Result<String, JournalError> {
    ron::to_string(line).map(|text| text + "\n").map_err(|error| unwritable(&error, path))
}

/// What the writer of RON said.
pub(crate) fn unwritable(error: &ron::Error, path: &Path) -> JournalError {
    JournalError::Failed { reason: error.to_string(), path: path.to_owned() }
}

/// Writes a changed `take.ron` in place of another. One that was edited by hand, which would lose its remarks
/// and its layout by that, is kept beside it.
pub(crate) fn replace(disk: &Disk, path: &Path, file: &TakeFile) -> Result<String, JournalError> {
    let failed = |error: std::io::Error| JournalError::of(&error, path);
    let old = disk::bytes(path).map_err(|error| JournalError::reading(&error, path))?;
    let known: TakeFile = parse(&old, path)?;
    if as_ron(&known, path)? != of_first_version(&String::from_utf8_lossy(&old)) {
        disk.copy(path, &free_beside(path, BY_HAND)).map_err(failed)?;
    }
    let text = as_ron(file, path)?;
    disk.write_whole(path, text.as_bytes()).map_err(failed)?;
    Ok(text)
}
