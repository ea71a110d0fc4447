//! A loudspeaker as the system offers it: opened, fed, and found out when it fails.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{BufferSize, ErrorKind, FromSample, SampleFormat, SizedSample, StreamConfig};
use thiserror::Error;

use crate::devices;
use crate::output_ring::{OutputRingWriter, output_ring};

/// What the ring holds, in seconds: more than is ever queued.
const RING_SECS: f64 = 0.5;
/// The device is asked to take about so much at a time, in seconds: long enough for a busy machine. How
/// late the sound is by that is known, and beats are shown as late.
const BLOCK_SECS: f64 = 0.02;

/// Why a loudspeaker cannot be opened, or was lost.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum LoudspeakerError {
    /// The system has none, or none that opens.
    #[error("no loudspeaker found; plug one in or turn it on in the system's sound settings")]
    None,
    /// The one that was named is not there.
    #[error("there is no loudspeaker of this name; plug it in or choose another: {name}")]
    NoSuch {
        /// The name asked for.
        name: String,
    },
    /// Another program holds it.
    #[error("the loudspeaker is in use by another program; close that program")]
    Taken,
    /// It takes samples of a kind that is not known here.
    #[error("the loudspeaker takes {format} samples, which are not known; choose another setting")]
    Format {
        /// What it takes.
        format: String,
    },
    /// Anything else.
    #[error("the loudspeaker does not play; choose another or plug it in again")]
    Broken {
        /// What the system said; it is not shown.
        reason: String,
    },
}

/// An open loudspeaker. Dropping it closes the device.
pub struct Loudspeaker {
    name: String,
    rate_hz: u32,
    writer: OutputRingWriter,
    faults: Arc<Faults>,
    _stream: cpal::Stream,
}

impl Loudspeaker {
    /// Opens the loudspeaker of this name or id, or the system's choice.
    pub fn open(name: Option<&str>) -> Result<Self, LoudspeakerError> {
        let (device, name) = chosen(name)?;
        let offered = device.default_output_config().map_err(|error| of_opening(&error))?;
        let config = offered.config();
        if config.channels == 0 || config.sample_rate == 0 {
            return Err(LoudspeakerError::None);
        }
        let easy = StreamConfig {
            buffer_size: BufferSize::Fixed(easy_block(config.sample_rate)),
            ..config
        };
        let format = offered.sample_format();
        let open = match format {
            SampleFormat::F32 => open::<f32>,
            SampleFormat::F64 => open::<f64>,
            SampleFormat::I16 => open::<i16>,
            SampleFormat::I24 => open::<cpal::I24>,
            SampleFormat::I32 => open::<i32>,
            SampleFormat::U8 => open::<u8>,
            SampleFormat::U16 => open::<u16>,
            other => {
                return Err(LoudspeakerError::Format { format: other.to_string() });
            }
        };
        let opened = open(&device, easy).or_else(|_| open(&device, config));
        let (stream, writer, faults) = opened.map_err(|error| of_opening(&error))?;
        Ok(Self { name, rate_hz: config.sample_rate, writer, faults, _stream: stream })
    }

    /// Its name, as the system has it.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Samples a second.
    pub fn sample_rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// Takes as many of `samples` (one channel, full scale = 1.0) as find room; says how many that was.
    pub fn play(&mut self, samples: &[f32]) -> usize {
        self.writer.play(samples)
    }

    /// Samples that wait to be played.
    pub fn waiting(&self) -> usize {
        self.writer.waiting()
    }

    /// See [`OutputRingWriter::position`].
    pub fn position(&self) -> Option<(u64, Instant)> {
        self.writer.position()
    }

    /// See [`OutputRingWriter::starved`].
    pub fn starved(&self) -> u64 {
        self.writer.starved()
    }

    /// Why it takes no sound now. Some systems go on by themselves after a few faults; then it is `None` again.
    pub fn failure(&self) -> Option<LoudspeakerError> {
        if !self.faults.now.load(Ordering::Acquire) {
            return None;
        }
        let newest = self.faults.newest.try_lock().ok()?;
        newest.as_ref().map(|error| LoudspeakerError::Broken { reason: error.to_string() })
    }
}

/// A power of two near [`BLOCK_SECS`], in samples.
fn easy_block(rate_hz: u32) -> u32 {
    ((BLOCK_SECS * f64::from(rate_hz)) as u32).max(64).next_power_of_two()
}

type Opened = (cpal::Stream, OutputRingWriter, Arc<Faults>);

