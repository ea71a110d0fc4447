//! Gate: what players install, made below the target folder and tried: a package for Debian, an archive for any Linux,
//! the program folder for macOS, and for Windows an archive and an installer.

mod fresh_debian;
mod licences;
mod linux;
mod mac;
mod profiles;
pub(crate) mod windows;

pub(crate) use linux::program as linux_program;
pub(crate) use profiles::recorded;

use std::fs;
use std::path::{Path, PathBuf};

use crate::checks::Checks;
use crate::shell::{Fault, Step, root, target};
use crate::system::System;

/// The version of the workspace, which is that of every package.
pub(crate) const VERSION: &str = env!("CARGO_PKG_VERSION");
/// What is new in each version; the newest stands first.
const CHANGES: &str = "crates/evenwave/manual/changes.md";
/// Where the icon is drawn.
const ICON: &str = "assets/icon/evenwave.svg";

/// Makes the packages for these systems and tries what can be tried of them here.
pub(crate) fn run(systems: &[System]) -> Result<(), Fault> {
    let mut checks = Checks::default();
    fs::create_dir_all(folder()).map_err(Fault::at(&folder()))?;
    for system in systems {
        match system {
            System::Linux => linux::run(&mut checks)?,
            System::Mac => mac::run(&mut checks)?,
            System::Windows => windows::run(&mut checks)?,
        }
    }
    println!("\npackages: {}", folder().display());
    checks.end("package")
}

/// Where the packages lie.
pub(crate) fn folder() -> PathBuf {
    target().join("packages")
}

/// The day of the newest version, as `What is new` has it in its heading: `## 0.1.0 (2026-11-29)`.
pub(crate) fn day() -> Result<String, Fault> {
    let path = root().join(CHANGES);
    let text = fs::read_to_string(&path).map_err(Fault::at(&path))?;
    day_of(&text).map(str::to_owned).ok_or_else(|| {
        Fault::Tool(format!(
            "{CHANGES} begins with another version than {VERSION}, or gives no day for it"
        ))
    })
}

fn day_of(changes: &str) -> Option<&str> {
    let heading = changes.lines().find_map(|line| line.strip_prefix("## "))?;
    heading.strip_prefix(VERSION)?.trim().strip_prefix('(')?.strip_suffix(')')
}

/// What is new in this version, a line each.
fn news() -> Result<Vec<String>, Fault> {
    let path = root().join(CHANGES);
    let text = fs::read_to_string(&path).map_err(Fault::at(&path))?;
    let newest = text.split("\n## ").nth(1).unwrap_or_default();
    let words = |item: &str| item.split_whitespace().collect::<Vec<_>>().join(" ");
    Ok(newest.split("\n- ").skip(1).map(words).collect())
}

/// A file of `assets/packaging`, with version and day in their places.
fn filled(name: &str) -> Result<String, Fault> {
    let path = root().join("assets/packaging").join(name);
    let text = fs::read_to_string(&path).map_err(Fault::at(&path))?;
    Ok(text.replace("@VERSION@", VERSION).replace("@DATE@", &day()?))
}

/// Writes a file, and the folders it lies in.
fn write(path: &Path, content: impl AsRef<[u8]>) -> Result<(), Fault> {
    let folder = path.parent().unwrap_or(path);
    fs::create_dir_all(folder).map_err(Fault::at(folder))?;
    fs::write(path, content).map_err(Fault::at(path))
}

/// Copies a file, and makes the folders that its copy lies in.
fn copy(from: &Path, to: &Path) -> Result<(), Fault> {
    write(to, fs::read(from).map_err(Fault::at(from))?)
}

/// The icon as a picture, so many points wide.
fn icon(points: u32, path: &Path) -> Result<(), Fault> {
    fs::create_dir_all(path.parent().unwrap_or(path)).map_err(Fault::at(path))?;
    let points = points.to_string();
    Step::new("rsvg-convert").args(["--width", &points, "--output"]).arg(path).arg(ICON).run()
}

/// How large a file is, in megabytes.
fn megabytes(path: &Path) -> Result<f64, Fault> {
    Ok(fs::metadata(path).map_err(Fault::at(path))?.len() as f64 / 1e6)
}

/// Checks that a package is there, and tells its size.
pub(crate) fn made(checks: &mut Checks, path: &Path) -> Result<(), Fault> {
    let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
    checks.that(path.is_file(), &format!("{name} is made"), &format!("{:.1} MB", megabytes(path)?));
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_newest_heading_names_this_version_and_its_day() {
        assert!(day().is_ok_and(|day| day.len() == "2026-11-29".len()), "{:?}", day());
        assert_eq!(
            day_of(&format!("# What is new\n\n## {VERSION} (2026-11-29)\n")),
            Some("2026-11-29")
        );
        assert_eq!(day_of("# What is new\n\n## 0.0.1 (2026-11-29)\n"), None);
        assert_eq!(day_of(&format!("## {VERSION}\n")), None);
    }
}
