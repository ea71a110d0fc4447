//! A microphone as the system offers it: opened, read, and found out when it fails.

use std::fmt;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use thiserror::Error;

use crate::devices;
use crate::mono_ring::{MonoRingReader, mono_ring};
use crate::mono_ring_reader::RingRead;
use crate::resampler::RATES_HZ;

/// What the ring holds, in seconds: how long the listener may be kept from reading.
const RING_SECS: usize = 2;

/// Which microphone, and what of it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DeviceChoice {
    /// Name or id as [`devices`](crate::devices()) lists it; `None` is the system's default.
    pub name: Option<String>,
    /// The channel to hear, counted from 1; `None` is the mean of all.
    pub channel: Option<usize>,
}

/// Why a microphone cannot be opened, or was lost.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum MicrophoneError {
    /// The system has no microphone, or none that opens.
    #[error("no microphone found; plug one in or turn it on in the system's sound settings")]
    None,
    /// The microphone that was named is not there.
    #[error("there is no microphone of this name; plug it in or choose another: {name}")]
    NoSuch {
        /// The name asked for.
        name: String,
    },
    /// Another program holds it.
    #[error("the microphone is in use by another program; close that program")]
    Taken,
    /// The system forbids it.
    #[error("the system forbids the microphone; allow it in the privacy or group settings")]
    Forbidden,
    /// A channel was asked for that it does not have.
    #[error("there is no channel {asked}; the microphone has {channels}, counted from 1")]
    NoSuchChannel {
        /// Channel asked for, counted from 1.
        asked: usize,
        /// Channels it has.
        channels: usize,
    },
    /// A rate outside [`RATES_HZ`](crate::RATES_HZ).
    #[error("the microphone gives {rate_hz} Hz; set it to a rate from 8000 to 192000 Hz")]
    Rate {
        /// The rate it gives, in Hz.
        rate_hz: u32,
    },
    /// Samples of a kind that is not known here.
    #[error("the microphone gives samples of kind {format}; choose another microphone or setting")]
    Format {
        /// The kind, as the system names it.
        format: String,
    },
    /// Anything else.
    #[error("the microphone does not work; check its plug and the sound settings")]
    Broken {
        /// What the system said; it is not shown.
        reason: String,
    },
}

/// An open microphone. It hears from the moment it is opened until it is dropped.
pub struct Microphone {
    name: String,
    sample_rate_hz: u32,
    channels: usize,
    reader: MonoRingReader,
    faults: Arc<Faults>,
    /// Kept for its `Drop`: it ends the device's thread.
    _stream: cpal::Stream,
}

impl fmt::Debug for Microphone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Microphone")
            .field("name", &self.name)
            .field("sample_rate_hz", &self.sample_rate_hz)
            .field("channels", &self.channels)
            .finish_non_exhaustive()
    }
}

impl Microphone {
    /// Opens the chosen microphone at its own preferred rate. May take some tenths of a second.
    pub fn open(choice: &DeviceChoice) -> Result<Self, MicrophoneError> {
        let (device, name) = chosen(choice)?;
        let offered =
            device.default_input_config().map_err(|error| MicrophoneError::from_opening(&error))?;
        let config = offered.config();
        let channels = usize::from(config.channels);
        let rate_hz = config.sample_rate;
        if !RATES_HZ.contains(&rate_hz) {
            return Err(MicrophoneError::Rate { rate_hz });
        }
        if channels == 0 {
            return Err(MicrophoneError::None);
        }
        if let Some(asked) = choice.channel
            && !(1..=channels).contains(&asked)
        {
            return Err(MicrophoneError::NoSuchChannel { asked, channels });
        }
        let input = Input { device, config, channel: choice.channel.map(|number| number - 1) };
        let opened = match offered.sample_format() {
            SampleFormat::F32 => input.open::<f32>(),
            SampleFormat::F64 => input.open::<f64>(),
            SampleFormat::I16 => input.open::<i16>(),
            SampleFormat::I24 => input.open::<cpal::I24>(),
            SampleFormat::I32 => input.open::<i32>(),
            SampleFormat::U8 => input.open::<u8>(),
            SampleFormat::U16 => input.open::<u16>(),
            other => {
                let format = other.to_string();
                return Err(MicrophoneError::Format { format });
            }
        };
        let (stream, reader, faults) =
            opened.map_err(|error| MicrophoneError::from_opening(&error))?;
        Ok(Self { name, sample_rate_hz: rate_hz, channels, reader, faults, _stream: stream })
    }

    /// Its name, as the system has it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Samples a second, within [`RATES_HZ`](crate::RATES_HZ).
    pub fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }

    /// Channels of the device, of which one or the mean is heard.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Moves what has been heard to `out`, up to its length or to the next loss; read again until
    /// the count is 0. Does not wait.
    pub fn read(&mut self, out: &mut [f32]) -> RingRead {
        self.reader.read(out)
    }

    /// Why the microphone will give no more samples, once it has said so. It may also fall silent
    /// without a word: see [`Capture`](crate::Capture).
    pub fn failure(&self) -> Option<MicrophoneError> {
        let first = self.faults.first.try_lock().ok()?;
        first.as_ref().map(MicrophoneError::from_streaming)
    }

    /// How often the system itself has lost samples before they reached us; it does not say how many.
    pub fn overruns(&self) -> u64 {
        self.faults.overruns.load(Ordering::Relaxed)
    }
}

