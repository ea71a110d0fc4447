//! Gate: a program that uses a journal without rest is killed at random moments, also on a disk that runs full;
//! afterwards no take may be lost but its last 2 s, and nothing may be damaged. The sound is decoded by the
//! reference decoder (`flac`) as well, and compared byte by byte.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use crate::checks::Checks;
use crate::packages;
use crate::shell::{Chance, Fault, Step, built, empty, remove, target};
use crate::small_disk::SmallDisk;

/// How often it is killed, and how often on a disk that is full.
const KILLS: usize = 200;
const FULL_KILLS: usize = 40;
/// It is killed so long after it has said what it is at, at the latest.
const LONGEST_US: usize = 10_000;
/// One that does not come to what it is to be killed at is killed after this.
const PATIENCE: Duration = Duration::from_millis(800);
/// After so many kills a new journal is begun.
const KILLS_OF_A_JOURNAL: usize = 25;
/// Size of the disk that runs full, and the room that is left on it at most, in bytes.
const FULL_DISK: &str = "size=48m";
const ROOM: usize = 1_500_000;
/// What it must have been at, at least once, when it was killed.
const DEEDS: &[&str] =
    &["opening", "taken", "finishing", "deleting", "indexing", "exporting", "importing"];
/// Takes that are decoded by the reference decoder.
const DECODED: usize = 40;

/// Runs the gate.
pub(crate) fn run(seed: u64) -> Result<(), Fault> {
    packages::install(&[packages::FLAC])?;
    let recorder = built("examples/recorder")?;
    let folder = target().join("crash");
    empty(&folder)?;
    let mut checks = Checks::default();
    let mut bench =
        Bench { recorder, chance: Chance(seed), decoded: 0, killed_at: BTreeMap::new() };
    println!("killed {KILLS} times (seed {seed})");
    let journals = bench.kill_often(&folder, None, KILLS, &mut checks)?;
    for deed in DEEDS {
        let count = bench.killed_at.get(*deed).copied().unwrap_or(0);
        checks.that(count > 0, &format!("killed at: {deed}"), &format!("{count} times"));
    }
    bench.decode(&journals, &mut checks)?;
    let disk = folder.join("full");
    empty(&disk)?;
    if let Some(small) = SmallDisk::or_skipped(&disk, FULL_DISK)? {
        println!("\nkilled {FULL_KILLS} times on a disk that runs full");
        let journals = bench.kill_often(&disk, Some(&small), FULL_KILLS, &mut checks)?;
        bench.told_full(&journals, &mut checks)?;
    }
    checks.end("crash")
}

struct Bench {
    recorder: PathBuf,
    chance: Chance,
    decoded: usize,
    /// First words of the last lines of the logs.
    killed_at: BTreeMap<String, usize>,
}

impl Bench {
    /// Kills the recorder so often in journals within `folder`, and checks after each time.
    fn kill_often(
        &mut self,
        folder: &Path,
        full: Option<&SmallDisk>,
        kills: usize,
        checks: &mut Checks,
    ) -> Result<Vec<PathBuf>, Fault> {
        let mut journals: Vec<PathBuf> = Vec::new();
        let mut words = String::new();
        let (mut good, mut most_lost) = (0, 0.0);
        for kill in 0..kills {
            if kill % KILLS_OF_A_JOURNAL == 0 {
                if let Some(last) = journals.last()
                    && full.is_some()
                {
                    remove(last)?;
                    remove(&last.with_extension("copy"))?;
                    remove(&last.with_extension("going"))?;
                    remove_file(&last.with_extension("zip"))?;
                }
                journals.push(folder.join(format!("journal-{kill}")));
            }
            let journal = &journals[journals.len() - 1];
            let log = log(journal);
            if let Some(disk) = full {
                disk.fill(self.chance.below(ROOM) as u64)?;
            }
            self.play(journal, &log)?;
            // To be mended, room is needed.
            full.map_or(Ok(()), SmallDisk::free)?;
            let output = Step::new(&self.recorder).arg("check").args([journal, &log]).listen()?;
            let said = String::from_utf8_lossy(&output.stdout).into_owned();
            if output.status.success() {
                good += 1;
                most_lost = f64::max(most_lost, lost(&said).unwrap_or(f64::INFINITY));
            } else {
                words += &String::from_utf8_lossy(&output.stderr);
                println!("  kill {kill}: {}", words.lines().last().unwrap_or("no word"));
            }
        }
        checks.that(
            good == kills,
            "journals whole after it, no take lost but its end",
            &format!("{good} of {kills}"),
        );
        checks.that(
            most_lost <= 2.0,
            "most of a take that was lost, at most 2 s",
            &format!("{most_lost:.2} s"),
        );
        Ok(journals)
    }

