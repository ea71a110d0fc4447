//! Gate: bits are flipped in files of a journal and in the settings, and files are cut off, at 1000 random places,
//! within one program; then the program itself is run on some more. Nothing may panic, what cannot be read is told,
//! and no other take is harmed.

use std::fs;
use std::path::Path;

use crate::checks::Checks;
use crate::packages;
use crate::shell::{Chance, Fault, Step, built, remove, target};

/// How often the program itself is run on a damaged journal.
const RUNS: usize = 24;

/// Runs the gate.
pub(crate) fn run(seed: u64) -> Result<(), Fault> {
    packages::install(&[packages::BUILD])?;
    let program = built("evenwave")?;
    let folder = target().join("flip");
    remove(&folder)?;
    let output = Step::new(target().join("debug/examples/flip"))
        .arg(&folder)
        .arg(seed.to_string())
        .listen()?;
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let mut lines = said.lines();
    let id = lines.next().unwrap_or_default().to_owned();
    println!("damaged 1000 times within one program (seed {seed})");
    for line in lines {
        println!("  {line}");
    }
    eprint!("{}", String::from_utf8_lossy(&output.stderr));
    let mut checks = Checks::default();
    checks.that(
        output.status.success() && said.lines().count() >= 5,
        "no panic, told in words, others unharmed",
        &output.status.to_string(),
    );
    println!("\nthe program itself, {RUNS} times");
    let (mut ended, mut found, mut others, mut panics) = (0, 0, 0, 0);
    let journal = folder.join("takes");
    let mut chance = Chance(seed ^ 0x5eed);
    for number in 0..RUNS {
        let name = ["sound.flac", "take.ron", "../../.index"][number % 3];
        let path = journal.join(&id).join(name);
        let whole = fs::read(&path).map_err(Fault::at(&path))?;
        let mut damaged = whole.clone();
        let place = chance.below(whole.len());
        if chance.below(3) == 0 {
            damaged.truncate(place);
        } else {
            damaged[place] ^= 1 << chance.below(8);
        }
        fs::write(&path, &damaged).map_err(Fault::at(&path))?;
        let page = folder.join("page.html");
        let runs = [
            vec!["journal", "verify"],
            vec!["journal", "list", "--json"],
            vec!["journal", "show", &id],
            vec!["report", "--replace", "--out"],
        ];
        let mut clean = true;
        for line in &runs {
            let mut step = Step::new(&program).args(line);
            if line[0] == "report" {
                step = step.arg(&page);
            }
            step = step.arg("--journal").arg(&journal);
            if line[0] == "report" {
                step = step.args(["take", &id]);
            }
            let output = step.listen()?;
            let words = String::from_utf8_lossy(&output.stderr);
            panics += usize::from(words.contains("panicked"));
            clean &= matches!(output.status.code(), Some(0 | 1));
            match line[..] {
                // A bit in a number of take.ron is as if a hand had edited it.
                ["journal", "verify"] if name == "sound.flac" => {
                    found += usize::from(output.status.code() == Some(1));
                }
                ["journal", "list", ..] => {
                    let listed = String::from_utf8_lossy(&output.stdout).lines().count();
                    others += usize::from(listed >= 2);
                }
                _ => {}
            }
        }
        ended += usize::from(clean);
        fs::write(&path, &whole).map_err(Fault::at(&path))?;
    }
    let of = |count: usize, all: usize| format!("{count} of {all}");
    checks.that(panics == 0, "no panic", &panics.to_string());
    checks.that(ended == RUNS, "ends by itself, with status 0 or 1", &of(ended, RUNS));
    let sounds = RUNS.div_ceil(3);
    checks.that(found == sounds, "damaged sound is found by verify", &of(found, sounds));
    checks.that(others == RUNS, "the other takes are listed", &of(others, RUNS));
    settings(&program, &folder, &mut chance, &mut checks)?;
    checks.end("flip")
}

/// The window's settings, where there is no screen: they are read before that is noticed.
fn settings(
    program: &Path,
    folder: &Path,
    chance: &mut Chance,
    checks: &mut Checks,
) -> Result<(), Fault> {
    let path = folder.join("settings.ron");
    let whole = fs::read(&path).map_err(Fault::at(&path))?;
    let damaged = &whole[..chance.below(whole.len() - 2)];
    fs::write(&path, damaged).map_err(Fault::at(&path))?;
    let output = Step::new(program)
        .args(["practise", "--demo", "four-fingers", "--settings"])
        .arg(&path)
        .arg("--journal")
        .arg(folder.join("takes"))
        .env("DISPLAY", "")
        .env("WAYLAND_DISPLAY", "")
        .listen()?;
    let words = String::from_utf8_lossy(&output.stderr);
    checks.that(
        output.status.success() && !words.contains("panicked"),
        "cut settings: the program ends well",
        &output.status.to_string(),
    );
    let kept = fs::read_dir(folder)
        .map_err(Fault::at(folder))?
        .flatten()
        .any(|file| fs::read(file.path()).is_ok_and(|bytes| bytes == damaged));
    checks.that(kept, "what could not be read is kept", "");
    Ok(())
}
