//! `evenwave practise`, and what stands in for it where no window can be opened.

use std::time::Instant;

use late_sound::Excerpt;
use tuning::Secs;
use vibrato::Settings;

use crate::arguments::PractiseArguments;
use crate::chain::Chain;
use crate::fault::Fault;
use crate::formats::sound_lines;
use crate::heard_file::Measured;
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
    let measured = measure_session(&session, settings)?;
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

/// Measures a session at once, as a file would be.
fn measure_session(session: &Session, settings: Settings) -> Result<Measured, Fault> {
    let rate_hz = session.sample_rate_hz();
    let mut chain =
        Chain::new(rate_hz, settings).map_err(|error| Fault::Failed(error.to_string()))?;
    let mut notes = Vec::new();
    let mut report = |_, ended: Option<Excerpt>| {
        notes.extend(ended.map(|ended| ended.look_again().0));
    };
    chain.push(0, session.samples(), &mut report);
    chain.finish(&mut report);
    Ok(Measured {
        sample_rate_hz: rate_hz,
        duration: Some(Secs(session.samples().len() as f64 / f64::from(rate_hz))),
        zero: Secs(0.0),
        notes,
        lost: Vec::new(),
        remarks: Vec::new(),
    })
}
