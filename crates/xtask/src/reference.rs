//! The check against reference libraries, which live in a Python environment of their own.

use std::fs;
use std::path::PathBuf;

use crate::shell::{Fault, Step, built, root, target};

/// Makes the environment if need be and compares evenwave with the libraries.
pub(crate) fn check() -> Result<(), Fault> {
    let python = prepare()?;
    let program = built("evenwave")?;
    println!("\nrecomputing the recorded notes with librosa and pyworld, scoring with mir_eval");
    Step::new(&python)
        .args([root().join("tests/reference/recompute.py")])
        .args(["--evenwave".into(), program.clone().into_os_string()])
        .run()?;
    println!("\nmeasuring 500 files by the workers of a Dask cluster, one of them killed");
    Step::new(&python)
        .args([root().join("tests/scale/check.py")])
        .args(["--evenwave".into(), program.into_os_string()])
        .run()?;
    println!("\nhearing speech, song, other instruments and noise: what of it would be kept");
    Step::new(&python)
        .args([root().join("tests/reference/talk.py")])
        .args(["--bowed".into(), target().join("debug/examples/bowed").into_os_string()])
        .run()?;
    println!("\nreading scores beside music21");
    let reading = target().join("debug/examples/reading");
    Step::new(python)
        .args([root().join("tests/reference/scores.py")])
        .args(["--reading".into(), reading.into_os_string()])
        .run()
}

/// The environment's Python, if `cargo xtask test` has made it.
pub(crate) fn python_if_made() -> Option<PathBuf> {
    let python = folder().join("bin/python");
    python.is_file().then_some(python)
}

fn folder() -> PathBuf {
    target().join("reference")
}

/// Makes the environment from the pinned list, anew if that has changed.
pub(crate) fn prepare() -> Result<PathBuf, Fault> {
    let list = root().join("tests/reference/requirements.txt");
    let stamp = folder().join("requirements.txt");
    let wanted = fs::read(&list).map_err(Fault::at(&list))?;
    if let Some(python) = python_if_made()
        && fs::read(&stamp).is_ok_and(|made_from| made_from == wanted)
    {
        return Ok(python);
    }
    println!("\nmaking an environment for the reference libraries");
    Step::new("python3").args(["-m", "venv", "--clear"]).args([folder()]).run()?;
    let python = folder().join("bin/python");
    Step::new(&python)
        .args(["-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--requirement"])
        .args([&list])
        .run()?;
    // Written last: an environment that was not finished is made again.
    fs::write(&stamp, wanted).map_err(Fault::at(&stamp))?;
    Ok(python)
}
