//! Days, times and takes in words.

use super::offered::Offered;
use crate::shell::Shell;
use crate::shell::options::Options;
use jiff::civil::Date;
use journal::{Day, Ended, Entry, NoteGroup, TakeId, WrittenLesson};
use tuning::pitch_name;
use vibrato::Quantity;

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
    if name.is_empty() { "no name" } else { name }
}

/// "thumb", "finger 3".
pub(super) fn finger(finger: u8) -> String {
    match finger {
        0 => "thumb".to_owned(),
        finger => format!("finger {finger}"),
    }
}

/// What was played and how it went: "F3–G3 · 5.1 Hz · 38 cents"; of a drill "There and back: secure".
pub(super) fn headline(entry: &Entry, shell: &Shell) -> String {
    if let (Some((pass, found)), Some(passage)) = (&entry.pass, &entry.passage) {
        return match pass {
            0 => format!("passage {passage}: {found}"),
            pass => format!("passage {passage}, pass {pass}: {found}"),
        };
    }
    let Some(drill) = entry.drill.as_deref() else {
        return played(entry, shell);
    };
    let title = shell.drill_title(drill);
    match entry.ended {
        Some(Ended::Secure) => format!("{title}: secure"),
        Some(Ended::NotYet) => format!("{title}: not yet"),
        Some(Ended::BrokenOff) => format!("{title}: broken off"),
        None => title.to_owned(),
    }
}

/// "F3–G3 · 5.1 Hz · 38 cents", or "D3, without vibrato".
fn played(entry: &Entry, shell: &Shell) -> String {
    let low = entry.notes.iter().map(|note| note.midi).min();
    let high = entry.notes.iter().map(|note| note.midi).max();
    let Some((low, high)) = low.zip(high) else {
        return "no note".to_owned();
    };
    let name = |midi: i16| pitch_name(i32::from(midi), shell.naming());
    let notes = if low == high { name(low) } else { format!("{}–{}", name(low), name(high)) };
    let rate = entry.mean(Quantity::Rate).map(|mean| format!("{:.1} Hz", mean.value));
    let width = entry.mean(Quantity::Width).map(|mean| format!("{:.0} cents", mean.value));
    let said: Vec<String> = rate.into_iter().chain(width).collect();
    if !said.is_empty() {
        format!("{notes} · {}", said.join(" · "))
    } else if entry.notes.iter().all(|note| note.straight) {
        format!("{notes}, without vibrato")
    } else {
        notes
    }
}

/// The second line of a take: its part in a lesson, what was played in a drill, passage, finger, string, remark;
/// whose it is and on what, where the journal has several.
pub(super) fn further(entry: &Entry, offered: &Offered, shell: &Shell) -> String {
    let mut said: Vec<String> = Vec::new();
    said.extend(entry.lesson.as_ref().map(lesson));
    said.extend(entry.drill.as_ref().map(|_| played(entry, shell)));
    // The first line says which passage it was.
    said.extend(entry.passage.clone().filter(|_| entry.pass.is_none()));
    said.extend(entry.finger.map(finger));
    said.extend(entry.string.as_ref().map(|name| format!("{name} string")));
    if offered.players.len() > 1 {
        said.push(player(&entry.player).to_owned());
    }
    if offered.instruments.len() > 1 {
        said.extend(entry.instrument.clone());
    }
    said.extend(Some(entry.word.clone()).filter(|word| !word.is_empty()));
    said.push(length(f64::from(entry.length_s)));
    said.join(" · ")
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
