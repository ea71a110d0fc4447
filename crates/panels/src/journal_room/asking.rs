//! What is asked before something is done that cannot be undone at once, and the list of what cannot be read: sheets
//! that lie over the room.

use super::wording;
use super::{Ask, Found, JournalAction, JournalRoom};
use crate::shell::Shell;
use crate::theme::Theme;
use crate::widgets::form::Form;
use crate::widgets::paging::tell_scrolled;
use egui::{Frame, Id, Key, Modal, Modifiers, Role, ScrollArea, TextEdit, Ui};

/// Width of a sheet where there is room for it, as a share of the type size.
const WIDTH: f32 = 34.0;
/// Room that is left around it at least, in points.
const AROUND: f32 = 24.0;
/// So much of what cannot be understood is listed.
const MOST_UNREAD: usize = 4;
/// How much of the room is to be seen behind it.
const BEHIND: f32 = 0.35;

/// Draws the sheet that is open, if one is.
pub(super) fn asking_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    theme: &Theme,
    actions: &mut Vec<JournalAction>,
) {
    if shell.overlay.is_some() {
        return;
    }
    if let Some(ask) = &room.asking {
        let title = title(ask);
        if sheet_ui(ui, title, theme, |ui, form, opened| {
            ask_ui(ui, room, ask, form, opened, actions);
        }) {
            actions.push(JournalAction::Answer(false));
        }
    } else if room.unread_shown {
        let title = "Takes that cannot be read";
        let mut close = false;
        close |= sheet_ui(ui, title, theme, |ui, form, opened| {
            form.note(ui, "They are left as they are; the others are unharmed.");
            let button = ui.button("Close  Esc").accessible_name("close");
            let button = form.mark(ui, button);
            if opened {
                button.request_focus();
            }
            if button.clicked() {
                actions.push(JournalAction::ShowUnread(false));
            }
            for (id, words) in &room.unread {
                ui.label(format!("{id}: {words}"));
            }
        });
        if close {
            actions.push(JournalAction::ShowUnread(false));
        }
    }
}

/// A sheet; whether the player pressed beside it.
fn sheet_ui(ui: &Ui, title: &str, theme: &Theme, body: impl FnOnce(&mut Ui, &Form, bool)) -> bool {
    let ctx = ui.ctx().clone();
    let form = Form { theme };
    let margin = theme.sizes.margin;
    let room = ctx.content_rect().size() - egui::Vec2::splat(2.0 * (AROUND + margin));
    let shown = Modal::new(Id::unique(("journal sheet", title)))
        .backdrop_color(theme.paper.gamma_multiply(1.0 - BEHIND))
        .frame(Frame::new().fill(theme.patch).stroke(theme.rule_stroke()).inner_margin(margin))
        .show(&ctx, |ui| {
            form.dress(ui);
            ui.set_width((WIDTH * form.size()).min(room.x));
            ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
                node.set_role(Role::Dialog);
                node.set_label(title);
            });
            let opened = ui.memory(egui::Memory::top_modal_layer) != Some(ui.layer_id());
            ScrollArea::vertical()
                .max_height(room.y)
                .min_scrolled_height(room.y)
                .auto_shrink([false, true])
                .show(ui, |ui| {
                    tell_scrolled(ui);
                    form.heading(ui, title);
                    body(ui, &form, opened);
                });
        });
    shown.backdrop_response.clicked()
}

fn title(ask: &Ask) -> &'static str {
    match ask {
        Ask::Delete(_) => "To the trash?",
        Ask::DeleteForGood(_) => "Delete for good?",
        Ask::Erase(player) if player.is_empty() => "Erase takes without a name?",
        Ask::Erase(_) => "Erase a player?",
        Ask::Import(_) => "Import these?",
    }
}

