//! Sound files, decoded as they are read: mono blocks out, memory independent of length.

use std::fs::File;
use std::io::Cursor;
use std::path::{Path, PathBuf};

use crate::packets::{Decoded, Packets};
use crate::recording_error::RecordingError;
use crate::remarks::Remarks;
use crate::resampler::RATES_HZ;

/// Beyond this a float sample is no sound (full scale = 1.0) and is replaced by 0, like NaN;
/// its square still fits an `f32`.
const LARGEST: f32 = 1e9;

/// Samples that an encoder may have added behind the sound: a few packets.
const MOST_PADDING: u64 = 4_096;

/// Mono samples in file order, and what is missing before them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block<'a> {
    /// Samples (at the file's rate) that could not be decoded just before this block.
    pub lost_before: u64,
    /// Samples, full scale = 1.0, all finite.
    pub samples: &'a [f32],
}

/// A sound file open for reading: WAV, AIFF, FLAC, MP3, Ogg Vorbis or AAC (M4A, ADTS).
///
/// What an encoder put before and after the sound is left out where the file says how much it is
/// (MP3 with a LAME or Xing header, Ogg Vorbis, M4A); an MP3 without one and a raw AAC stream
/// begin some 25 ms late.
pub struct Recording {
    path: PathBuf,
    packets: Packets,
    /// The channel that is heard, counted from 0.
    channel: Option<usize>,
    stated: Option<u64>,
    /// Samples at the start that are not to be heard, still to be dropped.
    delay: u64,
    /// Samples to be heard at most.
    most: u64,
    /// Samples passed so far, lost ones included.
    place: u64,
    mono: Vec<f32>,
    /// Samples at the end of `mono` that are still to be given out (after a skip into a block).
    kept: usize,
    /// The first packet is decoded on opening and waits here, with what was lost before it.
    first: Option<u64>,
    remarks: Remarks,
    ended: bool,
}

