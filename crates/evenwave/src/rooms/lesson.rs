//! The Lesson behind its picture: what became of a task, and what is told of it.

use coach::{Outcome, TaskTake, Work};
use journal::{Entry, GivenTask, Shelf};

/// What became of a task: the takes of its work that this player has played since.
pub fn outcome(given: &GivenTask, player: &str, shelf: &Shelf) -> Outcome {
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
            counts: entry.counts.clone(),
        })
        .collect();
    Outcome::of(&given.task, &since)
}

fn is_of(entry: &Entry, given: &GivenTask, player: &str) -> bool {
    let work = match &given.task.work {
        Work::Drill(name) => entry.drill.as_ref() == Some(name),
        Work::Passage(passage) => entry.passage.as_ref() == Some(passage),
    };
    work && entry.player == player && entry.began_unix_s >= given.unix_s
}

/// How the greeting begins.
pub const GREETING: &str = "your task: ";

/// What the Stand tells the player of a task when the program starts, and which key plays it; `title` says what a
/// drill is called.
pub fn greeting<'a>(
    given: &'a GivenTask,
    title: impl FnOnce(&'a str) -> &'a str,
    key: Option<&str>,
) -> String {
    let task = &given.task;
    let words =
        if task.words.is_empty() { String::new() } else { format!(" “{}”", task.words) };
    let key = key.map_or_else(String::new, |key| format!(" {key} plays it."));
    format!(
        "{GREETING}{}.{words}{key} Start loose; stop at pain, numbness or tingling; rest often",
        task.said(title)
    )
}

#[cfg(test)]
mod tests {
    use std::fs;

    use coach::Task;
    use journal::{Journal, Turn};

    use super::*;

    fn given(unix_s: i64) -> GivenTask {
        GivenTask { task: Task::of_model(&[], Work::Drill("there-and-back".to_owned())), unix_s }
    }

    #[test]
    fn what_became_of_a_task_is_read_off_the_takes_played_since() {
        let folder =
            std::env::temp_dir().join(format!("evenwave-task-outcome-{}", std::process::id()));
        fs::remove_dir_all(&folder).ok();
        let journal = Journal::open(&folder).expect("a writable folder").journal;
        let play = |player: &str, drill: &str, counts: &[(u32, Option<u32>)]| {
            let context = journal::Context {
                player: player.to_owned(),
                drill: Some(drill.to_owned()),
                ..journal::Context::default()
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
            });
            take.turns(turns.collect()).expect("room on the disk");
            take.finish().expect("room on the disk");
        };
        play("Ada", "there-and-back", &[]);
        play("Ada", "bloom", &[(4, Some(4))]);
        play("Bea", "there-and-back", &[(4, Some(4))]);
        let told = |journal: &Journal| {
            let given = given(0);
            outcome(&given, "Ada", journal).words(&given.task)
        };
        let no_vibrato = "No vibrato was heard in them.";
        assert_eq!(
            told(&journal),
            ["Played in 1 of 5 takes asked for.", no_vibrato],
            "no count is known of it, and none is told"
        );
        play("Ada", "there-and-back", &[(4, Some(4)), (3, Some(4)), (4, None)]);
        let counted = [
            "Played in 2 of 5 takes asked for.",
            "The count was made in 1 of 2 turns.",
            no_vibrato,
        ];
        assert_eq!(told(&journal), counted);
        // Another start: what is told comes from the disk.
        drop(journal);
        let journal = Journal::open(&folder).expect("closed before").journal;
        assert_eq!(told(&journal), counted);
        let late = outcome(&given(i64::MAX), "Ada", &journal);
        assert_eq!(late.takes, 0, "before the task was given");
        // A passage is told by the takes that are of it.
        let passage = |name: &str| GivenTask {
            task: Task::of_model(&[], Work::Passage(name.to_owned())),
            unix_s: 0,
        };
        let context = journal::Context {
            player: "Ada".to_owned(),
            passage: Some("bars 12 to 20".to_owned()),
            ..journal::Context::default()
        };
        let mut take = journal.begin(&context, 48_000).expect("a writable folder");
        take.sound(&[0.0; 4_800]).expect("room on the disk");
        take.finish().expect("room on the disk");
        assert_eq!(outcome(&passage("bars 12 to 20"), "Ada", &journal).takes, 1);
        assert_eq!(outcome(&passage("the coda"), "Ada", &journal).takes, 0);
        drop(journal);
        fs::remove_dir_all(&folder).ok();
    }

    #[test]
    fn the_greeting_tells_the_key_that_plays_the_task() {
        let given = given(0);
        let told = greeting(&given, |_| "There and back", Some("G"));
        assert!(
            told.starts_with("your task: drill “There and back”, 5 times. G plays it. Start loose"),
            "{told}"
        );
        assert!(!greeting(&given, |name| name, None).contains("plays it"));
    }
}
