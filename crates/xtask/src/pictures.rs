//! Gate: the window on an invisible screen, on a recorded note, on silence and with no microphone;
//! pictures are kept below the target folder.

use std::path::{Path, PathBuf};

use crate::checks::Checks;
use crate::shell::{Fault, Step, built, remove, root, target, tool};

/// The recorded note that is played.
const RECORDED: &str = "tests/recordings/fluid-viola-064-l.wav";

/// When pictures are taken, in seconds from the start; the window needs a while to open.
const EARLY_SECS: u32 = 4;
const LATE_SECS: u32 = 6;

/// A drawn window has at least so many colours (a blank one has one or two)...
pub(crate) const LEAST_COLOURS: u64 = 20;
/// ...and a moving trace changes at least so many of its points in two seconds.
const LEAST_CHANGED: u64 = 500;

/// Takes the pictures, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let (Some(screen), Some(virtual_mic)) = (tool("screen"), tool("virtual-mic")) else {
        return Ok(());
    };
    let program = built("evenwave")?;
    let wav = root().join(RECORDED);
    let mut checks = Checks::default();
    // A player who knows the window: a new one is shown nothing that moves until the note is over.
    let settings = target().join("pictures-settings.ron");
    std::fs::write(&settings, "()")
        .map_err(|error| Fault::File { path: settings.clone(), error })?;
    for (name, microphone, moves) in [
        ("recorded-note", vec!["--loop".into(), wav.into_os_string()], true),
        ("silence", vec!["--silence".into()], false),
        ("no-microphone", vec!["--none".into()], true),
    ] {
        println!("\nthe window: {name}");
        let shots = target().join("pictures").join(name);
        // Pictures of an earlier run must not pass for those of this one.
        remove(&shots)?;
        let output = Step::new(&virtual_mic)
            .args(microphone)
            .arg("--")
            .arg(&screen)
            .args(["--at", &format!("{EARLY_SECS},{LATE_SECS}"), "--shots"])
            .arg(&shots)
            .arg("--")
            .arg(&program)
            .args(["practise", "--settings"])
            .arg(&settings)
            .listen()?;
        let words = String::from_utf8_lossy(&output.stderr);
        checks.that(
            output.status.success(),
            "opens, and ends well when its window is closed",
            words.lines().last().unwrap_or(""),
        );
        checks.that(!words.contains("panicked"), "no panic", "");
        let [early, late] =
            [EARLY_SECS, LATE_SECS].map(|secs| shots.join(format!("shot-{secs}.png")));
        for shot in [&early, &late] {
            let colours = colours(shot)?;
            checks.that(
                colours >= LEAST_COLOURS,
                &format!("at least {LEAST_COLOURS} colours in {}", file_name(shot)),
                &colours.to_string(),
            );
        }
        if moves {
            let changed = changed(&early, &late)?;
            checks.that(
                changed >= LEAST_CHANGED,
                &format!("at least {LEAST_CHANGED} points changed between them"),
                &changed.to_string(),
            );
        }
    }
    println!("\npictures: {}", target().join("pictures").display());
    checks.end("window")
}

fn file_name(path: &Path) -> String {
    let name = path.file_name().map(PathBuf::from).unwrap_or_default();
    name.display().to_string()
}

/// How many colours a picture has; 0 if it is not there.
pub(crate) fn colours(picture: &Path) -> Result<u64, Fault> {
    let output = Step::new("identify").args(["-format", "%k"]).arg(picture).listen()?;
    Ok(whole_number(&output.stdout))
}

/// How many points differ between two pictures; 0 if one is not there.
fn changed(one: &Path, other: &Path) -> Result<u64, Fault> {
    let output =
        Step::new("compare").args(["-metric", "AE"]).arg(one).arg(other).arg("null:").listen()?;
    Ok(whole_number(&output.stderr))
}

/// A count as ImageMagick prints it, `1234` or `1.234e+06`; 0 for anything else.
fn whole_number(printed: &[u8]) -> u64 {
    let text = String::from_utf8_lossy(printed);
    text.trim().parse::<f64>().map_or(0, |number| number as u64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counts_are_read_in_both_forms() {
        assert_eq!(whole_number(b"1234\n"), 1234);
        assert_eq!(whole_number(b"1.02e+06"), 1_020_000);
        assert_eq!(whole_number(b"unable to open image"), 0);
    }
}
