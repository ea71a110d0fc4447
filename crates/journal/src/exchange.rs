//! Takes of one player, and their task, out of a journal and into another, and all of it gone.

use std::collections::HashMap;
use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use crate::error::JournalError;
use crate::file_format::{SoundFile, TakeFile};
use crate::index_entry::Entry;
use crate::journal::Journal;
use crate::reader::Shelf;
use crate::source::{CopyFault, Exported, Folders, Source};
use crate::take::{check_sound, sound_told};
use crate::take_file::{REPLACED, SOUND, TAKE, as_ron, free_beside};
use crate::take_id::TakeId;
use crate::tasks::TASKS;
use crate::zip_import::ZipImport;

/// What became of the takes of another journal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Names, in this journal, of those that came in.
    pub added: Vec<TakeId>,
    /// Those that were here already, by their names there.
    pub known: Vec<TakeId>,
    /// Those that are here already with other words, marks or measures, by their names here; they were left as
    /// they are here.
    pub differing: Vec<TakeId>,
    /// The same, where the other's were wanted and stand here now; what stood here lies beside them.
    pub replaced: Vec<TakeId>,
    /// Players whose task came in.
    pub tasks: Vec<String>,
    /// Players who have another task here, which stays.
    pub differing_tasks: Vec<String>,
    /// Those that could not be understood and were not taken over, and why.
    pub unread: Vec<(TakeId, String)>,
    /// What else was missing, or was found and left out, and why.
    pub left_out: Vec<String>,
}

/// What to do with a take that is here already with other words, marks or measures.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Differing {
    /// It stays as it is here.
    #[default]
    Leave,
    /// It becomes as it is there; its sound stays, and so does, beside it, the file that was here.
    Replace,
}

/// What lies in another journal, beside what is here.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Weighed {
    /// Takes that are not here yet.
    pub new: usize,
    /// Takes that are here already.
    pub known: usize,
    /// Takes that are here already with other words, marks or measures.
    pub differing: usize,
    /// Players who have another task here.
    pub differing_tasks: Vec<String>,
    /// Takes that cannot be understood, and what else would be left out, and why.
    pub unread: Vec<String>,
}

impl Weighed {
    /// Some of it is here already, but in another form.
    pub fn differs(&self) -> bool {
        self.differing > 0 || !self.differing_tasks.is_empty()
    }
}

/// How a take of another journal stands to those that are here.
enum Counterpart {
    /// It is not here.
    None,
    /// It is here.
    Same,
    /// It is here under this name with other words, marks or measures: its file.
    Differing(TakeId, Box<TakeFile>),
}

/// The takes that are here, by when they began.
struct OwnTakes<'a> {
    shelf: &'a Shelf,
    began: HashMap<i64, Vec<Arc<Entry>>>,
}

impl<'a> OwnTakes<'a> {
    fn of(shelf: &'a Shelf) -> Self {
        let mut here = Self { shelf, began: HashMap::new() };
        for entry in shelf.entries().iter() {
            here.add(Arc::clone(entry));
        }
        here
    }

    fn add(&mut self, entry: Arc<Entry>) {
        self.began.entry(entry.began_unix_s).or_default().push(entry);
    }

    /// The one rule by which a take is known again.
    fn own(&self, id: &TakeId, file: &TakeFile) -> Counterpart {
        let theirs = Entry::of_file(id, file);
        let began_then = self.began.get(&theirs.began_unix_s).into_iter().flatten();
        let own = began_then
            .filter(|own| own.is_same_take(&theirs))
            .find_map(|own| Some((own.id.clone(), self.shelf.take(&own.id).ok()?)));
        match own {
            None => Counterpart::None,
            Some((_, own)) if adds_nothing(&own, file) => Counterpart::Same,
            Some((name, own)) => Counterpart::Differing(name, Box::new(own)),
        }
    }
}

