//! How numbers, names and states are said, on the sheet and to a screen reader.

use crate::keys::Command;
use crate::stand::{From, Stand, Take};
use coach::Around;
use tuning::{Cents, Hz, Secs, Temperament, pitch_name};
use vibrato::{Measure, Note, Remarks};

/// So many letters of the name of a passage are shown on the Stand.
const PASSAGE_LETTERS: usize = 40;

/// What is listened to, or what keeps it from being so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// The microphone is being opened.
    Opening,
    /// Sound comes in.
    Hearing {
        /// From what, in the listener's words.
        words: String,
    },
    /// No sound comes in; it is tried again and again.
    Trouble {
        /// What is wrong and what to do, in the listener's words.
        words: String,
    },
    /// A demo session plays through the same ear.
    Demo {
        /// Name of the session.
        name: String,
        /// It plays because no microphone was found, for this reason.
        missing: Option<String>,
    },
    /// A demo session plays, and a microphone has turned up meanwhile.
    Found,
    /// The recording or session came to its end.
    Over {
        /// How, in the listener's words.
        words: String,
    },
}

impl Source {
    /// What keeps the sound from being heard, in a few words; `None` where all is well.
    pub fn trouble(&self) -> Option<&'static str> {
        matches!(self, Self::Trouble { .. }).then_some("Nothing is heard")
    }

    /// Whether the player should look: nothing sounds, or a microphone waits to be taken.
    pub fn asks_for_attention(&self) -> bool {
        matches!(self, Self::Trouble { .. } | Self::Found | Self::Demo { missing: Some(_), .. })
    }

    /// What is the case, and what to do.
    pub fn said(&self) -> String {
        match self {
            Self::Opening => "Opening the microphone.".to_owned(),
            Self::Hearing { words } => sentence(words),
            Self::Trouble { words } => {
                format!("{} It is tried again all the time and taken up at once.", sentence(words))
            }
            Self::Demo { name, missing: Some(_) } => format!(
                "No microphone: the demo session “{name}” plays. Plug one in to play yourself."
            ),
            Self::Demo { name, missing: None } => {
                format!("Demo session “{name}”. M listens to the microphone.")
            }
            Self::Found => {
                "A microphone is there now: M leaves the demo session and listens to it.".to_owned()
            }
            Self::Over { words } => format!("{} M listens to the microphone.", sentence(words)),
        }
    }
}

/// `words` as a sentence: a capital at its start, a full stop at its end.
pub fn sentence(words: &str) -> String {
    let mut letters = words.trim().chars();
    let first: String = letters.next().map_or_else(String::new, |c| c.to_uppercase().collect());
    let end = if words.trim_end().ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{end}", letters.as_str())
}

/// The caution that is shown once, before the first note.
pub const CAUTION: &str = "Start loose. Stop at pain, numbness or tingling, and rest often. \
     Ask a teacher; for symptoms that stay, ask a clinician who knows musicians.";

/// `value` with a sign that stands for its direction; nothing rounds to "−0".
pub fn signed(value: f64, decimals: usize) -> String {
    let unit = 10f64.powi(i32::try_from(decimals).unwrap_or(0));
    let rounded = (value * unit).round() / unit;
    let digits = format!("{:.decimals$}", rounded.abs());
    if rounded > 0.0 {
        format!("+{digits}")
    } else if rounded < 0.0 {
        format!("−{digits}")
    } else {
        digits
    }
}

/// A doubt with one figure that counts: "±0.04", "±0.3", "±2"; "±?" where it cannot be told.
pub fn doubt(se: Option<f64>) -> String {
    match se {
        // Nothing is known without any doubt: a hundredth is the least that is told.
        Some(se) => format!("±{:.*}", decimals_of(Some(se)), se.max(0.01)),
        None => "±?".to_owned(),
    }
}

/// As many decimals as a value with this standard error deserves, at most two.
fn decimals_of(se: Option<f64>) -> usize {
    match se {
        Some(se) if se < 0.095 => 2,
        Some(se) if se < 0.95 => 1,
        Some(_) => 0,
        None => 1,
    }
}

/// "5.62 ±0.04 Hz".
pub fn hz(measure: Measure<Hz>) -> String {
    let se = measure.se.map(Hz::get);
    let digits = decimals_of(se);
    format!("{:.digits$} {} Hz", measure.value.0, doubt(se))
}

/// "31.0 ±0.4 cents".
pub fn cents(measure: Measure<Cents>) -> String {
    let se = measure.se.map(Cents::get);
    let digits = decimals_of(se).min(1);
    format!("{:.digits$} {} cents", measure.value.0, doubt(se))
}

