//! The ear as a package for Python, held against the command: as the tests have built it, and, as a gate, as the wheel that
//! is given out.

use std::fs;
use std::path::{Path, PathBuf};

use crate::checks::Checks;
use crate::package::{self, VERSION};
use crate::packages;
use crate::python;
use crate::shell::{Fault, Step, built, empty, root, target};
use crate::system::released;

/// The sources of the package, and what of them is Python.
const SOURCES: &str = "crates/python";
const TEXTS: [&str; 3] = ["__init__.py", "__init__.pyi", "py.typed"];

/// Gate: builds the wheel, installs it and tries it.
pub(crate) fn run() -> Result<(), Fault> {
    packages::install(&[packages::BUILD, packages::REFERENCE])?;
    let python = python::prepare()?;
    let program = built("evenwave")?;
    println!("\nthe package for Python");
    let maturin = ["-m", "maturin", "build", "--quiet", "--locked", "--compatibility", "linux"];
    released(Step::new(&python).args(maturin))
        .arg("--manifest-path")
        .arg(root().join(SOURCES).join("Cargo.toml"))
        .arg("--out")
        .arg(package::folder())
        .run()?;
    let installed = folder().join("installed");
    empty(&installed)?;
    let pip = ["-m", "pip", "install", "--quiet", "--disable-pip-version-check"];
    Step::new(&python)
        .args(pip)
        .args(["--no-deps", "--no-index", "--target"])
        .args([&installed, &wheel()])
        .run()?;
    let mut checks = Checks::default();
    let same = tried(&python, &program, &installed);
    checks.that(same.is_ok(), "it says what the command says", "");
    package::made(&mut checks, &wheel())?;
    checks.end("wheel")
}

/// Tries the package as it was built with the tests.
pub(crate) fn check(python: &Path, program: &Path) -> Result<(), Fault> {
    let package = folder().join("built/evenwave");
    empty(&package)?;
    for name in TEXTS {
        let text = root().join(SOURCES).join("evenwave").join(name);
        fs::copy(&text, package.join(name)).map_err(Fault::at(&text))?;
    }
    let library = target().join("debug/lib_evenwave.so");
    fs::copy(&library, package.join("_evenwave.abi3.so")).map_err(Fault::at(&library))?;
    tried(python, program, &folder().join("built"))
}

/// Holds the package that lies in this folder against the command, and lets its example draw.
fn tried(python: &Path, program: &Path, place: &Path) -> Result<(), Fault> {
    let paths = [("PYTHONPATH", place.display().to_string())];
    let written = folder().join("written");
    empty(&written)?;
    Step::new(python)
        .arg(root().join("tests/reference/wheel.py"))
        .arg("--evenwave")
        .args([program, &written])
        .envs(&paths)
        .run()?;
    let picture = written.join("recording.png");
    Step::new(python)
        .arg(root().join(SOURCES).join("examples/one_recording.py"))
        .args([&root().join("tests/recordings/fluid-viola-064-l.wav"), &picture])
        .envs(&paths)
        .run()?;
    fs::metadata(&picture).map(drop).map_err(Fault::at(&picture))
}

fn folder() -> PathBuf {
    target().join("wheel")
}

/// Where the wheel lies: for every Python from the one that its manifest names.
fn wheel() -> PathBuf {
    package::folder().join(format!("evenwave-{VERSION}-cp311-abi3-linux_x86_64.whl"))
}
