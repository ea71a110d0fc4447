//! Recordings that were made elsewhere, with a telephone or in a call, become takes.

use std::path::Path;

use jiff::{SignedDuration, Timestamp, Zoned, tz::TimeZone};
use journal::{Context, Journal, Kept, TakeFile, TakeId, TakeWriter};
use sound::Recording;
use vibrato::Note;

use crate::arguments::settings_of_take;
use crate::fault::Fault;
use crate::heard_file::{Measured, Wanted, hear_file};

/// So much of the work is hearing; the rest is writing.
const HEARING: f64 = 0.9;

/// Beside the sound of a take lies this.
const TAKE: &str = "take.ron";

/// What became of a recording.
pub(crate) enum Added {
    /// It is a take now; what was not right with the file stands beside.
    Take(Kept, Vec<String>),
    /// Its player has the very same sound already, in this take.
    Known(TakeId),
    /// It was stopped, and nothing of it stays.
    Stopped,
}

/// Makes a take of a recording: heard as `context` says, of one channel or the mean of all, dated by its file, named by it.
/// `passed` sees which share of the work is done, from 0 to 1, and says whether to go on. The file itself is only read.
pub(crate) fn add(
    journal: &Journal,
    (path, channel): (&Path, Option<usize>),
    context: &Context,
    passed: &mut dyn FnMut(f64) -> bool,
) -> Result<Added, Fault> {
    if path.with_file_name(TAKE).is_file() {
        return Err(Fault::Failed(format!(
            "this is the sound of a take; bring in the journal that it lies in, with its measures: {}",
            path.display()
        )));
    }
    let name = |part: Option<&std::ffi::OsStr>| {
        part.map(|part| part.to_string_lossy().into_owned()).unwrap_or_default()
    };
    let context =
        Context { device: name(path.file_name()), word: name(path.file_stem()), ..context.clone() };
    let settings = settings_of_take(&TakeFile::begun(&context, String::new(), 48_000));
    let wanted = Wanted { channel, ..Wanted::whole(settings) };
    let mut goes_on = true;
    let measured = hear_file(path, &wanted, &mut |_, _, _| {}, &mut |recording| {
        goes_on = passed(HEARING * share(recording));
        goes_on
    })?;
    if !goes_on {
        return Ok(Added::Stopped);
    }
    let mut take =
        journal.begin_recording(&made(path, &measured), &context, measured.sample_rate_hz)?;
    let written = write(&mut take, (path, channel), &measured.notes, passed);
    match written {
        Ok(true) => {}
        Ok(false) => return take.discard().map(|()| Added::Stopped).map_err(Fault::from),
        Err(fault) => {
            // The fault says more than a second one would; what is left of it is hidden, and swept away.
            take.discard().ok();
            return Err(fault);
        }
    }
    Ok(match take.finish_new()? {
        Ok(kept) => Added::Take(kept, measured.remarks),
        Err(known) => Added::Known(known),
    })
}

/// Writes sound and notes; whether to go on.
fn write(
    take: &mut TakeWriter,
    (path, channel): (&Path, Option<usize>),
    notes: &[Note],
    passed: &mut dyn FnMut(f64) -> bool,
) -> Result<bool, Fault> {
    let mut recording = Recording::open(path)?;
    if let Some(channel) = channel {
        recording = recording.with_channel(channel)?;
    }
    while let Some(block) = recording.next_block()? {
        if block.lost_before > 0 {
            take.lost(block.lost_before)?;
        }
        take.sound(block.samples)?;
        if !passed(HEARING + (1.0 - HEARING) * share(&recording)) {
            return Ok(false);
        }
    }
    notes.iter().try_for_each(|note| take.note(note))?;
    Ok(true)
}

/// How much of a file has been read, from 0 to 1.
fn share(recording: &Recording) -> f64 {
    let all = recording.duration_secs().unwrap_or(0.0);
    if all > 0.0 { (recording.place_secs() / all).min(1.0) } else { 0.0 }
}

/// When a recording began: its file was written when it ended. Now, where that cannot be or is not known.
fn made(path: &Path, measured: &Measured) -> Zoned {
    let now = Zoned::now();
    let ended = std::fs::metadata(path).and_then(|about| about.modified());
    let began = ended.ok().and_then(|ended| {
        let length = measured.duration.map_or(0.0, |length| length.0);
        let length = SignedDuration::try_from_secs_f64(length).ok()?;
        Timestamp::try_from(ended).ok()?.checked_sub(length).ok()
    });
    let began = began.map(|began| began.to_zoned(TimeZone::system()));
    began.filter(|began| *began <= now && began.timestamp() > Timestamp::UNIX_EPOCH).unwrap_or(now)
}
