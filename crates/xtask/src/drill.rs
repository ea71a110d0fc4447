//! Gate: a whole drill in the window, on an invisible screen with a virtual microphone, by keys that a
//! page-turner pedal can send. What the window finds is held against what `evenwave drill` finds in the
//! take that was kept of it, and against what the sound was made with.

use std::ffi::OsString;
use std::fs;

use serde_json::Value;

use crate::bench::{Bench, SEEN_AND_HEARD_MS, Shown, keys};
use crate::checks::{Checks, number};
use crate::shell::{Fault, root};

/// A round with a gap at one change and a fourth finger that is pressed sharp, and its drill.
const SESSION: &str = "demo-sessions/stop-and-press.ron";
const DRILL: &str = "all-in-a-row";
/// Where that drill stands in the list, from 0.
const PLACE: usize = 4;
/// What is known of the session: which change has the gap, and which turn is sharp.
const GAP_TURN: u64 = 1;
const SHARP_TURN: u64 = 3;
/// The sound of the session begins so long after its start; the first beat that is played falls so long
/// after the start of the window: keys, count-in of four beats at 60 to the minute.
const LEAD_SECS: f64 = 0.6;
const START_KEY_SECS: f64 = 6.0;
const COUNT_IN_SECS: f64 = 4.0;
/// Until a loudspeaker plays that was at rest; the player comes in a little late rather than early.
const OPENS_SECS: f64 = 1.1;
/// Four beats of count-in, and two for each of four turns.
const BEATS: usize = 12;
/// So many of them may be far from their sound: pictures drawn by the processor can be held up; the beat
/// itself is checked by `beat`.
const HELD_UP: usize = 2;
/// The two may differ by so much: the take begins between two frames of the window's.
const GAPS_NEAR_SECS: f64 = 0.03;
const RATES_NEAR_HZ: f64 = 0.05;

/// Runs it, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(bench) = Bench::new("drill")? else {
        return Ok(());
    };
    // A bad drill of the player's own is listed and harms nothing.
    let own = bench.folder.join("drills");
    fs::create_dir_all(&own).map_err(|error| bench.failed(error))?;
    let broken = "(version: 1,\n  title: \"b\",\n  kind: Waltz,\n)";
    fs::write(own.join("broken.ron"), broken).map_err(|error| bench.failed(error))?;

    println!("\na drill in the window, by keys a pedal can send");
    let mut checks = Checks::default();
    let names = ["drill", "drill-again"];
    let (played, name) = Shown::in_time(names, HELD_UP, |name| played(&bench, name))?;
    played.ends_well(&mut checks);
    let takes = bench.takes(&name);
    checks.that(takes.len() == 1, "one take is kept", &takes.len().to_string());
    if let Some(take) = takes.first() {
        let words = ["drill".into(), DRILL.into(), take.clone().into_os_string()];
        bench.same_report(&words, &mut checks)?;
    }
    let words = ["drill", DRILL, "--json", "--instrument", "cello"].map(OsString::from);
    let sound = takes.first().map(|take| take.join("sound.flac").into());
    let words: Vec<OsString> = words.into_iter().chain(sound).collect();
    let by_command = bench.record(&words)?;
    let shown = &played.lines;
    let listed = shown.iter().rev().find_map(|line| line["drills"].as_array());
    let bad = listed.into_iter().flatten().filter_map(Value::as_str);
    let bad: Vec<&str> = bad.filter(|said| said.contains("broken.ron")).collect();
    checks.that(
        bad.len() == 1 && bad[0].contains("line 3"),
        "a bad drill file is told with its line",
        bad.first().unwrap_or(&"not told"),
    );
    // The virtual microphone does not hear the loudspeaker, and that is said.
    let measured = shown.iter().find(|line| line["calibrated"].is_boolean());
    let said = measured.map_or("nothing", |line| line["told"].as_str().unwrap_or("no words"));
    checks.that(
        measured.is_some_and(|line| line["calibrated"] == false) && said.contains("heard"),
        "a loudspeaker that is not heard gives no delay, and words",
        said,
    );
    let rounds: Vec<&Value> =
        shown.iter().map(|line| &line["round"]).filter(|round| round.is_object()).collect();
    checks.that(rounds.len() == 1, "one round is judged", &rounds.len().to_string());
    let round = rounds.first().copied().unwrap_or(&Value::Null);
    seen_and_heard(&mut checks, &played);
    same_counts(&mut checks, round, &by_command);
    let text = takes
        .first()
        .and_then(|take| fs::read_to_string(take.join("take.ron")).ok())
        .unwrap_or_default();
    kept_counts(&mut checks, round, &text);
    same_findings(&mut checks, round, &by_command);
    checks.end("drill")
}

