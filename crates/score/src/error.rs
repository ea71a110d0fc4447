//! Why a score cannot be read, in words.

use thiserror::Error;

/// Why a score cannot be read, or not become a passage.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ScoreError {
    /// There is more of it than a score can hold.
    #[error("{what} holds more than {most}, and no score needs so much; {mend}")]
    TooLarge {
        /// What holds too much.
        what: &'static str,
        /// How much is read, with its unit.
        most: String,
        /// What can be done.
        mend: &'static str,
    },
    /// The file is of another kind, or damaged.
    #[error("{what}; {mend}")]
    Form {
        /// What is wrong.
        what: String,
        /// What can be done.
        mend: &'static str,
    },
    /// A choice between parts, voices or bars does not fit.
    #[error("{0}")]
    Choice(String),
    /// The notes are no passage.
    #[error(transparent)]
    Plan(#[from] coach::plan::PlanFault),
}

/// What helps with most files: to let the program that wrote them write them again.
pub(crate) const WRITE_AGAIN: &str = "save the score again as MusicXML";
/// What helps where a file is no MusicXML.
pub(crate) const NAME_MUSICXML: &str = "give a file ending in .musicxml, .xml or .mxl";

impl ScoreError {
    pub(crate) fn form(what: impl Into<String>) -> Self {
        Self::Form { what: what.into(), mend: WRITE_AGAIN }
    }
}
