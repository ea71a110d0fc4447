//! The Debian package on a system that has nothing else: installed, opened from its desktop entry, read about, removed.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use super::copy;
use crate::checks::Checks;
use crate::display::{Display, first_picture};
use crate::shell::{Fault, Step, remove, target};

/// Where the package lies within the system, and who plays there.
const PACKAGE: &str = "/var/tmp/evenwave.deb";
const PLAYER: &str = "player";
/// What the window wrote of itself.
const WATCH: &str = "/home/player/shown.jsonl";
/// Until the window has drawn its first picture.
const OPENS_SECS: u64 = 60;

/// Installs and removes the package, or says why that cannot be tried here.
pub(super) fn run(checks: &mut Checks, package: &Path) -> Result<(), Fault> {
    println!("\non a fresh Debian");
    let system = fresh()?;
    copy(package, &system.at(PACKAGE))?;
    system.run("useradd", &["--create-home", PLAYER])?;
    let installed = system.apt(&["install", PACKAGE])?;
    checks.that(installed, "apt installs it with all it needs", "");
    opens_from_its_entry(checks, &system)?;
    system.apt(&["install", "man-db"])?;
    for page in ["evenwave", "evenwave-measure"] {
        let said = system.as_player().args(["man", page]).listen()?;
        let text = String::from_utf8_lossy(&said.stdout).into_owned();
        checks.that(
            text.contains("SYNOPSIS"),
            &format!("`man {page}` shows a page"),
            &format!("{} lines", text.lines().count()),
        );
    }
    let manual = system.step("evenwave", &["manual", "first-hour"]).listen()?;
    checks.that(
        manual.status.success() && manual.stdout.len() > 1000,
        "`evenwave manual` shows its pages",
        "",
    );
    let removed = system.apt(&["purge", "evenwave"])?;
    checks.that(removed, "apt removes it", "");
    fs::remove_file(system.at(PACKAGE)).map_err(Fault::at(&system.at(PACKAGE)))?;
    let left = system.step("find", &["/", "-xdev", "-ipath", "*evenwave*"]).listen()?;
    let left = String::from_utf8_lossy(&left.stdout).into_owned();
    let (own, others): (Vec<&str>, Vec<&str>) =
        left.lines().partition(|path| path.starts_with("/home/player/"));
    checks.that(
        others.is_empty() && !own.is_empty(),
        "what is left is the player's alone",
        &format!("{} files and folders of the player; others: {others:?}", own.len()),
    );
    Ok(())
}

/// A system in a folder.
struct System(PathBuf);

/// A fresh one: this machine's release of Debian, as small as it can be.
fn fresh() -> Result<System, Fault> {
    let place = target().join("fresh-debian");
    let [base, system] = ["base", "system"].map(|name| place.join(name));
    if !base.join("etc/debian_version").is_file() {
        let release = fs::read_to_string("/etc/os-release").unwrap_or_default();
        let name = release.lines().find_map(|line| line.strip_prefix("VERSION_CODENAME="));
        let name = name.unwrap_or("stable").trim_matches('"');
        let half = place.join("half");
        remove(&half)?;
        fs::create_dir_all(&place).map_err(Fault::at(&place))?;
        println!("making a fresh Debian; that takes some minutes, the first time");
        Step::new("debootstrap").args(["--variant=minbase", name]).arg(&half).listen()?;
        System(half.clone()).apt(&["update"])?;
        fs::rename(&half, &base).map_err(Fault::at(&base))?;
    }
    remove(&system)?;
    Step::new("cp").args(["--archive", "--reflink=auto"]).args([&base, &system]).run()?;
    Ok(System(system))
}

impl System {
    fn at(&self, path: &str) -> PathBuf {
        self.0.join(path.trim_start_matches('/'))
    }

    /// A command within it, with nothing of this machine's environment.
    fn step(&self, program: &str, arguments: &[&str]) -> Step {
        Step::new("chroot").arg(&self.0).args(CLEAN).arg(program).args(arguments)
    }

    /// The same for the player, with the command and its words to follow.
    fn as_player(&self) -> Step {
        Step::new("chroot")
            .arg(format!("--userspec={PLAYER}"))
            .arg(&self.0)
            .args(CLEAN)
            .arg(format!("HOME=/home/{PLAYER}"))
    }

    fn run(&self, program: &str, arguments: &[&str]) -> Result<(), Fault> {
        self.step(program, arguments).run()
    }

    /// Whether `apt-get` did this; what it said is told where it did not.
    fn apt(&self, words: &[&str]) -> Result<bool, Fault> {
        let said =
            self.step("apt-get", &["--yes", "--quiet", "--no-install-recommends"]).args(words);
        let said = said.listen()?;
        if !said.status.success() {
            println!(
                "{}{}",
                String::from_utf8_lossy(&said.stdout),
                String::from_utf8_lossy(&said.stderr)
            );
        }
        Ok(said.status.success())
    }
}

const CLEAN: &[&str] = &[
    "env",
    "--ignore-environment",
    "PATH=/usr/sbin:/usr/bin:/sbin:/bin",
    "LC_ALL=C.UTF-8",
    "DEBIAN_FRONTEND=noninteractive",
    "HOME=/root",
];

/// Runs what the desktop entry says, as the player, until the window has drawn.
fn opens_from_its_entry(checks: &mut Checks, system: &System) -> Result<(), Fault> {
    let entry = system.at("/usr/share/applications/evenwave.desktop");
    let entry = fs::read_to_string(&entry).unwrap_or_default();
    let line = entry.lines().find_map(|line| line.strip_prefix("Exec=")).unwrap_or_default();
    let words: Vec<&str> = line.split_whitespace().filter(|word| *word != "%F").collect();
    let Some(display) = Display::open()? else {
        return Ok(());
    };
    // The screen is reached through a file, which lies in this machine's folder and not in the system's.
    let socket = format!("/tmp/.X11-unix/X{}", display.name.trim_start_matches(':'));
    let inside = system.at(&socket);
    let place = inside.parent().unwrap_or(&inside);
    fs::create_dir_all(place).map_err(Fault::at(place))?;
    fs::hard_link(&socket, &inside).map_err(Fault::at(&inside))?;
    let mut window = system
        .as_player()
        .arg(format!("DISPLAY={}", display.name))
        .args(words.iter().map(OsStr::new))
        .args(["--watch", WATCH])
        .start_quietly()?;
    let first = first_picture(&system.at(WATCH), OPENS_SECS);
    Step::new("kill").arg(window.id().to_string()).run()?;
    window.wait().ok();
    let seen = first.map_or("nothing was drawn".to_owned(), |line| line["source"].to_string());
    checks.that(seen.contains("demo"), &format!("`{}` opens the window", words.join(" ")), &seen);
    Ok(())
}
