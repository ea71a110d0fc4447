//! Uses a journal without rest, to be killed while it does: records, finishes, discards, answers, marks, deletes,
//! forgets, copies, and makes the index anew. Says on its standard output what must be there from then on;
//! `check` holds a journal against what was said. Run by `cargo xtask crash`.
//!
//! `recorder play FOLDER SEED` or `recorder check FOLDER LOG` or `recorder sound FOLDER TAKE OUT`

use std::collections::BTreeMap;
use std::error::Error;
use std::fs;
use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;
use std::thread;
use std::time::Duration;

use journal::{Answer, Context, Differing, Journal, JournalError, Shelf, SoundFile, TakeId};
use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note};

const RATE_HZ: u32 = 48_000;
/// Sound between two lines of the log: a tenth of a second.
const PART: usize = 4_800;
/// What a crash may cost.
const LOST_SECS: f64 = 2.0;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome =
        match words[..] {
            ["play", folder, seed] => play(Path::new(folder), seed),
            ["check", folder, log] => check(Path::new(folder), Path::new(log)),
            ["sound", folder, take, out] => sound(Path::new(folder), take, Path::new(out)),
            _ => Err("usage: recorder play FOLDER SEED | check FOLDER LOG | sound FOLDER TAKE OUT"
                .into()),
        };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// Chance from a seed: D. E. Knuth's generator (MMIX).
struct Chance(u64);

impl Chance {
    fn below(&mut self, limit: u64) -> u64 {
        let seed = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = seed.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % limit
    }
}

/// A line of the log, which reaches the pipe before anything else happens.
fn say(line: &str) -> io::Result<()> {
    let mut out = io::stdout().lock();
    writeln!(out, "{line}")?;
    out.flush()
}

/// Sample `n` of a take: it says where it stands and in which take, so that every sample can be checked.
fn sample(shade: u64, n: u64) -> i32 {
    let tone = (f64::from((n % 96_000) as u32) * 0.02 * (1.0 + shade as f64 / 50.0)).sin();
    let mut chance = Chance(shade ^ n);
    (tone * 2_000_000.0) as i32 + chance.below(4_096) as i32
}

fn full_scale(whole: i32) -> f32 {
    (f64::from(whole) / 8_388_608.0) as f32
}

fn note(start: f64) -> Note {
    let plain = Note::plain(50, Hz(146.832_4), Secs(start), Secs(start + 0.4));
    Note {
        f0: Measure::doubtful(Hz(147.0)),
        offset: Measure::known(Cents(2.0), Cents(0.1)),
        ..plain
    }
}

/// Uses the journal until it is killed. A disk that is full is told and tried again.
fn play(folder: &Path, seed: &str) -> Result<(), Box<dyn Error>> {
    let mut chance = Chance(seed.parse()?);
    loop {
        // A pipe that nobody reads any more ends it as well.
        say("opening")?;
        match use_journal(folder, &mut chance) {
            Ok(()) => {}
            Err(error) => match error.downcast_ref::<JournalError>() {
                Some(JournalError::Full { .. }) => {
                    say(&format!("full {error}"))?;
                    thread::sleep(Duration::from_millis(20));
                }
                _ => return Err(error),
            },
        }
    }
}

fn use_journal(folder: &Path, chance: &mut Chance) -> Result<(), Box<dyn Error>> {
    let opened = Journal::open(folder)?;
    for error in opened.unmended {
        match error {
            JournalError::Full { .. } => return Err(error.into()),
            error => say(&format!("unmended {error}"))?,
        }
    }
    let journal = opened.journal;
    for _ in 0..chance.below(12) + 4 {
        match chance.below(12) {
            0..=4 => record(&journal, chance)?,
            deed => {
                let entries = journal.entries();
                if entries.is_empty() {
                    continue;
                }
                let id = &entries[chance.below(entries.len() as u64) as usize].id;
                match deed {
                    5 | 6 => {
                        say(&format!("deleting {id}"))?;
                        journal.delete_for_good(id)?;
                        say(&format!("deleted {id}"))?;
                    }
                    7 => {
                        say("indexing")?;
                        journal.rebuild_index()?;
                    }
                    8 => {
                        say("marking")?;
                        journal.keep(id, chance.below(2) == 0)?;
                    }
                    9 => {
                        say("answering")?;
                        let answer = Answer {
                            note: 0,
                            question: "centre".to_owned(),
                            answer: "high".to_owned(),
                            measured: None,
                        };
                        journal.answer(id, answer)?;
                    }
                    10 => {
                        say("looking")?;
                        journal.refresh()?;
                    }
                    _ => copy(&journal, folder, chance)?,
                }
            }
        }
    }
    Ok(())
}

