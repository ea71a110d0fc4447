//! `evenwave compare MODEL ECHO`: what differs between two recordings or takes.

use std::io::Write;
use std::path::Path;

use coach::{Comparison, MOST_NOTES};
use journal::{Shelf, TakeFile, TakeId};
use vibrato::Note;

use crate::arguments::CompareArguments;
use crate::fault::Fault;
use crate::formats::{ComparisonRecord, comparison_lines};
use crate::heard_file::measure_file;
use crate::named_takes::{SOUND, place_of_take};
use crate::outputs::{json_line, lines};

/// Compares and writes.
pub(super) fn run(arguments: &CompareArguments) -> Result<(), Fault> {
    let model = notes_of(&arguments.model, arguments)?;
    let echo = notes_of(&arguments.echo, arguments)?;
    let comparison = Comparison::new(&model, &echo);
    let record = ComparisonRecord::new(
        &comparison,
        arguments.model.clone(),
        arguments.echo.clone(),
        arguments.ear.naming(),
        arguments.align,
    );
    let mut out = std::io::stdout().lock();
    match arguments.json {
        true => json_line(&mut out, &record)?,
        false => lines(&mut out, comparison_lines(&record))?,
    }
    Ok(out.flush()?)
}

/// The notes of a model or echo: measured in a sound file, as they were kept of a take. Files and folders come first;
/// what is neither may be the name of a take.
fn notes_of(asked: &str, arguments: &CompareArguments) -> Result<Vec<Note>, Fault> {
    let path = Path::new(asked);
    let measured =
        |path: &Path| Ok::<_, Fault>(measure_file(path, &arguments.ear.whole_file())?.notes);
    let notes = if let Some((journal, id)) = place_of_take(path) {
        of_take(&Shelf::open(&journal)?.take(&id)?)
    } else if path.is_dir() {
        let sound = path.join(SOUND);
        if !sound.is_file() {
            return Err(Fault::Failed(format!(
                "no take is in this folder; name a sound file, the folder of a take, or the name of one with --journal: {asked}"
            )));
        }
        measured(&sound)?
    } else if let (false, Ok(id)) = (path.exists(), asked.parse::<TakeId>()) {
        let Some(folder) = &arguments.journal else {
            return Err(Fault::Usage(format!(
                "{id} looks like the name of a take; say where it is: --journal FOLDER"
            )));
        };
        of_take(&Shelf::open(folder)?.take(&id)?)
    } else {
        measured(path)?
    };
    if notes.is_empty() {
        return Err(Fault::Failed(format!(
            "no notes were heard, so there is nothing to compare; check the recording: {asked}"
        )));
    }
    if notes.len() > MOST_NOTES {
        return Err(Fault::Failed(format!(
            "{} notes are more than can be compared, {MOST_NOTES}; compare a phrase: {asked}",
            notes.len()
        )));
    }
    Ok(notes)
}

fn of_take(take: &TakeFile) -> Vec<Note> {
    take.notes.iter().map(journal::NoteMeasures::note).collect()
}
