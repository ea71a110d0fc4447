//! Gate: the packages that others wrote: how many, under which licences, from where, twice or not, and whether a hole is
//! known in one of them.

use std::fs;

use crate::checks::Checks;
use crate::shell::{Fault, Step, built_tool, root};

/// The tool, as it was when `.deny.toml` was written.
const TOOL: &str = "cargo-deny";
const VERSION: &str = "0.20.2";
/// Packages in `Cargo.lock` at most, ours among them: as many as there were when this was written.
const MOST_PACKAGES: usize = 521;

/// Runs it.
pub(crate) fn run() -> Result<(), Fault> {
    let tool = built_tool(TOOL, VERSION)?;
    let mut checks = Checks::default();
    let lock = root().join("Cargo.lock");
    let text = fs::read_to_string(&lock).map_err(Fault::at(&lock))?;
    let count = text.lines().filter(|line| *line == "[[package]]").count();
    checks.that(
        (1..=MOST_PACKAGES).contains(&count),
        &format!("packages, at most {MOST_PACKAGES}"),
        &count.to_string(),
    );
    let deny = || Step::new(&tool).args(["--workspace", "--config", ".deny.toml"]);
    let mut looked_at = vec!["licenses", "bans", "sources"];
    if deny().args(["fetch", "db"]).listen()?.status.success() {
        looked_at.push("advisories");
    } else {
        println!("skipped: advisories: their database cannot be had from here");
    }
    for what in looked_at {
        // What is allowed and not there any more goes from the list.
        let strict = ["--deny", "unmatched-skip", "--deny", "license-not-encountered"];
        let strict = if what == "advisories" { &[][..] } else { &strict };
        let done = deny().args(["check", "--hide-inclusion-graph"]).args(strict).arg(what);
        let done = done.listen()?;
        let said = String::from_utf8_lossy(&done.stderr).into_owned();
        if !done.status.success() {
            println!("{said}");
        }
        let last = String::from_utf8_lossy(&done.stdout).trim().to_owned();
        checks.that(done.status.success(), &format!("`cargo deny check {what}`"), &last);
    }
    checks.end("deny")
}
