//! How a measure runs over the weeks: every note as a dot, each week's median and quartiles.

use std::collections::BTreeMap;
use std::sync::Arc;

use vibrato::Quantity;

use crate::filter::Filter;
use crate::index_entry::Entry;

/// Seconds of a day.
const DAY_SECS: i64 = 24 * 3_600;
/// Dots of all trends together at most, so that ten years can be drawn; of a week at least so many.
const MOST_DOTS: usize = 1_600;
const LEAST_OF_WEEK: usize = 3;

/// A day as a number: days since 1970 began, in the time of the place where it was played.
pub type Day = i32;

/// The day on which a take began, where it was played.
pub fn day_of(entry: &Entry) -> Day {
    local_secs(entry).div_euclid(DAY_SECS) as Day
}

fn local_secs(entry: &Entry) -> i64 {
    entry.began_unix_s.saturating_add(i64::from(entry.utc_offset_s))
}

/// The Monday of a day's week: 1970 began on a Thursday.
pub fn monday_of(day: Day) -> Day {
    (day + 3).div_euclid(7) * 7 - 3
}

/// Along what the notes are told apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Split {
    /// Not at all.
    #[default]
    None,
    /// By the finger.
    Finger,
    /// By the octave in which they lie.
    Register,
}

/// Which notes a trend is of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NoteGroup {
    /// All.
    All,
    /// Those of this finger, 1 to 4 (0 is the thumb).
    Finger(u8),
    /// Those from the C of this MIDI number up to the next.
    From(i16),
}

/// A week that has notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Week {
    /// Its first day.
    pub monday: Day,
    /// How many notes.
    pub count: usize,
    /// A quarter of the notes lies below.
    pub low: f64,
    /// Half of them.
    pub median: f64,
    /// Three quarters.
    pub high: f64,
}

/// How one measure of some notes runs over the weeks.
#[derive(Clone, Debug, PartialEq)]
pub struct Trend {
    /// Which notes.
    pub part: NoteGroup,
    /// How many there are.
    pub notes: usize,
    /// Day, with its fraction, and value; of many notes so many that they can be drawn, evenly taken from each
    /// week's least to its greatest value.
    pub dots: Vec<(f64, f64)>,
    /// The weeks that have notes, in order.
    pub weeks: Vec<Week>,
}

/// Trends of the notes that a filter wants: without models of lessons, and without drills unless it wants one.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trends {
    /// In the order of their parts.
    pub parts: Vec<Trend>,
    /// Notes that have the measure but belong to no part: their finger is not known.
    pub left_out: usize,
}

impl Trends {
    /// Gathers them.
    pub fn gather(
        entries: &[Arc<Entry>],
        filter: &Filter,
        quantity: Quantity,
        split: Split,
    ) -> Self {
        let ready = filter.ready();
        let mut parts: BTreeMap<NoteGroup, BTreeMap<Day, Vec<(f64, f64)>>> = BTreeMap::new();
        let mut left_out = 0;
        // A drill asks for rates and widths of its own, and a model is played for somebody else.
        let by_itself = |entry: &Entry| filter.drill.is_some() || entry.drill.is_none();
        let followed =
            |entry: &&Arc<Entry>| !entry.is_model() && by_itself(entry) && ready.wants(entry);
        for entry in entries.iter().filter(followed) {
            let began = local_secs(entry) as f64;
            let monday = monday_of(day_of(entry));
            for note in &entry.notes {
                if !ready.wants_note(entry, note) {
                    continue;
                }
                let Some(value) = note.get(quantity).filter(|value| value.is_finite()) else {
                    continue;
                };
                let part = match split {
                    Split::None => Some(NoteGroup::All),
                    Split::Finger => note.finger.or(entry.finger).map(NoteGroup::Finger),
                    Split::Register => Some(NoteGroup::From(note.midi.div_euclid(12) * 12)),
                };
                let Some(part) = part else {
                    left_out += 1;
                    continue;
                };
                let when = (began + f64::from(note.start_s)) / DAY_SECS as f64;
                let week = parts.entry(part).or_default().entry(monday).or_default();
                week.push((when, value));
            }
        }
        let most = MOST_DOTS / parts.len().max(1);
        let parts = parts.into_iter();
        Self { parts: parts.map(|(part, weeks)| Trend::of(part, weeks, most)).collect(), left_out }
    }
}

