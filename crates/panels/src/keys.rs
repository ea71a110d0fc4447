//! The keys: what each one does, where, and which key that is.

mod map;
mod of_drill;
mod of_journal;
mod of_lesson;
mod of_stand;

pub use map::KeyMap;
pub use of_drill::DrillKey;
pub use of_journal::JournalKey;
pub use of_lesson::LessonKey;

use crate::shell::rooms::Room;
use crate::stand::{Action, Stand};
use coach::Curtain;
use egui::{Event, Key, Ui};

/// What a key or a button of the window does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    /// Keep the picture as it is, or let it go on.
    Hold,
    /// The next way of showing: live, after the note, after the round.
    Showing,
    /// Show what is hidden, without an answer.
    Reveal,
    /// Give the answer in this place, from 0, to the question that is asked.
    Answer(usize),
    /// Straight practice, or back.
    Straight,
    /// Take the straight note that ended last for a reference.
    TakeReference,
    /// Measure against the temperament again.
    DropReference,
    /// The drone, on or off.
    Drone,
    /// The drone a semitone higher.
    DroneUp,
    /// The drone a semitone lower.
    DroneDown,
    /// The metronome, on or off.
    Beat,
    /// Keep takes, or do not.
    Take,
    /// As many cents as the motion needs.
    ZoomByItself,
    /// Show fewer cents, larger.
    ZoomIn,
    /// Show more cents, smaller.
    ZoomOut,
    /// Show 4, 8, 16 seconds.
    Span,
    /// Turn from light to dark paper and back.
    Paper,
    /// Fill the screen, or stop doing so.
    FullScreen,
    /// Leave the demo session, listen to the microphone.
    TakeMicrophone,
    /// Play the task that the last lesson ended with, or leave off.
    Task,
    /// Show or hide devices, drone and metronome.
    Sound,
    /// Show or hide all that can be set.
    Settings,
    /// Show or hide the list of keys.
    Keys,
    /// Close what lies over the Stand.
    Close,
    /// Show or hide how late the picture is and what it costs.
    Figures,
    /// Go to this room.
    Room(Room),
}

/// What a key does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Does {
    /// Everywhere or on the Stand.
    Command(Command),
    /// In the room Drill.
    Drill(DrillKey),
    /// In the room Journal.
    Journal(JournalKey),
    /// In the room Lesson.
    Lesson(LessonKey),
}

impl From<Command> for Does {
    fn from(command: Command) -> Self {
        Self::Command(command)
    }
}

impl From<DrillKey> for Does {
    fn from(key: DrillKey) -> Self {
        Self::Drill(key)
    }
}

impl From<JournalKey> for Does {
    fn from(key: JournalKey) -> Self {
        Self::Journal(key)
    }
}

impl From<LessonKey> for Does {
    fn from(key: LessonKey) -> Self {
        Self::Lesson(key)
    }
}

/// Where a key is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
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
    /// While a task is written there.
    Task,
}

impl Place {
    /// All of them, in the order they are listed.
    pub const ALL: [Self; 11] = [
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
        Self::Task,
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
            Self::Task => "Lesson, while a task is written",
        }
    }

    /// The room it belongs to.
    pub fn room(self) -> Option<Room> {
        match self {
            Self::Everywhere => None,
            Self::Stand | Self::Question => Some(Room::Stand),
            Self::Drills | Self::Ready | Self::Round | Self::Findings => Some(Room::Drill),
            Self::Journal | Self::Takes => Some(Room::Journal),
            Self::Lesson | Self::Task => Some(Room::Lesson),
        }
    }

    /// Its keys are heard before those that are the same everywhere.
    fn is_in_a_room(self) -> bool {
        self.room().is_some_and(|room| room != Room::Stand)
    }
}

/// A command with its name in the settings file, what it does in words, and its keys at first.
pub struct Entry {
    /// Where its keys are heard.
    pub places: &'static [Place],
    /// What it does.
    pub does: Does,
    /// What the settings file calls it.
    pub name: &'static str,
    /// What it does, in words.
    pub said: &'static str,
    /// The keys of the keyboard that count as it, if the player has not chosen others.
    keys: &'static [Key],
}

/// A line of the rooms' tables.
const fn of(
    places: &'static [Place],
    does: Does,
    name: &'static str,
    said: &'static str,
    keys: &'static [Key],
) -> Entry {
    Entry { places, does, name, said, keys }
}

