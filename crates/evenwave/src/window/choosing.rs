//! The system's own dialog for files: on a thread of its own, since the window waits for nobody.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use panels::journal_room::{JournalHeard, Pick};
use panels::stand::{Heard, Sought};
use rfd::FileDialog;

use crate::journal_thread::FromJournal;
use crate::passages::SCORES;
use crate::sound_files::SOUND;

/// Nobody leaves a dialog as quickly as this: it never came up.
const AT_ONCE: Duration = Duration::from_millis(300);

const NO_DIALOG: &str = "this system shows no dialog for files";

/// Lets the player choose; what is chosen is told.
pub(super) fn choose(pick: Pick, told: impl Fn(FromJournal) + Send + 'static) {
    let ask = move || {
        let asked = Instant::now();
        let dialog = FileDialog::new();
        let picked = |place| FromJournal::Room(JournalHeard::Picked(place));
        let chosen = match pick {
            Pick::NewZip => dialog.set_file_name("takes.zip").save_file().map(picked),
            Pick::Zip => dialog.add_filter("takes", &["zip"]).pick_file().map(picked),
            Pick::Folder => dialog.pick_folder().map(picked),
            Pick::Recordings => {
                let files = dialog.add_filter("recordings", &SOUND).pick_files();
                files.map(FromJournal::Recordings)
            }
        };
        if let Some(heard) = heard(pick, chosen, asked.elapsed()) {
            told(heard);
        }
    };
    // Where no thread can be had, the place can still be typed.
    std::thread::Builder::new().name("dialog".to_owned()).spawn(ask).ok();
}

/// Lets the player choose a file of a passage or a score; `told` gets it, or why there is no dialog.
pub(super) fn choose_passage(told: impl Fn(Result<PathBuf, String>) + Send + 'static) {
    let kinds: Vec<&str> = ["txt", "ron"].into_iter().chain(SCORES).collect();
    let ask =
        move |dialog: FileDialog| dialog.add_filter("passages and scores", &kinds).pick_file();
    choose_one(ask, DROP, told);
}

/// The same for a recording.
pub(super) fn choose_recording(told: impl Fn(Result<PathBuf, String>) + Send + 'static) {
    let ask = |dialog: FileDialog| dialog.add_filter("recordings", &SOUND).pick_file();
    choose_one(ask, DROP, told);
}

/// Lets the player choose a place that could be typed, too.
pub(super) fn find(sought: Sought, told: impl Fn(Heard) + Send + 'static) {
    let ask = move |dialog: FileDialog| match sought {
        Sought::Instrument => dialog.add_filter("instruments", &["ron"]).pick_file(),
        Sought::Takes | Sought::Reports => dialog.pick_folder(),
        Sought::NewTask => dialog.set_file_name("task.ron").save_file(),
        Sought::Task => dialog.add_filter("tasks", &["ron"]).pick_file(),
    };
    let told = move |found: Result<PathBuf, String>| match found {
        Ok(path) => told(Heard::Found(sought, path)),
        Err(words) => told(Heard::Word(words)),
    };
    choose_one(ask, "type it instead", told);
}

const DROP: &str = "drop the file on this window instead";

fn choose_one(
    ask: impl FnOnce(FileDialog) -> Option<PathBuf> + Send + 'static,
    instead: &'static str,
    told: impl Fn(Result<PathBuf, String>) + Send + 'static,
) {
    let ask = move || {
        let asked = Instant::now();
        match ask(FileDialog::new()) {
            Some(path) => told(Ok(path)),
            None if asked.elapsed() < AT_ONCE => told(Err(format!("{NO_DIALOG}; {instead}"))),
            None => {}
        }
    };
    std::thread::Builder::new().name("dialog".to_owned()).spawn(ask).ok();
}

/// What is told; nothing where the player left the dialog.
fn heard(pick: Pick, chosen: Option<FromJournal>, after: Duration) -> Option<FromJournal> {
    let instead = match pick {
        Pick::Recordings => "drop the recordings on this window instead",
        _ => "type the folder or zip instead",
    };
    let none = (after < AT_ONCE).then(|| {
        let words = format!("{NO_DIALOG}; {instead}");
        FromJournal::Room(JournalHeard::Trouble(words))
    });
    chosen.or(none)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_without_a_dialog_is_told_and_one_that_was_left_is_not() {
        let at_once = Duration::from_millis(20);
        for (pick, word) in [(Pick::Zip, "type"), (Pick::Recordings, "drop")] {
            let none = heard(pick, None, at_once);
            let Some(FromJournal::Room(JournalHeard::Trouble(words))) = none else {
                panic!("{none:?}");
            };
            assert!(words.contains(word), "{words}");
        }
        assert!(heard(Pick::Zip, None, Duration::from_secs(2)).is_none());
        let chosen = heard(Pick::Recordings, Some(FromJournal::Recordings(Vec::new())), at_once);
        assert!(matches!(chosen, Some(FromJournal::Recordings(_))));
    }
}
