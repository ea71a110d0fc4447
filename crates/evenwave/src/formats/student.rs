//! A line of the studio sheet, as JSON writes it (`evenwave.student/1`), as CSV and as a line to read.

use std::io::Write;

use jiff::civil::{Date, date};
use journal::{Day, Student};
use serde::Serialize;

use super::cell;
use super::record::known;
use crate::words::on_one_line;

/// Name and version of the shape.
const STUDENT_SCHEMA: &str = "evenwave.student/1";

/// A student; what is unknown is `null`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct StudentRecord {
    schema: &'static str,
    player: String,
    /// The last day of practice, as in 2026-11-25.
    last: Option<String>,
    /// Minutes of takes since Monday.
    minutes_this_week: Option<f64>,
    /// The task and how often it was played.
    task: Option<String>,
    /// What changed from the week of practice before.
    changed: String,
}

impl StudentRecord {
    /// The record of a student.
    pub(crate) fn new(student: &Student) -> Self {
        Self {
            schema: STUDENT_SCHEMA,
            player: student.player.clone(),
            last: student.last.and_then(day_name),
            minutes_this_week: known(student.minutes),
            task: student.task.is_some().then(|| student.task_in_words(|name| name)),
            changed: student.changes_in_words(),
        }
    }

    /// Its cells; what is unknown is empty.
    fn cells(&self) -> [String; 5] {
        let minutes = self.minutes_this_week.map(|minutes| format!("{minutes:.1}"));
        [
            self.player.clone(),
            self.last.clone().unwrap_or_default(),
            minutes.unwrap_or_default(),
            self.task.clone().unwrap_or_default(),
            self.changed.clone(),
        ]
    }
}

/// The first day that is counted from.
const EPOCH: Date = date(1970, 1, 1);

/// A day as the journal counts it.
pub(crate) fn days_of(day: Date) -> Day {
    EPOCH.until(day).map_or(0, |span| span.get_days())
}

/// A day as it is written.
fn day_name(day: Day) -> Option<String> {
    let date = EPOCH.checked_add(jiff::Span::new().try_days(i64::from(day)).ok()?).ok()?;
    Some(date.to_string())
}

/// Rows of CSV with their heads.
pub(crate) fn student_rows(out: impl Write, records: &[StudentRecord]) -> std::io::Result<()> {
    let mut rows = csv::Writer::from_writer(out);
    rows.write_record(["player", "last", "minutes_this_week", "task", "changed"])?;
    for record in records {
        cell::write_row(&mut rows, record.cells().into_iter())?;
    }
    rows.flush()
}

/// Lines to read, with their head.
pub(crate) fn student_lines(records: &[StudentRecord]) -> Vec<String> {
    let line = |cells: [&str; 5]| {
        let [player, last, minutes, task, changed] = cells.map(on_one_line);
        format!("{player:<16} {last:<13} {minutes:>7}  {changed:<36} {task}").trim_end().to_owned()
    };
    let head = line(["student", "last practice", "min/wk", "task", "what changed"]);
    let rows = records.iter().map(|record| {
        let [player, last, minutes, task, changed] = record.cells();
        let player = if player.is_empty() { "no name".to_owned() } else { player };
        let last = if last.is_empty() { "none yet".to_owned() } else { last };
        line([&player, &last, &minutes, &task, &changed])
    });
    std::iter::once(head).chain(rows).collect()
}