impl Entry {
    /// Whether the keys of both are heard at one place, and neither's first.
    fn meets(&self, other: &Self) -> bool {
        let together = |(a, b): (Place, Place)| {
            let wider = |outer, inner| (a, b) == (outer, inner) || (b, a) == (outer, inner);
            a == b || wider(Place::Everywhere, Place::Stand) || wider(Place::Journal, Place::Takes)
        };
        let pairs = |place: &Place| other.places.iter().map(|other| (*place, *other)).collect();
        let all: Vec<Vec<(Place, Place)>> = self.places.iter().map(pairs).collect();
        all.into_iter().flatten().any(together)
    }
}

/// All commands that have keys, in the order they are listed.
pub fn entries() -> impl Iterator<Item = &'static Entry> {
    let stand: &'static [Entry] = &of_stand::ENTRIES;
    stand
        .iter()
        .chain(of_drill::ENTRIES.iter())
        .chain(of_journal::ENTRIES.iter())
        .chain(of_lesson::ENTRIES.iter())
}

/// What is written on a key; in letters that the bundled faces have.
pub fn said(key: Key) -> &'static str {
    match key {
        Key::PageUp => "Page Up",
        Key::PageDown => "Page Down",
        Key::Backspace => "Backspace",
        Key::Delete => "Del",
        Key::ArrowLeft | Key::ArrowRight | Key::ArrowUp | Key::ArrowDown => key.name(),
        _ => key.symbol_or_name(),
    }
}

/// Keys that a widget with the focus takes for itself.
const OF_WIDGETS: [Key; 7] = [
    Key::Space,
    Key::Enter,
    Key::ArrowLeft,
    Key::ArrowRight,
    Key::ArrowUp,
    Key::ArrowDown,
    Key::Backspace,
];
/// Keys that turn the pages of a sheet that lies over the Stand.
pub const OF_SHEETS: [[Key; 2]; 2] =
    [crate::widgets::paging::PEDAL, crate::widgets::paging::HOME_END];

/// Whether a key that is held down does it again and again; a pedal is often held for long.
fn repeats(command: Command) -> bool {
    matches!(command, Command::DroneUp | Command::DroneDown | Command::ZoomIn | Command::ZoomOut)
}

/// Where keys are looked for on the Stand, and while a question is asked there.
const STAND: [Place; 2] = [Place::Stand, Place::Everywhere];
const ASKED: [Place; 3] = [Place::Question, Place::Stand, Place::Everywhere];

/// What the pressed keys ask for on the Stand; they are used up. While a question is asked its answers
/// come first.
pub fn pressed(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let asking = stand.leaf.is_none() && matches!(stand.curtain(), Curtain::Asking(_));
    let map = &stand.options().keys;
    taken(ui, stand, |key, repeat| {
        let command = map.command(if asking { &ASKED } else { &STAND }, key)?;
        Some((!repeat || repeats(command)).then_some(Action::Do(command)))
    })
}

/// What the pressed keys ask for in any room: other rooms, sheets, paper. A room of its own keys takes
/// those first ([`taken`]).
pub fn common(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let map = &stand.options().keys;
    taken(ui, stand, |key, repeat| {
        let command = map.command(&[Place::Everywhere], key)?;
        Some((!repeat).then_some(Action::Do(command)))
    })
}

/// What `wish` makes of the pressed keys, given each with whether it is held down and repeats. `None`
/// leaves a key to others, `Some(None)` uses it up for nothing. A widget that has the focus keeps Space,
/// Enter and the arrows for itself, a field that is written in keeps all keys, and a sheet that lies
/// over the room keeps those that turn its pages.
pub fn taken<T>(ui: &Ui, stand: &Stand, wish: impl Fn(Key, bool) -> Option<Option<T>>) -> Vec<T> {
    let focused = ui.memory(|memory| memory.focused().is_some());
    if ui.ctx().text_edit_focused() {
        return Vec::new();
    }
    let mut asked = Vec::new();
    ui.input_mut(|input| {
        input.events.retain(|event| {
            let &Event::Key { key, pressed: true, repeat, modifiers, .. } = event else {
                return true;
            };
            let kept = modifiers.command
                || modifiers.ctrl
                || modifiers.alt
                || (focused && OF_WIDGETS.contains(&key))
                || (stand.leaf.is_some() && OF_SHEETS.as_flattened().contains(&key));
            if kept {
                return true;
            }
            let Some(wished) = wish(key, repeat) else {
                return true;
            };
            asked.extend(wished);
            false
        });
    });
    asked
}
