//! The keys: what each one does, and which key that is.

use crate::stand::{Action, Stand};
use coach::Curtain;
use egui::{Key, Modifiers, Ui};

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
pub const ENTRIES: [Entry; 26] = {
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
            "show live, after the note, after the round",
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
            "show without an answer",
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
            &[Key::Questionmark, Key::F1],
        ),
        entry(
            Command::Close,
            "close",
            "close what lies over the Stand",
            &[Key::Escape],
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

    /// Gives the command of this name other keys; `Err` says what is not known.
    pub fn set(&mut self, name: &str, keys: &[String]) -> Result<(), String> {
        let place = ENTRIES.iter().position(|entry| entry.name == name);
        let place = place.ok_or_else(|| format!("there is no command \"{name}\""))?;
        let named = |key: &String| {
            Key::from_name(key).ok_or_else(|| format!("there is no key \"{key}\" (for {name})"))
        };
        self.keys[place] = keys.iter().map(named).collect::<Result<_, _>>()?;
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

    /// The name of the first key of a command, as it is shown on a button.
    pub fn shown(&self, command: Command) -> Option<&'static str> {
        let mut entries = self.all();
        let (_, keys) = entries.find(|(entry, _)| entry.command == command)?;
        keys.last().map(|key| key.symbol_or_name())
    }
}

/// What the pressed keys ask for; they are used up. While a question is asked its answers come
/// first. A widget that has the focus keeps Space, Enter and the arrows for itself.
pub fn pressed(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let asking = matches!(stand.curtain(), Curtain::Asking(_));
    let focused = ui.memory(|memory| memory.focused().is_some());
    let typing = ui.ctx().text_edit_focused();
    let of_widgets = [
        Key::Space,
        Key::Enter,
        Key::ArrowLeft,
        Key::ArrowRight,
        Key::ArrowUp,
        Key::ArrowDown,
        Key::Backspace,
    ];
    let is_answer = |command: Command| matches!(command, Command::Answer(_) | Command::Reveal);
    let mut asked = Vec::new();
    ui.input_mut(|input| {
        for answers in [true, false] {
            for (entry, keys) in stand.options().keys.all() {
                if is_answer(entry.command) != answers || (answers && !asking) {
                    continue;
                }
                let mut free = keys
                    .iter()
                    .filter(|key| !focused || !(typing || of_widgets.contains(key)));
                if free.any(|&key| input.consume_key(Modifiers::NONE, key)) {
                    asked.push(Action::Do(entry.command));
                }
            }
        }
    });
    asked
}
