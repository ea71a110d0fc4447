//! The Lesson behind its picture: tasks on disk, and what became of them.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use coach::{Outcome, PER_BEAT, TIMES, Task, TaskTake, Work};
use journal::{Entry, Shelf};
use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz};

/// The file in the folder of the takes.
const FILE: &str = "tasks.ron";
/// The version that is read and written.
const VERSION: u32 = 1;
/// What stands at the head of the file.
const HEAD: &str = "\
// The tasks that lessons of evenwave ended with, one for each player, written by the program. `given_unix_s`
// is when, in seconds since 1970 began in UTC.
";

/// The tasks as they are written, version 1.
#[derive(Debug, Deserialize, PartialEq, Serialize)]
#[serde(deny_unknown_fields)]
struct Written {
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
pub struct Given {
    /// What is to be done.
    pub task: Task,
    /// When it was given: seconds since 1970 began in UTC.
    pub unix_s: i64,
}

/// The tasks of a journal's players.
#[derive(Clone, Debug)]
pub struct Tasks {
    path: PathBuf,
}

impl Tasks {
    /// The tasks of the journal in `folder`.
    pub fn of(folder: &Path) -> Self {
        Self {
            path: folder.join(FILE),
        }
    }

    /// The task of this player; `Err` says in words why the file cannot be read.
    pub fn task(&self, player: &str) -> Result<Option<Given>, String> {
        let Some(task) = self.read()?.remove(player) else {
            return Ok(None);
        };
        let told = |why: &str| {
            format!(
                "the task of \"{player}\" makes no sense ({why}): {}",
                self.path.display()
            )
        };
        task.given().map(Some).map_err(|why| told(&why))
    }

    /// Keeps a task for this player, in place of the one before.
    pub fn keep(&self, player: &str, given: &Given) -> Result<(), String> {
        let mut tasks = self.read()?;
        tasks.insert(player.to_owned(), WrittenTask::of(given));
        self.write(tasks)
    }

    /// The task of this player is done with.
    pub fn forget(&self, player: &str) -> Result<(), String> {
        let mut tasks = self.read()?;
        if tasks.remove(player).is_some() {
            self.write(tasks)?;
        }
        Ok(())
    }

    fn read(&self) -> Result<BTreeMap<String, WrittenTask>, String> {
        let told = |why: String| {
            format!(
                "the tasks cannot be read ({why}); mend or remove the file: {}",
                self.path.display()
            )
        };
        let text = match fs::read_to_string(&self.path) {
            Ok(text) => text,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(BTreeMap::new()),
            Err(error) => return Err(told(error.to_string())),
        };
        let written: Written = ron::from_str(&text).map_err(|error| {
            let place = error.span.end;
            told(format!(
                "line {}, column {}: {}",
                place.line, place.col, error.code
            ))
        })?;
        if written.version != VERSION {
            return Err(told(format!(
                "they are of version {}, this program reads version {VERSION}",
                written.version
            )));
        }
        Ok(written.tasks)
    }

