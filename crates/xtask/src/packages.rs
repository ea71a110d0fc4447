//! What the system must have, on Debian and its kin.

use crate::shell::{Fault, Step};

/// To build: sound headers and a linker. The first brings the library itself, `libasound2`.
pub(crate) const BUILD: &[&str] = &["libasound2-dev", "pkg-config", "gcc", "libc6-dev"];

/// To open the window; all of these are loaded when it opens.
pub(crate) const WINDOW: &[&str] = &[
    "libx11-6",
    "libx11-xcb1",
    "libxcursor1",
    "libxi6",
    "libxkbcommon-x11-0",
    "libgl1",
    "libegl1",
];

/// To open the window where there is no screen.
pub(crate) const DISPLAY: &[&str] = &["xvfb", "libgl1-mesa-dri"];

/// To draw pictures without a graphics card: software drawing by Vulkan, loaded when it is asked for.
pub(crate) const DRAW: &[&str] = &["mesa-vulkan-drivers", "libvulkan1"];

/// To compare with reference libraries: pyworld is compiled on the spot; and a bank of sampled strings with what sounds it.
pub(crate) const REFERENCE: &[&str] =
    &["python3", "python3-venv", "python3-dev", "g++", "fluidsynth", "fluid-soundfont-gm"];

/// To make sounds that are not bowed: speech, and other instruments.
pub(crate) const TALK: &[&str] = &["espeak-ng", "fluidsynth", "timgm6mb-soundfont"];

/// To decode what the journal wrote: the reference decoder.
pub(crate) const FLAC: &[&str] = &["flac"];

/// To make recordings as telephones do.
pub(crate) const PHONE: &[&str] = &["ffmpeg"];

/// To open, print and check pages: a browser, what reads its prints, and what the HTML checker runs on.
pub(crate) const PAGES: &[&str] =
    &["chromium", "fonts-dejavu-core", "poppler-utils", "default-jre-headless"];

/// To install the HTML checker.
pub(crate) const NPM: &[&str] = &["npm"];

/// To make packages, and to look at what was made.
pub(crate) const PACKAGE: &[&str] = &[
    "appstream",
    "debootstrap",
    "desktop-file-utils",
    "dpkg-dev",
    "icnsutils",
    "icoutils",
    "librsvg2-bin",
    "lintian",
    "python3",
];

/// To build and look at programs for other systems: a compiler whose library can be built for them.
pub(crate) const OTHER_SYSTEMS: &[&str] = &["rustc-web", "rust-web-src", "gcc-mingw-w64-x86-64"];

/// To pack a program for Windows, and to run it.
pub(crate) const WINDOWS: &[&str] = &["nsis", "zip", "wine", "wine64"];

/// Installs what is missing of the lists; says the command if this user may not.
pub(crate) fn install(lists: &[&[&str]]) -> Result<(), Fault> {
    let wanted = lists.concat();
    if let Some(words) = elsewhere(std::env::consts::OS, &wanted) {
        println!("{words}");
        return Ok(());
    }
    let Ok(output) = Step::new("dpkg-query")
        .args(["--show", "--showformat", "${Package} ${db:Status-Status}\n"])
        .listen()
    else {
        println!("this is no Debian system; needed are the like of: {}", wanted.join(" "));
        return Ok(());
    };
    let missing = missing(&wanted, &String::from_utf8_lossy(&output.stdout));
    if missing.is_empty() {
        return Ok(());
    }
    let Some(prefix) = privilege(is_root()?, has_sudo()) else {
        return Err(Fault::Packages(command(&missing)));
    };
    println!("installing {}", missing.join(" "));
    // Lists of packages may be absent on a fresh system; a failed update still leaves the old ones.
    if let Err(fault) = apt_get(prefix, &["update", "--quiet"]).run() {
        eprintln!("{fault}; going on with the lists there are");
    }
    apt_get(prefix, INSTALL).args(&missing).run()
}

/// What is said on a system that has no such packages; `None` on Linux. Nothing is installed there: sound and windows
/// come with the system, and what compiled this program compiles evenwave, too.
fn elsewhere(system: &str, wanted: &[&str]) -> Option<String> {
    let name = match system {
        "linux" => return None,
        "macos" => "macOS",
        "windows" => "Windows",
        other => other,
    };
    let comes_along = [BUILD, WINDOW, DISPLAY, DRAW].concat();
    let missing: Vec<&str> =
        wanted.iter().copied().filter(|package| !comes_along.contains(package)).collect();
    Some(if missing.is_empty() {
        format!("on {name} evenwave needs nothing besides; nothing is installed")
    } else {
        format!(
            "on {name} nothing is installed from here; needed are the like of: {}",
            missing.join(" ")
        )
    })
}

