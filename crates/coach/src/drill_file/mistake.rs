//! What is wrong with a drill file, and where.

use thiserror::Error;

/// What is wrong with a drill file, and where.
#[derive(Clone, Debug, Error, PartialEq, Eq)]
#[error("line {line}, column {column}: {what}: {file}")]
pub struct DrillFileError {
    /// The file, as it was named.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column, from 1.
    pub column: usize,
    /// What is wrong and how to mend it.
    pub what: String,
}

pub(super) fn start(error: &ron::error::SpannedError) -> (usize, usize) {
    (error.span.start.line, error.span.start.col)
}

pub(super) fn words(error: &ron::error::SpannedError) -> String {
    match &error.code {
        ron::Error::Message(own) => own.clone(),
        other => {
            let what = other.to_string();
            let mut letters = what.chars();
            let first = letters.next().map(|c| c.to_ascii_lowercase());
            let what: String = first.into_iter().chain(letters).collect();
            format!("{what}; compare with the shipped drills")
        }
    }
}

/// Where the value of a field stands; the start of the file if there is no such field.
pub(super) fn place_of(text: &str, key: &str) -> (usize, usize) {
    let (mut line, mut start) = (1, 0);
    let (mut quoted, mut comment) = (false, false);
    let bytes = text.as_bytes();
    for (i, byte) in bytes.iter().enumerate() {
        match byte {
            b'\n' => {
                (line, start, comment) = (line + 1, i + 1, false);
            }
            b'"' if !comment => quoted = !quoted,
            b'/' if !quoted && bytes.get(i + 1) == Some(&b'/') => comment = true,
            _ if !quoted && !comment && text.is_char_boundary(i) && text[i..].starts_with(key) => {
                let before = i.checked_sub(1).map(|i| bytes[i]);
                let whole = before.is_none_or(|b| !b.is_ascii_alphanumeric() && b != b'_');
                let rest = &text[i + key.len()..];
                let value = rest.trim_start().strip_prefix(':').map(str::trim_start);
                if let Some(value) = value.filter(|_| whole) {
                    let at = text.len() - value.len();
                    let skipped = text[i..at].matches('\n').count();
                    let from = if skipped > 0 {
                        text[..at].rfind('\n').map_or(0, |n| n + 1)
                    } else {
                        start
                    };
                    return (line + skipped, text[from..at].chars().count() + 1);
                }
            }
            _ => {}
        }
    }
    (1, 1)
}
