//! A take that was made elsewhere, with a telephone or in free playing, judged as a round of a drill or as a passage.

use super::{JournalAction, JournalOrder, JournalRoom, JudgeAs, JudgedBy, Opened};
use crate::shell::Shell;
use crate::shell::room::Room;
use crate::widgets::form::Form;
use egui::{ComboBox, Ui};

/// Width of a choice, as a share of the type size.
const CHOICE: f32 = 9.0;

impl JournalRoom {
    /// The open take may be judged: it can be heard and written to, and the room it was played in has not judged it.
    fn may_judge(&self) -> Option<&Opened> {
        let opened = self.opened.as_ref().filter(|opened| opened.may_be_used())?;
        let file = opened.file.as_ref()?;
        let elsewhere = [Room::Drill, Room::Passage].iter().all(|room| room.name() != file.room);
        (elsewhere && self.may_write()).then_some(opened)
    }

    pub(super) fn judge(&mut self, judge_as: &JudgeAs, shell: &Shell) {
        let by = match judge_as {
            JudgeAs::Round(name) => {
                let drill = self.judges.drills.iter().find(|drill| drill.name == *name);
                drill.map(|drill| JudgedBy::Drill {
                    drill: Box::new(drill.clone()),
                    aim: shell.aim(),
                    hints: shell.options().hints,
                })
            }
            JudgeAs::Passage(name) => {
                let mut passages = self.judges.passages.iter();
                let found = passages.find(|(listed, _)| listed == name).cloned();
                found.map(|(name, passage)| JudgedBy::Passage { name, passage: Box::new(passage) })
            }
        };
        if let (Some(by), Some(opened)) = (by, self.may_judge()) {
            let (id, part) = (opened.id.clone(), opened.played.part);
            self.orders.push(JournalOrder::Judge { id, part, by: Box::new(by) });
        }
    }
}

/// What the part that is played can be judged as.
pub(super) fn judge_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    if room.may_judge().is_none() {
        return;
    }
    let judges = &room.judges;
    let drills =
        judges.drills.iter().map(|drill| (drill.title.clone(), JudgeAs::Round(drill.name.clone())));
    let passages = judges
        .passages
        .iter()
        .map(|(name, passage)| (passage.title.clone(), JudgeAs::Passage(name.clone())));
    ui.horizontal_wrapped(|ui| {
        ui.label("judge it as");
        let mut choose = |text: &str, name: &str, all: Vec<(String, JudgeAs)>| {
            let response = ComboBox::from_id_salt(("judge", name))
                .selected_text(text)
                .width(CHOICE * form.size())
                .truncate()
                .show_ui(ui, |ui| {
                    form.dress(ui);
                    for (title, judge_as) in all {
                        if ui.selectable_label(false, title).clicked() {
                            actions.push(JournalAction::Judge(judge_as));
                        }
                    }
                })
                .response;
            form.mark(ui, response.accessible_name(name));
        };
        choose("a drill’s round", "judge as a round of a drill", drills.collect());
        if !judges.passages.is_empty() {
            choose("a passage", "judge as a passage", passages.collect());
        }
    });
}
