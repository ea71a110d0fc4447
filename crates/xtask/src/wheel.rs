//! Gate: the ear as a package for Python, built, installed beside the reference libraries and held against the command.

use std::path::PathBuf;

use crate::checks::Checks;
use crate::package::{self, VERSION, released};
use crate::packages;
use crate::reference;
use crate::shell::{Fault, Step, built, empty, root, target};

/// Builds it and tries it.
pub(crate) fn run() -> Result<(), Fault> {
    packages::install(&[packages::BUILD, packages::REFERENCE])?;
    let python = reference::prepare()?;
    let program = built("evenwave")?;
    let folder = target().join("wheel");
    empty(&folder)?;
    println!("\nthe package for Python");
    released(Step::new(&python).args([
        "-m",
        "maturin",
        "build",
        "--quiet",
        "--locked",
        "--compatibility",
        "linux",
    ]))
    .arg("--manifest-path")
    .arg(root().join("crates/python/Cargo.toml"))
    .arg("--out")
    .arg(package::folder())
    .run()?;
    let wheel = wheel();
    let installed = folder.join("installed");
    Step::new(&python)
        .args([
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-deps",
            "--no-index",
        ])
        .arg("--target")
        .args([&installed, &wheel])
        .run()?;
    let paths = [("PYTHONPATH", installed.display().to_string())];
    let mut checks = Checks::default();
    let same = Step::new(&python)
        .arg(root().join("tests/reference/wheel.py"))
        .arg("--evenwave")
        .args([&program, &folder])
        .envs(&paths)
        .run();
    checks.that(same.is_ok(), "it says what the command says", "");
    let picture = folder.join("recording.png");
    Step::new(&python)
        .arg(root().join("crates/python/examples/one_recording.py"))
        .args([&root().join("tests/recordings/fluid-viola-064-l.wav"), &picture])
        .envs(&paths)
        .run()?;
    checks.that(picture.is_file(), "its example draws a recording", &picture.display().to_string());
    package::made(&mut checks, &wheel)?;
    checks.end("wheel")
}

/// Where it lies: for every Python from the one that its manifest names.
fn wheel() -> PathBuf {
    package::folder().join(format!("evenwave-{VERSION}-cp311-abi3-linux_x86_64.whl"))
}
