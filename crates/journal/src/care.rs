//! Care of the takes: answers and marks, deleting, throwing sound away, looking for damage.

use std::fmt;
use std::path::PathBuf;

use jiff::Timestamp;

use crate::disk;
use crate::error::JournalError;
use crate::flac::hear;
use crate::folder::Found;
use crate::journal::Journal;
use crate::shelf::Shelf;
use crate::take::{crc32, discard};
use crate::take_file::{SOUND, TAKE, parse, replace};
use crate::take_id::TakeId;
use crate::written::{Answer, SoundFile, TakeFile, Turn};

const DAY_SECS: i64 = 24 * 3_600;

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
        index.store(&inner.folder, &inner.disk)
    }

    /// Deletes a take for good; no trace of it stays in the journal.
    pub fn delete_for_good(&self, id: &TakeId) -> Result<(), JournalError> {
        self.delete_all_for_good(&[id])
    }

    pub(crate) fn delete_all_for_good(&self, ids: &[&TakeId]) -> Result<(), JournalError> {
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
        let stored = inner.index().store(&inner.folder, &inner.disk);
        outcome.and(stored)
    }

    fn existing(&self, id: &TakeId) -> Result<PathBuf, JournalError> {
        let path = self.0.0.path(id);
        if path.is_dir() { Ok(path) } else { Err(JournalError::Missing { path }) }
    }

    /// Throws away the sound of all takes older than so many days that are not marked; their measures stay. Does
    /// nothing if that would be all takes there are: then it is more likely that the clock is wrong. Says
    /// whose sound went; where it is as many as `most`, there may be more.
    pub fn forget_sound_older_than(
        &self,
        days: u32,
        most: usize,
    ) -> Result<Vec<TakeId>, JournalError> {
        let limit = Timestamp::now().as_second() - i64::from(days) * DAY_SECS;
        let entries = self.entries();
        let mut forgotten = Vec::new();
        if entries.iter().all(|entry| entry.began_unix_s < limit) {
            return Ok(forgotten);
        }
        for entry in entries.iter() {
            if forgotten.len() >= most {
                break;
            }
            if entry.keep || entry.began_unix_s >= limit || entry.sound == SoundFile::None {
                continue;
            }
            // First said, then done: what a crash leaves in between is done the next time.
            if entry.sound != SoundFile::Forgotten {
                self.change(&entry.id, |file| file.sound = SoundFile::Forgotten)?;
            }
            let sound = self.sound(&entry.id);
            if sound.exists() {
                let gone = self.0.0.disk.remove_file(&sound);
                gone.map_err(|error| JournalError::of(&error, &sound))?;
                forgotten.push(entry.id.clone());
            }
        }
        Ok(forgotten)
    }
}

impl Shelf {
    /// Looks at every byte of every take and says what is damaged, unfinished or out of place.
    pub fn verify(&self) -> Result<Vec<Damage>, JournalError> {
        let mut damage = Vec::new();
        for (found, path) in self.0.folders()? {
            match found {
                Found::Take(id) => self.verify_take(&id, &mut damage),
                Found::Unfinished(id) => damage.push(Damage {
                    id: Some(id),
                    path,
                    words: "this take is being played, or broke off and is mended when the journal is opened \
                            for writing"
                        .to_owned(),
                }),
                Found::Leftover => {}
                Found::Strange if path.join(TAKE).exists() => damage.push(Damage {
                    id: None,
                    path,
                    words: "this holds a take, but its name is not that of one; names are like \
                            2026-11-25/17-41-09"
                        .to_owned(),
                }),
                Found::Strange => {}
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
            SoundFile::Whole { samples, crc32: sum } => {
                let words = match crc32(&sound) {
                    Ok(now) if now == sum => return,
                    Ok(_) => match hear(&sound, |_, _| Ok(())) {
                        Ok(heard) => format!(
                            "its sound has changed; {:.1} s of {:.1} s can still be heard",
                            heard.samples as f64 / f64::from(file.sample_rate_hz.max(1)),
                            samples as f64 / f64::from(file.sample_rate_hz.max(1)),
                        ),
                        Err(error) => format!("its sound cannot be read ({error})"),
                    },
                    Err(error) => format!("its sound cannot be read ({error})"),
                };
                report(sound, words);
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
