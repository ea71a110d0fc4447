//! Gate: the program is given what hands, disks and strangers may give it, case by case: damaged sound, texts, journals,
//! zips and tables, streams that break, odd names and environments, names that are taken, signals, disks that are all but
//! full, little memory and few files, the window that records among them. Each case runs in
//! a folder of its own and is scored by how the program ends and by what then lies there.

mod cases;
mod limits;

use std::collections::{BTreeMap, BTreeSet};
use std::ffi::OsStr;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Command, ExitStatus, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::time::{Duration, Instant};

use serde_json::Value;

use crate::checks::Checks;
use crate::display::Display;
use crate::shell::{Fault, Step, built, empty, target};
use crate::small_disk::SmallDisk;
use cases::{Case, Due, Stream, cases, limited};
use limits::limits;

/// No case has work for longer.
const LIMIT: Duration = Duration::from_secs(20);
/// Cases that must be there, so that a gate that lost some does not pass.
const LEAST: usize = 3_000;
/// Size of a small disk, with room for what a case begins with.
const DISK: &str = "size=24m";
/// The folder within that of a case in which it runs.
const WORK: &str = "work";

/// How a case ended, the worst last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Score {
    /// Done as it should be.
    Right,
    /// Refused, or done in part, in words.
    Told,
    /// Done in part or not at all without a word, or in words that say nothing.
    Silent,
    /// A panic, or an end by a signal that nobody sent.
    Crash,
    /// No end.
    Hang,
    /// A file that was there is gone or changed, or good input was refused.
    Loss,
    /// A file was made where none was asked for.
    Outside,
}

const SCORES: [Score; 7] = [
    Score::Right,
    Score::Told,
    Score::Silent,
    Score::Crash,
    Score::Hang,
    Score::Loss,
    Score::Outside,
];

/// What became of a case, and in words why.
type Scored = Result<(Score, String), Fault>;

/// Runs the gate.
pub(crate) fn run(seed: u64) -> Result<(), Fault> {
    let program = built("evenwave")?;
    let folder = target().join("attack");
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    let places: Vec<PathBuf> =
        (0..workers).map(|worker| folder.join(format!("case-{worker}"))).collect();
    // A run that was broken off may have left its disks.
    places.iter().for_each(|place| SmallDisk::leave(&place.join(WORK)));
    empty(&folder)?;
    let base = folder.join("base");
    let made = Step::new(target().join("debug/examples/attacked")).arg(&base).listen()?;
    let ids = String::from_utf8_lossy(&made.stdout).into_owned();
    let ids: Vec<&str> = ids.lines().collect();
    let display = Display::open()?;
    let small_disks = SmallDisk::or_skipped(&folder.join("disk"), DISK)?.is_some();
    let mut cases = cases(&base, &program, &ids, seed)?;
    let name = display.as_ref().map(|display| display.name.as_str());
    cases.extend(limits(&ids, &program, (name, small_disks), seed)?);
    println!("{} cases (seed {seed})", cases.len());
    let bench = Bench { base, program, kept: AtomicUsize::new(0) };
    let (next, found) = (AtomicUsize::new(0), Mutex::new(Vec::new()));
    std::thread::scope(|scope| {
        for place in &places {
            let (cases, next, found, bench) = (&cases, &next, &found, &bench);
            scope.spawn(move || {
                while let Some((number, case)) =
                    Some(next.fetch_add(1, Relaxed)).and_then(|n| Some((n, cases.get(n)?)))
                {
                    let scored = bench.scored(case, place);
                    if let Ok(mut found) = found.lock() {
                        found.push((number, scored));
                    }
                }
            });
        }
    });
    let mut found = found.into_inner().unwrap_or_default();
    found.sort_by_key(|(number, _)| *number);
    let recorded = display.is_some().then(|| bench.kept.into_inner());
    told(&cases, found, recorded)
}