impl Recording {
    /// Opens a file and decodes its beginning. Says in words what is wrong with one that is no sound.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, RecordingError> {
        let path = path.as_ref();
        let about = std::fs::metadata(path);
        let about = about.map_err(|error| RecordingError::from_io(&error, path))?;
        if about.is_dir() {
            let path = path.to_path_buf();
            return Err(RecordingError::Folder { path });
        }
        if !about.is_file() {
            let path = path.to_path_buf();
            return Err(RecordingError::NoFile { path });
        }
        let file = File::open(path).map_err(|error| RecordingError::from_io(&error, path))?;
        Self::new(Packets::open(Box::new(file), path)?, path)
    }

    /// The same from memory; `name` stands for the path in messages, its extension is a hint.
    pub fn from_bytes(bytes: Vec<u8>, name: impl AsRef<Path>) -> Result<Self, RecordingError> {
        let name = name.as_ref();
        Self::new(Packets::open(Box::new(Cursor::new(bytes)), name)?, name)
    }

    fn new(mut packets: Packets, path: &Path) -> Result<Self, RecordingError> {
        let decoded = packets.decode();
        let path = path.to_path_buf();
        let lost = match decoded.map_err(|error| RecordingError::from_io(&error, &path))? {
            Decoded::Samples(lost) => lost,
            Decoded::End(_) => {
                return Err(match packets.stopped {
                    Some(reason) => RecordingError::Damaged { reason, path },
                    None => RecordingError::NoSamples { path },
                });
            }
        };
        let rate_hz = packets.sample_rate_hz;
        if !RATES_HZ.contains(&rate_hz) {
            return Err(RecordingError::Rate { rate_hz, path });
        }
        let samples = |secs: f64| (secs * f64::from(rate_hz)).round() as u64;
        let edit = packets.edit;
        let most = edit.and_then(|edit| edit.length_secs).map(samples);
        let delay = edit.map_or(0, |edit| samples(edit.start_secs));
        let mut remarks = Remarks::default();
        if let (Some(most), Some(stated)) = (most, packets.stated) {
            let hidden = stated.saturating_sub(delay).saturating_sub(most);
            if hidden > MOST_PADDING {
                let secs = |samples| samples as f64 / f64::from(rate_hz);
                remarks.left_out = Some((secs(most), secs(stated)));
            }
        }
        Ok(Self {
            path,
            channel: None,
            stated: most.or(packets.stated),
            delay,
            most: most.unwrap_or(u64::MAX),
            place: 0,
            mono: Vec::new(),
            kept: 0,
            first: Some(lost),
            remarks,
            ended: false,
            packets,
        })
    }

    /// Hears only channel `number`, counted from 1, instead of the mean of all.
    pub fn with_channel(mut self, number: usize) -> Result<Self, RecordingError> {
        if !(1..=self.channels()).contains(&number) {
            return Err(RecordingError::NoSuchChannel {
                asked: number,
                channels: self.channels(),
                path: self.path,
            });
        }
        self.channel = Some(number - 1);
        Ok(self)
    }

    /// Samples a second, within [`RATES_HZ`].
    pub fn sample_rate_hz(&self) -> u32 {
        self.packets.sample_rate_hz
    }

    /// Channels in the file, at least 1.
    pub fn channels(&self) -> usize {
        self.packets.channels
    }

    /// Length as the file states it, in seconds; a damaged file may state anything.
    pub fn duration_secs(&self) -> Option<f64> {
        self.stated.map(|samples| self.secs(samples))
    }

    /// Seconds passed so far, lost samples included.
    pub fn place_secs(&self) -> f64 {
        self.secs(self.place)
    }

    /// What was not right so far.
    pub fn remarks(&self) -> &Remarks {
        &self.remarks
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The next samples, or `None` at the end. An error is one of reading (disk, network folder);
    /// damage inside the file is told in [`Block::lost_before`] and [`Remarks`] instead.
    pub fn next_block(&mut self) -> Result<Option<Block<'_>>, RecordingError> {
        let kept = std::mem::take(&mut self.kept);
        if kept > 0 {
            self.place += kept as u64;
            return Ok(Some(Block {
                lost_before: 0,
                samples: &self.mono[self.mono.len() - kept..],
            }));
        }
        let lost_before = loop {
            let decoded = match self.first.take() {
                Some(lost) => Decoded::Samples(lost),
                None if self.ended => return Ok(None),
                None => {
                    let decoded = self.packets.decode();
                    decoded.map_err(|error| RecordingError::from_io(&error, &self.path))?
                }
            };
            let lost = match decoded {
                Decoded::Samples(lost) => lost,
                Decoded::End(lost) => {
                    self.end(lost);
                    return Ok(None);
                }
            };
            self.mix();
            let left = self.most.saturating_sub(self.place.saturating_add(lost));
            let left = usize::try_from(left).unwrap_or(usize::MAX);
            self.mono.truncate(left);
            self.ended = left == 0;
            self.note_gap(lost);
            self.place = self.place.saturating_add(self.mono.len() as u64);
            if !self.mono.is_empty() {
                break lost;
            }
        };
        Ok(Some(Block { lost_before, samples: &self.mono }))
    }

    /// Passes over the first `secs` seconds, exactly (by decoding them).
    /// Returns how many samples were passed over; the file may be shorter.
    pub fn skip_secs(&mut self, secs: f64) -> Result<u64, RecordingError> {
        let wanted = (secs.max(0.0) * f64::from(self.sample_rate_hz())).round() as u64;
        let start = self.place;
        while self.place - start < wanted {
            let Some(block) = self.next_block()? else {
                break;
            };
            let count = block.samples.len() as u64;
            let too_far = (self.place - start).saturating_sub(wanted).min(count);
            self.place -= too_far;
            self.kept = too_far as usize;
        }
        Ok(self.place - start)
    }

    fn secs(&self, samples: u64) -> f64 {
        samples as f64 / f64::from(self.sample_rate_hz())
    }

    /// Writes `mono` from what was decoded.
    fn mix(&mut self) {
        let channels = self.channels();
        let interleaved = &self.packets.interleaved;
        let drop = self.delay.min((interleaved.len() / channels) as u64);
        self.delay -= drop;
        let mut bad = 0;
        let mut sound = |sample: f32| {
            // False for NaN too.
            if sample.abs() <= LARGEST {
                sample
            } else {
                bad += 1;
                0.0
            }
        };
        let groups = interleaved.chunks_exact(channels).skip(drop as usize);
        self.mono.clear();
        match self.channel {
            Some(channel) => self.mono.extend(groups.map(|group| sound(group[channel]))),
            None => self.mono.extend(groups.map(|group| {
                let sum: f32 = group.iter().map(|&sample| sound(sample)).sum();
                sum / channels as f32
            })),
        }
        self.remarks.bad_samples += bad;
    }

    fn note_gap(&mut self, lost: u64) {
        self.place = self.place.saturating_add(lost);
        self.remarks.gaps += u64::from(lost > 0);
        self.remarks.lost_samples = self.remarks.lost_samples.saturating_add(lost);
    }

    fn end(&mut self, lost: u64) {
        self.ended = true;
        self.note_gap(lost);
        self.remarks.changed = self.packets.changed;
        self.remarks.stopped = self.packets.stopped.clone();
        if self.remarks.stopped.is_some() {
            return;
        }
        if let Some(stated) = self.stated
            && self.place < stated
        {
            self.remarks.cut = Some((self.secs(stated), self.place_secs()));
        } else if self.packets.breaks_off {
            self.remarks.breaks_off = Some(self.place_secs());
        }
        // What is missing is no news then.
        self.remarks.altered = self.packets.altered && self.remarks.gaps == 0;
    }
}
