//! A line as its words, each with its column.

use super::fault::TextFault;

/// A word of a line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Word<'t> {
    pub(super) text: &'t str,
    pub(super) line: usize,
    /// From 1.
    pub(super) column: usize,
}

impl Word<'_> {
    /// A fault at this word.
    pub(super) fn fault(&self, what: impl Into<String>) -> TextFault {
        TextFault { line: self.line, column: self.column, what: what.into() }
    }
}

/// A line without its comment: `#` begins one at the start of a line or after two blanks, so that F# stays a note.
pub(super) fn without_comment(line: &str) -> &str {
    let starts = |(at, _): &(usize, &str)| {
        let before = &line[..*at];
        before.trim().is_empty() || before.ends_with("  ") || before.ends_with('\t')
    };
    line.match_indices('#').find(starts).map_or(line, |(at, _)| &line[..at])
}

/// The words of a line. A comma is a word of its own.
pub(super) fn words(text: &str, line: usize) -> Vec<Word<'_>> {
    let mut words: Vec<Word<'_>> = Vec::new();
    let mut start: Option<(usize, usize)> = None;
    let mut push = |from: Option<(usize, usize)>, to: usize| {
        if let Some((at, column)) = from {
            words.push(Word { text: &text[at..to], line, column });
        }
    };
    for (column, (at, sign)) in text.char_indices().enumerate() {
        if sign == ',' || sign.is_whitespace() {
            push(start.take(), at);
            if sign == ',' {
                push(Some((at, column + 1)), at + 1);
            }
        } else if start.is_none() {
            start = Some((at, column + 1));
        }
    }
    push(start, text.len());
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sharp_is_no_comment_and_columns_are_counted_in_signs() {
        assert_eq!(without_comment("bar 1 F# 1, F#3 2  # why"), "bar 1 F# 1, F#3 2  ");
        assert_eq!(without_comment("  # all of it"), "  ");
        let found: Vec<(String, usize)> =
            words("é F♯3 1,C4", 1).iter().map(|word| (word.text.to_owned(), word.column)).collect();
        let expected = [("é", 1), ("F♯3", 3), ("1", 7), (",", 8), ("C4", 9)];
        assert_eq!(found, expected.map(|(text, column)| (text.to_owned(), column)));
    }
}
