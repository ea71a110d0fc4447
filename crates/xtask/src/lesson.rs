//! Gate: a whole lesson in the window, on an invisible screen with a virtual microphone: a model, three
//! echoes, a task that goes home, and what is told of it at the next start. The takes that were kept are
//! compared by `evenwave compare`, and a report is written of them, by the window and by the command.

use std::ffi::{OsStr, OsString};
use std::fs;

use serde_json::Value;

use crate::bench::{Bench, keys};
use crate::checks::{Checks, number};
use crate::shell::Fault;

/// Rate in Hz and width in cents of the model and its echoes.
const PHRASES: [(f64, f64); 4] = [(5.0, 45.0), (6.2, 20.0), (5.6, 30.0), (5.3, 40.0)];
/// A phrase begins so often, in seconds, and is so long.
const EVERY_SECS: f64 = 6.5;
const LONG_SECS: f64 = 2.6;
/// The sound starts so long after the window.
const AFTER_SECS: f64 = 3.5;

/// A report is asked for and written within so long.
const REPORT_SECS: f64 = 5.0;

/// Runs it, or says that the screen or the virtual microphone is not there.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(bench) = Bench::new("lesson")? else {
        return Ok(());
    };
    println!("\na lesson in the window");
    let mut checks = Checks::default();
    taught(&bench, &mut checks)?;
    compared(&bench, &mut checks)?;
    greeted(&bench, &mut checks)?;
    practised(&bench, &mut checks)?;
    checks.end("lesson")
}

fn taught(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let notes: String = PHRASES
        .iter()
        .enumerate()
        .map(|(phrase, (rate, width))| {
            let start = 0.5 + EVERY_SECS * phrase as f64;
            format!("(start: {start:.1}, length: {LONG_SECS:.1}, f0: 196.0, vibrato: Some((rate: {rate:.1}, width: {width:.1}))),\n")
        })
        .collect();
    let wav = bench.notes(&notes, "played")?;
    let over = AFTER_SECS + EVERY_SECS * PHRASES.len() as f64;
    bench.keep_reports("lesson")?;
    let task = over + REPORT_SECS;
    let shots = format!("{},{},{}", over - 0.5, task - 1.0, task + 1.0);
    let screen = [
        keys(2.0, "F5"),
        keys(over, "x"),
        keys(over + 1.0, "Return"),
        keys(task - 0.5, "Escape"),
        keys(task, "t"),
        keys(task + 1.5, "Return"),
        ["--at".to_owned(), shots],
    ]
    .concat();
    let after = AFTER_SECS.to_string();
    let shown = bench.window("lesson", &["--after", &after], Some(&wav), task + 3.0, &screen)?;
    shown.ends_well(checks);
    let tasks = bench.folder.join("lesson-takes").join("tasks.ron");
    let tasks = fs::read_to_string(tasks).unwrap_or_default();
    checks.that(
        tasks.contains("rate_hz: Some(") && tasks.contains("width_cents: Some("),
        "a task goes home with the bands of the model",
        tasks.lines().find(|line| line.contains("rate_hz")).unwrap_or("none"),
    );
    Ok(())
}

