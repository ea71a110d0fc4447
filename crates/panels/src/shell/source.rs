//! What is listened to, and what is said of it.

use tuning::figure::sentence;

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
        /// The demo session can be played meanwhile.
        demo: bool,
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

    /// Whether no sound comes any more.
    pub fn is_silent(&self) -> bool {
        matches!(self, Self::Trouble { .. } | Self::Over { .. })
    }

    /// Whether the player should look: nothing sounds, or a microphone waits to be taken.
    pub fn asks_for_attention(&self) -> bool {
        matches!(self, Self::Trouble { .. } | Self::Found | Self::Demo { missing: Some(_), .. })
    }

    /// What is the case, and what to do.
    pub fn wording(&self) -> String {
        match self {
            Self::Opening => "Opening the microphone.".to_owned(),
            Self::Hearing { words } => sentence(words),
            Self::Trouble { words, demo } => format!(
                "{} evenwave keeps trying and starts by itself.{}",
                sentence(words),
                if *demo { " M plays the demo session meanwhile." } else { "" }
            ),
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_silence_that_is_a_fault_is_called_trouble() {
        let words = || "the microphone is gone".to_owned();
        let gone = Source::Trouble { words: words(), demo: false };
        assert!(gone.trouble().is_some());
        assert!(gone.wording().starts_with("The microphone is gone. "));
        assert!(!gone.wording().contains("demo session"));
        let absent = Source::Trouble { words: words(), demo: true };
        assert!(absent.wording().ends_with(" M plays the demo session meanwhile."));
        assert!(Source::Hearing { words: words() }.trouble().is_none());
        assert!(Source::Opening.trouble().is_none());
    }
}
