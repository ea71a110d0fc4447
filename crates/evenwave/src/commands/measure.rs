//! `evenwave measure FILE|FOLDER...`.

use std::collections::BTreeMap;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc;
use std::thread;

use disk::Disk;
use sound::Recording;
use tuning::Secs;
use vibrato::{Event, Note};

use crate::arguments::MeasureArguments;
use crate::fault::Fault;
use crate::formats::{FrameRows, NoteRows, SoundRecord, sound_lines};
use crate::heard_file::{Measured, Wanted, hear_file};
use crate::outputs::{json_line, lines, not_over, only_over};
use crate::sound_files::{Gathered, gather, listed};
use crate::words::{aside, counted};
use kept_table::KeptTable;
pub(crate) use progress::Progress;

mod kept_table;
mod progress;

/// Measures all files on all cores and writes what was found: in the order they were named or, into a table,
/// as they are done.
pub(crate) fn run(arguments: &MeasureArguments) -> Result<(), Fault> {
    let mut named = arguments.files.clone();
    if let Some(list) = &arguments.files_from {
        named.extend(listed(list)?);
    }
    let gathered = match named.is_empty() {
        true => Gathered::default(),
        false => gather(&named)?,
    };
    let wanted = wanted(arguments, &gathered)?;
    gathered.unseen.iter().chain(&gathered.empty).for_each(aside);
    let unseen = gathered.unseen.len();
    measured(arguments, gathered, &wanted)?;
    if unseen > 0 {
        return Err(Fault::Failed(format!(
            "{} could not be looked into; the others are done",
            counted(unseen, "folder")
        )));
    }
    Ok(())
}

fn measured(
    arguments: &MeasureArguments,
    gathered: Gathered,
    wanted: &Wanted,
) -> Result<(), Fault> {
    let Some(into) = &arguments.into else {
        let progress = Progress::of(gathered.files.len());
        return on_all_cores(&gathered.files, arguments, wanted, &progress, |results| {
            tell(arguments, &gathered, results, &progress)
        });
    };
    // A4, range and part of the sound decide the numbers, names the words.
    let how = format!("{wanted:?}, {:?}", arguments.ear.naming());
    let mut table = KeptTable::open(into, &how, &arguments.forget)?;
    let all = gathered.files.len();
    let left: Vec<PathBuf> = gathered.files.into_iter().filter(|file| !table.has(file)).collect();
    let progress = Progress::of(left.len());
    let mut failed = Vec::new();
    on_all_cores(&left, arguments, wanted, &progress, |results| {
        for (index, found) in results {
            match found {
                Ok(sound) => table.add(&left[index], sound)?,
                Err(fault) => {
                    table.failed(&left[index], &fault.to_string())?;
                    failed.push(fault);
                }
            }
        }
        Ok(())
    })?;
    drop(progress);
    aside(format!(
        "{} measured, {} in the table before: {}",
        counted(left.len() - failed.len(), "file"),
        all - left.len(),
        into.display()
    ));
    let gone = table.not_found();
    if let Some(first) = gone.first() {
        let others = if gone.len() > 1 { " and others" } else { "" };
        aside(format!(
            "rows of {} stay though not found now: {first}{others}; --forget FILE|FOLDER takes rows out",
            counted(gone.len(), "file")
        ));
    }
    table.finish()?;
    outcome(&failed, all, true)
}

/// Hands on what is found in each file, as it is found.
fn on_all_cores(
    files: &[PathBuf],
    arguments: &MeasureArguments,
    wanted: &Wanted,
    progress: &Progress,
    tell: impl FnOnce(&mpsc::Receiver<(usize, Result<SoundRecord, Fault>)>) -> Result<(), Fault>,
) -> Result<(), Fault> {
    let naming = arguments.ear.naming();
    let workers = thread::available_parallelism().map_or(1, usize::from);
    let next = AtomicUsize::new(0);
    let stopped = AtomicBool::new(false);
    thread::scope(|scope| {
        let (sender, results) = mpsc::sync_channel(workers);
        let mut working = 0;
        for _ in 0..workers.min(files.len()) {
            let sender = sender.clone();
            let (next, stopped) = (&next, &stopped);
            let work = move || {
                while !stopped.load(Relaxed) {
                    let index = next.fetch_add(1, Relaxed);
                    let Some(path) = files.get(index) else {
                        break;
                    };
                    let frames = arguments.frames.as_deref();
                    let found = measure_with_frames(path, wanted, frames, progress)
                        .map(|found| found.record(path.display().to_string(), naming));
                    if sender.send((index, found)).is_err() {
                        break;
                    }
                }
            };
            match thread::Builder::new().spawn_scoped(scope, work) {
                Ok(_) => working += 1,
                // Those that are at work do it all.
                Err(_) if working > 0 => break,
                Err(error) => {
                    return Err(Fault::Failed(format!(
                        "the system starts no thread to measure in ({error}); close other programs"
                    )));
                }
            }
        }
        drop(sender);
        let told = tell(&results);
        stopped.store(told.is_err(), Relaxed);
        drop(results);
        told
    })
}

