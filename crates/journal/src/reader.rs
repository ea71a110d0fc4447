//! The takes of a journal, to be read.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use crate::error::JournalError;
use crate::file_format::TakeFile;
use crate::folder::Inner;
use crate::index::{Belief, Index};
use crate::index_entry::Entry;
use crate::leaving::Leaving;
use crate::take::check_sound;
use crate::take_file::{SOUND, TAKE, read};
use crate::take_id::TakeId;
use disk::Disk;

/// The takes of a journal, to be read. What another window adds is seen after `refresh`.
#[derive(Clone)]
pub struct Shelf(pub(crate) Arc<Inner>);

impl Shelf {
    /// Opens the journal in `folder` to be read, also while another window writes in it. Changes nothing.
    /// Believes the index, if there is a whole one: what was changed without it is seen after `refresh`.
    pub fn open(folder: &Path) -> Result<Self, JournalError> {
        if !folder.is_dir() {
            return Err(JournalError::Gone { path: folder.to_owned() });
        }
        let inner = Inner {
            folder: folder.to_owned(),
            disk: Disk::default().private(),
            index: Mutex::default(),
            leaving: Leaving::default(),
            lock: None,
        };
        let index = match Index::quick(folder) {
            Some(index) => index,
            None => Index::read(folder, inner.finished()?, Belief::IfUnchanged).0,
        };
        *inner.index() = index;
        Ok(Self(Arc::new(inner)))
    }

    /// Looks at every take for what others, or hands, have changed. Takes a second or so where there are ten
    /// years of takes: for a thread on which nobody waits.
    pub fn refresh(&self) -> Result<(), JournalError> {
        self.look_anew(Belief::IfUnchanged)
    }

    pub(crate) fn look_anew(&self, belief: Belief) -> Result<(), JournalError> {
        let inner = &self.0;
        if inner.lock.is_none() {
            // Whoever looks at the takes is not kept waiting.
            let (index, _) = Index::read(&inner.folder, inner.finished()?, belief);
            inner.index().take_over(index);
            return Ok(());
        }
        // No take may be finished meanwhile: it would be forgotten.
        let mut own = inner.index();
        let (index, stale) = Index::read(&inner.folder, inner.finished()?, belief);
        own.take_over(index);
        let stored = if stale { own.store(&inner.folder, &inner.disk) } else { Ok(()) };
        // Without it the next opening takes longer, and nothing else.
        if belief == Belief::None { stored } else { Ok(()) }
    }

    /// Where it is.
    pub fn folder(&self) -> &Path {
        &self.0.folder
    }

    /// What is known of all takes, in the order of time. Costs nothing; stays as it is now.
    pub fn entries(&self) -> Arc<Vec<Arc<Entry>>> {
        Arc::clone(self.0.index().entries())
    }

    /// What is known of a take.
    pub fn entry(&self, id: &TakeId) -> Option<Arc<Entry>> {
        self.0.index().entry(id).cloned()
    }

    /// Takes that cannot be understood, each with the reason in words. They are left as they are.
    pub fn unread(&self) -> Vec<(TakeId, String)> {
        let index = self.0.index();
        let told = index.unread.iter();
        told.map(|(id, error)| (id.clone(), error.to_string())).collect()
    }

    /// All players that have a take, by name.
    pub fn players(&self) -> Vec<String> {
        let entries = self.entries();
        let players: BTreeSet<&String> = entries.iter().map(|entry| &entry.player).collect();
        players.into_iter().cloned().collect()
    }

    /// Names of all finished takes, in the order of time, as the folders have them now.
    pub fn takes(&self) -> Result<Vec<TakeId>, JournalError> {
        let finished = self.0.finished()?.into_iter();
        Ok(finished.map(|(id, _)| id).collect())
    }

    /// All but the sound of a take.
    pub fn take(&self, id: &TakeId) -> Result<TakeFile, JournalError> {
        read(&self.0.path(id).join(TAKE))
    }

    /// It is a fault if the sound of a take is not what stands of it in its file, `file`: checksum and length.
    pub fn check_sound(&self, id: &TakeId, file: &TakeFile) -> Result<(), JournalError> {
        check_sound(&self.sound(id), file)
    }

    /// The file of its sound.
    pub fn sound(&self, id: &TakeId) -> PathBuf {
        self.0.path(id).join(SOUND)
    }
}
