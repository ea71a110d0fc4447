//! What did not sound bowed: that it is told, and the key that takes it up all the same.

use super::action::LessonAction;
use super::state::LessonRoom;
use crate::shell::action::Take;
use crate::shell::keys::Scope;
use crate::shell::options::Options;
use crate::shell::row::Row;
use crate::widgets::button_row::Label;
use egui::Key;

/// Take up what did not sound bowed.
pub(super) const BRING_BACK: Row<LessonRoom, LessonAction> = Row::<LessonRoom, LessonAction>::new(
    "lesson-bring-back",
    &[Scope::Lesson],
    &[Key::K],
    "take up what did not sound bowed",
    |room, _| room.lesson().set_aside().map(|_| LessonAction::BringBack),
)
.button(|_, _| Some(Label::new("keep it").named("keep the last sound all the same")));

/// That what was heard last is no echo, where it did not sound bowed.
pub(super) fn told(room: &LessonRoom, options: &Options) -> Option<String> {
    let key = options.keys.shown(&BRING_BACK.entry);
    room.aside_is_last().then(|| Take::set_aside_words(key))
}
