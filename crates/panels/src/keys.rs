//! The keys: what each one does, and which key that is.

use crate::rooms::Room;
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

impl Command {
    /// It is meant for a question that is asked, and its keys do something else otherwise.
    fn is_answer(self) -> bool {
        matches!(self, Self::Answer(_) | Self::Reveal)
    }

    /// It is the same in every room.
    fn is_common(self) -> bool {
        matches!(
            self,
            Self::Room(_)
                | Self::Paper
                | Self::FullScreen
                | Self::TakeMicrophone
                | Self::Sound
                | Self::Settings
                | Self::Keys
                | Self::Close
                | Self::Figures
        )
    }
}

/// A command with its name in the settings file, what it does in words, and its keys at first.
pub struct Entry {
    /// What it does.
    pub command: Command,
    /// What the settings file calls it.
    pub name: &'static str,
    /// What it does, in words.
    pub said: &'static str,
    /// The keys of the keyboard that count as it, if the player has not chosen others.
    keys: &'static [Key],
}

/// All commands that have keys, in the order they are listed. Page-turner pedals send Page Up and Page
/// Down, the arrows, Space or Enter; all that is needed while playing lies on these.
pub const ENTRIES: [Entry; 30] = {
    const fn entry(
        command: Command,
        name: &'static str,
        said: &'static str,
        keys: &'static [Key],
    ) -> Entry {
        Entry {
            command,
            name,
            said,
            keys,
        }
    }
    [
        entry(
            Command::Hold,
            "hold",
            "hold the picture, or let it go on",
            &[Key::Space],
        ),
        entry(
            Command::Showing,
            "showing",
            "show live, after the note or after the round",
            &[Key::PageDown, Key::V],
        ),
        entry(
            Command::Straight,
            "straight",
            "straight practice, or back",
            &[Key::PageUp, Key::S],
        ),
        entry(
            Command::TakeReference,
            "take-reference",
            "measure against the straight note just played",
            &[Key::Enter, Key::R],
        ),
        entry(
            Command::DropReference,
            "drop-reference",
            "measure against the temperament again",
            &[Key::Backspace],
        ),
        entry(
            Command::Drone,
            "drone",
            "drone on or off",
            &[Key::ArrowRight, Key::D],
        ),
        entry(
            Command::Beat,
            "beat",
            "metronome on or off",
            &[Key::ArrowLeft, Key::B],
        ),
        entry(
            Command::DroneUp,
            "drone-up",
            "drone a semitone higher",
            &[Key::ArrowUp],
        ),
        entry(
            Command::DroneDown,
            "drone-down",
            "drone a semitone lower",
            &[Key::ArrowDown],
        ),
        entry(
            Command::Answer(0),
            "first-answer",
            "first answer, while a question is asked",
            &[Key::Num1, Key::PageUp, Key::ArrowLeft],
        ),
        entry(
            Command::Answer(1),
            "second-answer",
            "second answer",
            &[Key::Num2, Key::PageDown, Key::ArrowRight],
        ),
        entry(
            Command::Answer(2),
            "third-answer",
            "third answer",
            &[Key::Num3, Key::ArrowUp, Key::Space],
        ),
        entry(
            Command::Reveal,
            "reveal",
            "show what is hidden, without an answer",
            &[Key::Num0, Key::Enter, Key::ArrowDown],
        ),
        entry(Command::Take, "take", "keep takes, or do not", &[Key::T]),
        entry(
            Command::ZoomIn,
            "zoom-in",
            "fewer cents, larger",
            &[Key::Plus, Key::Equals],
        ),
        entry(
            Command::ZoomOut,
            "zoom-out",
            "more cents, smaller",
            &[Key::Minus],
        ),
        entry(
            Command::ZoomByItself,
            "zoom-by-itself",
            "as many cents as the motion needs",
            &[Key::Z],
        ),
        entry(Command::Span, "span", "4, 8 or 16 seconds", &[Key::W]),
        entry(Command::Paper, "paper", "light or dark paper", &[Key::L]),
        entry(
            Command::FullScreen,
            "full-screen",
            "fill the screen, or stop it",
            &[Key::F],
        ),
        entry(
            Command::TakeMicrophone,
            "microphone",
            "leave the demo session, listen to the microphone",
            &[Key::M],
        ),
        entry(
            Command::Sound,
            "sound",
            "microphone, loudspeaker, drone and metronome",
            &[Key::O],
        ),
        entry(
            Command::Settings,
            "settings",
            "all that can be set",
            &[Key::E],
        ),
        entry(
            Command::Figures,
            "figures",
            "how late the picture is",
            &[Key::F12],
        ),
        entry(
            Command::Keys,
            "keys",
            "show or hide this list",
            &[Key::F1, Key::Questionmark],
        ),
        entry(
            Command::Close,
            "close",
            "close what lies over the room",
            &[Key::Escape],
        ),
        entry(
            Command::Room(Room::Stand),
            "room-stand",
            "the Stand: play and watch",
            &[Key::F2],
        ),
        entry(
            Command::Room(Room::Drill),
            "room-drill",
            "Drill: counted oscillations",
            &[Key::F3],
        ),
        entry(
            Command::Room(Room::Journal),
            "room-journal",
            "Journal: the takes that were kept",
            &[Key::F4],
        ),
        entry(
            Command::Room(Room::Lesson),
            "room-lesson",
            "Lesson: model and echo",
            &[Key::F5],
        ),
    ]
};

