//! The window under wine: on a demo session, its settings kept, its journal locked, and a drill by keys.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::Value;

use super::Bench;
use crate::bench::keys;
use crate::checks::{Checks, records};
use crate::pictures::{LEAST_COLOURS, colours};
use crate::shell::{Fault, Step, tool};

/// Until the window has opened and drawn, in seconds; wine takes its time.
const OPENS_SECS: f64 = 20.0;
/// The drill that the sound plays, where it stands in the list, and the sound.
const DRILL: &str = "all-in-a-row";
const PLACE: usize = 4;
const SESSION: &str = "ours-1.wav";
/// From the key that starts the drill to the end of its count-in, and the length of the round with what follows it.
const COUNT_IN_SECS: f64 = 6.0;
const ROUND_SECS: f64 = 24.0;

/// Opens it, if the tool that presses keys is there.
pub(super) fn run(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nthe window under wine");
    let Some(screen) = tool("screen") else {
        return Ok(());
    };
    demo(bench, &screen, checks)?;
    // What was set by a key in one window holds in the next.
    let set = || {
        let text = fs::read_to_string(bench.folder.join("settings.ron")).unwrap_or_default();
        text.lines().find(|line| line.contains("showing:")).map(|line| line.trim().to_owned())
    };
    let before = set();
    drill(bench, &screen, checks)?;
    checks.that(
        before.is_some() && before == set(),
        "what a key sets is kept, and holds at the next start",
        &format!("{before:?}, {:?}", set()),
    );
    Ok(())
}

/// What the window wrote of itself, and whether it ended well.
struct Shown {
    lines: Vec<Value>,
    words: String,
    well: bool,
}

impl Bench {
    /// Opens the window on a screen that nobody sees; meanwhile `meanwhile` is done.
    fn window(
        &self,
        screen: &Path,
        (name, words): (&str, &[&str]),
        acts: &[String],
        meanwhile: impl FnOnce() -> Result<(), Fault>,
    ) -> Result<Shown, Fault> {
        let watch = self.folder.join(format!("{name}.jsonl"));
        // What ran before, without a screen, leaves wine's desktop behind for a while: a window on it is never seen.
        Step::new("wineserver").arg("-k").envs(&self.environment()).listen()?;
        let child = Step::new(screen)
            .arg("--shots")
            .arg(self.folder.join("pictures").join(name))
            .args(acts)
            .args(["--", "wine"])
            .arg(self.installed("evenwave.exe"))
            .arg("practise")
            .args(words)
            .args(["--settings", "settings.ron", "--journal", "window-takes", "--watch"])
            .arg(format!("{name}.jsonl"))
            .within(&self.folder)
            .envs(&self.environment())
            .start_listening()?;
        meanwhile()?;
        let output = child.wait_with_output().map_err(Fault::at(screen))?;
        Ok(Shown {
            lines: records(&fs::read(watch).unwrap_or_default()),
            words: String::from_utf8_lossy(&output.stderr).into_owned(),
            well: output.status.success(),
        })
    }

    fn picture(&self, name: &str, secs: f64) -> PathBuf {
        self.folder.join("pictures").join(name).join(format!("shot-{secs}.png"))
    }
}

/// The whole demo session; a setting changed by a key is there at the next start.
fn demo(bench: &Bench, screen: &Path, checks: &mut Checks) -> Result<(), Fault> {
    let words = ["--demo", "four-fingers"];
    let early = OPENS_SECS;
    let late = OPENS_SECS + 20.0;
    let acts = [
        ["--at".to_owned(), format!("{early},{late}")],
        ["--for".to_owned(), (late + 3.0).to_string()],
        keys(OPENS_SECS + 1.0, "F4"),
        keys(OPENS_SECS + 4.0, "F2"),
        keys(OPENS_SECS + 5.0, "v"),
    ]
    .concat();
    let shown = bench.window(screen, ("demo", &words), &acts, || {
        // While the window keeps takes others may read and not write.
        std::thread::sleep(Duration::from_secs_f64(OPENS_SECS + 6.0));
        let in_journal = |words: &[&str]| {
            bench.theirs(&[&["journal", "--journal", "window-takes"], words].concat())
        };
        let read = in_journal(&["list"])?;
        let written = in_journal(&["index"])?;
        let told = String::from_utf8_lossy(&written.stderr).trim().to_owned();
        checks.that(
            read.status.success() && !written.status.success() && !told.is_empty(),
            "while it is open, its journal is read and not written",
            &told,
        );
        Ok(())
    })?;
    checks.that(
        shown.well && !shown.words.contains("panicked"),
        "it opens and ends well",
        shown.words.lines().last().unwrap_or(""),
    );
    let of = |what: &str| shown.lines.iter().filter(|line| !line[what].is_null()).count();
    checks.that(
        of("rate") > 4 && of("width") > 4,
        "it shows rates and widths of the demo session",
        &format!("{} of {} lines", of("rate"), shown.lines.len()),
    );
    for at in [early, late] {
        let colours = colours(&bench.picture("demo", at))?;
        checks.that(
            colours >= LEAST_COLOURS,
            &format!("a picture at {at} s"),
            &format!("{colours} colours"),
        );
    }
    Ok(())
}

