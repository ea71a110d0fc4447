//! For Windows: an archive, and an installer for one player without an administrator.

use std::path::{Path, PathBuf};

use super::{VERSION, copy, filled, folder, icon, licences, made, write};
use crate::checks::Checks;
use crate::other_systems::build_for_windows;
use crate::packages;
use crate::shell::{Fault, Step, empty, root};
use crate::system::System;

/// What is built: one for the command line, one for the window alone.
const PROGRAMS: [&str; 2] = ["evenwave", "evenwave-window"];
/// Sizes of the icon.
const ICON_POINTS: [u32; 5] = [16, 32, 48, 64, 256];

/// Makes both.
pub(crate) fn run(checks: &mut Checks) -> Result<(), Fault> {
    packages::install(&[
        packages::BUILD,
        packages::PACKAGE,
        packages::OTHER_SYSTEMS,
        packages::WINDOWS,
    ])?;
    println!("\nfor Windows");
    let place = folder().join("windows-icons");
    empty(&place)?;
    let icon = place.join("evenwave.ico");
    icons(&icon)?;
    let programs = build_for_windows(&PROGRAMS, &resources(&icon)?)?;
    let name = format!("evenwave-{VERSION}-windows-x86_64");
    let files = folder().join(&name);
    empty(&files)?;
    for program in PROGRAMS.map(|name| format!("{name}.exe")) {
        copy(&programs.join(&program), &files.join(&program))?;
        let within = Step::new("wrestool")
            .args(["--extract", "--type=group_icon"])
            .arg(files.join(&program))
            .listen()?;
        // The tool puts empty bytes behind it.
        let drawn = std::fs::read(&icon).map_err(Fault::at(&icon))?;
        checks.that(
            within.stdout.starts_with(&drawn),
            &format!("{program} shows the icon of evenwave"),
            &format!("{} sizes in it", ICON_POINTS.len()),
        );
    }
    let needed = libraries(&files.join("evenwave.exe"))?;
    let strange: Vec<&String> = needed.iter().filter(|name| is_a_compilers(name)).collect();
    checks.that(
        strange.is_empty() && !needed.is_empty(),
        "it needs no library that Windows lacks",
        &format!("{} libraries; of a compiler: {strange:?}", needed.len()),
    );
    write(&files.join("licences.txt"), licences::gathered(System::Windows.triple())?)?;
    write(&files.join("readme.txt"), filled("readme-windows.txt")?.replace('\n', "\r\n"))?;
    let archive = folder().join(format!("{name}.zip"));
    std::fs::remove_file(&archive).ok();
    Step::new("zip")
        .args(["--quiet", "--recurse-paths"])
        .arg(&archive)
        .arg(&name)
        .within(&folder())
        .run()?;
    made(checks, &archive)?;
    let installer = installer();
    Step::new("makensis")
        .args(["-V2", &format!("-DVERSION={VERSION}")])
        .arg(format!("-DFILES={}", files.display()))
        .arg(format!("-DICON={}", icon.display()))
        .arg(format!("-DOUT={}", installer.display()))
        .arg(root().join("assets/packaging/windows.nsi"))
        .run()?;
    made(checks, &installer)
}

/// Where the installer lies.
pub(crate) fn installer() -> PathBuf {
    folder().join(format!("evenwave-{VERSION}-setup.exe"))
}

/// The icon in all its sizes, as Windows wants them: in one file.
fn icons(path: &Path) -> Result<(), Fault> {
    let sizes = ICON_POINTS.map(|points| path.with_file_name(format!("{points}.png")));
    for (points, size) in ICON_POINTS.iter().zip(&sizes) {
        icon(*points, size)?;
    }
    Step::new("icotool").args(["--create", "--output"]).arg(path).args(&sizes).run()
}

/// What Windows shows of a program before it runs, to be linked into it: icon, name, version.
fn resources(icon: &Path) -> Result<PathBuf, Fault> {
    let told = icon.with_file_name("evenwave.rc");
    write(&told, filled("windows.rc")?.replace("@NUMBERS@", &(VERSION.replace('.', ",") + ",0")))?;
    let linked = icon.with_file_name("evenwave.res");
    Step::new("x86_64-w64-mingw32-windres")
        .args(["--codepage=65001", "--output-format=coff", "--include-dir"])
        .args(icon.parent())
        .args([&told, &linked])
        .run()?;
    Ok(linked)
}

/// The libraries that a program for Windows asks for when it starts.
fn libraries(program: &Path) -> Result<Vec<String>, Fault> {
    let said =
        Step::new("x86_64-w64-mingw32-objdump").arg("--private-headers").arg(program).listen()?;
    let text = String::from_utf8_lossy(&said.stdout);
    let names = text.lines().filter_map(|line| line.trim().strip_prefix("DLL Name: "));
    Ok(names.map(str::to_lowercase).collect())
}

/// Whether a library comes with the compiler and not with Windows.
fn is_a_compilers(name: &str) -> bool {
    ["libgcc", "libstdc++", "libwinpthread"].iter().any(|begin| name.starts_with(begin))
}
