//! The system's own dialog for files: on a thread of its own, since the window waits for nobody.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use panels::journal_room::{JournalHeard, Pick};
use rfd::FileDialog;

use crate::journal_thread::FromJournal;

/// Nobody leaves a dialog as quickly as this: it never came up.
const AT_ONCE: Duration = Duration::from_millis(300);

/// Lets the player choose; what is chosen is told.
pub(super) fn choose(pick: Pick, told: impl Fn(FromJournal) + Send + 'static) {
    let ask = move || {
        let asked = Instant::now();
        let dialog = FileDialog::new();
        let chosen = match pick {
            Pick::NewZip => dialog.set_file_name("takes.zip").save_file(),
            Pick::Zip => dialog.add_filter("takes", &["zip"]).pick_file(),
            Pick::Folder => dialog.pick_folder(),
        };
        if let Some(heard) = heard(chosen, asked.elapsed()) {
            told(FromJournal::Room(heard));
        }
    };
    // Where no thread can be had, the place can still be typed.
    std::thread::Builder::new().name("dialog".to_owned()).spawn(ask).ok();
}

/// What the room is told; nothing where the player left the dialog.
fn heard(chosen: Option<PathBuf>, after: Duration) -> Option<JournalHeard> {
    match chosen {
        Some(place) => Some(JournalHeard::Picked(place)),
        None if after < AT_ONCE => Some(JournalHeard::Trouble(
            "this system shows no dialog for files; type the folder or zip instead".to_owned(),
        )),
        None => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_without_a_dialog_is_told_and_one_that_was_left_is_not() {
        let none = heard(None, Duration::from_millis(20));
        assert!(matches!(none, Some(JournalHeard::Trouble(words)) if words.contains("type")));
        assert!(heard(None, Duration::from_secs(2)).is_none());
        let place = PathBuf::from("mira.zip");
        let chosen = heard(Some(place.clone()), Duration::from_millis(20));
        assert!(matches!(chosen, Some(JournalHeard::Picked(at)) if at == place));
    }
}
