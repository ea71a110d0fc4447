//! Whose takes there are: who plays now, takes out and in, a player erased.

use super::wording;
use super::{Ask, JournalAction, JournalRoom};
use crate::shell::Shell;
use crate::widgets::form::Form;
use egui::Ui;
use std::collections::BTreeSet;

/// Draws it.
pub(super) fn players_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    form.heading(ui, "Who plays");
    let now = &shell.options().player;
    let mut player = now.clone();
    // Nobody named can be chosen again before there is any such take.
    let nobody = String::new();
    let all: BTreeSet<&String> = [now, &nobody].into_iter().chain(&room.offered.players).collect();
    let all: Vec<(String, String)> =
        all.into_iter().map(|name| (name.clone(), named(room, name))).collect();
    form.choice(ui, "new takes belong to", &mut player, &all);
    form.row(ui, "or to somebody new", |ui, _| {
        if let Some(name) = form.field(ui, "new player", "", "a name") {
            player = name.trim().to_owned();
        }
    });
    if player != *now {
        actions.push(JournalAction::Player(player));
    }
    form.note(
        ui,
        "Recordings of students are theirs. Ask them, and the parents of minors, before you keep any; give them a copy, or \
         erase theirs as a whole, whenever they want.",
    );
    places_ui(ui, room, form, actions);
    erase_ui(ui, room, form, actions);
    form.part(ui, "The journal itself");
    if form.button(ui, "Look at all takes anew", "look at all takes anew", true) {
        actions.push(JournalAction::Look);
    }
    form.note(ui, "So that what was changed by hand in its folder is seen here.");
}

/// "Mira (312 takes)".
fn named(room: &JournalRoom, name: &str) -> String {
    let takes = room.entries.iter().filter(|e| e.player == name).count();
    format!("{} ({})", wording::player(name), wording::counted(takes, "take", "takes"))
}

fn places_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, actions: &mut Vec<JournalAction>) {
    form.part(ui, "Out and in");
    let mut whose = room.whose.clone();
    let mut all = vec![(None, "everybody".to_owned())];
    for name in &room.offered.players {
        all.push((Some(name.clone()), wording::player(name).to_owned()));
    }
    form.choice(ui, "takes of", &mut whose, &all);
    if whose != room.whose {
        actions.push(JournalAction::Whose(whose));
    }
    form.row(ui, "folder or zip", |ui, _| {
        let hint = "a new one, or one to take in";
        if let Some(place) = form.field(ui, "folder or zip", &room.place, hint) {
            actions.push(JournalAction::Place(place));
        }
    });
    let free = !room.place.trim().is_empty() && room.doing.is_none();
    ui.horizontal_wrapped(|ui| {
        let may = free && !room.entries.is_empty();
        if form.button(ui, "Copy out", "copy takes out", may) {
            actions.push(JournalAction::Export);
        }
        let may = free && room.may_write();
        if form.button(ui, "Take in", "take takes in", may) {
            actions.push(JournalAction::Weigh);
        }
    });
    form.note(
        ui,
        "Copied takes are a journal of their own, with sound and measures: a folder or, if you end its name in .zip, one \
         file. Before any come in you are told how many are new; nothing that is here is replaced unless you say so.",
    );
}

fn erase_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, actions: &mut Vec<JournalAction>) {
    if room.offered.players.is_empty() {
        return;
    }
    form.part(ui, "Erase a player");
    form.note(
        ui,
        "All takes of the player are deleted for good, and no trace of them stays in the journal. You are asked for a second \
         word.",
    );
    ui.horizontal_wrapped(|ui| {
        for name in &room.offered.players {
            let said = wording::player(name);
            let text = format!("Erase {said} …");
            if form.button(ui, &text, &format!("erase {said}"), room.may_write()) {
                actions.push(JournalAction::Ask(Ask::Erase(name.clone())));
            }
        }
    });
}
