//! Sound files, decoded as they are read: mono blocks out, memory independent of length.

use std::fs::File;
use std::io::{Cursor, Read, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_FLAC;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as Fault;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;

use crate::header::{self, WavFormat};
use crate::mended_wav::{self, MendedWav};
use crate::mp4_edit::{self, Edit};
use crate::recording_error::RecordingError;
use crate::resampler::RATES_HZ;

/// Beyond this a float sample is no sound (full scale = 1.0) and is replaced by 0, like NaN;
/// its square still fits an `f32`.
const LARGEST: f32 = 1e9;

/// Packets in a row that may be undecodable before the rest is given up.
const MOST_DAMAGED: u32 = 10_000;

/// Mono samples in file order, and what is missing before them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block<'a> {
    /// Samples (at the file's rate) that could not be decoded just before this block.
    pub lost_before: u64,
    /// Samples, full scale = 1.0, all finite.
    pub samples: &'a [f32],
}

/// What was not right in a file that could be read all the same. Complete once
/// [`Recording::next_block`] has returned `None`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Remarks {
    /// The file ends before the length it states: seconds stated and seconds found.
    pub cut: Option<(f64, f64)>,
    /// Damaged places that could not be decoded; each is a gap ([`Block::lost_before`]).
    pub gaps: u64,
    /// Samples missing in all gaps.
    pub lost_samples: u64,
    /// Samples that were not a number, infinite or absurdly large, and were replaced by 0.
    pub bad_samples: u64,
    /// The file goes on after this with another sample rate or another stream, which was left out.
    pub changed: bool,
    /// Reading stopped in the middle for this reason.
    pub stopped: Option<String>,
}

impl Remarks {
    /// The remarks in words, one sentence each; empty for a sound file without faults.
    pub fn in_words(&self) -> Vec<String> {
        let mut words = Vec::new();
        if let Some((stated, found)) = self.cut {
            words.push(format!(
                "the file is cut off: {found:.1} s of {stated:.1} s are there"
            ));
        }
        if self.gaps > 0 {
            words.push(format!(
                "the file is damaged in {} places, {} samples are lost",
                self.gaps, self.lost_samples
            ));
        }
        if self.bad_samples > 0 {
            words.push(format!(
                "{} samples were not numbers and were taken as silence",
                self.bad_samples
            ));
        }
        if self.changed {
            words.push("a second sound follows in the file and was left out".to_owned());
        }
        if let Some(reason) = &self.stopped {
            words.push(format!("reading stopped early: {reason}"));
        }
        words
    }
}

/// A sound file open for reading, WAV, AIFF, FLAC, MP3, Ogg Vorbis or AAC (M4A, ADTS).
pub struct Recording {
    path: PathBuf,
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    counts_samples: bool,
    sample_rate_hz: u32,
    channels: usize,
    channel: Option<usize>,
    stated: Option<u64>,
    apart: Option<usize>,
    /// Encoder delay that the decoder does not take out, in samples still to be dropped.
    delay: u64,
    /// Samples to be heard at most.
    most: u64,
    /// Samples passed so far, lost ones included.
    place: u64,
    /// What the decoder gave last.
    packet: Vec<f32>,
    /// Whole groups of one sample for each channel, then perhaps the beginning of the next group.
    interleaved: Vec<f32>,
    mono: Vec<f32>,
    /// Samples at the end of `mono` that are still to be given out (after a skip into a block).
    kept: usize,
    /// The first packet is decoded on opening and waits here.
    first: Option<u64>,
    remarks: Remarks,
    ended: bool,
}

/// Most samples that one gap can have: whatever a damaged file says, a time of two days.
const MOST_LOST: u64 = 192_000 * 3_600 * 48;

/// What came of one packet.
enum Decoded {
    /// `interleaved` holds samples; so many were lost before.
    Samples(u64),
    /// The end of the file; so many were lost before.
    End(u64),
}