/// Which key does what: for each of [`ENTRIES`], in their order, its keys.
#[derive(Clone, Debug, PartialEq)]
pub struct KeyMap {
    keys: Vec<Vec<Key>>,
}

impl Default for KeyMap {
    fn default() -> Self {
        Self {
            keys: ENTRIES.iter().map(|entry| entry.keys.to_vec()).collect(),
        }
    }
}

impl KeyMap {
    /// The keys of each command, in the order of [`ENTRIES`].
    pub fn all(&self) -> impl Iterator<Item = (&'static Entry, &[Key])> {
        ENTRIES.iter().zip(self.keys.iter().map(Vec::as_slice))
    }

    /// Gives the command of this name other keys and takes them from all others (an answer to a
    /// question may share a key with what is no answer); `Err` says what is not known.
    pub fn set(&mut self, name: &str, keys: &[String]) -> Result<(), String> {
        let place = ENTRIES.iter().position(|entry| entry.name == name);
        let place = place.ok_or_else(|| format!("there is no command \"{name}\""))?;
        let named = |key: &String| {
            Key::from_name(key).ok_or_else(|| format!("there is no key \"{key}\" (for {name})"))
        };
        let keys: Vec<Key> = keys.iter().map(named).collect::<Result<_, _>>()?;
        for (entry, others) in ENTRIES.iter().zip(&mut self.keys) {
            if entry.command.is_answer() == ENTRIES[place].command.is_answer() {
                others.retain(|key| !keys.contains(key));
            }
        }
        self.keys[place] = keys;
        Ok(())
    }

    /// The commands whose keys are not those of the start, with the names of theirs.
    pub fn changed(&self) -> Vec<(&'static str, Vec<String>)> {
        self.all()
            .filter(|(entry, keys)| entry.keys != *keys)
            .map(|(entry, keys)| {
                let names = keys.iter().map(|key| key.name().to_owned()).collect();
                (entry.name, names)
            })
            .collect()
    }

    /// The name of the last key of a command, a letter at first, as it is shown on a button.
    pub fn shown(&self, command: Command) -> Option<&'static str> {
        self.of(command).last().map(|&key| said(key))
    }

    /// The keys of a command.
    pub fn of(&self, command: Command) -> &[Key] {
        let mut entries = self.all();
        let found = entries.find(|(entry, _)| entry.command == command);
        found.map_or(&[], |(_, keys)| keys)
    }

    /// The names of all keys of a command, as they are written on them: "Page Down, V".
    pub fn listed(&self, command: Command) -> String {
        let names: Vec<&str> = self.of(command).iter().map(|&key| said(key)).collect();
        names.join(", ")
    }

    /// What a key does: while `asking` an answer, if there is one.
    fn command(&self, key: Key, asking: bool) -> Option<Command> {
        let having = |answers: bool| {
            let mut entries = self.all();
            entries
                .find(|(entry, keys)| entry.command.is_answer() == answers && keys.contains(&key))
                .map(|(entry, _)| entry.command)
        };
        asking
            .then(|| having(true))
            .flatten()
            .or_else(|| having(false))
    }
}