/// Takes back what was copied out some time ago, some of which was deleted since; or copies all that a
/// player has out of the journal.
fn copy(journal: &Journal, folder: &Path, chance: &mut Chance) -> Result<(), Box<dyn Error>> {
    let (out, zip) = (folder.with_extension("copy"), folder.with_extension("zip"));
    if zip.is_file() && chance.below(3) == 0 {
        say("importing")?;
        return import(journal, &zip);
    }
    if out.is_dir() && chance.below(2) == 0 {
        say("importing")?;
        return import(journal, &out);
    }
    say("exporting")?;
    if chance.below(2) == 0 {
        if zip.is_file() {
            fs::remove_file(&zip)?;
        }
        journal.export(Some("Mira"), &zip, &mut |_, _| ())?;
        return Ok(());
    }
    // Moved away first: killed while it goes, half of it would stay and be taken in as a copy that lacks sound.
    let going = folder.with_extension("going");
    if going.is_dir() {
        fs::remove_dir_all(&going)?;
    }
    if out.is_dir() {
        fs::rename(&out, &going)?;
        fs::remove_dir_all(&going)?;
    }
    journal.export(Some("Mira"), &out, &mut |_, _| ())?;
    Ok(())
}

/// Takes all in that is not here, and says how long each is: a take whose name another has by now gets a name that is
/// free, which may have been that of a third, deleted one.
fn import(journal: &Journal, from: &Path) -> Result<(), Box<dyn Error>> {
    for id in journal.import(from, Differing::Leave, &mut |_, _| ())?.added {
        let Some(SoundFile::Whole { samples, .. }) = journal.entry(&id).map(|entry| entry.sound)
        else {
            continue;
        };
        say(&format!("imported {id} {samples}"))?;
    }
    Ok(())
}

fn record(journal: &Journal, chance: &mut Chance) -> Result<(), Box<dyn Error>> {
    let shade = chance.below(50);
    // Sometimes in the pace of the sound or near it, so that it is the sound that is broken off.
    let pause = Duration::from_millis([0, 0, 0, 20][chance.below(4) as usize]);
    let context = Context {
        player: ["Mira", "Ada"][shade as usize % 2].to_owned(),
        word: shade.to_string(),
        ..Context::default()
    };
    let mut take = journal.begin(&context, RATE_HZ)?;
    let id = take.id().clone();
    say(&format!("begun {id}"))?;
    let mut at = 0;
    for part in 0..chance.below([12, 80][shade as usize % 2]) + 1 {
        let samples: Vec<f32> =
            (0..PART as u64).map(|n| full_scale(sample(shade, at + n))).collect();
        take.sound(&samples)?;
        at += PART as u64;
        thread::sleep(pause);
        say(&format!("taken {id} {at}"))?;
        if part % 5 == 4 {
            take.note(&note(at as f64 / f64::from(RATE_HZ) - 0.45))?;
        }
    }
    if chance.below(6) == 0 {
        say(&format!("deleting {id}"))?;
        take.discard()?;
        say(&format!("deleted {id}"))?;
    } else {
        say(&format!("finishing {id}"))?;
        take.finish()?;
        say(&format!("kept {id} {at}"))?;
    }
    Ok(())
}

/// What was said of a take.
#[derive(Clone, Copy, Default)]
struct Said {
    /// Samples that were given.
    taken: u64,
    /// It was finished.
    kept: bool,
    /// It must be there, as long as it is.
    there: bool,
    /// It may be gone.
    deleting: bool,
    /// It must be gone.
    deleted: bool,
}

