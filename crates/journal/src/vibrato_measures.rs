//! The vibrato of a note as it is written: each measure under its key, `rate_hz: (5.5, Some(0.02))`.

use std::fmt;
use std::sync::LazyLock;

use serde::de::{self, Deserializer, MapAccess, Visitor};
use serde::ser::{SerializeStruct, Serializer};
use serde::{Deserialize, Serialize};
use tuning::{Cents, Hz, Secs};
use vibrato::{ContourPoint, Measure, Measures, Of, Oscillation, Quantity, Unit, Vibrato};

use crate::measured::{HERTZ, Measured, REST, SECS, can_be, round};

/// The vibrato of a note; times in seconds from the start of the sound, pitches in Hz, the rest in cents or percent.
#[derive(Clone, Debug, PartialEq)]
pub struct VibratoMeasures {
    /// Its measures, rounded.
    pub measures: Measures,
    /// Time, rate and width, each 0.1 s.
    pub contour: Vec<(f64, f64, f64)>,
    /// Start, period, crest and trough of each oscillation.
    pub oscillations: Vec<(f64, f64, f64, f64)>,
}

/// The measures that are written; what is computed from the oscillations is computed again.
fn written() -> impl Iterator<Item = Quantity> {
    Quantity::of_vibrato().filter(|quantity| matches!(quantity.row().of, Of::Vibrato))
}

/// Decimals that are kept.
fn decimals(quantity: Quantity) -> i32 {
    match quantity.row().unit {
        Unit::Seconds => SECS,
        Unit::Hertz => HERTZ,
        _ => REST,
    }
}

impl VibratoMeasures {
    pub(crate) fn of(vibrato: &Vibrato) -> Self {
        let rounded = |quantity: Quantity| {
            let rounded = |value| round(value, decimals(quantity));
            let measure = vibrato.get(quantity).map(|measure| Measure {
                value: rounded(measure.value),
                se: measure.se.map(rounded),
            });
            (quantity, measure)
        };
        let points = vibrato.contour.iter().map(|point| {
            (round(point.time.0, SECS), round(point.rate.0, HERTZ), round(point.width.0, REST))
        });
        let oscillations = vibrato.oscillations.iter().map(|o| {
            (
                round(o.start.0, SECS),
                round(o.period.0, SECS),
                round(o.crest.0, REST),
                round(o.trough.0, REST),
            )
        });
        Self {
            measures: written().map(rounded).collect(),
            contour: points.collect(),
            oscillations: oscillations.collect(),
        }
    }

    /// The live shape; `None` where a measure is missing that each vibrato has.
    pub(crate) fn vibrato(&self) -> Option<Vibrato> {
        let points = self.contour.iter().map(|&(time, rate, width)| ContourPoint {
            time: Secs(time),
            rate: Hz(rate),
            width: Cents(width),
        });
        let oscillations =
            self.oscillations.iter().map(|&(start, period, crest, trough)| Oscillation {
                start: Secs(start),
                period: Secs(period),
                crest: Cents(crest),
                trough: Cents(trough),
            });
        Vibrato::of(self.measures.clone(), points.collect(), oscillations.collect())
    }

    /// Whether all its numbers can be.
    pub(crate) fn can_be(&self) -> bool {
        let of = |measure: Measure<f64>| can_be(measure.value) && measure.se.is_none_or(can_be);
        self.measures.known().all(|(_, measure)| of(measure))
            && self.contour.iter().all(|&(t, r, w)| [t, r, w].into_iter().all(can_be))
            && self.oscillations.iter().all(|&(s, p, c, t)| [s, p, c, t].into_iter().all(can_be))
    }
}

const CONTOUR: &str = "contour";
const OSCILLATIONS: &str = "oscillations";

static KEYS: LazyLock<Vec<&'static str>> =
    LazyLock::new(|| written().map(Quantity::key).chain([CONTOUR, OSCILLATIONS]).collect());

/// A measure as it is written.
fn pair(measure: Measure<f64>) -> Measured {
    (measure.value, measure.se)
}

impl Serialize for VibratoMeasures {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut fields = to.serialize_struct("VibratoMeasures", KEYS.len())?;
        for quantity in written() {
            let measure = self.measures.get(quantity).map(pair);
            match measure {
                Some(measure) if Vibrato::ALWAYS.contains(&quantity) => {
                    fields.serialize_field(quantity.key(), &measure)?;
                }
                None => fields.skip_field(quantity.key())?,
                known => fields.serialize_field(quantity.key(), &known)?,
            }
        }
        fields.serialize_field(CONTOUR, &self.contour)?;
        fields.serialize_field(OSCILLATIONS, &self.oscillations)?;
        fields.end()
    }
}

/// A key: a measure, or what is none.
enum Key {
    Measure(Quantity),
    Contour,
    Oscillations,
}

impl<'de> Deserialize<'de> for Key {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Word;
        impl Visitor<'_> for Word {
            type Value = Key;

            fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
                to.write_str("the key of a measure")
            }

            fn visit_str<E: de::Error>(self, word: &str) -> Result<Key, E> {
                match (word, Quantity::of_key(word)) {
                    (CONTOUR, _) => Ok(Key::Contour),
                    (OSCILLATIONS, _) => Ok(Key::Oscillations),
                    (_, Some((quantity, false))) if written().any(|known| known == quantity) => {
                        Ok(Key::Measure(quantity))
                    }
                    _ => Err(E::unknown_field(word, &KEYS)),
                }
            }
        }
        from.deserialize_identifier(Word)
    }
}

impl<'de> Deserialize<'de> for VibratoMeasures {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Fields;
        impl<'de> Visitor<'de> for Fields {
            type Value = VibratoMeasures;

            fn expecting(&self, to: &mut fmt::Formatter<'_>) -> fmt::Result {
                to.write_str("the measures of a vibrato")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<VibratoMeasures, A::Error> {
                let mut measures = Measures::default();
                let (mut contour, mut oscillations) = (None, None);
                while let Some(key) = map.next_key()? {
                    match key {
                        Key::Contour => contour = Some(map.next_value()?),
                        Key::Oscillations => oscillations = Some(map.next_value()?),
                        Key::Measure(quantity) => {
                            let known: Option<Measured> = match Vibrato::ALWAYS.contains(&quantity)
                            {
                                true => Some(map.next_value()?),
                                false => map.next_value()?,
                            };
                            let measure = known.map(|(value, se)| Measure { value, se });
                            measures.set(quantity, measure);
                        }
                    }
                }
                let known = |quantity: &Quantity| measures.get(*quantity).is_some();
                if let Some(missing) = Vibrato::ALWAYS.into_iter().find(|always| !known(always)) {
                    return Err(de::Error::missing_field(missing.key()));
                }
                Ok(VibratoMeasures {
                    measures,
                    contour: contour.ok_or_else(|| de::Error::missing_field(CONTOUR))?,
                    oscillations: oscillations
                        .ok_or_else(|| de::Error::missing_field(OSCILLATIONS))?,
                })
            }
        }
        from.deserialize_struct("VibratoMeasures", &KEYS, Fields)
    }
}

/// The text of a take of the first version as this one would write it, but for what a hand has changed in it: one key
/// had another name, and what was not known was written as `None`.
pub(crate) fn of_first_version(text: &str) -> String {
    let named = text.replacen("version: 1,", "version: 2,", 1);
    let optional = written().filter(|quantity| !Vibrato::ALWAYS.contains(quantity));
    optional.fold(named, |text, quantity| {
        let text = match quantity.old_key() {
            Some(old) => text.replace(old, quantity.key()),
            None => text,
        };
        let key = quantity.key();
        text.replace(&format!("{key}: None, "), "").replace(&format!("{key}:None,"), "")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const FIRST: &str = "(rate_hz: (5.5, Some(0.01)), width_cents: (31.25, None), centre_cents: (-3.0, Some(0.25)), \
        rate_spread_pct: Some((4.0, Some(0.5))), width_spread_pct: None, smoothness_pct: Some((6.0, None)), \
        drift_cents: None, onset_s: (0.25, Some(0.03)), contour: [(0.5, 5.25, 30.0)], oscillations: [])";

    fn measures() -> Measures {
        Measures::default()
            .with(Quantity::Rate, 5.5, Some(0.01))
            .with(Quantity::Width, 31.25, None)
            .with(Quantity::Centre, -3.0, Some(0.25))
            .with(Quantity::RateSpread, 4.0, Some(0.5))
            .with(Quantity::OutOfRound, 6.0, None)
            .with(Quantity::Onset, 0.25, Some(0.03))
    }

    #[test]
    fn what_the_first_version_wrote_is_read() {
        let read: VibratoMeasures = ron::from_str(FIRST).expect("as it was written");
        assert_eq!(read.measures, measures());
        assert_eq!(read.contour, [(0.5, 5.25, 30.0)]);
    }

    #[test]
    fn what_is_written_is_read_again_and_what_is_not_known_is_left_out() {
        let read: VibratoMeasures = ron::from_str(FIRST).expect("as it was written");
        let text = ron::to_string(&read).expect("plain data");
        assert!(text.contains("out_of_round_pct") && !text.contains("drift"), "{text}");
        assert_eq!(ron::from_str::<VibratoMeasures>(&text).expect("just written"), read);
    }

    #[test]
    fn a_slip_of_the_hand_is_told() {
        for (slip, words) in [
            (FIRST.replace("rate_hz", "rate_herz"), "rate_herz"),
            (FIRST.replace("rate_hz: (5.5, Some(0.01)), ", ""), "rate_hz"),
            (FIRST.replace("contour: [(0.5, 5.25, 30.0)], ", ""), "contour"),
            (FIRST.replace("drift_cents", "f0_hz"), "f0_hz"),
        ] {
            let told = ron::from_str::<VibratoMeasures>(&slip).expect_err(words).to_string();
            assert!(told.contains(words), "{told}");
        }
    }
}
