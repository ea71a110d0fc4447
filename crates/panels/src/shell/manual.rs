//! The manual: its pages as the program has them, and which one is read.

use super::room::Room;

/// A page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ManualPage {
    /// What it is asked for by; the page of a room has the room's name in small letters.
    pub name: &'static str,
    /// Its Markdown, the heading first.
    pub text: &'static str,
}

impl ManualPage {
    /// Its heading.
    pub fn title(&self) -> &'static str {
        self.text.lines().next().unwrap_or_default().trim_start_matches("# ")
    }
}

/// The pages, and which of them is read.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Manual {
    /// In the order they are best read.
    pub pages: Vec<ManualPage>,
    /// The place of the page that is read.
    pub at: usize,
}

impl Manual {
    /// Turns to the page of this room.
    pub(super) fn turn_to(&mut self, room: Room) {
        let name = room.name().to_lowercase();
        self.at = self.pages.iter().position(|page| page.name == name).unwrap_or(0);
    }
}

/// A part of a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Block {
    /// A heading within the page.
    Heading(String),
    /// A paragraph.
    Paragraph(String),
    /// A point of a list.
    Point(String),
    /// A row of a table: what it is about, and the rest.
    Row(String, String),
    /// A line as it is typed or printed.
    Typed(String),
}

/// The parts of a page without its heading and its pictures, signs of Markdown taken out.
pub(super) fn blocks(text: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let (mut is_typed, mut goes_on) = (false, false);
    for line in text.lines().skip(1) {
        if line.starts_with("```") {
            (is_typed, goes_on) = (!is_typed, false);
            continue;
        }
        if is_typed {
            blocks.push(Block::Typed(line.trim_start_matches("$ ").to_owned()));
            continue;
        }
        let bare = line.trim();
        if bare.is_empty() || bare.starts_with("![") || bare.starts_with("| ---") {
            goes_on = false;
            continue;
        }
        let new = if let Some(heading) = bare.strip_prefix('#') {
            Block::Heading(plain(heading.trim_start_matches(['#', ' '])))
        } else if let Some(point) = bare.strip_prefix("- ") {
            Block::Point(plain(point))
        } else if let Some(row) = bare.strip_prefix("| ") {
            let row = row.trim_end_matches([' ', '|']);
            let (first, rest) = row.split_once(" | ").unwrap_or((row, ""));
            Block::Row(plain(first), plain(&rest.replace(" | ", " · ")))
        } else {
            match blocks.last_mut().filter(|_| goes_on) {
                Some(Block::Paragraph(before) | Block::Point(before)) => {
                    before.push(' ');
                    before.push_str(&plain(bare));
                    continue;
                }
                _ => Block::Paragraph(plain(bare)),
            }
        };
        goes_on = matches!(new, Block::Paragraph(_) | Block::Point(_));
        blocks.push(new);
    }
    blocks
}

/// Text without the signs of Markdown: emphasis and quoting go, of a link its words stay.
fn plain(text: &str) -> String {
    let mut said = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(['*', '`', '[']) {
        said.push_str(&rest[..at]);
        let link = rest[at..].strip_prefix('[').and_then(|link| {
            let (words, behind) = link.split_once("](")?;
            let (_, behind) = behind.split_once(')')?;
            Some((words, behind))
        });
        match link {
            Some((words, behind)) => {
                said.push_str(&plain(words));
                rest = behind;
            }
            None => {
                if rest[at..].starts_with('[') {
                    said.push('[');
                }
                rest = &rest[at + 1..];
            }
        }
    }
    said + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_is_read_without_its_signs() {
        let text = "# Stand\n\nPlay: *rate* and `V`,\nsee [the drill](drill.md) [here].\n\n![Seen](a.png)\n\n- one\n  more\n- **two**\n\n\
                    ## Keys\n\n| key | does |\n| --- | --- |\n| `R` | takes it | once |\n\n```console\n$ evenwave tone\n```\n";
        let owned = str::to_owned;
        let wanted = [
            Block::Paragraph(owned("Play: rate and V, see the drill [here].")),
            Block::Point(owned("one more")),
            Block::Point(owned("two")),
            Block::Heading(owned("Keys")),
            Block::Row(owned("key"), owned("does")),
            Block::Row(owned("R"), owned("takes it · once")),
            Block::Typed(owned("evenwave tone")),
        ];
        assert_eq!(blocks(text), wanted);
    }
}
