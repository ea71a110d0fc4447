//! The evenwave program: command line, threads and window.
//!
//! All that `main` does is call [`run`]; the rest stands in a library so that tests and figures
//! can reach it.

pub mod arguments;
pub mod calibration;
pub mod chain;
mod commands;
pub mod drills;
pub mod fault;
pub mod for_programs;
mod formats;
pub mod heard_file;
mod heard_passage;
#[cfg(feature = "window")]
mod journal_thread;
mod last_wait;
pub mod listener;
pub mod manual;
mod mistakes;
mod named_takes;
mod outputs;
mod passages;
pub mod player;
mod recordings;
pub mod report;
pub mod session;
#[cfg(feature = "window")]
pub mod settings;
pub mod sound_clock;
mod sound_files;
pub mod takes;
#[cfg(feature = "window")]
mod window;
mod words;

use std::ffi::OsString;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::process::ExitCode;

/// The words of the command line; where a file is named first, as a desktop does that opens it, the window is to open.
fn with_command(words: impl Iterator<Item = OsString>) -> Vec<OsString> {
    let mut words: Vec<OsString> = words.collect();
    let commands = <arguments::Arguments as clap::CommandFactory>::command();
    let opens = |word: &OsString| {
        let is_command = word.to_str().is_some_and(|word| commands.find_subcommand(word).is_some());
        !is_command && Path::new(word).is_file()
    };
    if words.get(1).is_some_and(opens) {
        words.insert(1, "practise".into());
    }
    words
}

/// Runs the command line of this process to its exit status: 0, 1 (some inputs failed) or 2 (usage).
pub fn run() -> ExitCode {
    mistakes::told_in_words();
    let arguments =
        <arguments::Arguments as clap::Parser>::parse_from(with_command(std::env::args_os()));
    let done = || commands::run(arguments).and_then(|()| Ok(words::all_said()?));
    match catch_unwind(AssertUnwindSafe(done)) {
        Ok(Ok(())) => ExitCode::SUCCESS,
        Ok(Err(fault)) => fault.told(),
        // It was told when it happened.
        Err(_) => ExitCode::FAILURE,
    }
}
