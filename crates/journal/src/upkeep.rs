//! Care of the takes: answers and marks, deleting, throwing sound away, looking for damage.

use std::fmt;
use std::fs;
use std::path::{Path, PathBuf};

use jiff::Timestamp;

use crate::context::{LessonPart, Pace};
use crate::error::JournalError;
use crate::file_format::{Answer, PassOf, SoundFile, TakeFile, Turn, WrittenLesson};
use crate::folder::FolderKind;
use crate::journal::Journal;
use crate::leaving::Leaving;
use crate::reader::Shelf;
use crate::seen_time::{DAY_SECS, SeenTime, starts};
use crate::take::{check_sound, discard};
use crate::take_file::{SOUND, TAKE, parse, replace};
use crate::take_id::TakeId;

/// Something in the journal that is not as it should be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// The take, where it is one.
    pub id: Option<TakeId>,
    /// The folder or file.
    pub path: PathBuf,
    /// What is wrong, and what can be done.
    pub words: String,
}

impl fmt::Display for Damage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.words, self.path.display())
    }
}

/// What became of the sound that was too old.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Forgotten {
    /// Whose sound went; where it is as many takes as were asked for at a time, there may be more.
    pub gone: Vec<TakeId>,
    /// Whose sound goes at the next start, and not before: the player is to be told.
    pub next: Vec<TakeId>,
    /// What stays though by the clock it is too old, and why, in words; told only when a long pause has just ended.
    pub left: Option<String>,
}

/// What a hand may say of a take after it was played.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Label {
    /// A word to find it again by.
    Word(String),
    /// Whose it is.
    Player(String),
    /// The passage; empty for none.
    Passage(String),
    /// The finger that played all of it, 1 to 4 (0 is the thumb).
    Finger(Option<u8>),
    /// The string that all of it was played on; empty for none.
    String(String),
}

