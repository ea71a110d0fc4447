//! Running other programs.

use std::ffi::{OsStr, OsString};
use std::io::ErrorKind;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use thiserror::Error;

/// What can go wrong with a task.
#[derive(Debug, Error)]
pub(crate) enum Fault {
    /// A program could not be started.
    #[error("could not start `{program}`: {error}")]
    Start {
        /// Its name.
        program: String,
        /// Why.
        error: std::io::Error,
    },
    /// A program ended with another status than 0.
    #[error("`{line}` ended with status {code}")]
    Status {
        /// The line that was run.
        line: String,
        /// Its exit status; −1 if a signal ended it.
        code: i32,
    },
    /// Packages are missing and cannot be installed from here.
    #[error("missing packages; as root, run: {0}")]
    Packages(String),
    /// A test failed, or none ran.
    #[error("not every test passed")]
    Tests,
    /// A tool is missing that is not installed unasked.
    #[error("{0}")]
    Tool(String),
    /// Checks of a gate failed.
    #[error("{failed} of {all} checks failed")]
    Checks {
        /// How many failed.
        failed: usize,
        /// How many there were.
        all: usize,
    },
    /// A file could not be read or written.
    #[error("{error}: {}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// Why.
        error: std::io::Error,
    },
}

impl Fault {
    /// What went wrong with a file or folder.
    pub(crate) fn at(path: &Path) -> impl FnOnce(std::io::Error) -> Self + use<> {
        let path = path.to_owned();
        move |error| Self::File { path, error }
    }
}

/// Removes a folder with all that is in it, if it is there.
pub(crate) fn remove(folder: &Path) -> Result<(), Fault> {
    match std::fs::remove_dir_all(folder) {
        Err(error) if error.kind() != ErrorKind::NotFound => Err(Fault::at(folder)(error)),
        _ => Ok(()),
    }
}

/// Makes a folder that is empty.
pub(crate) fn empty(folder: &Path) -> Result<(), Fault> {
    remove(folder)?;
    std::fs::create_dir_all(folder).map_err(Fault::at(folder))
}

/// Chance from a seed: D. E. Knuth's generator (MMIX).
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    /// A number from 0 to below `limit`.
    pub(crate) fn below(&mut self, limit: usize) -> usize {
        let seed = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = seed.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }
}

/// The folder of the workspace.
pub(crate) fn root() -> PathBuf {
    let manifest = std::env::var_os("CARGO_MANIFEST_DIR")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")), PathBuf::from);
    manifest.ancestors().nth(2).map_or_else(PathBuf::new, Path::to_owned)
}

/// Where cargo puts what it builds.
pub(crate) fn target() -> PathBuf {
    match std::env::var_os("CARGO_TARGET_DIR") {
        Some(folder) => root().join(folder),
        None => root().join("target"),
    }
}

/// Builds what gates run and says where `name` of it is, such as `evenwave` or `examples/flip`. All of it is built at
/// once, as for the tests: a package by itself would be built with other features, and all it needs with it.
pub(crate) fn built(name: &str) -> Result<PathBuf, Fault> {
    Step::cargo(["build", "--workspace", "--lib", "--bins", "--examples"]).run()?;
    Ok(target().join("debug").join(name))
}

/// A tool that lies beside the project, not in it; says so if it is absent.
pub(crate) fn tool(name: &str) -> Option<PathBuf> {
    let path = root().join("../shared/tools").join(name);
    if path.is_file() {
        return Some(path);
    }
    println!("skipped: `{name}` is not at {}", path.display());
    None
}

/// A tool of cargo in this version. It is built the first time, which takes some minutes.
pub(crate) fn built_tool(name: &str, version: &str) -> Result<PathBuf, Fault> {
    let folder = target().join("tools");
    let tool = folder.join("bin").join(name);
    let there = Step::new(&tool).arg("--version").listen();
    let is_right = |said: &[u8]| String::from_utf8_lossy(said).trim().ends_with(version);
    if !there.is_ok_and(|there| is_right(&there.stdout)) {
        Step::cargo(["install", name, "--version", version, "--locked", "--force", "--quiet"])
            .arg("--root")
            .arg(&folder)
            .arg("--target-dir")
            .arg(folder.join("build"))
            .run()?;
        // What it was built from is not needed again.
        remove(&folder.join("build"))?;
    }
    Ok(tool)
}

