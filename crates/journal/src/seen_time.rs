//! How old takes are, though this computer's clock may have jumped.

use std::io;
use std::path::Path;

use crate::disk::{self, Disk};

pub(crate) const DAY_SECS: i64 = 24 * 3_600;

/// Of a time of which nothing is known, this much is counted at most. A pause is no more than that much too short by it; a
/// clock that jumps ahead by years makes nothing older by more.
const COUNTED_PAUSE_SECS: i64 = 7 * DAY_SECS;

/// A clock that goes back by no more than this may have been on a journey.
const SET_BACK_SECS: i64 = 26 * 3_600;

/// The times at which the journal was opened for writing: seconds since 1970 began in UTC, one a line.
const STARTS: &str = ".starts";
/// Starts within so much of each other are one.
const ONE_START_SECS: i64 = 12 * 3_600;
/// So many of them are kept.
const MOST_STARTS: usize = 2_000;

/// The starts of a journal, in the order in which they happened.
pub(crate) fn starts(folder: &Path) -> Vec<i64> {
    let bytes = disk::bytes(&folder.join(STARTS)).unwrap_or_default();
    String::from_utf8_lossy(&bytes).lines().filter_map(|line| line.parse().ok()).collect()
}

/// Adds a start.
pub(crate) fn add_start(folder: &Path, disk: &Disk, now: i64) -> io::Result<()> {
    let mut starts = starts(folder);
    if starts.last().is_some_and(|last| last.abs_diff(now) < ONE_START_SECS as u64) {
        return Ok(());
    }
    starts.push(now);
    let kept = &starts[starts.len().saturating_sub(MOST_STARTS)..];
    let lines: String = kept.iter().map(|start| format!("{start}\n")).collect();
    disk.write_whole(&folder.join(STARTS), lines.as_bytes())
}

/// The times of which something is known: takes, starts and now.
pub(crate) struct SeenTime {
    /// In order; the last is now.
    known: Vec<i64>,
    /// Starts at which the clock had been set back.
    set_back: Vec<i64>,
}

impl SeenTime {
    /// From the times at which takes began, in any order, and the starts as they happened. What lies ahead of `now` was
    /// known by a clock that was wrong, and says nothing.
    pub(crate) fn new(began: impl Iterator<Item = i64>, starts: &[i64], now: i64) -> Self {
        let starts = starts.iter().copied().filter(|start| *start <= now);
        let mut set_back = Vec::new();
        let mut latest = i64::MIN;
        for start in starts.clone() {
            if start.saturating_add(SET_BACK_SECS) < latest {
                set_back.push(start);
            }
            latest = latest.max(start);
        }
        let mut known: Vec<i64> = began.filter(|time| *time < now).chain(starts).collect();
        known.push(now);
        known.sort_unstable();
        Self { known, set_back }
    }

    /// What came before this is older than so many seconds; `None` if nothing is.
    pub(crate) fn limit(&self, secs: i64) -> Option<i64> {
        let mut age = 0;
        for pair in self.known.windows(2).rev() {
            let counted = (pair[1] - pair[0]).min(COUNTED_PAUSE_SECS);
            if age + counted > secs {
                return Some(pair[1] - (secs - age));
            }
            age += counted;
        }
        None
    }

    /// Whether a time was told by a clock that had been set back: what began then may be of any age.
    pub(crate) fn is_doubtful(&self, began: i64) -> bool {
        self.set_back.iter().any(|start| (*start..start + DAY_SECS).contains(&began))
    }

    /// The longest time since `from` of which nothing is known: its two ends.
    pub(crate) fn longest_pause(&self, from: i64) -> Option<(i64, i64)> {
        let pauses = self.known.windows(2).filter(|pair| pair[1] > from);
        pauses.max_by_key(|pair| pair[1] - pair[0]).map(|pair| (pair[0], pair[1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(days: &[i64]) -> impl Iterator<Item = i64> {
        days.iter().map(|day| day * DAY_SECS)
    }

    #[test]
    fn a_clock_that_jumps_makes_nothing_older_by_more_than_a_week() {
        let steady: Vec<i64> = (0..=100).map(|day| 20_000 + day).collect();
        let seen = SeenTime::new(days(&steady), &[], 20_100 * DAY_SECS);
        assert_eq!(seen.limit(30 * DAY_SECS), Some(20_070 * DAY_SECS));
        // The same days, and then two takes and starts under a clock that is 14 years ahead.
        let jumped = steady.iter().copied().chain([25_200, 25_201]).collect::<Vec<_>>();
        let seen = SeenTime::new(days(&jumped), &[25_201 * DAY_SECS], 25_202 * DAY_SECS);
        let limit = seen.limit(30 * DAY_SECS).expect("some are older");
        assert_eq!(limit, (20_100 - (30 - 2 - 7)) * DAY_SECS);
        assert_eq!(
            seen.longest_pause(limit),
            Some((20_100 * DAY_SECS, 25_200 * DAY_SECS)),
            "it can be told when"
        );
        // Set right again, it says no more.
        let seen = SeenTime::new(days(&jumped), &[25_201 * DAY_SECS], 20_101 * DAY_SECS);
        assert_eq!(seen.limit(30 * DAY_SECS), Some(20_071 * DAY_SECS));
    }

    #[test]
    fn what_was_played_under_a_clock_that_was_set_back_is_of_any_age() {
        let starts = [20_000 * DAY_SECS, 5, 20_001 * DAY_SECS];
        let seen = SeenTime::new(days(&[20_000]), &starts, 20_001 * DAY_SECS + 9);
        assert!(seen.is_doubtful(600) && !seen.is_doubtful(20_000 * DAY_SECS));
    }

    #[test]
    fn where_nothing_is_known_nothing_is_old() {
        let seen = SeenTime::new(days(&[]), &[], 20_000 * DAY_SECS);
        assert_eq!(seen.limit(DAY_SECS), None);
        assert_eq!(seen.longest_pause(0), None);
    }
}
