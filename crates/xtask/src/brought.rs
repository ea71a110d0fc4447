//! Gate: recordings are brought to the window as players bring them. 300 files are dropped at once, as telephones make
//! them and as wave files; dropped again, they are known. A file of an hour is stopped in the middle, and a shorter one taken in.
//! A recording is dropped on a plan that is edited, a passage on the list. At last files are named on the command line.
//! On an invisible screen, by the protocol of desktops for dropping.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Child;
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::checks::{Checks, number, records};
use crate::desk::Desk;
use crate::display::Display;
use crate::packages;
use crate::shell::{Fault, Step, built, empty, target};

/// Files of one drop.
const FILES: usize = 300;
/// A telephone's: sample rate in Hz, channels, and how its coder spends bits: so many, or as many as it needs.
const PHONES: [(u32, u32, &[&str]); 8] = [
    (44_100, 1, &["-b:a", "64k"]),
    (44_100, 2, &["-b:a", "128k"]),
    (48_000, 1, &["-b:a", "64k"]),
    (48_000, 2, &["-b:a", "128k"]),
    (44_100, 1, &["-q:a", "1"]),
    (44_100, 2, &["-q:a", "1"]),
    (48_000, 1, &["-q:a", "1"]),
    (48_000, 2, &["-q:a", "1"]),
];
/// A long file that is stopped, in minutes, and one that is taken in whole: an hour takes three minutes of a processor.
const HOUR: u32 = 60;
const LESSON: u32 = 5;
/// Widths of the vibrato on what is recorded, in cents; a telephone's coder takes off so much.
const WIDTH: f64 = 40.0;
const NEAR: f64 = 1.0;
/// All of a drop is taken in within this.
const PATIENCE: Duration = Duration::from_secs(90);
/// Keys by the signs of X.
const ESCAPE: u32 = 0xff1b;
const F6: u32 = 0xffc3;

/// Runs it, or says that no window can be opened here.
pub(crate) fn run() -> Result<(), Fault> {
    let Some(display) = Display::open()? else {
        return Ok(());
    };
    packages::install(&[packages::PHONE])?;
    let bench = Bench::new(&display)?;
    let mut checks = Checks::default();
    let files = bench.recordings()?;
    let hour = bench.lesson("an hour", HOUR)?;
    let lesson = bench.lesson("lesson", LESSON)?;
    let mut window = bench.open("first", &[])?;
    println!("\n{FILES} files dropped at once");
    bench.dropped(&window, &files, &mut checks)?;
    println!("\na file of an hour");
    bench.long(&window, (&hour, &lesson), &mut checks)?;
    println!("\na recording on a plan, and a passage on the list");
    bench.on_a_plan(&window, &files[FILES - 1], &mut checks)?;
    window.end()?;
    println!("\nfiles named on the command line");
    let named = [&files[0], &bench.note("one-more", 246.9, 0.9)?].map(PathBuf::clone);
    window = bench.open("second", &named)?;
    let more = bench.until(|| bench.takes() == FILES + 2);
    checks.that(more, "what is new becomes a take", &bench.takes().to_string());
    let known = window.told("here already: 1");
    checks.that(known, "what is not new is known", &window.last());
    window.end()?;
    checks.end("brought")
}

struct Bench {
    program: PathBuf,
    folder: PathBuf,
    display: String,
}

/// The program while its window is open.
struct Window {
    child: Child,
    desk: Desk,
    names: PathBuf,
}

impl Bench {
    fn new(display: &Display) -> Result<Self, Fault> {
        let (program, folder) = (built("evenwave")?, target().join("brought"));
        empty(&folder)?;
        let settings = folder.join("settings.ron");
        fs::write(&settings, "(player: \"Mira\", instrument: Some(\"cello\"))")
            .map_err(Fault::at(&settings))?;
        Ok(Self { program, folder, display: display.name.clone() })
    }

    /// A wave file with one note, from so many Hz and seconds.
    fn note(&self, name: &str, f0: f64, length: f64) -> Result<PathBuf, Fault> {
        let spec = self.folder.join(name).with_extension("ron");
        let wav = spec.with_extension("wav");
        let text = format!(
            "(seed: 4101, bow: (snr_db: Some(35.0)), floor_dbfs: Some(-65.0), lines: [(notes: [\
             (start: 0.2, length: {length}, f0: {f0}, vibrato: Some((rate: 5.5, width: {WIDTH})))])])"
        );
        fs::write(&spec, text).map_err(Fault::at(&spec))?;
        Step::new(&self.program).arg("tone").args([&spec]).arg("-o").args([&wav]).run()?;
        fs::remove_file(&spec).map_err(Fault::at(&spec))?;
        Ok(wav)
    }

