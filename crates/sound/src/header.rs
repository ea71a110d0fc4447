//! A first look at a file's beginning, for faults that decoders do not name.

use std::path::Path;

use crate::recording_error::RecordingError;
use crate::resampler::RATES_HZ;

/// Bytes that are looked at.
pub(crate) const START: u64 = 65_536;

/// Names what is wrong with a file that begins so; `Ok` means that a decoder may try.
pub(crate) fn check(start: &[u8], path: &Path) -> Result<(), RecordingError> {
    let path = || path.to_path_buf();
    if start.is_empty() {
        return Err(RecordingError::Empty { path: path() });
    }
    if !could_be_sound(start) {
        return Err(RecordingError::NotAudio { path: path() });
    }
    let wav = WavFormat::of(start);
    let channels = wav.as_ref().map(|wav| wav.channels);
    if channels.or_else(|| aiff_channels(start)) == Some(0) {
        return Err(RecordingError::NoChannels { path: path() });
    }
    if let Some(WavFormat { rate_hz, .. }) = wav
        && !RATES_HZ.contains(&rate_hz)
    {
        return Err(RecordingError::Rate { rate_hz, path: path() });
    }
    Ok(())
}

/// Whether a decoder should look for sound at all. Text can contain, by chance, what an MP3
/// decoder takes for the start of a frame only if it is no text: frames start with byte 0xFF,
/// which no UTF-8 text has.
fn could_be_sound(start: &[u8]) -> bool {
    let known: [(usize, &[u8]); 7] = [
        (0, b"RIFF"),
        (0, b"FORM"),
        (0, b"fLaC"),
        (0, b"OggS"),
        (0, b"ID3"),
        (4, b"ftyp"),
        (0, b"TAG"),
    ];
    let named = known
        .iter()
        .any(|&(at, magic)| start.get(at..).is_some_and(|from| from.starts_with(magic)));
    named || start.contains(&0xFF)
}

/// What a WAV file states of its samples.
pub(crate) struct WavFormat {
    /// Where the content of the format chunk begins.
    pub at: u64,
    pub channels: u16,
    pub rate_hz: u32,
    /// Bits of a sample as it is stored.
    pub bits: u16,
    /// Whether a mask of loudspeakers follows (the extensible form).
    pub masked: bool,
    /// Where the samples begin and how many bytes of them are stated.
    pub data: Option<(u64, u32)>,
    /// Whether, with no bytes of samples stated, another chunk does follow.
    pub more_follows: bool,
}

impl WavFormat {
    /// Reads the beginning of a file, if it is a WAV file.
    pub(crate) fn of(start: &[u8]) -> Option<Self> {
        if !start.starts_with(b"RIFF") || start.get(8..12)? != b"WAVE" {
            return None;
        }
        let at = chunk(start, b"fmt ", u32::from_le_bytes)?;
        let format = start.get(at..)?;
        let data = chunk(start, b"data", u32::from_le_bytes);
        let length = |at: usize| Some(u32::from_le_bytes(start.get(at - 4..at)?.try_into().ok()?));
        let word = |at| Some(u16::from_le_bytes(format.get(at..at + 2)?.try_into().ok()?));
        Some(Self {
            at: at as u64,
            channels: word(2)?,
            rate_hz: u32::from_le_bytes(format.get(4..8)?.try_into().ok()?),
            bits: word(14)?,
            masked: word(0)? == 0xFFFE,
            data: data.map(|at| (at as u64, length(at).unwrap_or(0))),
            more_follows: data.is_some_and(|at| is_chunk(start, at)),
        })
    }
}

/// Whether the name of a chunk stands here, as far as one can tell.
fn is_chunk(start: &[u8], at: usize) -> bool {
    let name = start.get(at..at + 4);
    name.is_some_and(|name| name.iter().all(|&c| c.is_ascii_alphanumeric() || c == b' '))
}

/// Channels stated by an AIFF file (its rate is an 80-bit float, left to the decoder).
fn aiff_channels(start: &[u8]) -> Option<u16> {
    if !start.starts_with(b"FORM") || !start.get(8..12)?.starts_with(b"AIF") {
        return None;
    }
    let at = chunk(start, b"COMM", u32::from_be_bytes)?;
    Some(u16::from_be_bytes(start.get(at..at + 2)?.try_into().ok()?))
}

/// Where the content of the chunk of this name begins.
fn chunk(start: &[u8], name: &[u8; 4], number: fn([u8; 4]) -> u32) -> Option<usize> {
    let mut at = 12_usize;
    loop {
        let head = start.get(at..at.checked_add(8)?)?;
        let length = number(head[4..8].try_into().ok()?) as usize;
        if &head[..4] == name {
            return Some(at + 8);
        }
        // Chunks are padded to even lengths.
        at = at.checked_add(8)?.checked_add(length)?.checked_add(length % 2)?;
    }
}
