//! Measures the ear on sounds of exactly known pitch and prints every figure beside its bar.
//!
//! `accuracy [--seed N] [--quick] [--only SECTION]... [--list] [--write]`; exit status 1 if a bar is missed, 2 if
//! the call makes no sense. `--list` adds a line per note of the main corpus, `--write` writes `tests/ACCURACY.md`, which
//! every other full run of the usual seed is held against. Quick runs have fewer notes a cell than the bars ask for.

mod delay;
mod double_stops;
mod drills;
mod frames;
mod habits;
mod live;
mod notes;
mod passage;
mod phrases;
mod sheet;
mod short;
mod straight;
mod widths;

use clap::{CommandFactory, Parser, error::ErrorKind};
use sheet::{Keep, Sheet};
use std::process::ExitCode;
use tone::Spec;
use vibrato::Settings;
use whole_chain::corpus::{Condition, Register, main_cell};
use whole_chain::drill_scoring::on_threads;
use whole_chain::listening::{HeardSound, listen};

/// Files a cell of the main corpus (two notes each), and of a quick run.
const FILES: usize = 16;
const QUICK_FILES: usize = 4;
/// Measures of the main corpus, or of sounds of its own.
type Section = fn(&Run, &[Cell], &mut Sheet) -> Result<(), tone::SpecError>;
/// The sections that can be asked for, in the order of the page, and those of the main corpus.
const SECTIONS: [(&str, Section); 12] = [
    ("widths", widths::measure),
    ("frames", frames::measure),
    ("straight", |run, _, sheet| straight::measure(run, sheet)),
    ("live", |run, _, sheet| live::measure(run, sheet)),
    ("notes", notes::measure),
    ("delay", |run, _, sheet| delay::measure(run, sheet)),
    ("drills", |run, _, sheet| drills::measure(run, sheet)),
    ("short", |run, _, sheet| short::measure(run, sheet)),
    ("phrases", |run, _, sheet| phrases::measure(run, sheet)),
    ("double_stops", |run, _, sheet| double_stops::measure(run, sheet)),
    ("passage", |run, _, sheet| passage::measure(run, sheet)),
    ("habits", |run, _, sheet| habits::measure(run, sheet)),
];
const OF_MAIN_CORPUS: [&str; 3] = ["widths", "frames", "notes"];

/// Measures the ear on sounds of exactly known pitch.
#[derive(Parser)]
struct Run {
    /// Where chance begins; the bars are judged by the usual one
    #[arg(long, default_value_t = SEED)]
    seed: u64,
    /// Fewer notes than the bars ask for
    #[arg(long)]
    quick: bool,
    /// Measure this section alone; may be said again
    #[arg(long, value_name = "SECTION", value_parser = SECTIONS.map(|(name, _)| name))]
    only: Vec<String>,
    /// Add a line per note of the main corpus
    #[arg(long)]
    list: bool,
    /// Write `tests/ACCURACY.md`, which wants a whole run
    #[arg(long)]
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
    fn is_whole(&self) -> bool {
        self.seed == SEED && !self.quick && self.only.is_empty()
    }

    /// So many, or a quarter of it in a quick run.
    fn count(&self, full: usize) -> usize {
        if self.quick { full.div_ceil(4) } else { full }
    }

    /// Hears `specs` on all threads; the order stays.
    fn hear(&self, specs: &[Spec]) -> Result<Vec<HeardSound>, tone::SpecError> {
        let heard = on_threads(specs, |spec| listen(spec.clone(), Settings::default()));
        heard.into_iter().collect()
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

fn measure(run: &Run) -> Result<Sheet, tone::SpecError> {
    let wanted = |section: &str| run.only.is_empty() || run.only.iter().any(|name| name == section);
    let mut sheet = Sheet::default();
    let needed = OF_MAIN_CORPUS.into_iter().any(wanted);
    let corpus = if needed { run.main_corpus()? } else { Vec::new() };
    for (_, section) in SECTIONS.into_iter().filter(|(name, _)| wanted(name)) {
        section(run, &corpus, &mut sheet)?;
    }
    Ok(sheet)
}

fn main() -> ExitCode {
    let run = Run::parse();
    if run.write && !run.is_whole() {
        let words = format!("--write wants a whole run: all sections, not quick, seed {SEED}");
        Run::command().error(ErrorKind::ArgumentConflict, words).exit();
    }
    let quick = if run.quick { ", quick: fewer notes than the bars ask for" } else { "" };
    println!("seed {}{quick}", run.seed);
    match measure(&run) {
        Ok(sheet) => {
            let keep = match run.is_whole() {
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
