//! The tasks that lessons ended with, one for each player: a file in the folder of the journal, which goes where its
//! player's takes go.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use coach::{OSCILLATIONS, Outcome, PER_BEAT, TIMES, Task, TaskTake, Work};
use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz};
use vibrato::Quantity;

use crate::error::JournalError;
use crate::index_entry::Entry;
use crate::reader::Shelf;
use crate::take_file::{Versioned, read, unwritable};
use disk::Disk;

/// The file in the folder of the journal.
pub(crate) const TASKS: &str = "tasks.ron";
/// What stands at the head of the file.
const HEAD: &str = "\
// The tasks that lessons of evenwave ended with, one for each player, written by the program. `given_unix_s`
// is when, in seconds since 1970 began in UTC.
";

/// How the greeting of a task begins.
pub const GREETING: &str = "your task: ";

/// No band of a task reaches further than a note can be measured to, with room: rates in Hz, widths in cents.
const MOST_HZ: f64 = 20.0;
const MOST_CENTS: f64 = 600.0;

/// The tasks as they are written, version 1.
#[derive(Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct WrittenTasks {
    version: u32,
    /// By player; the player without a name has the empty one.
    tasks: BTreeMap<String, WrittenTask>,
}

/// One task.
#[derive(Clone, Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct WrittenTask {
    given_unix_s: i64,
    drill: Option<String>,
    passage: Option<String>,
    pace_bpm: Option<f64>,
    oscillations_per_beat: Option<f64>,
    count: Option<u32>,
    times: u32,
    rate_hz: Option<(f64, f64)>,
    width_cents: Option<(f64, f64)>,
    words: String,
}

/// A task that a player has.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenTask {
    /// What is to be done.
    pub task: Task,
    /// When it was given: seconds since 1970 began in UTC.
    pub unix_s: i64,
}

impl GivenTask {
    /// What became of it: the takes of its work that this player has played since.
    pub fn outcome(&self, player: &str, shelf: &Shelf) -> Outcome {
        let entries = shelf.entries();
        let since: Vec<TaskTake> = entries
            .iter()
            .filter(|entry| self.is_work_of(entry, player))
            .map(|entry| TaskTake {
                motions: entry
                    .notes
                    .iter()
                    .filter_map(|note| {
                        Some((note.get(Quantity::Rate)?, note.get(Quantity::Width)?))
                    })
                    .collect(),
                counts: entry.counts.clone(),
            })
            .collect();
        Outcome::of(&self.task, &since)
    }

    /// The take was played by this player for the task, after it was given.
    fn is_work_of(&self, entry: &Entry, player: &str) -> bool {
        let work = match &self.task.work {
            Work::Drill(name) => entry.drill.as_ref() == Some(name),
            Work::Passage(passage) => entry.passage.as_ref() == Some(passage),
        };
        work && entry.player == player && entry.began_unix_s >= self.unix_s
    }

    /// What the Stand tells the player of it when the program starts, and which key plays it; `title` says what a drill is
    /// called.
    pub fn greeting<'a>(
        &'a self,
        title: impl FnOnce(&'a str) -> &'a str,
        key: Option<&str>,
    ) -> String {
        let task = &self.task;
        let words =
            if task.words.is_empty() { String::new() } else { format!(" “{}”", task.words) };
        let key = key.map_or_else(String::new, |key| format!(" {key} plays it."));
        format!(
            "{GREETING}{}.{words}{key} Start loose; stop at pain, numbness or tingling; rest often",
            task.wording(title)
        )
    }
}

/// The tasks of a journal's players.
#[derive(Clone)]
pub struct Tasks {
    path: PathBuf,
    disk: Disk,
}

/// What became of a task that was handed over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Received {
    /// It is this player's task now.
    For(String),
    /// This player has another one, which stays.
    Another(String),
}

/// What became of the tasks of another journal.
#[derive(Default)]
pub(crate) struct TakenOver {
    /// Whose came in.
    pub added: Vec<String>,
    /// Who has another one here, which stays.
    pub differing: Vec<String>,
}

