//! A first look at a file's beginning, for faults that decoders do not name.

use std::path::Path;

use crate::recording_error::RecordingError;
use crate::resampler::RATES_HZ;

/// Bytes that are looked at.
pub(crate) const START: u64 = 4_096;

/// Names what is wrong with a file that begins so; `Ok` means that a decoder may try.
pub(crate) fn check(start: &[u8], path: &Path) -> Result<(), RecordingError> {
    let path = || path.to_path_buf();
    if start.is_empty() {
        return Err(RecordingError::Empty { path: path() });
    }
    if !could_be_sound(start) {
        return Err(RecordingError::NotAudio { path: path() });
    }
    if let Some((channels, rate_hz)) = wav_format(start).or_else(|| aiff_format(start)) {
        if channels == 0 {
            return Err(RecordingError::NoChannels { path: path() });
        }
        if let Some(rate_hz) = rate_hz
            && !RATES_HZ.contains(&rate_hz)
        {
            return Err(RecordingError::Rate {
                rate_hz,
                path: path(),
            });
        }
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

/// Channels and sample rate stated by a WAV file.
fn wav_format(start: &[u8]) -> Option<(u16, Option<u32>)> {
    if !start.starts_with(b"RIFF") || start.get(8..12)? != b"WAVE" {
        return None;
    }
    let format = chunk(start, b"fmt ", u32::from_le_bytes)?;
    let channels = u16::from_le_bytes(format.get(2..4)?.try_into().ok()?);
    let rate_hz = u32::from_le_bytes(format.get(4..8)?.try_into().ok()?);
    Some((channels, Some(rate_hz)))
}

/// Channels stated by an AIFF file (its rate is an 80-bit float, left to the decoder).
fn aiff_format(start: &[u8]) -> Option<(u16, Option<u32>)> {
    if !start.starts_with(b"FORM") || !start.get(8..12)?.starts_with(b"AIF") {
        return None;
    }
    let format = chunk(start, b"COMM", u32::from_be_bytes)?;
    let channels = u16::from_be_bytes(format.get(0..2)?.try_into().ok()?);
    Some((channels, None))
}

/// What stands in the chunk of this name, as far as it can be seen.
fn chunk<'a>(start: &'a [u8], name: &[u8; 4], number: fn([u8; 4]) -> u32) -> Option<&'a [u8]> {
    let mut at = 12_usize;
    loop {
        let head = start.get(at..at.checked_add(8)?)?;
        let length = number(head[4..8].try_into().ok()?) as usize;
        if &head[..4] == name {
            return start.get(at + 8..);
        }
        // Chunks are padded to even lengths.
        at = at
            .checked_add(8)?
            .checked_add(length)?
            .checked_add(length % 2)?;
    }
}
