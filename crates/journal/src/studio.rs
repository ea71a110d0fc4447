//! The studio sheet: of each student a line.

use std::collections::BTreeSet;
use std::sync::Arc;

use coach::{Outcome, beyond_doubt};
use vibrato::{Measure, Quantity};

use crate::error::JournalError;
use crate::index_entry::Entry;
use crate::reader::Shelf;
use crate::take_means::OfNotes;
use crate::tasks::GivenTask;
use crate::trend::{Day, day_of, monday_of};

/// What is looked at for a change.
const CHANGING: [Quantity; 4] =
    [Quantity::Rate, Quantity::Width, Quantity::RateSpread, Quantity::WidthSpread];

/// What a teacher wants to know of a student before the next lesson.
#[derive(Clone, Debug, PartialEq)]
pub struct Student {
    /// The name; empty for takes without one.
    pub player: String,
    /// The last day on which something was played; `None` where nothing ever was.
    pub last: Option<Day>,
    /// Minutes of takes since Monday.
    pub minutes: f64,
    /// The task, and what became of it.
    pub task: Option<(GivenTask, Outcome)>,
    /// What is beyond doubt another thing in the last week of practice than in the one before: by how much it grew,
    /// in free playing. `None` where there are no two such weeks.
    pub changes: Option<Vec<(Quantity, Measure<f64>)>>,
}

impl Student {
    /// The task in words with what became of it; `title` says what a drill is called.
    pub fn task_in_words<'a>(&'a self, title: impl FnOnce(&'a str) -> &'a str) -> String {
        self.task.as_ref().map_or_else(
            || "no task".to_owned(),
            |(given, outcome)| {
                let task = &given.task;
                format!("{}: played {} of {} times", task.wording(title), outcome.takes, task.times)
            },
        )
    }

    /// What changed, in words: "width 4 ±1 cents more".
    pub fn changes_in_words(&self) -> String {
        match self.changes.as_deref() {
            None => "too little yet to compare two weeks".to_owned(),
            Some([]) => "no clear change".to_owned(),
            Some(changes) => {
                let said = changes.iter().map(|(quantity, by)| {
                    let way = if by.value > 0.0 { "more" } else { "less" };
                    format!("{} {} {way}", quantity.name(), quantity.amount(*by))
                });
                said.collect::<Vec<_>>().join(", ")
            }
        }
    }
}

impl Shelf {
    /// The sheet on this day: whoever has a take that is no model, or is named here, by name.
    pub fn studio(&self, named: &[String], today: Day) -> Result<Vec<Student>, JournalError> {
        let entries = self.entries();
        let tasks = self.tasks();
        let played = entries.iter().filter(|entry| !entry.is_model());
        let played = played.map(|entry| entry.player.clone());
        let players: BTreeSet<String> = played.chain(named.iter().cloned()).collect();
        let students = players.into_iter().map(|player| {
            let own: Vec<&Entry> = entries
                .iter()
                .map(Arc::as_ref)
                .filter(|entry| entry.player == player && !entry.is_model())
                .collect();
            let task = tasks.task(&player)?.map(|given| {
                let outcome = given.outcome(&player, self);
                (given, outcome)
            });
            Ok(Student {
                last: own.iter().map(|entry| day_of(entry)).max(),
                minutes: minutes_since(&own, monday_of(today)),
                changes: changes(&own),
                task,
                player,
            })
        });
        students.collect()
    }
}

/// Minutes of these takes from this day on.
fn minutes_since(takes: &[&Entry], from: Day) -> f64 {
    let since = takes.iter().filter(|entry| day_of(entry) >= from);
    since.map(|entry| f64::from(entry.length_s.max(0.0)) / 60.0).sum()
}