impl Shelf {
    /// The tasks of its players.
    pub fn tasks(&self) -> Tasks {
        Tasks { path: self.folder().join(TASKS), disk: self.0.disk.clone() }
    }
}

impl Tasks {
    /// The file they stand in.
    pub(crate) fn path(&self) -> &Path {
        &self.path
    }

    /// The tasks of the journal in `folder`, which need not be there yet.
    pub fn of(folder: &Path) -> Self {
        Self { path: folder.join(TASKS), disk: Disk::default().private() }
    }

    /// The task of this player.
    pub fn task(&self, player: &str) -> Result<Option<GivenTask>, JournalError> {
        let Some(task) = self.read()?.tasks.remove(player) else {
            return Ok(None);
        };
        let given = task.given().map_err(|why| nonsense(player, &why, &self.path))?;
        Ok(Some(given))
    }

    /// Keeps a task for this player, in place of the one before.
    pub fn keep(&self, player: &str, given: &GivenTask) -> Result<(), JournalError> {
        let mut written = self.read()?;
        let task = WrittenTask::of(given);
        written.tasks.insert(player.to_owned(), task);
        self.write(&written)
    }

    /// The task of this player is done with.
    pub fn forget(&self, player: &str) -> Result<(), JournalError> {
        let mut written = self.read()?;
        if written.tasks.remove(player).is_some() {
            self.write(&written)?;
        }
        Ok(())
    }

    /// Writes the task of this player into a file of its own, which is not there yet; `false` where they have none.
    pub fn hand_over(&self, player: &str, into: &Path) -> Result<bool, JournalError> {
        let Some(text) = self.text_of(Some(player))? else {
            return Ok(false);
        };
        let done = self.disk.write_new(into, text.as_bytes());
        done.map(|()| true).map_err(|error| JournalError::of(&error, into))
    }

    /// Takes over the task in such a file, for this player or for the one it was given to, who is returned. Another task
    /// that is here stays, and is told, unless `replace` says that it may go.
    pub fn receive(
        &self,
        from: &Path,
        player: Option<&str>,
        replace: bool,
    ) -> Result<Received, JournalError> {
        let mut theirs = read::<WrittenTasks>(from)?.checked(from)?;
        let (Some((given_to, task)), None) =
            (theirs.tasks.pop_first(), theirs.tasks.first_key_value())
        else {
            return Err(JournalError::Unwritten {
                reason: "a task that is handed over stands alone in its file".to_owned(),
                line: 1,
                column: 1,
                path: from.to_owned(),
            });
        };
        let player = player.unwrap_or(&given_to).to_owned();
        theirs.tasks.insert(player.clone(), task);
        let taken = self.take_over(&theirs, replace)?;
        Ok(if taken.differing.is_empty() {
            Received::For(player)
        } else {
            Received::Another(player)
        })
    }

    /// The text of a file that holds the task of a player, or those of all; `None` where there is none.
    pub(crate) fn text_of(&self, player: Option<&str>) -> Result<Option<String>, JournalError> {
        let mut written = self.read()?;
        let wanted = |name: &String| player.is_none_or(|player| name == player);
        written.tasks.retain(|name, _| wanted(name));
        if written.tasks.is_empty() {
            return Ok(None);
        }
        self.text(&written).map(Some)
    }

    /// Takes over the tasks in a file of another journal; of those that differ from the ones here only where
    /// `replace` says so.
    pub(crate) fn take_over(
        &self,
        theirs: &WrittenTasks,
        replace: bool,
    ) -> Result<TakenOver, JournalError> {
        let mut written = self.read()?;
        let mut taken = TakenOver::default();
        for (player, task) in &theirs.tasks {
            match written.tasks.get(player) {
                Some(own) if own == task => {}
                Some(_) if !replace => taken.differing.push(player.clone()),
                _ => {
                    written.tasks.insert(player.clone(), task.clone());
                    taken.added.push(player.clone());
                }
            }
        }
        if !taken.added.is_empty() {
            self.write(&written)?;
        }
        Ok(taken)
    }

