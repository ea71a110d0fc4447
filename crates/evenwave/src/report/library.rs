//! Pages of what is named: takes of a journal and sound files. The command line and the window call the same.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use coach::plan::Passage;
use coach::{Aim, Drill, Fingering, Hints, Practice};
use disk::Disk;
use journal::{Entry, Shelf};
use tuning::Tuning;

use super::{Page, Playing, drill_page, lesson_page, passage_page, span_page, take_page};
use crate::arguments::{EarArguments, WantedTakes};
use crate::fault::Fault;
use crate::heard_file::{Wanted, judge_file};
use crate::heard_passage::{hear_passage, wanted_of};
use crate::named_takes::folder;
use crate::words::unread_said;

/// What a page is of. A take or a recording is named as the command line names it.
#[derive(Clone, Debug)]
pub enum PageOf {
    /// A take, or a recording.
    Take(String),
    /// The rounds of a drill in a take or a recording.
    Drill(Box<DrillIn>),
    /// A model, and the echoes that answer it.
    Lesson {
        /// What was to be imitated.
        model: String,
        /// What answers it, in the order in which it was played.
        echoes: Vec<String>,
    },
    /// A passage, and what was made of it.
    Passage(Box<PassageIn>),
    /// Some weeks of the journal.
    Weeks(WantedTakes),
}

/// A passage, and where it was played.
#[derive(Clone, Debug)]
pub struct PassageIn {
    /// The plan.
    pub passage: Passage,
    /// The take or the recording.
    pub take: String,
    /// The same without vibrato, played before.
    pub straight: Option<String>,
}

/// A drill, and where a round of it was played.
#[derive(Clone, Debug)]
pub struct DrillIn {
    /// The drill.
    pub drill: Drill,
    /// The place it was played at; `None` for that of the instrument.
    pub place: Option<Fingering>,
    /// What is pointed out for the player's good.
    pub hints: Hints,
    /// What its notes were held against; `None` for the tuning it was recorded with.
    pub tuning: Option<Tuning>,
    /// Where they were meant to lie.
    pub aim: Aim,
    /// The take or the recording.
    pub take: String,
}

/// Where takes are, and how sound files are listened to.
pub struct Library<'a> {
    /// The folder of the takes; `None` for the one in which the window keeps them.
    pub journal: Option<&'a Path>,
    /// How to listen to sound files, and how to name notes.
    pub ear: &'a EarArguments,
}

