//! From the bytes of a file to interleaved samples, packet by packet: all that is known of the
//! decoding library.

use std::io::{Error as IoError, ErrorKind, Read, Seek, SeekFrom};
use std::path::Path;

use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_FLAC;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as Fault;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSource, MediaSourceStream, ReadOnlySource};
use symphonia::core::meta::MetadataOptions;

use crate::decoder_guard::guarded;
use crate::header::{self, WavFormat};
use crate::mended_wav::{self, MendedWav};
use crate::mp4_edit::{self, Edit};
use crate::ogg_end;
use crate::recording_error::RecordingError;

/// Packets in a row that may be undecodable before the rest is given up.
const MOST_DAMAGED: u32 = 10_000;

/// Most samples that one gap can have: whatever a damaged file says, a time of two days.
const MOST_LOST: u64 = 192_000 * 3_600 * 48;

/// An open file of sound.
pub(crate) struct Packets {
    reader: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    /// Whether packets say at which sample they stand (FLAC frames do).
    numbered: bool,
    /// Channels to take the samples apart into, if not as the decoder says.
    apart: Option<usize>,
    /// Samples of one channel given so far, lost ones included.
    place: u64,
    /// What the decoder gave last.
    packet: Vec<f32>,
    /// Whole groups of one sample for each channel, then perhaps the beginning of the next group.
    pub interleaved: Vec<f32>,
    /// 0 before the first packet, as is `channels`.
    pub sample_rate_hz: u32,
    pub channels: usize,
    /// Samples of one channel as the file states it.
    pub stated: Option<u64>,
    /// What of it is to be heard.
    pub edit: Option<Edit>,
    /// The file ends before its sound does, and does not say how long that was.
    pub breaks_off: bool,
    /// All of it was decoded, and it is not the sound of which the file has the checksum.
    pub altered: bool,
    /// Why reading stopped before the end of the file.
    pub stopped: Option<String>,
    /// Whether another sound follows.
    pub changed: bool,
}

/// What came of one packet.
pub(crate) enum Decoded {
    /// `interleaved` holds samples; so many were lost before.
    Samples(u64),
    /// The end of the file; so many were lost before.
    End(u64),
}

impl Packets {
    /// Opens a file of which `path` is the name. A panic in a decoder is told as damage: the decoder
    /// must not take the program down with it, whatever stands in the file.
    pub(crate) fn open(
        mut source: Box<dyn MediaSource>,
        path: &Path,
    ) -> Result<Self, RecordingError> {
        let mut start = Vec::new();
        let read = source.by_ref().take(header::START).read_to_end(&mut start);
        read.map_err(|error| RecordingError::from_io(&error, path))?;
        header::check(&start, path)?;
        let mp4 = start.get(4..8) == Some(b"ftyp");
        let edit = if mp4 { mp4_edit::edit(source.as_mut()) } else { None };
        let cut = mp4 && mp4_edit::is_cut(source.as_mut());
        let breaks_off = start.starts_with(b"OggS") && ogg_end::is_cut(source.as_mut());
        let back = source.seek(SeekFrom::Start(0));
        back.map_err(|error| RecordingError::from_io(&error, path))?;
        let wav = WavFormat::of(&start);
        let apart = wav.as_ref().and_then(mended_wav::apart);
        if let Some(wav) = wav {
            source = Box::new(MendedWav::new(source, &wav));
        }
        if cut {
            // Read from front to end, the decoder does not stumble over the missing end.
            source = Box::new(ReadOnlySource::new(source));
        }
        let opened = guarded(|| Self::probe(source, path, apart));
        let mut opened = opened.unwrap_or_else(|| {
            Err(RecordingError::Damaged {
                reason: "the decoder gave up".to_owned(),
                path: path.to_path_buf(),
            })
        })?;
        opened.edit = edit;
        opened.breaks_off = breaks_off;
        Ok(opened)
    }