/// One program to run in the workspace's folder.
pub(crate) struct Step(Command);

impl Step {
    /// A program by its name or path.
    pub(crate) fn new(program: impl AsRef<OsStr>) -> Self {
        let mut command = Command::new(program);
        command.current_dir(root());
        Self(command)
    }

    /// The cargo that runs this.
    pub(crate) fn cargo<const N: usize>(arguments: [&str; N]) -> Self {
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| OsString::from("cargo"));
        Self::new(cargo).args(arguments)
    }

    /// Adds one argument.
    pub(crate) fn arg(mut self, argument: impl AsRef<OsStr>) -> Self {
        self.0.arg(argument);
        self
    }

    /// Adds arguments.
    pub(crate) fn args(mut self, arguments: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Self {
        self.0.args(arguments);
        self
    }

    /// Has it run in another folder.
    pub(crate) fn within(mut self, folder: &Path) -> Self {
        self.0.current_dir(folder);
        self
    }

    /// Sets a variable of the environment.
    pub(crate) fn env(mut self, name: &str, value: &str) -> Self {
        self.0.env(name, value);
        self
    }

    /// Sets variables of the environment.
    pub(crate) fn envs(mut self, pairs: &[(&str, String)]) -> Self {
        self.0.envs(pairs.iter().map(|(name, value)| (name, value)));
        self
    }

    /// Runs it with this terminal.
    pub(crate) fn run(mut self) -> Result<(), Fault> {
        let status = self.0.status().map_err(|error| self.unstarted(error))?;
        if status.success() {
            Ok(())
        } else {
            Err(Fault::Status { line: self.line(), code: status.code().unwrap_or(-1) })
        }
    }

    /// Runs it without input and keeps what it says, whatever its status.
    pub(crate) fn listen(mut self) -> Result<Output, Fault> {
        self.0.stdin(Stdio::null());
        self.0.output().map_err(|error| self.unstarted(error))
    }

    /// Starts it with its standard output to be read.
    pub(crate) fn start(mut self) -> Result<std::process::Child, Fault> {
        self.0.stdout(Stdio::piped());
        self.0.spawn().map_err(|error| self.unstarted(error))
    }

    /// The same, and fed until its input is dropped.
    pub(crate) fn start_fed(mut self) -> Result<std::process::Child, Fault> {
        self.0.stdin(Stdio::piped());
        self.start()
    }

    /// The same; what it says of errors is not wanted.
    pub(crate) fn start_quietly(mut self) -> Result<std::process::Child, Fault> {
        self.0.stdin(Stdio::null()).stderr(Stdio::null());
        self.start()
    }

    /// Starts it with all that it says to be read once it has ended.
    pub(crate) fn start_listening(mut self) -> Result<std::process::Child, Fault> {
        self.0.stdin(Stdio::null()).stderr(Stdio::piped());
        self.start()
    }

    fn unstarted(&self, error: std::io::Error) -> Fault {
        let program = self.0.get_program().to_string_lossy().into_owned();
        Fault::Start { program, error }
    }

    fn line(&self) -> String {
        let words = std::iter::once(self.0.get_program()).chain(self.0.get_args());
        words.map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" ")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_workspace_is_where_the_lock_file_is() {
        assert!(root().join("Cargo.lock").is_file(), "{}", root().display());
    }

    #[test]
    fn a_status_other_than_0_is_told_with_the_line() {
        let fault = Step::new("sh").args(["-c", "exit 3"]).run().expect_err("status 3");
        assert_eq!(fault.to_string(), "`sh -c exit 3` ended with status 3");
    }

    #[test]
    fn a_program_that_is_not_there_is_named() {
        let fault = Step::new("no-such-program").run().expect_err("is not there");
        assert!(fault.to_string().contains("no-such-program"), "{fault}");
    }
}
