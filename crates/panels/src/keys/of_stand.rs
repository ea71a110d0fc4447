//! The commands that are the same everywhere, and those of the Stand.

use super::{Command, Does, Entry, Place, of};
use crate::shell::rooms::Room;
use egui::Key;

const EVERYWHERE: &[Place] = &[Place::Everywhere];
const STAND: &[Place] = &[Place::Stand];
const QUESTION: &[Place] = &[Place::Question];

/// In the order they are listed. Page-turner pedals send Page Up and Page Down, the arrows, Space or Enter; all
/// that is needed while playing lies on these.
pub const ENTRIES: [Entry; 31] = [
    of(
        STAND,
        Does::Command(Command::Hold),
        "hold",
        "hold the picture, or let it go on",
        &[Key::Space],
    ),
    of(
        STAND,
        Does::Command(Command::Showing),
        "showing",
        "show live, after the note or after the round",
        &[Key::PageDown, Key::V],
    ),
    of(
        STAND,
        Does::Command(Command::Straight),
        "straight",
        "straight practice, or back",
        &[Key::PageUp, Key::S],
    ),
    of(
        STAND,
        Does::Command(Command::TakeReference),
        "take-reference",
        "measure against the straight note just played",
        &[Key::Enter, Key::R],
    ),
    of(
        STAND,
        Does::Command(Command::DropReference),
        "drop-reference",
        "measure against the temperament again",
        &[Key::Backspace],
    ),
    of(
        STAND,
        Does::Command(Command::Drone),
        "drone",
        "drone on or off",
        &[Key::ArrowRight, Key::D],
    ),
    of(
        STAND,
        Does::Command(Command::Beat),
        "beat",
        "metronome on or off",
        &[Key::ArrowLeft, Key::B],
    ),
    of(
        STAND,
        Does::Command(Command::DroneUp),
        "drone-up",
        "drone a semitone higher",
        &[Key::ArrowUp],
    ),
    of(
        STAND,
        Does::Command(Command::DroneDown),
        "drone-down",
        "drone a semitone lower",
        &[Key::ArrowDown],
    ),
    of(
        QUESTION,
        Does::Command(Command::Answer(0)),
        "first-answer",
        "first answer, while a question is asked",
        &[Key::Num1, Key::PageUp, Key::ArrowLeft],
    ),
    of(
        QUESTION,
        Does::Command(Command::Answer(1)),
        "second-answer",
        "second answer",
        &[Key::Num2, Key::PageDown, Key::ArrowRight],
    ),
    of(
        QUESTION,
        Does::Command(Command::Answer(2)),
        "third-answer",
        "third answer",
        &[Key::Num3, Key::ArrowUp, Key::Space],
    ),
    of(
        QUESTION,
        Does::Command(Command::Reveal),
        "reveal",
        "show what is hidden, without an answer",
        &[Key::Num0, Key::Enter, Key::ArrowDown],
    ),
    of(STAND, Does::Command(Command::Take), "take", "keep takes, or do not", &[Key::T]),
    of(
        STAND,
        Does::Command(Command::Task),
        "task",
        "play the task of the last lesson, or leave off",
        &[Key::G],
    ),
    of(
        STAND,
        Does::Command(Command::ZoomIn),
        "zoom-in",
        "fewer cents, larger",
        &[Key::Plus, Key::Equals],
    ),
    of(STAND, Does::Command(Command::ZoomOut), "zoom-out", "more cents, smaller", &[Key::Minus]),
    of(
        STAND,
        Does::Command(Command::ZoomByItself),
        "zoom-by-itself",
        "as many cents as the motion needs",
        &[Key::Z],
    ),
    of(STAND, Does::Command(Command::Span), "span", "4, 8 or 16 seconds", &[Key::W]),
    of(EVERYWHERE, Does::Command(Command::Paper), "paper", "light or dark paper", &[Key::L]),
    of(
        EVERYWHERE,
        Does::Command(Command::FullScreen),
        "full-screen",
        "fill the screen, or stop it",
        &[Key::F],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::TakeMicrophone),
        "microphone",
        "leave the demo session, listen to the microphone",
        &[Key::M],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Sound),
        "sound",
        "microphone, loudspeaker, drone and metronome",
        &[Key::O],
    ),
    of(EVERYWHERE, Does::Command(Command::Settings), "settings", "all that can be set", &[Key::E]),
    of(
        EVERYWHERE,
        Does::Command(Command::Figures),
        "figures",
        "how late the picture is",
        &[Key::F12],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Keys),
        "keys",
        "show or hide this list",
        &[Key::F1, Key::Questionmark],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Close),
        "close",
        "close what lies over the room",
        &[Key::Escape],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Room(Room::Stand)),
        "room-stand",
        "the Stand: play and watch",
        &[Key::F2],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Room(Room::Drill)),
        "room-drill",
        "Drill: counted oscillations",
        &[Key::F3],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Room(Room::Journal)),
        "room-journal",
        "Journal: the takes that were kept",
        &[Key::F4],
    ),
    of(
        EVERYWHERE,
        Does::Command(Command::Room(Room::Lesson)),
        "room-lesson",
        "Lesson: model and echo",
        &[Key::F5],
    ),
];
