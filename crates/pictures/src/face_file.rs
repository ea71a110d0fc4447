//! A face cut down to the signs of one page, so that the page can carry it: its outlines, widths and a table of its
//! signs, without kerning and ligatures.
//!
//! Tables and their fields: OpenType specification 1.9 (`glyf`, `loca`, `hmtx`, `cmap` format 12, `post` version 3).

use std::collections::{BTreeMap, BTreeSet};

use skrifa::MetadataProvider as _;
use skrifa::raw::{TableProvider as _, types::Tag};

use crate::Face;

/// Tables that stay as they are: the size of the signs, and what fits outlines to the pixels.
const KEPT: [&[u8; 4]; 4] = [b"OS/2", b"cvt ", b"fpgm", b"prep"];
/// Flags of a part of a composite outline.
const WORDS: u16 = 0x1;
const ONE_SCALE: u16 = 0x8;
const MORE: u16 = 0x20;
const TWO_SCALES: u16 = 0x40;
const FOUR_SCALES: u16 = 0x80;

impl Face {
    /// A TrueType file that has these signs and no others; signs that the face lacks are left out.
    pub fn cut_to(self, signs: &BTreeSet<char>) -> Option<Vec<u8>> {
        let font = skrifa::FontRef::new(self.bytes()).ok()?;
        let chars = font.charmap();
        let wanted = signs.iter().filter_map(|&sign| Some((sign, chars.map(sign)?.to_u32())));
        let wanted: BTreeMap<char, u32> = wanted.collect();
        let table = |tag: &[u8; 4]| Some(font.table_data(Tag::new(tag))?.as_bytes().to_vec());
        let (loca, glyf) = (font.loca(None).ok()?, table(b"glyf")?);
        let outline = |glyph: u32| -> Option<&[u8]> {
            let at = |glyph: u32| Some(loca.get_raw(glyph as usize)? as usize);
            glyf.get(at(glyph)?..at(glyph + 1)?)
        };
        // What stands for unknown signs is the first; parts of composite outlines follow those that use them.
        let mut kept: Vec<u32> = vec![0];
        let mut number: BTreeMap<u32, u16> = BTreeMap::from([(0, 0)]);
        let mut waiting: Vec<u32> = wanted.values().rev().copied().collect();
        while let Some(glyph) = waiting.pop() {
            if number.contains_key(&glyph) {
                continue;
            }
            number.insert(glyph, u16::try_from(kept.len()).ok()?);
            kept.push(glyph);
            let parts = parts(outline(glyph)?);
            waiting.extend(parts.into_iter().map(|(_, part)| u32::from(part)));
        }
        let (mut outlines, mut places, mut widths) = (Vec::new(), Vec::new(), Vec::new());
        let hmtx = font.hmtx().ok()?;
        for &glyph in &kept {
            places.extend((outlines.len() as u32).to_be_bytes());
            let mut outline = outline(glyph)?.to_vec();
            for (at, part) in parts(&outline) {
                let new = number.get(&u32::from(part))?.to_be_bytes();
                outline.get_mut(at..at + 2)?.copy_from_slice(&new);
            }
            outlines.extend(outline);
            outlines.resize(outlines.len().next_multiple_of(4), 0);
            widths.extend(hmtx.advance(glyph.into())?.to_be_bytes());
            widths.extend(hmtx.side_bearing(glyph.into())?.to_be_bytes());
        }
        places.extend((outlines.len() as u32).to_be_bytes());
        let count = u16::try_from(kept.len()).ok()?.to_be_bytes();
        let with = |tag, at: usize, value: [u8; 2]| {
            let mut table = table(tag)?;
            table.get_mut(at..at + 2)?.copy_from_slice(&value);
            Some(table)
        };
        let mut tables = vec![
            (*b"cmap", table_of_signs(&wanted, &number)),
            (*b"glyf", outlines),
            (*b"head", with(b"head", 50, [0, 1])?),
            (*b"hhea", with(b"hhea", 34, count)?),
            (*b"hmtx", widths),
            (*b"loca", places),
            (*b"maxp", with(b"maxp", 4, count)?),
            // A table of no names; browsers refuse a file without one.
            (*b"name", vec![0, 0, 0, 0, 0, 6]),
            (*b"post", [&[0, 3, 0, 0], table(b"post")?.get(4..32)?].concat()),
        ];
        tables.extend(KEPT.into_iter().filter_map(|tag| Some((*tag, table(tag)?))));
        tables.sort();
        Some(file(&tables))
    }
}

