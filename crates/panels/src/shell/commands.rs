//! The commands that are the same in every room.

use crate::shell::action::{Action, Command};
use crate::shell::keys::Scope;
use crate::shell::room::Room;
use crate::shell::row::Row;
use crate::widgets::button_row::Label;
use egui::Key;

type AnyRow = Row<(), Action>;

const EVERYWHERE: &[Scope] = &[Scope::Everywhere];

/// In the order they are listed, and their buttons stand.
pub(crate) static ROWS: [AnyRow; 14] = [
    AnyRow::new("paper", EVERYWHERE, &[Key::L], "light or dark paper", |_, _| does(Command::Paper)),
    AnyRow::new("full-screen", EVERYWHERE, &[Key::F], "fill the screen, or stop it", |_, _| {
        does(Command::FullScreen)
    }),
    AnyRow::new(
        "microphone",
        EVERYWHERE,
        &[Key::M],
        "from the demo session to the microphone, or back where there is none",
        |_, _| does(Command::TakeMicrophone),
    ),
    AnyRow::new(
        "sound",
        EVERYWHERE,
        &[Key::O],
        "microphone, loudspeaker, drone and metronome",
        |_, _| does(Command::Sound),
    )
    .button(|_, _| Some(Label::new("Sound"))),
    AnyRow::new("settings", EVERYWHERE, &[Key::E], "all that can be set", |_, _| {
        does(Command::Settings)
    })
    .button(|_, _| Some(Label::new("Settings"))),
    AnyRow::new("figures", EVERYWHERE, &[Key::F12], "how late the picture is", |_, _| {
        does(Command::Figures)
    }),
    AnyRow::new(
        "keys",
        EVERYWHERE,
        &[Key::F1, Key::Questionmark],
        "show or hide this list",
        |_, _| does(Command::Keys),
    )
    .button(|_, _| Some(Label::new("Keys"))),
    AnyRow::new("manual", EVERYWHERE, &[Key::F9], "show or hide the manual", |_, _| {
        does(Command::Manual)
    })
    .button(|_, _| Some(Label::new("Manual"))),
    CLOSE,
    AnyRow::new("room-stand", EVERYWHERE, &[Key::F2], "the Stand: play and watch", |_, _| {
        does(Command::Room(Room::Stand))
    }),
    AnyRow::new("room-drill", EVERYWHERE, &[Key::F3], "Drill: counted oscillations", |_, _| {
        does(Command::Room(Room::Drill))
    }),
    AnyRow::new(
        "room-journal",
        EVERYWHERE,
        &[Key::F4],
        "Journal: the takes that were kept",
        |_, _| does(Command::Room(Room::Journal)),
    ),
    AnyRow::new("room-lesson", EVERYWHERE, &[Key::F5], "Lesson: model and echo", |_, _| {
        does(Command::Room(Room::Lesson))
    }),
    AnyRow::new(
        "room-passage",
        EVERYWHERE,
        &[Key::F6],
        "Passage: a phrase as you plan it, note by note",
        |_, _| does(Command::Room(Room::Passage)),
    ),
];

/// Close what lies over the room.
pub(crate) const CLOSE: AnyRow =
    AnyRow::new("close", EVERYWHERE, &[Key::Escape], "close what lies over the room", |_, _| {
        does(Command::Close)
    });

fn does(command: Command) -> Option<Action> {
    Some(Action::Do(command))
}