fn compared(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let takes = bench.takes("lesson");
    let texts: Vec<String> = takes
        .iter()
        .map(|take| fs::read_to_string(take.join("take.ron")).unwrap_or_default())
        .collect();
    let parts: Vec<&str> = texts
        .iter()
        .map(|text| {
            let is = |part: &str| text.contains(&format!("lesson: Some({part}"));
            match (is("Model"), is("Echo")) {
                (true, false) => "model",
                (false, true) => "echo",
                _ => "neither",
            }
        })
        .collect();
    checks.that(
        parts == ["model", "echo", "echo", "echo"],
        "four takes are kept: a model and its echoes",
        &parts.join(", "),
    );
    let teacher_s: Vec<bool> =
        texts.iter().map(|text| text.contains("\n    player: \"Teacher\",")).collect();
    checks.that(
        teacher_s == [true, false, false, false],
        "the model is the teacher's, the echoes are the student's",
        &format!("{teacher_s:?}"),
    );
    let (Some(model), Some(echoes)) = (takes.first(), takes.get(1..)) else {
        return Ok(());
    };
    for (echo, (rate, width)) in echoes.iter().zip(&PHRASES[1..]) {
        let words: [&OsStr; 4] =
            ["compare".as_ref(), "--json".as_ref(), model.as_ref(), echo.as_ref()];
        let record = bench.record(&words)?;
        let difference = &record["pairs"][0]["difference"];
        for (name, name_of_se, made) in [
            ("rate_hz", "rate_se_hz", rate - PHRASES[0].0),
            ("width_cents", "width_se_cents", width - PHRASES[0].1),
        ] {
            let (said, se) = (number(&difference[name]), number(&difference[name_of_se]));
            checks.that(
                (said - made).abs() <= 2.0 * se,
                "the difference is what it was made with, within its doubt",
                &format!("{name} {said:+.2} ±{se:.2}, made {made:+.2}"),
            );
        }
    }
    let lesson = [OsString::from("lesson")].into_iter();
    let words: Vec<OsString> =
        lesson.chain(takes.iter().map(|take| take.clone().into_os_string())).collect();
    bench.same_report(&words, checks)
}

fn greeted(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    let shown = bench.window("lesson", &["--silence"], None, 4.0, &[] as &[&str])?;
    shown.ends_well(checks);
    let told = shown.lines.iter().find_map(|line| {
        let mut words = line["words"].as_array()?.iter().filter_map(Value::as_str);
        words.find(|words| words.contains("your task")).map(str::to_owned)
    });
    checks.that(
        told.is_some(),
        "the next start tells of the task",
        told.as_deref().unwrap_or("nothing"),
    );
    Ok(())
}

/// The task is a passage, which the player plays at the Stand: the take says so, and counts.
fn practised(bench: &Bench, checks: &mut Checks) -> Result<(), Fault> {
    const PASSAGE: &str = "bars 12 to 20";
    let path = bench.folder.join("lesson-takes").join("tasks.ron");
    let text = fs::read_to_string(&path).unwrap_or_default();
    let of_passage: Vec<String> = text
        .lines()
        .map(|line| match line.trim() {
            what if what.starts_with("drill:") => "drill: None,".to_owned(),
            what if what.starts_with("passage:") => format!("passage: Some({PASSAGE:?}),"),
            _ => line.to_owned(),
        })
        .collect();
    fs::write(&path, of_passage.join("\n")).map_err(|error| bench.failed(error))?;
    let before = bench.takes("lesson").len();
    let note = "(start: 0.5, length: 2.6, f0: 196.0, vibrato: Some((rate: 5.0, width: 45.0))),\n";
    let wav = bench.notes(note, "passage")?;
    let screen = keys(2.0, "g").to_vec();
    let after = AFTER_SECS.to_string();
    // The second start asks for nothing.
    for (more, screen, what) in [
        (1, screen, "a passage that is the task is played at the Stand, and the take is of it"),
        (2, Vec::new(), "takes are of the passage after another start too"),
    ] {
        let (microphone, secs) = (["--after", &after], AFTER_SECS + 7.0);
        let shown = bench.window("lesson", &microphone, Some(&wav), secs, &screen)?;
        shown.ends_well(checks);
        let takes = bench.takes("lesson");
        let text = takes
            .last()
            .and_then(|take| fs::read_to_string(take.join("take.ron")).ok())
            .unwrap_or_default();
        let named = text.lines().find(|line| line.contains("passage:"));
        checks.that(
            takes.len() == before + more && text.contains(&format!("passage: Some({PASSAGE:?})")),
            what,
            named.unwrap_or("no take").trim(),
        );
    }
    let settings = bench.folder.join("lesson-settings.ron");
    let settings = fs::read_to_string(settings).unwrap_or_default();
    let band = |text: &str, name: &str| {
        let line = text.lines().find(|line| line.trim().starts_with(name))?;
        Some(line.split_once(':')?.1.trim().to_owned())
    };
    let (asked, wanted) = (band(&text, "rate_hz"), band(&settings, "wanted_rate_hz"));
    checks.that(
        asked.is_some() && asked == wanted,
        "the band of rates that the task asks for is the Stand's",
        wanted.as_deref().unwrap_or("none"),
    );
    Ok(())
}