    /// A file as a telephone makes it, `length` seconds long.
    fn phone(
        &self,
        wav: &Path,
        name: &str,
        length: u32,
        (rate, channels, bits): (u32, u32, &[&str]),
    ) -> Result<PathBuf, Fault> {
        let made = self.folder.join(name).with_extension("m4a");
        let length = length.to_string();
        Step::new("ffmpeg")
            .args(["-loglevel", "error", "-stream_loop", "-1", "-i"])
            .arg(wav)
            .args(["-t", &length, "-ar", &rate.to_string(), "-ac", &channels.to_string()])
            .args(["-c:a", "aac"])
            .args(bits)
            .arg(&made)
            .run()?;
        Ok(made)
    }

    /// Notes that all differ; the last one is D3, a second long.
    fn recordings(&self) -> Result<Vec<PathBuf>, Fault> {
        let mut files = Vec::new();
        for (number, phone) in PHONES.into_iter().enumerate() {
            let wav = self.note(&format!("telephone {number}"), 130.0 + number as f64, 2.5)?;
            files.push(self.phone(&wav, &format!("telephone {number}"), 3, phone)?);
        }
        while files.len() < FILES - 1 {
            let number = files.len();
            let f0 = 196.0 * (number as f64 / 1_200.0).exp2();
            files.push(self.note(&format!("note {number}"), f0, 0.8)?);
        }
        files.push(self.note("d3", 146.832, 1.0)?);
        Ok(files)
    }

    /// A file of so many minutes: one minute, again and again.
    fn lesson(&self, name: &str, minutes: u32) -> Result<PathBuf, Fault> {
        let wav = self.note(name, 174.6, 5.0)?;
        let minute = self.phone(&wav, &format!("minute of {name}"), 60, PHONES[3])?;
        let made = self.folder.join(name).with_extension("m4a");
        Step::new("ffmpeg")
            .args(["-loglevel", "error", "-stream_loop", &(minutes - 1).to_string(), "-i"])
            .arg(minute)
            .args(["-c", "copy"])
            .arg(&made)
            .run()?;
        Ok(made)
    }

    fn journal(&self) -> PathBuf {
        self.folder.join("takes")
    }

    fn open(&self, name: &str, files: &[PathBuf]) -> Result<Window, Fault> {
        let names = self.folder.join(format!("{name}.jsonl"));
        let child = Step::new(&self.program)
            .arg("practise")
            .args([Path::new("--settings"), &self.folder.join("settings.ron")])
            .args([Path::new("--journal"), &self.journal()])
            .args([Path::new("--told"), &names])
            .args(files)
            .env("DISPLAY", &self.display)
            .env("LIBGL_ALWAYS_SOFTWARE", "1")
            .start_quietly()?;
        let desk = Desk::at(&self.display)?;
        Ok(Window { child, desk, names })
    }

