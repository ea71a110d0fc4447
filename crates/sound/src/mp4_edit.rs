//! What the decoder leaves to us in MP4 files: the edit list (where the sound begins and ends)
//! and files that are cut off.
//!
//! An AAC encoder needs some 1 000 to 2 000 samples before its first sound; the file says so in an
//! edit list. Boxes and fields: ISO/IEC 14496-12 (ISO base media file format), 8.1 to 8.6 (from memory).

use std::io::{Read, Seek, SeekFrom};

/// Most boxes looked at, so that a damaged file cannot hold us up.
const MOST_BOXES: u32 = 4_096;

/// What of the decoded sound is meant to be heard, in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Edit {
    /// Left out at the start.
    pub start_secs: f64,
    /// Heard after that; `None` if the file does not say.
    pub length_secs: Option<f64>,
}

/// The edit of the first sound track, if the file has exactly one that shortens it.
pub(crate) fn edit(source: &mut (impl Read + Seek + ?Sized)) -> Option<Edit> {
    let end = source.seek(SeekFrom::End(0)).ok()?;
    let mut boxes = Boxes { source, left: MOST_BOXES };
    let movie = boxes.find(Span { at: 0, end }, b"moov", |_, _| Some(()))?.0;
    let (header, ()) = boxes.find(movie, b"mvhd", |_, _| Some(()))?;
    let movie_rate = boxes.timescale(header)?;
    let (_, (media_rate, list)) = boxes.find(movie, b"trak", Boxes::sound_track)?;
    let (length, start) = boxes.only_edit(list)?;
    Some(Edit {
        start_secs: start as f64 / f64::from(media_rate),
        length_secs: (length > 0).then(|| length as f64 / f64::from(movie_rate)),
    })
}

/// Whether the file ends inside one of its outermost boxes.
pub(crate) fn is_cut(source: &mut (impl Read + Seek + ?Sized)) -> bool {
    let Ok(end) = source.seek(SeekFrom::End(0)) else {
        return false;
    };
    let mut boxes = Boxes { source, left: MOST_BOXES };
    let mut at = 0;
    while let Some((_, next)) = boxes.extent(Span { at, end }) {
        if next > end {
            return true;
        }
        at = next;
    }
    false
}

/// The inside of a box.
#[derive(Clone, Copy)]
struct Span {
    at: u64,
    end: u64,
}

struct Boxes<'a, S: ?Sized> {
    source: &'a mut S,
    left: u32,
}

impl<S: Read + Seek + ?Sized> Boxes<'_, S> {
    fn bytes<const N: usize>(&mut self, at: u64) -> Option<[u8; N]> {
        let mut bytes = [0; N];
        self.source.seek(SeekFrom::Start(at)).ok()?;
        self.source.read_exact(&mut bytes).ok()?;
        Some(bytes)
    }

    fn u32(&mut self, at: u64) -> Option<u32> {
        self.bytes(at).map(u32::from_be_bytes)
    }

    fn u64(&mut self, at: u64) -> Option<u64> {
        self.bytes(at).map(u64::from_be_bytes)
    }

    /// Where the box at the start of `span` has its content, and where it says that it ends.
    fn extent(&mut self, span: Span) -> Option<(u64, u64)> {
        self.left = self.left.checked_sub(1)?;
        let (length, head) = match self.u32(span.at)? {
            0 => (span.end.checked_sub(span.at)?, 8),
            1 => (self.u64(span.at + 8)?, 16),
            length => (u64::from(length), 8),
        };
        let (content, end) = (span.at + head, span.at.checked_add(length)?);
        (content <= end).then_some((content, end))
    }

    /// The first box of this name inside `span` of which `take` makes something.
    fn find<T>(
        &mut self,
        span: Span,
        name: &[u8; 4],
        take: impl Fn(&mut Self, Span) -> Option<T>,
    ) -> Option<(Span, T)> {
        let mut at = span.at;
        loop {
            let (start, end) = self.extent(Span { at, end: span.end })?;
            if end > span.end {
                return None;
            }
            let inside = Span { at: start, end };
            if self.bytes::<4>(at + 4)? == *name
                && let Some(taken) = take(self, inside)
            {
                return Some((inside, taken));
            }
            at = end;
        }
    }

    /// Ticks a second of a movie or media header.
    fn timescale(&mut self, header: Span) -> Option<u32> {
        let long = self.bytes::<1>(header.at)?[0] == 1;
        let scale = self.u32(header.at + if long { 20 } else { 12 })?;
        (scale > 0).then_some(scale)
    }

    /// Media timescale and edit list of a track, if it is one of sound.
    fn sound_track(&mut self, track: Span) -> Option<(u32, Span)> {
        let (media, ()) = self.find(track, b"mdia", |_, _| Some(()))?;
        let (handler, ()) = self.find(media, b"hdlr", |_, _| Some(()))?;
        if self.bytes::<4>(handler.at + 8)? != *b"soun" {
            return None;
        }
        let (header, ()) = self.find(media, b"mdhd", |_, _| Some(()))?;
        let scale = self.timescale(header)?;
        let (edits, ()) = self.find(track, b"edts", |_, _| Some(()))?;
        let (list, ()) = self.find(edits, b"elst", |_, _| Some(()))?;
        Some((scale, list))
    }

    /// Length (movie ticks) and start (media ticks) of an edit list with one entry at normal speed.
    fn only_edit(&mut self, list: Span) -> Option<(u64, u64)> {
        let long = self.bytes::<1>(list.at)?[0] == 1;
        if self.u32(list.at + 4)? != 1 {
            return None;
        }
        let (length, start, speed) = if long {
            let start = i64::try_from(self.u64(list.at + 16)?).ok()?;
            (self.u64(list.at + 8)?, start, self.u32(list.at + 24)?)
        } else {
            let start = self.u32(list.at + 12)?.cast_signed();
            (u64::from(self.u32(list.at + 8)?), start.into(), self.u32(list.at + 16)?)
        };
        let start = u64::try_from(start).ok()?;
        (speed == 0x0001_0000).then_some((length, start))
    }
}