/// A drill by the keys of a pedal, heard from a file: the round is judged as the command judges its take.
fn drill(bench: &Bench, screen: &Path, checks: &mut Checks) -> Result<(), Fault> {
    let start = OPENS_SECS + 4.0;
    let begins = start + COUNT_IN_SECS;
    delayed(&bench.folder.join(SESSION), begins, &bench.folder.join("round.wav"))?;
    let steps: Vec<&str> = std::iter::repeat_n("Next", PLACE).collect();
    let ends = begins + ROUND_SECS;
    let acts = [
        keys(OPENS_SECS, "F3"),
        keys(OPENS_SECS + 1.0, &steps.join(" ")),
        keys(OPENS_SECS + 2.5, "Return"),
        keys(start, "Return"),
        ["--at".to_owned(), format!("{},{},{ends}", OPENS_SECS + 3.0, begins + 4.0)],
        ["--for".to_owned(), (ends + 4.0).to_string()],
    ]
    .concat();
    let words = ["--sound", "round.wav", "--instrument", "cello"];
    let shown = bench.window(screen, ("drill", &words), &acts, || Ok(()))?;
    checks.that(
        shown.well && !shown.words.contains("panicked"),
        "a drill is played by keys, and the window ends well",
        shown.words.lines().last().unwrap_or(""),
    );
    let round = shown.lines.iter().map(|line| &line["round"]).find(|round| round.is_object());
    let made = |round: &Value| -> Vec<u64> {
        let turns = round["turns"].as_array().map_or(&[][..], Vec::as_slice);
        turns.iter().filter_map(|turn| turn["made"].as_u64()).collect()
    };
    let words = ["drill", DRILL, "--json", "--instrument", "cello", SESSION];
    let by_command = records(&bench.ours(&words)?.stdout);
    let (here, there) =
        (round.map(made).unwrap_or_default(), by_command.first().map(made).unwrap_or_default());
    checks.that(
        !here.is_empty() && here == there,
        "its round is counted as the command counts it",
        &format!("{here:?}, {there:?}"),
    );
    println!("       pictures: {}", bench.folder.join("pictures").display());
    Ok(())
}

/// A sound that begins later: a WAV file of 32-bit floats, as `tone` writes them, behind so much silence.
fn delayed(wav: &Path, secs: f64, to: &Path) -> Result<(), Fault> {
    const RATE_HZ: f64 = 48_000.0;
    let sound = fs::read(wav).map_err(Fault::at(wav))?;
    let silence = 4 * (secs * RATE_HZ) as usize;
    let begin = sound.windows(4).position(|four| four == b"data").map_or(sound.len(), |at| at + 8);
    let (head, samples) = sound.split_at(begin);
    let mut longer = head.to_vec();
    let grow = |longer: &mut [u8], at: usize| {
        let old = u32::from_le_bytes([longer[at], longer[at + 1], longer[at + 2], longer[at + 3]]);
        longer[at..at + 4].copy_from_slice(&(old + silence as u32).to_le_bytes());
    };
    grow(&mut longer, 4);
    grow(&mut longer, begin - 4);
    longer.resize(begin + silence, 0);
    longer.extend_from_slice(samples);
    fs::write(to, longer).map_err(Fault::at(to))
}
