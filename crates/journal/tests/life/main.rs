//! The life of takes, at random: recorded, labelled, kept, deleted, carried out and in, erased, mended, indexed. Each deed
//! is done by a process of its own, on a disk that goes wrong at some call, or in a process that dies there; often a second
//! process is at work in the same journal, and this one has had it open to read all the while. After each step every take that
//! anyone was told of must be there, byte for byte.
//!
//! In a binary of its own: a process that is just started holds the locks of tests beside it until it runs.
//!
//! `EVENWAVE_LIFE_SECS` says for how long (20), `EVENWAVE_LIFE_SEED` from which seed on.

#[path = "../journal/common/mod.rs"]
mod common;

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Duration, Instant};

use disk::{Disk, DiskFault};
use jiff::civil::date;
use jiff::tz::TimeZone;
use journal::{Context, Differing, Journal, Label, Shelf, SoundFile, TakeFile, TakeId};

use common::{Chance, Folder, RATE_HZ, decoded, note, whole};

/// Tells a process that it is one that does a deed, and which.
const CHILD: &str = "JOURNAL_TEST_DEED";
const STEPS: usize = 24;
const PLAYERS: [&str; 2] = ["Mira Nightingale", "Anna Woodlark"];

/// What is done with a journal. Takes are meant by their place among those that are there.
#[derive(Clone, Debug)]
enum Deed {
    Record { player: usize, number: u32 },
    Word { take: usize, number: u32 },
    Player { take: usize, player: usize },
    Keep { take: usize },
    Delete { take: usize },
    Erase { player: usize },
    Open,
    Index,
    Export { zip: bool },
    Import { zip: bool, replace: bool },
}

/// When the disk goes wrong: at which call or byte, and how.
#[derive(Clone, Copy, Debug)]
enum Fate {
    Well,
    /// Once at the so-manieth call.
    Once(i64),
    /// From the so-manieth call on.
    Broken(i64),
    /// After so many bytes.
    Full(i64),
    /// The process dies at the so-manieth call, or after so many bytes.
    Dies(i64),
    DiesWriting(i64),
}

#[derive(Clone, Debug)]
struct Step {
    /// Of which of the two journals.
    of: usize,
    deed: Deed,
    fate: Fate,
    /// What a second process does there at the same time.
    beside: Option<Deed>,
}

impl Fate {
    fn drawn(chance: &mut Chance) -> Self {
        let (calls, bytes) = (chance.below(40) as i64, chance.below(60_000) as i64);
        match chance.below(10) {
            0 => Self::Once(calls),
            1 => Self::Broken(calls),
            2 => Self::Full(bytes),
            3 | 4 => Self::Dies(calls),
            5 => Self::DiesWriting(bytes),
            _ => Self::Well,
        }
    }
}

impl Step {
    fn drawn(chance: &mut Chance, number: u32) -> Self {
        let (take, player) = (chance.below(99), chance.below(2));
        let deed = match chance.below(20) {
            0..7 => Deed::Record { player, number },
            7 | 8 => Deed::Word { take, number },
            9 => Deed::Player { take, player },
            10 | 11 => Deed::Keep { take },
            12 | 13 => Deed::Delete { take },
            14 => Deed::Erase { player },
            15 => Deed::Open,
            16 => Deed::Index,
            17 => Deed::Export { zip: chance.below(2) == 0 },
            _ => Deed::Import { zip: chance.below(2) == 0, replace: chance.below(2) == 0 },
        };
        // Where one takes takes away, the other brings none: which came first could not be told.
        let brings = matches!(deed, Deed::Record { .. } | Deed::Import { .. });
        let takes_away = matches!(deed, Deed::Delete { .. } | Deed::Erase { .. });
        let beside = match chance.below(8) {
            0 if !takes_away => Some(Deed::Record { player, number: number + 1_000 }),
            1 => Some(Deed::Word { take: chance.below(99), number }),
            2 => Some(Deed::Index),
            3 if !brings => Some(Deed::Delete { take: chance.below(99) }),
            _ => None,
        };
        Self { of: chance.below(2), deed, fate: Fate::drawn(chance), beside }
    }
}

