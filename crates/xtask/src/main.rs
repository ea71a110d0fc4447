//! Set-up, run, test and gates: `cargo xtask --help`.

mod attack;
mod beat;
mod bench;
mod brought;
mod checks;
mod clicks;
mod crash;
mod deny;
mod desk;
mod display;
mod drill;
mod faults;
mod first_hour;
mod flip;
mod fuzz;
mod lesson;
mod other_systems;
mod package;
mod packages;
mod pages;
mod passage;
mod pictures;
mod python;
mod reference;
mod release;
mod screenshots;
mod shell;
mod small_disk;
mod soak;
mod stand;
mod system;
mod totals;
mod wheel;
mod windows;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use shell::{Fault, Step};

/// Sets up, runs and tests evenwave, and runs the gates that need more than `cargo test`.
#[derive(Parser)]
#[command(name = "cargo xtask", version, about)]
struct Arguments {
    #[command(subcommand)]
    task: Task,
}

#[derive(Subcommand)]
enum Task {
    /// Installs what the system lacks, builds, and opens the window; the rest goes to `evenwave practise`
    Practise {
        #[command(flatten)]
        rest: Rest,
    },
    /// Installs what the system lacks and runs every test, then the check against reference libraries
    Test,
    /// Prints every accuracy figure beside its bar, from made sound of exactly known pitch
    Accuracy {
        #[command(flatten)]
        rest: Rest,
    },
    /// Prints what hearing costs, beside other estimators
    Cost,
    /// Runs every fuzz target on arbitrary input
    Fuzz {
        /// Minutes for each target
        #[arg(long, default_value_t = 10)]
        minutes: u64,
        /// One target alone, by its name
        #[arg(long)]
        target: Option<String>,
    },
    /// Opens the window on an invisible screen with a virtual microphone and takes pictures
    Window,
    /// Uses the window on an invisible screen: what it shows, the takes it keeps, how late it is
    Stand,
    /// Draws the pictures of the README from the demo session
    Screenshots,
    /// Lets the metronome beat through a virtual loudspeaker: each click in its place, and shown when it sounds
    Beat {
        /// For so many minutes instead of some seconds
        #[arg(long)]
        minutes: Option<f64>,
    },
    /// What `beat` runs beside the virtual loudspeaker
    #[command(hide = true)]
    BeatInside { secs: f64, log: PathBuf, heard: PathBuf },
    /// Kills a program that uses a journal, at random moments and on a full disk, and looks what is lost
    Crash {
        /// Where chance begins
        #[arg(long, default_value_t = 5)]
        seed: u64,
    },
    /// Gives the program damaged files, broken streams, odd names and signals, case by case, and scores how it ends
    Attack {
        /// Where chance begins
        #[arg(long, default_value_t = 5)]
        seed: u64,
    },
    /// Lets the window hear sound and keep takes for hours: memory, open files, threads, journal, what was missed
    Soak {
        /// Hours of sound
        #[arg(long, default_value_t = 0.5)]
        hours: f64,
        /// So many times as fast as it is played; at 1 it comes through the virtual microphone, where that is there
        #[arg(long, default_value_t = 8.0)]
        speed: f64,
    },
    /// Plays a whole drill in the window on an invisible screen, by keys a pedal can send
    Drill,
    /// Spends a new player's first hour in the window: instrument, notes, a drill, a lesson, the next start
    FirstHour,
    /// Gives a whole lesson in the window: a model, three echoes, a task, a report
    Lesson,
    /// Goes through a passage of 16 notes four times in the window, by keys, and checks the takes by the command
    Passage,
    /// Brings recordings to the window by dropping them and by command: hundreds at once, an hour, on a plan
    Brought,
    /// Flips bits and cuts files of a journal and the settings at 1000 random places, and looks what comes of it
    Flip {
        /// Where chance begins
        #[arg(long, default_value_t = 5)]
        seed: u64,
    },
    /// Checks reports as HTML, opens them in a browser, prints them, and looks that nothing is fetched
    Pages,
    /// Looks at the packages that others wrote: licences, doubles, sources, advisories
    Deny,
    /// Makes what players install, below the target folder, and tries it
    Package {
        /// For which systems
        #[arg(default_values = ["linux", "mac", "windows"])]
        systems: Vec<system::System>,
    },
    /// Compiles the program for Windows and macOS, as far as that goes without them
    OtherSystems {
        /// For which
        #[arg(default_values = ["windows", "mac"])]
        systems: Vec<system::System>,
    },
    /// Builds the program for Windows, installs it under wine and uses it, beside the one for this system
    Windows,
    /// Builds the ear as a package for Python and holds it against the command
    Wheel,
    /// Checks that this version is ready, and makes and tries all that players get of it
    Release,
    /// Takes the microphone away, stalls it and brings it back while evenwave listens
    Faults,
}

