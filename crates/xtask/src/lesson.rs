//! Gate: a whole lesson in the window, on an invisible screen with a virtual microphone: a model, three
//! echoes, a task that goes home, and what is told of it at the next start. The takes that were kept are
//! compared by `evenwave compare`, and a report is written of them.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::checks::{Checks, number};
use crate::shell::{Fault, Step, evenwave, target, tool};

/// Rate in Hz and width in cents of the model and its echoes.
const PHRASES: [(f64, f64); 4] = [(5.0, 45.0), (6.2, 20.0), (5.6, 30.0), (5.3, 40.0)];
/// A phrase begins so often, in seconds, and is so long.
const EVERY_SECS: f64 = 6.5;
const LONG_SECS: f64 = 2.6;
/// The sound starts so long after the window, and the task is asked for so long after that.
const AFTER_SECS: f64 = 3.5;

/// Runs it, or says that the screen or the virtual microphone is not there.
pub fn run() -> Result<(), Fault> {
    let (Some(screen), Some(virtual_mic)) = (tool("screen"), tool("virtual-mic")) else {
        return Ok(());
    };
    let bench = Bench {
        screen,
        virtual_mic,
        program: evenwave()?,
        folder: target().join("lesson"),
    };
    if bench.folder.exists() {
        fs::remove_dir_all(&bench.folder).map_err(|error| bench.failed(error))?;
    }
    fs::create_dir_all(&bench.folder).map_err(|error| bench.failed(error))?;
    println!("\na lesson in the window");
    let mut checks = Checks::default();
    bench.taught(&mut checks)?;
    bench.compared(&mut checks)?;
    bench.greeted(&mut checks)?;
    checks.end("lesson")
}

struct Bench {
    screen: PathBuf,
    virtual_mic: PathBuf,
    program: PathBuf,
    folder: PathBuf,
}

impl Bench {
    fn failed(&self, error: std::io::Error) -> Fault {
        Fault::File {
            path: self.folder.clone(),
            error,
        }
    }

    /// The sound of the lesson.
    fn sound(&self) -> Result<PathBuf, Fault> {
        let (spec, wav) = (
            self.folder.join("lesson.ron"),
            self.folder.join("lesson.wav"),
        );
        let notes: String = PHRASES
            .iter()
            .enumerate()
            .map(|(phrase, (rate, width))| {
                let start = 0.5 + EVERY_SECS * phrase as f64;
                format!("(start: {start:.1}, length: {LONG_SECS:.1}, f0: 196.0, vibrato: Some((rate: {rate:.1}, width: {width:.1}))),\n")
            })
            .collect();
        let text = format!(
            "(seed: 5150, bow: (snr_db: Some(35.0)), floor_dbfs: Some(-65.0), lines: [(notes: [{notes}])])"
        );
        fs::write(&spec, text).map_err(|error| self.failed(error))?;
        Step::new(&self.program)
            .args(["tone".into(), spec.into_os_string()])
            .args(["-o".into(), wav.clone().into_os_string()])
            .listen()?;
        Ok(wav)
    }

    /// Opens the window for so long; what it wrote for the gates, and whether it ended well.
    fn window(
        &self,
        microphone: &[&str],
        sound: Option<&Path>,
        screen: &[String],
        watch: &str,
    ) -> Result<(Vec<Value>, bool), Fault> {
        let watch = self.folder.join(watch);
        let output = Step::new(&self.virtual_mic)
            .args(microphone)
            .args(sound)
            .arg("--")
            .arg(&self.screen)
            .arg("--shots")
            .arg(&self.folder)
            .args(screen)
            .arg("--")
            .arg(&self.program)
            .args(["practise", "--instrument", "cello", "--settings"])
            .arg(self.folder.join("settings.ron"))
            .arg("--journal")
            .arg(self.folder.join("takes"))
            .arg("--watch")
            .arg(&watch)
            .listen()?;
        let text = fs::read_to_string(&watch).unwrap_or_default();
        let lines = text
            .lines()
            .filter_map(|line| serde_json::from_str(line).ok());
        let words = String::from_utf8_lossy(&output.stderr);
        let well = output.status.success() && !words.contains("panicked");
        Ok((lines.collect(), well))
    }

