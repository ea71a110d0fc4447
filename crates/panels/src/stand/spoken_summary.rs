//! What a screen reader is told: the values of the gauges at a calm pace, not sixty times a second.

use tuning::Secs;

/// The words of the note head and the gauges as they were last told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpokenSummary {
    pub(super) time: Option<Secs>,
    pub(super) sounding: bool,
    pub(super) revealed: bool,
    pub(super) straight: bool,
    /// The note and its centre.
    pub note: String,
    /// The rate, or the offset in straight practice.
    pub rate: String,
    /// The width, or drift and spread in straight practice.
    pub width: String,
}
