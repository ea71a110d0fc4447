//! Devices, the lock-free ring, decoding, resampling and WAV files.
//!
//! Knows nothing of music: mono samples in, mono samples out, counted. Full scale is 1.0.

mod header;
mod mp4_edit;
mod recording;
mod recording_error;
mod resampler;
mod wav;

pub use recording::{Block, Recording, Remarks};
pub use recording_error::RecordingError;
pub use resampler::{RATES_HZ, Resampler, ResamplerError};
pub use wav::{WavError, WavFormat, WavWriter, write_wav};
