//! The head of the room: its pages, and what there is to say.

use super::wording;
use super::{Doing, JournalAction, JournalRoom, Page, ROWS, Writing};
use crate::shell::Shell;
use crate::widgets::form::Form;
use crate::widgets::tabs::Strip;
use egui::{ProgressBar, Ui};
use tuning::figure::sentence;

/// Height of the names of pages, as a share of the type size.
const HEIGHT: f32 = 1.7;
/// Length of a bar that fills, as a share of the type size.
const BAR: f32 = 20.0;

/// Draws it.
pub(super) fn heading_ui(
    ui: &mut Ui,
    room: &JournalRoom,
    shell: &Shell,
    form: &Form,
    actions: &mut Vec<JournalAction>,
) {
    let strip = Strip {
        theme: form.theme,
        size: form.size(),
        keys: true,
        height: HEIGHT * form.size(),
        line: (form.theme.sizes.rule, 0.15 * form.size()),
    };
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.2 * form.size();
        for page in Page::ALL {
            let turns = Some(JournalAction::Page(page));
            let row = ROWS.iter().find(|row| row.action(room, shell) == turns);
            let key = row.and_then(|row| shell.options().keys.shown(&row.entry)).unwrap_or("");
            let spoken = format!("page {}", page.name());
            if strip.name_ui(ui, page.name(), &spoken, key, page == room.page) {
                actions.push(JournalAction::Page(page));
            }
        }
    });
    if let Writing::OnlyReading(words) = &room.writing {
        form.trouble(ui, &format!("Takes can be read here, and not changed: {words}"));
    }
    if let Some(doing) = &room.doing {
        doing_ui(ui, doing, form, actions);
    }
    for (words, bad) in [(&room.trouble, true), (&room.done, false)] {
        let Some(words) = words else { continue };
        ui.horizontal_wrapped(|ui| {
            let said = sentence(words);
            match bad {
                true => form.trouble(ui, &said),
                false => form.status(ui, &said),
            }
            if form.button(ui, "Close", "close what was said", true) {
                actions.push(JournalAction::Dismiss);
            }
        });
    }
    if !room.unread.is_empty() && room.page == Page::Takes {
        ui.horizontal_wrapped(|ui| {
            let count = wording::counted(room.unread.len(), "take", "takes");
            form.trouble(ui, &format!("{count} cannot be read."));
            if form.button(ui, "Which?", "which takes cannot be read", true) {
                actions.push(JournalAction::ShowUnread(true));
            }
        });
    }
    ui.add_space(0.2 * form.size());
}

/// What goes on, how far it is, and the way to stop it.
fn doing_ui(ui: &mut Ui, doing: &Doing, form: &Form, actions: &mut Vec<JournalAction>) {
    form.status(ui, &sentence(&doing.words));
    ui.horizontal_wrapped(|ui| {
        let bar = ProgressBar::new(doing.share)
            .desired_width(BAR * form.size())
            .desired_height(0.5 * form.size())
            .corner_radius(0.0)
            .fill(form.theme.oscillation);
        ui.add(bar).accessible_name("how far it is");
        if doing.may_stop && form.button(ui, "Stop", "stop taking recordings in", true) {
            actions.push(JournalAction::StopAdding);
        }
    });
}