/// The disk of a process with a fate.
struct Fated {
    fate: Fate,
    left: AtomicI64,
}

impl Fated {
    fn disk(fate: Fate) -> Disk {
        let left = match fate {
            Fate::Well => return Disk::default().private(),
            Fate::Once(left) | Fate::Broken(left) | Fate::Full(left) => left,
            Fate::Dies(left) | Fate::DiesWriting(left) => left,
        };
        Disk::with(Arc::new(Self { fate, left: left.into() })).private()
    }
}

impl DiskFault for Fated {
    fn write(&self, bytes: usize) -> io::Result<usize> {
        let by_bytes = matches!(self.fate, Fate::Full(_) | Fate::DiesWriting(_));
        if !by_bytes {
            return Ok(bytes);
        }
        let left = self.left.load(Ordering::Relaxed);
        if left > 0 {
            let fitting = left.min(bytes as i64);
            self.left.store(left - fitting, Ordering::Relaxed);
            return Ok(fitting as usize);
        }
        match self.fate {
            Fate::DiesWriting(_) => std::process::abort(),
            _ => Err(io::ErrorKind::StorageFull.into()),
        }
    }

    fn change(&self) -> io::Result<()> {
        let at_calls = matches!(self.fate, Fate::Once(_) | Fate::Broken(_) | Fate::Dies(_));
        let left = if at_calls { self.left.fetch_sub(1, Ordering::Relaxed) } else { 1 };
        match self.fate {
            Fate::Dies(_) if left <= 0 => std::process::abort(),
            Fate::Once(_) if left == 0 => Err(io::Error::other("once")),
            Fate::Broken(_) if left <= 0 => Err(io::Error::other("broken")),
            _ => Ok(()),
        }
    }
}

/// What was played in the take of this number; no two are alike.
fn played(number: u32) -> Vec<f32> {
    let samples = 3_000 + 700 * (number % 7);
    (0..samples).map(|i| 0.4 * (i as f32 * (0.01 + 0.0007 * number as f32)).sin()).collect()
}

fn word(number: u32) -> String {
    format!("word {number}")
}

/// The child's part: does a deed and says how it went, in one line.
#[test]
#[ignore = "it is started by the test below, in a process of its own"]
fn a_deed() {
    let Ok(deed) = std::env::var(CHILD) else {
        panic!("only as a process of the test of lives");
    };
    let words: Vec<&str> = deed.split('|').collect();
    let number = |place: usize| words[place].parse::<i64>().expect("a number");
    let fate = match (words[1], number(2)) {
        ("once", left) => Fate::Once(left),
        ("broken", left) => Fate::Broken(left),
        ("full", left) => Fate::Full(left),
        ("dies", left) => Fate::Dies(left),
        ("writing", left) => Fate::DiesWriting(left),
        _ => Fate::Well,
    };
    let folder = Path::new(words[0]);
    let id = || words[4].split_once('/').and_then(|(day, time)| TakeId::new(day, time));
    let done = Journal::open_on(folder, Fated::disk(fate)).and_then(|opened| {
        let journal = opened.journal;
        let id = || id().expect("the name of a take");
        let mut passed = |_: usize, _: usize| ();
        match words[3] {
            "record" => return record(&journal, words[4], number(5) as u32),
            "word" => journal.label(&id(), Label::Word(words[5].to_owned()))?,
            "player" => journal.label(&id(), Label::Player(words[5].to_owned()))?,
            "keep" => journal.keep(&id(), true)?,
            "delete" => journal.delete_for_good(&id())?,
            "erase" => drop(journal.erase(words[4])?),
            "open" => {}
            "index" => journal.rebuild_index()?,
            "export" => drop(journal.export(None, Path::new(words[4]), &mut passed)?),
            "import" => {
                let replace = words[5] == "replace";
                let differing = if replace { Differing::Replace } else { Differing::Leave };
                let imported = journal.import(Path::new(words[4]), differing, &mut passed)?;
                assert_eq!((imported.unread, imported.left_out), (Vec::new(), Vec::new()));
            }
            other => panic!("no deed: {other}"),
        }
        Ok(String::new())
    });
    match done {
        Ok(what) => println!("\ndone|{what}"),
        Err(error) => println!("\ntold|{error}"),
    }
}