    /// Players of another journal who have another task here.
    pub(crate) fn differing(&self, theirs: &WrittenTasks) -> Result<Vec<String>, JournalError> {
        let own = self.read()?;
        let differs =
            |(player, task): &(&String, _)| own.tasks.get(*player).is_some_and(|own| own != *task);
        let players = theirs.tasks.iter().filter(differs);
        Ok(players.map(|(player, _)| player.clone()).collect())
    }

    pub(crate) fn read(&self) -> Result<WrittenTasks, JournalError> {
        match read(&self.path) {
            Err(JournalError::Missing { .. }) => Ok(WrittenTasks::default()),
            read => read,
        }
    }

    fn text(&self, written: &WrittenTasks) -> Result<String, JournalError> {
        let pretty = ron::ser::PrettyConfig::default().depth_limit(3);
        let body = ron::ser::to_string_pretty(written, pretty)
            .map_err(|error| unwritable(&error, &self.path))?;
        Ok(format!("{HEAD}{body}\n"))
    }

    fn write(&self, written: &WrittenTasks) -> Result<(), JournalError> {
        let text = self.text(written)?;
        let folder = self.path.parent().unwrap_or(Path::new("."));
        self.disk
            .create_folders(folder)
            .and_then(|()| self.disk.write_whole(&self.path, text.as_bytes()))
            .map_err(|error| JournalError::of(&error, &self.path))
    }
}

impl WrittenTasks {
    /// Takes up those of another file; the fault is a player who has another one in each.
    pub(crate) fn join(&mut self, other: Self) -> Result<(), String> {
        for (player, task) in other.tasks {
            if self.tasks.get(&player).is_some_and(|own| *own != task) {
                return Err(player);
            }
            self.tasks.insert(player, task);
        }
        Ok(())
    }

    /// The same, if all of them make sense; `path` is where they stand.
    pub(crate) fn checked(self, path: &Path) -> Result<Self, JournalError> {
        for (player, task) in &self.tasks {
            task.given().map_err(|why| nonsense(player, &why, path))?;
        }
        Ok(self)
    }
}

fn nonsense(player: &str, why: &str, path: &Path) -> JournalError {
    JournalError::Unwritten {
        reason: format!("the task of {player:?} makes no sense ({why})"),
        line: 1,
        column: 1,
        path: path.to_owned(),
    }
}

impl Versioned for WrittenTasks {
    const VERSION: u32 = 1;

    fn renewed(self) -> Self {
        self
    }

    fn version(&self) -> u32 {
        self.version
    }

    fn nonsense(&self) -> Option<String> {
        // What one player's task cannot be keeps no other from theirs.
        None
    }
}

impl Default for WrittenTasks {
    fn default() -> Self {
        Self { version: Self::VERSION, tasks: BTreeMap::new() }
    }
}

impl WrittenTask {
    fn of(given: &GivenTask) -> Self {
        let task = &given.task;
        let (drill, passage) = match &task.work {
            Work::Drill(name) => (Some(name.clone()), None),
            Work::Passage(passage) => (None, Some(passage.clone())),
        };
        Self {
            given_unix_s: given.unix_s,
            drill,
            passage,
            pace_bpm: task.pace.map(|(bpm, _)| bpm),
            oscillations_per_beat: task.pace.map(|(_, per_beat)| per_beat),
            count: task.count,
            times: task.times,
            rate_hz: task.rate.map(|(low, high)| (low.0, high.0)),
            width_cents: task.width.map(|(low, high)| (low.0, high.0)),
            words: task.words.clone(),
        }
    }

