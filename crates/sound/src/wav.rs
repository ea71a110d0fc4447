//! Writing WAV files.

use std::fs::File;
use std::io::{BufWriter, Seek, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

/// How a sample is stored.
#[derive(Clone, Copy, Debug, Eq, PartialEq)]
pub enum WavFormat {
    /// 32-bit floating point, as computed.
    Float,
    /// 16-bit integers, rounded; what is beyond full scale is clipped.
    Int16,
}

/// Why a WAV file could not be written.
#[derive(Debug, Error)]
pub enum WavError {
    /// Neither one channel nor two.
    #[error("{channels} channels cannot be written; use 1 or 2: {}", path.display())]
    Channels {
        /// Channels asked for.
        channels: u16,
        /// File that was to be written.
        path: PathBuf,
    },
    /// The disk or the folder refuses.
    #[error("cannot write ({reason}); choose another folder or make room: {}", path.display())]
    Write {
        /// What the system said.
        reason: String,
        /// File that was to be written.
        path: PathBuf,
    },
    /// A WAV file ends at 4 GB.
    #[error("a WAV file can hold 4 GB and is full; write shorter files: {}", path.display())]
    Full {
        /// File that was to be written.
        path: PathBuf,
    },
}

/// A WAV file being written; [`finish`](Self::finish) completes it.
pub struct WavWriter<W: Write + Seek> {
    writer: hound::WavWriter<W>,
    format: WavFormat,
    room: u64,
    path: PathBuf,
}

/// Bytes of samples that a WAV file can hold beside its header (its sizes are 32-bit numbers).
const MOST_BYTES: u64 = u32::MAX as u64 - 1_024;

impl<W: Write + Seek> WavWriter<W> {
    /// Begins 1 or 2 channels of sound in `out`, which is empty; words about it name `path`.
    pub fn new(
        out: W,
        path: impl AsRef<Path>,
        sample_rate_hz: u32,
        channels: u16,
        format: WavFormat,
    ) -> Result<Self, WavError> {
        let path = path.as_ref().to_path_buf();
        if !(1..=2).contains(&channels) {
            return Err(WavError::Channels { channels, path });
        }
        let (bits_per_sample, sample_format) = match format {
            WavFormat::Float => (32, hound::SampleFormat::Float),
            WavFormat::Int16 => (16, hound::SampleFormat::Int),
        };
        let spec = hound::WavSpec {
            channels,
            sample_rate: sample_rate_hz,
            bits_per_sample,
            sample_format,
        };
        match hound::WavWriter::new(out, spec) {
            Ok(writer) => {
                Ok(Self { writer, format, room: MOST_BYTES / u64::from(bits_per_sample / 8), path })
            }
            Err(error) => Err(told(error, &path)),
        }
    }

    /// Appends samples (full scale = 1.0), interleaved if there are two channels.
    pub fn write(&mut self, samples: &[f32]) -> Result<(), WavError> {
        let left = self.room.checked_sub(samples.len() as u64);
        let Some(left) = left else {
            let path = self.path.clone();
            return Err(WavError::Full { path });
        };
        self.room = left;
        for &sample in samples {
            let written = match self.format {
                WavFormat::Float => self.writer.write_sample(sample),
                WavFormat::Int16 => {
                    let full = (sample * 32_768.0).round().clamp(-32_768.0, 32_767.0);
                    self.writer.write_sample(full as i16)
                }
            };
            written.map_err(|error| told(error, &self.path))?;
        }
        Ok(())
    }

    /// Completes the file.
    pub fn finish(self) -> Result<(), WavError> {
        let path = self.path;
        self.writer.finalize().map_err(|error| told(error, &path))
    }
}

/// Writes a whole sound into a file, over what is there; interleaved if `channels` is 2.
pub fn write_wav(
    path: impl AsRef<Path>,
    samples: &[f32],
    sample_rate_hz: u32,
    channels: u16,
    format: WavFormat,
) -> Result<(), WavError> {
    let path = path.as_ref();
    let file = File::create(path).map_err(|error| told(hound::Error::IoError(error), path))?;
    let mut file = WavWriter::new(BufWriter::new(file), path, sample_rate_hz, channels, format)?;
    file.write(samples)?;
    file.finish()
}

fn told(error: hound::Error, path: &Path) -> WavError {
    WavError::Write { reason: error.to_string(), path: path.to_path_buf() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Recording;

    /// A place of its own for each test.
    fn place(name: &str) -> PathBuf {
        std::env::temp_dir().join(format!("sound-{}-{name}.wav", std::process::id()))
    }

    fn read_back(path: &Path) -> (Vec<f32>, u32, usize) {
        let mut recording = Recording::open(path).expect("just written");
        let about = (recording.sample_rate_hz(), recording.channels());
        let mut samples = Vec::new();
        while let Some(block) = recording.next_block().expect("just written") {
            samples.extend_from_slice(block.samples);
        }
        std::fs::remove_file(path).expect("just written");
        (samples, about.0, about.1)
    }

    #[test]
    fn floats_come_back_as_they_were() {
        let path = place("float");
        let samples: Vec<f32> = (0..1_000).map(|n| (n as f32 * 0.37).sin() * 1.5).collect();
        write_wav(&path, &samples, 44_100, 1, WavFormat::Float).expect("room on the disk");
        assert_eq!(read_back(&path), (samples, 44_100, 1));
    }

    #[test]
    fn integers_are_rounded_and_clipped() {
        let path = place("int");
        let step = 1.0 / 32_768.0;
        let samples = [0.0, 0.4 * step, 0.6 * step, -0.6 * step, 0.5, -1.0, 1.0, 7.0, -7.0];
        let expected = [0.0, 0.0, step, -step, 0.5, -1.0, 1.0 - step, 1.0 - step, -1.0];
        write_wav(&path, &samples, 48_000, 1, WavFormat::Int16).expect("room on the disk");
        assert_eq!(read_back(&path).0, expected);
    }

    #[test]
    fn two_channels_stay_apart() {
        let path = place("two");
        let out = File::create(&path).expect("room");
        let mut file = WavWriter::new(out, &path, 8_000, 2, WavFormat::Float).expect("room");
        file.write(&[0.5, 0.25]).expect("room");
        file.write(&[0.75, 0.25]).expect("room");
        file.finish().expect("room");
        assert_eq!(read_back(&path), (vec![0.375, 0.5], 8_000, 2));
    }

    #[test]
    fn a_place_that_cannot_be_written_is_told() {
        let path = place("no-such-folder").join("x.wav");
        let refused = write_wav(&path, &[], 8_000, 1, WavFormat::Float).err();
        let words = refused.expect("no such folder").to_string();
        assert!(words.starts_with("cannot write") && words.ends_with("x.wav"), "{words}");
        let refused = write_wav(place("three"), &[], 8_000, 3, WavFormat::Float).err();
        assert!(matches!(refused, Some(WavError::Channels { channels: 3, .. })));
    }
}