/// The drill, played in the window.
fn played(bench: &Bench, name: &str) -> Result<Shown, Fault> {
    bench.keep_reports(name)?;
    let wav = bench.tone(&root().join(SESSION), "round")?;
    let first_beat = START_KEY_SECS + OPENS_SECS + COUNT_IN_SECS;
    let shots = [
        START_KEY_SECS - 2.0,
        START_KEY_SECS - 0.5,
        START_KEY_SECS + 2.5,
        first_beat + 3.5,
        first_beat + 13.0,
        first_beat + 17.5,
    ];
    let shots = shots.map(|at| at.to_string()).join(",");
    let steps: Vec<&str> = std::iter::repeat_n("Next", PLACE).collect();
    let screen = [
        keys(START_KEY_SECS - 4.0, "F3"),
        keys(START_KEY_SECS - 3.0, &steps.join(" ")),
        keys(START_KEY_SECS - 1.5, "Return"),
        keys(START_KEY_SECS - 0.8, "d"),
        keys(START_KEY_SECS, "Return"),
        // A report of the round.
        keys(first_beat + 13.5, "x"),
        keys(first_beat + 14.5, "Return"),
        ["--at".to_owned(), shots],
    ]
    .concat();
    let after = (first_beat - LEAD_SECS).to_string();
    let secs = first_beat + 18.0;
    bench.window(name, &["--after", &after], Some(&wav), secs, &screen)
}

/// The beats of count-in and round, as they are drawn and as they sound.
fn seen_and_heard(checks: &mut Checks, shown: &Shown) {
    let mut apart = shown.beats_apart_ms();
    let beats = apart.len();
    checks.that(beats >= BEATS, "beats are counted in and played", &format!("{beats} beats"));
    apart.sort_by(f64::total_cmp);
    let median = apart.get(beats / 2).copied().unwrap_or(f64::NAN);
    let far = shown.beats_far();
    checks.that(
        far <= HELD_UP && median.abs() <= SEEN_AND_HEARD_MS,
        "all but two are seen within 15 ms of their sound",
        &format!("{far} are not; {median:.1} ms in the median"),
    );
}

fn turns(round: &Value) -> &[Value] {
    round["turns"].as_array().map_or(&[], Vec::as_slice)
}

fn same_counts(checks: &mut Checks, round: &Value, by_command: &Value) {
    let counted = |round: &Value| -> Vec<(u64, u64)> {
        turns(round)
            .iter()
            .filter_map(|turn| Some((turn["finger"].as_u64()?, turn["made"].as_u64()?)))
            .collect()
    };
    let (here, there) = (counted(round), counted(by_command));
    checks.that(
        here.len() == 4 && here == there,
        "fingers and counts are those of the command line",
        &format!("{here:?}, {there:?}"),
    );
    for (turn, other) in turns(round).iter().zip(turns(by_command)) {
        let off = number(&turn["rate_hz"]) - number(&other["rate_hz"]);
        checks.that(
            off.abs() <= RATES_NEAR_HZ,
            "its rate too",
            &format!("finger {}: {off:+.3} Hz", turn["finger"]),
        );
    }
    let gap = |round: &Value| {
        number(&turns(round).get(GAP_TURN as usize).unwrap_or(&Value::Null)["gap_s"])
    };
    let (here, there) = (gap(round), gap(by_command));
    checks.that(
        (here - there).abs() <= GAPS_NEAR_SECS,
        "the gap is as long",
        &format!("{here:.3} s, {there:.3} s"),
    );
}

/// What each turn made is kept with the take, so that a task can be told of.
fn kept_counts(checks: &mut Checks, round: &Value, take: &str) {
    let after = |name: &str| -> Vec<u64> {
        let parts = take.split(name).skip(1);
        let digits = parts.map(|rest| {
            let rest = rest.trim_start_matches("Some(");
            rest.chars().take_while(char::is_ascii_digit).collect()
        });
        digits.filter_map(|digits: String| digits.parse().ok()).collect()
    };
    let (made, asked) = (after("made: "), after("asked: "));
    let of_round = |name: &str| -> Vec<u64> {
        turns(round).iter().filter_map(|turn| turn[name].as_u64()).collect()
    };
    checks.that(
        made.len() == 4 && made == of_round("made") && asked == of_round("asked"),
        "the take keeps what each turn made and was asked",
        &format!("made {made:?}, asked {asked:?}"),
    );
}

fn same_findings(checks: &mut Checks, round: &Value, by_command: &Value) {
    let found = |round: &Value| -> Vec<(String, Option<u64>)> {
        let findings = round["findings"].as_array().map_or(&[][..], Vec::as_slice);
        findings
            .iter()
            .map(|finding| {
                let kind = finding["kind"].as_str().unwrap_or_default().to_owned();
                (kind, finding["turn"].as_u64())
            })
            .collect()
    };
    let (here, there) = (found(round), found(by_command));
    checks.that(
        here == there && round["holds"] == by_command["holds"],
        "findings are those of the command line",
        &format!("{here:?}"),
    );
    for (kind, turn) in [("gap", GAP_TURN), ("sharp", SHARP_TURN)] {
        checks.that(
            here.contains(&(kind.to_owned(), Some(turn))),
            "what the sound was made with is found",
            &format!("{kind} at turn {}", turn + 1),
        );
    }
}
