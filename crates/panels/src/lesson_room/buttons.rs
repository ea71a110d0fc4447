//! The buttons at the foot of the room.

use super::action::{Laid, LessonAction};
use super::keys;
use super::said;
use super::state::LessonRoom;
use crate::keys::{Command, LessonKey};
use crate::stand::{Stand, Take};
use crate::widgets::button_row::Button;
use coach::Align;

/// The buttons of now.
pub fn buttons(room: &LessonRoom, stand: &Stand) -> Vec<Button<LessonAction>> {
    let key = |key: LessonKey| stand.options().keys.shown(key).unwrap_or("");
    if room.draft().is_some() {
        return vec![
            Button::new(LessonAction::Give, "give the task", key(LessonKey::Give)).first(),
            Button::new(LessonAction::Task, "back", key(LessonKey::Leave))
                .named("back to the lesson"),
        ];
    }
    let lesson = room.lesson();
    let (model, echo) = (lesson.model().is_some(), !lesson.echoes().is_empty());
    let showing = said::showing(stand.options().showing);
    let showing = Button::new(LessonAction::Do(Command::Showing), showing, key(LessonKey::Showing))
        .longest("after the echo")
        .named(format!("way of showing: {showing}"));
    let task = Button::new(LessonAction::Task, "task", key(LessonKey::Task)).named("write a task");
    // Without a model there is nothing to hear, lay over another or report.
    if !model {
        return vec![showing, task];
    }
    let mut all = Vec::new();
    if echo {
        all.push(
            Button::new(keys::main(room), "use as model", key(LessonKey::WasModel))
                .named("what was played last was the model"),
        );
    }
    let new = if echo { LessonKey::NewModel } else { LessonKey::WasModel };
    all.push(
        Button::new(LessonAction::NewModel, "new model", key(new))
            .named("a new model: the next phrase"),
    );
    all.push(
        Button::new(LessonAction::DropEcho, "drop echo", key(LessonKey::DropEcho))
            .named("take the last echo back")
            .enabled(echo),
    );
    all.push(showing);
    if room.is_phrase() {
        let (shown, name) = match room.laid() {
            Laid::Note(_) => ("one note", "shown: one note of the phrase"),
            _ => ("phrase", "shown: the phrase as a whole"),
        };
        all.push(
            Button::new(LessonAction::Whole, shown, key(LessonKey::Whole))
                .longest("one note")
                .named(name),
        );
    }
    let (laid, longest) = match room.laid() {
        Laid::Whole => ("from onset", "by notes"),
        Laid::NoteByNote => ("by notes", "from onset"),
        Laid::Note(Align::NoteStart) => ("from start", ""),
        Laid::Note(Align::Cycles) => ("by cycles", "from start"),
    };
    all.push(
        Button::new(LessonAction::Align, laid, key(LessonKey::Align))
            .longest(longest)
            .named(format!("laid over each other {}", said::laid(room.laid()))),
    );
    let heard = if room.voice().is_some() {
        Button::new(LessonAction::Quiet, "quiet", key(LessonKey::Quiet)).named("stop the sound")
    } else {
        Button::new(LessonAction::Other, "A/B", key(LessonKey::Other))
            .named("hear model and echo in turn")
    };
    all.push(heard.longest("quiet"));
    all.push(
        Button::new(LessonAction::HearPitch, "pitch", key(LessonKey::Pitch))
            .named("hear the pitch"),
    );
    let speed = said::speed(room.speed());
    all.push(
        Button::new(LessonAction::Speed, format!("speed {speed}"), key(LessonKey::Speed))
            .longest("speed 1/2")
            .named(format!("speed of hearing the pitch: {speed}")),
    );
    let report = room.report();
    let (text, name) = match (&report, stand.take()) {
        (Some(_), _) => ("report", "a report of the lesson"),
        (None, _) if !echo => ("report", "a report of the lesson: there is no echo yet"),
        (None, Take::Running) => ("report", "a report of the lesson: a take is still written"),
        (None, _) => ("report: no takes", "a report of the lesson: its takes were not kept"),
    };
    all.push(
        Button::new(LessonAction::Report, text, key(LessonKey::Report))
            .named(name)
            .enabled(report.is_some()),
    );
    all.push(task);
    all
}
