//! How numbers, names and states are said, on the sheet and to a screen reader.

use super::commands::TASK;
use super::state::{From, Stand};
use crate::shell::action::Take;
use coach::Around;
use tuning::figure::sentence;
use tuning::{Secs, Temperament, figure, pitch_name};
use vibrato::{Note, PitchCourse, Quantity, Remarks, Shown};

/// So many letters of the name of a passage are shown on the Stand.
const PASSAGE_LETTERS: usize = 40;

/// "0.42 s".
pub(super) fn secs(time: Secs) -> String {
    format!("{} s", figure::number(Some(time.0), 2, false))
}

/// The measures of a note that ended, each with its caption, in the order they are read: of a vibrato those
/// that come first.
pub(super) fn measures(note: &Note) -> Vec<(&'static str, String)> {
    let said = |quantity: Quantity| (quantity.name(), quantity.wording(quantity.read(note, None)));
    let first = |quantity: &Quantity| quantity.row().shown == Shown::First;
    if note.vibrato.is_some() {
        return Quantity::of_vibrato().filter(first).map(said).collect();
    }
    let vibrato = match note.course {
        PitchCourse::Straight => "none".to_owned(),
        PitchCourse::Glides(_) => format!("none, the pitch {}", note.course.wording()),
        _ => note.course.wording(),
    };
    let centre = Quantity::Offset.wording(Some(note.offset.bare()));
    vec![
        ("vibrato", vibrato),
        (Quantity::Centre.name(), centre),
        said(Quantity::Unsteadiness),
        ("length", secs(Secs(note.end.0 - note.start.0))),
    ]
}

/// A note that ended in a few words: "5.0 Hz · 26 cents", "−4 cents, without vibrato".
pub(super) fn in_short(note: &Note) -> String {
    match &note.vibrato {
        Some(vibrato) => {
            format!("{:.1} Hz · {:.0} cents", vibrato.rate.value.0, vibrato.width.value.0)
        }
        None => {
            let offset = figure::signed(note.offset.value.0, 0);
            match note.course {
                PitchCourse::Straight => format!("{offset} cents, without vibrato"),
                _ => format!("{offset} cents"),
            }
        }
    }
}

/// Names of the intervals within an octave, by semitones.
const INTERVALS: [&str; 12] = [
    "unison",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "fourth",
    "tritone",
    "fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
];

/// "a pure fifth above the drone", for a note so many semitones above it (below, if negative).
fn from_drone(semitones: i32) -> String {
    let side = if semitones < 0 { "below" } else { "above" };
    let distance = semitones.unsigned_abs();
    let octaves = match distance / 12 {
        0 => String::new(),
        1 => "an octave".to_owned(),
        count => format!("{count} octaves"),
    };
    let interval = match distance % 12 {
        0 if octaves.is_empty() => return "in unison with the drone".to_owned(),
        0 => String::new(),
        within => format!("a pure {}", INTERVALS[within as usize]),
    };
    let and = if octaves.is_empty() || interval.is_empty() { "" } else { " and " };
    format!("{interval}{and}{octaves} {side} the drone")
}

/// What the note of this MIDI number is measured against.
pub(super) fn against(stand: &Stand, midi: i32) -> String {
    let options = stand.shell.options();
    // Kept on one line: the signs between are spaces that do not break.
    let a4 = format!("A4\u{a0}=\u{a0}{}\u{a0}Hz", options.tuning.a4.0);
    match stand.reference(midi).from {
        From::Own => format!("against your own {}", pitch_name(midi, options.naming)),
        From::Drone => from_drone(midi - options.drone.midi),
        From::OpenString => match stand.own_string() {
            Some(own) => format!(
                "against pure fifths from your {} string",
                pitch_name(own.midi, options.naming)
            ),
            None => format!("against pure fifths from {a4}"),
        },
        From::Temperament => match options.tuning.temperament {
            Temperament::Equal => format!("against equal temperament, {a4}"),
            Temperament::PureFifths => format!("against pure fifths from {a4}"),
        },
    }
}

/// "14 cents above, 22 below your note": how a swing lies around a note.
pub(super) fn around(around: Around, note: &str) -> String {
    if around.above.0.round() < 0.0 {
        format!(
            "crests {:.0}, troughs {:.0} cents below {note}",
            around.above.0.abs(),
            around.below.0
        )
    } else if around.below.0.round() < 0.0 {
        format!(
            "crests {:.0}, troughs {:.0} cents above {note}",
            around.above.0,
            around.below.0.abs()
        )
    } else {
        format!("{:.0} cents above, {:.0} below {note}", around.above.0.abs(), around.below.0.abs())
    }
}

