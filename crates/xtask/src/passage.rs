//! Gate: a passage of 16 notes is planned in the window and played in its four passes, on an invisible screen with a virtual
//! microphone, by keys alone. What was planned is held against the same passage typed as a text; what the window finds in each
//! pass against what `evenwave passage check` finds in the take that was kept of it, and against what the sound was made with.

use std::ffi::{OsStr, OsString};
use std::fs;
use std::path::Path;

use serde_json::Value;

use crate::bench::{Bench, Shown, keys};
use crate::checks::{Checks, number};
use crate::shell::Fault;

/// Each note of the passage: its name, its frequency, and the width that is planned, 0 for straight.
const NOTES: [(&str, f64, f64); 16] = [
    ("C3", 130.813, 0.0),
    ("D3", 146.832, 30.0),
    ("E3", 164.814, 40.0),
    ("F3", 174.614, 0.0),
    ("G3", 195.998, 60.0),
    ("F3", 174.614, 20.0),
    ("E3", 164.814, 0.0),
    ("D3", 146.832, 30.0),
    ("E3", 164.814, 40.0),
    ("F3", 174.614, 0.0),
    ("G3", 195.998, 60.0),
    ("A3", 220.0, 20.0),
    ("G3", 195.998, 0.0),
    ("F3", 174.614, 40.0),
    ("D3", 146.832, 30.0),
    ("C3", 130.813, 0.0),
];
/// The note that is played too narrow at tempo, from 0, and how wide it is.
const NARROW: (usize, f64) = (4, 25.0);
/// Beats a minute of the plan, and of slow passes: two thirds.
const BPM: [f64; 4] = [60.0, 60.0, 90.0, 90.0];
/// When the plan is begun, and when its notes are, which takes 68 keys.
const PLAN_SECS: f64 = 5.0;
const NOTES_SECS: f64 = 12.5;
/// When the first pass is started; a loudspeaker that was at rest plays after so long; then a bar is counted in, and the player
/// comes in a little late.
const START_SECS: f64 = 30.0;
const OPENS_SECS: f64 = 1.1;
const LATE_SECS: f64 = 0.8;
/// Two seconds of silence end a pass; so much later it has been judged.
const OVER_SECS: f64 = 2.0;
const JUDGED_SECS: f64 = 2.5;
/// The sound starts so long after the window.
const AFTER_SECS: f64 = 3.0;
/// What the window and the command find may differ by so much: the take begins between two frames of the window's.
const NEAR_CENTS: f64 = 3.0;
const NEAR_SECS: f64 = 0.035;
const NEAR_SHARE: f64 = 0.08;

/// Runs it, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(bench) = Bench::new("passage")? else {
        return Ok(());
    };
    // The window keeps it beside its settings.
    let plan = bench.folder.join("passages/sixteen-steps.ron");
    let typed = bench.folder.join("typed.passage.txt");
    let straight = bench.folder.join("straight.passage.txt");
    fs::write(&typed, text(true)).map_err(|error| bench.failed(error))?;
    fs::write(&straight, text(false)).map_err(|error| bench.failed(error))?;
    let settings = bench.folder.join("passage-settings.ron");
    fs::write(settings, "(instrument: Some(\"cello\"))").map_err(|error| bench.failed(error))?;

    println!("\na passage planned in the window and played in four passes, by keys");
    let mut checks = Checks::default();
    let shown = played(&bench, &mut checks)?;
    let pictures = [&plan, &typed].map(|plan| drawn(&bench, plan));
    checks.that(
        pictures[0].is_some() && pictures[0] == pictures[1],
        "what was planned by keys is what was typed, drawn alike to the last stroke",
        &plan.display().to_string(),
    );
    let takes = bench.takes("passage");
    checks.that(takes.len() == 4, "four takes are kept", &takes.len().to_string());
    for (pass, take) in takes.iter().enumerate() {
        let plan = if pass == 0 { &straight } else { &plan };
        let mut words: Vec<OsString> =
            ["passage", "check", "--json", "--instrument", "cello"].map(OsString::from).to_vec();
        words.extend([plan.clone().into_os_string(), take.clone().into_os_string()]);
        if pass > 0 {
            words.extend(["--straight".into(), takes[0].clone().into_os_string()]);
        }
        let by_command = bench.record(&words)?;
        let line = shown.lines.iter().find(|line| line["pass"] == pass + 1);
        let here = line.map_or(&Value::Null, |line| &line["passage"]);
        let text = fs::read_to_string(take.join("take.ron")).unwrap_or_default();
        same_notes(&mut checks, pass, here, &by_command);
        same_words(&mut checks, pass, here, &by_command);
        let found = line.and_then(|line| line["found"][0].as_str()).unwrap_or("nothing");
        kept(&mut checks, pass, &text, found);
        if pass == 3 {
            let answer = "You said G3 in bar 2, and so it was";
            checks.that(text.contains(answer), "and which note was said to have most", answer);
        }
        if pass == 2 {
            checks.that(
                found.starts_with("G3 in bar 2") && found.contains("narrower"),
                "the one sentence is of the note that was made too narrow",
                found,
            );
        }
    }
    checks.end("passage")
}

