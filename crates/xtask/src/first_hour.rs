//! Gate: the first hour of a new player, in the window on an invisible screen with a virtual microphone: the first
//! start, the question for the instrument, a note, the sentence of use, the drill it points to, its findings, a lesson,
//! words between model and echo, the task, and the next start; and a start without a microphone. Each step is read back
//! by what a screen reader is told, and done by keys; one click answers the question for the instrument.

use crate::bench::{Bench, Shown, keys};
use crate::checks::Checks;
use crate::shell::Fault;

/// The sound begins so long after the start.
const SOUND_SECS: f64 = 4.0;
/// When things are done, in seconds from the start. A drill counts in for four beats at 60 to the minute, once its
/// loudspeaker plays.
const ANSWERED_SECS: f64 = 9.0;
const DRILL_SECS: f64 = 11.5;
const STARTED_SECS: f64 = 15.0;
const FIRST_BEAT_SECS: f64 = STARTED_SECS + 1.1 + 4.0;
const LESSON_SECS: f64 = FIRST_BEAT_SECS + 11.0;
const MODEL_SECS: f64 = LESSON_SECS + 2.0;
/// Between model and echo nobody plays: somebody talks.
const PAUSE_SECS: f64 = MODEL_SECS + 5.5;
const TALK_SECS: f64 = PAUSE_SECS + 0.5;
const TALKED_SECS: f64 = TALK_SECS + SYLLABLES.len() as f64 * SYLLABLE_SECS;
const ECHO_SECS: f64 = TALKED_SECS + 4.5;
const TASK_SECS: f64 = ECHO_SECS + 6.0;
const END_SECS: f64 = TASK_SECS + 6.0;
/// What was done is told within so long.
const SOON_SECS: f64 = 2.0;
/// The screen may press a key so long before its time.
const AHEAD_SECS: f64 = 0.7;
/// A first look takes so long.
const LOOK_SECS: f64 = 4.5;
/// A syllable and the pause behind it; where each begins, in Hz, and how far it glides, in cents.
const SYLLABLE_SECS: f64 = 0.3;
const SYLLABLES: [(f64, f64); 7] = [
    (130.0, -150.0),
    (155.0, -180.0),
    (118.0, 140.0),
    (140.0, -190.0),
    (125.0, -170.0),
    (160.0, -200.0),
    (112.0, -160.0),
];
/// F3 and F♯3 of a cello, in Hz.
const F3: f64 = 174.6;
const F_SHARP_3: f64 = 185.0;

/// Runs it, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(bench) = Bench::new("first-hour")? else {
        return Ok(());
    };
    let mut checks = Checks::default();
    println!("\nthe first start");
    let shown = bench.window_told("hour", &["--silence"], None, LOOK_SECS, &[] as &[&str])?;
    shown.ends_well(&mut checks);
    shown.says(&mut checks, 0.0, LOOK_SECS, "Which instrument do you play?");
    shown.says(&mut checks, 0.0, LOOK_SECS, "no note yet");
    let cello = shown.told(0.0, LOOK_SECS).into_iter().rfind(|(name, _)| *name == "cello");
    let place = cello.and_then(|(_, place)| place);
    checks.that(place.is_some(), "the cello is offered", &format!("at {place:?}"));
    let Some(place) = place else {
        return checks.end("first hour");
    };
    hour(&bench, place, &mut checks)?;
    println!("\nthe next start");
    let shown = bench.window_told("hour", &["--silence"], None, LOOK_SECS, &[] as &[&str])?;
    shown.ends_well(&mut checks);
    shown.says(&mut checks, 0.0, LOOK_SECS, "your task");
    let told = shown.told(0.0, LOOK_SECS);
    let asks = told.iter().any(|(name, _)| name.contains("Which instrument"));
    checks.that(!asks, "the instrument is not asked for again", "");
    without_a_microphone(&bench, &mut checks)?;
    checks.end("first hour")
}

/// The demo session plays; M ends it, and plays it again.
fn without_a_microphone(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    println!("\nno microphone");
    let pressed = [LOOK_SECS, 2.0 * LOOK_SECS].map(|at| keys(at, "m")).concat();
    let shown = bench.window_told("none", &["--none"], None, 3.0 * LOOK_SECS, &pressed)?;
    shown.ends_well(checks);
    let plays = "No microphone: the demo session “four-fingers” plays.";
    shown.says(checks, 1.0, LOOK_SECS - AHEAD_SECS, plays);
    let over = "M plays the demo session meanwhile.";
    shown.says(checks, LOOK_SECS, 2.0 * LOOK_SECS - AHEAD_SECS, over);
    shown.says(checks, 2.0 * LOOK_SECS + SOON_SECS, 3.0 * LOOK_SECS, plays);
    Ok(())
}

