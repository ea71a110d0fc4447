//! Straight notes against narrow vibrato.

use crate::Run;
use crate::sheet::{Sheet, number};
use vibrato::Motion;
use whole_chain::corpus::{Register, nearly_straight};
use whole_chain::listening::HeardSound;
use whole_chain::scoring::{fitted, percent, quantile};

/// Width read over the second from 0.15 s on, by a fit to the pitch track without quadratic trend.
fn width_read(heard: &HeardSound) -> f64 {
    let note = &heard.true_notes()[0];
    let from = note.start.get() + 0.15;
    let [track, _] = heard.tracks(note);
    let points: Vec<(f64, f64)> =
        track.into_iter().filter(|p| p.0 >= from && p.0 <= from + 1.0).collect();
    fitted(&points, 2).map_or(f64::INFINITY, |fit| fit.width)
}

/// Whether the live state says vibrato once a second of the note has been heard.
fn moving_after_a_second(heard: &HeardSound) -> bool {
    let at = heard.true_notes()[0].start.get() + 1.05;
    let live = heard.live.iter().rfind(|live| live.time.get() <= at);
    live.is_some_and(|live| matches!(live.motion, Motion::Vibrato { .. }))
}

/// Width stated for the finished note; 0 for a straight one.
fn width_stated(heard: &HeardSound) -> f64 {
    let note = heard.heard_note(&heard.true_notes()[0]);
    note.map_or(f64::INFINITY, |note| note.vibrato.as_ref().map_or(0.0, |v| v.width.value.get()))
}

/// Section 3 of the figures.
pub(crate) fn measure(run: &Run, sheet: &mut Sheet) -> Result<(), tone::SpecError> {
    sheet.head("3 Straight notes (30 dB, wander 1.5 c) against 5 c of vibrato");
    let (mut straight, mut narrow) = (Vec::new(), Vec::new());
    for register in Register::MAIN {
        straight.extend(run.hear(&nearly_straight(run.seed, register, 0.0, run.count(40)))?);
        narrow.extend(run.hear(&nearly_straight(run.seed, register, 5.0, run.count(40)))?);
    }
    let read: Vec<f64> = straight.iter().map(width_read).collect();
    let p95 = quantile(&read, 0.95);
    sheet.tell(&format!("track: width read on {} straight, p95", read.len()), &number(p95, "c"));
    let line = p95.unwrap_or(f64::INFINITY);
    let found = percent(&narrow, |heard| width_read(heard) > line);
    sheet.at_least("track: 5 c found at 5 % false alarms, 1 s", Some(found), "%", 95.0);
    let stated = percent(&straight, |heard| width_stated(heard) < 3.0);
    sheet.at_least("note: straight ones stated under 3 c", Some(stated), "%", 95.0);
    let called = percent(&straight, |heard| {
        heard.heard_note(&heard.true_notes()[0]).is_some_and(|note| note.straight())
    });
    sheet.at_least("note: straight ones called straight", Some(called), "%", 95.0);
    let vibrated = percent(&narrow, |heard| {
        heard.heard_note(&heard.true_notes()[0]).is_some_and(|note| note.vibrato.is_some())
    });
    sheet.at_least("note: 5 c called vibrato", Some(vibrated), "%", 95.0);
    let alarms = percent(&straight, moving_after_a_second);
    sheet.at_most("live: straight taken for vibrato after 1 s", Some(alarms), "%", 5.0);
    let hits = percent(&narrow, moving_after_a_second);
    sheet.at_least("live: 5 c found after 1 s", Some(hits), "%", 95.0);
    Ok(())
}
