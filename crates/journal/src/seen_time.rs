//! How old takes are, though this computer's clock may have jumped.

use std::io;
use std::path::Path;

use disk::Disk;

pub(crate) const DAY_SECS: i64 = 24 * 3_600;

/// Of a time of which nothing is known, this much is counted at most. A pause is no more than that much too short by it; a
/// clock that jumps ahead by years makes nothing older by more.
const COUNTED_PAUSE_SECS: i64 = 7 * DAY_SECS;

/// A clock that goes back by no more than this may have been on a journey.
const SET_BACK_SECS: i64 = 26 * 3_600;

/// A player who is not told of a pause that is shorter: it is nothing unusual, and sound goes a little later for it.
const LONG_PAUSE_SECS: i64 = 60 * DAY_SECS;

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
    /// Starts at which the clock had been set back, each with the latest time that it had shown before.
    set_back: Vec<(i64, i64)>,
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
                set_back.push((start, latest));
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

    /// The latest time at which what began then, by the clock, may have begun: where the clock had been set back, that is
    /// as young as the latest time that it had shown before. Whichever of the two was wrong, nothing goes too early by
    /// it, and nothing stays for ever.
    pub(crate) fn latest(&self, began: i64) -> i64 {
        let of = |(start, latest): &(i64, i64)| {
            (*start..start + DAY_SECS).contains(&began).then_some(*latest)
        };
        self.set_back.iter().filter_map(of).fold(began, i64::max)
    }

    /// A long time of which nothing is known and that has just ended: its two ends.
    pub(crate) fn pause_just_ended(&self) -> Option<(i64, i64)> {
        let now = self.known.last()?;
        let lately = self.known.windows(2).rev().take_while(|pair| now - pair[1] < ONE_START_SECS);
        let mut long = lately.filter(|pair| pair[1] - pair[0] > LONG_PAUSE_SECS);
        long.next().map(|pair| (pair[0], pair[1]))
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
        assert_eq!(seen.pause_just_ended(), None, "it was told two days ago");
        let at_once = SeenTime::new(days(&steady), &[25_200 * DAY_SECS], 25_200 * DAY_SECS + 60);
        let pause = (20_100 * DAY_SECS, 25_200 * DAY_SECS);
        assert_eq!(at_once.pause_just_ended(), Some(pause), "it can be told when");
        // Set right again, it says no more.
        let seen = SeenTime::new(days(&jumped), &[25_201 * DAY_SECS], 20_101 * DAY_SECS);
        assert_eq!(seen.limit(30 * DAY_SECS), Some(20_071 * DAY_SECS));
    }

    #[test]
    fn what_was_played_under_a_clock_that_was_set_back_is_as_young_as_what_came_before() {
        let starts = [20_000 * DAY_SECS, 5, 20_001 * DAY_SECS];
        let seen = SeenTime::new(days(&[20_000]), &starts, 20_001 * DAY_SECS + 9);
        assert_eq!(seen.latest(600), 20_000 * DAY_SECS);
        assert_eq!(seen.latest(20_000 * DAY_SECS), 20_000 * DAY_SECS);
    }

    #[test]
    fn a_clock_that_was_ahead_once_keeps_nothing_for_ever() {
        // Three days ahead at one start, and right at all others.
        let starts: Vec<i64> = [103, 100, 101, 102].into_iter().chain(104..=140).collect();
        let starts: Vec<i64> = starts.iter().map(|day| (20_000 + day) * DAY_SECS).collect();
        let seen = SeenTime::new(days(&[]), &starts, 20_140 * DAY_SECS + 9);
        let limit = seen.limit(30 * DAY_SECS).expect("some are older");
        assert!(seen.latest(20_100 * DAY_SECS + 60) < limit);
    }

    #[test]
    fn who_plays_each_ten_days_is_told_of_no_pause() {
        let starts: Vec<i64> = (0..20).map(|session| (20_000 + 10 * session) * DAY_SECS).collect();
        for (at, now) in starts.iter().enumerate() {
            let seen = SeenTime::new(days(&[]), &starts[..=at], now + 60);
            assert_eq!(seen.pause_just_ended(), None);
        }
    }

    #[test]
    fn where_nothing_is_known_nothing_is_old() {
        let seen = SeenTime::new(days(&[]), &[], 20_000 * DAY_SECS);
        assert_eq!(seen.limit(DAY_SECS), None);
        assert_eq!(seen.pause_just_ended(), None);
    }
}
