//! WAV files shown to the decoder with another header than they have: lengths that a recorder
//! stopped by force (or writing into a pipe) never filled in, and more channels than it has names for.

use std::io::{Read, Result, Seek, SeekFrom};

use symphonia::core::io::MediaSource;

use crate::header::WavFormat;

/// The decoder has names for so many channels. Files of more are shown as one channel of as many
/// samples, to be taken apart again.
const NAMED: u16 = 26;

/// A stated length of data from here on, with less in the file, is taken for "unknown":
/// nobody cuts off a gigabyte.
const UNKNOWN: u32 = 0x7F00_0000;

/// A WAV file of whose header some bytes are shown otherwise.
pub(crate) struct MendedWav {
    source: Box<dyn MediaSource>,
    at: u64,
    /// Bytes that are shown instead of those in the file, and where.
    shown: Vec<(u64, Vec<u8>)>,
}

impl MendedWav {
    /// `source` stands at its start; `wav` is what stands there.
    pub(crate) fn new(source: Box<dyn MediaSource>, wav: &WavFormat) -> Self {
        // "Up to the end" for the length of the whole.
        let mut shown = vec![(4, u32::MAX.to_le_bytes().to_vec())];
        if let (Some((at, stated)), Some(end)) = (wav.data, source.byte_len()) {
            let there = u32::try_from(end.saturating_sub(at)).unwrap_or(u32::MAX);
            let unknown = (stated == 0 && !wav.more_follows) || (stated >= UNKNOWN);
            if unknown && stated != there {
                shown.push((at - 4, there.min(u32::MAX - 1).to_le_bytes().to_vec()));
            }
        }
        if apart(wav).is_some() {
            let bytes = wav.bits / 8;
            let bytes_a_second = wav.rate_hz.wrapping_mul(bytes.into());
            shown.push((wav.at + 2, 1_u16.to_le_bytes().to_vec()));
            shown.push((wav.at + 8, bytes_a_second.to_le_bytes().to_vec()));
            shown.push((wav.at + 12, bytes.to_le_bytes().to_vec()));
            if wav.masked {
                // One channel: front centre (bit 2 of the mask).
                shown.push((wav.at + 20, 4_u32.to_le_bytes().to_vec()));
            }
        }
        Self { source, at: 0, shown }
    }
}

/// How many channels the samples have to be taken apart into, if the decoder cannot do it.
pub(crate) fn apart(wav: &WavFormat) -> Option<usize> {
    (wav.channels > NAMED).then_some(wav.channels.into())
}

impl Read for MendedWav {
    fn read(&mut self, buffer: &mut [u8]) -> Result<usize> {
        let count = self.source.read(buffer)?;
        for (start, bytes) in &self.shown {
            for (place, &byte) in (*start..).zip(bytes) {
                let index = place.checked_sub(self.at).map(usize::try_from);
                if let Some(Ok(index)) = index
                    && let Some(shown) = buffer[..count].get_mut(index)
                {
                    *shown = byte;
                }
            }
        }
        self.at += count as u64;
        Ok(count)
    }
}

impl Seek for MendedWav {
    fn seek(&mut self, to: SeekFrom) -> Result<u64> {
        self.at = self.source.seek(to)?;
        Ok(self.at)
    }
}

impl MediaSource for MendedWav {
    fn is_seekable(&self) -> bool {
        self.source.is_seekable()
    }
    fn byte_len(&self) -> Option<u64> {
        self.source.byte_len()
    }
}