/// Prints the scores of each class and what went wrong, and the checks.
fn told(cases: &[Case], found: Vec<(usize, Scored)>, recorded: Option<usize>) -> Result<(), Fault> {
    let mut classes: BTreeMap<&str, [usize; SCORES.len()]> = BTreeMap::new();
    for (number, scored) in found {
        let (case, (score, words)) = (&cases[number], scored?);
        classes.entry(case.class).or_default()[score as usize] += 1;
        if score > Score::Told {
            println!("  {score:?}: {} {}: {words}", case.class, case.line.join(" "));
        }
    }
    let heads = SCORES.map(|score| format!("{:>8}", format!("{score:?}").to_lowercase()));
    println!("{:<14}{}", "", heads.concat());
    for (class, counts) in &classes {
        println!("{class:<14}{}", counts.map(|count| format!("{count:>8}")).concat());
    }
    let mut checks = Checks::default();
    let all: usize = classes.values().flatten().sum();
    checks.that(all >= LEAST, &format!("cases, at least {LEAST}"), &all.to_string());
    if let Some(count) = recorded {
        let what = "takes the window had told as kept before it was ended, all there";
        checks.that(count > 0, what, &count.to_string());
    }
    for (number, score) in SCORES.iter().enumerate().skip(Score::Silent as usize) {
        let count: usize = classes.values().map(|counts| counts[number]).sum();
        checks.that(count == 0, &format!("{score:?}").to_lowercase(), &format!("{count} times"));
    }
    checks.end("attack")
}

/// What cases run on.
struct Bench {
    /// What each has in its folder.
    base: PathBuf,
    program: PathBuf,
    /// Takes that a window had told as kept before it was ended.
    kept: AtomicUsize,
}

impl Bench {
    /// Runs a case in the folder `place`, which is made like the base, and scores it.
    fn scored(&self, case: &Case, place: &Path) -> Scored {
        empty(place)?;
        let work = place.join(WORK);
        let disk = case.room.map(|_| SmallDisk::mount(&work, DISK)).transpose()?;
        copy(&self.base, &work)?;
        (case.prepare)(&work).map_err(Fault::at(&work))?;
        let before = files(&work);
        if let (Some(disk), Some(room)) = (&disk, case.room) {
            disk.fill(room)?;
        }
        let ended = ended(&mut self.command(case, place), case, place)?;
        if let Some(disk) = &disk {
            disk.free()?;
        }
        let after = files(&work);
        if let Some(harm) = harm(case, &before, &after) {
            return Ok(harm);
        }
        let Some((status, said, printed)) = ended else {
            return Ok((Score::Hang, String::new()));
        };
        let (score, words) = judged(case, status, &said, &printed);
        if score > Score::Told {
            return Ok((score, words));
        }
        let mut harm = self.what_was_told_kept(place)?;
        if harm.is_none() {
            harm = self.then(case, place)?;
        }
        if harm.is_none() && disk.is_some() && status.success() {
            harm = self.less_than_with_room(case, place, &after)?;
        }
        Ok(harm.map_or((score, words), |words| (Score::Loss, words)))
    }

    /// A command that said all is well on a small disk wrote what it writes where there is room; in words what is not so.
    fn less_than_with_room(
        &self,
        case: &Case,
        place: &Path,
        after: &Files,
    ) -> Result<Option<String>, Fault> {
        // Names of folders stand in what is written: this one is as long.
        let work = place.join("room");
        copy(&self.base, &work)?;
        let mut command = Command::new(&self.program);
        surround(command.args(&case.line), place).current_dir(&work);
        command.output().map_err(Fault::at(place))?;
        let lengths = |files: &Files| -> BTreeMap<PathBuf, usize> {
            let hidden =
                |path: &Path| path.iter().any(|part| part.to_string_lossy().starts_with('.'));
            // In the state of a table stand the times of files, which differ from copy to copy.
            let differs = |path: &Path| path.extension().is_some_and(|ending| ending == "state");
            let seen = files.iter().filter(|(path, _)| !hidden(path) && !differs(path));
            seen.map(|(path, bytes)| (path.clone(), bytes.len())).collect()
        };
        let (due, found) = (lengths(&files(&work)), lengths(after));
        let other = due.iter().find(|(path, length)| found.get(*path) != Some(length));
        Ok(other.map(|(path, length)| {
            format!("{}: {:?} of {length} bytes", path.display(), found.get(path))
        }))
    }

    fn command(&self, case: &Case, place: &Path) -> Command {
        let mut command = limited(&self.program, case);
        surround(&mut command, place);
        command.envs(case.env.iter().map(|(name, value)| (*name, value)));
        command
    }

