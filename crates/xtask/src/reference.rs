//! The check against reference libraries, which live in a Python environment of their own.

use crate::python;
use crate::shell::{Fault, Step, built, root, target};
use crate::wheel;

/// Makes the environment if need be and compares evenwave with the libraries.
pub(crate) fn check() -> Result<(), Fault> {
    let python = python::prepare()?;
    let program = built("evenwave")?;
    println!("\nrecomputing the recorded notes with librosa and pyworld, scoring with mir_eval");
    Step::new(&python)
        .args([root().join("tests/reference/recompute.py")])
        .args(["--evenwave".into(), program.clone().into_os_string()])
        .run()?;
    println!("\nmeasuring 500 files by the workers of a Dask cluster, one of them killed");
    Step::new(&python)
        .args([root().join("tests/scale/check.py")])
        .args(["--evenwave".into(), program.clone().into_os_string()])
        .run()?;
    println!("\nhearing speech, song, other instruments and noise: what of it would be kept");
    Step::new(&python)
        .args([root().join("tests/reference/talk.py")])
        .args(["--bowed".into(), target().join("debug/examples/bowed").into_os_string()])
        .run()?;
    println!("\nthe package for Python beside the command");
    wheel::check(&python, &program)?;
    println!("\nreading scores beside music21");
    let reading = target().join("debug/examples/reading");
    Step::new(python)
        .args([root().join("tests/reference/scores.py")])
        .args(["--reading".into(), reading.into_os_string()])
        .run()
}
