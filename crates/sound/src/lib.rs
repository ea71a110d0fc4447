//! Devices, the lock-free ring, decoding, resampling and WAV files.
//!
//! Knows nothing of music: mono samples in, mono samples out, counted. Full scale is 1.0.

mod capture;
mod devices;
mod header;
mod mended_wav;
mod microphone;
mod mp4_edit;
mod recording;
mod recording_error;
mod resampler;
mod tap;
mod tap_reader;
mod wav;

pub use capture::{Capture, CaptureStatus, Caught, Source};
pub use devices::{Device, Devices, devices};
pub use microphone::{DeviceChoice, Microphone, MicrophoneError};
pub use recording::{Block, Recording, Remarks};
pub use recording_error::RecordingError;
pub use resampler::{RATES_HZ, Resampler, ResamplerError};
pub use tap::{Tap, TapReader, tap};
pub use tap_reader::Heard;
pub use wav::{WavError, WavFormat, WavWriter, write_wav};
