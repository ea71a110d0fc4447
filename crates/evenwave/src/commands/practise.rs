//! `evenwave practise`, and what stands in for it where no window can be opened.

use std::time::Instant;

use crate::arguments::PractiseArguments;
use crate::fault::Fault;
use crate::formats::sound_lines;
use crate::heard_file::hear_samples;
use crate::outputs::lines;
use crate::session::{FIRST_SESSION, Session};
use crate::words::aside;

/// Opens the window on the microphone or on a demo session.
pub(super) fn run(arguments: &PractiseArguments) -> Result<(), Fault> {
    let begun = Instant::now();
    let session = match &arguments.sound {
        Some(path) => Some(Session::of_file(path, arguments.speed.unwrap_or(1.0))?),
        None => arguments.demo.as_deref().map(Session::named).transpose()?,
    };
    let words = match open_window(session.clone(), arguments, begun) {
        Ok(ended) => return ended,
        Err(words) => words,
    };
    if !arguments.recordings.is_empty() {
        return Err(Fault::Failed(format!(
            "{words}; `evenwave journal add` takes recordings in without a window"
        )));
    }
    aside(words);
    let settings = arguments.ear.settings();
    let session = match session {
        Some(session) => session,
        None => Session::named(FIRST_SESSION)?,
    };
    aside(format!(
        "these are the measures of the demo session {}; `evenwave hear` listens without a window",
        session.name()
    ));
    let measured =
        hear_samples(session.samples(), session.sample_rate_hz(), settings, &mut |_| {})?;
    let record = measured.record(session.name().to_owned(), arguments.ear.naming());
    Ok(lines(&mut std::io::stdout().lock(), sound_lines(&record))?)
}

#[cfg(feature = "window")]
fn open_window(
    session: Option<Session>,
    arguments: &PractiseArguments,
    begun: Instant,
) -> Result<Result<(), Fault>, String> {
    crate::window::run(crate::window::Opening::of(arguments, session, begun))
}

#[cfg(not(feature = "window"))]
fn open_window(
    _: Option<Session>,
    _: &PractiseArguments,
    _: Instant,
) -> Result<Result<(), Fault>, String> {
    Err("this evenwave was built without its window".to_owned())
}
