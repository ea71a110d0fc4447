//! The gauges of the Stand: rate and width of what sounds now or sounded last.

use super::picture::{Picture, Sounding};
use super::state::Stand;
use super::steadiness;
use pictures::gauge::{Gauge, Reading};
use pictures::{RATE, WIDTH};
use tuning::{Cents, Hz};
use vibrato::{Measure, Motion};

/// Rate and width of what sounds now or sounded last, and whether it is live.
pub(crate) enum Motions {
    /// Nothing sounds and nothing has sounded.
    Silent,
    /// It sounds now.
    Live(Motion),
    /// It sounded last.
    Last(Motion),
}

/// The motion of what sounds now or sounded last.
pub(crate) fn motions(picture: &Picture) -> Motions {
    match picture.sounding {
        Sounding::Note(live) => Motions::Live(live.motion),
        Sounding::Begun(_) => Motions::Live(Motion::Unknown),
        Sounding::Silence => match &picture.last {
            None => Motions::Silent,
            Some(note) => Motions::Last(note.motion()),
        },
    }
}

fn reading_of(
    motion: Motion,
    value: impl Fn(Measure<Hz>, Measure<Cents>) -> Measure<f64>,
) -> Reading {
    match motion {
        Motion::Unknown => Reading::Unknown,
        Motion::Straight => Reading::Said("straight"),
        Motion::Glides(_) => Reading::Said("glides"),
        Motion::Moves => Reading::Said("moves"),
        Motion::Vibrato { rate, width } => {
            let Measure { value, se } = value(rate, width);
            Reading::Value { value, se }
        }
    }
}

fn read(
    stand: &Stand,
    value: impl Fn(Measure<Hz>, Measure<Cents>) -> Measure<f64>,
) -> (Reading, bool) {
    if !stand.revealed() {
        return (Reading::Hidden, true);
    }
    match motions(stand.picture()) {
        Motions::Silent => (Reading::Silent, false),
        Motions::Live(motion) => (reading_of(motion, value), true),
        Motions::Last(motion) => (reading_of(motion, value), false),
    }
}

/// The first gauge: of the rate, or of the offset of a note without vibrato.
pub(crate) fn first(stand: &Stand) -> Gauge {
    if stand.without_vibrato() { steadiness::offset(stand) } else { rate(stand) }
}

/// The gauge of the rate.
pub(crate) fn rate(stand: &Stand) -> Gauge {
    let picture = stand.picture();
    let (reading, live) =
        read(stand, |rate, _| Measure { value: rate.value.0, se: rate.se.map(Hz::get) });
    Gauge {
        name: "rate",
        unit: "Hz",
        scale: RATE,
        decimals: 1,
        signed: false,
        reading,
        wanted: stand.shell.options().wanted.rate.map(|(from, to)| (from.0, to.0)),
        marks: picture.oscillations.iter().map(|oscillation| 1.0 / oscillation.period.0).collect(),
        live,
    }
}

/// The gauge of the width.
pub(crate) fn width(stand: &Stand) -> Gauge {
    let picture = stand.picture();
    let (reading, live) =
        read(stand, |_, width| Measure { value: width.value.0, se: width.se.map(Cents::get) });
    Gauge {
        name: "width",
        unit: "cents",
        scale: WIDTH,
        decimals: 0,
        signed: false,
        reading,
        wanted: stand.shell.options().wanted.width.map(|(from, to)| (from.0, to.0)),
        marks: picture
            .oscillations
            .iter()
            .map(|oscillation| oscillation.crest.0 - oscillation.trough.0)
            .collect(),
        live,
    }
}