const INSTALL: &[&str] = &[
    "install",
    "--yes",
    "--quiet",
    "--no-install-recommends",
    "--option",
    "DPkg::Lock::Timeout=300",
];

fn apt_get(prefix: &[&str], arguments: &[&str]) -> Step {
    let words = [prefix, &["env", "DEBIAN_FRONTEND=noninteractive", "apt-get"], arguments].concat();
    Step::new(words[0]).args(&words[1..])
}

/// The packages of `wanted` that are not installed, each once, by the output of `dpkg-query`:
/// a name and a status a line.
fn missing<'a>(wanted: &[&'a str], installed: &str) -> Vec<&'a str> {
    let mut missing: Vec<&str> = Vec::new();
    for name in wanted {
        let there =
            installed.lines().any(|line| line.split_once(' ') == Some((*name, "installed")));
        if !there && !missing.contains(name) {
            missing.push(name);
        }
    }
    missing
}

/// What goes before a command that needs root; `None` if there is no way.
fn privilege(root: bool, sudo: bool) -> Option<&'static [&'static str]> {
    match (root, sudo) {
        (true, _) => Some(&[]),
        (false, true) => Some(&["sudo"]),
        (false, false) => None,
    }
}

/// The command that installs the packages, for a reader to run.
fn command(missing: &[&str]) -> String {
    format!("apt-get install --no-install-recommends {}", missing.join(" "))
}

fn is_root() -> Result<bool, Fault> {
    let output = Step::new("id").args(["-u"]).listen()?;
    Ok(output.stdout.trim_ascii() == b"0")
}

fn has_sudo() -> bool {
    let Some(path) = std::env::var_os("PATH") else {
        return false;
    };
    std::env::split_paths(&path).any(|folder| folder.join("sudo").is_file())
}

#[cfg(test)]
mod tests {
    use super::*;

    const INSTALLED: &str = "gcc installed\nlibc6-dev installed\npkg-config config-files\n";

    #[test]
    fn only_what_is_not_installed_is_missing() {
        assert_eq!(missing(&["gcc", "libc6-dev"], INSTALLED), [""; 0]);
        assert_eq!(missing(&["gcc", "libgl1"], INSTALLED), ["libgl1"]);
    }

    #[test]
    fn a_removed_package_with_its_settings_left_is_missing() {
        assert_eq!(missing(&["pkg-config"], INSTALLED), ["pkg-config"]);
    }

    #[test]
    fn a_name_that_begins_alike_does_not_count() {
        assert_eq!(missing(&["libc6"], INSTALLED), ["libc6"]);
    }

    #[test]
    fn a_package_of_two_lists_is_named_once() {
        let wanted = [BUILD, BUILD].concat();
        assert_eq!(missing(&wanted, ""), BUILD);
    }

    #[test]
    fn root_needs_no_sudo_and_no_way_is_said() {
        assert_eq!(privilege(true, true), Some(&[][..]));
        assert_eq!(privilege(false, true), Some(&["sudo"][..]));
        assert_eq!(privilege(false, false), None);
    }

    #[test]
    fn where_there_is_no_apt_nothing_is_installed_and_what_is_missing_is_told() {
        let practise = [BUILD, WINDOW].concat();
        assert_eq!(elsewhere("linux", &practise), None);
        assert_eq!(
            elsewhere("macos", &practise).as_deref(),
            Some("on macOS evenwave needs nothing besides; nothing is installed")
        );
        assert_eq!(
            elsewhere("windows", &[&practise[..], FLAC].concat()).as_deref(),
            Some("on Windows nothing is installed from here; needed are the like of: flac")
        );
    }

    #[test]
    fn the_fault_says_the_exact_command() {
        let fault = Fault::Packages(command(&["libgl1", "libxi6"]));
        assert_eq!(
            fault.to_string(),
            "missing packages; as root, run: apt-get install --no-install-recommends libgl1 libxi6"
        );
    }
}
