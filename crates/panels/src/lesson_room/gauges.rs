//! The gauges of rate and width, with the model's band as the wanted one.

use super::state::LessonRoom;
use crate::stand::Stand;
use coach::band;
use pictures::gauge::{Gauge, MARKS, Reading};
use pictures::{RATE, WIDTH};
use tuning::{Cents, Hz};
use vibrato::{Motion, Note, Oscillation};

/// Rate and width of the note that sounds, or of the note that is looked at.
pub(super) fn gauges(room: &LessonRoom, stand: &Stand) -> [Gauge; 2] {
    let model = room.lesson().model().and_then(|model| model.notes.get(room.note()));
    let bands = model.and_then(|note| note.vibrato.as_ref()).map(band);
    let sounding = room.lesson().current().is_some();
    let (readings, oscillations, live) = if !room.revealed(stand.shell.options().showing) {
        ([Reading::Hidden; 2], Vec::new(), true)
    } else if sounding {
        let picture = stand.picture();
        let motion = match crate::stand::gauges::motions(picture) {
            crate::stand::gauges::Motions::Live(motion)
            | crate::stand::gauges::Motions::Last(motion) => motion,
            crate::stand::gauges::Motions::Silent => Motion::Unknown,
        };
        let marks = picture.oscillations.iter().copied().collect();
        (of_motion(motion), marks, true)
    } else {
        match looked_at(room) {
            Some(note) => (of_note(note), last(note), false),
            None => ([Reading::Silent; 2], Vec::new(), false),
        }
    };
    let [rate, width] = readings;
    // Of a note that is looked at the caption says whose it is.
    let names = match (live, room.shown_echo()) {
        (true, _) => ["rate", "width"],
        (false, Some(_)) => ["echo's rate", "echo's width"],
        (false, None) => ["model's rate", "model's width"],
    };
    [
        Gauge {
            name: names[0],
            unit: "Hz",
            scale: RATE,
            decimals: 1,
            signed: false,
            reading: rate,
            wanted: bands.map(|(rate, _)| (rate.0.0, rate.1.0)),
            marks: oscillations.iter().map(|o| 1.0 / o.period.0).collect(),
            live: true,
        },
        Gauge {
            name: names[1],
            unit: "cents",
            scale: WIDTH,
            decimals: 0,
            signed: false,
            reading: width,
            wanted: bands.map(|(_, width)| (width.0.0, width.1.0)),
            marks: oscillations.iter().map(|o| o.crest.0 - o.trough.0).collect(),
            live: true,
        },
    ]
}

/// The note of the echo that answers the note looked at; of the model, before there is an echo.
fn looked_at(room: &LessonRoom) -> Option<&Note> {
    match room.shown_echo() {
        Some(_) => {
            let (comparison, pair) = room.shown_pair()?;
            comparison.echo.get(pair.echo)
        }
        None => room.lesson().model()?.notes.get(room.note()),
    }
}

fn of_note(note: &Note) -> [Reading; 2] {
    of_motion(note.motion())
}

fn of_motion(motion: Motion) -> [Reading; 2] {
    match motion {
        Motion::Unknown => [Reading::Unknown; 2],
        Motion::Straight => [Reading::Said("straight"); 2],
        Motion::Glides(_) => [Reading::Said("glides"); 2],
        Motion::Moves => [Reading::Said("moves"); 2],
        Motion::Vibrato { rate, width } => [
            Reading::Value { value: rate.value.0, se: rate.se.map(Hz::get) },
            Reading::Value { value: width.value.0, se: width.se.map(Cents::get) },
        ],
    }
}

fn last(note: &Note) -> Vec<Oscillation> {
    let all = note.vibrato.as_ref().map(|vibrato| &vibrato.oscillations);
    let all = all.map_or(&[][..], Vec::as_slice);
    let from = all.len().saturating_sub(MARKS);
    all[from..].to_vec()
}