impl Journal {
    /// Changes the file of a take, and nothing else.
    fn change(&self, id: &TakeId, change: impl FnOnce(&mut TakeFile)) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let mut file = self.take(id)?;
        let before = file.clone();
        change(&mut file);
        if file == before {
            return Ok(());
        }
        inner.disk.sweep(&inner.path(id));
        let text = replace(&inner.disk, &inner.path(id).join(TAKE), &file)?;
        inner.changed(id, &file, text.as_bytes());
        Ok(())
    }

    /// Adds what the ear said of a note.
    pub fn answer(&self, id: &TakeId, answer: Answer) -> Result<(), JournalError> {
        self.change(id, |file| file.answers.push(answer))
    }

    /// Adds what was played in a drill's round that was judged after the take had ended.
    pub fn turns(&self, id: &TakeId, turns: &[Turn]) -> Result<(), JournalError> {
        self.change(id, |file| file.played_in(turns))
    }

    /// Says what was made of the pass through a passage that a take holds.
    pub fn pass(&self, id: &TakeId, pass: PassOf) -> Result<(), JournalError> {
        self.change(id, |file| file.pass = Some(pass))
    }

    /// Says that a take that was made elsewhere holds rounds of this drill, in place of what it was judged as before.
    pub fn judged_as_round(
        &self,
        id: &TakeId,
        (drill, pace): (&str, Option<Pace>),
        turns: &[Turn],
    ) -> Result<(), JournalError> {
        self.change(id, |file| {
            file.judged_anew();
            file.drill = Some(drill.to_owned());
            file.pace_bpm = pace.map(|pace| pace.bpm);
            file.oscillations_per_beat = pace.and_then(|pace| pace.oscillations_per_beat);
            file.played_in(turns);
        })
    }

    /// Says that a take that was made elsewhere holds the passage of this title, in place of what it was judged as before.
    pub fn judged_as_pass(
        &self,
        id: &TakeId,
        title: &str,
        pass: PassOf,
    ) -> Result<(), JournalError> {
        self.change(id, |file| {
            file.judged_anew();
            file.passage = Some(title.to_owned());
            file.pass = Some(pass);
        })
    }

    /// Says what a take was in a lesson; `None` for nothing.
    pub fn lesson(&self, id: &TakeId, part: Option<&LessonPart>) -> Result<(), JournalError> {
        self.change(id, |file| file.lesson = part.map(WrittenLesson::of))
    }

    /// Marks a take as kept for ever, or takes the mark away.
    pub fn keep(&self, id: &TakeId, keep: bool) -> Result<(), JournalError> {
        self.change(id, |file| file.keep = keep)
    }

    /// Leaves another word with a take, or says anew whose it is or what was played.
    pub fn label(&self, id: &TakeId, label: Label) -> Result<(), JournalError> {
        self.change(id, |file| match label {
            Label::Word(word) => file.word = word,
            Label::Player(player) => file.player = player,
            Label::Passage(passage) => file.passage = Some(passage).filter(|name| !name.is_empty()),
            Label::Finger(finger) => file.finger = finger,
            Label::String(string) => file.string = Some(string).filter(|name| !name.is_empty()),
        })
    }

    /// Puts a take into the system's trash, from which the system can bring it back.
    pub fn delete(&self, id: &TakeId) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let path = self.existing(id)?;
        trash::delete(&path).map_err(|error| JournalError::NoTrash {
            reason: error.to_string(),
            path: path.clone(),
        })?;
        inner.disk.tidy(&inner.folder.join(id.day()));
        let mut index = inner.index();
        index.remove(id);
        index.forget(&inner.folder, &inner.disk)
    }

    /// Deletes a take for good; no trace of it stays in the journal.
    pub fn delete_for_good(&self, id: &TakeId) -> Result<(), JournalError> {
        self.delete_all_for_good(std::slice::from_ref(id))
    }

    pub(crate) fn delete_all_for_good(&self, ids: &[TakeId]) -> Result<(), JournalError> {
        let inner = &self.0.0;
        let mut outcome = Ok(());
        for id in ids {
            outcome = self.existing(id).and_then(|path| discard(&inner.disk, &path));
            if outcome.is_err() {
                break;
            }
            inner.index().remove(id);
        }
        // The file of the index knows their measures still.
        let stored = inner.index().forget(&inner.folder, &inner.disk);
        outcome.and(stored)
    }

    /// The folder of a take from which something is to go: no link leads to it.
    fn existing(&self, id: &TakeId) -> Result<PathBuf, JournalError> {
        let path = self.0.0.path(id);
        let day = self.0.0.folder.join(id.day());
        if let Some(path) = [&day, &path].into_iter().find(|path| path.is_symlink()) {
            return Err(JournalError::Linked { path: path.clone() });
        }
        if path.is_dir() { Ok(path) } else { Err(JournalError::Missing { path }) }
    }

    /// Puts the sound of takes older than so many days that are not marked into the system's trash, of `most` takes at a
    /// time; where there is no trash it goes for good. Their measures stay. Only that goes which an earlier opening of the
    /// journal told of; what goes at the next is told now. A clock that has jumped is not believed: of a time in which
    /// nothing was played and no journal opened a week is counted at most, sound whose file was written later is as
    /// young as that, and where all takes there are would be too old nothing goes.
    pub fn forget_sound_older_than(
        &self,
        days: u32,
        most: usize,
    ) -> Result<Forgotten, JournalError> {
        let now = Timestamp::now().as_second();
        let secs = i64::from(days) * DAY_SECS;
        let entries = self.entries();
        let mut forgotten = Forgotten::default();
        if entries.iter().all(|entry| entry.began_unix_s < now - secs) {
            return Ok(forgotten);
        }
        let began = entries.iter().map(|entry| entry.began_unix_s);
        let seen = SeenTime::new(began, &starts(self.folder()), now);
        let limit = seen.limit(secs).unwrap_or(i64::MIN);
        let mut left = 0;
        for entry in entries.iter() {
            if forgotten.gone.len() >= most {
                return Ok(forgotten);
            }
            let began = entry.began_unix_s;
            if entry.keep || began >= now - secs || entry.sound == SoundFile::None {
                continue;
            }
            let sound = self.sound(&entry.id);
            if !disk::is_there(&sound) || self.existing(&entry.id).is_err() {
                continue;
            }
            if seen.latest(began) >= limit {
                left += 1;
                continue;
            }
            if written_unix_s(&sound).is_some_and(|written| written >= limit) {
                continue;
            }
            if !self.0.0.leaving.has(&entry.id, days) {
                forgotten.next.push(entry.id.clone());
                continue;
            }
            // First said, then done: what a crash leaves in between goes another time.
            self.change(&entry.id, |file| file.sound = SoundFile::Forgotten)?;
            if trash::delete(&sound).is_err() {
                let gone = self.0.0.disk.remove_file(&sound);
                gone.map_err(|error| JournalError::of(&error, &sound))?;
            }
            forgotten.gone.push(entry.id.clone());
        }
        Leaving::keep(self.folder(), &self.0.0.disk, days, &forgotten.next)
            .map_err(|error| JournalError::of(&error, self.folder()))?;
        let pause = seen.pause_just_ended().filter(|_| left > 0);
        forgotten.left = pause.map(|pause| left_words(left, days, pause));
        Ok(forgotten)
    }
}

