//! `evenwave compare MODEL ECHO`: what differs between two recordings or takes.

use std::io::Write;
use std::path::Path;

use coach::{Comparison, MOST_NOTES};
use journal::{Shelf, TakeId};
use vibrato::Note;

use crate::arguments::CompareArguments;
use crate::fault::Fault;
use crate::formats::{ComparisonRecord, comparison_lines};
use crate::heard_file::measure_file;
use crate::named_takes::{SOUND, harm, harm_of, place_of_take};
use crate::outputs::{json_line, lines};

/// Compares and writes.
pub(super) fn run(arguments: &CompareArguments) -> Result<(), Fault> {
    let mut damaged = Vec::new();
    let model = notes_of(&arguments.model, arguments, &mut damaged)?;
    let echo = notes_of(&arguments.echo, arguments, &mut damaged)?;
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
    out.flush()?;
    match damaged.is_empty() {
        true => Ok(()),
        false => Err(Fault::Failed(damaged.join("; "))),
    }
}

/// The notes of a model or echo: measured in a sound file, as they were kept of a take. Files and folders come first;
/// what is neither may be the name of a take. What is wrong with the sound of a take is added to `damaged`.
fn notes_of(
    asked: &str,
    arguments: &CompareArguments,
    damaged: &mut Vec<String>,
) -> Result<Vec<Note>, Fault> {
    let path = Path::new(asked);
    let mut measured = |path: &Path| {
        damaged.extend(
            harm(path).map(|harm| format!("what is left of the sound was compared: {harm}")),
        );
        Ok::<_, Fault>(measure_file(path, &arguments.ear.whole_file())?.notes)
    };
    let notes = if let Some((journal, id)) = place_of_take(path) {
        of_take(&Shelf::open(&journal)?, &id, damaged)?
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
        of_take(&Shelf::open(folder)?, &id, damaged)?
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

fn of_take(shelf: &Shelf, id: &TakeId, damaged: &mut Vec<String>) -> Result<Vec<Note>, Fault> {
    let harm = harm_of(shelf, id);
    damaged.extend(harm.map(|harm| format!("the measures that were kept were compared: {harm}")));
    Ok(shelf.take(id)?.notes.iter().map(journal::NoteMeasures::note).collect())
}