    /// Lets the recorder play into `journal` until a random moment, and adds what it says to `log`.
    fn play(&mut self, journal: &Path, log: &Path) -> Result<(), Fault> {
        let seed = self.chance.below(1 << 31);
        let deed = DEEDS[self.chance.below(DEEDS.len())];
        // The shorter the more often, for most of what it does is short.
        let longest = self.chance.below(LONGEST_US) + 1;
        let after = Duration::from_micros(self.chance.below(longest) as u64);
        // A take anywhere in its course, the rest the first time, for it comes seldom.
        let mut passed_over = match deed {
            "taken" => self.chance.below(60),
            _ => 0,
        };
        let mut child =
            Step::new(&self.recorder).arg("play").arg(journal).arg(seed.to_string()).start()?;
        let (sender, said) = mpsc::channel();
        let out = child.stdout.take();
        std::thread::spawn(move || {
            let lines = out.into_iter().flat_map(|out| BufReader::new(out).lines());
            lines.map_while(Result::ok).all(|line| sender.send(line).is_ok())
        });
        let mut lines: Vec<String> = Vec::new();
        let end = Instant::now() + PATIENCE;
        while let Ok(line) = said.recv_timeout(end.saturating_duration_since(Instant::now())) {
            let reached = line.starts_with(deed);
            lines.push(line);
            if reached && passed_over == 0 {
                std::thread::sleep(after);
                break;
            }
            passed_over -= usize::from(reached);
        }
        let ended = child.try_wait().map_err(Fault::at(&self.recorder))?;
        if let Some(status) = ended {
            let words = format!("the recorder ended by itself: {status}");
            return Err(Fault::Tool(words));
        }
        // SIGKILL on Unix.
        child.kill().map_err(Fault::at(&self.recorder))?;
        child.wait().map_err(Fault::at(&self.recorder))?;
        lines.extend(said);
        let at = lines.last().and_then(|line| line.split(' ').next());
        *self.killed_at.entry(at.unwrap_or("starting").to_owned()).or_default() += 1;
        let mut file =
            File::options().create(true).append(true).open(log).map_err(Fault::at(log))?;
        lines.iter().try_for_each(|line| writeln!(file, "{line}")).map_err(Fault::at(log))
    }

    /// Lets the reference decoder test takes, and compares its samples with those that were played.
    fn decode(&mut self, journals: &[PathBuf], checks: &mut Checks) -> Result<(), Fault> {
        let (raw, due) = (target().join("crash/raw"), target().join("crash/due"));
        let (mut tested, mut equal, mut mended) = (0, 0, 0);
        let mut takes: Vec<(PathBuf, PathBuf)> = Vec::new();
        for journal in journals {
            for day in folders(journal)? {
                for take in folders(&day)? {
                    takes.push((journal.clone(), take));
                }
            }
        }
        while self.decoded < DECODED && !takes.is_empty() {
            let index = self.chance.below(takes.len());
            let (journal, take) = takes.swap_remove(index);
            let measures = take.join("take.ron");
            let text = fs::read_to_string(&measures).map_err(Fault::at(&measures))?;
            mended += usize::from(text.contains("mended: true"));
            self.decoded += 1;
            let sound = take.join("sound.flac");
            let test = Step::new("flac")
                .args(["--silent", "--test", "--warnings-as-errors"])
                .arg(&sound)
                .listen()?;
            tested += usize::from(test.status.success());
            Step::new("flac")
                .args(["--silent", "--decode", "--force", "--force-raw-format"])
                .args(["--endian=little", "--sign=signed", "-o"])
                .args([&raw, &sound])
                .listen()?;
            let id = format!("{}/{}", name(take.parent().unwrap_or(&take)), name(&take));
            Step::new(&self.recorder).arg("sound").arg(journal).arg(id).arg(&due).listen()?;
            let read = |path: &Path| fs::read(path).map_err(Fault::at(path));
            let bytes = read(&raw)?;
            equal += usize::from(!bytes.is_empty() && bytes == read(&due)?);
            remove_file(&raw)?;
            remove_file(&due)?;
        }
        let of = |count: usize| format!("{count} of {DECODED} ({mended} of them mended)");
        checks.that(tested == DECODED, "`flac --test` finds no fault", &of(tested));
        checks.that(equal == DECODED, "decoded samples equal those played", &of(equal));
        Ok(())
    }

    /// A disk that never ran full has shown nothing.
    fn told_full(&self, journals: &[PathBuf], checks: &mut Checks) -> Result<(), Fault> {
        let mut count = 0;
        for journal in journals {
            let log = log(journal);
            let text = fs::read_to_string(&log).map_err(Fault::at(&log))?;
            let told = text.lines().filter(|line| line.starts_with("full the disk is full"));
            count += told.count();
        }
        checks.that(count > 0, "the full disk was told in words", &format!("{count} times"));
        Ok(())
    }
}

/// Where the log of a journal stands: not on the disk that may be full.
fn log(journal: &Path) -> PathBuf {
    let folder = journal.parent().map_or_else(String::new, name);
    let file = format!("{folder}-{}.log", name(journal));
    target().join("crash").join(file)
}

fn name(path: &Path) -> String {
    path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn remove_file(path: &Path) -> Result<(), Fault> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(Fault::at(path)(error)),
        _ => Ok(()),
    }
}

fn folders(folder: &Path) -> Result<Vec<PathBuf>, Fault> {
    let entries = fs::read_dir(folder).map_err(Fault::at(folder))?;
    let mut found = Vec::new();
    for entry in entries {
        let path = entry.map_err(Fault::at(folder))?.path();
        if path.is_dir() {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// The seconds in a line like `12 takes, 3 mended, at most 0.85 s lost`.
fn lost(said: &str) -> Option<f64> {
    let words: Vec<&str> = said.split_whitespace().collect();
    let place = words.windows(2).position(|pair| pair == ["at", "most"])?;
    words.get(place + 2)?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_lost_is_read_from_the_line_of_the_recorder() {
        assert_eq!(lost("12 takes, 3 mended, at most 0.85 s lost\n"), Some(0.85));
        assert_eq!(lost("nothing"), None);
    }
}
