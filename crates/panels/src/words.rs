//! How numbers, names and states are said, on the sheet and to a screen reader.

use tuning::{Cents, Hz, Secs};
use vibrato::{Measure, Note, Remarks};

/// What is listened to, or what keeps it from being so.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Source {
    /// Being opened.
    Opening,
    /// A microphone that delivers.
    Microphone {
        /// As the system calls it.
        name: String,
    },
    /// No microphone could be opened; it is tried again and again.
    NoMicrophone {
        /// What is wrong, as the sound system puts it.
        why: String,
    },
    /// The microphone that was heard is gone; it is tried again and again.
    Gone {
        /// What is wrong, as the sound system puts it.
        why: String,
    },
    /// The microphone is open but sends nothing.
    Stalled,
    /// A demo session plays through the same ear.
    Demo {
        /// Name of the session.
        name: String,
        /// It plays because no microphone was found.
        no_microphone: bool,
    },
    /// A demo session plays and a microphone has turned up meanwhile.
    MicrophoneFound,
    /// The sound came to its end.
    Over,
}

impl Source {
    /// Whether the picture starts from an empty sheet when `before` gives way to this source: time
    /// is counted anew, so old and new must not stand on one sheet.
    pub fn begins_anew(&self, before: &Self) -> bool {
        let from_demo = matches!(before, Self::Demo { .. } | Self::MicrophoneFound);
        match self {
            Self::Microphone { .. } => from_demo,
            Self::Demo { .. } => !from_demo,
            _ => false,
        }
    }

    /// Whether the player has to do something.
    pub fn in_trouble(&self) -> bool {
        matches!(
            self,
            Self::NoMicrophone { .. } | Self::Gone { .. } | Self::Stalled
        )
    }

    /// What is the case, and what to do.
    pub fn said(&self) -> String {
        match self {
            Self::Opening => "Opening the microphone.".to_owned(),
            Self::Microphone { name } => format!("Listening to {name}."),
            Self::NoMicrophone { why } => format!(
                "No microphone: {why}. Plug one in or switch it on; it is taken up at once."
            ),
            Self::Gone { why } => {
                format!("The microphone is gone: {why}. Plug it in again; it is taken up at once.")
            }
            Self::Stalled => {
                "The microphone sends nothing. Is it muted, or held by another program?".to_owned()
            }
            Self::Demo {
                name,
                no_microphone: true,
            } => format!(
                "No microphone found: you see the demo session {name}. Plug one in to play yourself."
            ),
            Self::Demo {
                name,
                no_microphone: false,
            } => format!("Demo session {name}."),
            Self::MicrophoneFound => {
                "A microphone is there now. It is taken up when the demo session ends.".to_owned()
            }
            Self::Over => "The sound has come to its end.".to_owned(),
        }
    }
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
        Some(se) => format!("±{:.*}", decimals_of(Some(se)), se),
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
    measure.map_or_else(
        || "unknown".to_owned(),
        |m| {
            format!(
                "{:.0} ±{} %",
                m.value,
                m.se.map_or("?".to_owned(), |se| format!("{se:.0}"))
            )
        },
    )
}

/// The measures of a note that ended, each with its caption, in the order they are read.
pub fn measures(note: &Note) -> Vec<(&'static str, String)> {
    let length = ("length", secs(Secs(note.end.0 - note.start.0)));
    match &note.vibrato {
        Some(vibrato) => vec![
            ("rate", hz(vibrato.rate)),
            ("width", cents(vibrato.width)),
            ("centre", signed_cents(vibrato.centre)),
            ("rate spread", percent(vibrato.rate_spread_pct)),
            ("width spread", percent(vibrato.width_spread_pct)),
            ("onset", secs(vibrato.onset.value)),
            length,
        ],
        None => vec![
            (
                "vibrato",
                if note.straight {
                    "none: straight".to_owned()
                } else {
                    "unknown: too short to tell".to_owned()
                },
            ),
            ("centre", signed_cents(note.offset)),
            ("unsteadiness", format!("{:.1} cents", note.unsteadiness.0)),
            length,
        ],
    }
}

/// What stood out in a note, each with what to do.
pub fn remarks(remarks: Remarks) -> Vec<&'static str> {
    [
        (remarks.two_strings, TWO_STRINGS),
        (remarks.room, ROOM),
        (
            remarks.clipped,
            "The sound was clipped: turn the microphone's level down.",
        ),
        (
            remarks.lost,
            "Some of the sound was lost: close other programs.",
        ),
        (
            remarks.cut,
            "The note was too long to be measured as one: this is its first part.",
        ),
    ]
    .into_iter()
    .filter_map(|(is_so, said)| is_so.then_some(said))
    .collect()
}

/// Said while two strings sound at once.
pub const TWO_STRINGS: &str = "Two strings at once: not to be measured as one note.";
/// Said while the room smears the pitch.
pub const ROOM: &str =
    "The room blurs the pitch, so the width reads too small: come within about 60 cm.";

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
        let rate = |se| Measure {
            value: Hz(5.624),
            se,
        };
        assert_eq!(hz(rate(Some(Hz(0.04)))), "5.62 ±0.04 Hz");
        assert_eq!(hz(rate(Some(Hz(0.3)))), "5.6 ±0.3 Hz");
        assert_eq!(hz(rate(Some(Hz(2.0)))), "6 ±2 Hz");
        assert_eq!(hz(rate(None)), "5.6 ±? Hz");
    }

    #[test]
    fn the_sheet_starts_anew_only_where_time_does() {
        let microphone = Source::Microphone { name: "x".into() };
        let demo = Source::Demo {
            name: "y".into(),
            no_microphone: true,
        };
        assert!(microphone.begins_anew(&demo));
        assert!(microphone.begins_anew(&Source::MicrophoneFound));
        assert!(!microphone.begins_anew(&Source::Stalled));
        assert!(!Source::MicrophoneFound.begins_anew(&demo));
    }

    #[test]
    fn no_remark_no_words() {
        assert!(remarks(Remarks::default()).is_empty());
        let room = Remarks {
            room: true,
            ..Remarks::default()
        };
        assert!(remarks(room)[0].contains("60 cm"));
    }
}
