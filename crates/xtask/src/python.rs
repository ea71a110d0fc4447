//! The Python environment that the reference libraries live in.

use std::fs;
use std::path::PathBuf;

use crate::shell::{Fault, Step, root, target};

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
