//! The commands that are the same everywhere, and those of the Stand.

use super::{Command, Does, Entry, Place};
use crate::rooms::Room;
use egui::Key;

const EVERYWHERE: &[Place] = &[Place::Everywhere];
const STAND: &[Place] = &[Place::Stand];
const QUESTION: &[Place] = &[Place::Question];

const fn of(
    places: &'static [Place],
    command: Command,
    name: &'static str,
    said: &'static str,
    keys: &'static [Key],
) -> Entry {
    Entry {
        places,
        does: Does::Command(command),
        name,
        said,
        keys,
    }
}

/// In the order they are listed. Page-turner pedals send Page Up and Page Down, the arrows, Space or Enter; all
/// that is needed while playing lies on these.
pub const ENTRIES: [Entry; 31] = [
    of(
        STAND,
        Command::Hold,
        "hold",
        "hold the picture, or let it go on",
        &[Key::Space],
    ),
    of(
        STAND,
        Command::Showing,
        "showing",
        "show live, after the note or after the round",
        &[Key::PageDown, Key::V],
    ),
    of(
        STAND,
        Command::Straight,
        "straight",
        "straight practice, or back",
        &[Key::PageUp, Key::S],
    ),
    of(
        STAND,
        Command::TakeReference,
        "take-reference",
        "measure against the straight note just played",
        &[Key::Enter, Key::R],
    ),
    of(
        STAND,
        Command::DropReference,
        "drop-reference",
        "measure against the temperament again",
        &[Key::Backspace],
    ),
    of(
        STAND,
        Command::Drone,
        "drone",
        "drone on or off",
        &[Key::ArrowRight, Key::D],
    ),
    of(
        STAND,
        Command::Beat,
        "beat",
        "metronome on or off",
        &[Key::ArrowLeft, Key::B],
    ),
    of(
        STAND,
        Command::DroneUp,
        "drone-up",
        "drone a semitone higher",
        &[Key::ArrowUp],
    ),
    of(
        STAND,
        Command::DroneDown,
        "drone-down",
        "drone a semitone lower",
        &[Key::ArrowDown],
    ),
    of(
        QUESTION,
        Command::Answer(0),
        "first-answer",
        "first answer, while a question is asked",
        &[Key::Num1, Key::PageUp, Key::ArrowLeft],
    ),
    of(
        QUESTION,
        Command::Answer(1),
        "second-answer",
        "second answer",
        &[Key::Num2, Key::PageDown, Key::ArrowRight],
    ),
    of(
        QUESTION,
        Command::Answer(2),
        "third-answer",
        "third answer",
        &[Key::Num3, Key::ArrowUp, Key::Space],
    ),
    of(
        QUESTION,
        Command::Reveal,
        "reveal",
        "show what is hidden, without an answer",
        &[Key::Num0, Key::Enter, Key::ArrowDown],
    ),
    of(
        STAND,
        Command::Take,
        "take",
        "keep takes, or do not",
        &[Key::T],
    ),
    of(
        STAND,
        Command::Task,
        "task",
        "play the task of the last lesson, or leave off",
        &[Key::G],
    ),
    of(
        STAND,
        Command::ZoomIn,
        "zoom-in",
        "fewer cents, larger",
        &[Key::Plus, Key::Equals],
    ),
    of(
        STAND,
        Command::ZoomOut,
        "zoom-out",
        "more cents, smaller",
        &[Key::Minus],
    ),
    of(
        STAND,
        Command::ZoomByItself,
        "zoom-by-itself",
        "as many cents as the motion needs",
        &[Key::Z],
    ),
    of(
        STAND,
        Command::Span,
        "span",
        "4, 8 or 16 seconds",
        &[Key::W],
    ),
    of(
        EVERYWHERE,
        Command::Paper,
        "paper",
        "light or dark paper",
        &[Key::L],
    ),
    of(
        EVERYWHERE,
        Command::FullScreen,
        "full-screen",
        "fill the screen, or stop it",
        &[Key::F],
    ),
    of(
        EVERYWHERE,
        Command::TakeMicrophone,
        "microphone",
        "leave the demo session, listen to the microphone",
        &[Key::M],
    ),
    of(
        EVERYWHERE,
        Command::Sound,
        "sound",
        "microphone, loudspeaker, drone and metronome",
        &[Key::O],
    ),
    of(
        EVERYWHERE,
        Command::Settings,
        "settings",
        "all that can be set",
        &[Key::E],
    ),
    of(
        EVERYWHERE,
        Command::Figures,
        "figures",
        "how late the picture is",
        &[Key::F12],
    ),
    of(
        EVERYWHERE,
        Command::Keys,
        "keys",
        "show or hide this list",
        &[Key::F1, Key::Questionmark],
    ),
    of(
        EVERYWHERE,
        Command::Close,
        "close",
        "close what lies over the room",
        &[Key::Escape],
    ),
    of(
        EVERYWHERE,
        Command::Room(Room::Stand),
        "room-stand",
        "the Stand: play and watch",
        &[Key::F2],
    ),
    of(
        EVERYWHERE,
        Command::Room(Room::Drill),
        "room-drill",
        "Drill: counted oscillations",
        &[Key::F3],
    ),
    of(
        EVERYWHERE,
        Command::Room(Room::Journal),
        "room-journal",
        "Journal: the takes that were kept",
        &[Key::F4],
    ),
    of(
        EVERYWHERE,
        Command::Room(Room::Lesson),
        "room-lesson",
        "Lesson: model and echo",
        &[Key::F5],
    ),
];
