//! Keys: where each is heard, and which of them a player has for a command.

mod map;

pub use map::KeyMap;

use crate::shell::room::Room;
use egui::Key;

/// The keys that page-turner pedals send.
pub const PEDALS: [Key; 8] = [
    Key::PageUp,
    Key::PageDown,
    Key::ArrowLeft,
    Key::ArrowRight,
    Key::ArrowUp,
    Key::ArrowDown,
    Key::Space,
    Key::Enter,
];

/// Where a key is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scope {
    /// In every room that has no use of its own for it.
    Everywhere,
    /// On the Stand.
    Stand,
    /// While a question is asked there.
    Question,
    /// In the list of drills.
    Drills,
    /// Before the round of a drill.
    Ready,
    /// In a round.
    Round,
    /// After it.
    Findings,
    /// On every page of the Journal.
    Journal,
    /// On its page of takes.
    Takes,
    /// In a lesson.
    Lesson,
    /// While it is asked there whether what was played is an echo.
    Doubtful,
    /// While a task is written there.
    Task,
    /// In the list of passages.
    Passages,
    /// While it is asked what of a score is wanted.
    Excerpt,
    /// Before a pass through a passage.
    BeforePass,
    /// In a pass.
    Pass,
    /// While it is asked which note of it had most vibrato.
    AskedOfPass,
    /// After it.
    AfterPass,
    /// While its plan is edited.
    Editing,
    /// On the sheet of its title, pace and bar.
    PassageHead,
}

impl Scope {
    /// All of them, in the order they are listed.
    pub const ALL: [Self; 20] = [
        Self::Everywhere,
        Self::Stand,
        Self::Question,
        Self::Drills,
        Self::Ready,
        Self::Round,
        Self::Findings,
        Self::Journal,
        Self::Takes,
        Self::Lesson,
        Self::Doubtful,
        Self::Task,
        Self::Passages,
        Self::Excerpt,
        Self::BeforePass,
        Self::Pass,
        Self::AskedOfPass,
        Self::AfterPass,
        Self::Editing,
        Self::PassageHead,
    ];

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            Self::Everywhere => "Everywhere",
            Self::Stand => "Stand",
            Self::Question => "Stand, while a question is asked",
            Self::Drills => "Drill, the list",
            Self::Ready => "Drill, before a round",
            Self::Round => "Drill, in a round",
            Self::Findings => "Drill, after a round",
            Self::Journal => "Journal",
            Self::Takes => "Journal, the takes",
            Self::Lesson => "Lesson",
            Self::Doubtful => "Lesson, while a question is asked",
            Self::Task => "Lesson, while a task is written",
            Self::Passages => "Passage, the list",
            Self::Excerpt => "Passage, what of a score",
            Self::BeforePass => "Passage, before a pass",
            Self::Pass => "Passage, in a pass",
            Self::AskedOfPass => "Passage, while a question is asked",
            Self::AfterPass => "Passage, after a pass",
            Self::Editing => "Passage, while it is edited",
            Self::PassageHead => "Passage, title, pace and bar",
        }
    }

    /// The room it belongs to.
    pub fn room(self) -> Option<Room> {
        match self {
            Self::Everywhere => None,
            Self::Stand | Self::Question => Some(Room::Stand),
            Self::Drills | Self::Ready | Self::Round | Self::Findings => Some(Room::Drill),
            Self::Journal | Self::Takes => Some(Room::Journal),
            Self::Lesson | Self::Doubtful | Self::Task => Some(Room::Lesson),
            Self::Passages
            | Self::Excerpt
            | Self::BeforePass
            | Self::Pass
            | Self::AskedOfPass
            | Self::AfterPass
            | Self::Editing
            | Self::PassageHead => Some(Room::Passage),
        }
    }

    /// Its keys are heard before those that are the same everywhere.
    pub(crate) fn is_in_a_room(self) -> bool {
        self.room().is_some_and(|room| room != Room::Stand)
    }
}

/// A command as the settings file and the list of keys know it.
#[derive(Debug)]
pub struct Entry {
    /// What the settings file calls it.
    pub name: &'static str,
    /// Where its keys are heard.
    pub scopes: &'static [Scope],
    /// The keys of the keyboard that count as it, if the player has not chosen others. A button shows the last.
    pub keys: &'static [Key],
    /// It is needed while playing: one of its keys is among [`PEDALS`].
    pub while_playing: bool,
    /// What it does, in words.
    pub help: &'static str,
}

impl Entry {
    /// Whether both are heard at one place, and neither first.
    pub(crate) fn meets(&self, other: &Self) -> bool {
        let together = |a: Scope, b: Scope| {
            let wider = |outer, inner| (a, b) == (outer, inner) || (b, a) == (outer, inner);
            a == b || wider(Scope::Everywhere, Scope::Stand) || wider(Scope::Journal, Scope::Takes)
        };
        self.scopes.iter().any(|&a| other.scopes.iter().any(|&b| together(a, b)))
    }
}

/// What is written on a key; in letters that the bundled faces have.
pub fn key_name(key: Key) -> &'static str {
    match key {
        Key::PageUp => "Page Up",
        Key::PageDown => "Page Down",
        Key::Backspace => "Backspace",
        Key::Delete => "Del",
        Key::ArrowLeft | Key::ArrowRight | Key::ArrowUp | Key::ArrowDown => key.name(),
        _ => key.symbol_or_name(),
    }
}
