//! What the keys of the room ask for.

use super::action::LessonAction;
use super::state::LessonRoom;
use crate::keys::{self, Command, Does, LessonKey, Place};
use crate::stand::Stand;
use egui::Ui;

/// What the pressed keys ask for; they are used up.
pub fn pressed(ui: &Ui, room: &LessonRoom, stand: &Stand) -> Vec<LessonAction> {
    if stand.leaf.is_some() {
        return Vec::new();
    }
    let place = match room.draft() {
        Some(_) => Place::Task,
        None => Place::Lesson,
    };
    let map = &stand.options().keys;
    keys::taken(ui, stand, |key, repeat| {
        let Does::Lesson(key) = map.at(place, key)? else {
            return None;
        };
        Some((!repeat).then(|| asked(key, room)))
    })
}

/// `1`, or `-1` if it is not so.
fn step(onward: bool) -> i32 {
    if onward { 1 } else { -1 }
}

fn asked(key: LessonKey, room: &LessonRoom) -> LessonAction {
    match key {
        LessonKey::WasModel => main(room),
        LessonKey::NewModel => LessonAction::NewModel,
        LessonKey::DropEcho => LessonAction::DropEcho,
        LessonKey::Showing => LessonAction::Do(Command::Showing),
        LessonKey::Whole => LessonAction::Whole,
        LessonKey::Align => LessonAction::Align,
        LessonKey::Note(onward) => LessonAction::Note(step(onward)),
        LessonKey::Echo(onward) => LessonAction::Echo(step(onward)),
        LessonKey::Other => LessonAction::Other,
        LessonKey::Pitch => LessonAction::HearPitch,
        LessonKey::Speed => LessonAction::Speed,
        LessonKey::Quiet => LessonAction::Quiet,
        LessonKey::Report => LessonAction::Report,
        LessonKey::Task | LessonKey::Leave => LessonAction::Task,
        LessonKey::Give => LessonAction::Give,
    }
}

/// What Enter does: what was played last was the model, or, before there is an echo, all again.
pub fn main(room: &LessonRoom) -> LessonAction {
    if room.lesson().echoes().is_empty() { LessonAction::NewModel } else { LessonAction::WasModel }
}
