//! Takes of one player, and their task, out of a journal and into another, and all of it gone.

use std::collections::HashMap;
use std::fs;
use std::io;
use std::path::Path;
use std::sync::Arc;

use crate::disk::Disk;
use crate::entry::Entry;
use crate::error::JournalError;
use crate::folder::COPYING;
use crate::journal::Journal;
use crate::parcel::Parcel;
use crate::shelf::Shelf;
use crate::take_file::{SOUND, TAKE, as_ron};
use crate::take_id::TakeId;
use crate::tasks::{TASKS, WrittenTasks};
use crate::written::{SoundFile, TakeFile};

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

/// Where takes come from.
pub(crate) trait Source {
    /// Its takes, in the order of names.
    fn ids(&self) -> Vec<TakeId>;
    /// All but the sound of one.
    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError>;
    /// The files of one.
    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError>;
    /// Copies a file of one.
    fn copy(&mut self, id: &TakeId, file: &str, disk: &Disk, to: &Path)
    -> Result<(), JournalError>;
    /// The tasks of its players.
    fn tasks(&mut self) -> Result<WrittenTasks, JournalError>;
}

/// A shelf as a source.
struct Folders<'a>(&'a Shelf);

impl Source for Folders<'_> {
    fn ids(&self) -> Vec<TakeId> {
        self.0
            .entries()
            .iter()
            .map(|entry| entry.id.clone())
            .collect()
    }

    fn take(&mut self, id: &TakeId) -> Result<TakeFile, JournalError> {
        self.0.take(id)
    }

    fn files(&mut self, id: &TakeId) -> Result<Vec<String>, JournalError> {
        files(&self.0.0.path(id))
    }

    fn copy(
        &mut self,
        id: &TakeId,
        file: &str,
        disk: &Disk,
        to: &Path,
    ) -> Result<(), JournalError> {
        let from = self.0.0.path(id).join(file);
        disk.copy(&from, to)
            .map_err(|error| JournalError::of(&error, to))
    }

    fn tasks(&mut self) -> Result<WrittenTasks, JournalError> {
        let tasks = self.0.tasks();
        tasks.read()?.checked(tasks.path())
    }
}

/// Names of the files in a folder, but no folders.
pub(crate) fn files(folder: &Path) -> Result<Vec<String>, JournalError> {
    let work = || -> io::Result<Vec<String>> {
        let mut names = Vec::new();
        for entry in fs::read_dir(folder)? {
            let entry = entry?;
            if entry.path().is_file()
                && let Ok(name) = entry.file_name().into_string()
            {
                names.push(name);
            }
        }
        names.sort();
        Ok(names)
    };
    work().map_err(|error| JournalError::reading(&error, folder))
}

impl Shelf {
    /// Copies the takes of a player, or of all, and their task into a folder that is new or empty, which becomes
    /// a journal of its own. Says how many takes.
    pub fn export(&self, player: Option<&str>, into: &Path) -> Result<usize, JournalError> {
        let occupied = match fs::read_dir(into) {
            Ok(mut entries) => entries.next().is_some(),
            Err(error) if error.kind() == io::ErrorKind::NotFound => false,
            Err(error) => return Err(JournalError::of(&error, into)),
        };
        if occupied {
            return Err(JournalError::Occupied {
                path: into.to_owned(),
            });
        }
        let target = Journal::open(into)?.journal;
        let entries = self.entries();
        let chosen = entries
            .iter()
            .filter(|entry| player.is_none_or(|name| entry.player == name));
        let mut count = 0;
        for entry in chosen {
            let file = self.take(&entry.id)?;
            target.copy_in(&mut Folders(self), &entry.id, &file, &entry.id)?;
            count += 1;
        }
        if let Some(text) = self.tasks().text_of(player)? {
            let path = into.join(TASKS);
            let written = target.0.0.disk.write_whole(&path, text.as_bytes());
            written.map_err(|error| JournalError::of(&error, &path))?;
        }
        Ok(count)
    }
}

impl Journal {
    /// Takes over all takes of another journal, and the tasks of its players. What is here already, under whatever
    /// name, is left out; nothing is replaced: a take whose name is taken here gets another one.
    pub fn import(&self, from: &Shelf) -> Result<Imported, JournalError> {
        self.import_with(from, Differing::Leave)
    }

    /// The same; says what is to be done with takes and tasks that are here already but differ.
    pub fn import_with(
        &self,
        from: &Shelf,
        differing: Differing,
    ) -> Result<Imported, JournalError> {
        let imported = Imported {
            unread: from.unread(),
            ..Imported::default()
        };
        self.import_from(&mut Folders(from), differing, imported)
    }

    /// Takes over all takes that `Shelf::pack` has put into one file, in the same way.
    pub fn import_packed(
        &self,
        from: &Path,
        differing: Differing,
    ) -> Result<Imported, JournalError> {
        let mut parcel = Parcel::open(from)?;
        let imported = Imported {
            left_out: std::mem::take(&mut parcel.left_out),
            ..Imported::default()
        };
        self.import_from(&mut parcel, differing, imported)
    }