/// What is written on a key; in letters that the bundled faces have.
pub fn said(key: Key) -> &'static str {
    match key {
        Key::PageUp => "Page Up",
        Key::PageDown => "Page Down",
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
pub const OF_SHEETS: [Key; 2] = [Key::PageUp, Key::PageDown];

/// Whether a key that is held down does it again and again; a pedal is often held for long.
fn repeats(command: Command) -> bool {
    matches!(
        command,
        Command::DroneUp | Command::DroneDown | Command::ZoomIn | Command::ZoomOut
    )
}

/// What the pressed keys ask for on the Stand; they are used up. While a question is asked its answers
/// come first.
pub fn pressed(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let asking = stand.leaf.is_none() && matches!(stand.curtain(), Curtain::Asking(_));
    let map = &stand.options().keys;
    taken(ui, stand, |key, repeat| {
        let command = map.command(key, asking)?;
        Some((!repeat || repeats(command)).then_some(Action::Do(command)))
    })
}

/// What the pressed keys ask for in any room: other rooms, sheets, paper. A room of its own keys takes
/// those first ([`taken`]).
pub fn common(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let map = &stand.options().keys;
    taken(ui, stand, |key, repeat| {
        let command = map.command(key, false).filter(|c| c.is_common())?;
        Some((!repeat).then_some(Action::Do(command)))
    })
}

/// What `wish` makes of the pressed keys, given each with whether it is held down and repeats. `None`
/// leaves a key to others, `Some(None)` uses it up for nothing. A widget that has the focus keeps Space,
/// Enter and the arrows for itself, a field that is written in keeps all keys, and a sheet that lies
/// over the room keeps Page Up and Page Down.
pub fn taken<T>(ui: &Ui, stand: &Stand, wish: impl Fn(Key, bool) -> Option<Option<T>>) -> Vec<T> {
    let focused = ui.memory(|memory| memory.focused().is_some());
    if ui.ctx().text_edit_focused() {
        return Vec::new();
    }
    let mut asked = Vec::new();
    ui.input_mut(|input| {
        input.events.retain(|event| {
            let &Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } = event
            else {
                return true;
            };
            let kept = modifiers.command
                || modifiers.ctrl
                || modifiers.alt
                || (focused && OF_WIDGETS.contains(&key))
                || (stand.leaf.is_some() && OF_SHEETS.contains(&key));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_commands_share_a_key_but_answers() {
        let map = KeyMap::default();
        for asking in [false, true] {
            let mut seen: Vec<Key> = Vec::new();
            for (entry, keys) in map.all() {
                if entry.command.is_answer() == asking {
                    for key in keys {
                        assert!(!seen.contains(key), "{key:?}: {}", entry.name);
                        seen.push(*key);
                    }
                }
            }
        }
    }

    #[test]
    fn a_name_of_the_settings_file_is_told_if_it_is_not_known() {
        let mut map = KeyMap::default();
        map.set("paper", &["F9".to_owned()]).expect("both exist");
        assert_eq!(map.of(Command::Paper), [Key::F9]);
        assert_eq!(map.changed(), [("paper", vec!["F9".to_owned()])]);
        let error = map.set("papers", &[]).expect_err("no such command");
        assert!(error.contains("papers"), "{error}");
        let key = ["Pedal".to_owned()];
        let error = map.set("paper", &key).expect_err("no such key");
        assert!(
            error.contains("Pedal") && error.contains("paper"),
            "{error}"
        );
    }

    #[test]
    fn a_key_that_is_given_to_another_command_is_taken_from_the_first() {
        let mut map = KeyMap::default();
        map.set("hold", &["PageDown".to_owned()])
            .expect("both exist");
        assert_eq!(map.of(Command::Showing), [Key::V]);
        assert_eq!(map.command(Key::PageDown, false), Some(Command::Hold));
        // While a question is asked the same key still answers it.
        assert_eq!(map.command(Key::PageDown, true), Some(Command::Answer(1)));
    }

    #[test]
    fn every_key_of_the_start_survives_the_settings_file() {
        let map = KeyMap::default();
        for (entry, keys) in map.all() {
            for key in keys {
                assert_eq!(Key::from_name(key.name()), Some(*key), "{}", entry.name);
            }
        }
    }

    #[test]
    fn the_question_comes_first_only_while_it_is_asked() {
        let map = KeyMap::default();
        assert_eq!(map.command(Key::PageUp, true), Some(Command::Answer(0)));
        assert_eq!(map.command(Key::PageUp, false), Some(Command::Straight));
        assert_eq!(map.command(Key::L, true), Some(Command::Paper));
        assert_eq!(map.command(Key::Num1, false), None);
    }
}