fn hour(bench: &Bench, [x, y]: [f64; 2], checks: &mut Checks) -> Result<(), Fault> {
    println!("\nthe first hour");
    let wav = bench.notes(&sound(), "hour")?;
    let screen = [
        ["--click".to_owned(), format!("2:{x:.0},{y:.0}")],
        keys(ANSWERED_SECS, "1"),
        keys(DRILL_SECS, "F3"),
        keys(DRILL_SECS + 1.0, "Next"),
        keys(DRILL_SECS + 2.0, "Return"),
        keys(STARTED_SECS, "Return"),
        keys(LESSON_SECS, "F5"),
        keys(TASK_SECS, "t"),
        keys(TASK_SECS + 2.0, "Return"),
    ]
    .concat();
    let after = SOUND_SECS.to_string();
    let microphone = ["--after", &after];
    let shown = bench.window_told("hour", &microphone, Some(&wav), END_SECS, &screen)?;
    shown.ends_well(checks);
    shown.says(checks, SOUND_SECS, ANSWERED_SECS, "listening until the note is over");
    shown.says(checks, SOUND_SECS, ANSWERED_SECS, "Even or uneven?");
    let answered = (ANSWERED_SECS, DRILL_SECS);
    shown.says(checks, answered.0, answered.1, "Heard: even. Measured: even");
    shown.says(checks, answered.0, answered.1, "last note F3");
    shown.says(checks, answered.0, answered.1, "“There and back” under Drill follows from it.");
    shown.says(checks, DRILL_SECS, DRILL_SECS + 1.0, "drill There and back, fingers 2-3-2");
    shown.says(checks, DRILL_SECS + 2.0, STARTED_SECS, "A round is secure when");
    shown.says(checks, STARTED_SECS, FIRST_BEAT_SECS, "count-in: beat ");
    shown.says(checks, FIRST_BEAT_SECS, LESSON_SECS, "pace wave: note 2");
    shown.says(checks, FIRST_BEAT_SECS + 6.0, LESSON_SECS, "cure.");
    shown.says(checks, FIRST_BEAT_SECS + 6.0, LESSON_SECS, "note, F♯3 3: made ");
    shown.says(checks, LESSON_SECS, MODEL_SECS, "Play the model");
    shown.says(checks, MODEL_SECS, PAUSE_SECS, "The model is kept: G3. Echo it.");
    // The sound may be a second ahead of the window.
    let early = shown.told(PAUSE_SECS, ECHO_SECS - 1.5);
    let early =
        early.iter().find(|(name, _)| name.starts_with("Echo ") && name.contains("Play another"));
    let early = early.map_or("", |(name, _)| name);
    checks.that(early.is_empty(), "no echo before it is played", early);
    let after_talk = "Echo it. That did not sound bowed. K keeps it all the same.";
    shown.says(checks, TALKED_SECS + 1.0, ECHO_SECS, after_talk);
    shown.says(checks, ECHO_SECS, TASK_SECS, "Echo 1. Play another when you like.");
    shown.says(checks, TASK_SECS, TASK_SECS + SOON_SECS, "The task to take home");
    shown.says(checks, TASK_SECS + SOON_SECS, END_SECS, "The task is given");
    Ok(())
}

/// The note of the first minute, the round of the drill, the model and the echo, as a specification has them.
fn sound() -> String {
    let note = |at: f64, length: f64, f0: f64, rate: f64, width: f64, more: &str| {
        let start = at - SOUND_SECS;
        format!(
            "(start: {start:.2}, length: {length}, f0: {f0}, {more} vibrato: Some((rate: {rate}, width: {width}, rate_jitter_pct: 2.5, width_jitter_pct: 5.0{})))",
            if more.is_empty() { "" } else { ", phase: Some(0.75)" }
        )
    };
    let turn = |number: f64, f0: f64, more: &str| {
        note(FIRST_BEAT_SECS + 2.0 * number, 2.0, f0, 2.0, 32.0, more)
    };
    let legato = "join: Legato,";
    let notes = [
        note(SOUND_SECS + 0.5, 2.6, F3, 5.2, 35.0, ""),
        turn(0.0, F3, ""),
        turn(1.0, F_SHARP_3, legato),
        turn(2.0, F3, legato),
        note(MODEL_SECS, 2.6, 196.0, 5.0, 45.0, ""),
    ];
    let talk = SYLLABLES.iter().enumerate().map(|(place, (f0, drift))| {
        let start = TALK_SECS + place as f64 * SYLLABLE_SECS - SOUND_SECS;
        format!("(start: {start:.2}, length: 0.22, f0: {f0}, drift: {drift})")
    });
    let echo = note(ECHO_SECS, 2.6, 196.0, 5.6, 30.0, "");
    notes.into_iter().chain(talk).chain([echo]).collect::<Vec<_>>().join(",\n")
}

impl Shown {
    /// Whether a screen reader was told something that has this in it, between two times.
    pub(crate) fn says(&self, checks: &mut Checks, from: f64, to: f64, part: &str) {
        let told = self.told(from - AHEAD_SECS, to);
        let found = told.iter().find(|(name, _)| name.contains(part));
        let said = found.map_or("is not told", |(name, _)| name);
        checks.that(found.is_some(), part, said);
    }
}
