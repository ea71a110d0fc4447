//! Gate: the window in use, on an invisible screen with a virtual microphone. What it shows is read back
//! and held against what `evenwave measure` says of the same sound; the microphone goes and comes back;
//! takes are kept; the delay of the picture is told.

use std::ffi::OsStr;
use std::path::Path;

use serde_json::Value;

use crate::bench::{Bench, SEEN_AND_HEARD_MS, Shown};
use crate::checks::{Checks, number};
use crate::shell::{Fault, root};

/// A recorded note with vibrato, and one near the lowest of the cello.
const RECORDED: &str = "tests/recordings/fluid-cello-067-l.wav";
const LOW: &str = "tests/recordings/fluid-cello-037-l.wav";
/// The sound of a take.
const SOUND: &str = "sound.flac";
/// The screen has nothing to do but show.
const NOTHING: &[&str] = &[];
/// Two made notes, played again and again.
const PLAYED: &str = "tests/reference/tones/two-cello-notes.ron";

/// What is shown live may be this far from the measures of the whole note, as a share: the vibrato of a
/// recorded note is not the same from cycle to cycle.
const LIVE_NEAR: f64 = 0.1;
/// The picture may be this late: the median above 100 Hz, and the latest at the lowest note, in ms.
const MEDIAN_MS: f64 = 65.0;
const MOST_MS: f64 = 100.0;
/// Nothing is drawn any more this long after the start in silence, in seconds: the trace has flowed out.
const STILL_SECS: f64 = 22.0;
const STILL_UNTIL_SECS: f64 = 29.5;

/// Runs all, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(bench) = Bench::new("stand")? else {
        return Ok(());
    };
    let mut checks = Checks::default();
    shows_what_the_file_holds(&bench, &mut checks)?;
    low_note(&bench, &mut checks)?;
    goes_and_comes_back(&bench, &mut checks)?;
    silence(&bench, &mut checks)?;
    beat(&bench, &mut checks)?;
    checks.end("stand")
}

fn measured(bench: &Bench, sound: &Path) -> Result<Value, Fault> {
    let words = ["measure", "--json", "--instrument", "cello"].map(OsStr::new);
    let record = bench.record(&[&words[..], &[sound.as_os_str()]].concat())?;
    let notes = record["notes"].as_array().cloned().unwrap_or_default();
    let length = |note: &Value| number(&note["end_s"]) - number(&note["start_s"]);
    let longest = notes.into_iter().max_by(|a, b| length(a).total_cmp(&length(b)));
    Ok(longest.unwrap_or(Value::Null))
}

fn shows_what_the_file_holds(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\na recorded note in the window and from its file");
    let wav = root().join(RECORDED);
    let shown = bench.window("note", &["--after", "4"], Some(&wav), 12.0, NOTHING)?;
    shown.ends_well(checks);
    let file = measured(bench, &wav)?;
    let name = file["name"].as_str().unwrap_or("none");
    let last = shown.lines.last().cloned().unwrap_or(Value::Null);
    let head = last["note"].as_str().unwrap_or("");
    checks.that(
        head.starts_with(&format!("last note {name}")),
        &format!("the head shows {name}"),
        head,
    );
    let vibrato = &file["vibrato"];
    // What is written on the sheet is rounded to its last figure.
    for (what, unit, key, rounding) in
        [("rate", "Hz", "rate", 0.05), ("width", "cents", "width", 0.5)]
    {
        let unit_key = unit.to_lowercase();
        let due = number(&vibrato[format!("{key}_{unit_key}")]);
        let doubt = number(&vibrato[format!("{key}_se_{unit_key}")]);
        let read = first_number(last[what].as_str().unwrap_or(""));
        checks.that(
            (read - due).abs() <= doubt + rounding,
            &format!("{what} of the note: as measured, within its doubt"),
            &format!("{read} {unit} shown, {due:.2} ±{doubt:.2} measured"),
        );
        let live = median(shown.lines.iter().filter_map(|line| {
            let said = line[what].as_str()?;
            let live = !said.contains("last note");
            live.then(|| first_number(said)).filter(|n| n.is_finite())
        }));
        checks.that(
            (live / due - 1.0).abs() <= LIVE_NEAR,
            &format!("{what} shown live: near it"),
            &format!("{live} {unit} in the median"),
        );
    }
    let centre = first_number(head.split("centre").nth(1).unwrap_or(""));
    let due = number(&vibrato["centre_cents"]).abs();
    checks.that(
        (centre - due).abs() <= 0.5 + number(&vibrato["centre_se_cents"]),
        "centre: as measured",
        &format!("{centre} cents shown, {due:.2} measured"),
    );
    kept_take(bench, checks, "note", &file)?;
    shown.delays(checks);
    Ok(())
}

/// The take of that note measures as its file does.
fn kept_take(bench: &Bench, checks: &mut Checks, name: &str, file: &Value) -> Result<(), Fault> {
    let takes = bench.takes(name);
    checks.that(takes.len() == 1, "one take is kept", &takes.len().to_string());
    let Some(take) = takes.first() else {
        return Ok(());
    };
    let take = measured(bench, &take.join(SOUND))?;
    let (kept, due) = (number(&take["vibrato"]["rate_hz"]), number(&file["vibrato"]["rate_hz"]));
    checks.that(
        (kept - due).abs() <= number(&file["vibrato"]["rate_se_hz"]),
        "its sound measures as the file does, rate",
        &format!("{kept:.3} Hz, {due:.3} Hz"),
    );
    Ok(())
}