    /// The live shape; a hand may have written what cannot be.
    fn given(&self) -> Result<GivenTask, String> {
        let band = |name: &str, band: Option<(f64, f64)>, most: f64| match band {
            Some((low, high)) if !(0.0 <= low && low <= high && high <= most) => {
                Err(format!("{name}: from {low:e} to {high:e} is no band within 0 to {most}"))
            }
            band => Ok(band),
        };
        let work = match (&self.drill, &self.passage) {
            (Some(drill), None) => Work::Drill(drill.clone()),
            (None, Some(passage)) => Work::Passage(passage.clone()),
            _ => return Err("name a drill or a passage, not both".to_owned()),
        };
        let (slowest, fastest) = coach::BPM;
        let pace = match (self.pace_bpm, self.oscillations_per_beat) {
            (None, None) => None,
            (Some(bpm), Some(per_beat))
                if (slowest..=fastest).contains(&bpm) && PER_BEAT.contains(&per_beat) =>
            {
                Some((bpm, per_beat))
            }
            _ => {
                return Err(format!(
                    "pace_bpm: {slowest} to {fastest} beats a minute, with oscillations_per_beat one of {PER_BEAT:?}"
                ));
            }
        };
        let (least, most) = OSCILLATIONS;
        if let Some(count) = self.count.filter(|count| !(least..=most).contains(count)) {
            return Err(format!("count: {least} to {most}, not {count}"));
        }
        let (least, most) = TIMES;
        if !(least..=most).contains(&self.times) {
            return Err(format!("times: {least} to {most}, not {}", self.times));
        }
        let rate = band("rate_hz", self.rate_hz, MOST_HZ)?;
        let width = band("width_cents", self.width_cents, MOST_CENTS)?;
        Ok(GivenTask {
            task: Task {
                work,
                pace,
                count: self.count,
                times: self.times,
                rate: rate.map(|(low, high)| (Hz(low), Hz(high))),
                width: width.map(|(low, high)| (Cents(low), Cents(high))),
                words: self.words.clone(),
            },
            unix_s: self.given_unix_s,
        })
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::*;
    use crate::{Context, Journal, Turn};

    fn given() -> GivenTask {
        GivenTask {
            task: Task {
                work: Work::Drill("there-and-back".to_owned()),
                pace: Some((60.0, 4.0)),
                count: Some(4),
                times: 5,
                rate: Some((Hz(4.7), Hz(5.7))),
                width: Some((Cents(30.0), Cents(45.0))),
                words: "loose".to_owned(),
            },
            unix_s: 1_795_000_000,
        }
    }

    fn tasks(test: &str) -> Tasks {
        let folder = std::env::temp_dir().join(format!("evenwave-{test}-{}", std::process::id()));
        if folder.exists() {
            fs::remove_dir_all(&folder).expect("left from another run");
        }
        Tasks::of(&folder)
    }

    #[test]
    fn each_player_has_a_task_and_it_comes_back_as_it_was() {
        let tasks = tasks("tasks-players");
        assert_eq!(tasks.task("Ada").expect("read"), None);
        let passage = GivenTask {
            task: Task {
                work: Work::Passage("bars 12 to 20".to_owned()),
                pace: None,
                rate: None,
                ..given().task
            },
            ..given()
        };
        tasks.keep("Ada", &given()).expect("a writable folder");
        tasks.keep("", &passage).expect("a writable folder");
        assert_eq!(tasks.task("Ada").expect("read"), Some(given()));
        assert_eq!(tasks.task("").expect("read"), Some(passage));
        tasks.forget("Ada").expect("a writable folder");
        assert_eq!(tasks.task("Ada").expect("read"), None);
        assert!(tasks.task("").is_ok_and(|task| task.is_some()));
    }

    #[test]
    fn a_file_that_cannot_be_is_told_and_never_written_over() {
        let tasks = tasks("tasks-damaged");
        tasks.keep("Ada", &given()).expect("a writable folder");
        let text = fs::read_to_string(&tasks.path).expect("just written");
        for (spoilt, words) in [
            (text.replace("version: 1", "version: 9"), "version 9"),
            (text.replace("tasks", "tusks"), "line"),
            (text.replace("times: 5", "times: 0"), "times: 1 to 99"),
            (text.replace("(4.7, 5.7)", "(5.7, 4.7)"), "no band"),
            (text.replace("(4.7, 5.7)", "(4.7, 1e308)"), "4.7e0 to 1e308 is no band"),
            (text.replace("count: Some(4)", "count: Some(0)"), "count: 1 to 16"),
            (text.replace("count: Some(4)", "count: Some(4000000000)"), "count: 1 to 16"),
            (text.replace("pace_bpm: Some(60.0)", "pace_bpm: Some(9.0)"), "pace_bpm"),
            (text[..text.len() / 2].to_owned(), "line"),
        ] {
            assert_ne!(spoilt, text, "{words}");
            fs::write(&tasks.path, &spoilt).expect("a writable folder");
            let told = tasks.task("Ada").expect_err("it cannot be").to_string();
            assert!(told.contains(words) && told.contains("tasks.ron"), "{told}");
        }
        let whole = fs::read_to_string(&tasks.path).expect("there");
        assert!(tasks.keep("Bea", &given()).is_err(), "what is there would be lost");
        assert_eq!(fs::read_to_string(&tasks.path).expect("there"), whole);
    }

    fn given_at(unix_s: i64) -> GivenTask {
        GivenTask { task: Task::of_model(&[], Work::Drill("there-and-back".to_owned())), unix_s }
    }

    #[test]
    fn what_became_of_a_task_is_read_off_the_takes_played_since() {
        let folder =
            std::env::temp_dir().join(format!("evenwave-task-outcome-{}", std::process::id()));
        fs::remove_dir_all(&folder).ok();
        let journal = Journal::open(&folder).expect("a writable folder").journal;
        let play = |player: &str, drill: &str, counts: &[(u32, Option<u32>)]| {
            let context = Context {
                player: player.to_owned(),
                drill: Some(drill.to_owned()),
                ..Context::default()
            };
            let mut take = journal.begin(&context, 48_000).expect("a writable folder");
            take.sound(&[0.0; 4_800]).expect("room on the disk");
            let turns = counts.iter().map(|&(made, asked)| Turn {
                start_s: 0.0,
                end_s: 0.1,
                finger: 2,
                made,
                asked,
                shuffle: None,
                secure: None,
            });
            take.turns(turns.collect()).expect("room on the disk");
            take.finish().expect("room on the disk");
        };
        play("Ada", "there-and-back", &[]);
        play("Ada", "bloom", &[(4, Some(4))]);
        play("Bea", "there-and-back", &[(4, Some(4))]);
        let told = |journal: &Journal| {
            let given = given_at(0);
            given.outcome("Ada", journal).words(&given.task)
        };
        let no_vibrato = "No vibrato was heard in them.";
        assert_eq!(
            told(&journal),
            ["Played 1 of the 5 times set.", no_vibrato],
            "no count is known of it, and none is told"
        );
        play("Ada", "there-and-back", &[(4, Some(4)), (3, Some(4)), (4, None)]);
        let counted =
            ["Played 2 of the 5 times set.", "The count was right on 1 of 2 fingers.", no_vibrato];
        assert_eq!(told(&journal), counted);
        // Another start: what is told comes from the disk.
        drop(journal);
        let journal = Journal::open(&folder).expect("closed before").journal;
        assert_eq!(told(&journal), counted);
        let late = given_at(i64::MAX).outcome("Ada", &journal);
        assert_eq!(late.takes, 0, "before the task was given");
        // A passage is told by the takes that are of it.
        let passage = |name: &str| GivenTask {
            task: Task::of_model(&[], Work::Passage(name.to_owned())),
            unix_s: 0,
        };
        let context = Context {
            player: "Ada".to_owned(),
            passage: Some("bars 12 to 20".to_owned()),
            ..Context::default()
        };
        let mut take = journal.begin(&context, 48_000).expect("a writable folder");
        take.sound(&[0.0; 4_800]).expect("room on the disk");
        take.finish().expect("room on the disk");
        assert_eq!(passage("bars 12 to 20").outcome("Ada", &journal).takes, 1);
        assert_eq!(passage("the coda").outcome("Ada", &journal).takes, 0);
        drop(journal);
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn the_greeting_tells_the_key_that_plays_the_task() {
        let given = given_at(0);
        let told = given.greeting(|_| "There and back", Some("G"));
        assert!(
            told.starts_with("your task: drill “There and back”, 5 times. G plays it. Start loose"),
            "{told}"
        );
        assert!(!given.greeting(|name| name, None).contains("plays it"));
    }
}
