//! What is wrong with a passage that was typed, and where.

use std::fmt;

use thiserror::Error;

/// Faults that are told of one text.
pub(super) const MOST_FAULTS: usize = 20;

/// One thing that is wrong.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("line {line}, column {column}: {what}")]
pub struct TextFault {
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// What stands there, and what could.
    pub what: String,
}

/// All that is wrong with a text, in its order: at least one thing, at most twenty.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
pub struct TextFaults(pub Vec<TextFault>);

impl fmt::Display for TextFaults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (number, fault) in self.0.iter().enumerate() {
            if number > 0 {
                writeln!(f)?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}
