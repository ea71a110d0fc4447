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
mod formats;
pub mod heard_file;
#[cfg(feature = "window")]
mod journal_thread;
mod last_wait;
pub mod listener;
mod named_takes;
mod outputs;
pub mod player;
pub mod report;
pub mod session;
#[cfg(feature = "window")]
pub mod settings;
pub mod sound_clock;
pub mod takes;
#[cfg(feature = "window")]
mod window;
mod words;

use std::process::ExitCode;

/// Runs the command line of this process to its exit status: 0, 1 (some inputs failed) or 2 (usage).
pub fn run() -> ExitCode {
    let arguments = <arguments::Arguments as clap::Parser>::parse();
    match commands::run(arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => fault.told(),
    }
}