/// A device and how it is to be opened.
struct Input {
    device: cpal::Device,
    config: StreamConfig,
    channel: Option<usize>,
}

/// What the device's thread says of itself.
#[derive(Default)]
struct Faults {
    first: Mutex<Option<cpal::Error>>,
    overruns: AtomicU64,
}

impl Faults {
    /// AUDIO THREAD. Called 200 000 times a second after some failures: keeps the first, no more.
    fn note(&self, error: cpal::Error) {
        match error.kind() {
            ErrorKind::Xrun => {
                self.overruns.fetch_add(1, Ordering::Relaxed);
            }
            // The stream goes on after these two.
            ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
            _ => {
                if let Ok(mut first) = self.first.try_lock() {
                    first.get_or_insert(error);
                }
            }
        }
    }
}

type Opened = (cpal::Stream, MonoRingReader, Arc<Faults>);

impl Input {
    fn open<T>(self) -> Result<Opened, cpal::Error>
    where
        T: SizedSample,
        f32: FromSample<T>,
    {
        let channels = usize::from(self.config.channels);
        let capacity = RING_SECS * self.config.sample_rate as usize;
        let (mut ring, reader) = mono_ring(channels, self.channel, capacity);
        let faults = Arc::new(Faults::default());
        let noted = Arc::clone(&faults);
        let stream = self.device.build_input_stream(
            self.config,
            move |data: &[T], _: &cpal::InputCallbackInfo| ring.hear(data),
            move |error| noted.note(error),
            None,
        )?;
        stream.play()?;
        Ok((stream, reader, faults))
    }
}

/// The chosen device and its name.
fn chosen(choice: &DeviceChoice) -> Result<(cpal::Device, String), MicrophoneError> {
    let host = devices::host().ok_or(MicrophoneError::None)?;
    let Some(name) = &choice.name else {
        let device = host.default_input_device().ok_or(MicrophoneError::None)?;
        let name = devices::name(&device);
        return Ok((device, name));
    };
    let no_such = || MicrophoneError::NoSuch { name: name.clone() };
    let mut inputs = host.input_devices().map_err(|_| no_such())?;
    let device = inputs.find(|device| devices::is_called(device, name));
    let device = device.ok_or_else(no_such)?;
    Ok((device, name.clone()))
}

impl MicrophoneError {
    fn from_opening(error: &cpal::Error) -> Self {
        match error.kind() {
            ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => Self::None,
            ErrorKind::DeviceBusy => Self::Taken,
            ErrorKind::PermissionDenied => Self::Forbidden,
            // A sound server that is not running: `Connection refused`.
            ErrorKind::BackendError if error.to_string().contains("refused") => Self::None,
            _ => Self::from_streaming(error),
        }
    }

    fn from_streaming(error: &cpal::Error) -> Self {
        Self::Broken { reason: error.to_string() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_first_real_fault_is_kept_and_overruns_are_counted() {
        let faults = Faults::default();
        let error = cpal::Error::with_message;
        faults.note(error(ErrorKind::Xrun, "late"));
        faults.note(error(ErrorKind::RealtimeDenied, "no priority"));
        faults.note(error(ErrorKind::DeviceChanged, "moved"));
        assert!(faults.first.try_lock().expect("free").is_none());
        faults.note(error(ErrorKind::BackendError, "first"));
        for _ in 0..100_000 {
            faults.note(error(ErrorKind::BackendError, "again"));
        }
        let first = faults.first.try_lock().expect("free").take();
        assert_eq!(first.map(|error| error.kind()), Some(ErrorKind::BackendError));
        assert_eq!(faults.overruns.load(Ordering::Relaxed), 1);
    }

    #[test]
    fn a_refused_opening_is_told_as_what_the_player_can_mend() {
        let told = |kind, message| {
            let error = cpal::Error::with_message(kind, message);
            MicrophoneError::from_opening(&error)
        };
        let refused = "ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'";
        assert_eq!(told(ErrorKind::BackendError, refused), MicrophoneError::None);
        assert_eq!(told(ErrorKind::DeviceNotAvailable, ""), MicrophoneError::None);
        assert_eq!(told(ErrorKind::DeviceBusy, ""), MicrophoneError::Taken);
        assert_eq!(told(ErrorKind::PermissionDenied, ""), MicrophoneError::Forbidden);
        let other = told(ErrorKind::StreamInvalidated, "odd").to_string();
        // What the system says helps nobody who plays: the name of a function, a number.
        assert!(!other.contains("odd") && other.contains("check its plug"), "{other}");
    }
}
