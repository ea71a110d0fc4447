//! A part of a take, heard for a lesson.

use std::path::Path;

use coach::{Instant, LONGEST_PHRASE, Phrase};
use journal::{NoteMeasures, TakeFile};
use tuning::Secs;
use vibrato::Note;

use crate::arguments::settings_of_take;
use crate::heard_file::{Wanted, measure_frames};

/// The ear begins so long before the part, to be sure of the pitch where it begins.
const BEFORE: Secs = Secs(0.5);
/// An end of the part that was set by hand may lie so far within a note.
const NEAR: f64 = 0.05;

/// The notes of the part, as they are kept, and its pitch; times count from the start of the take. Whether these are all notes
/// of the take stands beside. `Err` says in words why there is none.
pub(super) fn lesson_phrase(
    path: &Path,
    file: &TakeFile,
    (from, to): (Secs, Secs),
) -> Result<(Phrase, bool), String> {
    let within = |note: &&NoteMeasures| note.start_s >= from.0 - NEAR && note.end_s <= to.0 + NEAR;
    let notes: Vec<Note> = file.notes.iter().filter(within).map(NoteMeasures::note).collect();
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else {
        return Err("no whole note lies in this part; set its ends anew".to_owned());
    };
    if last.end.0 - first.start.0 > LONGEST_PHRASE.0 {
        return Err(format!(
            "a lesson lays phrases of up to {:.0} minutes over each other; set the ends of a part first",
            LONGEST_PHRASE.0 / 60.0
        ));
    }
    let (first, end) = ((first.start.0 - BEFORE.0).max(0.0), Some(Secs(last.end.0 + NEAR)));
    let wanted = Wanted { from: Secs(first), to: end, ..Wanted::whole(settings_of_take(file)) };
    let (measured, frames) =
        measure_frames(path, &wanted, &mut |_| true).map_err(|fault| fault.to_string())?;
    let course = frames.iter().map(|frame| Instant {
        time: Secs(measured.zero.0 + frame.time.0),
        f0: frame.drawn(),
        confidence: frame.confidence,
    });
    let whole = notes.len() == file.notes.len();
    Ok((Phrase { course: course.collect(), notes }, whole))
}