/// When a file was written, by the system: seconds since 1970 began in UTC.
fn written_unix_s(path: &Path) -> Option<i64> {
    let time = fs::metadata(path).and_then(|about| about.modified()).ok()?;
    Some(Timestamp::try_from(time).ok()?.as_second())
}

/// What stays, and why.
fn left_words(takes: usize, days: u32, (from, to): (i64, i64)) -> String {
    let day = |unix_s: i64| {
        let time = Timestamp::from_second(unix_s).unwrap_or(Timestamp::UNIX_EPOCH);
        time.strftime("%Y-%m-%d").to_string()
    };
    let takes = if takes == 1 { "1 take" } else { &format!("{takes} takes") };
    format!(
        "the sound of {takes} stays a while yet, though by this computer's clock it is older than {days} days: between {} \
         and {} nothing was played and no journal opened, and of so long a pause a week is counted, so that a wrong \
         clock takes no sound with it",
        day(from),
        day(to)
    )
}

impl Shelf {
    /// Looks at every byte of every take and says what is damaged, unfinished or out of place.
    pub fn verify(&self) -> Result<Vec<Damage>, JournalError> {
        let mut damage = Vec::new();
        for (found, path) in self.0.folders()? {
            match found {
                FolderKind::Take(id) => self.verify_take(&id, &mut damage),
                FolderKind::Unfinished(id) => damage.push(Damage {
                    id: Some(id),
                    path,
                    words: "this take is being played, or broke off and is mended when the journal is opened \
                            for writing"
                        .to_owned(),
                }),
                FolderKind::Leftover => {}
                FolderKind::Strange if path.join(TAKE).exists() => damage.push(Damage {
                    id: None,
                    path,
                    words: "this holds a take, but its name is not that of one; names are like \
                            2026-11-25/17-41-09"
                        .to_owned(),
                }),
                FolderKind::Strange => {}
            }
        }
        Ok(damage)
    }

    fn verify_take(&self, id: &TakeId, damage: &mut Vec<Damage>) {
        let mut report = |path: PathBuf, words: String| {
            damage.push(Damage { id: Some(id.clone()), path, words });
        };
        let path = self.0.path(id).join(TAKE);
        let bytes = match disk::bytes(&path) {
            Ok(bytes) => bytes,
            Err(error) => {
                let words = format!("its measures cannot be read ({error})");
                return report(path, words);
            }
        };
        let file = match parse::<TakeFile>(&bytes, &path) {
            Ok(file) => file,
            Err(error) => return report(self.0.path(id), error.to_string()),
        };
        if let Some(entry) = self.entry(id)
            && entry.stamp.seems_current(&path)
            && !entry.stamp.holds(&bytes)
        {
            let words = "its bytes have changed though nobody wrote them: compare it with a copy";
            report(path, words.to_owned());
        }
        let sound = self.0.path(id).join(SOUND);
        match file.sound {
            SoundFile::Whole { .. } => {
                if let Err(error) = check_sound(&sound, &file) {
                    let words = match error {
                        JournalError::Damaged { words, .. } => words,
                        other => other.to_string(),
                    };
                    report(sound, words);
                }
            }
            SoundFile::None if sound.exists() => {
                let words =
                    "there is sound, but its measures say that there is none; it is left as it is";
                report(sound, words.to_owned());
            }
            SoundFile::None | SoundFile::Forgotten => {}
        }
    }
}