    /// What is to go well behind a case; in words what did not.
    fn then(&self, case: &Case, place: &Path) -> Result<Option<String>, Fault> {
        for line in &case.then {
            // `journal --journal FOLDER ...`; that of an import may not have been made.
            if !place.join(WORK).join(&line[2]).exists() {
                continue;
            }
            let mut command = Command::new(&self.program);
            surround(command.args(line), place);
            let done = command.output().map_err(Fault::at(place))?;
            if !done.status.success() {
                let said = String::from_utf8_lossy(&done.stderr).into_owned();
                return Ok(Some(format!("then {}: {said}", line.join(" "))));
            }
        }
        Ok(None)
    }

    /// Every take that the window told as kept is there; in words which is not.
    fn what_was_told_kept(&self, place: &Path) -> Result<Option<String>, Fault> {
        let Ok(shown) = fs::read_to_string(place.join("shown.jsonl")) else {
            return Ok(None);
        };
        let told = shown.lines().filter_map(|line| serde_json::from_str::<Value>(line).ok());
        let kept = told.filter_map(|line| {
            line["take"].as_str().and_then(|take| take.strip_prefix("kept ")).map(str::to_owned)
        });
        let kept: BTreeSet<String> = kept.collect();
        self.kept.fetch_add(kept.len(), Relaxed);
        let there = |take: &&String| {
            let take = place.join(WORK).join("takes").join(take);
            take.join("take.ron").is_file() && take.join("sound.flac").is_file()
        };
        Ok(kept.iter().find(|take| !there(take)).map(|take| format!("{take} was told as kept")))
    }
}

/// The case's folder, and what the program keeps for itself beside it.
fn surround<'a>(command: &'a mut Command, place: &Path) -> &'a mut Command {
    let home = place.join("home");
    command.current_dir(place.join(WORK)).stdin(Stdio::null());
    for (name, folder) in
        [("HOME", ""), ("XDG_CONFIG_HOME", "config"), ("XDG_DATA_HOME", "data"), ("TMPDIR", "")]
    {
        command.env(name, home.join(folder));
    }
    fs::create_dir_all(&home).ok();
    command
}

type Files = BTreeMap<PathBuf, Vec<u8>>;

/// What a case lost or made that it should not.
fn harm(case: &Case, before: &Files, after: &Files) -> Option<(Score, String)> {
    let may_change = |path: &Path| case.may_change.iter().any(|may| path.starts_with(may));
    let may_make =
        |path: &Path| may_change(path) || case.may_make.iter().any(|may| path.starts_with(may));
    let lost = before.iter().find(|(path, was)| {
        let now = after.get(*path);
        match case.grows.contains(path) {
            true => !has_grown(was, now),
            false => !may_change(path) && now != Some(*was),
        }
    });
    if let Some((path, _)) = lost {
        return Some((Score::Loss, path.display().to_string()));
    }
    // What was begun when it was ended has a name that nothing else has.
    let begun = |path: &Path| {
        let hidden = |part: &OsStr| part.to_string_lossy().starts_with(".evenwave-");
        case.signal.is_some() && path.iter().any(hidden)
    };
    let made =
        after.keys().find(|path| !before.contains_key(*path) && !may_make(path) && !begun(path));
    made.map(|path| (Score::Outside, path.display().to_string()))
}

/// All whole lines that were in a table are in it; what broke off within a line is none.
fn has_grown(was: &[u8], now: Option<&Vec<u8>>) -> bool {
    let lines = |bytes: &[u8]| -> Vec<Vec<u8>> {
        bytes.split_inclusive(|&byte| byte == b'\n').map(<[u8]>::to_vec).collect()
    };
    let now = lines(now.map_or(&[], Vec::as_slice));
    lines(was).iter().all(|line| !line.ends_with(b"\n") || now.contains(line))
}

/// The signal that ended a program, on systems that have signals.
fn ended_by(status: ExitStatus) -> Option<i32> {
    #[cfg(unix)]
    let signal = std::os::unix::process::ExitStatusExt::signal(&status);
    #[cfg(not(unix))]
    let signal = status.code().and(None);
    signal
}

