//! What the gates of the window stand on: the program on an invisible screen, with a virtual microphone, and
//! what it writes of what it shows.

use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::checks::{Checks, number};
use crate::shell::{Fault, Step, built, empty, target, tool};

/// The tools, the program, and an empty folder.
pub(crate) struct Bench {
    screen: PathBuf,
    virtual_mic: PathBuf,
    program: PathBuf,
    /// Where all is written.
    pub folder: PathBuf,
}

/// A beat is seen so near to its sound, in ms: issue "Drill".
pub(crate) const SEEN_AND_HEARD_MS: f64 = 15.0;

/// What the window showed.
pub(crate) struct Shown {
    /// What it wrote for the gates.
    pub lines: Vec<Value>,
    words: String,
    well: bool,
}

impl Bench {
    /// A bench of this name; `None`, which is told, where the screen or the virtual microphone is not there.
    pub(crate) fn new(name: &str) -> Result<Option<Self>, Fault> {
        let (Some(screen), Some(virtual_mic)) = (tool("screen"), tool("virtual-mic")) else {
            return Ok(None);
        };
        let bench =
            Self { screen, virtual_mic, program: built("evenwave")?, folder: target().join(name) };
        empty(&bench.folder)?;
        Ok(Some(bench))
    }

    /// Something could not be done in its folder.
    pub(crate) fn failed(&self, error: std::io::Error) -> Fault {
        Fault::File { path: self.folder.clone(), error }
    }

    /// Runs the program with these words.
    pub(crate) fn program(
        &self,
        words: &[impl AsRef<OsStr>],
    ) -> Result<std::process::Output, Fault> {
        Step::new(&self.program).args(words).listen()
    }

    /// The JSON that the program prints for these words; null where it prints none.
    pub(crate) fn record(&self, words: &[impl AsRef<OsStr>]) -> Result<Value, Fault> {
        let output = self.program(words)?;
        Ok(serde_json::from_slice(&output.stdout).unwrap_or(Value::Null))
    }

    /// The sound of a specification, made into a file of this name.
    pub(crate) fn tone(&self, spec: &Path, name: &str) -> Result<PathBuf, Fault> {
        let wav = self.folder.join(name).with_extension("wav");
        let (out, replace) = ("-o".as_ref(), "--replace".as_ref());
        let words: [&OsStr; 5] = ["tone".as_ref(), spec.as_ref(), out, wav.as_ref(), replace];
        self.program(&words)?;
        Ok(wav)
    }

    /// The sound of these notes, as they stand in a specification.
    pub(crate) fn notes(&self, notes: &str, name: &str) -> Result<PathBuf, Fault> {
        let spec = self.folder.join(name).with_extension("ron");
        let text = format!(
            "(seed: 4101, bow: (snr_db: Some(35.0)), floor_dbfs: Some(-65.0), lines: [(notes: [{notes}])])"
        );
        fs::write(&spec, text).map_err(|error| self.failed(error))?;
        self.tone(&spec, name)
    }

    /// Runs the window for `secs` with these words for microphone and screen; `name` names its settings and
    /// takes.
    pub(crate) fn window(
        &self,
        name: &str,
        microphone: &[&str],
        wav: Option<&Path>,
        secs: f64,
        screen: &[impl AsRef<OsStr>],
    ) -> Result<Shown, Fault> {
        // A player who knows the window: a new one is shown nothing until the note is over.
        let settings = self.folder.join(format!("{name}-settings.ron"));
        if !settings.exists() {
            fs::write(settings, "()").map_err(|error| self.failed(error))?;
        }
        self.open(name, microphone, wav, secs, screen, &["--instrument", "cello"])
    }

    /// The same for a player who has set nothing but what was set in this window before; what a screen reader is
    /// told of it is written, too.
    pub(crate) fn window_told(
        &self,
        name: &str,
        microphone: &[&str],
        wav: Option<&Path>,
        secs: f64,
        screen: &[impl AsRef<OsStr>],
    ) -> Result<Shown, Fault> {
        let names = self.folder.join(format!("{name}-names.jsonl"));
        let words = [OsStr::new("--told"), names.as_os_str()];
        self.open(name, microphone, wav, secs, screen, &words)
    }

    fn open(
        &self,
        name: &str,
        microphone: &[&str],
        wav: Option<&Path>,
        secs: f64,
        screen: &[impl AsRef<OsStr>],
        words: &[impl AsRef<OsStr>],
    ) -> Result<Shown, Fault> {
        let at = |what: &str| self.folder.join(format!("{name}-{what}"));
        let watch = at("shown.jsonl");
        let names = at("names.jsonl");
        // They are written anew, and never over what is there.
        for path in [&watch, &names] {
            fs::remove_file(path).ok();
        }
        let output = Step::new(&self.virtual_mic)
            .args(microphone)
            .args(wav)
            .arg("--")
            .arg(&self.screen)
            .arg("--shots")
            .arg(&self.folder)
            .args(["--for", &secs.to_string()])
            .args(screen)
            .arg("--")
            .arg(&self.program)
            .arg("practise")
            .args(words)
            .arg("--settings")
            .arg(at("settings.ron"))
            .arg("--journal")
            .arg(at("takes"))
            .arg("--watch")
            .arg(&watch)
            .listen()?;
        let text =
            [&watch, &names].map(|path| fs::read_to_string(path).unwrap_or_default()).concat();
        Ok(Shown {
            lines: text.lines().filter_map(|line| serde_json::from_str(line).ok()).collect(),
            words: String::from_utf8_lossy(&output.stderr).into_owned(),
            well: output.status.success(),
        })
    }

