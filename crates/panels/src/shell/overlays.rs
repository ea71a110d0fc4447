//! The sheets that lie over the Stand: the list of keys, the manual, the settings, the sound, a report.

mod keys_list;
mod manual;
mod regions;
mod report;
mod settings;
mod sound;

use crate::shell::Shell;
use crate::shell::action::{Action, Command, Overlay};
use crate::shell::commands::CLOSE;
use crate::shell::row::OF_SHEETS;
use crate::theme::Theme;
use crate::widgets::form::Form;
use crate::widgets::paging::{tell_scrolled, turn_pages};
use coach::OwnNote;
use egui::{Align, Frame, Id, Layout, Modal, Role, ScrollArea, Ui, vec2};
use tuning::{Cents, Hz};

pub(crate) use keys_list::Line;
#[cfg(test)]
pub(crate) use keys_list::hidden;

/// Width of a sheet where there is room for it, as a share of the type size.
const WIDTH: f32 = 52.0;
/// Room that is left around it at least, in points.
const AROUND: f32 = 12.0;
/// How much of the Stand is to be seen behind it.
const BEHIND: f32 = 0.35;
/// A turn of the page, as a share of the height that is seen.
const PAGE: f32 = 0.85;

impl Overlay {
    /// What it is called.
    fn title(self) -> &'static str {
        match self {
            Self::Keys => "Keys",
            Self::Settings => "Settings",
            Self::Sound => "Sound",
            Self::Report => "Report",
            Self::Manual => "Manual",
        }
    }
}

/// What the sheets tell of the rooms behind them.
pub struct Behind {
    /// The lines of the list of keys.
    pub lines: Vec<Line>,
    /// The straight note that the player took for a reference.
    pub own: Option<OwnNote>,
    /// Rate and width of the vibrato of the last note.
    pub last: Option<(Hz, Cents)>,
}

/// The sheet that is open, and what was asked for on it.
pub(crate) fn overlay_ui(
    ui: &mut Ui,
    shell: &Shell,
    behind: impl FnOnce() -> Behind,
    theme: &Theme,
) -> Vec<Action> {
    let Some(overlay) = shell.overlay else {
        return Vec::new();
    };
    let behind = behind();
    let ctx = ui.ctx().clone();
    let form = Form { theme };
    let margin = theme.sizes.margin;
    let room = ctx.content_rect().size() - 2.0 * vec2(AROUND + margin, AROUND + margin);
    let width = (WIDTH * theme.sizes.caption).min(room.x);
    let mut actions = Vec::new();
    let id = Id::unique(overlay.title());
    let shown = Modal::new(id)
        .backdrop_color(theme.paper.gamma_multiply(1.0 - BEHIND))
        .frame(Frame::new().fill(theme.patch).stroke(theme.rule_stroke()).inner_margin(margin))
        .show(&ctx, |ui| {
            form.dress(ui);
            ui.set_width(width);
            ui.ctx().accesskit_node_builder(ui.unique_id(), |node| {
                node.set_role(Role::Dialog);
                node.set_label(overlay.title());
            });
            let opened = ui.memory(egui::Memory::top_modal_layer) != Some(ui.layer_id());
            let top = ui.cursor().top();
            ui.horizontal(|ui| {
                form.heading(ui, overlay.title());
                ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                    let key = shell.options().keys.shown(&CLOSE.entry).unwrap_or("");
                    let close = ui.button(format!("Close  {key}")).accessible_name("close");
                    let close = form.mark(ui, close);
                    if opened {
                        close.request_focus();
                    }
                    if close.clicked() {
                        actions.push(Action::Do(Command::Close));
                    }
                });
            });
            ui.separator();
            let left = room.y - (ui.cursor().top() - top);
            // A sheet opens at its head, wherever it was left.
            let mut page = ScrollArea::vertical();
            if opened {
                page = page.vertical_scroll_offset(0.0);
            }
            page.max_height(left).min_scrolled_height(left).auto_shrink([false, true]).show(
                ui,
                |ui| {
                    tell_scrolled(ui);
                    for keys in OF_SHEETS {
                        turn_pages(ui, PAGE * left, keys);
                    }
                    match overlay {
                        Overlay::Keys => {
                            keys_list::keys_list_ui(ui, shell, &behind.lines, &form, &mut actions)
                        }
                        Overlay::Settings => {
                            settings::settings_ui(ui, shell, &behind, &form, &mut actions)
                        }
                        Overlay::Manual => manual::manual_ui(ui, shell, &form, &mut actions),
                        Overlay::Sound => sound::sound_ui(ui, shell, &form, &mut actions),
                        Overlay::Report => {
                            report::report_ui(ui, shell, opened, &form, &mut actions)
                        }
                    }
                },
            );
        });
    if shown.backdrop_response.clicked() {
        actions.push(Action::Do(Command::Close));
    }
    actions
}