fn in_words(room: &JournalRoom, ask: &Ask) -> String {
    match ask {
        Ask::Delete(id) => format!(
            "The take of {} goes to the system's trash, from where the system can bring it back.",
            wording::take_in_full(id)
        ),
        Ask::DeleteForGood(id) => format!(
            "The take of {} is deleted with its sound and its measures. Nothing can bring it back.",
            wording::take_in_full(id)
        ),
        Ask::Erase(player) => {
            let takes = room.entries.iter().filter(|e| e.player == *player).count();
            format!(
                "{}: {}, with sound and measures. Nothing can bring them back. What was put into the trash \
                 before is still there, and so are copies and reports where you put them; delete them too.",
                if player.is_empty() { "Takes that have no name" } else { player },
                wording::counted(takes, "take", "takes")
            )
        }
        Ask::Import(found) => {
            let weighed = &found.weighed;
            let mut words = format!(
                "{}: {} new and come in, {} here already and left out.",
                found.from.display(),
                are(weighed.new),
                are(weighed.known),
            );
            if weighed.differing > 0 {
                let count = are(weighed.differing);
                words += &format!(" {count} here with other words, marks or measures.");
            }
            if !weighed.differing_tasks.is_empty() {
                let players = weighed.differing_tasks.iter().map(|name| wording::player(name));
                let players = players.collect::<Vec<_>>().join(", ");
                words += &format!(" There is another task of {players} here.");
            }
            if !weighed.unread.is_empty() {
                let count = wording::counted(weighed.unread.len(), "thing", "things");
                words += &format!(" {count} cannot be understood and would be left out:");
            }
            words
        }
    }
}

/// "1 take is", "3 takes are".
fn are(count: usize) -> String {
    let verb = if count == 1 { "is" } else { "are" };
    format!("{} {verb}", wording::counted(count, "take", "takes"))
}

/// What cannot be understood, and what becomes of what differs.
fn found_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    found: &Found,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let weighed = &found.weighed;
    for words in weighed.unread.iter().take(MOST_UNREAD) {
        form.note(ui, words);
    }
    if weighed.unread.len() > MOST_UNREAD {
        form.note(ui, "and more");
    }
    if weighed.differs() {
        let mut replace = room.replace;
        let all = [(false, "keep mine".to_owned()), (true, "use theirs".to_owned())];
        form.choice(ui, "what differs", &mut replace, &all);
        if replace != room.replace {
            actions.push(JournalAction::Replace(replace));
        }
        form.note(ui, "Where theirs is used, your old file stays beside it.");
    }
}

fn ask_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    ask: &Ask,
    form: &Form,
    opened: bool,
    actions: &mut Vec<JournalAction>,
) {
    ui.label(in_words(room, ask));
    if let Ask::Import(found) = ask {
        found_ui(ui, room, found, form, actions);
    }
    if let Some(word) = ask.second_word() {
        ui.label(format!("Type “{word}” to do it."));
        let mut typed = room.typed.clone();
        let field = TextEdit::singleline(&mut typed).desired_width(12.0 * form.size());
        let field = ui.add(field).accessible_name("second word");
        let field = form.mark(ui, field);
        if opened {
            field.request_focus();
        }
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if typed != room.typed {
            actions.push(JournalAction::Typed(typed));
        }
        if entered && room.may_answer() {
            actions.push(JournalAction::Answer(true));
        }
    }
    let (yes, name) = match ask {
        Ask::Delete(_) => ("To the trash", "do it"),
        Ask::DeleteForGood(_) => ("Delete for good", "do it"),
        Ask::Erase(_) => ("Erase", "do it"),
        Ask::Import(_) => ("Import", "do it"),
    };
    ui.horizontal_wrapped(|ui| {
        let may = room.may_answer() && room.may_write();
        let button = ui.add_enabled(may, egui::Button::new(yes));
        let button = form.mark(ui, button.accessible_name(name));
        if opened && ask.second_word().is_none() {
            button.request_focus();
        }
        if button.clicked() {
            actions.push(JournalAction::Answer(true));
        }
        if form.button(ui, "Leave it  Esc", "leave it", true) {
            actions.push(JournalAction::Answer(false));
        }
    });
    // Escape leaves it, whatever has the focus.
    if ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
        actions.push(JournalAction::Answer(false));
    }
}