    fn import_from(
        &self,
        from: &mut impl Source,
        differing: Differing,
        mut imported: Imported,
    ) -> Result<Imported, JournalError> {
        let mut here: HashMap<i64, Vec<Arc<Entry>>> = HashMap::new();
        for entry in self.entries().iter() {
            let began = here.entry(entry.began_unix_s).or_default();
            began.push(Arc::clone(entry));
        }
        for id in from.ids() {
            let file = match from.take(&id) {
                Ok(file) => file,
                Err(error) => {
                    imported.unread.push((id, error.to_string()));
                    continue;
                }
            };
            let theirs = Entry::of_file(&id, &file);
            let began_then = here.get(&theirs.began_unix_s).into_iter().flatten();
            let own = began_then
                .filter(|own| own.is_same_take(&theirs))
                .find_map(|own| Some((own.id.clone(), self.take(&own.id).ok()?)));
            match own {
                Some((_, own)) if adds_nothing(&own, &file) => imported.known.push(id),
                Some((name, own)) if differing == Differing::Replace => {
                    self.replace_by(from, &id, &file, &name, &own)?;
                    imported.replaced.push(name);
                }
                Some((name, _)) => imported.differing.push(name),
                None => {
                    let name = self.0.0.free(&id);
                    match self.copy_in(from, &id, &file, &name) {
                        Ok(()) => {
                            let known = here.entry(theirs.began_unix_s).or_default();
                            known.extend(self.entry(&name));
                            let whole = matches!(file.sound, SoundFile::Whole { .. });
                            if whole && !self.sound(&name).exists() {
                                let words = format!("the sound of {id} is missing there");
                                imported.left_out.push(words);
                            }
                            imported.added.push(name);
                        }
                        // Of the other journal, not of this one: the rest may be whole.
                        Err(
                            error @ (JournalError::Parcel { .. }
                            | JournalError::Missing { .. }
                            | JournalError::Unheard { .. }),
                        ) => imported.unread.push((id, error.to_string())),
                        Err(error) => return Err(error),
                    }
                }
            }
        }
        let replace = differing == Differing::Replace;
        let tasks = from
            .tasks()
            .and_then(|theirs| self.tasks().take_over(&theirs, replace));
        match tasks {
            Ok(taken) => {
                (imported.tasks, imported.differing_tasks) = (taken.added, taken.differing)
            }
            Err(error) => imported.left_out.push(error.to_string()),
        }
        Ok(imported)
    }

    /// Gives a take the words, marks and measures it has in another journal, and the sound if it has none here.
    /// The file that stood here stays beside it.
    fn replace_by(
        &self,
        from: &mut impl Source,
        id: &TakeId,
        theirs: &TakeFile,
        name: &TakeId,
        own: &TakeFile,
    ) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let folder = inner.path(name);
        let failed = |error: io::Error| JournalError::of(&error, &folder);
        let mut file = theirs.clone();
        match (own.sound, theirs.sound) {
            (SoundFile::Whole { .. }, _) => file.sound = own.sound,
            (_, SoundFile::Whole { .. }) => {
                let fresh = folder.join("sound.new");
                from.copy(id, SOUND, &inner.disk, &fresh)?;
                inner
                    .disk
                    .rename(&fresh, &folder.join(SOUND))
                    .map_err(failed)?;
            }
            _ => {}
        }
        let aside = (1..)
            .map(|number| folder.join(format!("take.replaced-{number}.ron")))
            .find(|aside| !aside.exists());
        if let Some(aside) = aside {
            inner
                .disk
                .copy(&folder.join(TAKE), &aside)
                .map_err(failed)?;
        }
        let text = as_ron(&file, &folder)?;
        inner
            .disk
            .write_whole(&folder.join(TAKE), text.as_bytes())
            .map_err(failed)?;
        inner.changed(name, &file, text.as_bytes());
        Ok(())
    }

    /// Deletes all takes of a player and their task for good; no trace of them stays in the journal. What was put into the
    /// system's trash before is the system's, and what is `unread` cannot be told to be theirs. Says
    /// how many takes.
    pub fn erase(&self, player: &str) -> Result<usize, JournalError> {
        let entries = self.entries();
        let theirs: Vec<&TakeId> = entries
            .iter()
            .filter(|entry| entry.player == player)
            .map(|entry| &entry.id)
            .collect();
        self.delete_all_for_good(&theirs)?;
        self.tasks().forget(player)?;
        Ok(theirs.len())
    }

    /// Copies one take, which can be read. It is not there, or whole.
    fn copy_in(
        &self,
        from: &mut impl Source,
        id: &TakeId,
        file: &TakeFile,
        name: &TakeId,
    ) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let target = inner.path(name);
        let copying = target.with_file_name(format!("{}{COPYING}", name.time()));
        let failed = |error: io::Error| JournalError::of(&error, &target);
        let mut work = || -> Result<Vec<u8>, JournalError> {
            inner.disk.create_folders(&copying).map_err(failed)?;
            for file in from.files(id)? {
                from.copy(id, &file, &inner.disk, &copying.join(&file))?;
            }
            let settled = || -> io::Result<Vec<u8>> {
                inner.disk.sync_folder(&copying)?;
                inner.disk.rename(&copying, &target)?;
                inner.disk.sync_folder(target.parent().unwrap_or(&target))?;
                inner.disk.sync_folder(&inner.folder)?;
                fs::read(target.join(TAKE))
            };
            settled().map_err(failed)
        };
        let text = work().inspect_err(|_| {
            inner.disk.remove_folder(&copying).ok();
            inner.disk.tidy(&inner.folder.join(name.day()));
        })?;
        inner.changed(name, file, &text);
        Ok(())
    }
}

/// Whether all of another's file stands in our own: it may lack the sound.
fn adds_nothing(own: &TakeFile, other: &TakeFile) -> bool {
    let has_sound = |take: &TakeFile| matches!(take.sound, SoundFile::Whole { .. });
    let with_own_sound = TakeFile {
        sound: own.sound,
        ..other.clone()
    };
    with_own_sound == *own && (has_sound(own) || !has_sound(other))
}