/// How it stands with the take, and whether that asks for attention; `None` where none is kept. `keeps` is the key that keeps
/// what did not sound bowed.
pub(super) fn take(take: &Take, keeps: Option<&str>) -> Option<(String, bool)> {
    match take {
        Take::Off => None,
        Take::Ready => Some(("The next note starts a take.".to_owned(), false)),
        Take::Running => Some(("Recording a take.".to_owned(), false)),
        Take::SetAside => Some((Take::set_aside_words(keeps), false)),
        Take::Kept { id, length } => {
            let secs = length.0.round() as u64;
            let said = format!("Kept: {}, {}:{:02} long.", id.clock(), secs / 60, secs % 60);
            Some((said, false))
        }
        Take::Trouble(words) => Some((sentence(words), true)),
    }
}

/// Which passage the takes are of, and the key that ends this; `None` where they are of none or none is kept.
pub(super) fn passage(stand: &Stand) -> Option<String> {
    let options = stand.shell.options();
    let passage = options.passage().filter(|_| *stand.shell.take() != Take::Off)?;
    let ends = options.keys.shown(&TASK.entry);
    let ends = ends.map_or_else(String::new, |key| format!("; {key} ends this"));
    Some(format!("Takes are of “{}”{ends}.", short(passage)))
}

/// A passage in so few letters that it fits beside other words, on one line.
fn short(passage: &str) -> String {
    let said: String = passage.split_whitespace().collect::<Vec<_>>().join(" ");
    match said.char_indices().nth(PASSAGE_LETTERS) {
        Some((end, _)) => format!("{}…", said[..end].trim_end()),
        None => said,
    }
}

/// What stood out in a note, each with what to do.
pub(super) fn remarks(remarks: Remarks) -> Vec<&'static str> {
    [
        (remarks.two_strings && remarks.still.is_none(), TWO_STRINGS),
        (remarks.still.is_some(), ONE_STILL),
        (remarks.room, ROOM),
        (remarks.clipped, "The sound was clipped: turn the microphone's level down."),
        (remarks.lost, "Some of the sound was lost: close other programs."),
        (remarks.cut, "The note was too long to be measured as one: this is its first part."),
    ]
    .into_iter()
    .filter_map(|(is_so, said)| is_so.then_some(said))
    .collect()
}

/// Said while two strings sound at once.
pub(super) const TWO_STRINGS: &str = "Two strings are sounding; play one to be measured.";
/// Said of a note beside which another string was still.
const ONE_STILL: &str = "Two strings, one of them still: these are the measures of the other.";
/// Said once, where the room is so loud that the width is in doubt.
pub(super) const ROOM: &str =
    "The room is loud here and leaves the width in doubt: come within about 60 cm.";

#[cfg(test)]
mod tests {
    use super::*;
    use journal::TakeId;
    use tuning::Cents;

    #[test]
    fn no_remark_no_words() {
        assert!(remarks(Remarks::default()).is_empty());
        let room = Remarks { room: true, ..Remarks::default() };
        assert!(remarks(room)[0].contains("60 cm"));
    }

    #[test]
    fn intervals_from_the_drone_are_named_on_both_sides_and_over_octaves() {
        assert_eq!(from_drone(0), "in unison with the drone");
        assert_eq!(from_drone(7), "a pure fifth above the drone");
        assert_eq!(from_drone(-5), "a pure fourth below the drone");
        assert_eq!(from_drone(12), "an octave above the drone");
        assert_eq!(from_drone(31), "a pure fifth and 2 octaves above the drone");
    }

    #[test]
    fn a_swing_is_told_by_what_lies_above_and_below() {
        let lies = |above: f64, below: f64| Around {
            above: Cents(above),
            below: Cents(below),
            centre: Cents((above - below) / 2.0),
        };
        assert_eq!(around(lies(14.2, 21.7), "your note"), "14 cents above, 22 below your note");
        assert_eq!(
            around(lies(-3.0, 21.7), "your note"),
            "crests 3, troughs 22 cents below your note"
        );
        assert_eq!(
            around(lies(40.0, -8.0), "the note"),
            "crests 40, troughs 8 cents above the note"
        );
        assert_eq!(around(lies(-0.2, 20.0), "the note"), "0 cents above, 20 below the note");
    }

    #[test]
    fn a_take_is_told_unless_none_is_kept() {
        assert_eq!(take(&Take::Off, None), None);
        let id = TakeId::new("2026-11-28", "14-33-21").expect("a name");
        let kept = Take::Kept { id, length: Secs(72.3) };
        assert_eq!(take(&kept, None), Some(("Kept: 14:33, 1:12 long.".to_owned(), false)));
        let (said, attention) =
            take(&Take::Trouble("the disk is full".to_owned()), None).expect("told");
        assert!(attention && said == "The disk is full.");
    }
}
