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

/// Lets the player choose for the Journal; what is chosen is told.
pub(super) fn choose(pick: Pick, told: impl Fn(FromJournal) + Send + 'static) {
    let ask = move |dialog: FileDialog| {
        let picked = |place| FromJournal::Room(JournalHeard::Picked(place));
        match pick {
            Pick::NewZip => dialog.set_file_name("takes.zip").save_file().map(picked),
            Pick::Zip => dialog.add_filter("takes", &["zip"]).pick_file().map(picked),
            Pick::Folder => dialog.pick_folder().map(picked),
            Pick::Recordings => {
                let files = dialog.add_filter("recordings", &SOUND).pick_files();
                files.map(FromJournal::Recordings)
            }
        }
    };
    let instead = match pick {
        Pick::Recordings => "drop the recordings on this window instead",
        _ => "type the folder or zip instead",
    };
    let trouble = |words| FromJournal::Room(JournalHeard::Trouble(words));
    ask_system(ask, instead, move |found| told(found.unwrap_or_else(trouble)));
}

/// Lets the player choose a file of a passage or a score; `told` gets it, or why there is no dialog.
pub(super) fn choose_passage(told: impl Fn(Result<PathBuf, String>) + Send + 'static) {
    let kinds: Vec<&str> = ["txt", "ron"].into_iter().chain(SCORES).collect();
    let ask =
        move |dialog: FileDialog| dialog.add_filter("passages and scores", &kinds).pick_file();
    ask_system(ask, DROP, told);
}

/// The same for a recording.
pub(super) fn choose_recording(told: impl Fn(Result<PathBuf, String>) + Send + 'static) {
    let ask = |dialog: FileDialog| dialog.add_filter("recordings", &SOUND).pick_file();
    ask_system(ask, DROP, told);
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
    ask_system(ask, "type it instead", told);
}

const DROP: &str = "drop the file on this window instead";

/// Asks in the system's dialog; where a place can be had in another way, `instead` says how.
fn ask_system<T: 'static>(
    ask: impl FnOnce(FileDialog) -> Option<T> + Send + 'static,
    instead: &'static str,
    told: impl Fn(Result<T, String>) + Send + 'static,
) {
    let ask = move || {
        let asked = Instant::now();
        let chosen = ask(FileDialog::new());
        if let Some(found) = heard(chosen, asked.elapsed(), instead) {
            told(found);
        }
    };
    // Where no thread can be had, there is still the other way.
    std::thread::Builder::new().name("dialog".to_owned()).spawn(ask).ok();
}

/// What is told; nothing where the player left the dialog.
fn heard<T>(chosen: Option<T>, after: Duration, instead: &str) -> Option<Result<T, String>> {
    let none = || (after < AT_ONCE).then(|| Err(format!("{NO_DIALOG}; {instead}")));
    chosen.map(Ok).or_else(none)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_without_a_dialog_is_told_and_one_that_was_left_is_not() {
        let at_once = Duration::from_millis(20);
        let words = heard::<PathBuf>(None, at_once, DROP).expect("told").expect_err("no dialog");
        assert!(words.starts_with(NO_DIALOG) && words.ends_with(DROP), "{words}");
        assert!(heard::<PathBuf>(None, Duration::from_secs(2), DROP).is_none());
        let chosen = heard(Some(PathBuf::from("take.wav")), at_once, DROP);
        assert_eq!(chosen, Some(Ok(PathBuf::from("take.wav"))));
    }
}