/// What changed from the last week but one with free playing to the last.
fn changes(takes: &[&Entry]) -> Option<Vec<(Quantity, Measure<f64>)>> {
    let free = || takes.iter().filter(|entry| entry.drill.is_none());
    let swings = |entry: &&&Entry| entry.mean(Quantity::Rate).is_some();
    let weeks: BTreeSet<Day> =
        free().filter(swings).map(|entry| monday_of(day_of(entry))).collect();
    let mut weeks = weeks.into_iter().rev();
    let (last, before) = (weeks.next()?, weeks.next()?);
    let mean = |monday: Day, quantity: Quantity| {
        let week = free().filter(|entry| monday_of(day_of(entry)) == monday);
        Measure::mean(week.filter_map(|entry| entry.mean(quantity)).map(OfNotes::measure))
    };
    let grown = CHANGING.into_iter().filter_map(|quantity| {
        let by = mean(last, quantity)?.above(mean(before, quantity)?);
        beyond_doubt(by, CHANGING.len()).then_some((quantity, by))
    });
    Some(grown.collect())
}

#[cfg(test)]
mod tests {
    use tuning::{Hz, Secs};
    use vibrato::{Measures, Note};

    use super::*;
    use crate::context::{Context, Fingering, LessonPart};
    use crate::file_format::{NoteMeasures, TakeFile};
    use crate::take_id::TakeId;
    use crate::vibrato_measures::VibratoMeasures;

    /// A take on this day with notes of these rates.
    fn take(day: &str, context: &Context, rates: &[f64]) -> Entry {
        let mut file = TakeFile::begun(context, format!("{day}T17:00:00+00:00[UTC]"), 48_000);
        file.length_s = 120.0;
        file.notes = rates
            .iter()
            .enumerate()
            .map(|(n, &rate)| {
                let start = 2.0 * n as f64;
                let plain = Note::plain(57, Hz(220.0), Secs(start), Secs(start + 1.5));
                let by = Fingering { finger: Some(2), string: None };
                NoteMeasures {
                    straight: false,
                    vibrato: Some(VibratoMeasures {
                        measures: Measures::default()
                            .with(Quantity::Rate, rate, Some(0.05))
                            .with(Quantity::Width, 30.0, Some(1.0))
                            .with(Quantity::Centre, 0.0, Some(1.0))
                            .with(Quantity::Onset, 0.2, Some(0.02)),
                        contour: Vec::new(),
                        oscillations: Vec::new(),
                    }),
                    ..NoteMeasures::of(&plain, &by)
                }
            })
            .collect();
        Entry::of_file(&TakeId::new(day, "17-00-00").expect("a name"), &file)
    }

    #[test]
    fn a_change_is_told_beyond_doubt_alone_and_of_free_playing_alone() {
        let plain = Context::default();
        let drill = Context { drill: Some("walk".to_owned()), ..Context::default() };
        let before = take("2026-11-17", &plain, &[5.0, 5.02, 4.98]);
        let changes = |last: &Entry| changes(&[&before, last]);
        let faster = changes(&take("2026-11-24", &plain, &[5.6, 5.62, 5.58])).expect("two weeks");
        assert_eq!(faster.len(), 1, "{faster:?}");
        assert_eq!(faster[0].0, Quantity::Rate);
        assert!((faster[0].1.value - 0.6).abs() < 1e-9);
        let alike = take("2026-11-24", &plain, &[5.03, 5.05, 4.97]);
        assert_eq!(changes(&alike), Some(vec![]));
        assert_eq!(changes(&take("2026-11-24", &drill, &[6.0, 6.0])), None, "drills ask for rates");
        assert_eq!(changes(&take("2026-11-18", &plain, &[5.6])), None, "the same week");
    }

    #[test]
    fn minutes_are_those_since_monday() {
        let plain = Context { lesson: Some(LessonPart::Model), ..Context::default() };
        let takes = ["2026-11-22", "2026-11-23", "2026-11-25"].map(|day| take(day, &plain, &[5.0]));
        let takes: Vec<&Entry> = takes.iter().collect();
        // 23 November 2026 was a Monday.
        assert_eq!(minutes_since(&takes, monday_of(day_of(takes[2]))), 4.0);
        assert!(takes[0].is_model());
    }
}
