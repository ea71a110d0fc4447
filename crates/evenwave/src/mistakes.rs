//! A mistake of the program itself, a panic, as the player is told of it: one sentence, and a file for its makers.

use std::backtrace::Backtrace;
use std::cell::{Cell, RefCell};
use std::fs::{self, File};
use std::io::{self, Write};
use std::panic::{self, PanicHookInfo};
use std::path::{Path, PathBuf};
use std::process;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;

use crate::words::aside;

/// One mistake often makes others: only the first of a run is told.
static TOLD: AtomicBool = AtomicBool::new(false);

thread_local! {
    /// Whether this thread's panics are told by whoever called [`hushed`].
    static HUSHED: Cell<bool> = const { Cell::new(false) };
    static LAST: RefCell<Option<String>> = const { RefCell::new(None) };
}

/// From now on no panic prints a message of its own or a backtrace. Those that decoders make of damaged sound are told
/// as damage where they are caught; of any other, one sentence is said.
pub(crate) fn told_in_words() {
    panic::set_hook(Box::new(|info| {
        if sound::is_decoding() || journal::is_decoding() {
            return;
        }
        let report = report_of(info);
        if HUSHED.get() {
            LAST.set(Some(report));
        } else if !TOLD.swap(true, Relaxed) {
            aside(format!(
                "a mistake in evenwave broke off what it was doing; what was played and written so far is kept: {}",
                kept(&report)
            ));
        }
    }));
}

/// What `work` returns, or the report of its panic, of which nothing is said.
#[cfg(any(test, feature = "window"))]
pub(crate) fn hushed<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    HUSHED.set(true);
    let done = panic::catch_unwind(panic::AssertUnwindSafe(work));
    HUSHED.set(false);
    done.map_err(|_| LAST.take().unwrap_or_default())
}

/// Keeps a report in a file and says where, with what to do about it.
pub(crate) fn kept(report: &str) -> String {
    let places = [
        directories::ProjectDirs::from("", "", "evenwave")
            .map(|folders| folders.data_local_dir().join("mistakes")),
        Some(std::env::temp_dir()),
    ];
    match places.into_iter().flatten().find_map(|folder| write(&folder, report).ok()) {
        Some(path) => format!("tell its makers what you did, and send them {}", path.display()),
        None => "tell its makers what you did; no report of it could be written".to_owned(),
    }
}

/// Writes the report into a new file in this folder.
fn write(folder: &Path, report: &str) -> io::Result<PathBuf> {
    fs::create_dir_all(folder)?;
    let now = jiff::Zoned::now().strftime("%Y-%m-%d-%H-%M-%S").to_string();
    let path = folder.join(format!("evenwave-mistake-{now}-{}.txt", process::id()));
    File::create_new(&path)?.write_all(report.as_bytes())?;
    Ok(path)
}

fn report_of(panic: &PanicHookInfo<'_>) -> String {
    format!(
        "evenwave {}, {} {}\nthread {:?}: {panic}\n{}\n",
        env!("CARGO_PKG_VERSION"),
        std::env::consts::OS,
        std::env::consts::ARCH,
        thread::current().name().unwrap_or("without a name"),
        Backtrace::force_capture()
    )
}

#[cfg(test)]
mod tests {
    use std::process::Command;

    use super::*;

    /// Set in the process that makes the mistakes, to what it is to do.
    const DEED: &str = "EVENWAVE_TEST_MISTAKE";

    /// Makes mistakes in a process of its own, since a hook serves all threads of one.
    #[test]
    fn made() {
        let Ok(deed) = std::env::var(DEED) else {
            return;
        };
        told_in_words();
        let mistake = || panic!("no such string");
        match deed.as_str() {
            "hushed" => {
                let report = hushed(mistake).expect_err("it panicked");
                assert!(report.contains("no such string"), "{report}");
                process::exit(7);
            }
            "thread" => {
                thread::spawn(mistake).join().expect_err("it panicked");
                thread::spawn(mistake).join().expect_err("it panicked");
                process::exit(7);
            }
            _ => mistake(),
        }
    }

    /// What the process that did this said on its error stream, and the reports it left.
    fn said(deed: &str) -> (String, Vec<String>) {
        let home = std::env::temp_dir().join(format!("evenwave-mistakes-{}-{deed}", process::id()));
        fs::create_dir_all(&home).expect("a place for files");
        let output = Command::new(std::env::current_exe().expect("this test"))
            .args(["--exact", "mistakes::tests::made", "--nocapture"])
            .env(DEED, deed)
            .env("RUST_BACKTRACE", "1")
            .env("HOME", &home)
            .env("TMPDIR", &home)
            .env("XDG_DATA_HOME", home.join("data"))
            .output()
            .expect("it starts");
        let files = fs::read_dir(home.join("data/evenwave/mistakes")).into_iter().flatten();
        let read = |file: io::Result<fs::DirEntry>| {
            fs::read_to_string(file.expect("listed").path()).expect("a report")
        };
        let reports = files.map(read).collect();
        fs::remove_dir_all(&home).expect("the test's own");
        (String::from_utf8_lossy(&output.stderr).into_owned(), reports)
    }

    #[test]
    fn a_mistake_is_told_once_in_one_sentence_and_reported_in_a_file() {
        let (words, reports) = said("thread");
        assert_eq!(words.lines().count(), 1, "{words}");
        assert!(words.starts_with("evenwave: a mistake in evenwave"), "{words}");
        assert!(words.contains("evenwave-mistake-"), "{words}");
        assert!(!words.contains("no such string") && !words.contains("panicked"), "{words}");
        let [report] = &reports[..] else { panic!("one report: {reports:?}") };
        assert!(report.contains("no such string") && report.contains("mistakes.rs"), "{report}");
    }

    #[test]
    fn of_a_hushed_mistake_nothing_is_said() {
        assert_eq!(said("hushed"), (String::new(), Vec::new()));
    }
}
