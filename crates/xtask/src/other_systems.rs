//! Gate: the program holds together for Windows and macOS, too: all of it is compiled for them as far as that goes here.
//!
//! The standard library is compiled along, from Debian's sources, by Debian's compiler, since a toolchain for the other
//! system is not there.

use std::path::{Path, PathBuf};

use crate::checks::Checks;
use crate::packages;
use crate::shell::{Fault, Step, target};
use crate::system::{System, released};

/// Debian's compiler, whose library can be compiled for other systems.
const COMPILER: &str = "/usr/bin/rustc";

/// Looks at the program for these systems.
pub(crate) fn run(systems: &[System]) -> Result<(), Fault> {
    let mut checks = Checks::default();
    packages::install(&[packages::BUILD, packages::OTHER_SYSTEMS])?;
    for system in systems {
        if *system == System::Linux {
            continue;
        }
        let begun = std::time::Instant::now();
        let done =
            cargo(*system, "check").args(["--package", "evenwave", "--package", "xtask"]).run();
        let seen = match &done {
            Ok(()) => format!("{} s", begun.elapsed().as_secs()),
            Err(fault) => fault.to_string(),
        };
        checks.that(done.is_ok(), &format!("compiles for {system:?}, with the window"), &seen);
    }
    checks.end("other-systems")
}

/// The programs for Windows, optimised, as players get them, with what is to be `linked` into each; and where they lie.
pub(crate) fn build_for_windows(programs: &[&str], linked: &Path) -> Result<PathBuf, Fault> {
    println!("building evenwave for Windows; the first time takes a quarter of an hour or more");
    for program in programs {
        let words = ["--package", "evenwave", "--bin", program, "--"];
        let link = format!("-Clink-arg={}", linked.display());
        // What stands behind the last word goes to the compiler.
        released(cargo(System::Windows, "rustc")).args(words).arg(link).run()?;
    }
    Ok(folder(System::Windows).join(System::Windows.triple()).join("release"))
}

/// Cargo, with words for another system. What it builds is kept between runs.
fn cargo(system: System, word: &str) -> Step {
    Step::cargo([word, "--quiet", "-Zbuild-std=std,panic_unwind", "--target", system.triple()])
        .arg("--target-dir")
        .arg(folder(system))
        .env("RUSTC", COMPILER)
        // What is not yet settled of cargo is asked for knowingly.
        .env("RUSTC_BOOTSTRAP", "1")
}

fn folder(system: System) -> PathBuf {
    target().join(match system {
        System::Linux => "linux",
        System::Mac => "macos",
        System::Windows => "windows",
    })
}
