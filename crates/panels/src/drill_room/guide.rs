//! The guide tone of a round, as the loudspeaker plays it.

use super::DrillRoom;
use coach::{Kind, Swing, bloom_width};
use tuning::{Cents, Hz, Secs};

/// How wide the guide tone swings where no width is asked for; invented.
pub(super) const USUAL_WIDTH: Cents = Cents(30.0);
/// A part of the guide tone. Times count from the first beat of the count-in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GuidePart {
    /// The note.
    pub f0: Hz,
    /// Where it starts.
    pub start: Secs,
    /// Where it ends.
    pub end: Secs,
    /// Oscillations per second.
    pub rate: Hz,
    /// Crest to trough, at its start and at its end.
    pub width: (Cents, Cents),
    /// Where in an oscillation it starts, as a share of it from a trough on.
    pub phase: f64,
    /// Its crests lie on the note, and not its centre.
    pub below: bool,
}

impl DrillRoom {
    /// The guide tone of a round: turn after turn, from the first beat of the count-in.
    pub fn guide(&self) -> Vec<GuidePart> {
        let Some(practice) = self.practice() else {
            return Vec::new();
        };
        let drill = practice.drill();
        let Some(pacer) = coach::Pacer::new(drill, practice.asked(), Secs(0.0)) else {
            return Vec::new();
        };
        let (tuning, aim) = (practice.tuning(), practice.aimed());
        let mut parts = Vec::new();
        for (turn, asked) in practice.asked().iter().enumerate() {
            let Some(length) = drill.turn_length(asked.finger) else {
                continue;
            };
            let start = pacer.turn_start(turn);
            let middle = |(low, high): (Cents, Cents)| Cents((low.0 + high.0) / 2.0);
            let full = asked.width.map_or(USUAL_WIDTH, middle);
            let part = |from: f64, to: f64, width| GuidePart {
                f0: tuning.frequency(asked.midi),
                start: Secs(start.0 + from),
                end: Secs(start.0 + to),
                rate: pacer.rate(turn),
                width,
                // It starts anew with each note, and goes on within it.
                phase: (aim.phase() + from * pacer.rate(turn).0).fract(),
                below: aim.swing == Swing::Below,
            };
            match &drill.kind {
                Kind::Straight { .. } => {
                    parts.push(part(0.0, length.0, (Cents(0.0), Cents(0.0))));
                }
                Kind::Bloom { width, beats } => {
                    let all: f64 = beats.iter().sum();
                    let mut from = 0.0;
                    for piece in beats {
                        let to = from + piece / all;
                        let width =
                            (bloom_width(*width, beats, from), bloom_width(*width, beats, to));
                        parts.push(part(from * length.0, to * length.0, width));
                        from = to;
                    }
                }
                _ => parts.push(part(0.0, length.0, (full, full))),
            }
        }
        parts
    }
}
