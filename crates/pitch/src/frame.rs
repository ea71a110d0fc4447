//! What the estimator says of one instant.

use tuning::{Cents, Hz, Secs};

/// The sound sets in or breaks off within a frame whose halves lie this far apart in level.
const EDGE_DB: f64 = 8.0;

/// One pitch estimate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    /// Time of the frame's centre, in seconds from the first sample.
    pub time: Secs,
    /// The pitch; `None` where there is no pitch.
    pub f0: Option<Hz>,
    /// How likely `f0` is within 10 cents of the truth, 0 to 1; 0 where there is no pitch.
    pub confidence: f64,
    /// Level of the sound over 20 ms, in dB below a full-scale square wave (`20 · log10(rms)`);
    /// at least −120.
    pub level_dbfs: f64,
    /// Level of what lies above 2 kHz, the upper partials and the bow's noise, on the same scale: over 10 ms, or a period
    /// of the pitch if that is longer. Where the bow turns it dips deeper than the whole level, for the lower partials
    /// ring on in the room.
    pub upper_dbfs: f64,
    /// How far the harmonics disagree about the pitch: weighted mean absolute deviation of their
    /// separate estimates; `None` where there is no pitch.
    pub disagreement: Option<Cents>,
    /// How much louder the later half of what the frame hears is than the earlier, in dB; 0 where there is no pitch.
    pub lean_db: f64,
}

impl Frame {
    /// The pitch where it is worth drawing: not where the bow catches or leaves the string within the frame. There it can
    /// lie anywhere, however well the harmonics agree.
    pub fn drawn(&self) -> Option<Hz> {
        self.f0.filter(|_| self.lean_db.abs() < EDGE_DB)
    }

    /// A frame of a clear tone of this pitch, or of no pitch, at this level: what tests and made scenes start from.
    pub fn plain(time: Secs, f0: Option<Hz>, level_dbfs: f64) -> Self {
        let confidence = if f0.is_some() { 0.95 } else { 0.0 };
        Self {
            time,
            f0,
            confidence,
            level_dbfs,
            upper_dbfs: level_dbfs,
            disagreement: None,
            lean_db: 0.0,
        }
    }
}