    fn taught(&self, checks: &mut Checks) -> Result<(), Fault> {
        let wav = self.sound()?;
        let over = AFTER_SECS + EVERY_SECS * PHRASES.len() as f64;
        let keys = |at: f64, key: &str| ["--keys".to_owned(), format!("{at}:{key}")];
        let mut screen = Vec::new();
        screen.extend(keys(2.0, "F5"));
        // Heard again while nothing is played: the model and an echo, and the pitch as a tone.
        screen.extend(keys(over, "t"));
        screen.extend(keys(over + 1.5, "Return"));
        screen.extend(["--at".to_owned(), format!("{},{}", over - 0.5, over + 1.0)]);
        screen.extend(["--for".to_owned(), format!("{}", over + 3.0)]);
        let after = AFTER_SECS.to_string();
        let (_, well) = self.window(&["--after", &after], Some(&wav), &screen, "first.jsonl")?;
        checks.that(well, "opens and ends well, without a panic", "");
        let tasks = fs::read_to_string(self.folder.join("takes/tasks.ron")).unwrap_or_default();
        checks.that(
            tasks.contains("rate_hz: Some(") && tasks.contains("width_cents: Some("),
            "a task goes home with the bands of the model",
            tasks
                .lines()
                .find(|line| line.contains("rate_hz"))
                .unwrap_or("none"),
        );
        Ok(())
    }

    /// The folders of the takes, in the order of time.
    fn takes(&self) -> Vec<PathBuf> {
        let inside = |folder: PathBuf| fs::read_dir(folder).into_iter().flatten().flatten();
        let mut takes: Vec<PathBuf> = inside(self.folder.join("takes"))
            .flat_map(|day| inside(day.path()))
            .map(|take| take.path())
            .filter(|take| take.join("take.ron").is_file())
            .collect();
        takes.sort();
        takes
    }

    fn compared(&self, checks: &mut Checks) -> Result<(), Fault> {
        let takes = self.takes();
        let parts: Vec<&str> = takes
            .iter()
            .map(|take| {
                let text = fs::read_to_string(take.join("take.ron")).unwrap_or_default();
                match (
                    text.contains("lesson: Some(Model"),
                    text.contains("lesson: Some(Echo"),
                ) {
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
        let (Some(model), Some(echoes)) = (takes.first(), takes.get(1..)) else {
            return Ok(());
        };
        for (echo, (rate, width)) in echoes.iter().zip(&PHRASES[1..]) {
            let output = Step::new(&self.program)
                .args(["compare", "--json"])
                .args([model, echo])
                .listen()?;
            let record = serde_json::from_slice::<Value>(&output.stdout).unwrap_or(Value::Null);
            let pair = &record["pairs"][0];
            for (name, made) in [
                ("rate_hz", rate - PHRASES[0].0),
                ("width_cents", width - PHRASES[0].1),
            ] {
                let (said, se) = (number(&pair[name]["value"]), number(&pair[name]["se"]));
                checks.that(
                    (said - made).abs() <= 2.0 * se,
                    "the difference is what it was made with, within its doubt",
                    &format!("{name} {said:+.2} ±{se:.2}, made {made:+.2}"),
                );
            }
        }
        let page = self.folder.join("lesson.html");
        let output = Step::new(&self.program)
            .args([
                "report".into(),
                "--out".into(),
                page.clone().into_os_string(),
            ])
            .args(["lesson".into(), model.clone().into_os_string()])
            .args(echoes)
            .listen()?;
        let html = fs::read_to_string(&page).unwrap_or_default();
        checks.that(
            output.status.success() && html.contains("<svg") && !html.contains("<script"),
            "a report is written of them",
            String::from_utf8_lossy(&output.stderr)
                .lines()
                .last()
                .unwrap_or(""),
        );
        Ok(())
    }

    fn greeted(&self, checks: &mut Checks) -> Result<(), Fault> {
        let screen = ["--for".to_owned(), "4".to_owned()];
        let (lines, well) = self.window(&["--silence"], None, &screen, "second.jsonl")?;
        let told = lines.iter().find_map(|line| {
            let words = line["words"].as_array()?.iter().filter_map(Value::as_str);
            words
                .into_iter()
                .find(|words| words.contains("your task"))
                .map(str::to_owned)
        });
        checks.that(
            well && told.is_some(),
            "the next start tells of the task",
            told.as_deref().unwrap_or("nothing"),
        );
        Ok(())
    }
}
