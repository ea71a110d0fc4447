//! Days, times and takes in words.

use crate::shell::Shell;
use crate::shell::options::Options;
use jiff::civil::Date;
use journal::{Day, Entry, NoteGroup, TakeId, WrittenLesson};
use tuning::pitch_name;

/// "Wednesday 25 November 2026", from a folder named `2026-11-25`; the name itself where it is no day.
pub(super) fn day_in_full(day: &str) -> String {
    match day.parse::<Date>() {
        Ok(date) => date.strftime("%A %-d %B %Y").to_string(),
        Err(_) => day.to_owned(),
    }
}

/// "Wed 25 Nov 2026" from a folder named `2026-11-25`, where the whole has no room.
pub(super) fn day_in_short(day: &str) -> String {
    match day.parse::<Date>() {
        Ok(date) => date.strftime("%a %-d %b %Y").to_string(),
        Err(_) => day.to_owned(),
    }
}

/// "17:41" from a folder named `17-41-09`; what follows stays: "17:41 the good one".
pub(super) fn clock(time: &str) -> String {
    let hours_and_minutes = time.get(..5).unwrap_or(time).replace('-', ":");
    let rest = time.get(8..).unwrap_or("");
    format!("{hours_and_minutes}{rest}")
}

/// "25 November 2026, 17:41:09".
pub(super) fn take_in_full(id: &TakeId) -> String {
    let day = match id.day().parse::<Date>() {
        Ok(date) => date.strftime("%-d %B %Y").to_string(),
        Err(_) => id.day().to_owned(),
    };
    let time = id.time().get(..8).unwrap_or(id.time()).replace('-', ":");
    let rest = id.time().get(8..).unwrap_or("");
    format!("{day}, {time}{rest}")
}

/// The date of a day that is counted from 1970 on.
pub(super) fn date(day: Day) -> Date {
    let epoch = jiff::civil::date(1970, 1, 1);
    let span = jiff::Span::new().days(i64::from(day.clamp(-3_000_000, 2_000_000)));
    epoch.checked_add(span).unwrap_or(epoch)
}

/// "25 Nov 2026".
pub(super) fn short_date(day: Day) -> String {
    date(day).strftime("%-d %b %Y").to_string()
}

/// "0:32", "1:02:03".
pub(super) fn length(secs: f64) -> String {
    let secs = secs.max(0.0).round() as u64;
    let (hours, minutes, secs) = (secs / 3_600, secs / 60 % 60, secs % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{secs:02}")
    } else {
        format!("{minutes}:{secs:02}")
    }
}

/// "3 takes", "1 take".
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    match count {
        1 => format!("1 {one}"),
        _ => format!("{} {many}", grouped(count)),
    }
}

/// "20 000": thousands apart by a space that does not break.
pub(super) fn grouped(count: usize) -> String {
    let digits = count.to_string();
    let mut said = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            said.push('\u{a0}');
        }
        said.push(digit);
    }
    said
}

/// Whose it is: what stands for a name that was not given.
pub(super) fn player(name: &str) -> &str {
    if name.is_empty() { "nobody named" } else { name }
}

/// "thumb", "finger 3".
pub(super) fn finger(finger: u8) -> String {
    match finger {
        0 => "thumb".to_owned(),
        finger => format!("finger {finger}"),
    }
}

/// What a take is besides its time: player, instrument, drill or passage, finger, string, lesson.
pub(super) fn about(entry: &Entry, shell: &Shell) -> String {
    let mut said: Vec<String> = Vec::new();
    if !entry.player.is_empty() {
        said.push(entry.player.clone());
    }
    said.extend(entry.instrument.clone());
    let drill = entry.drill.as_deref();
    said.extend(drill.map(|name| shell.drill_title(name).to_owned()));
    said.extend(entry.passage.clone());
    said.extend(entry.finger.map(finger));
    let string = entry.string.as_ref();
    said.extend(string.map(|name| format!("{name} string")));
    said.extend(entry.lesson.as_ref().map(lesson));
    if said.is_empty() && !entry.room.is_empty() {
        said.push(entry.room.clone());
    }
    said.join(" · ")
}

/// What a take was in a lesson: "model of a lesson", "echo of 17:14".
fn lesson(part: &WrittenLesson) -> String {
    match part {
        WrittenLesson::Model => "model of a lesson".to_owned(),
        WrittenLesson::Echo { of } => {
            let time = of.split_once('/').map_or(of.as_str(), |(_, time)| time);
            format!("echo of {}", clock(time))
        }
    }
}

/// The notes a trend is of.
pub(super) fn part(part: NoteGroup, options: &Options) -> String {
    match part {
        NoteGroup::All => "all notes".to_owned(),
        NoteGroup::Finger(number) => finger(number),
        NoteGroup::From(c) => {
            let name = |midi: i16| pitch_name(i32::from(midi), options.naming);
            format!("{} to {}", name(c), name(c + 11))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_times_are_said_as_people_say_them() {
        assert_eq!(day_in_full("2026-11-25"), "Wednesday 25 November 2026");
        assert_eq!(day_in_full("2026-02-30"), "2026-02-30");
        assert_eq!(day_in_short("2026-11-25"), "Wed 25 Nov 2026");
        assert_eq!(clock("17-41-09"), "17:41");
        assert_eq!(clock("17-41-09 the good one"), "17:41 the good one");
        assert_eq!(short_date(0), "1 Jan 1970");
        assert_eq!(short_date(20_782), "25 Nov 2026");
        assert_eq!(length(32.4), "0:32");
        assert_eq!(length(3_723.0), "1:02:03");
    }

    #[test]
    fn a_take_of_a_lesson_says_what_it_was_in_it() {
        assert_eq!(lesson(&WrittenLesson::Model), "model of a lesson");
        let of = "2026-11-25/17-14-09".to_owned();
        assert_eq!(lesson(&WrittenLesson::Echo { of }), "echo of 17:14");
    }

    #[test]
    fn large_numbers_are_told_in_groups() {
        assert_eq!(grouped(20_000), "20\u{a0}000");
        assert_eq!(counted(1, "take", "takes"), "1 take");
    }
}
