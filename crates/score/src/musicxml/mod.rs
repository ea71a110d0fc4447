//! MusicXML 4.0 (W3C Community Group, `score-partwise` and `score-timewise`), and the older versions that say the same.

mod bar;
mod going;
mod note;
mod part;

use crate::error::{NAME_MUSICXML, ScoreError};
use crate::mxl;
use crate::written::Part;
use crate::xml::{Element, MOST_BYTES, Tree, no_xml, too_many_bytes};

/// Parts of a score.
const MOST_PARTS: usize = 500;

/// A score whose parts can be read one by one.
pub struct MusicXml {
    text: String,
    /// Its title, if it has one.
    pub title: Option<String>,
    /// Its parts, in order.
    pub parts: Vec<PartName>,
}

/// A part of a score.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PartName {
    /// What it is called within the file.
    pub id: String,
    /// What it is called on the page.
    pub name: String,
}

impl MusicXml {
    /// Reads a `.musicxml`, `.xml` or `.mxl` file.
    pub fn read(bytes: &[u8]) -> Result<Self, ScoreError> {
        let text = match mxl::is_zip(bytes) {
            true => as_text(&mxl::unpacked(bytes)?)?,
            false => as_text(bytes)?,
        };
        let tree = Tree::read(&text)?;
        let root = tree.root();
        if !matches!(root.name(), "score-partwise" | "score-timewise") {
            let name: String = root.name().chars().take(40).collect();
            return Err(ScoreError::Form {
                what: format!("this is no score: its first element is <{name}>"),
                mend: NAME_MUSICXML,
            });
        }
        let title = root.child("work").and_then(|work| work.text_of("work-title"));
        let title = title.filter(|title| !title.is_empty());
        let title = title.or_else(|| root.text_of("movement-title").filter(|it| !it.is_empty()));
        let parts = names(root)?;
        Ok(Self { title, parts, text })
    }

    /// Reads one part, by its place in `parts`.
    pub fn part(&self, number: usize) -> Result<Part, ScoreError> {
        let tree = Tree::read(&self.text)?;
        let wanted = self.parts.get(number).ok_or_else(|| {
            ScoreError::Choice(format!(
                "there is no part {}; there are {}",
                number + 1,
                self.parts.len()
            ))
        })?;
        let root = tree.root();
        let part = match root.name() {
            "score-timewise" => {
                let bars = root.all("measure").flat_map(|bar| {
                    let own = bar.all("part").filter(|part| has_id(*part, &wanted.id)).take(1);
                    own.map(move |own| (bar, own))
                });
                part::read(&wanted.name, bars)?
            }
            _ => {
                let parts: Vec<Element<'_>> = root.all("part").collect();
                // A part without a name of its own goes by its place.
                let found =
                    parts.iter().find(|part| has_id(**part, &wanted.id)).or(parts.get(number));
                let bars =
                    found.into_iter().flat_map(|part| part.all("measure")).map(|bar| (bar, bar));
                part::read(&wanted.name, bars)?
            }
        };
        Ok(part)
    }
}

fn has_id(part: Element<'_>, id: &str) -> bool {
    part.attribute("id").is_some_and(|own| own == id)
}

/// The names of parts that have music; a list may name others, and parts may stand there that no list names.
fn names(root: Element<'_>) -> Result<Vec<PartName>, ScoreError> {
    let listed: Vec<PartName> = root
        .child("part-list")
        .into_iter()
        .flat_map(|list| list.all("score-part"))
        .map(|part| PartName {
            id: part.attribute("id").unwrap_or_default(),
            name: part.text_of("part-name").unwrap_or_default(),
        })
        .collect();
    let first_bar = root.child("measure");
    let holder = if root.name() == "score-timewise" { first_bar } else { Some(root) };
    let mut parts = Vec::new();
    for part in holder.into_iter().flat_map(|holder| holder.all("part")) {
        let id = part.attribute("id").unwrap_or_default();
        let name = listed.iter().find(|listed| listed.id == id).map(|listed| listed.name.clone());
        parts.push(PartName { id, name: name.unwrap_or_default() });
        if parts.len() > MOST_PARTS {
            return Err(ScoreError::TooLarge {
                what: "this score",
                most: format!("{MOST_PARTS} parts"),
                mend: "save a single part",
            });
        }
    }
    match parts.is_empty() {
        true => Err(ScoreError::form("this score has no part with music")),
        false => Ok(parts),
    }
}

/// The text of a file in UTF-8 or UTF-16, as MusicXML may be written.
fn as_text(bytes: &[u8]) -> Result<String, ScoreError> {
    if bytes.len() > MOST_BYTES {
        return Err(too_many_bytes());
    }
    let wide = |of: fn([u8; 2]) -> u16| {
        let units: Vec<u16> =
            bytes[2..].chunks_exact(2).map(|pair| of([pair[0], pair[1]])).collect();
        String::from_utf16(&units).map_err(|_| ScoreError::form("the file is no whole UTF-16"))
    };
    let text = match bytes {
        [0xff, 0xfe, ..] => wide(u16::from_le_bytes)?,
        [0xfe, 0xff, ..] => wide(u16::from_be_bytes)?,
        _ => {
            let plain = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
            if !plain.trim_ascii_start().starts_with(b"<") {
                return Err(no_xml());
            }
            let text = std::str::from_utf8(plain);
            text.map_err(|_| ScoreError::form("the file is written in neither UTF-8 nor UTF-16"))?
                .to_owned()
        }
    };
    Ok(text)
}
