//! Takes as they are named on the command line, and the folder in which they are looked for.

use std::path::{Path, PathBuf};

use journal::{Shelf, TakeId};

use crate::fault::Fault;

/// The file of the sound in the folder of a take.
pub(crate) const SOUND: &str = "sound.flac";

/// The folder that is asked for, or the one in which the window keeps takes.
pub(crate) fn folder(asked: Option<&Path>) -> Result<PathBuf, Fault> {
    let usual = || {
        let folders = directories::ProjectDirs::from("", "", "evenwave")?;
        Some(folders.data_dir().join("takes"))
    };
    if let Some(asked) = asked {
        return Ok(asked.to_owned());
    }
    chosen()?.or_else(usual).ok_or_else(|| {
        Fault::Failed(
            "there is no folder for takes on this system; name one with --journal".to_owned(),
        )
    })
}

/// The folder that was chosen in the window's settings. Where they cannot be read none stands in for it: another one
/// might be changed.
#[cfg(feature = "window")]
fn chosen() -> Result<Option<PathBuf>, Fault> {
    let options = crate::settings::Settings::at(None).look();
    let options = options.map_err(|words| {
        Fault::Failed(format!(
            "where the takes are is not known, name their folder with --journal: {words}"
        ))
    })?;
    Ok(options.journal.map(PathBuf::from))
}

#[cfg(not(feature = "window"))]
fn chosen() -> Result<Option<PathBuf>, Fault> {
    Ok(None)
}

/// The journal and the name of a take, by its folder.
pub(crate) fn place_of_take(path: &Path) -> Option<(PathBuf, TakeId)> {
    if !path.is_dir() {
        return None;
    }
    let whole = path.canonicalize().ok()?;
    let day = whole.parent()?;
    let name = |path: &Path| Some(path.file_name()?.to_str()?.to_owned());
    let id = TakeId::new(&name(day)?, &name(&whole)?)?;
    Some((day.parent()?.to_owned(), id))
}

/// What is wrong with a sound file that is the sound of a take: it is held against the take's own file.
pub(crate) fn harm(sound: &Path) -> Option<String> {
    if sound.file_name()? != SOUND {
        return None;
    }
    let (journal, id) = place_of_take(sound.canonicalize().ok()?.parent()?)?;
    let shelf = Shelf::open(&journal).ok()?;
    harm_of(&shelf, &id)
}

/// What is wrong with the sound of a take. One that is not there at all is told as what it is, not as damaged.
pub(crate) fn harm_of(shelf: &Shelf, id: &TakeId) -> Option<String> {
    if !disk::is_there(&shelf.sound(id)) {
        return None;
    }
    let file = shelf.take(id).ok()?;
    Some(format!("{id} is damaged: {}", shelf.check_sound(id, &file).err()?))
}
