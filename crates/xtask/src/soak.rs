//! Gate: sound for hours in the real window, on a screen that nobody sees, which keeps takes all the while: what it holds
//! of memory, files and threads, what lies in the journal, and whether sound was missed.
//!
//! At 8 times speed a file stands for the microphone. What grows with the sound, its notes or its takes then grows as it
//! would in that many hours; what goes by the clock of the wall (pictures, waiting for devices) runs for the shorter
//! time. That the ear keeps up is harder than in life. The ring of a real microphone takes part at speed 1 alone.

use std::fs;
use std::io::{Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::checks::{Checks, number};
use crate::display::Display;
use crate::shell::{Fault, Step, built, empty, target, tool};

/// Looks at what the window holds, evenly over the time.
const LOOKS: usize = 32;
/// Of these the first quarter is the warm-up: fonts, pictures and tables are made when they are first wanted, and the
/// trace, the second looks and the last takes fill up to their bounds.
const WARM_LOOKS: usize = LOOKS / 4;
/// Memory may rise so much in an hour of sound once it is warm, by the straight line through what was looked at: some
/// times what it did when this was written, 0.6 MiB. An hour of sound is 700 MB, 720 000 frames of pitch, 1 300 notes and
/// 330 takes: what keeps any of these by mistake rises by far more.
const MOST_MIB_AN_HOUR: f64 = 3.0;
/// What a straight line through so few points may rise by chance, in a short run.
const UNSURE_MIB: f64 = 1.0;
/// Threads and open files come and go with a take that is being written: one each.
const MOST_MORE: f64 = 1.0;
/// The journal grows alike from take to take: the second half may take so much more a take than the first.
const MOST_MORE_A_TAKE: f64 = 0.05;
/// So much of the sound must have been heard: the window takes a moment to open.
const LEAST_HEARD: f64 = 0.95;

/// A note with vibrato, one without, and silence enough for the take to end.
const PLAYED: &str = "(start: 0.3, length: 2.2, f0: 195.4, vibrato: Some((rate: 5.4, width: 40.0))),\n\
    (start: 2.7, length: 1.0, f0: 220.0), (start: 4.0, length: 2.4, f0: 146.8, vibrato: Some((rate: 6.1, width: 30.0))),\n\
    (start: 9.4, length: 0.5, f0: 246.9),";

/// One look at the window and its journal.
#[derive(Clone, Copy, Debug)]
struct Look {
    heard_s: f64,
    lost_s: f64,
    memory_mib: f64,
    threads: f64,
    open_files: f64,
    takes: usize,
    journal_bytes: u64,
}

/// Runs it for so many hours of sound, or says that no window can be opened here.
pub(crate) fn run(hours: f64, speed: f64) -> Result<(), Fault> {
    let Some(display) = Display::open()? else {
        return Ok(());
    };
    let soak = Soak::new(target().join("soak"))?;
    let looks = soak.run(hours, speed, &display)?;
    let mut checks = Checks::default();
    report(&looks);
    check(&looks, hours, &mut checks);
    soak.journal_is_whole(&mut checks)?;
    checks.end("soak")
}

struct Soak {
    program: PathBuf,
    folder: PathBuf,
    sound: PathBuf,
}

impl Soak {
    fn new(folder: PathBuf) -> Result<Self, Fault> {
        let program = built("evenwave")?;
        empty(&folder)?;
        let (spec, sound) = (folder.join("played.ron"), folder.join("played.wav"));
        let text = format!(
            "(seed: 4101, bow: (snr_db: Some(35.0)), floor_dbfs: Some(-65.0), lines: [(notes: [{PLAYED}])])"
        );
        fs::write(&spec, text).map_err(Fault::at(&spec))?;
        Step::new(&program).arg("tone").args([&spec]).arg("-o").args([&sound]).run()?;
        Ok(Self { program, folder, sound })
    }

    /// Lets the window hear the sound for so long, and looks at it.
    fn run(&self, hours: f64, speed: f64, display: &Display) -> Result<Vec<Look>, Fault> {
        let secs = 3_600.0 * hours / speed;
        let microphone = if speed == 1.0 { tool("virtual-mic") } else { None };
        let source = match &microphone {
            Some(_) => "a virtual microphone",
            None => "a file in place of a microphone",
        };
        println!("{hours} hours of sound at {speed} times speed from {source}, in {secs:.0} s");
        let step = match &microphone {
            Some(tool) => Step::new(tool).arg("--loop").arg(&self.sound).args(["--", "timeout"]),
            None => Step::new("timeout"),
        };
        let mut step = step
            .args(["--signal", "TERM", &format!("{secs:.0}")])
            .arg(&self.program)
            .args(["practise", "--instrument", "cello"])
            .args([Path::new("--settings"), &self.folder.join("settings.ron")])
            .args([Path::new("--journal"), &self.takes()])
            .args([Path::new("--watch"), &self.shown()])
            .env("DISPLAY", &display.name)
            .env("LIBGL_ALWAYS_SOFTWARE", "1");
        if microphone.is_none() {
            step = step.arg("--sound").arg(&self.sound).args(["--speed", &speed.to_string()]);
        }
        let mut window = step.start_quietly()?;
        let (begun, mut at, mut looks) = (Instant::now(), 0, Vec::new());
        for number in 1..=LOOKS {
            // The last look before the window is ended.
            let due = secs * number as f64 / LOOKS as f64 - 1.0;
            let due = Duration::from_secs_f64(due.max(0.1));
            std::thread::sleep(due.saturating_sub(begun.elapsed()));
            let ended = window.try_wait().map_err(Fault::at(&self.program))?;
            if let Some(status) = ended {
                return Err(Fault::Tool(format!("the window ended by itself: {status}")));
            }
            looks.extend(self.look(&mut at)?);
        }
        window.wait().map_err(Fault::at(&self.program))?;
        Ok(looks)
    }

    fn takes(&self) -> PathBuf {
        self.folder.join("takes")
    }

    fn shown(&self) -> PathBuf {
        self.folder.join("shown.jsonl")
    }

    /// What the window wrote since `at`, in the median; nothing where it wrote nothing.
    fn look(&self, at: &mut u64) -> Result<Option<Look>, Fault> {
        let path = self.shown();
        let mut text = String::new();
        let mut file = fs::File::open(&path).map_err(Fault::at(&path))?;
        file.seek(SeekFrom::Start(*at)).map_err(Fault::at(&path))?;
        file.read_to_string(&mut text).map_err(Fault::at(&path))?;
        // The last line may not be whole yet.
        let whole = text.rfind('\n').map_or(0, |end| end + 1);
        *at += whole as u64;
        let lines: Vec<Value> =
            text[..whole].lines().filter_map(|line| serde_json::from_str(line).ok()).collect();
        let all = |name: &str| -> Vec<f64> {
            let mut values: Vec<f64> = lines.iter().map(|line| number(&line[name])).collect();
            values.retain(|value| value.is_finite());
            values.sort_by(f64::total_cmp);
            values
        };
        let median = |name: &str| all(name).get(all(name).len() / 2).copied();
        let most = |name: &str| all(name).last().copied();
        let (takes, journal_bytes) = size(&self.takes())?;
        let look = || {
            Some(Look {
                heard_s: most("heard_s")?,
                lost_s: most("lost_s")?,
                memory_mib: median("memory_kib")? / 1024.0,
                threads: most("threads")?,
                open_files: most("open_files")?,
                takes,
                journal_bytes,
            })
        };
        Ok(look())
    }

    /// What was being written when the window was ended is mended, and no take is damaged.
    fn journal_is_whole(&self, checks: &mut Checks) -> Result<(), Fault> {
        for deed in ["mend", "verify"] {
            let done = Step::new(&self.program).args(["journal", "--journal"]);
            let done = done.arg(self.takes()).arg(deed).listen()?;
            let said = String::from_utf8_lossy(&done.stdout).into_owned()
                + &String::from_utf8_lossy(&done.stderr);
            let what = format!("`journal {deed}` of what was kept");
            checks.that(done.status.success(), &what, said.lines().last().unwrap_or(""));
        }
        Ok(())
    }
}

/// Whole takes in a journal, and all the bytes in it.
fn size(folder: &Path) -> Result<(usize, u64), Fault> {
    let (mut takes, mut bytes) = (0, 0);
    let mut left = vec![folder.to_owned()];
    while let Some(path) = left.pop() {
        for entry in fs::read_dir(&path).into_iter().flatten().flatten() {
            let path = entry.path();
            // A file that has just been renamed is looked at the next time.
            let Ok(about) = entry.metadata() else { continue };
            if about.is_dir() {
                left.push(path);
                continue;
            }
            bytes += about.len();
            let unfinished = path
                .parent()
                .is_some_and(|take| take.extension().is_some_and(|ending| ending == "unfinished"));
            takes += usize::from(path.ends_with("take.ron") && !unfinished);
        }
    }
    Ok((takes, bytes))
}

fn report(looks: &[Look]) {
    println!("   heard    missed   memory  threads  files   takes   journal");
    for look in looks {
        println!(
            "{:>6.1} min {:>6.2} s {:>5.1} MiB {:>6} {:>7} {:>7} {:>7.1} MiB",
            look.heard_s / 60.0,
            look.lost_s,
            look.memory_mib,
            look.threads,
            look.open_files,
            look.takes,
            look.journal_bytes as f64 / 1_048_576.0
        );
    }
}

fn check(looks: &[Look], hours: f64, checks: &mut Checks) {
    let warm = &looks[WARM_LOOKS.min(looks.len())..];
    let (Some(first), Some(last)) = (warm.first(), warm.last()) else {
        checks.that(false, "the window was looked at", &format!("{} times", looks.len()));
        return;
    };
    checks.that(
        last.heard_s >= LEAST_HEARD * 3_600.0 * hours,
        "all of the sound was heard",
        &format!("{:.1} min", last.heard_s / 60.0),
    );
    checks.that(last.lost_s == 0.0, "no sound was missed", &format!("{:.3} s", last.lost_s));
    let an_hour = 3_600.0 * slope(warm);
    let warm_hours = (last.heard_s - first.heard_s) / 3_600.0;
    checks.that(
        an_hour * warm_hours <= MOST_MIB_AN_HOUR * warm_hours + UNSURE_MIB,
        &format!("memory grows by at most {MOST_MIB_AN_HOUR} MiB in an hour of sound"),
        &format!("{:+.1} MiB in {warm_hours:.2} h", an_hour * warm_hours),
    );
    let (before, after) = looks.split_at(looks.len() / 2);
    for (what, of) in [
        ("threads", (|look| look.threads) as fn(&Look) -> f64),
        ("open files", |look| look.open_files),
    ] {
        let most = |looks: &[Look]| looks.iter().map(of).fold(0.0, f64::max);
        let (early, late) = (most(before), most(after));
        checks.that(
            late <= early + MOST_MORE,
            &format!("no more {what} in the second half"),
            &format!("{late}, {early} in the first"),
        );
    }
    let middle = &looks[looks.len() / 2];
    let a_take = |from: &Look, to: &Look| {
        (to.journal_bytes - from.journal_bytes) as f64 / (to.takes - from.takes) as f64
    };
    let (early, late) = (a_take(first, middle), a_take(middle, last));
    checks.that(
        late / early <= 1.0 + MOST_MORE_A_TAKE,
        "the journal grows alike from take to take",
        &format!("{:.0} kB a take, then {:.0}", early / 1e3, late / 1e3),
    );
}

/// By how much memory rises with each second of sound: the straight line of least squares, in MiB.
fn slope(looks: &[Look]) -> f64 {
    let count = looks.len() as f64;
    let mean = |of: fn(&Look) -> f64| looks.iter().map(of).sum::<f64>() / count;
    let (time, memory) = (mean(|look| look.heard_s), mean(|look| look.memory_mib));
    let across = |look: &Look| look.heard_s - time;
    let up: f64 = looks.iter().map(|look| across(look) * (look.memory_mib - memory)).sum();
    let along: f64 = looks.iter().map(|look| across(look).powi(2)).sum();
    up / along
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A run of half an hour, the memory of which rises so much in an hour.
    fn looks(mib_an_hour: f64) -> Vec<Look> {
        let look = |number: usize| {
            let heard_s = 1_800.0 * (number + 1) as f64 / LOOKS as f64;
            Look {
                heard_s,
                lost_s: 0.0,
                memory_mib: 160.0 + mib_an_hour * heard_s / 3_600.0,
                threads: 12.0,
                open_files: 15.0,
                takes: 10 * number,
                journal_bytes: 1_000_000 * number as u64,
            }
        };
        (0..LOOKS).map(look).collect()
    }

    fn passes(looks: &[Look]) -> bool {
        let mut checks = Checks::default();
        check(looks, 0.5, &mut checks);
        checks.end("soak").is_ok()
    }

    #[test]
    fn what_is_flat_passes_and_what_grows_does_not() {
        assert!(passes(&looks(0.0)));
        assert!((slope(&looks(7.0)) * 3_600.0 - 7.0).abs() < 1e-6);
        assert!(!passes(&looks(40.0)));
        for grow in [
            |look: &mut Look| look.threads += look.takes as f64 / 50.0,
            |look: &mut Look| look.open_files += look.takes as f64 / 50.0,
            |look: &mut Look| look.journal_bytes += (look.takes * look.takes * 500) as u64,
            |look: &mut Look| look.lost_s = 0.01,
            |look: &mut Look| look.heard_s /= 2.0,
        ] {
            let mut looks = looks(0.0);
            looks.iter_mut().for_each(grow);
            assert!(!passes(&looks));
        }
    }
}