    /// Waits until this is so; whether it came to that.
    fn until(&self, is_so: impl Fn() -> bool) -> bool {
        let begun = Instant::now();
        while begun.elapsed() < PATIENCE {
            if is_so() {
                return true;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        false
    }

    /// What lies in the journal, whole takes and others.
    fn folders(&self) -> Vec<PathBuf> {
        let inside = |folder: PathBuf| {
            let found = fs::read_dir(folder).into_iter().flatten().flatten();
            found.map(|entry| entry.path()).filter(|path| path.is_dir())
        };
        let folders: Vec<_> = inside(self.journal()).flat_map(inside).collect();
        folders.into_iter().filter(|folder| !folder.ends_with(".trash")).collect()
    }

    fn takes(&self) -> usize {
        self.folders().iter().filter(|take| take.join("take.ron").is_file()).count()
    }

    /// What `journal` says to these words, a value a line; and whether it ended well.
    fn journal_says(&self, words: &[&str]) -> Result<(Vec<Value>, bool), Fault> {
        let step = Step::new(&self.program).args(["journal", "--journal"]).arg(self.journal());
        let done = step.args(words).listen()?;
        Ok((records(&done.stdout), done.status.success()))
    }

    fn dropped(
        &self,
        window: &Window,
        files: &[PathBuf],
        checks: &mut Checks,
    ) -> Result<(), Fault> {
        let begun = Instant::now();
        let all: Vec<&Path> = files.iter().map(PathBuf::as_path).collect();
        window.desk.drop_files(&all)?;
        let progress = window.told("of 300 recordings taken in");
        checks.that(progress, "how far it is, is told", &window.last());
        let all_in = self.until(|| window.is_told("300 recordings came in"));
        let seen = format!("{} in {:.0} s", self.takes(), begun.elapsed().as_secs_f64());
        checks.that(all_in && self.takes() == FILES, "each becomes a take", &seen);
        window.desk.drop_files(&all)?;
        let known = self.until(|| window.is_told("here already: 300"));
        checks.that(
            known && self.takes() == FILES,
            "dropped once more, none is doubled",
            &format!("{} takes; {}", self.takes(), window.last()),
        );
        let (listed, well) = self.journal_says(&["list", "--json"])?;
        let (_, verified) = self.journal_says(&["verify"])?;
        checks.that(well && verified, "`journal verify` finds all of them whole", "");
        let telephones: Vec<f64> = listed
            .iter()
            .filter(|take| take["word"].as_str().is_some_and(|word| word.starts_with("telephone")))
            .map(|take| (number(&take["width_cents"]) - WIDTH).abs())
            .collect();
        let far = telephones.iter().fold(0.0, |far: f64, &off| far.max(off));
        checks.that(
            telephones.len() == PHONES.len() && far <= NEAR,
            "a telephone's files are as wide as they were made",
            &format!("{} of them, at most {far:.2} cents off", telephones.len()),
        );
        Ok(())
    }

    fn long(
        &self,
        window: &Window,
        (hour, lesson): (&Path, &Path),
        checks: &mut Checks,
    ) -> Result<(), Fault> {
        let before = self.folders().len();
        window.desk.drop_files(&[hour])?;
        let stop = "stop taking recordings in";
        let place = self.until(|| window.place(stop).is_some());
        checks.that(place, "it can be stopped", &window.last());
        // In the middle of it.
        std::thread::sleep(Duration::from_secs(8));
        if let Some(place) = window.place(stop) {
            window.desk.click(place)?;
        }
        let stopped = self.until(|| window.is_told("stopped before 1"));
        checks.that(
            stopped && self.folders().len() == before,
            "stopped in the middle, nothing of it stays",
            &window.last(),
        );
        let begun = Instant::now();
        window.desk.drop_files(&[lesson])?;
        let whole =
            self.until(|| self.takes() == FILES + 1 && window.is_told("1 recording came in"));
        checks.that(
            whole,
            "the next one becomes a take",
            &format!("{:.0} s for {LESSON} min", begun.elapsed().as_secs_f64()),
        );
        Ok(())
    }

    fn on_a_plan(
        &self,
        window: &Window,
        recording: &Path,
        checks: &mut Checks,
    ) -> Result<(), Fault> {
        window.desk.press(F6)?;
        window.desk.press(u32::from(b'n'))?;
        let begun = self.until(|| window.is_told("D3, 1 beat: straight"));
        checks.that(begun, "a passage is begun: D3, straight", &window.last());
        window.desk.drop_files(&[recording])?;
        let planned = self.until(|| window.is_told("As it was played. D3, 1 beat: "));
        let said = window.telling("As it was played. D3").unwrap_or_default();
        let wide = said.contains("40") || said.contains("39") || said.contains("41");
        checks.that(planned && wide, "its note is planned as it was recorded", &said);
        window.desk.press(ESCAPE)?;
        let text = "title Brought along\ninstrument cello\nbeats 3 of quarter\nclef bass\n\n\
                    bar 1  F3 1 width 30, G3 1 width 20, E3 1 straight\n";
        let path = self.folder.join("brought.passage.txt");
        fs::write(&path, text).map_err(Fault::at(&path))?;
        window.desk.drop_files(&[&path])?;
        let opened = self.until(|| window.is_told("passage Brought along,"));
        checks.that(opened, "a passage that is dropped is kept and opened", "");
        Ok(())
    }
}

impl Window {
    /// What a screen reader is told now, with the middle of each part.
    fn names(&self) -> Vec<(String, Option<[f64; 2]>)> {
        let text = fs::read_to_string(&self.names).unwrap_or_default();
        // The last line may not be whole yet.
        let whole = &text[..text.rfind('\n').unwrap_or(0)];
        let last: Value = whole
            .lines()
            .last()
            .and_then(|line| serde_json::from_str(line).ok())
            .unwrap_or_default();
        let place = |part: &Value| Some([part["at"][0].as_f64()?, part["at"][1].as_f64()?]);
        let all = last["names"].as_array().into_iter().flatten();
        all.filter_map(|part| Some((part["name"].as_str()?.to_owned(), place(part)))).collect()
    }

    fn telling(&self, words: &str) -> Option<String> {
        self.names().into_iter().map(|(name, _)| name).find(|name| name.contains(words))
    }

    fn is_told(&self, words: &str) -> bool {
        self.telling(words).is_some()
    }

    /// Whether it was told at any time so far, or is soon.
    fn told(&self, words: &str) -> bool {
        let begun = Instant::now();
        while begun.elapsed() < Duration::from_secs(20) {
            if fs::read_to_string(&self.names).is_ok_and(|all| all.contains(words)) {
                return true;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        false
    }

    fn place(&self, name: &str) -> Option<[f64; 2]> {
        self.names().into_iter().find(|(told, _)| told == name)?.1
    }

    /// The sentence that is told of now.
    fn last(&self) -> String {
        let about = |name: &String| {
            ["came in", "taken in", "being measured"].iter().any(|words| name.contains(words))
        };
        self.names().into_iter().map(|(name, _)| name).find(about).unwrap_or_default()
    }

    fn end(mut self) -> Result<(), Fault> {
        Step::new("kill").args(["-TERM", &self.child.id().to_string()]).run()?;
        self.child.wait().map_err(Fault::at(&self.names))?;
        Ok(())
    }
}
