//! Samples to pitch frames, streaming and deterministic.

mod chord;
mod coarse;
mod confidence;
mod frame;
mod front;
mod known;
mod refine;
mod rise;
mod still_string;
mod track;

pub use frame::Frame;
pub use refine::Harmonic;
pub use track::{HIGHEST, LOWEST, Tracker};

/// The sample rate the estimator works at, in Hz; other rates are resampled before they come here.
pub const SAMPLE_RATE: u32 = 48_000;

/// Samples from one frame to the next.
pub const HOP: usize = 240;

/// Time from one frame to the next: 5 ms.
pub const HOP_SECS: f64 = HOP as f64 / SAMPLE_RATE as f64;
