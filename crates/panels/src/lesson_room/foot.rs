//! The buttons at the foot of the room, each with the key that does the same.

use super::keys;
use super::said;
use super::state::{LessonAction, LessonRoom};
use crate::keys::Command;
use crate::leaves::form::Form;
use crate::pen;
use crate::stand::Stand;
use crate::theme::Theme;
use coach::Align;
use egui::Ui;

/// What a button needs beside its words, and the distance to the next one, as shares of the type size.
const AROUND: f32 = 1.75;
/// The type shrinks to this share before the buttons take a second row, and as far as need be before they
/// take a third.
const ONE_ROW: f32 = 0.85;

/// One button.
struct Item {
    text: String,
    /// What a screen reader calls it.
    name: String,
    enabled: bool,
    action: LessonAction,
}

fn item(text: &str, key: &str, name: &str, enabled: bool, action: LessonAction) -> Item {
    let text = if key.is_empty() {
        text.to_owned()
    } else {
        format!("{text}  {key}")
    };
    Item {
        text,
        name: name.to_owned(),
        enabled,
        action,
    }
}

fn items(room: &LessonRoom, stand: &Stand) -> Vec<Item> {
    if room.draft().is_some() {
        let back = "back to the lesson";
        return vec![
            item(
                "give the task",
                "",
                "give the task",
                true,
                LessonAction::Give,
            ),
            item("back", "Esc", back, true, LessonAction::Task),
        ];
    }
    let lesson = room.lesson();
    let (model, echo) = (lesson.model().is_some(), !lesson.echoes().is_empty());
    let mut items = Vec::new();
    if echo {
        let name = "what was played last was the model";
        items.push(item("was the model", "Enter", name, true, keys::main(room)));
    }
    let key = if echo { "N" } else { "Enter" };
    let name = "a new model: the next phrase";
    items.push(item("new model", key, name, model, LessonAction::NewModel));
    let name = "take the last echo back";
    items.push(item(
        "drop echo",
        "Back",
        name,
        echo,
        LessonAction::DropEcho,
    ));
    let showing = said::showing(stand.options().showing);
    let name = format!("way of showing: {showing}");
    let action = LessonAction::Do(Command::Showing);
    items.push(item(showing, "V", &name, true, action));
    let (align, name) = match room.align() {
        Align::NoteStart => ("from start", "from the start of the note"),
        Align::Cycles => ("by cycles", "cycle by cycle"),
    };
    let name = format!("laid over each other {name}");
    items.push(item(align, "C", &name, model, LessonAction::Align));
    items.push(if room.voice().is_some() {
        item("quiet", "Q", "stop the sound", true, LessonAction::Quiet)
    } else {
        let name = "hear model and echo in turn";
        item("A/B", "A", name, model, LessonAction::Other)
    });
    items.push(item(
        "pitch",
        "P",
        "hear the pitch",
        model,
        LessonAction::HearPitch,
    ));
    let speed = said::speed(room.speed());
    let name = format!("speed of hearing the pitch: {speed}");
    items.push(item(
        &format!("speed {speed}"),
        "W",
        &name,
        model,
        LessonAction::Speed,
    ));
    items.push(item("task", "T", "write a task", true, LessonAction::Task));
    items
}

/// How many rows the buttons take in type so much smaller.
fn rows(ui: &Ui, items: &[Item], share: f32, theme: &Theme) -> usize {
    let size = share * theme.sizes.caption;
    let (mut rows, mut right) = (1, 0.0);
    for item in items {
        let width = pen::width(ui.painter(), &item.text, theme.word_font(size)) + AROUND * size;
        if right > 0.0 && right + width > ui.available_width() + 0.6 * size {
            (rows, right) = (rows + 1, 0.0);
        }
        right += width;
    }
    rows
}

/// Draws them and says what was asked for.
pub fn foot_ui(ui: &mut Ui, room: &LessonRoom, stand: &Stand, theme: &Theme) -> Vec<LessonAction> {
    let items = items(room, stand);
    let least = (15.0 / theme.sizes.caption).min(ONE_ROW);
    let shares = || (0..=20).map(|step| 1.0 - 0.05 * step as f32);
    let share = shares()
        .find(|share| *share >= ONE_ROW && rows(ui, &items, *share, theme) == 1)
        .or_else(|| shares().find(|share| *share >= least && rows(ui, &items, *share, theme) <= 2))
        .unwrap_or(least);
    let theme = &theme.with_text(share * theme.sizes.grown.text);
    let form = Form { theme };
    form.dress(ui);
    let mut asked = Vec::new();
    ui.horizontal_wrapped(|ui| {
        for item in items {
            if form.button(ui, &item.text, &item.name, item.enabled) {
                asked.push(item.action);
            }
        }
    });
    asked
}
