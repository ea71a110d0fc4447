//! Running the program in a folder of the test's own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// A folder of this test's own, empty.
pub(crate) fn folder(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if folder.exists() {
        std::fs::remove_dir_all(&folder).expect("left from the last run");
    }
    std::fs::create_dir_all(&folder).expect("the target folder is writable");
    folder
}

/// Runs the program with these arguments.
pub(crate) fn evenwave(folder: &Path, line: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_evenwave"))
        .args(line)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

/// Runs it where nothing may go wrong.
pub(crate) fn done(folder: &Path, line: &[&str]) -> Output {
    let output = evenwave(folder, line);
    assert!(output.status.success(), "{line:?}: {}", told(&output));
    output
}

/// What it said on its error stream.
pub(crate) fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Its exit status.
pub(crate) fn status(output: &Output) -> i32 {
    output.status.code().expect("ended by itself")
}

/// What it wrote.
pub(crate) fn printed(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).expect("UTF-8")
}

/// One object from each line that it wrote.
pub(crate) fn objects(output: &Output) -> Vec<Value> {
    let line = |line| serde_json::from_str(line).expect("one JSON object a line");
    printed(output).lines().map(line).collect()
}