/// Two takes each begin in the same second, so that names are claimed twice.
fn record(journal: &Journal, player: &str, number: u32) -> Result<String, journal::JournalError> {
    let began = date(2026, 3, 1).at(9, 0, 0, 0).to_zoned(TimeZone::UTC).expect("a time");
    let began = began + jiff::Span::new().seconds(i64::from(number / 2));
    let context = Context { player: player.to_owned(), ..Context::default() };
    let mut take = journal.begin_at(&began, &context, RATE_HZ)?;
    for part in played(number).chunks(1_000) {
        take.sound(part)?;
    }
    take.note(&note(0.0, 0.05))?;
    Ok(take.finish()?.id.to_string())
}

/// A take as it must be.
#[derive(Clone, Debug, PartialEq)]
struct Take {
    file: TakeFile,
    text: Vec<u8>,
    sound: Vec<u8>,
}

type Takes = BTreeMap<TakeId, Take>;

/// What lies in a journal's folders now.
fn found(folder: &Path) -> Result<Takes, String> {
    let shelf = Shelf::open(folder).map_err(|error| error.to_string())?;
    let mut takes = Takes::new();
    for id in shelf.takes().map_err(|error| error.to_string())? {
        let path = folder.join(id.day()).join(id.time());
        let bytes = |name: &str| {
            fs::read(path.join(name)).map_err(|error| format!("{id}: {name}: {error}"))
        };
        let take = Take {
            file: shelf.take(&id).map_err(|error| format!("{id}: {error}"))?,
            text: bytes("take.ron")?,
            sound: bytes("sound.flac").unwrap_or_default(),
        };
        shelf.check_sound(&id, &take.file).map_err(|error| format!("{id}: {error}"))?;
        takes.insert(id, take);
    }
    Ok(takes)
}

#[derive(Clone, Debug, PartialEq)]
enum Outcome {
    Done(String),
    Told(String),
    Died,
}

/// A deed on its way: what it may do to which takes.
struct Doing {
    deed: Deed,
    id: Option<TakeId>,
    child: std::process::Child,
}

struct World {
    folder: Folder,
    takes: [Takes; 2],
    /// Numbers of takes that were begun and did not end: they may come back, mended.
    broken_off: [Vec<u32>; 2],
    shelves: [Shelf; 2],
    counts: [usize; 3],
    exports: usize,
}

impl World {
    fn new(name: &str) -> Self {
        let folder = Folder::new(name);
        let shelves = [0, 1].map(|of| {
            let place = folder.0.join(["one", "two"][of]);
            Journal::open(&place).expect("opened");
            Shelf::open(&place).expect("opened")
        });
        Self {
            folder,
            takes: Default::default(),
            broken_off: Default::default(),
            shelves,
            counts: [0; 3],
            exports: 0,
        }
    }

    fn place(&self, of: usize) -> PathBuf {
        self.folder.0.join(["one", "two"][of])
    }

    fn parcel(&self, zip: bool) -> PathBuf {
        self.folder.0.join(format!("out-{}{}", self.exports, if zip { ".zip" } else { "" }))
    }

