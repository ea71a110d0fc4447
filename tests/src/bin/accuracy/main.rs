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
/// The sections that can be asked for.
const SECTIONS: [&str; 12] = [
    "widths",
    "frames",
    "straight",
    "live",
    "notes",
    "delay",
    "drills",
    "short",
    "phrases",
    "double_stops",
    "passage",
    "habits",
];

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
    #[arg(long, value_name = "SECTION", value_parser = SECTIONS)]
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
    if wanted("short") {
        short::measure(run, &mut sheet)?;
    }
    if wanted("phrases") {
        phrases::measure(run, &mut sheet)?;
    }
    if wanted("double_stops") {
        double_stops::measure(run, &mut sheet)?;
    }
    if wanted("passage") {
        passage::measure(run, &mut sheet)?;
    }
    if wanted("habits") {
        habits::measure(run, &mut sheet)?;
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
