//! `evenwave measure FILE|FOLDER...`.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc;
use std::thread;

use sound::Recording;
use tuning::{Naming, Secs};
use vibrato::{Ear, Event, Note, Settings};

use crate::arguments::MeasureArguments;
use crate::chain::Chain;
use crate::fault::Fault;
use crate::formats::{
    FrameRows, LostRecord, NoteRecord, NoteRows, SCHEMA, SoundRecord, sound_lines, written,
};
use crate::outputs::{not_over, only_over};
use crate::words::{aside, counted};
use gather::{Gathered, gather};
use kept_table::KeptTable;
use progress::Progress;

mod gather;
mod kept_table;
mod progress;

/// Which part of a file to measure, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Tuning and range of the ear.
    pub settings: Settings,
    /// The channel to hear, counted from 1; `None` for the mean of all.
    pub channel: Option<usize>,
    /// Where to start in the file.
    pub from: Secs,
    /// Where to stop in the file.
    pub to: Option<Secs>,
}

impl Wanted {
    /// A whole file, all channels.
    pub fn whole(settings: Settings) -> Self {
        Self { settings, channel: None, from: Secs(0.0), to: None }
    }
}

/// What was measured in a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// Samples per second in the file.
    pub sample_rate_hz: u32,
    /// Length of the file; where it was not read to its end, as it states it.
    pub duration: Option<Secs>,
    /// Time in the file from which the times of the notes count.
    pub zero: Secs,
    /// The notes.
    pub notes: Vec<Note>,
    /// Where samples are missing, and how much.
    pub lost: Vec<(Secs, Secs)>,
    /// What was not right with the file.
    pub remarks: Vec<String>,
}

impl Measured {
    /// The record of it.
    pub fn record(&self, file: String, naming: Naming) -> SoundRecord {
        let lost = self.lost.iter().map(|&(start, length)| LostRecord {
            start_s: written(self.zero.0 + start.0),
            length_s: written(length.0),
        });
        SoundRecord {
            schema: SCHEMA,
            file,
            sample_rate_hz: self.sample_rate_hz,
            duration_s: self.duration.map(|secs| written(secs.0)),
            notes: self.notes.iter().map(|note| NoteRecord::new(note, naming, self.zero)).collect(),
            lost: lost.collect(),
            remarks: self.remarks.clone(),
        }
    }
}

/// Measures one file, block by block: memory grows with the notes, not with the sound.
///
/// `look` sees every event and, with it, the time in the file from which events count;
/// `passed` is told how many seconds of the file are done.
pub fn measure_file(
    path: &Path,
    wanted: &Wanted,
    look: &mut impl FnMut(&Event, Secs),
    passed: &mut impl FnMut(&Recording),
) -> Result<Measured, Fault> {
    let (mut recording, skipped) = opened(path, wanted)?;
    let rate_hz = recording.sample_rate_hz();
    let zero = Secs(skipped as f64 / f64::from(rate_hz));
    let mut chain = Chain::new(rate_hz, wanted.settings)
        .map_err(|error| Fault::Failed(format!("{error}: {}", path.display())))?;
    let mut notes = Vec::new();
    let mut lost = Vec::new();
    let mut report = |event: Event, ear: &Ear| {
        look(&event, zero);
        match event {
            Event::NoteEnded => notes.extend(ear.note().cloned()),
            Event::Lost { time, length } => lost.push((time, length)),
            _ => {}
        }
    };
    let mut left = wanted.to.map(|to| in_samples(to, rate_hz).saturating_sub(skipped));
    let whole = loop {
        if left == Some(0) {
            break false;
        }
        let Some(block) = recording.next_block().map_err(unreadable)? else {
            break true;
        };
        let (mut lost_before, mut samples) = (block.lost_before, block.samples);
        if let Some(left) = &mut left {
            lost_before = lost_before.min(*left);
            *left -= lost_before;
            samples = &samples[..samples.len().min(usize::try_from(*left).unwrap_or(usize::MAX))];
            *left -= samples.len() as u64;
        }
        chain.push(lost_before, samples, &mut report);
        passed(&recording);
    };
    chain.finish(&mut report);
    Ok(Measured {
        sample_rate_hz: rate_hz,
        duration: if whole {
            Some(Secs(recording.place_secs()))
        } else {
            recording.duration_secs().map(Secs)
        },
        zero,
        notes,
        lost,
        remarks: recording.remarks().in_words(),
    })
}

