//! Takes of one player out of a journal and into another, and all of them gone.

use std::collections::HashMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::entry::Entry;
use crate::error::JournalError;
use crate::folder::COPYING;
use crate::journal::Journal;
use crate::shelf::Shelf;
use crate::take_file::TAKE;
use crate::take_id::TakeId;

/// What became of the takes of another journal.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imported {
    /// Names, in this journal, of those that came in.
    pub added: Vec<TakeId>,
    /// Those that were here already, by their names there.
    pub known: Vec<TakeId>,
    /// Those that could not be understood and were not taken over, and why.
    pub unread: Vec<(TakeId, String)>,
}

impl Shelf {
    /// Copies the takes of a player, or of all, into a folder that is new or empty, which becomes a
    /// journal of its own. Says how many.
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
            target.copy_in(self, &entry.id, &entry.id)?;
            count += 1;
        }
        Ok(count)
    }
}

impl Journal {
    /// Takes over all takes of another journal. Those that are here already, under whatever name, are left
    /// out; nothing is replaced: a take whose name is taken here gets another one.
    pub fn import(&self, from: &Shelf) -> Result<Imported, JournalError> {
        let mut imported = Imported {
            unread: from.unread(),
            ..Imported::default()
        };
        let mut here: HashMap<i64, Vec<Arc<Entry>>> = HashMap::new();
        for entry in self.entries().iter() {
            let began = here.entry(entry.began_unix_s).or_default();
            began.push(Arc::clone(entry));
        }
        for entry in from.entries().iter() {
            let began_then = here.get(&entry.began_unix_s);
            if began_then.is_some_and(|own| own.iter().any(|own| is_same(own, entry))) {
                imported.known.push(entry.id.clone());
                continue;
            }
            let name = self.0.0.free(&entry.id);
            self.copy_in(from, &entry.id, &name)?;
            imported.added.push(name);
        }
        Ok(imported)
    }

    /// Deletes all takes of a player for good; no trace of them stays in the journal. What was put into the
    /// system's trash before is the system's, and what is `unread` cannot be told to be theirs. Says
    /// how many.
    pub fn erase(&self, player: &str) -> Result<usize, JournalError> {
        let entries = self.entries();
        let theirs: Vec<&TakeId> = entries
            .iter()
            .filter(|entry| entry.player == player)
            .map(|entry| &entry.id)
            .collect();
        self.delete_all_for_good(&theirs)?;
        Ok(theirs.len())
    }

    /// Copies one take. It is not there, or whole.
    fn copy_in(&self, from: &Shelf, id: &TakeId, name: &TakeId) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let source = from.0.path(id);
        let target = inner.path(name);
        let copying = target.with_file_name(format!("{}{COPYING}", name.time()));
        // It must be one that can be read here before any of it is copied.
        let file = from.take(id)?;
        let work = || -> io::Result<Vec<u8>> {
            inner.disk.create_folders(&copying)?;
            copy_files(&source, &mut |path| {
                let name = path.file_name().unwrap_or_default();
                inner.disk.copy(path, &copying.join(name))
            })?;
            inner.disk.sync_folder(&copying)?;
            inner.disk.rename(&copying, &target)?;
            inner.disk.sync_folder(target.parent().unwrap_or(&target))?;
            inner.disk.sync_folder(&inner.folder)?;
            fs::read(target.join(TAKE))
        };
        let text = work().map_err(|error| {
            inner.disk.remove_folder(&copying).ok();
            JournalError::of(&error, &target)
        })?;
        inner.changed(name, &file, &text);
        Ok(())
    }
}

/// Hands on each file of a folder.
fn copy_files(folder: &Path, copy: &mut impl FnMut(&Path) -> io::Result<()>) -> io::Result<()> {
    let files: Vec<PathBuf> = fs::read_dir(folder)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<io::Result<_>>()?;
    files
        .iter()
        .filter(|path| path.is_file())
        .try_for_each(|path| copy(path))
}

/// Whether two entries are of one take: it began at the same second, with the same sound and notes.
fn is_same(own: &Entry, other: &Entry) -> bool {
    own.began_unix_s == other.began_unix_s
        && own.player == other.player
        && own.notes == other.notes
        && (own.sound == other.sound || own.length_s == other.length_s)
}