/// "−4.2 ±0.3 cents".
pub fn signed_cents(measure: Measure<Cents>) -> String {
    let se = measure.se.map(Cents::get);
    let digits = decimals_of(se).min(1);
    format!("{} {} cents", signed(measure.value.0, digits), doubt(se))
}

/// "0.42 s".
pub fn secs(time: Secs) -> String {
    format!("{:.2} s", time.0)
}

/// "12 ±3 %", or "unknown".
pub fn percent(measure: Option<Measure<f64>>) -> String {
    let said = |measure: Measure<f64>| {
        let digits = decimals_of(measure.se).min(1);
        format!("{:.digits$} {} %", measure.value, doubt(measure.se))
    };
    measure.map_or_else(|| "unknown".to_owned(), said)
}

/// The measures of a note that ended, each with its caption, in the order they are read.
pub fn measures(note: &Note) -> Vec<(&'static str, String)> {
    match &note.vibrato {
        Some(vibrato) => vec![
            ("rate", hz(vibrato.rate)),
            ("width", cents(vibrato.width)),
            ("centre", signed_cents(vibrato.centre)),
            ("rate spread", percent(vibrato.rate_spread_pct)),
            ("width spread", percent(vibrato.width_spread_pct)),
            ("onset", secs(vibrato.onset.value)),
        ],
        None => vec![
            (
                "vibrato",
                if note.straight {
                    "none: straight".to_owned()
                } else {
                    "unknown: too little to tell".to_owned()
                },
            ),
            ("centre", signed_cents(note.offset)),
            ("unsteadiness", format!("{:.1} cents", note.unsteadiness.0)),
            ("length", secs(Secs(note.end.0 - note.start.0))),
        ],
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
pub fn against(stand: &Stand, midi: i32) -> String {
    let options = stand.options();
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
pub fn around(around: Around, note: &str) -> String {
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

/// How it stands with the take, and whether that asks for attention; `None` where none is kept.
pub fn take(take: &Take) -> Option<(String, bool)> {
    match take {
        Take::Off => None,
        Take::Ready => Some(("The next note starts a take.".to_owned(), false)),
        Take::Running => Some(("Recording a take.".to_owned(), false)),
        Take::Kept { name, length } => {
            let secs = length.0.round() as u64;
            let said = format!("Kept as {name}, {}:{:02}.", secs / 60, secs % 60);
            Some((said, false))
        }
        Take::Trouble(words) => Some((sentence(words), true)),
    }
}

/// Which passage the takes are of, and the key that ends this; `None` where they are of none or none is kept.
pub fn passage(stand: &Stand) -> Option<String> {
    let options = stand.options();
    let passage = options.passage().filter(|_| *stand.take() != Take::Off)?;
    let ends = options.keys.shown(Command::Task);
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
pub fn remarks(remarks: Remarks) -> Vec<&'static str> {
    [
        (remarks.two_strings, TWO_STRINGS),
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
pub const TWO_STRINGS: &str = "Two strings at once: not to be measured as one note.";
/// Said while the room smears the pitch.
pub const ROOM: &str =
    "The room blurs the pitch, the width reads too small: come within about 60 cm.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sign_is_shown_only_where_there_is_a_direction() {
        assert_eq!(signed(4.4, 0), "+4");
        assert_eq!(signed(-11.6, 0), "−12");
        assert_eq!(signed(-0.3, 0), "0");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(-0.06, 1), "−0.1");
    }

    #[test]
    fn a_value_has_the_decimals_its_doubt_deserves() {
        let rate = |se| Measure { value: Hz(5.624), se };
        assert_eq!(hz(rate(Some(Hz(0.04)))), "5.62 ±0.04 Hz");
        assert_eq!(hz(rate(Some(Hz(0.3)))), "5.6 ±0.3 Hz");
        assert_eq!(hz(rate(Some(Hz(2.0)))), "6 ±2 Hz");
        assert_eq!(hz(rate(None)), "5.6 ±? Hz");
        assert_eq!(hz(rate(Some(Hz(0.001)))), "5.62 ±0.01 Hz");
    }

    #[test]
    fn only_silence_that_is_a_fault_is_called_trouble() {
        let words = || "the microphone is gone".to_owned();
        let gone = Source::Trouble { words: words() };
        assert!(gone.trouble().is_some());
        assert!(gone.said().starts_with("The microphone is gone. "));
        assert!(Source::Hearing { words: words() }.trouble().is_none());
        assert!(Source::Opening.trouble().is_none());
    }

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
        assert_eq!(take(&Take::Off), None);
        let kept = Take::Kept { name: "evening".to_owned(), length: Secs(72.3) };
        assert_eq!(take(&kept), Some(("Kept as evening, 1:12.".to_owned(), false)));
        let (said, attention) = take(&Take::Trouble("the disk is full".to_owned())).expect("told");
        assert!(attention && said == "The disk is full.");
    }
}
