//! What a hand may say of a take after it was played: a word, and whose it is, of which passage, finger and string.

use super::wording;
use super::{JournalAction, JournalRoom};
use crate::shell::Shell;
use crate::widgets::form::Form;
use egui::{ComboBox, Ui};
use journal::{Label, TakeFile};

/// Width of a choice, as a share of the type size.
const CHOICE: f32 = 8.5;
/// The fingers that can be chosen; 0 is the thumb.
const FINGERS: [u8; 5] = [1, 2, 3, 4, 0];

/// Draws it.
pub(super) fn labels_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    file: &TakeFile,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let writes = room.may_write();
    let mut label = |label| actions.push(JournalAction::Label(label));
    let mut shown = room.labels_shown;
    ui.horizontal_wrapped(|ui| {
        ui.label("remark");
        if writes {
            let hint = "to find it again by";
            if let Some(word) = form.field(ui, "remark", &file.word, hint) {
                label(Label::Word(word.trim().to_owned()));
            }
            let (text, name) = match shown {
                true => ("Hide the rest", "hide player, passage, finger and string"),
                false => ("Whose and what …", "change player, passage, finger and string"),
            };
            if form.button(ui, text, name, true) {
                shown = !shown;
            }
        } else {
            let word = if file.word.is_empty() { "none" } else { &file.word };
            form.note(ui, word);
        }
    });
    if writes && room.labels_shown {
        ui.horizontal_wrapped(|ui| {
            let mut players = room.offered.players.clone();
            for name in [&shell.options().player, &file.player] {
                if !players.contains(name) {
                    players.push(name.clone());
                }
            }
            let named = |name: &String| wording::player(name).to_owned();
            if let Some(player) = choice(ui, form, "player", &file.player, &players, named) {
                label(Label::Player(player));
            }
            let fingers: Vec<Option<u8>> = FINGERS.into_iter().map(Some).chain([None]).collect();
            let named = |finger: &Option<u8>| match finger {
                Some(finger) => wording::finger(*finger),
                None => "no one finger".to_owned(),
            };
            if let Some(finger) = choice(ui, form, "finger", &file.finger, &fingers, named) {
                label(Label::Finger(finger));
            }
            ui.label("string");
            let string = file.string.as_deref().unwrap_or("");
            if let Some(string) = form.field(ui, "string of the take", string, "as D, or II") {
                label(Label::String(string.trim().to_owned()));
            }
            ui.label("passage");
            let passage = file.passage.as_deref().unwrap_or("");
            if let Some(passage) = form.field(ui, "passage of the take", passage, "piece and bars")
            {
                label(Label::Passage(passage.trim().to_owned()));
            }
        });
    }
    if shown != room.labels_shown {
        actions.push(JournalAction::ShowLabels(shown));
    }
}

/// One of several; what was chosen instead of what is.
fn choice<T: PartialEq + Clone>(
    ui: &mut Ui,
    form: &Form,
    name: &str,
    is: &T,
    all: &[T],
    said: impl Fn(&T) -> String,
) -> Option<T> {
    let mut value = is.clone();
    let response = ComboBox::from_id_salt(("label", name))
        .selected_text(said(is))
        .width(CHOICE * form.size())
        .truncate()
        .show_ui(ui, |ui| {
            form.dress(ui);
            for each in all {
                ui.selectable_value(&mut value, each.clone(), said(each));
            }
        })
        .response;
    let response = response.accessible_name(format!("{name} of the take"));
    form.mark(ui, response);
    (value != *is).then_some(value)
}