/// What is left to be told of files that failed, of so many.
fn outcome(failed: &[Fault], all: usize, at_the_end: bool) -> Result<(), Fault> {
    if failed.is_empty() {
        return Ok(());
    }
    if at_the_end {
        for fault in failed {
            aside(fault);
        }
    }
    Err(Fault::Some { failed: failed.len(), all })
}

fn wanted(arguments: &MeasureArguments, gathered: &Gathered) -> Result<Wanted, Fault> {
    if arguments.frames.is_some() && gathered.files.len() > 1 {
        return Err(Fault::Usage(
            "--frames takes the frames of one sound file; name only one, or run once per file"
                .to_owned(),
        ));
    }
    let from = Secs(arguments.from.unwrap_or(0.0));
    let to = arguments.to.map(Secs);
    if let Some(to) = to
        && to <= from
    {
        return Err(Fault::Usage(format!(
            "--to {} does not lie after --from {}; nothing would be measured",
            to.0, from.0
        )));
    }
    Ok(Wanted { settings: arguments.ear.settings(), channel: arguments.ear.channel, from, to })
}

/// Measures one file and writes its frames if they are wanted.
fn measure_with_frames(
    path: &Path,
    wanted: &Wanted,
    frames: Option<&Path>,
    progress: &Progress,
) -> Result<Measured, Fault> {
    let mut bar = progress.file();
    let mut passed = |recording: &Recording| {
        bar.passed(recording, wanted);
        true
    };
    let Some(frames) = frames else {
        return hear_file(path, wanted, &mut |_, _, _| {}, &mut passed);
    };
    let unwritable = |error: std::io::Error| {
        Fault::Failed(format!(
            "the frames cannot be written ({error}); choose another place: {}",
            frames.display()
        ))
    };
    // The sound first: a name mistaken for it must not cost a file.
    Recording::open(path)?;
    not_over(frames, path)?;
    only_over(frames, "time_s,", "table of frames")?;
    let mut fresh = Disk::default().begin(frames).map_err(unwritable)?;
    let mut rows = FrameRows::new(BufWriter::new(&mut fresh))?;
    let mut written = Ok(());
    let mut look = |event: &Event, _: Option<&Note>, zero: Secs| {
        if let (Event::Frame(frame), Ok(())) = (event, &written) {
            written = rows.write(frame, zero);
        }
    };
    let found = hear_file(path, wanted, &mut look, &mut passed)?;
    written?;
    rows.finish().and_then(|()| fresh.put()).map_err(unwritable)?;
    Ok(found)
}

/// Writes the results as they come, in the order of the files. Of a folder, what failed is told at the end.
fn tell(
    arguments: &MeasureArguments,
    gathered: &Gathered,
    results: &mpsc::Receiver<(usize, Result<SoundRecord, Fault>)>,
    progress: &Progress,
) -> Result<(), Fault> {
    let mut out = Output::new(arguments)?;
    let mut early = BTreeMap::new();
    let mut due = 0;
    let mut failed = Vec::new();
    for (index, found) in results {
        early.insert(index, found);
        while let Some(found) = early.remove(&due) {
            progress.around(|| match found {
                Ok(sound) => out.write(&sound, due == 0),
                Err(fault) => {
                    if !gathered.from_folders {
                        aside(&fault);
                    }
                    failed.push(fault);
                    Ok(())
                }
            })?;
            due += 1;
        }
    }
    progress.around(|| outcome(&failed, gathered.files.len(), gathered.from_folders))
}

/// The standard output in the format that was asked for.
enum Output {
    Table,
    Json,
    Rows(Box<NoteRows<std::io::Stdout>>),
}

impl Output {
    fn new(arguments: &MeasureArguments) -> Result<Self, Fault> {
        Ok(if arguments.json {
            Self::Json
        } else if arguments.csv {
            Self::Rows(Box::new(NoteRows::new(std::io::stdout())?))
        } else {
            Self::Table
        })
    }

    fn write(&mut self, sound: &SoundRecord, first: bool) -> Result<(), Fault> {
        let mut out = std::io::stdout().lock();
        match self {
            Self::Table => {
                if !first {
                    writeln!(out)?;
                }
                lines(&mut out, sound_lines(sound))?;
            }
            Self::Json => json_line(&mut out, sound)?,
            Self::Rows(rows) => {
                drop(out);
                rows.write(sound)?;
            }
        }
        std::io::stdout().flush()?;
        if !matches!(self, Self::Table) {
            for words in &sound.remarks {
                aside(format!("{words}: {}", sound.file));
            }
        }
        Ok(())
    }
}