/// What the device's thread says of itself.
#[derive(Default)]
struct Faults {
    /// There was one since the device last took sound.
    now: AtomicBool,
    newest: Mutex<Option<cpal::Error>>,
}

impl Faults {
    /// AUDIO THREAD. Called again and again after some failures: keeps the first of a row, no more.
    fn note(&self, error: cpal::Error) {
        match error.kind() {
            // The stream goes on after these.
            ErrorKind::Xrun | ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
            _ if self.now.load(Ordering::Relaxed) => {}
            _ => {
                if let Ok(mut newest) = self.newest.try_lock() {
                    *newest = Some(error);
                    self.now.store(true, Ordering::Release);
                }
            }
        }
    }
}

fn open<T>(device: &cpal::Device, config: StreamConfig) -> Result<Opened, cpal::Error>
where
    T: SizedSample + FromSample<f32>,
{
    let capacity = (RING_SECS * f64::from(config.sample_rate)) as usize;
    let (mut ring, writer) = output_ring(usize::from(config.channels), capacity);
    let faults = Arc::new(Faults::default());
    let (noted, ended) = (Arc::clone(&faults), Arc::clone(&faults));
    let stream = device.build_output_stream(
        config,
        move |out: &mut [T], info: &cpal::OutputCallbackInfo| {
            ended.now.store(false, Ordering::Release);
            let time = info.timestamp();
            let after = time.playback.saturating_duration_since(time.callback);
            ring.give(out, after.min(Duration::from_secs(2)));
        },
        move |error| noted.note(error),
        None,
    )?;
    stream.play()?;
    Ok((stream, writer, faults))
}

fn chosen(name: Option<&str>) -> Result<(cpal::Device, String), LoudspeakerError> {
    let host = devices::host().ok_or(LoudspeakerError::None)?;
    let Some(name) = name else {
        let device = host.default_output_device();
        let device = device.ok_or(LoudspeakerError::None)?;
        let name = devices::name(&device);
        return Ok((device, name));
    };
    let no_such = || LoudspeakerError::NoSuch { name: name.to_owned() };
    let mut outputs = host.output_devices().map_err(|_| no_such())?;
    let device = outputs.find(|device| devices::is_called(device, name));
    Ok((device.ok_or_else(no_such)?, name.to_owned()))
}

fn of_opening(error: &cpal::Error) -> LoudspeakerError {
    match error.kind() {
        ErrorKind::DeviceNotAvailable | ErrorKind::HostUnavailable => LoudspeakerError::None,
        ErrorKind::DeviceBusy => LoudspeakerError::Taken,
        // A sound server that is not running: `Connection refused`.
        ErrorKind::BackendError if error.to_string().contains("refused") => LoudspeakerError::None,
        _ => LoudspeakerError::Broken { reason: error.to_string() },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_block_is_some_hundredths_of_a_second_at_any_rate() {
        for rate_hz in [8_000, 44_100, 48_000, 96_000, 192_000] {
            let secs = f64::from(easy_block(rate_hz)) / f64::from(rate_hz);
            assert!((0.02..0.045).contains(&secs), "{rate_hz} Hz: {secs} s");
        }
        assert_eq!(easy_block(48_000), 1_024);
    }

    #[test]
    fn the_first_fault_of_a_row_is_kept_and_short_overruns_are_none() {
        let faults = Faults::default();
        let error = cpal::Error::with_message;
        faults.note(error(ErrorKind::Xrun, "late"));
        faults.note(error(ErrorKind::DeviceChanged, "moved"));
        assert!(!faults.now.load(Ordering::Relaxed));
        faults.note(error(ErrorKind::BackendError, "first"));
        faults.note(error(ErrorKind::BackendError, "again"));
        assert!(faults.now.load(Ordering::Relaxed));
        let newest = faults.newest.try_lock().expect("free").take();
        let words = newest.map(|error| error.to_string()).unwrap_or_default();
        assert!(words.contains("first"), "{words}");
    }

    #[test]
    fn a_refused_opening_is_told_as_what_the_player_can_mend() {
        let told = |kind, message| of_opening(&cpal::Error::with_message(kind, message));
        let refused = "ALSA function 'snd_pcm_open' failed with error 'Connection refused (111)'";
        assert_eq!(told(ErrorKind::BackendError, refused), LoudspeakerError::None);
        assert_eq!(told(ErrorKind::DeviceBusy, ""), LoudspeakerError::Taken);
        let other = told(ErrorKind::StreamInvalidated, "odd").to_string();
        // What the system says helps nobody who plays.
        assert!(!other.contains("odd") && other.contains("plug it in again"), "{other}");
    }
}
