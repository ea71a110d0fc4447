//! Who has the journal, and whether takes have come or gone: told to the room.

use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant, SystemTime};

use journal::{Journal, JournalError, Shelf};
use panels::journal_room::{JournalHeard, Writing};

use super::{FromJournal, Worker};
use crate::formats::days_of;

/// The writer of takes is given so long to open the journal before it is read without it.
const PATIENCE: Duration = Duration::from_secs(3);
/// Where another window writes, its index is looked at so often.
const LOOK_AT_OTHERS: Duration = Duration::from_secs(3);

impl<O: Fn() -> Option<Journal>, T: Fn(FromJournal) + Send + Sync + 'static> Worker<O, T> {
    fn now_is(&mut self, writing: Writing) {
        if writing != self.writing {
            self.writing = writing.clone();
            self.tell(JournalHeard::Writing(writing));
        }
    }

    /// Sees who has the journal and whether takes have come or gone.
    pub(super) fn look(&mut self) {
        if let Some(journal) = (self.open)() {
            self.shelf = None;
            self.now_is(Writing::Allowed);
            self.tell_entries(&journal);
            return;
        }
        let waiting = self.writing == Writing::Opening && self.began.elapsed() < PATIENCE;
        if waiting {
            return;
        }
        let reason = why_not(&self.folder);
        self.now_is(Writing::OnlyReading(reason));
        let stamp = stamp(&self.folder);
        match self.shelf.clone() {
            None => {
                self.stamp = stamp;
                match Shelf::open(&self.folder) {
                    Ok(shelf) => {
                        self.failed = None;
                        self.tell_entries(&shelf);
                        self.shelf = Some(shelf);
                    }
                    Err(error) => self.no_journal(&error),
                }
            }
            Some(shelf) => {
                if self.looked.elapsed() < LOOK_AT_OTHERS {
                    return;
                }
                self.looked = Instant::now();
                if stamp != self.stamp {
                    self.stamp = stamp;
                    match shelf.refresh() {
                        Ok(()) => self.tell_entries(&shelf),
                        Err(error) => {
                            self.shelf = None;
                            self.no_journal(&error);
                        }
                    }
                }
            }
        }
    }

    fn no_journal(&mut self, error: &JournalError) {
        let words = error.to_string();
        if self.failed.as_ref() != Some(&words) {
            self.failed = Some(words.clone());
            self.told = None;
            self.tell(JournalHeard::NoJournal(words));
        }
    }

    /// Tells the entries, if they are not those that were told last.
    pub(super) fn tell_entries(&mut self, shelf: &Shelf) {
        if self.carrier.fills() {
            return;
        }
        let entries = shelf.entries();
        let unread = shelf.unread();
        let same = self.told.as_ref().is_some_and(|told| Arc::ptr_eq(told, &entries));
        if same && unread == self.unread {
            return;
        }
        self.told = Some(Arc::clone(&entries));
        self.unread.clone_from(&unread);
        self.tell(JournalHeard::Entries { entries, unread });
    }

    /// Tells the studio sheet.
    pub(super) fn studio(&mut self, named: &[String]) {
        let Some(shelf) = self.shelf() else { return };
        let today = days_of(jiff::Zoned::now().date());
        match shelf.studio(named, today) {
            Ok(students) => self.tell(JournalHeard::Studio(students)),
            Err(error) => self.tell(JournalHeard::Trouble(error.to_string())),
        }
    }

    /// Once, when there is nothing else to do, all takes are looked at: a hand may have changed some.
    pub(super) fn refresh_once(&mut self) {
        if self.refreshed || self.told.is_none() {
            return;
        }
        self.refreshed = true;
        self.refresh();
    }

    pub(super) fn refresh(&mut self) {
        let shelf = self.shelf();
        if let Some(Err(error)) = shelf.map(|shelf| shelf.refresh()) {
            self.tell(JournalHeard::Trouble(error.to_string()));
        }
    }
}

/// Why the journal is not open for writing here.
fn why_not(folder: &Path) -> String {
    let lock = fs::File::open(folder.join(".lock"));
    let elsewhere = lock.is_ok_and(|lock| lock.try_lock_shared().is_err());
    if elsewhere {
        "another window of evenwave keeps takes in this folder; close it to change them here"
            .to_owned()
    } else {
        "this folder cannot be written to now, or it is being opened again".to_owned()
    }
}

/// What the index of the journal looks like from outside.
fn stamp(folder: &Path) -> Option<(SystemTime, u64)> {
    let about = fs::metadata(folder.join(".index")).ok()?;
    Some((about.modified().ok()?, about.len()))
}
