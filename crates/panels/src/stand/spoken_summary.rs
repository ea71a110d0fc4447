//! What a screen reader is told: the values of the gauges at a calm pace, not sixty times a second.

use super::picture::Sounding;
use super::state::Stand;
use super::{gauges, note_head, steadiness};
use tuning::Secs;

/// Least time from one word to the next while a note sounds.
const PACE: Secs = Secs(2.0);

/// The words of the note head and the gauges as they were last told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpokenSummary {
    time: Option<Secs>,
    sounding: bool,
    revealed: bool,
    straight: bool,
    /// The note and its centre.
    pub note: String,
    /// The rate, or the offset in straight practice.
    pub rate: String,
    /// The width, or drift and spread in straight practice.
    pub width: String,
}

impl SpokenSummary {
    /// What is to be told now.
    pub fn of(stand: &Stand) -> Self {
        let picture = stand.picture();
        Self {
            time: picture.time,
            sounding: picture.sounding != Sounding::Silence,
            revealed: stand.revealed(),
            straight: stand.straight,
            note: note_head::spoken(stand),
            rate: gauges::first(stand).spoken(),
            width: if stand.straight {
                steadiness::spoken(stand)
            } else {
                gauges::width(stand).spoken()
            },
        }
    }

    /// Whether it is time to tell more: a note began or ended, measures were revealed, or a note has
    /// been sounding for a while.
    pub fn is_due(&self, stand: &Stand) -> bool {
        let picture = stand.picture();
        let sounding = picture.sounding != Sounding::Silence;
        let elapsed = match (picture.time, self.time) {
            (Some(now), Some(told)) => now.0 - told.0,
            (now, told) => {
                if now == told {
                    0.0
                } else {
                    PACE.0
                }
            }
        };
        sounding != self.sounding
            || stand.revealed() != self.revealed
            || stand.straight != self.straight
            || elapsed < 0.0
            || (elapsed >= PACE.0 && (sounding || self.time.is_none()))
            || self.note.is_empty()
    }
}