fn low_note(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nthe delay of the picture near the lowest note of the cello");
    let wav = root().join(LOW);
    let shown = bench.window("low", &["--after", "4"], Some(&wav), 9.0, NOTHING)?;
    let most = shown.most("delay_most_ms", 4.5, 8.5);
    checks.that(
        most <= MOST_MS,
        &format!("at most {MOST_MS} ms late"),
        &format!("{most:.0} ms at the latest"),
    );
    Ok(())
}

fn goes_and_comes_back(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nthe microphone is pulled out in the middle of a note, and plugged in again");
    let played = bench.tone(&root().join(PLAYED), "pulled")?;
    let (goes, back) = (8.0, 12.0);
    let faults = ["--loop", "--after", "2"];
    let (goes_after, back_after) = (goes.to_string(), back.to_string());
    let faults =
        [&faults[..], &["--unplug-after", &goes_after, "--replug-after", &back_after]].concat();
    let shown = bench.window("pulled", &faults, Some(&played), 24.0, NOTHING)?;
    shown.ends_well(checks);
    let told = shown.within(goes - 1.0, back + 1.0, "source");
    let gone = told.iter().find(|said| said.contains("gone"));
    checks.that(
        gone.is_some(),
        "says that the microphone is gone, and what to do",
        gone.map_or("", String::as_str),
    );
    let after = shown.within(back + 1.5, 24.0, "source");
    checks.that(
        after.iter().any(|said| said.starts_with("Listening")),
        "listens again by itself",
        after.last().map_or("", String::as_str),
    );
    let notes = shown.within(back + 2.0, 24.0, "rate");
    checks.that(
        notes.iter().any(|said| first_number(said).is_finite()),
        "notes are measured again",
        "",
    );
    let takes = bench.takes("pulled");
    let first = takes.first();
    let before = match first {
        Some(take) => measured(bench, &take.join(SOUND))?,
        None => Value::Null,
    };
    checks.that(
        first.is_some() && number(&before["end_s"]) > 0.5,
        "the take is kept up to the break",
        &format!("{} takes", takes.len()),
    );
    Ok(())
}

fn silence(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nsilence");
    let shown = bench.window("silence", &["--silence"], None, STILL_UNTIL_SECS + 0.5, NOTHING)?;
    shown.ends_well(checks);
    // To close the window is to move it.
    let lines = shown.lines.iter();
    let lines: Vec<&Value> =
        lines.filter(|line| number(&line["time_s"]) < STILL_UNTIL_SECS).collect();
    let drawn = |line: &&Value| number(&line["pictures"]);
    let until = lines
        .iter()
        .filter(|line| number(&line["time_s"]) < STILL_SECS)
        .map(drawn)
        .fold(0.0, f64::max);
    let after = lines.iter().map(drawn).fold(0.0, f64::max);
    checks.that(
        until > 10.0 && after - until <= 1.0,
        &format!("nothing is drawn any more after {STILL_SECS} s"),
        &format!("{until} pictures until then, {} after", after - until),
    );
    Ok(())
}

fn beat(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nthe metronome: when its beats are drawn (`beat` hears them)");
    let keys = ["--keys", "3:b"];
    let (shown, _) = Shown::in_time(["beat", "beat-again"], 0, |name| {
        bench.window(name, &["--silence"], None, 24.0, &keys)
    })?;
    shown.ends_well(checks);
    let apart = shown.beats_apart_ms();
    let most = apart.iter().fold(0.0_f64, |most, ms| most.max(ms.abs()));
    checks.that(
        apart.len() >= 15 && shown.beats_far() == 0,
        &format!("{} beats seen within {SEEN_AND_HEARD_MS} ms of their sound", apart.len()),
        &format!("{most:.1} ms at most"),
    );
    Ok(())
}

impl Shown {
    fn delays(&self, checks: &mut Checks) {
        let delay = median(self.lines.iter().map(|line| number(&line["delay_median_ms"])));
        checks.that(
            delay <= MEDIAN_MS,
            &format!("the picture is at most {MEDIAN_MS} ms late in the median"),
            &format!("{delay:.0} ms"),
        );
        println!(
            "       latest {:.0} ms; own work {:.1} ms at the 99th percentile (this build)",
            self.most("delay_most_ms", 0.0, f64::MAX),
            self.most("work_p99_ms", 3.0, f64::MAX),
        );
    }
}

/// The first number in what is said; NaN, which passes no check, where there is none.
fn first_number(said: &str) -> f64 {
    said.split(|c: char| c.is_whitespace() || c == ':' || c == ',')
        .find_map(|word| word.parse().ok())
        .unwrap_or(f64::NAN)
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut values: Vec<f64> = values.filter(|value| value.is_finite()).collect();
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_from_what_is_said() {
        assert_eq!(first_number("rate of the last note: 5.6 Hz ±0.2"), 5.6);
        assert_eq!(first_number(" 4 cents flat ±0.3"), 4.0);
        assert!(first_number("rate: unknown").is_nan());
    }

    #[test]
    fn the_median_passes_over_what_is_no_number() {
        assert_eq!(median([3.0, f64::NAN, 1.0, 2.0].into_iter()), 2.0);
        assert!(median(std::iter::empty()).is_nan());
    }
}
