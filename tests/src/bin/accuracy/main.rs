//! Measures the ear on sounds of exactly known pitch and prints every figure beside its bar.
//!
//! `accuracy [--seed N] [--quick] [--only SECTION]... [--list] [--write]`; exit status 1 if a bar is missed, 2 if
//! the call makes no sense. `--list` adds a line per note of the main corpus, `--write` writes `tests/ACCURACY.md`, which
//! every other full run of the usual seed is held against. Quick runs have fewer notes a cell than the bars ask for.

mod delay;
mod drills;
mod frames;
mod live;
mod notes;
mod sheet;
mod straight;
mod widths;

use sheet::{Keep, Sheet};
use std::process::ExitCode;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc;
use tone::Spec;
use vibrato::Settings;
use whole_chain::corpus::{Condition, Register, main_cell};
use whole_chain::listening::{HeardSound, listen};

/// Sounds are heard on so many threads.
const THREADS: usize = 2;
/// Files a cell of the main corpus (two notes each), and of a quick run.
const FILES: usize = 16;
const QUICK_FILES: usize = 4;
/// The sections that can be asked for.
const SECTIONS: [&str; 7] = ["widths", "frames", "straight", "live", "notes", "delay", "drills"];

/// What was asked for.
struct Run {
    seed: u64,
    quick: bool,
    list: bool,
    write: bool,
}

/// The seed that the bars are judged by.
const SEED: u64 = 303;

/// One cell of the main corpus as it was heard.
struct Cell {
    register: Register,
    condition: Condition,
    heard: Vec<HeardSound>,
}

impl Run {
    /// Everything is measured, and as the bars ask for it.
    fn is_whole(&self, only: &[String]) -> bool {
        self.seed == SEED && !self.quick && only.is_empty()
    }

    /// So many, or a quarter of it in a quick run.
    fn count(&self, full: usize) -> usize {
        if self.quick { full.div_ceil(4) } else { full }
    }

    /// Hears `specs` on all threads; the order stays.
    fn hear(&self, specs: &[Spec]) -> Result<Vec<HeardSound>, tone::SpecError> {
        let next = AtomicUsize::new(0);
        let (sender, receiver) = mpsc::channel();
        std::thread::scope(|scope| {
            for _ in 0..THREADS {
                let (sender, next) = (sender.clone(), &next);
                scope.spawn(move || {
                    while let Some((index, spec)) = {
                        let index = next.fetch_add(1, Ordering::Relaxed);
                        specs.get(index).map(|spec| (index, spec))
                    } {
                        let heard = listen(spec.clone(), Settings::default());
                        if sender.send((index, heard)).is_err() {
                            break;
                        }
                    }
                });
            }
            drop(sender);
        });
        let mut all: Vec<(usize, Result<HeardSound, tone::SpecError>)> = receiver.iter().collect();
        all.sort_by_key(|(index, _)| *index);
        all.into_iter().map(|(_, heard)| heard).collect()
    }

    fn main_corpus(&self) -> Result<Vec<Cell>, tone::SpecError> {
        let files = if self.quick { QUICK_FILES } else { FILES };
        let mut cells = Vec::new();
        for register in Register::MAIN {
            for condition in Condition::ALL {
                let heard = self.hear(&main_cell(self.seed, register, condition, files))?;
                cells.push(Cell { register, condition, heard });
            }
        }
        Ok(cells)
    }
}

fn measure(run: &Run, only: &[String]) -> Result<Sheet, tone::SpecError> {
    let wanted = |section: &str| only.is_empty() || only.iter().any(|name| name == section);
    let mut sheet = Sheet::default();
    let corpus = if ["widths", "frames", "notes"].iter().any(|s| wanted(s)) {
        run.main_corpus()?
    } else {
        Vec::new()
    };
    if wanted("widths") {
        widths::measure(run, &corpus, &mut sheet)?;
    }
    if wanted("frames") {
        frames::measure(run, &corpus, &mut sheet);
    }
    if wanted("straight") {
        straight::measure(run, &mut sheet)?;
    }
    if wanted("live") {
        live::measure(run, &mut sheet)?;
    }
    if wanted("notes") {
        notes::measure(run, &corpus, &mut sheet)?;
    }
    if wanted("delay") {
        delay::measure(run, &mut sheet)?;
    }
    if wanted("drills") {
        drills::measure(run, &mut sheet)?;
    }
    Ok(sheet)
}

fn asked() -> Result<(Run, Vec<String>), String> {
    let mut run = Run { seed: SEED, quick: false, list: false, write: false };
    let mut only = Vec::new();
    let mut args = std::env::args().skip(1);
    while let Some(arg) = args.next() {
        match arg.as_str() {
            "--quick" => run.quick = true,
            "--list" => run.list = true,
            "--write" => run.write = true,
            "--seed" => {
                let value = args.next().unwrap_or_default();
                run.seed = value
                    .parse()
                    .map_err(|_| format!("--seed wants a whole number, not \"{value}\""))?;
            }
            "--only" => {
                let section = args.next().unwrap_or_default();
                if !SECTIONS.contains(&section.as_str()) {
                    return Err(format!(
                        "--only wants one of {}, not \"{section}\"",
                        SECTIONS.join(", ")
                    ));
                }
                only.push(section);
            }
            other => {
                return Err(format!(
                    "unknown option \"{other}\"; known are --seed N, --quick, --only SECTION, --list, --write"
                ));
            }
        }
    }
    if run.write && !run.is_whole(&only) {
        return Err(format!("--write wants a whole run: all sections, not quick, seed {SEED}"));
    }
    Ok((run, only))
}

fn main() -> ExitCode {
    let (run, only) = match asked() {
        Ok(asked) => asked,
        Err(fault) => {
            eprintln!("accuracy: {fault}");
            return ExitCode::from(2);
        }
    };
    println!(
        "seed {}{}",
        run.seed,
        if run.quick { ", quick: fewer notes than the bars ask for" } else { "" }
    );
    match measure(&run, &only) {
        Ok(sheet) => {
            let keep = match run.is_whole(&only) {
                false => Keep::Nothing,
                true if run.write => Keep::Write,
                true => Keep::Hold,
            };
            sheet.close(run.seed, keep)
        }
        Err(fault) => {
            eprintln!("accuracy: {fault}");
            ExitCode::from(2)
        }
    }
}