    /// Starts the process that does it; `None` where there is no such take.
    fn start(&self, of: usize, deed: &Deed, fate: Fate) -> Option<Doing> {
        let pick = |take: usize| {
            let takes = &self.takes[of];
            takes.keys().nth(take % takes.len().max(1)).cloned()
        };
        let mut id = None;
        let mut about = |take: usize| -> Option<String> {
            id = pick(take);
            id.as_ref().map(TakeId::to_string)
        };
        let words = match deed {
            Deed::Record { player, number } => format!("record|{}|{number}", PLAYERS[*player]),
            Deed::Word { take, number } => format!("word|{}|{}", about(*take)?, word(*number)),
            Deed::Player { take, player } => {
                format!("player|{}|{}", about(*take)?, PLAYERS[*player])
            }
            Deed::Keep { take } => format!("keep|{}", about(*take)?),
            Deed::Delete { take } => format!("delete|{}", about(*take)?),
            Deed::Erase { player } => format!("erase|{}", PLAYERS[*player]),
            Deed::Open => "open".to_owned(),
            Deed::Index => "index".to_owned(),
            Deed::Export { zip } => format!("export|{}", self.parcel(*zip).display()),
            Deed::Import { replace, .. } => {
                let from = self.folder.0.join("brought");
                let from = if from.is_dir() { from } else { self.folder.0.join("brought.zip") };
                let way = if *replace { "replace" } else { "leave" };
                format!("import|{}|{way}", from.display())
            }
        };
        let (how, left) = match fate {
            Fate::Well => ("well", 0),
            Fate::Once(left) => ("once", left),
            Fate::Broken(left) => ("broken", left),
            Fate::Full(left) => ("full", left),
            Fate::Dies(left) => ("dies", left),
            Fate::DiesWriting(left) => ("writing", left),
        };
        let me = std::env::current_exe().expect("it is running");
        let child = Command::new(me)
            .args(["--exact", "a_deed", "--ignored", "--nocapture", "--test-threads=1"])
            .env(CHILD, format!("{}|{how}|{left}|{words}", self.place(of).display()))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it can be started");
        Some(Doing { deed: deed.clone(), id, child })
    }

    /// Does a step with what stands beside it, and looks at everything.
    fn step(&mut self, step: &Step) -> Result<(), String> {
        let of = step.of;
        if let Deed::Import { zip, .. } = step.deed {
            self.bring(of, zip)?;
        }
        let doings: Vec<Doing> =
            [(Some(&step.deed), step.fate), (step.beside.as_ref(), Fate::Well)]
                .into_iter()
                .filter_map(|(deed, fate)| self.start(of, deed?, fate))
                .collect();
        let mut done = Vec::new();
        for Doing { deed, id, child } in doings {
            let outcome = outcome(child, step.fate)?;
            self.counts[match outcome {
                Outcome::Done(_) => 0,
                Outcome::Told(_) => 1,
                Outcome::Died => 2,
            }] += 1;
            done.push((deed, id, outcome));
        }
        self.check(of, &done)?;
        self.check_shelves()
    }

    /// Puts the other journal where it is brought from, by a process on which nothing goes wrong: this one.
    fn bring(&self, of: usize, zip: bool) -> Result<(), String> {
        let (folder, parcel) = (self.folder.0.join("brought"), self.folder.0.join("brought.zip"));
        fs::remove_dir_all(&folder).ok();
        fs::remove_file(&parcel).ok();
        let shelf = &self.shelves[1 - of];
        shelf.refresh().map_err(|error| error.to_string())?;
        let into = if zip { &parcel } else { &folder };
        let exported =
            shelf.export(None, into, &mut |_, _| ()).map_err(|error| error.to_string())?;
        if exported.takes != self.takes[1 - of].len() || !exported.told.is_empty() {
            return Err(format!("{exported:?} of {}", self.takes[1 - of].len()));
        }
        Ok(())
    }

