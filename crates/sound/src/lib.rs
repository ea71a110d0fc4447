//! Devices, the lock-free ring, decoding, resampling and WAV files.
//!
//! Knows nothing of music: mono samples in, mono samples out, counted. Full scale is 1.0.

mod capture;
mod devices;
mod header;
mod loudness;
mod loudspeaker;
mod mended_wav;
mod microphone;
mod mp4_edit;
mod output_clock;
mod packets;
mod playback;
mod playhead;
mod recording;
mod recording_error;
mod remarks;
mod resampler;
mod spout;
mod tap;
mod tap_reader;
mod wav;

pub use capture::{Capture, CaptureStatus, Caught, Source};
pub use devices::{Device, Devices, devices};
pub use loudness::{equal_gains_db, loudness};
pub use loudspeaker::{Loudspeaker, LoudspeakerError};
pub use microphone::{DeviceChoice, Microphone, MicrophoneError};
pub use output_clock::{OutputClock, secs_between};
pub use playback::{Kept, Playback, PlaybackStatus, Sink};
pub use playhead::{Playhead, PlayheadError, SPEEDS};
pub use recording::{Block, Recording};
pub use recording_error::RecordingError;
pub use remarks::Remarks;
pub use resampler::{RATES_HZ, Resampler, ResamplerError};
pub use spout::{Spout, SpoutWriter, spout};
pub use tap::{Tap, TapReader, tap};
pub use tap_reader::Heard;
pub use wav::{WavError, WavFormat, WavWriter, write_wav};

/// Files are heard on all cores, the microphone on the listener's thread.
const _: () = {
    const fn can_move<T: Send>() {}
    can_move::<Recording>();
    can_move::<Resampler>();
    can_move::<Capture>();
    can_move::<Playhead>();
    can_move::<Spout>();
    can_move::<Tap>();
};