impl Library<'_> {
    /// Makes a page.
    pub fn page(&self, of: &PageOf) -> Result<Page, Fault> {
        let naming = self.ear.naming();
        match of {
            PageOf::Take(take) => Ok(take_page(&self.open(take)?, naming)),
            PageOf::Drill(of) => self.drill(of),
            PageOf::Lesson { model, echoes } => {
                let model = self.open(model)?;
                let echoes = echoes.iter().map(|echo| self.open(echo));
                let echoes = echoes.collect::<Result<Vec<Playing>, Fault>>()?;
                Ok(lesson_page(&model, &echoes, naming))
            }
            PageOf::Passage(of) => self.passage(of),
            PageOf::Weeks(wanted) => self.weeks(wanted),
        }
    }

    fn open(&self, named: &str) -> Result<Playing, Fault> {
        let playing = Playing::open(named, || folder(self.journal), self.ear)?;
        if playing.notes.is_empty() {
            return Err(Fault::Failed(format!(
                "no notes were heard, so there is nothing to report; check the recording: {named}"
            )));
        }
        Ok(playing)
    }

    fn drill(&self, of: &DrillIn) -> Result<Page, Fault> {
        let named = &of.take;
        let playing = self.open(named)?;
        let Some(sound) = &playing.sound else {
            return Err(Fault::Failed(format!(
                "the rounds are judged from the sound, and there is none any more; its notes are reported by: evenwave report take {named}"
            )));
        };
        let mut drill = of.drill.clone();
        let mut shuffles = Vec::new();
        if let Some(take) = &playing.take
            && take.drill.as_deref() == Some(drill.name.as_str())
        {
            drill = drill.paced(take.pace_bpm, take.oscillations_per_beat);
            shuffles = take.shuffles();
        }
        let chosen = self.ear.instrument.as_ref();
        let instrument = chosen
            .map(|chosen| chosen.asked.as_str())
            .or_else(|| playing.take.as_ref()?.instrument.as_deref());
        let place = of.place.clone().or_else(|| drill.place(instrument).cloned());
        let Some(place) = place else {
            return Err(Fault::Failed(format!(
                "drill {} has no place to be played at",
                drill.name
            )));
        };
        let tuning = of.tuning.unwrap_or(playing.settings.tuning);
        let mut practice =
            Practice::new(drill.clone(), place, tuning, of.hints).shuffled_by(shuffles);
        practice.aim(of.aim);
        let drill = practice.drill().clone();
        let wanted = Wanted { channel: self.ear.channel, ..Wanted::whole(playing.settings) };
        let rounds = judge_file(sound, &wanted, practice)?;
        if rounds.is_empty() {
            return Err(Fault::Failed(format!("there is no round of the drill in it: {named}")));
        }
        Ok(drill_page(&drill, &rounds, &playing, self.ear.naming()))
    }

    fn passage(&self, of: &PassageIn) -> Result<Page, Fault> {
        let (wanted, tuning) = wanted_of(&of.passage, self.ear);
        let open = |named: &str| {
            let playing = self.open(named)?;
            let Some(sound) = &playing.sound else {
                return Err(Fault::Failed(format!(
                    "a passage is followed in the sound, and there is none any more: {named}"
                )));
            };
            let heard = hear_passage(sound, &wanted, &mut Vec::new())?;
            Ok((playing, heard))
        };
        let (playing, mut played) = open(&of.take)?;
        let mut straight = of.straight.as_deref().map(open).transpose()?.map(|before| before.1);
        let checked = coach::played::check(&of.passage, &mut played, straight.as_mut(), &tuning);
        Ok(passage_page(&of.passage, &checked, &playing))
    }

    fn weeks(&self, wanted: &WantedTakes) -> Result<Page, Fault> {
        let shelf = Shelf::open(&folder(self.journal)?)?;
        shelf.refresh()?;
        let filter = wanted.filter();
        let ready = filter.ready();
        let entries: Vec<Arc<Entry>> = shelf
            .entries()
            .iter()
            .filter(|entry| wanted.wants_day(entry) && ready.wants(entry))
            .cloned()
            .collect();
        if entries.is_empty() {
            let unread = match shelf.unread().len() {
                0 => String::new(),
                count => format!("; {}", unread_said(count)),
            };
            return Err(Fault::Failed(format!(
                "no take is wanted by that; `evenwave journal list` shows what there is{unread}"
            )));
        }
        let asked = [
            ("player", filter.player.clone()),
            ("instrument", filter.instrument.clone()),
            ("drill", filter.drill.clone()),
            ("passage", filter.passage.clone()),
            ("finger", filter.finger.map(|finger| finger.to_string())),
            ("words", wanted.text.clone()),
        ];
        let about =
            asked.into_iter().filter_map(|(name, value)| Some((name.to_owned(), value?))).collect();
        let unread = shelf.unread().len();
        Ok(span_page(&entries, &filter, about, unread))
    }
}

impl Page {
    /// Writes the page to a file, which is there whole or not at all.
    pub fn write(&self, path: &Path) -> Result<(), Fault> {
        let written = Disk::default().write_whole(path, self.written().as_bytes());
        written.map_err(|error| unwritten(&error, path))
    }

    /// Writes the page into a folder, which is made if it is not there, under this name or, where there is such a
    /// file, under that with a number. Nothing is written over. Says where it is.
    pub fn write_beside(&self, folder: &Path, name: &str) -> Result<PathBuf, Fault> {
        let disk = Disk::default();
        disk.create_folders(folder).map_err(|error| unwritten(&error, folder))?;
        let page = self.written();
        let mut number = 1;
        loop {
            let path = match number {
                1 => folder.join(format!("{name}.html")),
                _ => folder.join(format!("{name}-{number}.html")),
            };
            if disk::is_there(&path) {
                number += 1;
                continue;
            }
            match disk.write_new(&path, page.as_bytes()) {
                Ok(()) => return Ok(path),
                Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => number += 1,
                Err(error) => return Err(unwritten(&error, &path)),
            }
        }
    }
}

fn unwritten(error: &std::io::Error, path: &Path) -> Fault {
    Fault::Failed(format!(
        "the report cannot be written ({error}); make room or choose another place: {}",
        path.display()
    ))
}