fn said(log: &str) -> BTreeMap<TakeId, Said> {
    let mut takes: BTreeMap<TakeId, Said> = BTreeMap::new();
    for line in log.lines() {
        if line == "importing" {
            for said in takes.values_mut().filter(|said| said.deleted) {
                (said.deleting, said.deleted) = (true, false);
            }
        }
        let words: Vec<&str> = line.split(' ').collect();
        let [deed, id, ..] = words[..] else { continue };
        // The last line may have broken off.
        let Ok(id) = id.parse::<TakeId>() else {
            continue;
        };
        let said = takes.entry(id).or_default();
        let samples = words.get(2).and_then(|n| n.parse().ok()).unwrap_or(0);
        match deed {
            "begun" => *said = Said::default(),
            "taken" => said.taken = samples,
            "kept" => said.kept = true,
            "imported" => *said = Said { taken: samples, there: true, ..Said::default() },
            "deleting" => said.deleting = true,
            "deleted" => said.deleted = true,
            _ => {}
        }
    }
    takes
}

/// Opens the journal after a crash and holds it against what was said before.
fn check(folder: &Path, log: &Path) -> Result<(), Box<dyn Error>> {
    let log = fs::read_to_string(log)?;
    let opened = Journal::open(folder)?;
    let mut wrong: Vec<String> = opened.unmended.iter().map(ToString::to_string).collect();
    wrong.extend(log.lines().filter(|line| line.starts_with("unmended")).map(str::to_owned));
    let journal = opened.journal;
    wrong.extend(journal.verify()?.iter().map(ToString::to_string));
    let quick = journal.entries();
    journal.rebuild_index()?;
    let names = |entries: &[std::sync::Arc<journal::Entry>]| -> Vec<TakeId> {
        entries.iter().map(|entry| entry.id.clone()).collect()
    };
    if names(&quick) != names(&journal.entries()) {
        wrong.push("the index knew other takes than there are".to_owned());
    }
    let (mut most_lost, mut mended) = (0.0, opened.mended.len());
    for (id, said) in said(&log) {
        let entry = journal.entry(&id);
        let Some(entry) = entry else {
            let secs = said.taken as f64 / f64::from(RATE_HZ);
            if !said.deleting && (said.kept || said.there || secs > LOST_SECS) {
                wrong.push(format!("{id} is gone with {secs:.1} s of sound, kept: {}", said.kept));
            }
            continue;
        };
        if said.deleted {
            wrong.push(format!("{id} was deleted and is there"));
            continue;
        }
        mended += usize::from(entry.mended);
        let SoundFile::Whole { samples, .. } = entry.sound else {
            wrong.push(format!("{id} has no sound"));
            continue;
        };
        // One that may be gone may have given its name to another, which was taken in.
        let due = if said.deleting { 0 } else { said.taken };
        let lost = due.saturating_sub(samples) as f64 / f64::from(RATE_HZ);
        most_lost = f64::max(most_lost, lost);
        if lost > LOST_SECS || (said.kept || said.there) && lost > 0.0 {
            wrong.push(format!("{lost:.2} s of {id} are gone, kept: {}", said.kept));
        }
        let notes = journal.take(&id)?.notes.len() as u64;
        let due = samples / (5 * PART as u64);
        if notes + (LOST_SECS / 0.5) as u64 <= due || said.kept && notes != due {
            wrong.push(format!("{id} has {notes} notes, not {due}"));
        }
    }
    println!("{} takes, {mended} mended, at most {most_lost:.2} s lost", journal.entries().len());
    if wrong.is_empty() {
        return Ok(());
    }
    Err(wrong.join("\n").into())
}

/// Writes what a take must sound like as plain samples, 24 bits, lowest byte first.
fn sound(folder: &Path, take: &str, out: &Path) -> Result<(), Box<dyn Error>> {
    let shelf = Shelf::open(folder)?;
    let id: TakeId = take.parse()?;
    let file = shelf.take(&id)?;
    let SoundFile::Whole { samples, .. } = file.sound else {
        return Err("it has no sound".into());
    };
    let shade: u64 = file.word.parse()?;
    let bytes: Vec<u8> = (0..samples)
        .flat_map(|n| {
            let [a, b, c, _] = sample(shade, n).to_le_bytes();
            [a, b, c]
        })
        .collect();
    fs::write(out, bytes)?;
    Ok(())
}