impl Shelf {
    /// Copies the takes of a player, or of all, and their task to a place that is new: into one file if its name ends
    /// in `.zip`, else into a folder, which may be there if it is empty and becomes a journal of its own. Either is there
    /// whole or not at all. `passed` is told how many are done, and of how many.
    pub fn export(
        &self,
        player: Option<&str>,
        into: &Path,
        passed: &mut dyn FnMut(usize, usize),
    ) -> Result<Exported, JournalError> {
        // A take that became theirs may stand in the index as it was before; where the disk cannot be looked at anew, what is
        // known goes out.
        self.refresh().ok();
        let ending = into.extension();
        if ending.is_some_and(|ending| ending.eq_ignore_ascii_case("zip")) {
            return self.pack(player, into, passed);
        }
        let occupied = match fs::read_dir(into) {
            Ok(mut entries) => entries.next().is_some(),
            Err(error) if error.kind() == io::ErrorKind::NotFound => false,
            Err(error) => return Err(JournalError::of(&error, into)),
        };
        if occupied {
            return Err(JournalError::Occupied { path: into.to_owned() });
        }
        let failed = |error: io::Error| JournalError::of(&error, into);
        let disk = &self.0.disk;
        // One that is there is empty.
        let was_there = fs::remove_dir(into).is_ok();
        let copied =
            disk.create_folders(disk::folder_of(into)).and_then(|()| disk.begin_folder(into));
        let copied = copied.map_err(failed).and_then(|copy| {
            let count = self.copy_out(player, copy.hidden(), passed)?;
            copy.put_new().map_err(failed).map(|()| count)
        });
        if copied.is_err() && was_there {
            disk.create_folders(into).ok();
        }
        copied
    }

    /// Copies takes into a folder, which becomes a journal of its own.
    fn copy_out(
        &self,
        player: Option<&str>,
        into: &Path,
        passed: &mut dyn FnMut(usize, usize),
    ) -> Result<Exported, JournalError> {
        let target = Journal::open_on(into, self.0.disk.clone())?.journal;
        let ids = self.ids_of(player);
        let mut exported = Exported { takes: ids.len(), ..Exported::default() };
        let mut own = Folders { shelf: self.clone(), own: true };
        for (number, id) in ids.iter().enumerate() {
            let file = self.take(id)?;
            exported.told.extend(target.copy_in(&mut own, id, &file, id)?);
            passed(number + 1, ids.len());
        }
        if let Some(text) = self.task_text(player, &mut exported) {
            let path = into.join(TASKS);
            let written = target.0.0.disk.write_whole(&path, text.as_bytes());
            written.map_err(|error| JournalError::of(&error, &path))?;
        }
        Ok(exported)
    }

    /// The tasks that go out. Where they cannot be understood, the takes go without them.
    pub(crate) fn task_text(&self, player: Option<&str>, out: &mut Exported) -> Option<String> {
        self.tasks().text_of(player).unwrap_or_else(|error| {
            out.told.push(format!("the tasks of lessons stay here: {error}"));
            None
        })
    }

    /// The takes of a player, or of all, as they are known.
    pub(crate) fn ids_of(&self, player: Option<&str>) -> Vec<TakeId> {
        let entries = self.entries();
        let chosen = entries.iter().filter(|entry| player.is_none_or(|name| entry.player == name));
        chosen.map(|entry| entry.id.clone()).collect()
    }

    /// Looks what [`Journal::import`] of this place would do. `passed` is told how many takes were looked at, and of
    /// how many.
    pub fn weigh(
        &self,
        from: &Path,
        passed: &mut dyn FnMut(usize, usize),
    ) -> Result<Weighed, JournalError> {
        let (mut source, found) = source(from)?;
        let unread = found.unread.iter().map(|(id, words)| format!("{id}: {words}"));
        let mut weighed =
            Weighed { unread: unread.chain(found.left_out).collect(), ..Weighed::default() };
        let here = OwnTakes::of(self);
        let ids = source.ids();
        for (number, id) in ids.iter().enumerate() {
            match source.take(id).map(|file| here.own(id, &file)) {
                Ok(Counterpart::None) => weighed.new += 1,
                Ok(Counterpart::Same) => weighed.known += 1,
                Ok(Counterpart::Differing(..)) => weighed.differing += 1,
                Err(error) => weighed.unread.push(format!("{id}: {error}")),
            }
            passed(number + 1, ids.len());
        }
        match source.tasks().and_then(|theirs| self.tasks().differing(&theirs)) {
            Ok(differing) => weighed.differing_tasks = differing,
            Err(error) => weighed.unread.push(error.to_string()),
        }
        Ok(weighed)
    }
}

