//! Takes out of the journal and into it, by the orders of the room.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use journal::{Differing, Imported, Journal};
use panels::journal_room::{Found, JournalHeard};

use super::{Desk, FromDesk};
use crate::words::counted;

/// How far it is, is told so often.
const TELLS_EVERY: Duration = Duration::from_millis(200);

impl<O: Fn() -> Option<Journal>, T: Fn(FromDesk)> Desk<O, T> {
    /// Copies takes to a new place.
    pub(super) fn export(&self, player: Option<&str>, into: &Path) {
        let Some(shelf) = self.shelf() else { return };
        self.tell(
            match shelf.export(player, into, &mut self.progress("copied")) {
                Ok(count) => {
                    let count = counted(count, "take");
                    JournalHeard::Done(format!("{count} copied to {}", into.display()))
                }
                Err(error) => JournalHeard::Trouble(error.to_string()),
            },
        );
    }

    /// Says what would become of the takes of another place.
    pub(super) fn weigh(&self, from: PathBuf) {
        let Some(shelf) = self.shelf() else { return };
        self.tell(match shelf.weigh(&from, &mut self.progress("looked at")) {
            Ok(weighed) => JournalHeard::Found(Found { from, weighed }),
            Err(error) => JournalHeard::Trouble(error.to_string()),
        });
    }

    /// Takes in the takes of another place.
    pub(super) fn import(&mut self, from: &Path, replace: bool) {
        // The sound of a take may come back with it.
        self.sound = None;
        let differing = match replace {
            true => Differing::Replace,
            false => Differing::Leave,
        };
        let Some(journal) = self.writable() else {
            return;
        };
        let mut progress = self.progress("taken in");
        let heard = match journal.import(from, differing, &mut progress) {
            Ok(imported) => JournalHeard::Done(in_words(&imported)),
            Err(error) => JournalHeard::Trouble(error.to_string()),
        };
        drop(progress);
        self.tell(heard);
        self.tell_entries(&journal);
    }

    /// Tells now and then how far it is.
    fn progress(&self, done_with: &'static str) -> impl FnMut(usize, usize) {
        let mut told: Option<Instant> = None;
        move |done, all| {
            let due = told.is_none_or(|told| told.elapsed() >= TELLS_EVERY);
            if due && done < all {
                told = Some(Instant::now());
                let words = format!("{done} of {} {done_with}", counted(all, "take"));
                self.tell(JournalHeard::Doing(words));
            }
        }
    }
}

fn in_words(imported: &Imported) -> String {
    let mut said = vec![
        format!("{} came in", counted(imported.added.len(), "take")),
        format!("here already: {}", counted(imported.known.len(), "take")),
    ];
    let mut also = |count: usize, words: &str| {
        if count > 0 {
            said.push(format!("{}{words}", counted(count, "take")));
        }
    };
    also(imported.replaced.len(), " replaced");
    also(
        imported.differing.len(),
        " with other words, marks or measures left as here",
    );
    also(imported.unread.len(), " that cannot be read left out");
    let tasks = |names: &[String], words: &str| {
        let named = names.iter().map(|name| match name.as_str() {
            "" => "nobody named",
            name => name,
        });
        (!names.is_empty()).then(|| format!("{words}: {}", named.collect::<Vec<_>>().join(", ")))
    };
    said.extend(tasks(&imported.tasks, "with the task of"));
    said.extend(tasks(&imported.differing_tasks, "the task here stays, of"));
    said.extend(imported.left_out.iter().take(3).cloned());
    said.join("; ")
}
