//! Flips bits in files of a journal and in the settings, and cuts them off, at random places: nothing may panic, it must be told
//! in words, and no other take may be harmed. Run by `cargo xtask flip`.
//!
//! `flip FOLDER SEED`: the folder is new; it is left with a journal that is whole, `takes`, and settings, `settings.ron`.
//! Prints the name of the take that was damaged, then a line for each kind of file.

use std::error::Error;
use std::fs;
use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::SystemTime;

use evenwave::heard_file::{Wanted, measure_file};
use evenwave::session::Session;
use evenwave::settings::Settings;
use journal::{Context, Journal, Shelf, TakeFile, TakeId};
use sound::WavFormat;

/// How often each is damaged; a thousand times in all.
const ROUNDS: [(Kind, usize); 4] =
    [(Kind::Sound, 300), (Kind::Take, 300), (Kind::Index, 150), (Kind::Settings, 250)];

#[derive(Clone, Copy, Debug, PartialEq)]
enum Kind {
    Sound,
    Take,
    Index,
    Settings,
}

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [folder, seed] = &arguments[..] else {
        eprintln!("usage: flip FOLDER SEED");
        return ExitCode::FAILURE;
    };
    let outcome = seed.parse().map_err(Into::into).and_then(|seed| run(Path::new(folder), seed));
    match outcome {
        Ok(true) => ExitCode::SUCCESS,
        Ok(false) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}

/// Chance from a seed: D. E. Knuth's generator (MMIX).
struct Chance(u64);

impl Chance {
    fn below(&mut self, limit: usize) -> usize {
        let seed = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = seed.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }

    /// `bytes` with one bit flipped, or cut off, and where.
    fn damage(&mut self, bytes: &[u8]) -> (Vec<u8>, String) {
        let mut damaged = bytes.to_vec();
        let place = self.below(bytes.len());
        if self.below(4) == 0 {
            damaged.truncate(place);
            return (damaged, format!("cut at byte {place}"));
        }
        let bit = self.below(8);
        damaged[place] ^= 1 << bit;
        (damaged, format!("bit {bit} of byte {place}"))
    }
}

/// What is damaged, and what must stay.
struct Bench {
    journal: PathBuf,
    settings: PathBuf,
    target: TakeId,
    others: Vec<(TakeId, TakeFile, Vec<u8>)>,
    whole: TakeFile,
}

/// Writes a file as a failing disk changes it: without a new time.
fn write_unseen(path: &Path, bytes: &[u8], time: SystemTime) -> io::Result<()> {
    fs::write(path, bytes)?;
    let file = fs::File::options().write(true).open(path)?;
    file.set_modified(time)
}

fn run(folder: &Path, seed: u64) -> Result<bool, Box<dyn Error>> {
    let bench = Bench::new(folder)?;
    println!("{}", bench.target);
    let mut chance = Chance(seed);
    let mut good = true;
    // The look itself must be able to fail: here nothing is damaged, so that nothing can be told.
    if bench.look(Kind::Sound).is_ok() {
        return Err("what was not told passed as told".into());
    }
    // What goes wrong is told below; a panic would say so twice.
    std::panic::set_hook(Box::new(|_| {}));
    for (kind, rounds) in ROUNDS {
        let path = bench.path(kind);
        let bytes = fs::read(&path)?;
        let time = fs::metadata(&path)?.modified()?;
        let (mut told, mut harmless, mut wrong) = (0, 0, Vec::new());
        for _ in 0..rounds {
            let (damaged, place) = chance.damage(&bytes);
            write_unseen(&path, &damaged, time)?;
            let looked = catch_unwind(AssertUnwindSafe(|| match kind {
                Kind::Settings => bench.look_at_settings(&damaged),
                _ => bench.look(kind),
            }));
            match looked {
                Ok(Ok(true)) => told += 1,
                Ok(Ok(false)) => harmless += 1,
                Ok(Err(words)) => wrong.push(format!("{place}: {words}")),
                Err(_) => wrong.push(format!("{place}: it panicked")),
            }
            bench.restore(kind, &bytes, time)?;
        }
        println!(
            "{kind:?}: {rounds} times, {told} told in words, {harmless} without harm, {} wrong",
            wrong.len()
        );
        for words in wrong.iter().take(10) {
            println!("  {words}");
        }
        good &= wrong.is_empty();
    }
    let left = Shelf::open(&bench.journal)?.verify()?;
    for damage in &left {
        println!("left: {damage}");
    }
    Ok(good && left.is_empty())
}

