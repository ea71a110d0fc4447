//! Single fields of a drill file: numbers within their limits, fingers, notes, instruments. What is wrong with one is
//! told where it stands.

use serde::de::Error as _;
use serde::{Deserialize, Deserializer};
use tuning::midi_from_name;

use crate::drill::{BPM, OSCILLATIONS, PER_BEAT, RATES_HZ, WIDTHS};

/// The thumb and the four fingers.
pub(super) const FINGERS: usize = 5;
/// Instruments a place can be given for.
const INSTRUMENTS: [&str; 4] = ["violin", "viola", "cello", "double-bass"];

/// A number within limits, told as such where it stands.
macro_rules! limited {
    ($name:ident, $kind:ty, $check:expr) => {
        #[derive(Clone, Copy, PartialEq, PartialOrd)]
        pub(super) struct $name(pub $kind);

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                let value = <$kind>::deserialize(from)?;
                let check: fn($kind) -> Option<String> = $check;
                match check(value) {
                    None => Ok(Self(value)),
                    Some(what) => Err(D::Error::custom(what)),
                }
            }
        }
    };
}

pub(super) fn outside(
    what: &str,
    value: f64,
    (low, high): (f64, f64),
    unit: &str,
) -> Option<String> {
    (!(low..=high).contains(&value))
        .then(|| format!("{what} {value} is outside {low} to {high} {unit}; write one within"))
}

limited!(Bpm, f64, |bpm| outside("a pace of", bpm, BPM, "beats per minute"));
limited!(Rate, f64, |hz| outside("a rate of", hz, RATES_HZ, "Hz"));
limited!(Width, f64, |cents| outside("a width of", cents, WIDTHS, "cents"));
limited!(Within, f64, |cents| outside("a limit of", cents, (0.5, 50.0), "cents"));
limited!(Beats, f64, |beats| outside("a length of", beats, (0.5, 64.0), "beats"));
limited!(Times, u32, |count| {
    let (least, most) = OSCILLATIONS;
    (!(least..=most).contains(&count)).then(|| {
        format!("a count of {count} is outside {least} to {most}; write a whole number within")
    })
});
limited!(PerBeat, f64, |per_beat| {
    (!PER_BEAT.contains(&per_beat)).then(|| {
        format!("{per_beat} oscillations per beat are not known; write 1, 2, 3, 4, 6 or 0.5")
    })
});

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Finger(pub u8);

impl<'de> Deserialize<'de> for Finger {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let number = i64::deserialize(from)?;
        match u8::try_from(number) {
            Ok(finger) if usize::from(finger) < FINGERS => Ok(Self(finger)),
            _ => Err(D::Error::custom(format!(
                "there is no finger {number}; write 1 to 4, or 0 for the thumb"
            ))),
        }
    }
}

pub(super) struct NoteName(pub i32);

impl<'de> Deserialize<'de> for NoteName {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let name = String::deserialize(from)?;
        midi_from_name(&name).map(Self).map_err(D::Error::custom)
    }
}

#[derive(PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct InstrumentName(pub String);

impl<'de> Deserialize<'de> for InstrumentName {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let name = String::deserialize(from)?;
        if INSTRUMENTS.contains(&name.as_str()) {
            return Ok(Self(name));
        }
        Err(D::Error::custom(format!(
            "no instrument is called \"{name}\" here; write {}",
            INSTRUMENTS.join(", ")
        )))
    }
}

pub(super) fn four() -> u32 {
    4
}

pub(super) fn some_words<'de, D: Deserializer<'de>>(from: D) -> Result<String, D::Error> {
    let words = String::deserialize(from)?;
    if words.trim().is_empty() {
        return Err(D::Error::custom("the drill has no title; write one"));
    }
    Ok(words)
}

pub(super) fn count_in<'de, D: Deserializer<'de>>(from: D) -> Result<u32, D::Error> {
    let beats = u32::deserialize(from)?;
    if beats > 8 {
        return Err(D::Error::custom(format!(
            "a count-in of {beats} beats is too long; write 0 to 8"
        )));
    }
    Ok(beats)
}

pub(super) fn within<'de, D: Deserializer<'de>>(
    from: D,
    what: &str,
    limits: (f64, f64),
    unit: &str,
) -> Result<Option<f64>, D::Error> {
    let value = Option::<f64>::deserialize(from)?;
    match value.and_then(|value| outside(what, value, limits, unit)) {
        None => Ok(value),
        Some(what) => Err(D::Error::custom(what)),
    }
}

/// A limit of gaps: nothing is said of it, or what is said.
#[derive(Clone, Copy)]
pub(super) enum WrittenGap {
    Unsaid,
    /// `None`: gaps may be as long as they like.
    Said(Option<f64>),
}

pub(super) fn gap<'de, D: Deserializer<'de>>(from: D) -> Result<WrittenGap, D::Error> {
    within(from, "a gap of", (0.1, 8.0), "oscillations").map(WrittenGap::Said)
}

pub(super) fn gap_secs<'de, D: Deserializer<'de>>(from: D) -> Result<WrittenGap, D::Error> {
    within(from, "a gap of", (0.05, 5.0), "seconds").map(WrittenGap::Said)
}

/// What may be left out, and is written without `Some` where it is not.
pub(super) fn given<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Within>, D::Error> {
    Within::deserialize(from).map(Some)
}

pub(super) fn pace_off<'de, D: Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    within(from, "a rate off by", (2.0, 100.0), "percent")
}

pub(super) fn beside<'de, D: Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    within(from, "a finger beside its note by", (2.0, 50.0), "cents")
}

pub(super) fn points<'de, D: Deserializer<'de>>(from: D) -> Result<Option<f64>, D::Error> {
    within(from, "a spread of", (1.0, 100.0), "points of percent")
}
