//! The buttons at the foot of the Stand.

use crate::shell::commands;
use crate::shell::keys::Scope;
use crate::shell::room::Room;
use crate::shell::row;
use crate::stand::{self, Action, Stand};
use crate::theme::Theme;
use crate::widgets::button_row::button_row_ui;
use egui::{Rect, Ui};

/// Draws them into `area` and says what was asked for.
pub(super) fn bar_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    let mut all = row::buttons(&stand::ROWS, Scope::Stand, stand, &stand.shell);
    all.extend(row::buttons(&commands::ROWS, Scope::Everywhere, &(), &stand.shell));
    button_row_ui(ui, area, Room::Stand.name(), &all, theme)
}
