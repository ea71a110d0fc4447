//! What a report is of: a take of the journal, or a sound file, with its notes and its pitch.

use std::path::{Path, PathBuf};

use journal::{Shelf, SoundFile, TakeFile, TakeId};
use pitch::Frame;
use tuning::{Temperament, Tuning};
use vibrato::{Note, Settings};

use super::page::isolated;
use crate::arguments::{EarArguments, settings_of_take};
use crate::fault::Fault;
use crate::heard_file::{Wanted, measure_frames};
use crate::named_takes::{SOUND, harm, harm_of, place_of_take};

/// A take or a sound file.
pub struct Playing {
    /// What it is called.
    pub name: String,
    /// Its measures as they were kept, if it is a take.
    pub take: Option<TakeFile>,
    /// Where its sound is, if there is any.
    pub sound: Option<PathBuf>,
    /// How it was listened to.
    pub settings: Settings,
    /// The notes.
    pub notes: Vec<Note>,
    /// The finger of each note, where it is known.
    pub fingers: Vec<Option<u8>>,
    /// The pitch; empty where there is no sound any more.
    pub frames: Vec<Frame>,
    /// Where sound is missing, in seconds.
    pub lost: Vec<(f64, f64)>,
    /// How long it is, in seconds.
    pub length_s: f64,
    /// What was not right with it.
    pub remarks: Vec<String>,
    /// What is wrong with its sound, if it is that of a take and is damaged.
    pub damaged: Option<String>,
}

impl Playing {
    /// Finds and reads what is named: a sound file, the folder of a take, or the name of a take in `journal`.
    pub fn open(
        named: &str,
        journal: impl FnOnce() -> Result<PathBuf, Fault>,
        ear: &EarArguments,
    ) -> Result<Self, Fault> {
        let path = Path::new(named);
        if let Some((journal, id)) = place_of_take(path) {
            return Self::of_take(&Shelf::open(&journal)?, &id);
        }
        if !path.exists()
            && let Ok(id) = named.parse::<TakeId>()
        {
            return Self::of_take(&Shelf::open(&journal()?)?, &id);
        }
        let sound = if path.is_dir() { path.join(SOUND) } else { path.to_owned() };
        Self::of_file(&sound, named, ear)
    }

    fn of_file(path: &Path, name: &str, ear: &EarArguments) -> Result<Self, Fault> {
        let wanted = ear.whole_file();
        let (measured, frames) = measure_frames(path, &wanted, &mut |_| true)?;
        let last = frames.last().map_or(0.0, |frame| frame.time.0);
        let damaged = harm(path);
        Ok(Self {
            // A page that is sent says nothing of the folders of a computer.
            name: path
                .file_name()
                .map_or_else(|| name.to_owned(), |file| file.to_string_lossy().into_owned()),
            take: None,
            sound: Some(path.to_owned()),
            settings: wanted.settings,
            fingers: vec![None; measured.notes.len()],
            notes: measured.notes,
            lost: measured.lost.iter().map(|(start, length)| (start.0, length.0)).collect(),
            length_s: measured.duration.map_or(last, |length| length.0),
            remarks: measured.remarks.into_iter().chain(damaged.clone()).collect(),
            damaged,
            frames,
        })
    }

    fn of_take(shelf: &Shelf, id: &TakeId) -> Result<Self, Fault> {
        let take = shelf.take(id)?;
        let settings = settings_of_take(&take);
        let mut remarks = Vec::new();
        let mut damaged = None;
        let mut frames = Vec::new();
        let whole = matches!(take.sound, SoundFile::Whole { .. });
        let sound = shelf.sound(id);
        if whole {
            damaged = harm_of(shelf, id);
            remarks.extend(shelf.check_sound(id, &take).err().map(|fault| fault.to_string()));
            // The measures stand by themselves: without the sound there is no trace, and that is said.
            match measure_frames(&sound, &Wanted::whole(settings), &mut |_| true) {
                Ok((_, heard)) => frames = heard,
                Err(fault) => remarks.push(fault.to_string()),
            }
        } else {
            remarks.push(
                "the sound was thrown away or never kept: the measures stay, the trace cannot be drawn"
                    .to_owned(),
            );
        }
        if take.mended {
            remarks.push("this take broke off, and this is what could be saved".to_owned());
        }
        Ok(Self {
            name: id.to_string(),
            sound: whole.then_some(sound),
            settings,
            notes: take.notes.iter().map(journal::NoteMeasures::note).collect(),
            fingers: take.notes.iter().map(|note| note.finger.or(take.finger)).collect(),
            frames,
            lost: take.lost.iter().map(|lost| (lost.at_s, lost.length_s)).collect(),
            length_s: take.length_s,
            remarks,
            damaged,
            take: Some(take),
        })
    }

    /// Whose, of what and when, in words.
    pub fn called(&self) -> String {
        let Some(take) = &self.take else {
            return self.name.clone();
        };
        let when = when(take).unwrap_or_else(|| self.name.clone());
        let parts =
            [take.player.as_str(), take.passage.as_deref().unwrap_or(""), take.word.as_str()];
        let parts = parts.into_iter().filter(|part| !part.is_empty()).map(isolated);
        parts.chain([when]).collect::<Vec<String>>().join(" · ")
    }

    /// With what, and how long.
    pub fn about(&self) -> Vec<(String, String)> {
        let Some(take) = &self.take else {
            return vec![
                ("length".to_owned(), format!("{:.1} s", self.length_s)),
                ("measured against".to_owned(), against(&self.settings.tuning)),
            ];
        };
        let pace = take.pace_bpm.map(|bpm| match take.oscillations_per_beat {
            Some(count) => format!("{bpm} beats a minute, {count} oscillations a beat"),
            None => format!("{bpm} beats a minute"),
        });
        let finger = take.finger.map(|finger| match finger {
            0 => "thumb".to_owned(),
            finger => finger.to_string(),
        });
        let all = [
            ("length", Some(format!("{:.1} s", take.length_s))),
            ("instrument", take.instrument.clone()),
            ("string", take.string.clone()),
            ("finger", finger),
            ("drill", take.drill.clone()),
            ("pace", pace),
            ("measured against", Some(against(&self.settings.tuning))),
            ("microphone", Some(take.device.clone())),
        ];
        all.into_iter()
            .filter_map(|(name, value)| {
                Some((name.to_owned(), value.filter(|value| !value.is_empty())?))
            })
            .collect()
    }
}

/// Day and time of a take, as words.
pub(super) fn when(take: &TakeFile) -> Option<String> {
    let began: jiff::Zoned = take.began.parse().ok()?;
    Some(began.strftime("%-d %B %Y, %H:%M").to_string())
}

fn against(tuning: &Tuning) -> String {
    let temperament = match tuning.temperament {
        Temperament::Equal => "equal temperament",
        Temperament::PureFifths => "pure fifths",
    };
    format!("A4 = {} Hz, {temperament}", tuning.a4.0)
}
