//! What a take is called.

use std::fmt;
use std::str::FromStr;

use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// Length of a day's and of a time's part of a name: `2026-11-25`, `17-41-09`.
const DAY: usize = 10;
const TIME: usize = 8;

/// What a take is called: its day and the time of its beginning, as in `2026-11-25/17-41-09`. These are the
/// names of its folders. Names sort by time; a second take of one second is `17-41-09-002`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct TakeId {
    day: String,
    time: String,
}

impl TakeId {
    /// The name of a take by the names of its folders; `None` where these are not the names of a take.
    /// The time may have words after it, for a folder may be renamed by hand.
    pub fn new(day: &str, time: &str) -> Option<Self> {
        let stem = time.get(..TIME)?;
        let leads = |sign: char| matches!(sign, '/' | '\\') || sign.is_control();
        let harmless = !time.contains(leads) && !time.ends_with('.');
        let dated = digits_and_dashes(day, DAY, &[4, 7]) && digits_and_dashes(stem, TIME, &[2, 5]);
        (dated && harmless).then(|| Self { day: day.to_owned(), time: time.to_owned() })
    }

    /// The name of a take that begins at this local time.
    pub(crate) fn at(local: DateTime) -> Self {
        Self {
            day: local.strftime("%Y-%m-%d").to_string(),
            time: local.strftime("%H-%M-%S").to_string(),
        }
    }

    /// The folder of its day.
    pub fn day(&self) -> &str {
        &self.day
    }

    /// Its own folder in that of the day.
    pub fn time(&self) -> &str {
        &self.time
    }

    /// Its local time as a clock shows it: `14:33`.
    pub fn clock(&self) -> String {
        format!("{}:{}", &self.time[..2], &self.time[3..5])
    }

    /// The local time in the name; `None` where there is no such time.
    pub(crate) fn local(&self) -> Option<DateTime> {
        let stem = &self.time[..TIME];
        DateTime::strptime("%Y-%m-%d %H-%M-%S", format!("{} {stem}", self.day)).ok()
    }

    /// The next name that sorts after it within the same second.
    pub(crate) fn following(&self) -> Self {
        let (stem, rest) = self.time.split_at(TIME);
        let number: u32 = rest.get(1..).and_then(|n| n.parse().ok()).unwrap_or(1);
        Self { day: self.day.clone(), time: format!("{stem}-{:03}", number.saturating_add(1)) }
    }
}

fn digits_and_dashes(text: &str, length: usize, dashes: &[usize]) -> bool {
    let fits = |(place, byte): (usize, u8)| match dashes.contains(&place) {
        true => byte == b'-',
        false => byte.is_ascii_digit(),
    };
    text.len() == length && text.bytes().enumerate().all(fits)
}

impl fmt::Display for TakeId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.day, self.time)
    }
}

impl FromStr for TakeId {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        text.split_once('/')
            .and_then(|(day, time)| Self::new(day, time))
            .ok_or_else(|| format!("\"{text}\" names no take; names are like 2026-11-25/17-41-09"))
    }
}

impl TryFrom<String> for TakeId {
    type Error = String;

    fn try_from(text: String) -> Result<Self, String> {
        text.parse()
    }
}

impl From<TakeId> for String {
    fn from(id: TakeId) -> Self {
        id.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_never_leads_out_of_the_journal() {
        for text in [
            "../17-41-09",
            "2026-11-25/..",
            "2026-11-25/17-41-09/../..",
            "2026-11-25/17-41-09\\x",
            "2026-11-25/17-41-0é",
            "2026-11-25/17-41-09.",
            "2026-11-25/17-41-09\n",
            "2026-11-25/17-41-09 \u{1b}[31m",
            "2026-11-25",
            "",
        ] {
            let words = text.parse::<TakeId>().expect_err("no name of a take");
            assert!(words.contains("2026-11-25/17-41-09"), "{words}");
        }
        assert!("2026-11-25/17-41-09 the good one".parse::<TakeId>().is_ok());
    }

    #[test]
    fn names_of_one_second_sort_in_their_order() {
        let first: TakeId = "2026-11-25/17-41-09".parse().expect("a name");
        let mut names = vec![first];
        for _ in 0..120 {
            names.push(names[names.len() - 1].following());
        }
        assert_eq!(names[1].time(), "17-41-09-002");
        assert!(names.is_sorted());
        let next: TakeId = "2026-11-25/17-41-10".parse().expect("a name");
        assert!(names[120] < next);
    }
}
