//! The buttons at the foot of the Stand.

use crate::shell::commands;
use crate::shell::keys::Scope;
use crate::shell::options::Options;
use crate::shell::room::Room;
use crate::shell::row;
use crate::stand::{self, Action, Stand};
use crate::theme::Theme;
use crate::widgets::button_row::{self, Button, button_row_ui};
use egui::{Rect, Ui};
use std::sync::LazyLock;

/// How wide each button is at most, as a share of the type size.
static WIDEST: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let usual = Stand::new(Options::default());
    buttons(&usual).iter().map(Button::most_width).collect()
});
/// So many buttons at the end stand at the right: they open sheets.
const SHEETS: usize = 3;

/// How high the buttons are in a window of this inner width.
pub(super) fn height(width: f32, theme: &Theme) -> f32 {
    let widths: Vec<f32> = WIDEST.iter().map(|share| share * theme.sizes.caption).collect();
    button_row::height_of(&widths, width, theme)
}

fn buttons(stand: &Stand) -> Vec<Button<Action>> {
    let mut all = row::buttons(&stand::ROWS, Scope::Stand, stand, &stand.shell);
    all.extend(row::buttons(&commands::ROWS, Scope::Everywhere, &(), &stand.shell));
    all
}

/// Draws them into `area` and says what was asked for.
pub(super) fn bar_ui(ui: &mut Ui, area: Rect, stand: &Stand, theme: &Theme) -> Vec<Action> {
    button_row_ui(ui, area, Room::Stand.name(), &buttons(stand), SHEETS, theme)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_height_leaves_room_for_all_that_may_stand_in_the_buttons() {
        let theme = &Theme::on(crate::theme::Paper::Light);
        let ctx = egui::Context::default();
        crate::theme::dress(&ctx);
        for width in [604.0, 988.0, 1244.0, 2524.0] {
            let output = ctx.run_ui(egui::RawInput::default(), |ui| {
                let mut stand = Stand::new(Options::default());
                stand.shell.drone_on = true;
                let needed = button_row::height(ui.painter(), width, &buttons(&stand), theme);
                assert!(needed <= height(width, theme), "{width}");
            });
            output.drop_without_applying_deltas();
        }
        // The window of a small laptop has room for one row.
        assert!(height(988.0, theme) < height(604.0, theme));
        assert_eq!(height(988.0, theme), height(2524.0, theme));
    }
}