/// The passage as it is typed, with what is planned or without any vibrato.
fn text(vibrated: bool) -> String {
    let mut text =
        "title Sixteen steps\ninstrument cello\nbeats 4 of quarter\npace 90\nclef bass\n"
            .to_owned();
    for (bar, notes) in NOTES.chunks(4).enumerate() {
        let notes: Vec<String> = notes
            .iter()
            .map(|(name, _, width)| match vibrated && *width > 0.0 {
                true => format!("{name} 1 width {width}"),
                false => format!("{name} 1 straight"),
            })
            .collect();
        text += &format!("bar {} {}\n", bar + 1, notes.join(", "));
    }
    text
}

/// A plan as it is drawn without the window.
fn drawn(bench: &Bench, plan: &Path) -> Option<String> {
    let svg = plan.with_extension("svg");
    let words: [&OsStr; 6] = [
        "passage".as_ref(),
        "show".as_ref(),
        plan.as_ref(),
        "-o".as_ref(),
        svg.as_ref(),
        "--replace".as_ref(),
    ];
    bench.program(&words).ok()?;
    fs::read_to_string(svg).ok()
}

/// The keys by which the notes are planned, from the one that a plan begins with: D3, straight.
fn planning() -> String {
    let step = |name: &str| {
        let letter = "CDEFGAB".find(&name[..1]).unwrap_or(0);
        7 * name[1..].parse::<usize>().unwrap_or(0) + letter
    };
    let mut keys: Vec<String> = Vec::new();
    let mut at = step("D3");
    for (i, (name, _, width)) in NOTES.iter().enumerate() {
        if i > 0 {
            keys.push("n".to_owned());
        }
        let to = step(name);
        let key = if to > at { "Up" } else { "Down" };
        keys.extend(std::iter::repeat_n(key.to_owned(), to.abs_diff(at)));
        at = to;
        if *width > 0.0 {
            keys.push("w".to_owned());
            keys.extend(format!("{width}").chars().map(String::from));
        } else {
            keys.push("s".to_owned());
        }
    }
    keys.join(" ")
}

/// When each pass is started, its first note sounds, and it has been judged.
fn times() -> [(f64, f64, f64); 4] {
    let mut start = START_SECS;
    BPM.map(|bpm| {
        let beat = 60.0 / bpm;
        let first = start + OPENS_SECS + 4.0 * beat + LATE_SECS;
        let judged = first + 16.0 * beat + OVER_SECS + JUDGED_SECS;
        let pass = (start, first, judged);
        start = judged + 1.5;
        pass
    })
}