    /// Whole or not at all.
    fn write(&self, tasks: BTreeMap<String, WrittenTask>) -> Result<(), String> {
        let told =
            |why: String| format!("the task cannot be kept ({why}): {}", self.path.display());
        let written = Written {
            version: VERSION,
            tasks,
        };
        let pretty = ron::ser::PrettyConfig::default().depth_limit(3);
        let body = ron::ser::to_string_pretty(&written, pretty)
            .map_err(|error| told(error.to_string()))?;
        let folder = self.path.parent().unwrap_or(Path::new("."));
        let fresh = self.path.with_extension("ron.new");
        fs::create_dir_all(folder)
            .and_then(|()| fs::write(&fresh, format!("{HEAD}{body}\n")))
            .and_then(|()| fs::File::open(&fresh)?.sync_all())
            .and_then(|()| fs::rename(&fresh, &self.path))
            .map_err(|error| told(error.to_string()))
    }
}

impl WrittenTask {
    fn of(given: &Given) -> Self {
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
    fn given(&self) -> Result<Given, String> {
        let band = |name: &str, band: Option<(f64, f64)>| match band {
            Some((low, high)) if !(0.0 <= low && low <= high && high.is_finite()) => {
                Err(format!("{name}: from {low} to {high} is no band"))
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
        let (least, most) = TIMES;
        if !(least..=most).contains(&self.times) {
            return Err(format!("times: {least} to {most}, not {}", self.times));
        }
        let rate = band("rate_hz", self.rate_hz)?;
        let width = band("width_cents", self.width_cents)?;
        Ok(Given {
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

/// What became of a task: the takes of its work that this player has played since.
pub fn outcome(given: &Given, player: &str, shelf: &Shelf) -> Outcome {
    let entries = shelf.entries();
    let since: Vec<TaskTake> = entries
        .iter()
        .filter(|entry| is_of(entry, given, player))
        .map(|entry| TaskTake {
            motions: entry
                .notes
                .iter()
                .filter_map(|note| note.vibrato)
                .map(|vibrato| (f64::from(vibrato.rate_hz), f64::from(vibrato.width_cents)))
                .collect(),
            // What a turn was to make and made is not in the index.
            counts: None,
        })
        .collect();
    Outcome::of(&given.task, &since)
}

fn is_of(entry: &Entry, given: &Given, player: &str) -> bool {
    let work = match &given.task.work {
        Work::Drill(name) => entry.drill.as_ref() == Some(name),
        Work::Passage(passage) => entry.passage.as_ref() == Some(passage),
    };
    work && entry.player == player && entry.began_unix_s >= given.unix_s
}

/// What the Stand tells the player of a task when the program starts.
pub fn greeting(given: &Given) -> String {
    let task = &given.task;
    let words = if task.words.is_empty() {
        String::new()
    } else {
        format!(" “{}”", task.words)
    };
    format!(
        "your task: {}.{words} Start loose; stop at pain, numbness or tingling; rest often",
        task.said()
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn given() -> Given {
        Given {
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
        assert_eq!(tasks.task("Ada"), Ok(None));
        let passage = Given {
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
        assert_eq!(tasks.task("Ada"), Ok(Some(given())));
        assert_eq!(tasks.task(""), Ok(Some(passage)));
        tasks.forget("Ada").expect("a writable folder");
        assert_eq!(tasks.task("Ada"), Ok(None));
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
            (
                text.replace("pace_bpm: Some(60.0)", "pace_bpm: Some(9.0)"),
                "pace_bpm",
            ),
            (text[..text.len() / 2].to_owned(), "line"),
        ] {
            assert_ne!(spoilt, text, "{words}");
            fs::write(&tasks.path, &spoilt).expect("a writable folder");
            let told = tasks.task("Ada").expect_err("it cannot be");
            assert!(told.contains(words) && told.contains("tasks.ron"), "{told}");
        }
        let whole = fs::read_to_string(&tasks.path).expect("there");
        assert!(
            tasks.keep("Bea", &given()).is_err(),
            "what is there would be lost"
        );
        assert_eq!(fs::read_to_string(&tasks.path).expect("there"), whole);
    }

    #[test]
    fn what_became_of_a_task_is_read_off_the_takes_played_since() {
        let tasks = tasks("tasks-outcome");
        let folder = tasks.path.parent().expect("a folder").to_owned();
        let journal = journal::Journal::open(&folder)
            .expect("a writable folder")
            .journal;
        let play = |player: &str, drill: &str| {
            let context = journal::Context {
                player: player.to_owned(),
                drill: Some(drill.to_owned()),
                ..journal::Context::default()
            };
            let mut take = journal.begin(&context, 48_000).expect("a writable folder");
            take.sound(&[0.0; 4_800]).expect("room on the disk");
            take.finish().expect("room on the disk");
        };
        for (player, drill) in [
            ("Ada", "there-and-back"),
            ("Ada", "bloom"),
            ("Bea", "there-and-back"),
        ] {
            play(player, drill);
        }
        let mut early = given();
        early.unix_s = 0;
        assert_eq!(outcome(&early, "Ada", &journal).takes, 1);
        let mut late = given();
        late.unix_s = i64::MAX;
        assert_eq!(
            outcome(&late, "Ada", &journal).takes,
            0,
            "before the task was given"
        );
    }
}