    /// The files that a take may have after these deeds, in whatever order they were done; `None` is a take that is gone.
    fn may_be(
        &self,
        of: usize,
        id: &TakeId,
        take: &Take,
        done: &[(Deed, Option<TakeId>, Outcome)],
    ) -> Vec<Option<TakeFile>> {
        let mut all = Vec::new();
        let orders: &[&[usize]] = if done.len() == 2 { &[&[0, 1], &[1, 0]] } else { &[&[0]] };
        for order in orders {
            let mut states = vec![Some(take.file.clone())];
            for &place in *order {
                let Some((deed, about, outcome)) = done.get(place) else { continue };
                let after: Vec<_> = states
                    .iter()
                    .flat_map(|state| self.after(of, deed, about.as_ref() == Some(id), state))
                    .collect();
                // What was told to be done is done; else it may be, or not.
                if matches!(outcome, Outcome::Done(_)) {
                    states = after;
                } else {
                    states.extend(after);
                }
            }
            all.extend(states);
        }
        all
    }

    fn after(
        &self,
        of: usize,
        deed: &Deed,
        meant: bool,
        state: &Option<TakeFile>,
    ) -> Vec<Option<TakeFile>> {
        let Some(file) = state else { return vec![None] };
        let mut file = file.clone();
        match deed {
            Deed::Word { number, .. } if meant => file.word = word(*number),
            Deed::Player { player, .. } if meant => file.player = PLAYERS[*player].to_owned(),
            Deed::Keep { .. } if meant => file.keep = true,
            Deed::Delete { .. } if meant => return vec![None],
            Deed::Erase { player } if file.player == PLAYERS[*player] => return vec![None],
            Deed::Import { replace: true, .. } => {
                // The words of the same take there; it is known by its sound, its beginning and its player.
                let others = self.takes[1 - of].values().map(|other| &other.file);
                let same = |other: &&TakeFile| {
                    other.sound == file.sound
                        && other.began == file.began
                        && other.player == file.player
                };
                let theirs: Vec<_> = others.filter(same).cloned().map(Some).collect();
                if !theirs.is_empty() {
                    return theirs;
                }
            }
            _ => {}
        }
        vec![Some(file)]
    }

    /// Holds what lies in the journal against what was told.
    fn check(&mut self, of: usize, done: &[(Deed, Option<TakeId>, Outcome)]) -> Result<(), String> {
        let now = found(&self.place(of))?;
        for (id, take) in &self.takes[of] {
            let may = self.may_be(of, id, take, done);
            match now.get(id) {
                None if may.contains(&None) => {}
                None => return Err(format!("{id} is gone after {done:?}")),
                Some(is) if !may.contains(&Some(is.file.clone())) => {
                    return Err(format!("{id} is {:?} after {done:?}, it may be {may:?}", is.file));
                }
                Some(is) if is.sound != take.sound => {
                    return Err(format!("{id} sounds otherwise after {done:?}"));
                }
                Some(is) if is.file == take.file && is.text != take.text => {
                    return Err(format!(
                        "the file of {id} was written without need after {done:?}"
                    ));
                }
                Some(_) => {}
            }
        }
        for (deed, _, outcome) in done {
            match (deed, outcome) {
                (Deed::Record { number, .. }, Outcome::Done(_)) => {
                    let whole = whole(&played(*number));
                    let there = now.iter().any(|(id, take)| {
                        !self.takes[of].contains_key(id)
                            && !take.file.mended
                            && take.file.notes.len() == 1
                            && decoded(
                                &self.place(of).join(id.day()).join(id.time()).join("sound.flac"),
                            ) == whole
                    });
                    if !there {
                        return Err(format!(
                            "take {number} was said to be kept and is not there: {done:?}"
                        ));
                    }
                }
                (Deed::Record { number, .. }, _) => self.broken_off[of].push(*number),
                (Deed::Import { .. }, Outcome::Done(_)) => {
                    for theirs in self.takes[1 - of].values() {
                        if !now.values().any(|take| take.sound == theirs.sound) {
                            return Err(format!("{} did not come in: {done:?}", theirs.file.began));
                        }
                    }
                }
                (Deed::Export { zip }, outcome) => self.check_parcel(of, *zip, outcome, &now)?,
                (Deed::Erase { player }, Outcome::Done(_)) if done.len() == 1 => {
                    let index = fs::read(self.place(of).join(".index")).unwrap_or_default();
                    let name = PLAYERS[*player].as_bytes();
                    if index.windows(name.len()).any(|part| part == name) {
                        return Err(format!("the index still knows of {}", PLAYERS[*player]));
                    }
                }
                _ => {}
            }
        }
        let imports = done.iter().any(|(deed, ..)| matches!(deed, Deed::Import { .. }));
        for (id, take) in now.iter().filter(|(id, _)| !self.takes[of].contains_key(id)) {
            self.explain(of, id, take, imports, done)?;
        }
        self.takes[of] = now;
        Ok(())
    }

