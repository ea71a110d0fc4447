//! Running the program in a folder of the test's own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A folder of this test's own, empty.
pub fn folder(test: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(test);
    if folder.exists() {
        std::fs::remove_dir_all(&folder).expect("left from the last run");
    }
    std::fs::create_dir_all(&folder).expect("the target folder is writable");
    folder
}

/// Runs the program with these arguments.
pub fn evenwave(folder: &Path, line: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_evenwave"))
        .args(line)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

/// What it said on its error stream.
pub fn told(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}
