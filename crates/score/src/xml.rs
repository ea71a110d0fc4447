//! XML as a tree of elements, within limits: who reads a score from anywhere must not run out of memory by it.
//!
//! Elements, their attributes and their text are parts of the text that was read; nothing is copied until it is asked for.

use std::borrow::Cow;
use std::ops::Range;

use quick_xml::Reader;
use quick_xml::escape::unescape;
use quick_xml::events::Event;
use quick_xml::events::attributes::Attributes;

use crate::error::{NAME_MUSICXML, ScoreError};

/// Bytes of XML that are read. The parts of a long orchestral score stay below it.
pub(crate) const MOST_BYTES: usize = 16 << 20;
/// Elements that are kept.
const MOST_ELEMENTS: usize = 2_000_000;
/// Elements within elements; MusicXML itself needs about ten.
const DEEPEST: usize = 64;

/// A document.
pub(crate) struct Tree<'a> {
    text: &'a str,
    nodes: Vec<Node>,
}

/// An element: parts of the text, and its neighbours. 0 stands for none, as the first element is nobody's child.
struct Node {
    /// What stands between its angle brackets: name and attributes.
    tag: Range<u32>,
    name_bytes: u32,
    inside: Range<u32>,
    first: u32,
    next: u32,
}

impl<'a> Tree<'a> {
    /// Reads a document.
    pub(crate) fn read(text: &'a str) -> Result<Self, ScoreError> {
        if text.len() > MOST_BYTES {
            return Err(too_many_bytes());
        }
        let mut reader = Reader::from_str(text);
        let mut nodes: Vec<Node> = Vec::new();
        // Elements that are open, each with the last of its children.
        let mut open: Vec<(u32, u32)> = Vec::new();
        loop {
            let from = reader.buffer_position() as u32;
            let event = reader.read_event().map_err(|error| {
                let line = line_of(text, reader.error_position() as usize);
                ScoreError::form(format!("line {line} is no XML: {error}"))
            })?;
            let to = reader.buffer_position() as u32;
            match event {
                Event::Start(tag) | Event::Empty(tag) => {
                    if nodes.len() >= MOST_ELEMENTS {
                        return Err(ScoreError::TooLarge {
                            what: "this file",
                            most: "2 million elements".into(),
                            mend: "save a single part",
                        });
                    }
                    let empty = text.as_bytes().get(to as usize - 2) == Some(&b'/');
                    let at = nodes.len() as u32;
                    let inner = from + 1..to - 1 - u32::from(empty);
                    let name_bytes = tag.name().as_ref().len() as u32;
                    nodes.push(Node { tag: inner, name_bytes, inside: to..to, first: 0, next: 0 });
                    match open.last_mut() {
                        Some((parent, 0)) => nodes[*parent as usize].first = at,
                        Some((_, before)) => nodes[*before as usize].next = at,
                        None if at > 0 => {
                            return Err(ScoreError::form("there are two documents in this file"));
                        }
                        None => {}
                    }
                    if let Some((_, last)) = open.last_mut() {
                        *last = at;
                    }
                    if !empty {
                        open.push((at, 0));
                    }
                    if open.len() > DEEPEST {
                        return Err(ScoreError::TooLarge {
                            what: "one place of this file",
                            most: format!("{DEEPEST} elements within each other"),
                            mend: crate::error::WRITE_AGAIN,
                        });
                    }
                }
                Event::End(_) => {
                    if let Some((at, _)) = open.pop() {
                        nodes[at as usize].inside.end = from;
                    }
                }
                Event::DocType(inside) if inside.contains(&b'[') => {
                    return Err(ScoreError::form(
                        "this file declares entities or elements of its own, which no score needs",
                    ));
                }
                Event::Eof => break,
                _ => {}
            }
        }
        if !open.is_empty() {
            return Err(ScoreError::form("the file ends in the middle"));
        }
        match nodes.is_empty() {
            true => Err(no_xml()),
            false => Ok(Self { text, nodes }),
        }
    }

    /// The element that holds all others.
    pub(crate) fn root(&self) -> Element<'_> {
        Element { tree: self, at: 0 }
    }
}

/// What is told of more bytes than are read.
pub(crate) fn too_many_bytes() -> ScoreError {
    ScoreError::TooLarge {
        what: "this file",
        most: format!("{} MB of XML", MOST_BYTES >> 20),
        mend: "save a single part",
    }
}

/// What is told of a file that is something else.
pub(crate) fn no_xml() -> ScoreError {
    ScoreError::Form { what: "this is no MusicXML".into(), mend: NAME_MUSICXML }
}

fn line_of(text: &str, at: usize) -> usize {
    1 + text.as_bytes()[..at.min(text.len())].iter().filter(|byte| **byte == b'\n').count()
}

/// An element of a document.
#[derive(Clone, Copy)]
pub(crate) struct Element<'t> {
    tree: &'t Tree<'t>,
    at: u32,
}

