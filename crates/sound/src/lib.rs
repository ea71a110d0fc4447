//! Devices, the lock-free ring, decoding, resampling and WAV files.
//!
//! Knows nothing of music: mono samples in, mono samples out, counted. Full scale is 1.0.

mod capture;
mod decoder_guard;
mod devices;
mod header;
mod loudness;
mod loudspeaker;
mod mended_wav;
mod microphone;
mod mono_ring;
mod mono_ring_reader;
mod mp4_edit;
mod ogg_end;
mod output_clock;
mod output_ring;
mod packets;
mod playback;
mod playhead;
mod recording;
mod recording_error;
mod remarks;
mod resampler;
mod wav;

pub use capture::{Capture, CaptureStatus, Caught, Source};
pub use decoder_guard::is_decoding;
pub use devices::{Device, Devices, devices};
pub use loudness::{equal_gains_db, loudness};
pub use loudspeaker::{Loudspeaker, LoudspeakerError};
pub use microphone::{DeviceChoice, Microphone, MicrophoneError};
pub use mono_ring::{MonoRing, MonoRingReader, mono_ring};
pub use mono_ring_reader::RingRead;
pub use output_clock::{OutputClock, secs_between};
pub use output_ring::{OutputRing, OutputRingWriter, output_ring};
pub use playback::{Kept, Playback, PlaybackStatus, Sink};
pub use playhead::{Playhead, PlayheadError, SPEEDS};
pub use recording::{Block, Recording};
pub use recording_error::RecordingError;
pub use remarks::Remarks;
pub use resampler::{RATES_HZ, Resampler, ResamplerError};
pub use wav::{WavError, WavFormat, WavWriter, write_wav};

/// Files are heard on all cores, the microphone on the listener's thread.
const _: () = {
    const fn can_move<T: Send>() {}
    can_move::<Recording>();
    can_move::<Resampler>();
    can_move::<Capture>();
    can_move::<Playhead>();
    can_move::<OutputRing>();
    can_move::<MonoRing>();
};
