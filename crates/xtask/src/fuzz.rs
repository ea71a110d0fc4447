//! Fuzz targets: arbitrary input for all that reads what others may have written.

use std::fs;
use std::path::{Path, PathBuf};

use crate::packages;
use crate::shell::{Fault, Step, built_tool, root};

const TOOL: &str = "cargo-fuzz";
const VERSION: &str = "0.13.2";

/// Folders that hold fuzz targets, each a workspace of its own.
const FOLDERS: &[&str] = &[
    "crates/sound/fuzz",
    "crates/vibrato/fuzz",
    "crates/journal/fuzz",
    "crates/coach/fuzz",
    "crates/score/fuzz",
    "crates/evenwave/fuzz",
];

/// Runs every target, or the one of this name, for so many minutes; stops at the first finding.
pub(crate) fn run(minutes: u64, only: Option<&str>) -> Result<(), Fault> {
    packages::install(&[packages::BUILD, &["g++"]])?;
    let tool = built_tool(TOOL, VERSION)?;
    let mut count = 0;
    for folder in FOLDERS.iter().map(|folder| root().join(folder)) {
        for target in targets(&folder)?.iter().filter(|name| only.is_none_or(|only| only == *name))
        {
            println!("\n{target}: {minutes} min");
            Step::new(&tool)
                .args(["fuzz", "run", "--fuzz-dir"])
                .args([&folder])
                .args([target, "--", &format!("-max_total_time={}", 60 * minutes)])
                // The sanitizers are not stable yet; this lets the stable compiler use them.
                .env("RUSTC_BOOTSTRAP", "1")
                .run()?;
            count += 1;
        }
    }
    if count == 0 {
        return Err(Fault::Tool(format!("no fuzz target is called {}", only.unwrap_or_default())));
    }
    println!("\n{count} targets ran {minutes} min each without a finding");
    Ok(())
}

/// The names of a folder's targets, in order.
fn targets(folder: &Path) -> Result<Vec<String>, Fault> {
    let path = folder.join("fuzz_targets");
    let fault = |error| Fault::File { path: path.clone(), error };
    let mut files: Vec<PathBuf> = fs::read_dir(&path)
        .map_err(fault)?
        .map(|entry| entry.map(|entry| entry.path()))
        .collect::<Result<_, _>>()
        .map_err(fault)?;
    files.sort();
    Ok(files.iter().filter_map(|path| name(path)).collect())
}

fn name(path: &Path) -> Option<String> {
    let rust = path.extension().is_some_and(|extension| extension == "rs");
    let stem = path.file_stem()?.to_str()?;
    rust.then(|| stem.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_target_goes_by_its_file_s_name() {
        assert_eq!(name(Path::new("fuzz_targets/open.rs")).as_deref(), Some("open"));
        assert_eq!(name(Path::new("fuzz_targets/notes.md")), None);
    }

    #[test]
    fn every_folder_has_a_target() {
        for folder in FOLDERS {
            let targets = targets(&root().join(folder)).expect("readable");
            assert!(!targets.is_empty(), "{folder}");
        }
    }
}