    fn probe(
        source: Box<dyn MediaSource>,
        path: &Path,
        apart: Option<usize>,
    ) -> Result<Self, RecordingError> {
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(extension);
        }
        let stream = MediaSourceStream::new(source, Default::default());
        let (format, metadata) = (FormatOptions::default(), MetadataOptions::default());
        let reader = symphonia::default::get_probe()
            .probe(&hint, stream, format, metadata)
            .map_err(|fault| RecordingError::from_opening(fault, path))?;
        let track = reader.default_track(TrackType::Audio);
        let Some((track, Some(CodecParameters::Audio(codec)))) =
            track.map(|track| (track, &track.codec_params))
        else {
            let path = path.to_path_buf();
            return Err(RecordingError::NotAudio { path });
        };
        let decoder = symphonia::default::get_codecs()
            .make_audio_decoder(codec, &AudioDecoderOptions::default().verify(true))
            .map_err(|fault| RecordingError::from_opening(fault, path))?;
        let samples = |count| count / apart.unwrap_or(1) as u64;
        Ok(Self {
            track: track.id,
            numbered: codec.codec == CODEC_ID_FLAC,
            stated: track.num_frames.map(samples),
            decoder,
            apart,
            place: 0,
            packet: Vec::new(),
            interleaved: Vec::new(),
            sample_rate_hz: 0,
            channels: 0,
            edit: None,
            breaks_off: false,
            altered: false,
            stopped: None,
            changed: false,
            reader,
        })
    }

    /// Fills `interleaved` from the next packet that can be decoded; an error is one of reading.
    pub(crate) fn decode(&mut self) -> Result<Decoded, IoError> {
        let decoded = guarded(|| self.decode_unguarded());
        let decoded = decoded.unwrap_or_else(|| {
            self.stopped = Some("the file is damaged and the decoder gave up".to_owned());
            Ok(Decoded::End(0))
        })?;
        let (Decoded::Samples(lost) | Decoded::End(lost)) = decoded;
        self.place = self.place.saturating_add(lost);
        if matches!(decoded, Decoded::Samples(_)) {
            let groups = (self.interleaved.len() / self.channels) as u64;
            self.place = self.place.saturating_add(groups);
        }
        Ok(decoded)
    }

    fn decode_unguarded(&mut self) -> Result<Decoded, IoError> {
        let mut lost = 0;
        let mut damaged = 0;
        loop {
            let packet = match self.reader.next_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => {
                    self.altered = self.decoder.finalize().verify_ok == Some(false);
                    return Ok(Decoded::End(lost));
                }
                Err(Fault::ResetRequired) => {
                    self.changed = true;
                    return Ok(Decoded::End(lost));
                }
                Err(Fault::IoError(error)) if error.kind() == ErrorKind::UnexpectedEof => {
                    return Ok(Decoded::End(lost));
                }
                Err(Fault::IoError(error)) => return Err(error),
                Err(fault) => {
                    self.stopped = Some(fault.to_string());
                    return Ok(Decoded::End(lost));
                }
            };
            if packet.track_id != self.track {
                continue;
            }
            if self.numbered {
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
                    self.stopped = Some(fault.to_string());
                    return Ok(Decoded::End(lost));
                }
            };
            let rate_hz = decoded.spec().rate();
            let named = decoded.spec().channels().count();
            let channels = self.apart.unwrap_or(named);
            if self.channels == 0 {
                self.sample_rate_hz = rate_hz;
                self.channels = channels;
            } else if (rate_hz, channels) != (self.sample_rate_hz, self.channels) {
                self.changed = true;
                return Ok(Decoded::End(lost));
            }
            if decoded.frames() == 0 || channels == 0 {
                continue;
            }
            decoded.copy_to_vec_interleaved(&mut self.packet);
            let whole = self.interleaved.len() - self.interleaved.len() % channels;
            self.interleaved.drain(..whole);
            self.interleaved.append(&mut self.packet);
            return Ok(Decoded::Samples(lost));
        }
    }

    /// Samples missing before a packet that says where it stands.
    fn jump(&self, stands: i64, lost: u64) -> u64 {
        let here = self.place.saturating_add(lost);
        let stands = u64::try_from(stands).unwrap_or(0);
        let believable = self.stated.is_some_and(|stated| stands <= stated);
        if believable { stands.saturating_sub(here).min(MOST_LOST) } else { 0 }
    }
}