impl Bench {
    fn new(folder: &Path) -> Result<Self, Box<dyn Error>> {
        fs::create_dir_all(folder)?;
        let journal_folder = folder.join("takes");
        let journal = Journal::open(&journal_folder)?.journal;
        let session = Session::named("tidy-transfer")?;
        let wav = folder.join("tidy-transfer.wav");
        let rate_hz = session.sample_rate_hz();
        sound::write_wav(&wav, session.samples(), rate_hz, 1, WavFormat::Int16)?;
        let wanted = Wanted::whole(vibrato::Settings::default());
        let measured = measure_file(&wav, &wanted)?;
        let mut ids = Vec::new();
        for player in ["Mira", "Ada", "Mira"] {
            let context = Context {
                player: player.to_owned(),
                instrument: Some("cello".to_owned()),
                drill: Some("there-and-back".to_owned()),
                ..Context::default()
            };
            let mut take = journal.begin(&context, rate_hz)?;
            // Some seconds: each look decodes them.
            take.sound(&session.samples()[..5 * rate_hz as usize])?;
            for note in &measured.notes {
                take.note(note)?;
            }
            ids.push(take.finish()?.id);
        }
        journal.rebuild_index()?;
        let others = [&ids[0], &ids[2]].into_iter().map(|id| {
            let sound = fs::read(journal.sound(id))?;
            Ok((id.clone(), journal.take(id)?, sound))
        });
        let settings = folder.join("settings.ron");
        let settings_file = Settings::at(Some(&settings));
        settings_file.write(&settings_file.read().options)?;
        Ok(Self {
            others: others.collect::<Result<_, Box<dyn Error>>>()?,
            whole: journal.take(&ids[1])?,
            target: ids[1].clone(),
            journal: journal_folder,
            settings,
        })
    }

    fn path(&self, kind: Kind) -> PathBuf {
        let take = self.journal.join(self.target.to_string());
        match kind {
            Kind::Sound => take.join("sound.flac"),
            Kind::Take => take.join("take.ron"),
            Kind::Index => self.journal.join(".index"),
            Kind::Settings => self.settings.clone(),
        }
    }

    /// Reads, lists, verifies and opens for writing; says whether it was told in words, or did no harm.
    fn look(&self, kind: Kind) -> Result<bool, String> {
        let failed = |error: journal::JournalError| error.to_string();
        let shelf = Shelf::open(&self.journal).map_err(failed)?;
        let mut told = Vec::new();
        for damage in shelf.verify().map_err(failed)? {
            if damage.id.as_ref() != Some(&self.target) {
                return Err(format!("another take is said to be damaged: {damage}"));
            }
            told.push(damage.words);
        }
        if let Err(error) = shelf.take(&self.target) {
            told.push(error.to_string());
        }
        shelf.refresh().map_err(failed)?;
        told.extend(shelf.unread().into_iter().map(|(_, words)| words));
        self.others_are_whole(&shelf)?;
        let opened = Journal::open(&self.journal).map_err(failed)?;
        told.extend(opened.unmended.iter().map(ToString::to_string));
        self.others_are_whole(&opened.journal)?;
        if let Some(words) = told.iter().find(|words| words.len() < 20) {
            return Err(format!("told in few words: {words}"));
        }
        if !told.is_empty() {
            return Ok(true);
        }
        match kind {
            // It is made anew from the takes.
            Kind::Index => {
                let entry = opened.journal.entry(&self.target);
                entry.map(|_| false).ok_or_else(|| "the index knows the take no more".to_owned())
            }
            // Such as the last line's end.
            _ => match opened.journal.take(&self.target) {
                Ok(take) if take == self.whole && kind == Kind::Take => Ok(false),
                _ => Err("the damage was not told".to_owned()),
            },
        }
    }

    fn others_are_whole(&self, shelf: &Shelf) -> Result<(), String> {
        for (id, take, sound) in &self.others {
            let now = shelf.take(id).map_err(|error| error.to_string())?;
            let bytes = fs::read(shelf.sound(id)).map_err(|error| error.to_string())?;
            if now != *take || bytes != *sound || shelf.entry(id).is_none() {
                return Err(format!("{id} was harmed"));
            }
        }
        Ok(())
    }

    /// Reads the settings; what was not understood must lie somewhere still.
    fn look_at_settings(&self, damaged: &[u8]) -> Result<bool, String> {
        let found = Settings::at(Some(&self.settings)).read();
        let Some(words) = found.word else {
            return Ok(false);
        };
        if words.len() < 20 {
            return Err(format!("told in few words: {words}"));
        }
        let folder = self.settings.parent().unwrap_or(&self.settings);
        let files = fs::read_dir(folder).map_err(|error| error.to_string())?;
        let kept =
            files.flatten().any(|file| fs::read(file.path()).is_ok_and(|bytes| bytes == damaged));
        if kept { Ok(true) } else { Err(format!("what could not be read is gone: {words}")) }
    }

    fn restore(&self, kind: Kind, bytes: &[u8], time: SystemTime) -> io::Result<()> {
        if kind == Kind::Settings {
            let folder = self.settings.parent().unwrap_or(&self.settings);
            for file in fs::read_dir(folder)?.flatten() {
                let name = file.file_name().to_string_lossy().into_owned();
                if name.starts_with("settings") {
                    fs::remove_file(file.path())?;
                }
            }
        }
        write_unseen(&self.path(kind), bytes, time)?;
        if kind == Kind::Take {
            // The index may have learnt what stood there meanwhile.
            let opened = Journal::open(&self.journal);
            if let Ok(opened) = opened {
                opened.journal.rebuild_index().ok();
            }
        }
        Ok(())
    }
}