impl Journal {
    /// Takes over all takes of another journal, or of the file that one was put into, and the tasks of its players.
    /// What is here already, under whatever name, is left out; a take whose name is taken here gets another one. Says
    /// what is to be done with takes and tasks that are here already but differ. `passed` is told how many takes are
    /// done, and of how many.
    pub fn import(
        &self,
        from: &Path,
        differing: Differing,
        passed: &mut dyn FnMut(usize, usize),
    ) -> Result<Imported, JournalError> {
        let (mut source, mut imported) = source(from)?;
        let mut here = OwnTakes::of(self);
        let ids = source.ids();
        for (number, id) in ids.iter().enumerate() {
            match source.take(id) {
                Ok(file) => {
                    self.import_take(&mut *source, id, &file, differing, &mut here, &mut imported)?;
                }
                Err(error) => imported.unread.push((id.clone(), error.to_string())),
            }
            passed(number + 1, ids.len());
        }
        let replace = differing == Differing::Replace;
        let tasks = source.tasks().and_then(|theirs| self.tasks().take_over(&theirs, replace));
        match tasks {
            Ok(taken) => {
                (imported.tasks, imported.differing_tasks) = (taken.added, taken.differing)
            }
            Err(error) => imported.left_out.push(error.to_string()),
        }
        Ok(imported)
    }

    fn import_take(
        &self,
        from: &mut dyn Source,
        id: &TakeId,
        file: &TakeFile,
        differing: Differing,
        here: &mut OwnTakes,
        imported: &mut Imported,
    ) -> Result<(), JournalError> {
        let done = match here.own(id, file) {
            Counterpart::Same => {
                imported.known.push(id.clone());
                Ok(())
            }
            Counterpart::Differing(name, own) if differing == Differing::Replace => {
                self.replace_by(from, id, file, &name, &own).map(|()| imported.replaced.push(name))
            }
            Counterpart::Differing(name, _) => {
                imported.differing.push(name);
                Ok(())
            }
            Counterpart::None => {
                let name = self.0.0.free(id);
                self.copy_in(from, id, file, &name).map(|told| {
                    if let Some(entry) = self.entry(&name) {
                        here.add(entry);
                    }
                    imported.left_out.extend(told);
                    imported.added.push(name);
                })
            }
        };
        match done {
            // The rest of the other journal may be whole.
            Err(CopyFault::There(error)) => {
                imported.unread.push((id.clone(), error.to_string()));
                Ok(())
            }
            Err(CopyFault::Here(error)) => Err(error),
            Ok(()) => Ok(()),
        }
    }

    /// Gives a take the words, marks and measures it has in another journal, and the sound if it has none here.
    /// The file that stood here stays beside it.
    fn replace_by(
        &self,
        from: &mut dyn Source,
        id: &TakeId,
        theirs: &TakeFile,
        name: &TakeId,
        own: &TakeFile,
    ) -> Result<(), CopyFault> {
        let inner = &self.0.0;
        let folder = inner.path(name);
        let failed = |error: io::Error| CopyFault::Here(JournalError::of(&error, &folder));
        let mut file = theirs.clone();
        match (own.sound, theirs.sound) {
            (SoundFile::Whole { .. }, _) => file.sound = own.sound,
            (_, SoundFile::Whole { .. }) => {
                let sound = folder.join(SOUND);
                if disk::is_there(&sound) {
                    return Err(CopyFault::There(JournalError::Occupied { path: sound }));
                }
                from.copy(id, SOUND, &inner.disk, &sound)?;
                check_sound(&sound, theirs).map_err(|fault| {
                    inner.disk.remove_file(&sound).ok();
                    CopyFault::There(fault)
                })?;
            }
            _ => {}
        }
        let aside = free_beside(&folder.join(TAKE), REPLACED);
        inner.disk.copy(&folder.join(TAKE), &aside).map_err(failed)?;
        let text = as_ron(&file, &folder).map_err(CopyFault::Here)?;
        inner.disk.write_whole(&folder.join(TAKE), text.as_bytes()).map_err(failed)?;
        inner.changed(name, &file, text.as_bytes());
        Ok(())
    }