impl<'t> Element<'t> {
    fn node(self) -> &'t Node {
        &self.tree.nodes[self.at as usize]
    }

    fn part(self, range: &Range<u32>) -> &'t str {
        self.tree.text.get(range.start as usize..range.end as usize).unwrap_or_default()
    }

    fn named_at(self, at: u32) -> Option<Self> {
        (at > 0).then_some(Self { tree: self.tree, at })
    }

    /// Its name.
    pub(crate) fn name(self) -> &'t str {
        let start = self.node().tag.start;
        self.part(&(start..start + self.node().name_bytes))
    }

    /// The elements within it.
    pub(crate) fn children(self) -> impl Iterator<Item = Element<'t>> {
        let first = self.named_at(self.node().first);
        std::iter::successors(first, |child| child.named_at(child.node().next))
    }

    /// Those of a name.
    pub(crate) fn all(self, name: &str) -> impl Iterator<Item = Element<'t>> {
        self.children().filter(move |child| child.name() == name)
    }

    /// The first of a name.
    pub(crate) fn child(self, name: &str) -> Option<Self> {
        self.all(name).next()
    }

    /// Whether there is one of a name.
    pub(crate) fn has(self, name: &str) -> bool {
        self.child(name).is_some()
    }

    /// The text of the first of a name.
    pub(crate) fn text_of(self, name: &str) -> Option<String> {
        self.child(name).map(|child| child.text())
    }

    /// The number that the first of a name holds.
    pub(crate) fn number_of<N: std::str::FromStr>(self, name: &str) -> Option<N> {
        self.text_of(name)?.parse().ok()
    }

    /// Its text without the space around it. Comments are left out.
    pub(crate) fn text(self) -> String {
        let mut rest = self.part(&self.node().inside);
        let mut text = String::new();
        let plain = |part: &str| unescape(part).map_or_else(|_| part.to_owned(), Cow::into_owned);
        while let Some(at) = rest.find("<!") {
            text += &plain(&rest[..at]);
            let (start, end) = match rest[at..].starts_with("<![CDATA[") {
                true => ("<![CDATA[", "]]>"),
                false => ("<!", "-->"),
            };
            let inner = &rest[at + start.len()..];
            let (inner, after) = inner.split_once(end).unwrap_or((inner, ""));
            if end == "]]>" {
                text += inner;
            }
            rest = after;
        }
        text += &plain(rest);
        text.trim().to_owned()
    }

    /// An attribute of it.
    pub(crate) fn attribute(self, name: &str) -> Option<String> {
        let tag = self.part(&self.node().tag);
        let mut attributes = Attributes::new(tag, self.node().name_bytes as usize);
        // Looking for doubles would take long where there are many.
        attributes.with_checks(false);
        let found = attributes.find_map(|attribute| {
            let attribute = attribute.ok()?;
            (attribute.key.as_ref() == name.as_bytes()).then_some(attribute.value)
        })?;
        let value = std::str::from_utf8(&found).ok()?;
        Some(unescape(value).map_or_else(|_| value.to_owned(), Cow::into_owned))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> String {
        Tree::read(text).err().map(|error| error.to_string()).expect("refused")
    }

    #[test]
    fn elements_are_found_by_name_with_their_attributes_and_text() {
        let text = "<?xml version=\"1.0\"?>\n<!DOCTYPE a PUBLIC \"x\" \"y\">\n<a>\n <b n=\"1 &amp; 2\"/> \
            <!-- no --> <c>Tom <!-- and -->&amp; <![CDATA[<J>]]> </c><b n='3'>4</b></a>\n";
        let tree = Tree::read(text).expect("read");
        let root = tree.root();
        assert_eq!(root.name(), "a");
        let names: Vec<&str> = root.children().map(Element::name).collect();
        assert_eq!(names, ["b", "c", "b"]);
        let numbers: Vec<_> = root.all("b").map(|b| b.attribute("n")).collect();
        assert_eq!(numbers, [Some("1 & 2".into()), Some("3".into())]);
        assert_eq!(root.text_of("c").as_deref(), Some("Tom & <J>"));
        assert_eq!(root.child("b").and_then(|b| b.attribute("m")), None);
        assert_eq!(root.all("b").last().map(Element::text).as_deref(), Some("4"));
    }

    #[test]
    fn what_is_no_document_or_a_trap_is_told() {
        assert!(told("").contains("no MusicXML"));
        assert!(told("<a><b></a>").contains("line 1"));
        assert!(told("<a>\n<b>").contains("ends in the middle"));
        assert!(told("<a/><a/>").contains("two documents"));
        assert!(told("<!DOCTYPE a [<!ENTITY b \"c\">]><a>&b;</a>").contains("entities"));
        assert!(told(&"<a>".repeat(65)).contains("64 elements"));
        let many = format!("<a>{}</a>", "<b/>".repeat(MOST_ELEMENTS));
        assert!(told(&many).contains("2 million"));
        assert!(told(&" ".repeat(MOST_BYTES + 1)).contains("16 MB"));
    }
}
