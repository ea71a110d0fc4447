//! What players get beside what developers build: size, start-up, time to measure, and whether both hear the same.

use std::path::{Path, PathBuf};
use std::time::Instant;

use serde_json::Value;

use super::{folder, megabytes, write};
use crate::checks::{Checks, farthest, number, records};
use crate::display::Display;
use crate::shell::{Fault, Step, root};

/// No figure of the two may be farther apart: they compute the same, in another order here and there.
const SAME: f64 = 1e-5;
/// A tone of known vibrato, and how near it must be read: half the doubt that is told of such a note.
const RATE_HZ: f64 = 5.3;
const WIDTH_CENTS: f64 = 46.0;
const RATE_NEAR_HZ: f64 = 0.05;
const WIDTH_NEAR_CENTS: f64 = 1.0;
/// How often each is started; the quickest start tells least of what else the machine does.
const STARTS: usize = 10;
const WINDOWS: usize = 3;
const WINDOW_SECS: u64 = 20;

/// What was seen of one program.
struct Seen {
    megabytes: f64,
    start_ms: f64,
    window_ms: Option<f64>,
    measure_secs: f64,
    figures: Value,
    rate_hz: f64,
    width_cents: f64,
}

/// Prints both side by side and checks that they hear alike.
pub(super) fn compare(checks: &mut Checks, usual: &Path, released: &Path) -> Result<(), Fault> {
    let [usual, released] = [seen(usual)?, seen(released)?];
    let window = |seen: &Seen| seen.window_ms.map_or("-".to_owned(), |ms| format!("{ms:.0}"));
    println!("\n{:42}{:>14}{:>14}", "", "development", "release");
    for (what, one, other) in [
        ("size (MB)", format!("{:.1}", usual.megabytes), format!("{:.1}", released.megabytes)),
        (
            "start of a command (ms)",
            format!("{:.0}", usual.start_ms),
            format!("{:.0}", released.start_ms),
        ),
        ("first picture of the window (ms)", window(&usual), window(&released)),
        (
            "the recorded notes measured (s)",
            format!("{:.2}", usual.measure_secs),
            format!("{:.2}", released.measure_secs),
        ),
        (
            "a tone of 5.3 Hz: rate (Hz)",
            format!("{:.4}", usual.rate_hz),
            format!("{:.4}", released.rate_hz),
        ),
        (
            "a tone of 46 cents: width (cents)",
            format!("{:.3}", usual.width_cents),
            format!("{:.3}", released.width_cents),
        ),
    ] {
        println!("  {what:<40}{one:>14}{other:>14}");
    }
    println!();
    let apart = farthest(&usual.figures, &released.figures);
    checks.that(
        apart <= SAME,
        "both measure the recorded notes alike",
        &format!("at most {apart:.1e} apart"),
    );
    checks.that(
        (released.rate_hz - RATE_HZ).abs() <= RATE_NEAR_HZ
            && (released.width_cents - WIDTH_CENTS).abs() <= WIDTH_NEAR_CENTS,
        "the released one reads a known tone",
        &format!("{:.3} Hz, {:.2} cents", released.rate_hz, released.width_cents),
    );
    Ok(())
}

fn seen(program: &Path) -> Result<Seen, Fault> {
    let mut start_ms = f64::INFINITY;
    for _ in 0..STARTS {
        let begun = Instant::now();
        Step::new(program).arg("--version").listen()?;
        start_ms = start_ms.min(1e3 * begun.elapsed().as_secs_f64());
    }
    let begun = Instant::now();
    let measured = Step::new(program).args(["measure", "--json"]).args(recorded()?).listen()?;
    let measure_secs = begun.elapsed().as_secs_f64();
    let figures = records(&measured.stdout);
    let note = known_tone(program)?;
    Ok(Seen {
        megabytes: megabytes(program)?,
        start_ms,
        window_ms: first_picture_ms(program)?,
        measure_secs,
        figures: Value::Array(figures),
        rate_hz: number(&note["vibrato"]["rate_hz"]),
        width_cents: number(&note["vibrato"]["width_cents"]),
    })
}

/// The recorded notes of the project, in order.
pub(crate) fn recorded() -> Result<Vec<PathBuf>, Fault> {
    let place = root().join("tests/recordings");
    let entries = std::fs::read_dir(&place).map_err(Fault::at(&place))?;
    let mut files: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
    files.retain(|path| path.extension().is_some_and(|ending| ending == "wav"));
    files.sort();
    Ok(files)
}

/// The note that the program reads of a tone it made itself.
fn known_tone(program: &Path) -> Result<Value, Fault> {
    let [spec, wav] = ["known.ron", "known.wav"].map(|name| folder().join(name));
    write(
        &spec,
        format!(
            "(seed: 7, lines: [(notes: [(start: 0.5, length: 3.0, f0: 220.0, \
             vibrato: Some((rate: {RATE_HZ:?}, width: {WIDTH_CENTS:?})))])])"
        ),
    )?;
    Step::new(program).arg("tone").arg(&spec).arg("-o").arg(&wav).arg("--replace").run()?;
    let measured = Step::new(program).args(["measure", "--json"]).arg(&wav).listen()?;
    Ok(records(&measured.stdout).first().map_or(Value::Null, |file| file["notes"][0].clone()))
}

/// The time to the first picture, the shortest of some; `None` where no window can be opened.
fn first_picture_ms(program: &Path) -> Result<Option<f64>, Fault> {
    let Some(display) = Display::open()? else {
        return Ok(None);
    };
    let place = folder().join("start-up");
    let mut best: Option<f64> = None;
    for _ in 0..WINDOWS {
        crate::shell::empty(&place)?;
        let watch = place.join("shown.jsonl");
        let mut window = Step::new(program)
            .args(["practise", "--demo", "four-fingers", "--settings"])
            .arg(place.join("settings.ron"))
            .arg("--journal")
            .arg(place.join("takes"))
            .arg("--watch")
            .arg(&watch)
            .env("DISPLAY", &display.name)
            .start_quietly()?;
        let first = crate::display::first_picture(&watch, WINDOW_SECS);
        window.kill().and_then(|()| window.wait()).ok();
        let ms = first.map(|line| 1e3 * number(&line["time_s"]));
        best = [best, ms].into_iter().flatten().min_by(f64::total_cmp);
    }
    Ok(best)
}