    /// A take that was not there before was brought, was recorded, or is what could be saved of one.
    fn explain(
        &self,
        of: usize,
        id: &TakeId,
        take: &Take,
        imports: bool,
        done: &[(Deed, Option<TakeId>, Outcome)],
    ) -> Result<(), String> {
        if imports && self.takes[1 - of].values().any(|theirs| theirs == take) {
            return Ok(());
        }
        let recorded = done.iter().filter_map(|(deed, ..)| match deed {
            Deed::Record { number, .. } => Some(*number),
            _ => None,
        });
        let sound = match take.file.sound {
            SoundFile::Whole { .. } => {
                decoded(&self.place(of).join(id.day()).join(id.time()).join("sound.flac"))
            }
            _ => Vec::new(),
        };
        let mut candidates = recorded.chain(self.broken_off[of].iter().copied());
        match candidates.any(|number| whole(&played(number)).starts_with(&sound)) {
            true => Ok(()),
            false => Err(format!("nobody knows where {id} comes from: {done:?}")),
        }
    }

    /// A parcel is whole or not there; a take that was deleted beside it may be in it or not.
    fn check_parcel(
        &mut self,
        of: usize,
        zip: bool,
        outcome: &Outcome,
        now: &Takes,
    ) -> Result<(), String> {
        let path = self.parcel(zip);
        self.exports += 1;
        if !matches!(outcome, Outcome::Done(_)) && !path.exists() {
            return Ok(());
        }
        let place = match zip {
            false => path,
            true => {
                let place = self.folder.0.join(format!("unpacked-{}", self.exports));
                let journal = Journal::open(&place).expect("opened").journal;
                journal
                    .import(&path, Differing::Leave, &mut |_, _| ())
                    .map_err(|error| error.to_string())?;
                place
            }
        };
        let copies = found(&place)?;
        fs::remove_dir_all(&place).map_err(|error| error.to_string())?;
        // Another process may not write while this one does, so nothing changes meanwhile but before or after.
        let stays = |(id, _): &(&TakeId, &Take)| now.contains_key(*id);
        for (_, take) in self.takes[of].iter().filter(stays) {
            if !copies.values().any(|copy| copy.sound == take.sound) {
                return Err(format!("{} is not in the parcel", take.file.began));
            }
        }
        Ok(())
    }

    /// One that reads all the while, and one that comes now, see the same takes.
    fn check_shelves(&self) -> Result<(), String> {
        for of in [0, 1] {
            let fresh = Shelf::open(&self.place(of)).map_err(|error| error.to_string())?;
            fresh.refresh().map_err(|error| error.to_string())?;
            self.shelves[of].refresh().map_err(|error| error.to_string())?;
            let there: Vec<&TakeId> = self.takes[of].keys().collect();
            for shelf in [&fresh, &self.shelves[of]] {
                let entries = shelf.entries();
                let seen: Vec<&TakeId> = entries.iter().map(|entry| &entry.id).collect();
                if seen != there {
                    return Err(format!("a reader sees {seen:?} of {there:?}"));
                }
                for entry in entries.iter() {
                    let file = &self.takes[of][&entry.id].file;
                    if (&entry.player, &entry.word, entry.keep)
                        != (&file.player, &file.word, file.keep)
                    {
                        return Err(format!("a reader sees other words of {}", entry.id));
                    }
                }
            }
        }
        Ok(())
    }

