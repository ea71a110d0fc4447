//! The keys of the room: all that is needed while playing lies on those a pedal can send.

use super::state::{LessonAction, LessonRoom};
use crate::keys::{self, Command};
use crate::stand::Stand;
use egui::{Key, Ui};

/// What the pressed keys ask for; they are used up.
pub fn pressed(ui: &Ui, room: &LessonRoom, stand: &Stand) -> Vec<LessonAction> {
    if stand.leaf.is_some() {
        return Vec::new();
    }
    keys::taken(ui, stand, |key, repeat| {
        let action = asked(key, room)?;
        Some((!repeat).then_some(action))
    })
}

fn asked(key: Key, room: &LessonRoom) -> Option<LessonAction> {
    if room.draft().is_some() {
        return match key {
            Key::Escape | Key::PageUp => Some(LessonAction::Task),
            Key::Enter => Some(LessonAction::Give),
            _ => None,
        };
    }
    match key {
        Key::Enter => Some(main(room)),
        Key::N => Some(LessonAction::NewModel),
        Key::Backspace => Some(LessonAction::DropEcho),
        Key::PageDown | Key::V => Some(LessonAction::Do(Command::Showing)),
        Key::PageUp | Key::C => Some(LessonAction::Align),
        Key::Z if room.is_phrase() => Some(LessonAction::Whole),
        Key::ArrowRight => Some(LessonAction::Note(1)),
        Key::ArrowLeft => Some(LessonAction::Note(-1)),
        Key::ArrowDown => Some(LessonAction::Echo(1)),
        Key::ArrowUp => Some(LessonAction::Echo(-1)),
        Key::Space | Key::A => Some(LessonAction::Other),
        Key::P => Some(LessonAction::HearPitch),
        Key::W => Some(LessonAction::Speed),
        Key::Q => Some(LessonAction::Quiet),
        Key::T => Some(LessonAction::Task),
        _ => None,
    }
}

/// What Enter does: what was played last was the model, or, before there is an echo, all again.
pub fn main(room: &LessonRoom) -> LessonAction {
    if room.lesson().echoes().is_empty() {
        LessonAction::NewModel
    } else {
        LessonAction::WasModel
    }
}