#[derive(clap::Args)]
struct Rest {
    /// Handed on as they stand
    #[arg(trailing_var_arg = true, allow_hyphen_values = true, value_name = "ARGUMENT")]
    arguments: Vec<OsString>,
}

fn main() -> ExitCode {
    match run(Arguments::parse().task) {
        Ok(()) => ExitCode::SUCCESS,
        Err(Fault::Status { code, .. }) if (1..=255).contains(&code) => ExitCode::from(code as u8),
        Err(fault) => {
            eprintln!("cargo xtask: {fault}");
            ExitCode::FAILURE
        }
    }
}

fn run(task: Task) -> Result<(), Fault> {
    match task {
        Task::Practise { rest } => {
            packages::install(&[packages::BUILD, packages::WINDOW])?;
            println!("building evenwave; the first time takes some minutes");
            Step::cargo(["run", "--package", "evenwave", "--", "practise"])
                .args(rest.arguments)
                .run()
        }
        Task::Test => test(),
        Task::Accuracy { rest } => {
            packages::install(&[packages::BUILD])?;
            Step::new(shell::built("accuracy")?).args(rest.arguments).run()
        }
        Task::Cost => {
            packages::install(&[packages::BUILD])?;
            let mut step = Step::cargo([
                "run",
                "--package",
                "whole-chain",
                "--features",
                "peers",
                "--bin",
                "cost",
                "--",
            ]);
            if let Some(python) = python::python_if_made() {
                step = step.args(["--python".into(), python.into_os_string()]);
            }
            step.run()
        }
        Task::Fuzz { minutes, target } => fuzz::run(minutes, target.as_deref()),
        Task::Window => pictures::run(),
        Task::Stand => stand::run(),
        Task::Screenshots => screenshots::run(),
        Task::Beat { minutes } => beat::run(minutes),
        Task::BeatInside { secs, log, heard } => beat::inside(secs, &log, &heard),
        Task::Crash { seed } => crash::run(seed),
        Task::Attack { seed } => attack::run(seed),
        Task::Soak { hours, speed } => soak::run(hours, speed),
        Task::Brought => brought::run(),
        Task::Flip { seed } => flip::run(seed),
        Task::Pages => pages::run(),
        Task::Deny => deny::run(),
        Task::Release => release::run(),
        Task::Wheel => wheel::run(),
        Task::Windows => windows::run(),
        Task::Faults => faults::run(),
        Task::Drill => drill::run(),
        Task::FirstHour => first_hour::run(),
        Task::Lesson => lesson::run(),
        Task::Passage => passage::run(),
        Task::Package { systems } => package::run(&systems),
        Task::OtherSystems { systems } => other_systems::run(&systems),
    }
}

/// Runs all tests and the reference check, whatever the tests say, and prints both totals.
fn test() -> Result<(), Fault> {
    packages::install(&[
        packages::BUILD,
        packages::WINDOW,
        packages::DRAW,
        packages::REFERENCE,
        packages::TALK,
    ])?;
    let tests = totals::cargo_test();
    let reference = reference::check();
    match &tests {
        Ok(totals) => println!("\ntests: {totals}"),
        Err(fault) => println!("\ntests: {fault}"),
    }
    match &reference {
        Ok(()) => println!("reference check: passed"),
        Err(fault) => println!("reference check: {fault}"),
    }
    let totals = tests?;
    reference?;
    if totals.good() { Ok(()) } else { Err(Fault::Tests) }
}
