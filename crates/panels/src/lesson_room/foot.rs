//! The buttons at the foot of the room, each with the key that does the same.

use super::keys;
use super::said;
use super::state::{LessonAction, LessonRoom};
use crate::keys::Command;
use crate::leaves::form::Form;
use crate::stand::Stand;
use coach::Align;
use egui::Ui;

/// Draws them and says what was asked for.
pub fn foot_ui(ui: &mut Ui, room: &LessonRoom, stand: &Stand, form: &Form) -> Vec<LessonAction> {
    let lesson = room.lesson();
    let (model, echo) = (lesson.model().is_some(), !lesson.echoes().is_empty());
    let mut asked = Vec::new();
    ui.horizontal_wrapped(|ui| {
        let mut button =
            |text: &str, key: &str, name: &str, enabled: bool, action: LessonAction| {
                let text = format!("{text}  {key}");
                if form.button(ui, &text, name, enabled) {
                    asked.push(action);
                }
            };
        if room.draft().is_some() {
            button(
                "give the task",
                "",
                "give the task",
                true,
                LessonAction::Give,
            );
            button(
                "back",
                "Esc",
                "back to the lesson",
                true,
                LessonAction::Task,
            );
            return;
        }
        if echo {
            button(
                "this was the model",
                "Enter",
                "what was played last was the model",
                true,
                keys::main(room),
            );
        }
        let name = "a new model: the next phrase";
        button(
            "new model",
            if echo { "N" } else { "Enter" },
            name,
            model,
            LessonAction::NewModel,
        );
        button(
            "drop echo",
            "Back",
            "take the last echo back",
            echo,
            LessonAction::DropEcho,
        );
        let showing = said::showing(stand.options().showing);
        let name = format!("way of showing: {showing}");
        button(
            showing,
            "V",
            &name,
            true,
            LessonAction::Do(Command::Showing),
        );
        let align = match room.align() {
            Align::NoteStart => "from the start",
            Align::Cycles => "cycle by cycle",
        };
        let name = format!("laid over each other {align}");
        button(align, "C", &name, model, LessonAction::Align);
        if room.voice().is_some() {
            button("quiet", "Q", "stop the sound", true, LessonAction::Quiet);
        } else {
            button(
                "A/B",
                "A",
                "hear model and echo in turn",
                model,
                LessonAction::Other,
            );
        }
        button(
            "hear the pitch",
            "P",
            "hear the pitch",
            model,
            LessonAction::HearPitch,
        );
        let speed = said::speed(room.speed());
        let name = format!("speed of hearing the pitch: {speed}");
        button(
            &format!("speed {speed}"),
            "W",
            &name,
            model,
            LessonAction::Speed,
        );
        button("task", "T", "write a task", true, LessonAction::Task);
    });
    asked
}