/// The four passes, played in the window.
fn played(bench: &Bench, checks: &mut Checks) -> Result<Shown, Fault> {
    let times = times();
    let mut notes = String::new();
    for (pass, (_, first, _)) in times.iter().enumerate() {
        let beat = 60.0 / BPM[pass];
        for (i, (_, f0, planned)) in NOTES.iter().enumerate() {
            let width = match pass {
                0 => 0.0,
                2 if i == NARROW.0 => NARROW.1,
                _ => *planned,
            };
            let start = first - AFTER_SECS + i as f64 * beat;
            let length = beat - 0.05;
            let vibrato = format!(
                "Some((rate: 5.5, width: {width}, rate_jitter_pct: 2.0, width_jitter_pct: 3.0))"
            );
            let vibrato = if width > 0.0 { vibrato } else { "None".to_owned() };
            notes += &format!(
                "(start: {start:.3}, length: {length:.3}, f0: {f0}, vibrato: {vibrato}),\n"
            );
        }
    }
    let wav = bench.notes(&notes, "passes")?;
    let again = times[3].2 + 1.0;
    let end = again + 18.0;
    let write = |at: f64, words: &str| ["--type".to_owned(), format!("{at}:{words}")];
    // From the title past seven instruments, the beats of a bar and three lengths to the pace.
    let to_pace = [" Tab"; 12].concat();
    let screen = [
        keys(2.0, "F6"),
        keys(PLAN_SECS, "n"),
        keys(PLAN_SECS + 0.8, "h"),
        keys(PLAN_SECS + 1.6, "ctrl+a"),
        write(PLAN_SECS + 2.0, "Sixteen steps"),
        keys(PLAN_SECS + 3.6, &to_pace),
        keys(PLAN_SECS + 5.4, "ctrl+a"),
        write(PLAN_SECS + 5.8, "90"),
        keys(PLAN_SECS + 6.4, "Return Escape"),
        keys(NOTES_SECS, &planning()),
        // Done; to the list, and into it again.
        keys(START_SECS - 4.0, "Return"),
        keys(START_SECS - 3.0, "Escape"),
        keys(START_SECS - 2.0, "space"),
        keys(times[0].0, "Next"),
    ];
    let mut screen: Vec<String> = screen.concat();
    for (start, _, _) in &times[1..] {
        // On to the next pass, and start it.
        screen.extend(keys(start - 1.0, "Next"));
        screen.extend(keys(*start, "Next"));
    }
    // Which note had most vibrato; then planned as it was played at tempo, and taken back; then as in a model, of which there is none in the lesson.
    screen.extend(keys(again, "Right Right Right Right Right Return"));
    // A report of it can be had.
    screen.extend(keys(again + 3.0, "x"));
    screen.extend(keys(again + 5.0, "Escape"));
    let again = again + 6.0;
    screen.extend(keys(again, "3 w F7"));
    screen.extend(keys(again + 2.0, "Home Right Right Right Right"));
    screen.extend(keys(again + 4.0, "z F8"));
    screen.extend(keys(again + 9.0, "Return"));
    let planned = START_SECS - 4.5;
    let shots = [
        planned,
        times[0].0 - 0.5,
        times[1].1 + 6.0,
        times[2].2 - 0.2,
        times[3].1 + 3.0,
        again - 1.2,
        again + 3.5,
    ];
    let shots: Vec<String> = shots.map(|at| at.to_string()).to_vec();
    screen.extend(["--at".to_owned(), shots.join(",")]);
    let after = AFTER_SECS.to_string();
    let microphone = ["--after", &after];
    let shown = bench.window_told("passage", &microphone, Some(&wav), end, &screen)?;
    shown.ends_well(checks);
    let head = "cello · 4/4 · quarter = 90 · C major · bass clef";
    shown.says(checks, NOTES_SECS, planned, head);
    shown.says(checks, NOTES_SECS, planned, "note 16 of 16, bar 4");
    shown.says(checks, NOTES_SECS, planned, "G3, 1 beat: 60 cents");
    shown.says(checks, planned, times[0].0, "passage Sixteen steps: cello · 4 bars · 16 notes");
    shown.says(checks, times[0].0, times[0].1, "Counting in.");
    shown.says(checks, times[1].1, times[1].2, "G3: 60 cents");
    shown.says(checks, times[3].0, times[3].2, "playing, not shown");
    shown.says(checks, times[3].2 - 1.0, again - 6.0, "pass 4, Without looking, played");
    shown.says(checks, times[3].2 - 1.0, again - 6.0, "Which note had most vibrato?");
    shown.says(checks, again - 6.0, again - 3.0, "You said G3 in bar 2");
    shown.says(
        checks,
        again - 3.0,
        again,
        "The pass: the staff, what was planned and what was played",
    );
    shown.says(checks, again, again + 2.5, "As it was played.");
    shown.says(checks, again, again + 4.0, "G3, 1 beat: 2");
    shown.says(checks, again + 4.0, end, "Taken back.");
    shown.says(checks, again + 4.0, end, "drop the file on this window instead");
    Ok(shown)
}