    /// Deletes all takes of a player and their task for good; no trace of them stays in the journal. What was put into the
    /// system's trash before is the system's, and what is `unread` cannot be told to be theirs. Says
    /// how many takes.
    pub fn erase(&self, player: &str) -> Result<usize, JournalError> {
        // A take that became theirs may stand in the index as it was before.
        self.refresh()?;
        let theirs = self.ids_of(Some(player));
        self.delete_all_for_good(&theirs)?;
        self.tasks().forget(player)?;
        Ok(theirs.len())
    }

    /// Copies one take, which can be read. It is not there, or as whole as it was. Says in words what is damaged or missing,
    /// and what no take has and stays behind.
    fn copy_in(
        &self,
        from: &mut dyn Source,
        id: &TakeId,
        file: &TakeFile,
        name: &TakeId,
    ) -> Result<Vec<String>, CopyFault> {
        let inner = &self.0.0;
        let target = inner.path(name);
        let day = inner.folder.join(name.day());
        let failed = |error: io::Error| CopyFault::Here(JournalError::of(&error, &target));
        let mut told = Vec::new();
        let mut work = || -> Result<Vec<u8>, CopyFault> {
            inner.disk.create_folders(&day).map_err(failed)?;
            let copy = inner.disk.begin_folder(&target).map_err(failed)?;
            let (names, others) = from.files(id).map_err(CopyFault::There)?;
            told = others;
            for name in names {
                if name == SOUND && !matches!(file.sound, SoundFile::Whole { .. }) {
                    told.push(format!("the sound beside {id} is none of it by its file"));
                    continue;
                }
                from.copy(id, &name, &inner.disk, &copy.hidden().join(&name))?;
            }
            told.extend(sound_told(id, &copy.hidden().join(SOUND), file));
            let settled = || -> io::Result<Vec<u8>> {
                copy.put_new()?;
                inner.disk.sync_folder(&inner.folder)?;
                disk::bytes(&target.join(TAKE))
            };
            settled().map_err(failed)
        };
        let text = work().inspect_err(|_| inner.disk.tidy(&day))?;
        inner.changed(name, file, &text);
        Ok(told)
    }
}

/// The takes that lie in `from`, a journal or the file that one was put into, and what of it cannot be read.
fn source(from: &Path) -> Result<(Box<dyn Source>, Imported), JournalError> {
    let mut imported = Imported::default();
    if from.is_dir() {
        let shelf = Shelf::open(from)?;
        shelf.refresh()?;
        imported.unread = shelf.unread();
        let folders = Folders { shelf, own: false };
        let entries = folders.shelf.entries();
        let linked = entries.iter().filter(|entry| !folders.reaches(&entry.id));
        let told =
            |entry: &Arc<Entry>| format!("a link leads to {}, and none is followed", entry.id);
        imported.left_out = linked.map(told).collect();
        return Ok((Box::new(folders), imported));
    }
    let mut parcel = ZipImport::open(from)?;
    imported.left_out = std::mem::take(&mut parcel.left_out);
    Ok((Box::new(parcel), imported))
}

/// Whether all of another's file stands in our own: it may lack the sound.
fn adds_nothing(own: &TakeFile, other: &TakeFile) -> bool {
    let has_sound = |take: &TakeFile| matches!(take.sound, SoundFile::Whole { .. });
    let with_own_sound = TakeFile { sound: own.sound, ..other.clone() };
    with_own_sound == *own && (has_sound(own) || !has_sound(other))
}
