//! What a crash left of a take.

use std::fs;
use std::io;
use std::path::Path;
use std::time::{Duration, SystemTime};

use crate::context::Context;
use crate::error::JournalError;
use crate::file_format::{Answer, SoundFile, TakeFile, Turn};
use crate::flac::{Decoded, FlacWriter, hear};
use crate::folder::Inner;
use crate::take::{Kept, computer, discard, settle, whole};
use crate::take_file::{
    BROKEN, BROKEN_COURSE, BROKEN_HEAD, COURSE, HEAD, Head, Line, SOUND, TAKE, read,
};
use crate::take_id::TakeId;

/// The sound while it is written anew.
const MENDED: &str = "mended.flac";

/// More unread bytes than this are no frame that broke off: a frame of 4096 samples of 24 bits has some 12 kB
/// at most.
const TORN_BYTES: u64 = 16_384;

/// A take of another computer that was touched so lately may be running there.
const MAY_RUN: Duration = Duration::from_secs(24 * 3_600);

/// Mends what a crash left in `folder`. Says what became of it: `None` if there was nothing to save.
pub(crate) fn mend(
    journal: &Inner,
    folder: &Path,
    id: &TakeId,
) -> Result<Option<Kept>, JournalError> {
    let sound = folder.join(SOUND);
    // It was whole but for its name.
    match read::<TakeFile>(&folder.join(TAKE)) {
        Ok(file) => return settle(journal, folder, id, file).map(Some),
        Err(JournalError::Missing { .. }) => {}
        Err(error) => return Err(error),
    }
    let (mut file, head_is_broken) = match read::<Head>(&folder.join(HEAD)) {
        Ok(head) if head.computer != computer() && is_fresh(folder) => {
            return Err(JournalError::Elsewhere {
                computer: head.computer,
                path: folder.to_owned(),
            });
        }
        Ok(head) => (head.take, false),
        Err(JournalError::Later { version, path }) => {
            return Err(JournalError::Later { version, path });
        }
        Err(error) => {
            let began = id.local().map_or_else(String::new, |time| time.to_string());
            let file = TakeFile::begun(&Context::default(), began, 0);
            (file, !matches!(error, JournalError::Missing { .. }))
        }
    };
    let unread_lines = take_up_lines(&mut file, &folder.join(COURSE))?;
    let heard = if sound.is_file() { write_anew(journal, folder)? } else { Decoded::default() };
    let torn = heard.broken.is_some() && heard.rest > TORN_BYTES;
    if heard.samples == 0 {
        if torn {
            return Err(JournalError::Unheard {
                reason: heard.broken.unwrap_or_default(),
                path: sound,
            });
        }
        if file.notes.is_empty() {
            // The very beginning broke off.
            discard(&journal.disk, folder)?;
            return Ok(None);
        }
    }
    let work = || -> io::Result<()> {
        if head_is_broken {
            journal.disk.rename(&folder.join(HEAD), &folder.join(BROKEN_HEAD))?;
        }
        if unread_lines > 0 {
            journal.disk.copy(&folder.join(COURSE), &folder.join(BROKEN_COURSE))?;
        }
        if heard.samples > 0 {
            if torn {
                journal.disk.copy(&sound, &folder.join(BROKEN))?;
            }
            journal.disk.rename(&folder.join(MENDED), &sound)
        } else {
            journal.disk.remove_file(&sound)
        }
    };
    work().map_err(|error| JournalError::of(&error, folder))?;
    file.mended = true;
    if heard.samples > 0 {
        file.sample_rate_hz = heard.rate_hz;
        file.length_s = heard.samples as f64 / f64::from(heard.rate_hz);
        file.sound = whole(&sound, heard.samples)?;
    } else {
        file.sound = SoundFile::None;
    }
    let kept = settle(journal, folder, id, file)?;
    Ok(Some(Kept { unread_lines, ..kept }))
}

/// Takes up the lines that were added while the take was played. Says how many of them cannot be understood; the one
/// that broke off at the end is none of these.
fn take_up_lines(file: &mut TakeFile, path: &Path) -> Result<usize, JournalError> {
    let bytes = match disk::bytes(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Vec::new(),
        read => read.map_err(|error| JournalError::reading(&error, path))?,
    };
    let mut unread = 0;
    // Answers name notes by number: where each note that was written stands now, if it could be read.
    let mut places = Vec::new();
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        match understood(line) {
            Some(Line::Note(note)) => {
                places.push(Some(file.notes.len()));
                file.notes.push(*note);
            }
            Some(Line::Lost(lost)) => file.lost.push(lost),
            Some(Line::Turns(turns)) => file.played_in(&turns),
            Some(Line::Answer(answer)) => match places.get(answer.note) {
                Some(&Some(note)) => file.answers.push(Answer { note, ..answer }),
                _ => unread += 1,
            },
            None if line.ends_with(b"\n") => {
                unread += 1;
                let other = ["Lost", "Turns", "Answer"]
                    .iter()
                    .any(|kind| line.starts_with(kind.as_bytes()));
                if !other {
                    places.push(None);
                }
            }
            // The last one broke off.
            None => {}
        }
    }
    Ok(unread)
}

/// What a line says, if that can be.
fn understood(line: &[u8]) -> Option<Line> {
    let line = ron::from_str(std::str::from_utf8(line).ok()?).ok()?;
    let can_be = match &line {
        Line::Note(note) => note.can_be(),
        Line::Lost(lost) => lost.can_be(),
        Line::Turns(turns) => turns.iter().all(Turn::can_be),
        Line::Answer(_) => true,
    };
    can_be.then_some(line)
}

/// Writes all that can be read of the sound to another file, if it is anything at all.
fn write_anew(journal: &Inner, folder: &Path) -> Result<Decoded, JournalError> {
    let fresh = folder.join(MENDED);
    let mut writer: Option<FlacWriter> = None;
    let mut work = || -> io::Result<Decoded> {
        // One that an earlier mending left.
        journal.disk.remove_file(&fresh)?;
        let heard = hear(&folder.join(SOUND), |frame, rate_hz| {
            let writer = match &mut writer {
                Some(writer) => writer,
                none => none.insert(FlacWriter::new(journal.disk.create(&fresh)?, rate_hz)?),
            };
            writer.copy(frame)
        })?;
        writer.take().map_or(Ok(()), FlacWriter::finish)?;
        Ok(heard)
    };
    let outcome = work();
    outcome.map_err(|error| {
        drop(writer);
        // It may be what fills the disk.
        journal.disk.remove_file(&fresh).ok();
        JournalError::of(&error, folder)
    })
}

/// Whether anything in it was written lately.
fn is_fresh(folder: &Path) -> bool {
    let Ok(files) = fs::read_dir(folder) else {
        return true;
    };
    let now = SystemTime::now();
    files.flatten().any(|file| {
        let changed = file.metadata().and_then(|about| about.modified());
        // A time to come, as of a clock that was set back, counts as fresh.
        changed
            .is_ok_and(|time| now.duration_since(time).is_ok_and(|age| age < MAY_RUN) || time > now)
    })
}