fn notes(of: &Value) -> &[Value] {
    of["notes"].as_array().map_or(&[], Vec::as_slice)
}

/// Which notes were played, when, and how wide.
fn same_notes(checks: &mut Checks, pass: usize, here: &Value, there: &Value) {
    let of = format!("pass {}", pass + 1);
    let how = |of: &Value| -> Vec<(Option<u64>, String)> {
        let how = |note: &Value| note["how"].as_str().unwrap_or_default().to_owned();
        notes(of).iter().map(|note| (note["note"].as_u64(), how(note))).collect()
    };
    let (window, command) = (how(here), how(there));
    let played: Vec<u64> =
        window.iter().filter(|(_, how)| how == "played").filter_map(|(note, _)| *note).collect();
    checks.that(
        played == (1..=16).collect::<Vec<u64>>(),
        "all 16 notes are found, each once and in order",
        &format!("{of}: {played:?}"),
    );
    let more = window.len() - played.len();
    checks.that(
        window == command && more == 0,
        "window and command find the same, and nothing else",
        &format!("{of}: {more} more"),
    );
    let pairs = || notes(here).iter().zip(notes(there));
    let starts: Vec<f64> =
        pairs().map(|(a, b)| number(&a["start_s"]) - number(&b["start_s"])).collect();
    let apart = starts.iter().fold(f64::NEG_INFINITY, |most, off| most.max(*off))
        - starts.iter().fold(f64::INFINITY, |least, off| least.min(*off));
    let said = match apart <= NEAR_SECS {
        true => format!("{of}: {:.0} ms apart", 1e3 * apart),
        false => format!("{of}: {starts:.3?} s each"),
    };
    checks.that(
        apart <= NEAR_SECS,
        "they begin at the same times, but for where the take begins",
        &said,
    );
    let width = |note: &Value| note["width_cents"].as_f64().unwrap_or(0.0);
    let off = pairs().map(|(a, b)| (width(a) - width(b)).abs()).fold(0.0, f64::max);
    checks.that(
        off <= NEAR_CENTS && !starts.is_empty(),
        "they are as wide",
        &format!("{of}: at most {off:.2} cents apart"),
    );
}

/// What is said of the passage as a whole.
fn same_words(checks: &mut Checks, pass: usize, here: &Value, there: &Value) {
    let of = format!("pass {}", pass + 1);
    if pass == 0 {
        return;
    }
    let share = |of: &Value| number(&of["width_contrast"]);
    let (window, command) = (share(here), share(there));
    checks.that(
        (window - command).abs() <= NEAR_SHARE,
        "the share of the planned contrast is the same",
        &format!("{of}: {window:.2}, {command:.2}"),
    );
    let survived = |of: &Value| of["bow_line_survived"].as_bool();
    checks.that(
        survived(here).is_some() && survived(here) == survived(there),
        "so is what is said of the bow's line",
        &format!("{of}: {:?}, {:?}", survived(here), survived(there)),
    );
}

/// The take keeps which pass it was, its notes, and what was found.
fn kept(checks: &mut Checks, pass: usize, text: &str, found: &str) {
    let number = format!("number: {}", pass + 1);
    let notes = text.matches("how: \"played\"").count();
    checks.that(
        text.contains("passage: Some(\"Sixteen steps\")")
            && text.contains("plan: \"sixteen-steps\"")
            && text.contains(&number)
            && text.contains(found)
            && notes == 16,
        "the take keeps the pass, its notes and what was found",
        &format!("pass {}: {notes} notes, {found}", pass + 1),
    );
}
