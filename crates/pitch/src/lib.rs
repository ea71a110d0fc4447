//! Samples to pitch frames, streaming and deterministic.

mod frame;

pub use frame::Frame;

/// The sample rate the estimator works at, in Hz; other rates are resampled before they come here.
pub const SAMPLE_RATE: u32 = 48_000;

/// Samples from one frame to the next: 5 ms.
pub const HOP: usize = 240;
