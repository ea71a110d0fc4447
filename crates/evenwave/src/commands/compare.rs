//! `evenwave compare MODEL ECHO`: what differs between two recordings or takes.

use std::io::Write;
use std::path::{Path, PathBuf};

use coach::{Comparison, MOST_NOTES};
use journal::{Shelf, TakeFile, TakeId};
use vibrato::Note;

use super::measure::{Wanted, measure_file};
use crate::arguments::CompareArguments;
use crate::fault::Fault;
use crate::formats::{ComparisonRecord, comparison_lines};

/// The file of the sound in the folder of a take.
const SOUND: &str = "sound.flac";

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
        arguments.align.into(),
    );
    let mut out = std::io::stdout().lock();
    if arguments.json {
        serde_json::to_writer(&mut out, &record)?;
        writeln!(out)?;
    } else {
        for line in comparison_lines(&record) {
            writeln!(out, "{line}")?;
        }
    }
    Ok(out.flush()?)
}

/// What a model or an echo may be.
enum Compared {
    /// A sound file.
    Sound(PathBuf),
    /// The folder of a take.
    Folder(PathBuf),
    /// A take of the journal by its name.
    Named(TakeId),
}

/// Files and folders come first; what is neither may be the name of a take.
fn source_of(asked: &str) -> Compared {
    let path = PathBuf::from(asked);
    match asked.parse::<TakeId>() {
        _ if path.is_dir() => Compared::Folder(path),
        Ok(id) if !path.exists() => Compared::Named(id),
        _ => Compared::Sound(path),
    }
}

/// The notes of a model or echo: measured in a sound file, as they were kept of a take.
fn notes_of(asked: &str, arguments: &CompareArguments) -> Result<Vec<Note>, Fault> {
    let notes = match source_of(asked) {
        Compared::Sound(path) => measured(&path, arguments)?,
        Compared::Folder(folder) => match kept(&folder)? {
            Some(take) => of_take(&take),
            None if folder.join(SOUND).is_file() => measured(&folder.join(SOUND), arguments)?,
            None => {
                return Err(Fault::Failed(format!(
                    "no take is in this folder; name a sound file, the folder of a take, or the name of one with --journal: {asked}"
                )));
            }
        },
        Compared::Named(id) => {
            let Some(folder) = &arguments.journal else {
                return Err(Fault::Usage(format!(
                    "{id} looks like the name of a take; say where it is: --journal FOLDER"
                )));
            };
            let failed = |error: journal::JournalError| Fault::Failed(error.to_string());
            let shelf = Shelf::open(folder).map_err(failed)?;
            of_take(&shelf.take(&id).map_err(failed)?)
        }
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

fn measured(path: &Path, arguments: &CompareArguments) -> Result<Vec<Note>, Fault> {
    let wanted =
        Wanted { channel: arguments.ear.channel, ..Wanted::whole(arguments.ear.settings()) };
    Ok(measure_file(path, &wanted, &mut |_, _| {}, &mut |_| {})?.notes)
}

/// The take in this folder; `None` where its name is none of a take.
fn kept(folder: &Path) -> Result<Option<TakeFile>, Fault> {
    let whole = folder
        .canonicalize()
        .map_err(|error| Fault::Failed(format!("{error}: {}", folder.display())))?;
    let name = |path: &Path| Some(path.file_name()?.to_str()?.to_owned());
    let found = || {
        let day = whole.parent()?;
        let id = TakeId::new(&name(day)?, &name(&whole)?)?;
        Some((day.parent()?.to_owned(), id))
    };
    let Some((journal, id)) = found() else {
        return Ok(None);
    };
    let failed = |error: journal::JournalError| Fault::Failed(error.to_string());
    Shelf::open(&journal).and_then(|shelf| shelf.take(&id)).map(Some).map_err(failed)
}

fn of_take(take: &TakeFile) -> Vec<Note> {
    take.notes.iter().map(journal::NoteMeasures::note).collect()
}
