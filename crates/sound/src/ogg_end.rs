//! Whether an Ogg file goes to its end: the decoder takes the last page that is there for the last there was.
//!
//! Pages and their heads: RFC 3533, section 6.

use std::io::{Read, Seek, SeekFrom};

/// Bytes of the longest page: a head of 27, 255 lengths, and as many segments of 255.
const LONGEST_PAGE: u64 = 27 + 255 + 255 * 255;
/// In the fifth byte of a page's head: it is the last of its stream.
const LAST_OF_STREAM: u8 = 4;

/// Whether the file ends within a page, or before a stream's last page.
pub(crate) fn is_cut(source: &mut (impl Read + Seek + ?Sized)) -> bool {
    let Ok(end) = source.seek(SeekFrom::End(0)) else {
        return false;
    };
    let mut tail = Vec::new();
    let from = end.saturating_sub(LONGEST_PAGE);
    let read = source.seek(SeekFrom::Start(from)).and_then(|_| source.read_to_end(&mut tail));
    let Some(at) = tail.windows(4).rposition(|four| four == b"OggS") else {
        return read.is_ok();
    };
    !tail.get(at..).is_some_and(is_last_and_whole)
}

fn is_last_and_whole(page: &[u8]) -> bool {
    let Some((head, rest)) = page.split_at_checked(27) else {
        return false;
    };
    let segments = usize::from(head[26]);
    let Some(lengths) = rest.get(..segments) else {
        return false;
    };
    let length: usize = lengths.iter().map(|&length| usize::from(length)).sum();
    head[5] & LAST_OF_STREAM != 0 && rest.len() >= segments + length
}