impl Recording {
    /// Opens a file and decodes its beginning. Says in words what is wrong with one that is no sound.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, RecordingError> {
        let path = path.as_ref().to_path_buf();
        let about = match std::fs::metadata(&path) {
            Ok(about) => about,
            Err(error) => return Err(RecordingError::from_io(&error, path)),
        };
        if about.is_dir() {
            return Err(RecordingError::Folder { path });
        }
        if !about.is_file() {
            return Err(RecordingError::NoFile { path });
        }
        match File::open(&path) {
            Ok(file) => Self::from_source(Box::new(file), path),
            Err(error) => Err(RecordingError::from_io(&error, path)),
        }
    }

    /// The same from memory; `name` stands for the path in messages, its extension is a hint.
    pub fn from_bytes(bytes: Vec<u8>, name: impl AsRef<Path>) -> Result<Self, RecordingError> {
        Self::from_source(Box::new(Cursor::new(bytes)), name.as_ref().to_path_buf())
    }

    fn from_source(
        mut source: Box<dyn MediaSource>,
        path: PathBuf,
    ) -> Result<Self, RecordingError> {
        let mut start = Vec::new();
        let read = source.by_ref().take(header::START).read_to_end(&mut start);
        if let Err(error) = read {
            return Err(RecordingError::from_io(&error, path));
        }
        header::check(&start, &path)?;
        let mp4 = start.get(4..8) == Some(b"ftyp");
        let edit = if mp4 {
            mp4_edit::edit(source.as_mut())
        } else {
            None
        };
        let cut = mp4 && mp4_edit::is_cut(source.as_mut());
        if let Err(error) = source.seek(SeekFrom::Start(0)) {
            return Err(RecordingError::from_io(&error, path));
        }
        let wav = WavFormat::of(&start);
        let apart = wav.as_ref().and_then(mended_wav::apart);
        if let Some(wav) = wav {
            source = Box::new(MendedWav::new(source, &wav));
        }
        if cut {
            // Read from front to end, the decoder does not stumble over the missing end.
            source = Box::new(ReadOnlySource::new(source));
        }
        // A decoder must not take the program down with it, whatever stands in the file.
        let opened = catch_unwind(AssertUnwindSafe(|| {
            Self::probe(source, path.clone(), apart)
        }));
        let opened = opened.map(|opened| opened.map(|recording| recording.with_edit(edit)));
        opened.unwrap_or(Err(RecordingError::Damaged {
            reason: "the decoder gave up".to_owned(),
            path,
        }))
    }

    /// `apart` says how many channels to take the samples apart into, if not as the decoder says.
    fn probe(
        source: Box<dyn MediaSource>,
        path: PathBuf,
        apart: Option<usize>,
    ) -> Result<Self, RecordingError> {
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(extension);
        }
        let stream = MediaSourceStream::new(source, Default::default());
        let reader = symphonia::default::get_probe()
            .probe(
                &hint,
                stream,
                FormatOptions::default(),
                MetadataOptions::default(),
            )
            .map_err(|fault| RecordingError::from_opening(fault, &path))?;
        let Some(track) = reader.default_track(TrackType::Audio) else {
            return Err(RecordingError::NotAudio { path });
        };
        let Some(CodecParameters::Audio(codec)) = &track.codec_params else {
            return Err(RecordingError::NotAudio { path });
        };
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(codec, &AudioDecoderOptions::default())
            .map_err(|fault| RecordingError::from_opening(fault, &path))?;
        let mut new = Self {
            track: track.id,
            counts_samples: codec.codec == CODEC_ID_FLAC,
            stated: track
                .num_frames
                .map(|count| count / apart.unwrap_or(1) as u64),
            apart,
            path,
            decoder,
            sample_rate_hz: 0,
            channels: 0,
            channel: None,
            delay: 0,
            most: u64::MAX,
            place: 0,
            packet: Vec::new(),
            interleaved: Vec::new(),
            mono: Vec::new(),
            kept: 0,
            first: None,
            remarks: Remarks::default(),
            ended: false,
            reader,
        };
        let Decoded::Samples(lost) = new.decode_packet()? else {
            return Err(match new.remarks.stopped {
                Some(reason) => RecordingError::Damaged {
                    reason,
                    path: new.path,
                },
                None => RecordingError::NoSamples { path: new.path },
            });
        };
        if !RATES_HZ.contains(&new.sample_rate_hz) {
            return Err(RecordingError::Rate {
                rate_hz: new.sample_rate_hz,
                path: new.path,
            });
        }
        new.first = Some(lost);
        Ok(new)
    }

    /// Leaves out what the file says is not to be heard.
    fn with_edit(mut self, edit: Option<Edit>) -> Self {
        if let Some(edit) = edit {
            let samples = |secs: f64| (secs * f64::from(self.sample_rate_hz)).round() as u64;
            self.delay = samples(edit.start_secs);
            if let Some(length_secs) = edit.length_secs {
                self.most = samples(length_secs);
                self.stated = Some(self.most);
            }
        }
        self
    }

    /// Hears only channel `number`, counted from 1, instead of the mean of all.
    pub fn with_channel(mut self, number: usize) -> Result<Self, RecordingError> {
        if !(1..=self.channels).contains(&number) {
            return Err(RecordingError::NoSuchChannel {
                asked: number,
                channels: self.channels,
                path: self.path,
            });
        }
        self.channel = Some(number - 1);
        Ok(self)
    }

    /// Samples a second, within [`RATES_HZ`].
    pub fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }

    /// Channels in the file, at least 1.
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Length as the file states it, in seconds; a damaged file may state anything.
    pub fn duration_secs(&self) -> Option<f64> {
        self.stated
            .map(|samples| samples as f64 / f64::from(self.sample_rate_hz))
    }

    /// Seconds passed so far, lost samples included.
    pub fn place_secs(&self) -> f64 {
        self.place as f64 / f64::from(self.sample_rate_hz)
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
        if self.kept > 0 {
            let samples = &self.mono[self.mono.len() - self.kept..];
            self.place += self.kept as u64;
            self.kept = 0;
            return Ok(Some(Block {
                lost_before: 0,
                samples,
            }));
        }
        let lost_before = loop {
            let lost = match self.first.take() {
                Some(lost) => lost,
                None if self.ended => return Ok(None),
                None => match self.decode_guarded()? {
                    Decoded::Samples(lost) => lost,
                    Decoded::End(lost) => {
                        self.end(lost);
                        return Ok(None);
                    }
                },
            };
            self.mix();
            let left = self.most.saturating_sub(self.place.saturating_add(lost));
            self.mono
                .truncate(usize::try_from(left).unwrap_or(usize::MAX));
            self.ended = left == 0;
            self.place = self.place.saturating_add(lost + self.mono.len() as u64);
            self.note_gap(lost);
            if !self.mono.is_empty() {
                break lost;
            }
        };
        Ok(Some(Block {
            lost_before,
            samples: &self.mono,
        }))
    }

    /// Passes over the first `secs` seconds, exactly (by decoding them).
    /// Returns how many samples were passed over; the file may be shorter.
    pub fn skip_secs(&mut self, secs: f64) -> Result<u64, RecordingError> {
        let wanted = (secs.max(0.0) * f64::from(self.sample_rate_hz)).round() as u64;
        let start = self.place;
        loop {
            let Some(block) = self.next_block()? else {
                return Ok(self.place - start);
            };
            let count = block.samples.len();
            let passed = self.place - start;
            if passed >= wanted {
                let keep = (passed - wanted).min(count as u64) as usize;
                self.place -= keep as u64;
                self.kept = keep;
                return Ok(self.place - start);
            }
        }
    }

    fn decode_guarded(&mut self) -> Result<Decoded, RecordingError> {
        let decoded = catch_unwind(AssertUnwindSafe(|| self.decode_packet()));
        decoded.unwrap_or_else(|_| {
            self.remarks.stopped = Some("the file is damaged and the decoder gave up".to_owned());
            Ok(Decoded::End(0))
        })
    }

    /// Fills `interleaved` from the next packet that can be decoded.
    fn decode_packet(&mut self) -> Result<Decoded, RecordingError> {
        let mut lost = 0;
        let mut damaged = 0;
        loop {
            let packet = match self.reader.next_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => return Ok(Decoded::End(lost)),
                Err(Fault::ResetRequired) => {
                    self.remarks.changed = true;
                    return Ok(Decoded::End(lost));
                }
                Err(Fault::IoError(error)) if !is_end(&error) => {
                    return Err(RecordingError::from_io(&error, self.path.clone()));
                }
                Err(Fault::IoError(_)) => return Ok(Decoded::End(lost)),
                Err(fault) => {
                    self.remarks.stopped = Some(fault.to_string());
                    return Ok(Decoded::End(lost));
                }
            };
            if packet.track_id != self.track {
                continue;
            }
            if self.counts_samples {
                lost += self.jump(packet.pts.get(), lost);
            }
            let decoded = match self.decoder.decode(&packet) {
                Ok(decoded) => decoded,
                Err(Fault::IoError(_) | Fault::DecodeError(_)) if damaged < MOST_DAMAGED => {
                    damaged += 1;
                    lost = packet.dur.get().saturating_add(lost).min(MOST_LOST);
                    continue;
                }
                Err(fault) => {
                    self.remarks.stopped = Some(fault.to_string());
                    return Ok(Decoded::End(lost));
                }
            };
            let rate_hz = decoded.spec().rate();
            let channels = self.apart.unwrap_or(decoded.spec().channels().count());
            if channels == 0 {
                return Err(RecordingError::NoChannels {
                    path: self.path.clone(),
                });
            }
            if self.channels == 0 {
                self.sample_rate_hz = rate_hz;
                self.channels = channels;
            } else if (rate_hz, channels) != (self.sample_rate_hz, self.channels) {
                self.remarks.changed = true;
                return Ok(Decoded::End(lost));
            }
            if decoded.frames() == 0 {
                continue;
            }
            decoded.copy_to_vec_interleaved(&mut self.packet);
            let whole = self.interleaved.len() - self.interleaved.len() % channels;
            self.interleaved.drain(..whole);
            self.interleaved.append(&mut self.packet);
            return Ok(Decoded::Samples(lost));
        }
    }

    /// Samples missing before a packet that says where it stands (FLAC frames do).
    fn jump(&self, stands: i64, lost: u64) -> u64 {
        let here = self.place + lost;
        let stands = u64::try_from(stands).unwrap_or(0);
        let believable = self.stated.is_some_and(|stated| stands <= stated);
        if believable {
            stands.saturating_sub(here).min(MOST_LOST)
        } else {
            0
        }
    }

    /// Writes `mono` from `interleaved`.
    fn mix(&mut self) {
        let channels = self.channels;
        let drop = self.delay.min((self.interleaved.len() / channels) as u64);
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
        let groups = self.interleaved.chunks_exact(channels).skip(drop as usize);
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
        self.remarks.gaps += u64::from(lost > 0);
        self.remarks.lost_samples += lost;
    }

    fn end(&mut self, lost: u64) {
        self.ended = true;
        self.place = self.place.saturating_add(lost);
        self.note_gap(lost);
        if let Some(stated) = self.stated
            && self.place < stated
            && self.remarks.stopped.is_none()
        {
            let rate_hz = f64::from(self.sample_rate_hz);
            self.remarks.cut = Some((stated as f64 / rate_hz, self.place as f64 / rate_hz));
        }
    }
}

fn is_end(error: &std::io::Error) -> bool {
    error.kind() == std::io::ErrorKind::UnexpectedEof
}