    /// At the end both open well and all is whole.
    fn end(&mut self) -> Result<(), String> {
        for of in [0, 1] {
            let opened = Journal::open(&self.place(of)).map_err(|error| error.to_string())?;
            if !opened.unmended.is_empty() {
                return Err(format!("{:?}", opened.unmended));
            }
            let damage = opened.journal.verify().map_err(|error| error.to_string())?;
            if !damage.is_empty() {
                return Err(format!("{damage:?}"));
            }
            self.check(of, &[(Deed::Open, None, Outcome::Done(String::new()))])?;
        }
        self.check_shelves()
    }
}

/// How it ended; it may only have died where that was its fate.
fn outcome(child: std::process::Child, fate: Fate) -> Result<Outcome, String> {
    let output = child.wait_with_output().map_err(|error| error.to_string())?;
    let text = String::from_utf8_lossy(&output.stdout);
    let line = text
        .lines()
        .find_map(|line| line.split_once('|').filter(|(how, _)| ["done", "told"].contains(how)));
    match line {
        Some(("done", what)) => Ok(Outcome::Done(what.to_owned())),
        Some((_, what)) => Ok(Outcome::Told(what.to_owned())),
        None if output.status.code().is_none()
            && matches!(fate, Fate::Dies(_) | Fate::DiesWriting(_)) =>
        {
            Ok(Outcome::Died)
        }
        None => {
            Err(format!("{}: {text}{}", output.status, String::from_utf8_lossy(&output.stderr)))
        }
    }
}

fn live(name: &str, steps: &[Step]) -> Result<[usize; 3], String> {
    let mut world = World::new(name);
    for (number, step) in steps.iter().enumerate() {
        world.step(step).map_err(|why| format!("step {number}: {why}"))?;
    }
    world.end()?;
    Ok(world.counts)
}

/// The fewest of the steps that still go wrong, as far as a minute of trying finds them.
fn shortest(steps: Vec<Step>) -> Vec<Step> {
    let (mut steps, began) = (steps, Instant::now());
    let mut place = 0;
    while place < steps.len() && began.elapsed() < Duration::from_secs(60) {
        let mut fewer = steps.clone();
        fewer.remove(place);
        if live("life-shorter", &fewer).is_err() {
            steps = fewer;
        } else {
            place += 1;
        }
    }
    steps
}

fn asked(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

#[test]
fn whatever_is_done_with_takes_and_whatever_goes_wrong_none_that_was_told_of_is_lost() {
    let limit = Duration::from_secs(asked("EVENWAVE_LIFE_SECS").unwrap_or(20));
    let first = asked("EVENWAVE_LIFE_SEED").unwrap_or(1);
    let (began, mut counts) = (Instant::now(), [0; 3]);
    let mut seed = first;
    while began.elapsed() < limit {
        let mut chance = Chance(seed);
        let steps: Vec<Step> =
            (0..STEPS).map(|number| Step::drawn(&mut chance, number as u32)).collect();
        match live("life", &steps) {
            Ok(lived) => counts.iter_mut().zip(lived).for_each(|(sum, count)| *sum += count),
            Err(why) => {
                let shorter = shortest(steps);
                panic!(
                    "seed {seed}: {why}\nin short: {shorter:#?}\n{:?}",
                    live("life-shorter", &shorter)
                );
            }
        }
        seed += 1;
    }
    let [done, told, died] = counts;
    println!("{} lives: {done} deeds done, {told} told why not, {died} died", seed - first);
    assert!(done > 10 && told > 2 && died > 2, "too little happened: {counts:?}");
}
