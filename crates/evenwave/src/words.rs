//! What the command line says in words.

use std::fmt::Display;
use std::io::{self, Write};
use std::sync::OnceLock;

use tuning::{Naming, pitch_name};
use vibrato::{Note, Remarks};

/// The remarks about a note, one sentence each, in the order of their weight.
pub(crate) fn remarks(note: &Note, naming: Naming) -> Vec<String> {
    let Remarks { two_strings, still, room, clipped, lost, cut, unlike_bow } = note.remarks;
    let rebows = note.rebows.len();
    [
        (
            two_strings,
            match still {
                Some(midi) => format!(
                    "two strings: {} still, {} measured beside it",
                    pitch_name(midi, naming),
                    pitch_name(note.midi, naming)
                ),
                None => "two strings sound at once: the measures are not to be trusted; play one string"
                    .to_owned(),
            },
        ),
        (
            clipped,
            "the sound reaches full scale: lower the input level".to_owned(),
        ),
        (
            room,
            "the room is loud and leaves the width in doubt: come within about 60 cm of the microphone"
                .to_owned(),
        ),
        (lost, "samples were lost within the note".to_owned()),
        (
            cut,
            "the note is longer than can be measured as one: it is cut here".to_owned(),
        ),
        (unlike_bow >= Remarks::UNLIKE, "this does not sound bowed".to_owned()),
        (
            rebows > 0,
            format!(
                "re-bowed {}",
                if rebows == 1 { "once".to_owned() } else { format!("{rebows} times") }
            ),
        ),
    ]
    .into_iter()
    .filter_map(|(applies, words)| applies.then_some(words))
    .collect()
}

/// Says it on the error stream, in one line. A name in it can hold anything, and must not command the terminal. Where
/// nobody listens, the work goes on all the same.
pub(crate) fn aside(said: impl Display) {
    let line = format!("evenwave: {}\n", on_one_line(&said.to_string()));
    io::stderr().write_all(line.as_bytes()).ok();
}

/// Why the first of the lines that were not written by [`say`] was not.
static UNSAID: OnceLock<io::Error> = OnceLock::new();

/// Says on the standard output what was done. Where it cannot be written the work goes on all the same;
/// [`all_said`] tells at its end.
pub(crate) fn say(done: impl Display) {
    let line = format!("{}\n", on_one_line(&done.to_string()));
    if let Err(error) = io::stdout().write_all(line.as_bytes()) {
        UNSAID.set(error).ok();
    }
}

/// Whether all that was to be said was written.
pub(crate) fn all_said() -> io::Result<()> {
    UNSAID.get().map_or(Ok(()), |error| {
        Err(error.raw_os_error().map_or_else(|| error.kind().into(), io::Error::from_raw_os_error))
    })
}

/// The same words on one line. Signs that a terminal obeys, or that turn the direction of reading, are shown as escapes.
pub(crate) fn on_one_line(words: &str) -> String {
    let mut line = String::with_capacity(words.len());
    for sign in words.chars() {
        match sign {
            '\n' | '\r' | '\t' => line.push(' '),
            sign if is_unseen(sign) => line.extend(sign.escape_unicode()),
            sign => line.push(sign),
        }
    }
    line
}

/// Signs that are not seen themselves but change what is: controls, line ends, and those of direction (Unicode Standard
/// Annex 9).
pub(crate) fn is_unseen(sign: char) -> bool {
    matches!(sign, '\u{61C}' | '\u{200E}' | '\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
        || sign.is_control()
}

/// `1 note`, `2 notes`.
pub(crate) fn counted(count: usize, one: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {one}s") }
}

/// That so many takes cannot be read. Whose they are and when they were played is not known then.
pub(crate) fn unread_said(count: usize) -> String {
    let are = if count == 1 { "is" } else { "are" };
    format!(
        "{} in the journal cannot be read and {are} left out, and whose is not known; `evenwave journal verify` says why",
        counted(count, "take")
    )
}
