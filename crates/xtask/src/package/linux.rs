//! For Linux: a package for Debian and its kin, and an archive that needs no installation.

use std::fs;
use std::path::{Path, PathBuf};

use super::{
    VERSION, copy, day, filled, folder, fresh_debian, icon, licences, made, news, profiles, write,
};
use crate::checks::Checks;
use crate::packages;
use crate::shell::{Fault, Step, built, empty, root, target};
use crate::system::{System, released};

/// Who looks after the package. There is no mailbox yet, of which lintian is told.
const MAINTAINER: &str = "The evenwave authors <evenwave@localhost>";
const ICON_POINTS: [u32; 7] = [16, 24, 32, 48, 64, 128, 256];

/// Makes both and tries them.
pub(super) fn run(checks: &mut Checks) -> Result<(), Fault> {
    packages::install(&[packages::BUILD, packages::WINDOW, packages::PACKAGE])?;
    println!("\nfor Linux");
    let usual = built("evenwave")?;
    let program = program()?;
    let tree = folder().join("linux");
    lay(&tree, &program)?;
    texts_are_valid(checks, &tree)?;
    let archive = archive(&tree)?;
    made(checks, &archive)?;
    let package = debian(&tree)?;
    made(checks, &package)?;
    let said =
        Step::new("lintian").args(["--fail-on", "error", "--tag-display-limit", "0"]).arg(&package);
    let said = said.listen()?;
    let told = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    let warnings = told.lines().filter(|line| line.starts_with("W:")).count();
    checks.that(
        said.status.success(),
        "lintian finds no error",
        &format!("{warnings} warnings\n{told}"),
    );
    profiles::compare(checks, &usual, &program)?;
    fresh_debian::run(checks, &package)
}

/// The program, optimised, as players get it.
pub(crate) fn program() -> Result<PathBuf, Fault> {
    released(Step::cargo(["build", "--package", "evenwave", "--bin", "evenwave"])).run()?;
    Ok(target().join("release/evenwave"))
}

/// Lays out what is installed, as below `/usr`.
fn lay(tree: &Path, program: &Path) -> Result<(), Fault> {
    empty(tree)?;
    let at = |place: &str| tree.join(place);
    copy(program, &at("bin/evenwave"))?;
    Step::new("chmod").arg("755").arg(at("bin/evenwave")).run()?;
    write(&at("share/applications/evenwave.desktop"), filled("evenwave.desktop")?)?;
    write(&at("share/metainfo/org.evenwave.evenwave.metainfo.xml"), filled("metainfo.xml")?)?;
    let icons = at("share/icons/hicolor");
    copy(&root().join(super::ICON), &icons.join("scalable/apps/evenwave.svg"))?;
    for points in ICON_POINTS {
        icon(points, &icons.join(format!("{points}x{points}/apps/evenwave.png")))?;
    }
    let pages = at("share/man/man1");
    fs::create_dir_all(&pages).map_err(Fault::at(&pages))?;
    Step::new(target().join("debug/examples/man_pages")).arg(&pages).run()?;
    for page in files_below(&pages)? {
        Step::new("gzip").args(["-9", "--no-name"]).arg(page).run()?;
    }
    for (shell, place) in [
        ("bash", "share/bash-completion/completions/evenwave"),
        ("zsh", "share/zsh/vendor-completions/_evenwave"),
        ("fish", "share/fish/vendor_completions.d/evenwave.fish"),
    ] {
        let script = Step::new(program).args(["completions", shell]).listen()?.stdout;
        write(&at(place), script)?;
    }
    write(
        &at("share/doc/evenwave/licences-of-packages.txt"),
        licences::gathered(System::Linux.triple())?,
    )?;
    Step::new("gzip")
        .args(["-9", "--no-name"])
        .arg(at("share/doc/evenwave/licences-of-packages.txt"))
        .run()
}

/// What desktops and software centres read must be as they want it.
fn texts_are_valid(checks: &mut Checks, tree: &Path) -> Result<(), Fault> {
    let metainfo = tree.join("share/metainfo/org.evenwave.evenwave.metainfo.xml");
    for (tool, arguments, path) in [
        ("appstreamcli", &["validate", "--no-net"][..], metainfo),
        ("desktop-file-validate", &[], tree.join("share/applications/evenwave.desktop")),
    ] {
        let said = Step::new(tool).args(arguments).arg(path).listen()?;
        let told = [said.stdout, said.stderr].concat();
        let told = String::from_utf8_lossy(&told).trim().replace('\n', " ");
        checks.that(said.status.success(), &format!("{tool} has no objection"), &told);
    }
    Ok(())
}

