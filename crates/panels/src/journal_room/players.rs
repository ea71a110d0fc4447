//! Whose takes there are: who plays now, takes out and in, a player erased.

use super::wording;
use super::{Ask, JournalAction, JournalRoom, Pick};
use crate::shell::Shell;
use crate::widgets::form::Form;
use egui::{TextEdit, Ui};
use journal::Student;
use std::collections::BTreeSet;

/// Width of the field of a place, as a share of the type size.
const FIELD: f32 = 24.0;

/// Draws it.
pub(super) fn players_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    studio_ui(ui, room, shell, form, actions);
    form.part(ui, "Who plays");
    let now = &shell.options().player;
    let mut player = now.clone();
    // Nobody named can be chosen again before there is any such take.
    let nobody = String::new();
    let named_before = &shell.options().players;
    let all = [now, &nobody].into_iter().chain(named_before).chain(&room.offered.players);
    let all: BTreeSet<&String> = all.collect();
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
    recordings_ui(ui, room, form, actions);
    places_ui(ui, room, form, actions);
    erase_ui(ui, room, form, actions);
    form.part(ui, "The journal itself");
    if form.button(ui, "Read the folder again", "read the folder again", true) {
        actions.push(JournalAction::Look);
    }
    form.note(ui, "So that what was changed by hand in its folder is seen here.");
}

/// The studio sheet: of each student a line, which leads to the takes.
fn studio_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    form.heading(ui, "The studio");
    if room.students.is_empty() {
        form.note(
            ui,
            match room.entries.is_empty() {
                true => "Nobody has played yet. Name a player below.",
                false => "The sheet is being made.",
            },
        );
    }
    for student in &room.students {
        let name = wording::player(&student.player);
        ui.horizontal_wrapped(|ui| {
            if form.button(ui, name, &format!("takes of {name}"), true) {
                actions.push(JournalAction::TakesOf(student.player.clone()));
            }
            ui.label(student_line(student, shell));
        });
    }
}

/// "last on 25 Nov 2026 · 12 minutes this week · no clear change · no task".
fn student_line(student: &Student, shell: &Shell) -> String {
    let last = student.last.map_or_else(
        || "nothing played yet".to_owned(),
        |day| format!("last on {}", wording::short_date(day)),
    );
    let minutes = wording::counted(student.minutes.round() as usize, "minute", "minutes");
    let changed = student.changes_in_words();
    let task = student.task_in_words(|name| shell.drill_title(name));
    format!("{last} · {minutes} this week · {changed} · {task}")
}

/// "Mira (312 takes)".
fn named(room: &JournalRoom, name: &str) -> String {
    let takes = room.entries.iter().filter(|e| e.player == name).count();
    format!("{} ({})", wording::player(name), wording::counted(takes, "take", "takes"))
}

/// Recordings from elsewhere.
fn recordings_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, actions: &mut Vec<JournalAction>) {
    form.part(ui, "Recordings");
    let may = room.may_write() && room.doing.is_none();
    if form.button(ui, "Bring recordings in …", "choose recordings to bring in", may) {
        actions.push(JournalAction::Pick(Pick::Recordings));
    }
    form.note(
        ui,
        "Choose sound files from a telephone, a call or a recorder, or drop them on this window: they become takes of the player \
         above. They are measured, dated by their file, and stay where they are.",
    );
}

fn places_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, actions: &mut Vec<JournalAction>) {
    form.part(ui, "Export and import");
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
        let hint = "a new one, or one to import";
        // Taken up letter by letter: so a button can be pressed at once.
        let mut place = room.place.clone();
        let width = (FIELD * form.size()).min(ui.available_width());
        let field = TextEdit::singleline(&mut place).hint_text(hint).desired_width(width);
        let field = ui.add(field).accessible_name("place to export to or import from");
        form.mark(ui, field);
        if place != room.place {
            actions.push(JournalAction::Place(place));
        }
    });
    ui.horizontal_wrapped(|ui| {
        for (text, name, pick) in [
            ("New zip …", "choose a new zip to export to", Pick::NewZip),
            ("Zip …", "choose a zip to import", Pick::Zip),
            ("Folder …", "choose a folder", Pick::Folder),
        ] {
            if form.button(ui, text, name, room.doing.is_none()) {
                actions.push(JournalAction::Pick(pick));
            }
        }
    });
    let free = !room.place.trim().is_empty() && room.doing.is_none();
    ui.horizontal_wrapped(|ui| {
        let may = free && !room.entries.is_empty();
        if form.button(ui, "Export", "export takes", may) {
            actions.push(JournalAction::Export);
        }
        let may = free && room.may_write();
        if form.button(ui, "Import", "import takes", may) {
            actions.push(JournalAction::Weigh);
        }
    });
    form.note(
        ui,
        "Exported takes are a journal of their own, with sound and measures: a folder or, if you end its name in .zip, one \
         file. Before anything is imported you are told how many takes are new; nothing of yours is replaced unless you say \
         so.",
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
            let said = match name.as_str() {
                "" => "takes without a name",
                name => name,
            };
            let text = format!("Erase {said} …");
            if form.button(ui, &text, &format!("erase {said}"), room.may_write()) {
                actions.push(JournalAction::Ask(Ask::Erase(name.clone())));
            }
        }
    });
}