/// The file, opened where it is to be measured from, and how many of its samples lie before.
fn opened(path: &Path, wanted: &Wanted) -> Result<(Recording, u64), Fault> {
    let mut recording = Recording::open(path).map_err(unreadable)?;
    if let Some(channel) = wanted.channel {
        recording = recording.with_channel(channel).map_err(unreadable)?;
    }
    let rate_hz = recording.sample_rate_hz();
    let skipped = recording.skip_secs(wanted.from.0).map_err(unreadable)?;
    if skipped < in_samples(wanted.from, rate_hz) {
        return Err(Fault::Failed(format!(
            "the file ends after {:.2} s, before --from {}; start earlier: {}",
            skipped as f64 / f64::from(rate_hz),
            wanted.from.0,
            path.display()
        )));
    }
    Ok((recording, skipped))
}

fn in_samples(secs: Secs, rate_hz: u32) -> u64 {
    (secs.0 * f64::from(rate_hz)).round() as u64
}

fn unreadable(error: sound::RecordingError) -> Fault {
    Fault::Failed(error.to_string())
}

/// Measures all files on all cores and writes what was found: in the order they were named or, into a table,
/// as they are done.
pub fn run(arguments: &MeasureArguments) -> Result<(), Fault> {
    let gathered = gather(&arguments.files)?;
    let wanted = wanted(arguments, &gathered)?;
    for words in &gathered.unseen {
        aside(words);
    }
    let Some(into) = &arguments.into else {
        let progress = Progress::of(gathered.files.len());
        return on_all_cores(&gathered.files, arguments, &wanted, &progress, |results| {
            tell(arguments, &gathered, results, &progress)
        });
    };
    // A4, range and part of the sound decide the numbers, names the words.
    let how = format!("{wanted:?}, {:?}", arguments.ear.naming());
    let mut table = KeptTable::open(into, &how)?;
    let all = gathered.files.len();
    let left: Vec<PathBuf> = gathered.files.into_iter().filter(|file| !table.has(file)).collect();
    let progress = Progress::of(left.len());
    let mut failed = Vec::new();
    on_all_cores(&left, arguments, &wanted, &progress, |results| {
        for (index, found) in results {
            match found {
                Ok(sound) => table.add(&left[index], &sound)?,
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
        for _ in 0..workers.min(files.len()) {
            let sender = sender.clone();
            let (next, stopped) = (&next, &stopped);
            scope.spawn(move || {
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
            });
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
    let mut passed = |recording: &Recording| bar.passed(recording, wanted);
    let Some(frames) = frames else {
        return measure_file(path, wanted, &mut |_, _| {}, &mut passed);
    };
    let unwritable = |error: std::io::Error| {
        Fault::Failed(format!(
            "the frames cannot be written ({error}); choose another place: {}",
            frames.display()
        ))
    };
    // The sound first: a name mistaken for it must not cost a file.
    Recording::open(path).map_err(|error| Fault::Failed(error.to_string()))?;
    not_over(frames, path)?;
    only_over(frames, "time_s,", "table of frames")?;
    let file = File::create(frames).map_err(unwritable)?;
    let mut rows = FrameRows::new(BufWriter::new(file))?;
    let mut written = Ok(());
    let mut look = |event: &Event, zero: Secs| {
        if let (Event::Frame(frame), Ok(())) = (event, &written) {
            written = rows.write(frame, zero);
        }
    };
    let found = measure_file(path, wanted, &mut look, &mut passed)?;
    written?;
    rows.finish().map_err(unwritable)?;
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
                for line in sound_lines(sound) {
                    writeln!(out, "{line}")?;
                }
            }
            Self::Json => {
                serde_json::to_writer(&mut out, sound)?;
                writeln!(out)?;
            }
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