fn word(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(bytes.get(at..at + 2)?.try_into().ok()?))
}

/// The glyphs that a composite outline is put together from, and where in it each is named.
fn parts(outline: &[u8]) -> Vec<(usize, u16)> {
    let mut parts = Vec::new();
    // The number of its curves is negative.
    if word(outline, 0).is_none_or(|curves| curves < 0x8000) {
        return parts;
    }
    let mut at = 10;
    while let (Some(flags), Some(part)) = (word(outline, at), word(outline, at + 2)) {
        parts.push((at + 2, part));
        let scales = [(ONE_SCALE, 2), (TWO_SCALES, 4), (FOUR_SCALES, 8)];
        let scales = scales.iter().find(|(flag, _)| flags & flag != 0).map_or(0, |scale| scale.1);
        at += 4 + if flags & WORDS != 0 { 4 } else { 2 } + scales;
        if flags & MORE == 0 {
            break;
        }
    }
    parts
}

/// The table of the signs, each a group of its own.
fn table_of_signs(wanted: &BTreeMap<char, u32>, number: &BTreeMap<u32, u16>) -> Vec<u8> {
    let groups = wanted.len() as u32;
    // Version 0 with one table, for Windows and all of Unicode, which begins at byte 12; its format is 12.
    let mut table = [0, 0, 0, 1, 0, 3, 0, 10, 0, 0, 0, 12, 0, 12, 0, 0].to_vec();
    for value in [16 + 12 * groups, 0, groups] {
        table.extend(value.to_be_bytes());
    }
    for (&sign, glyph) in wanted {
        let glyph = number.get(glyph).copied().unwrap_or(0);
        for value in [u32::from(sign), u32::from(sign), u32::from(glyph)] {
            table.extend(value.to_be_bytes());
        }
    }
    table
}

/// The file of these tables, which are in the order of their names.
fn file(tables: &[([u8; 4], Vec<u8>)]) -> Vec<u8> {
    let count = tables.len() as u16;
    let power = count.ilog2() as u16;
    let mut head = [0, 1, 0, 0].to_vec();
    let range = 16 << power;
    for value in [count, range, power, 16 * count - range] {
        head.extend(value.to_be_bytes());
    }
    let start = 12 + 16 * tables.len();
    let mut body = Vec::new();
    for (tag, table) in tables {
        let place = (start + body.len()) as u32;
        let length = table.len() as u32;
        let mut padded = table.clone();
        padded.resize(padded.len().next_multiple_of(4), 0);
        head.extend(tag);
        for value in [sum(&padded), place, length] {
            head.extend(value.to_be_bytes());
        }
        body.extend(padded);
    }
    head.extend(body);
    head
}

/// The sum of all words of four bytes.
fn sum(bytes: &[u8]) -> u32 {
    let words = bytes.as_chunks::<4>().0.iter().copied().map(u32::from_be_bytes);
    words.fold(0, u32::wrapping_add)
}

#[cfg(test)]
mod tests {
    use super::*;
    use skrifa::instance::{LocationRef, Size};

    #[test]
    fn a_face_cut_down_has_its_signs_as_they_were_and_no_others() {
        let signs: BTreeSet<char> = "AFå♯♭±0123456789–ö".chars().collect();
        for face in [Face::Words, Face::Figures] {
            let cut = face.cut_to(&signs).expect("cut");
            assert!(cut.len() < 24_000, "{} bytes", cut.len());
            let whole = skrifa::FontRef::new(face.bytes()).expect("whole");
            let part = skrifa::FontRef::new(&cut).expect("a font");
            let bounds = |font: &skrifa::FontRef<'_>, sign: char| {
                let glyph = font.charmap().map(sign)?;
                let measures = font.glyph_metrics(Size::new(100.0), LocationRef::default());
                Some((measures.advance_width(glyph)?, measures.bounds(glyph)))
            };
            for &sign in &signs {
                let there = bounds(&part, sign);
                assert!(there.is_some(), "{face:?}: {sign}");
                assert_eq!(there, bounds(&whole, sign), "{face:?}: {sign}");
            }
            assert!(bounds(&part, 'B').is_none() && bounds(&whole, 'B').is_some());
        }
    }

    #[test]
    fn signs_that_a_face_lacks_are_left_out() {
        let signs: BTreeSet<char> = "a音".chars().collect();
        let cut = Face::Words.cut_to(&signs).expect("cut");
        let part = skrifa::FontRef::new(&cut).expect("a font");
        assert!(part.charmap().map('a').is_some() && part.charmap().map('音').is_none());
    }
}