impl Trend {
    fn of(part: NoteGroup, by_week: BTreeMap<Day, Vec<(f64, f64)>>, most: usize) -> Self {
        let most = (most / by_week.len().max(1)).max(LEAST_OF_WEEK);
        let mut trend =
            Self { part, notes: 0, dots: Vec::new(), weeks: Vec::with_capacity(by_week.len()) };
        for (monday, mut notes) in by_week {
            notes.sort_by(|a, b| a.1.total_cmp(&b.1));
            trend.notes += notes.len();
            trend.weeks.push(Week {
                monday,
                count: notes.len(),
                low: quantile(&notes, 0.25),
                median: quantile(&notes, 0.5),
                high: quantile(&notes, 0.75),
            });
            if notes.len() <= most {
                trend.dots.extend(notes);
            } else {
                let last = (notes.len() - 1) as f64;
                let even = |n: usize| (n as f64 * last / (most - 1) as f64).round() as usize;
                trend.dots.extend((0..most).map(|n| notes[even(n)]));
            }
        }
        trend
    }
}

/// The value below which this share of the notes lies; they come in the order of their values, and there is one at
/// least. Between two of them by a straight line: R. J. Hyndman and Y. Fan, "Sample Quantiles in
/// Statistical Packages", The American Statistician 50 (1996), definition 7 (from memory).
fn quantile(sorted: &[(f64, f64)], share: f64) -> f64 {
    let place = share * (sorted.len() - 1) as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    let (low, high) = (sorted[below].1, sorted[above].1);
    low + (place - below as f64) * (high - low)
}

/// What was played on a day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Practised {
    /// Which day.
    pub day: Day,
    /// Length of all takes, in minutes.
    pub minutes: f64,
    /// How many there are.
    pub takes: usize,
}

/// What was played on each day that has takes, in order; or in each week, by its Monday.
pub fn practised(entries: &[Arc<Entry>], filter: &Filter, by_week: bool) -> Vec<Practised> {
    let ready = filter.ready();
    let mut days: BTreeMap<Day, (f64, usize)> = BTreeMap::new();
    for entry in entries.iter().filter(|entry| ready.wants(entry)) {
        let day = day_of(entry);
        let day = if by_week { monday_of(day) } else { day };
        let so_far = days.entry(day).or_default();
        so_far.0 += f64::from(entry.length_s.max(0.0)) / 60.0;
        so_far.1 += 1;
    }
    let days = days.into_iter();
    days.map(|(day, (minutes, takes))| Practised { day, minutes, takes }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weeks_begin_on_monday() {
        // 1 January 1970 was a Thursday, 5 January a Monday (ISO 8601 weeks).
        assert_eq!(monday_of(0), -3);
        assert_eq!(monday_of(3), -3);
        assert_eq!(monday_of(4), 4);
        assert_eq!(monday_of(-4), -10);
    }

    #[test]
    fn quartiles_are_those_of_the_textbook() {
        let of = |values: &[f64], share| {
            let notes: Vec<_> = values.iter().map(|&value| (0.0, value)).collect();
            quantile(&notes, share)
        };
        let five = [1.0, 2.0, 3.0, 4.0, 10.0];
        assert_eq!([0.25, 0.5, 0.75].map(|s| of(&five, s)), [2.0, 3.0, 4.0]);
        assert_eq!([0.25, 0.5].map(|s| of(&[1.0, 2.0], s)), [1.25, 1.5]);
        assert_eq!(of(&[7.0], 0.75), 7.0);
    }

    #[test]
    fn many_dots_are_thinned_evenly_and_keep_the_ends() {
        let week: Vec<(f64, f64)> = (0..10_000).map(|n| (0.0, f64::from(n % 997))).collect();
        let trend = Trend::of(NoteGroup::All, BTreeMap::from([(4, week)]), MOST_DOTS);
        assert_eq!((trend.notes, trend.dots.len()), (10_000, MOST_DOTS));
        let values: Vec<f64> = trend.dots.iter().map(|dot| dot.1).collect();
        assert_eq!((values[0], values[MOST_DOTS - 1]), (0.0, 996.0));
        assert!((values[MOST_DOTS / 2] - trend.weeks[0].median).abs() < 2.0);
        assert_eq!(trend.weeks[0].count, 10_000);
    }
}