fn judged(case: &Case, status: ExitStatus, said: &str, printed: &str) -> (Score, String) {
    let panicked = ["panicked", "backtrace", "a mistake in evenwave", "memory allocation"];
    let killed = case.signal.is_some() && ended_by(status) == case.signal;
    let code = status.code();
    if panicked.iter().any(|word| said.contains(word)) || (!killed && !matches!(code, Some(0..=2)))
    {
        return (Score::Crash, format!("{status}: {said}"));
    }
    let obeyed = |sign: char| sign.is_control() && sign != '\n';
    if case.names && format!("{said}{printed}").contains(obeyed) {
        return (Score::Silent, format!("signs that a terminal obeys: {said:?}"));
    }
    let unheard = case.err != Stream::Read;
    let in_words = said.lines().any(|line| line.len() > 30) || printed.contains("  ! ") || unheard;
    match (case.due, code) {
        (_, None) | (Due::Works | Due::Either, Some(0)) => (Score::Right, String::new()),
        (Due::Works, _) => (Score::Loss, format!("good input was refused: {said}")),
        (Due::Told, Some(0)) if said.is_empty() && !printed.contains("  ! ") => {
            (Score::Silent, format!("status 0 without a word: {printed}"))
        }
        _ if in_words => (Score::Told, String::new()),
        _ => (Score::Silent, format!("{status}: {said}")),
    }
}

/// How the program ended, with what it said and printed; `None` if it did not.
fn ended(
    command: &mut Command,
    case: &Case,
    place: &Path,
) -> Result<Option<(ExitStatus, String, String)>, Fault> {
    let stream = |stream: Stream, name: &str| -> Result<Stdio, Fault> {
        let path = place.join(name);
        Ok(match stream {
            Stream::Read => fs::File::create(&path).map_err(Fault::at(&path))?.into(),
            Stream::Full => {
                let full = fs::File::options().write(true).open("/dev/full");
                full.map_err(Fault::at(&path))?.into()
            }
            Stream::Unread => {
                let (reader, writer) = std::io::pipe().map_err(Fault::at(&path))?;
                drop(reader);
                writer.into()
            }
        })
    };
    command.stdout(stream(case.out, "out")?).stderr(stream(case.err, "err")?);
    let begun = Instant::now();
    let mut child = command.spawn().map_err(Fault::at(place))?;
    let mut signal = case.signal;
    let status = loop {
        if let Some(status) = child.try_wait().map_err(Fault::at(place))? {
            break Some(status);
        }
        if let Some(number) = signal
            && begun.elapsed() >= case.after
        {
            signal = None;
            let line = [format!("-{number}"), child.id().to_string()];
            Step::new("kill").args(line).listen()?;
        }
        if begun.elapsed() > LIMIT {
            child.kill().and_then(|()| child.wait()).map_err(Fault::at(place))?;
            break None;
        }
        std::thread::sleep(Duration::from_millis(2));
    };
    let text = |name: &str| {
        let mut bytes = Vec::new();
        let file = fs::File::open(place.join(name));
        file.and_then(|mut file| file.read_to_end(&mut bytes)).ok();
        String::from_utf8_lossy(&bytes).into_owned()
    };
    Ok(status.map(|status| (status, text("err"), text("out"))))
}

/// What is in a folder and all below it: the bytes of files, where links lead, and of anything else that it is there.
fn files(folder: &Path) -> Files {
    let mut all = BTreeMap::new();
    let mut left = vec![folder.to_owned()];
    while let Some(path) = left.pop() {
        for entry in fs::read_dir(&path).into_iter().flatten().flatten() {
            let (path, kind) = (entry.path(), entry.file_type());
            let name = path.strip_prefix(folder).unwrap_or(&path).to_owned();
            let kind = kind.ok();
            let is = |what: fn(&fs::FileType) -> bool| kind.as_ref().is_some_and(what);
            if is(fs::FileType::is_dir) {
                left.push(path);
            } else if is(fs::FileType::is_file) {
                all.insert(name, fs::read(&path).unwrap_or_default());
            } else {
                let to = fs::read_link(&path).unwrap_or_default();
                all.insert(name, to.into_os_string().into_encoded_bytes());
            }
        }
    }
    all
}

/// A copy as old as its file: takes of recordings are named by it.
fn copy_file(from: &Path, to: &Path) -> std::io::Result<()> {
    fs::copy(from, to)?;
    let modified = fs::metadata(from)?.modified()?;
    fs::File::options().append(true).open(to)?.set_modified(modified)
}

/// Copies a folder with all that is in it.
fn copy(from: &Path, to: &Path) -> Result<(), Fault> {
    fs::create_dir_all(to).map_err(Fault::at(to))?;
    for entry in fs::read_dir(from).map_err(Fault::at(from))?.flatten() {
        let (path, name) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() {
            copy(&path, &name)?;
        } else {
            copy_file(&path, &name).map_err(Fault::at(&path))?;
        }
    }
    Ok(())
}
