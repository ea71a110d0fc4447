//! For macOS: the folder of the program, with all that can be made here. The program itself is built on a Mac.

use std::fs;

use super::{copy, filled, folder, icon, licences, write};
use crate::checks::Checks;
use crate::packages;
use crate::shell::{Fault, Step, empty, root};
use crate::system::System;

/// Sizes that an icon of macOS may have.
const ICON_POINTS: [u32; 5] = [16, 32, 128, 256, 512];

/// Makes it and reads it back.
pub(super) fn run(checks: &mut Checks) -> Result<(), Fault> {
    packages::install(&[packages::PACKAGE])?;
    println!("\nfor macOS");
    let contents = folder().join("macos/evenwave.app/Contents");
    empty(&contents)?;
    let resources = contents.join("Resources");
    write(&contents.join("Info.plist"), filled("Info.plist")?)?;
    write(&resources.join("licences.txt"), licences::gathered(System::Mac.triple())?)?;
    for licence in ["LICENSE-MIT", "LICENSE-APACHE"] {
        copy(&root().join(licence), &resources.join(licence))?;
    }
    let programs = contents.join("MacOS");
    fs::create_dir_all(&programs).map_err(Fault::at(&programs))?;
    write(&folder().join("macos/readme.txt"), filled("readme-macos.txt")?)?;
    let pictures = folder().join("macos-icons");
    empty(&pictures)?;
    let sizes = ICON_POINTS.map(|points| pictures.join(format!("{points}.png")));
    for (points, path) in ICON_POINTS.iter().zip(&sizes) {
        icon(*points, path)?;
    }
    let icons = resources.join("evenwave.icns");
    let said = Step::new("png2icns").arg(&icons).args(&sizes).listen()?;
    checks.that(said.status.success() && icons.is_file(), "the icon has all sizes", "");
    let ask = "import plistlib,sys; print(plistlib.load(open(sys.argv[1],'rb'))['NSMicrophoneUsageDescription'])";
    let said = Step::new("python3").args(["-c", ask]).arg(contents.join("Info.plist")).listen()?;
    let reason = String::from_utf8_lossy(&said.stdout).trim().to_owned();
    checks.that(
        said.status.success() && reason.contains("vibrato"),
        "Info.plist is read, and says why it listens",
        &reason,
    );
    Ok(())
}
