//! The commands, one file each.

mod compare;
mod completions;
mod devices;
pub(crate) mod drill;
mod hear;
pub(crate) mod journal;
mod manual;
pub(crate) mod measure;
mod passage;
mod practise;
mod report;
mod tone;

use crate::arguments::{Arguments, Command, PractiseArguments};
use crate::fault::Fault;

/// Does what was asked for.
pub(crate) fn run(arguments: Arguments) -> Result<(), Fault> {
    match arguments.command {
        None => practise::run(&PractiseArguments::default()),
        Some(Command::Practise(arguments)) => practise::run(&arguments),
        Some(Command::Measure(arguments)) => measure::run(&arguments),
        Some(Command::Hear(arguments)) => hear::run(&arguments),
        Some(Command::Devices) => devices::run(),
        Some(Command::Drill(arguments)) => drill::run(&arguments),
        Some(Command::Compare(arguments)) => compare::run(&arguments),
        Some(Command::Journal(arguments)) => journal::run(&arguments),
        Some(Command::Report(arguments)) => report::run(&arguments),
        Some(Command::Passage(arguments)) => passage::run(&arguments),
        Some(Command::Tone(arguments)) => tone::run(&arguments),
        Some(Command::Manual { page }) => manual::run(page.as_deref()),
        Some(Command::Completions { shell }) => completions::run(shell),
    }
}
