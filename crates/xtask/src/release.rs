//! A release: one version everywhere, everything made and tried, and a list of checksums beside it.

use std::fs;
use std::path::PathBuf;

use serde_json::Value;

use crate::checks::Checks;
use crate::package::{self, VERSION};
use crate::shell::{Fault, Step, root};
use crate::system::System;
use crate::{other_systems, wheel, windows};

/// Checks what a release needs, then makes and tries all that players get.
pub(crate) fn run() -> Result<(), Fault> {
    let mut checks = Checks::default();
    println!("\nversion {VERSION}");
    versions(&mut checks)?;
    let day = package::day();
    checks.that(
        day.is_ok(),
        "what is new begins with it, and names its day",
        &day.unwrap_or_else(|fault| fault.to_string()),
    );
    let kept = root().join("tests/kept").join(VERSION);
    checks.that(
        ["settings.ron", "takes.jsonl", "takes/tasks.ron", "takes/.index"]
            .iter()
            .all(|name| kept.join(name).is_file()),
        "files that it wrote are kept, for later versions to read",
        &format!("tests/kept/{VERSION}"),
    );
    let changed = Step::new("git").args(["status", "--porcelain"]).listen()?;
    checks.that(
        changed.status.success() && changed.stdout.is_empty(),
        "all is committed",
        String::from_utf8_lossy(&changed.stdout).lines().next().unwrap_or(""),
    );
    checks.end("version")?;
    package::run(&[System::Linux, System::Mac])?;
    other_systems::run(&[System::Mac])?;
    wheel::run()?;
    windows::run()?;
    sums()
}

/// Every package has the version of the workspace.
fn versions(checks: &mut Checks) -> Result<(), Fault> {
    let words = ["metadata", "--format-version", "1", "--no-deps", "--locked"];
    let told = Step::cargo(words).listen()?;
    let told: Value = serde_json::from_slice(&told.stdout).unwrap_or(Value::Null);
    let packages = told["packages"].as_array().map_or(&[][..], Vec::as_slice);
    let others: Vec<String> = packages
        .iter()
        .filter(|package| package["version"] != VERSION)
        .map(|package| package["name"].to_string())
        .collect();
    checks.that(
        packages.len() > 10 && others.is_empty(),
        "every package has this version, and the lock file too",
        &format!("{} packages; others: {others:?}", packages.len()),
    );
    Ok(())
}

/// Writes the checksums of what is given out, as `sha256sum --check` reads them.
fn sums() -> Result<(), Fault> {
    let folder = package::folder();
    let entries = fs::read_dir(&folder).map_err(Fault::at(&folder))?;
    let given_out = |path: &PathBuf| {
        let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default();
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        path.is_file()
            && ["deb", "gz", "whl", "zip", "exe"].contains(&ending)
            && name.contains(VERSION)
    };
    let mut names: Vec<_> = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(given_out)
        .filter_map(|path| path.file_name().map(ToOwned::to_owned))
        .collect();
    names.sort();
    let sums = Step::new("sha256sum").args(&names).within(&folder).listen()?;
    let list = folder.join("SHA256SUMS");
    fs::write(&list, &sums.stdout).map_err(Fault::at(&list))?;
    print!("\n{}", String::from_utf8_lossy(&sums.stdout));
    println!("to give out: {}", folder.display());
    Ok(())
}
