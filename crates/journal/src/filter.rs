//! Which takes are wanted.

use crate::index_entry::{Entry, NoteEntry};

/// Which takes are wanted; what is `None` or empty wants all.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Takes of this player.
    pub player: Option<String>,
    /// On this instrument.
    pub instrument: Option<String>,
    /// With notes of this finger, 1 to 4 (0 is the thumb).
    pub finger: Option<u8>,
    /// Of this drill.
    pub drill: Option<String>,
    /// Of this passage.
    pub passage: Option<String>,
    /// With all these words, in any case, in passage, drill, room, word or name.
    pub text: String,
}

impl Filter {
    /// Whether it wants all there is.
    pub fn is_open(&self) -> bool {
        *self == Self::default()
    }

    /// The filter with the words of the text made ready, for many takes.
    pub fn ready(&self) -> Ready<'_> {
        let words = self.text.split_whitespace();
        Ready { filter: self, words: words.map(str::to_lowercase).collect() }
    }
}

/// A filter made ready to be asked many times.
pub struct Ready<'a> {
    filter: &'a Filter,
    words: Vec<String>,
}

impl Ready<'_> {
    /// Whether this take is wanted.
    pub fn wants(&self, entry: &Entry) -> bool {
        let filter = self.filter;
        let is = |wanted: &Option<String>, own: &Option<String>| wanted.is_none() || wanted == own;
        filter.player.as_ref().is_none_or(|wanted| *wanted == entry.player)
            && is(&filter.instrument, &entry.instrument)
            && is(&filter.drill, &entry.drill)
            && is(&filter.passage, &entry.passage)
            && filter.finger.is_none_or(|finger| {
                entry.finger == Some(finger) || entry.notes.iter().any(|n| n.finger == Some(finger))
            })
            && self.says(entry)
    }

    /// Whether a note of a wanted take is wanted too.
    pub fn wants_note(&self, entry: &Entry, note: &NoteEntry) -> bool {
        let finger = note.finger.or(entry.finger);
        self.filter.finger.is_none_or(|wanted| finger == Some(wanted))
    }

    fn says(&self, entry: &Entry) -> bool {
        if self.words.is_empty() {
            return true;
        }
        let mut said = entry.id.to_string();
        for part in [
            entry.passage.as_deref(),
            entry.drill.as_deref(),
            Some(entry.room.as_str()),
            Some(entry.word.as_str()),
        ]
        .into_iter()
        .flatten()
        {
            said.push(' ');
            said.push_str(part);
        }
        let said = said.to_lowercase();
        self.words.iter().all(|word| said.contains(word.as_str()))
    }
}