    /// Settings by which the window of this name writes its reports into the folder of the bench.
    pub(crate) fn keep_reports(&self, name: &str) -> Result<(), Fault> {
        let reports = self.folder.join("reports");
        fs::remove_dir_all(&reports).ok();
        let settings = format!("(reports: Some({reports:?}))");
        let path = self.folder.join(format!("{name}-settings.ron"));
        fs::write(path, settings).map_err(|error| self.failed(error))
    }

    /// Holds the report that the window wrote beside the one that the command writes for these words.
    pub(crate) fn same_report(
        &self,
        words: &[impl AsRef<OsStr>],
        checks: &mut Checks,
    ) -> Result<(), Fault> {
        let page = self.folder.join("by-command.html");
        let out: [&OsStr; 3] = ["report".as_ref(), "--out".as_ref(), page.as_ref()];
        let words: Vec<&OsStr> = out.into_iter().chain(words.iter().map(AsRef::as_ref)).collect();
        let output = self.program(&words)?;
        let html = fs::read_to_string(&page).unwrap_or_default();
        let said = String::from_utf8_lossy(&output.stderr);
        checks.that(
            output.status.success() && html.contains("<svg") && !html.contains("<script"),
            "a report is written",
            said.lines().last().unwrap_or(""),
        );
        let written = fs::read_dir(self.folder.join("reports"));
        let written: Vec<PathBuf> =
            written.into_iter().flatten().flatten().map(|file| file.path()).collect();
        let same = |shown: &PathBuf| fs::read_to_string(shown).is_ok_and(|shown| shown == html);
        checks.that(
            written.len() == 1 && written.iter().all(same),
            "the window's report is the command's, byte for byte",
            &format!("{written:?}"),
        );
        Ok(())
    }

    /// Folders of the takes of the window of this name, in the order of time.
    pub(crate) fn takes(&self, name: &str) -> Vec<PathBuf> {
        let inside = |folder: PathBuf| fs::read_dir(folder).into_iter().flatten().flatten();
        let mut takes: Vec<PathBuf> = inside(self.folder.join(format!("{name}-takes")))
            .flat_map(|day| inside(day.path()))
            .map(|take| take.path())
            .filter(|take| take.join("take.ron").is_file())
            .collect();
        takes.sort();
        takes
    }
}

impl Shown {
    /// What `window` shows under the first of these names; under the second if more than `held_up` beats are
    /// seen far from their sound. A machine that is held up for a moment moves the two apart, a program that
    /// is wrong does so each time.
    pub(crate) fn in_time(
        names: [&str; 2],
        held_up: usize,
        window: impl Fn(&str) -> Result<Self, Fault>,
    ) -> Result<(Self, String), Fault> {
        let [first, again] = names;
        let shown = window(first)?;
        if shown.beats_far() <= held_up {
            return Ok((shown, first.to_owned()));
        }
        println!("       {} beats are far from their sound; once more", shown.beats_far());
        Ok((window(again)?, again.to_owned()))
    }

    /// So many beats are seen far from their sound.
    pub(crate) fn beats_far(&self) -> usize {
        let apart = self.beats_apart_ms();
        apart.len() - apart.iter().filter(|ms| ms.abs() <= SEEN_AND_HEARD_MS).count()
    }

    /// How long after its sound each beat is seen, in ms.
    pub(crate) fn beats_apart_ms(&self) -> Vec<f64> {
        let beats = self.lines.iter().filter(|line| line["sounds_s"].is_number());
        beats.map(|line| 1e3 * (number(&line["seen_s"]) - number(&line["sounds_s"]))).collect()
    }

    /// The window opened and ended well.
    pub(crate) fn ends_well(&self, checks: &mut Checks) {
        checks.that(
            self.well && !self.words.contains("panicked"),
            "opens and ends well, without a panic",
            self.words.lines().last().unwrap_or(""),
        );
        let first = self
            .lines
            .iter()
            .find(|line| line["time_s"].is_number())
            .map_or(f64::NAN, |line| number(&line["time_s"]));
        println!("       first picture {:.0} ms after the start (this build)", 1e3 * first);
    }

    fn during(&self, from: f64, to: f64) -> impl Iterator<Item = &Value> {
        let lines = self.lines.iter();
        lines.filter(move |line| (from..to).contains(&number(&line["time_s"])))
    }

    /// All that a screen reader was told between two times, with the middle of each part of the window where it has
    /// a place.
    pub(crate) fn told(&self, from: f64, to: f64) -> Vec<(&str, Option<[f64; 2]>)> {
        let names = self.during(from, to).filter_map(|line| line["names"].as_array()).flatten();
        let place = |part: &Value| Some([part["at"][0].as_f64()?, part["at"][1].as_f64()?]);
        names.filter_map(|part| Some((part["name"].as_str()?, place(part)))).collect()
    }

    /// What was said between two times, in seconds from the start.
    pub(crate) fn within(&self, from: f64, to: f64, what: &str) -> Vec<String> {
        let said = |line: &Value| line[what].as_str().map(str::to_owned);
        self.during(from, to).filter_map(said).collect()
    }

    /// The largest number between two times; NaN, which passes no check, where there is none.
    pub(crate) fn most(&self, what: &str, from: f64, to: f64) -> f64 {
        let values = self.during(from, to).map(|line| number(&line[what]));
        values.fold(f64::NAN, f64::max)
    }
}

/// The screen is to press these keys at this time, in seconds.
pub(crate) fn keys(at: f64, keys: &str) -> [String; 2] {
    ["--keys".to_owned(), format!("{at}:{keys}")]
}
