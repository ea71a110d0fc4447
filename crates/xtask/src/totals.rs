//! Running `cargo test` and adding up what its parts say.

use std::fmt;
use std::io::{BufRead, BufReader};

use crate::shell::{Fault, Step};

/// Tests of all parts together.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Totals {
    passed: u64,
    failed: u64,
    ignored: u64,
    /// cargo ended with status 0.
    ended_well: bool,
}

impl Totals {
    /// Everything was built, something ran and nothing failed.
    pub(crate) fn good(&self) -> bool {
        self.ended_well && self.failed == 0 && self.passed > 0
    }

    /// Adds a line like `test result: ok. 12 passed; 0 failed; 1 ignored; …`; others count nothing.
    fn add(&mut self, line: &str) {
        let Some(result) = line.strip_prefix("test result: ") else {
            return;
        };
        let counts = result.split_once(". ").map_or("", |(_, counts)| counts);
        for part in counts.split("; ") {
            match part.split_once(' ') {
                Some((n, "passed")) => self.passed += n.parse::<u64>().unwrap_or(0),
                Some((n, "failed")) => self.failed += n.parse::<u64>().unwrap_or(0),
                Some((n, "ignored")) => self.ignored += n.parse::<u64>().unwrap_or(0),
                _ => {}
            }
        }
    }
}

impl fmt::Display for Totals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { passed, failed, ignored, ended_well } = self;
        write!(f, "{passed} passed, {failed} failed, {ignored} skipped")?;
        if !ended_well && *failed == 0 {
            write!(f, "; cargo test did not end well, see above")?;
        }
        Ok(())
    }
}

/// Runs the tests of the whole workspace and shows what they print.
pub(crate) fn cargo_test() -> Result<Totals, Fault> {
    let mut child = Step::cargo(["test", "--workspace", "--no-fail-fast"]).start()?;
    let mut totals = Totals::default();
    if let Some(output) = child.stdout.take() {
        for line in BufReader::new(output).split(b'\n').map_while(Result::ok) {
            let line = String::from_utf8_lossy(&line);
            println!("{line}");
            totals.add(&line);
        }
    }
    let status =
        child.wait().map_err(|error| Fault::Start { program: "cargo test".to_owned(), error })?;
    totals.ended_well = status.success();
    Ok(totals)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn totals(lines: &[&str], ended_well: bool) -> Totals {
        let mut totals = Totals::default();
        lines.iter().for_each(|line| totals.add(line));
        Totals { ended_well, ..totals }
    }

    #[test]
    fn parts_add_up() {
        let totals = totals(
            &[
                "running 3 tests",
                "test result: ok. 3 passed; 0 failed; 0 ignored; 0 measured; 0 filtered out; finished in 0.1s",
                "test result: FAILED. 1 passed; 2 failed; 4 ignored; 0 measured; 0 filtered out; finished in 0.1s",
            ],
            false,
        );
        assert_eq!(totals.to_string(), "4 passed, 2 failed, 4 skipped");
        assert!(!totals.good());
    }

    #[test]
    fn no_test_at_all_is_not_good() {
        assert!(!totals(&[], true).good());
    }

    #[test]
    fn a_build_that_failed_is_not_good() {
        let line = "test result: ok. 3 passed; 0 failed; 0 ignored; 0 measured; 0 filtered out";
        assert!(totals(&[line], true).good());
        assert!(!totals(&[line], false).good());
    }
}