/// The tree and how to use it, in one folder in one file.
fn archive(tree: &Path) -> Result<PathBuf, Fault> {
    let name = format!("evenwave-{VERSION}-linux-x86_64");
    let path = folder().join(format!("{name}.tar.gz"));
    let inside = folder().join(&name);
    empty(&inside)?;
    for part in ["bin", "share"] {
        Step::new("cp").args(["--archive"]).arg(tree.join(part)).arg(&inside).run()?;
    }
    write(&inside.join("README.txt"), filled("readme-linux.txt")?)?;
    for licence in ["LICENSE-MIT", "LICENSE-APACHE"] {
        copy(&root().join(licence), &inside.join(licence))?;
    }
    Step::new("tar")
        .args(["--create", "--gzip", "--owner=0", "--group=0", "--file"])
        .arg(&path)
        .arg("--directory")
        .arg(folder())
        .arg(&name)
        .run()?;
    Ok(path)
}

/// The package for Debian.
fn debian(tree: &Path) -> Result<PathBuf, Fault> {
    let architecture = Step::new("dpkg").arg("--print-architecture").listen()?.stdout;
    let architecture = String::from_utf8_lossy(&architecture).trim().to_owned();
    let inside = folder().join("debian");
    empty(&inside)?;
    Step::new("cp").args(["--archive"]).arg(tree).arg(inside.join("usr")).run()?;
    let about = inside.join("usr/share/doc/evenwave");
    write(&about.join("copyright"), filled("copyright")?)?;
    write(&about.join("changelog"), changelog()?)?;
    Step::new("gzip").args(["-9", "--no-name"]).arg(about.join("changelog")).run()?;
    let overrides = inside.join("usr/share/lintian/overrides/evenwave");
    write(&overrides, filled("lintian-overrides")?)?;
    let bytes = Step::new("du")
        .args(["--summarize", "--block-size=1024"])
        .arg(inside.join("usr"))
        .listen()?;
    let kilobytes = String::from_utf8_lossy(&bytes.stdout);
    let kilobytes = kilobytes.split_whitespace().next().unwrap_or("0").to_owned();
    let depends =
        linked_libraries(&tree.join("bin/evenwave"))? + ", " + &packages::WINDOW.join(", ");
    write(
        &inside.join("DEBIAN/control"),
        format!(
            "Package: evenwave\nVersion: {VERSION}\nArchitecture: {architecture}\nMaintainer: {MAINTAINER}\n\
             Installed-Size: {kilobytes}\nDepends: {depends}\nRecommends: xdg-desktop-portal\nSection: sound\n\
             Priority: optional\n{}",
            filled("description.txt")?
        ),
    )?;
    let path = folder().join(format!("evenwave_{VERSION}_{architecture}.deb"));
    Step::new("dpkg-deb").args(["--root-owner-group", "--build"]).arg(&inside).arg(&path).run()?;
    Ok(path)
}

/// The packages of the libraries that the program is linked with, as `Depends` wants them.
fn linked_libraries(program: &Path) -> Result<String, Fault> {
    // The tool reads which package this is to be from a file where it runs.
    let place = folder().join("linked");
    write(
        &place.join("debian/control"),
        "Source: evenwave\n\nPackage: evenwave\nArchitecture: any\n",
    )?;
    let said = Step::new("dpkg-shlibdeps").arg("-O").arg(program).within(&place).listen()?;
    let told = String::from_utf8_lossy(&said.stdout);
    let depends = told.trim().strip_prefix("shlibs:Depends=").unwrap_or_default();
    if depends.is_empty() {
        return Err(Fault::Tool(format!(
            "dpkg-shlibdeps names no library: {}",
            String::from_utf8_lossy(&said.stderr).trim()
        )));
    }
    Ok(depends.to_owned())
}

/// What is new, in the form that Debian reads.
fn changelog() -> Result<String, Fault> {
    let day = Step::new("date").args(["--utc", "--rfc-email", "--date", &day()?]).listen()?.stdout;
    let items: Vec<String> = news()?.iter().map(|item| folded(item)).collect();
    Ok(format!(
        "evenwave ({VERSION}) stable; urgency=medium\n\n{}\n -- {MAINTAINER}  {}\n",
        items.concat(),
        String::from_utf8_lossy(&day).trim()
    ))
}

/// An item of a changelog, in lines of at most 78 signs.
fn folded(item: &str) -> String {
    let mut lines = vec!["  *".to_owned()];
    for word in item.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= 78 => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("    {word}")),
        }
    }
    lines.join("\n") + "\n"
}

fn files_below(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let entries = fs::read_dir(folder).map_err(Fault::at(folder))?;
    Ok(entries.flatten().map(|entry| entry.path()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_line_of_a_changelog_is_too_long_and_no_word_is_lost() {
        let item = "evenwave hears a bowed note ".repeat(9);
        let folded = folded(&item);
        assert!(folded.lines().all(|line| line.chars().count() <= 78), "{folded}");
        assert_eq!(folded.split_whitespace().skip(1).count(), item.split_whitespace().count());
    }
}
