//! The buttons at the foot of the Stand.

use crate::shell::commands;
use crate::shell::keys::Scope;
use crate::shell::room::Room;
use crate::shell::row;
use crate::stand::{self, Action, Stand};
use crate::theme::Theme;
use crate::widgets::button_row::{self, Button, button_row_ui};
use egui::{Rect, Ui};

/// How wide the letters of these words are on average, as a share of the type size; see the test.
const LETTER: f32 = 0.45;
/// What may stand in each button at most, key included, and whether it has a mark; for the height before
/// there is ink.
const WIDEST: [(&str, bool); 10] = [
    ("after the round V", false),
    ("straight S", true),
    ("reference R", true),
    ("drone Fis3 D", true),
    ("beat 200 B", true),
    ("takes T", true),
    ("16 s W", false),
    ("Sound O", false),
    ("Settings E", false),
    ("Keys ?", false),
];
/// So many buttons at the end stand at the right: they open sheets.
const SHEETS: usize = 3;

/// How high the buttons are in a window of this inner width.
pub(super) fn height(width: f32, theme: &Theme) -> f32 {
    let widths = WIDEST.map(|(text, mark)| {
        let letters = text.chars().count() as f32 * LETTER;
        (letters + button_row::around(mark)) * theme.sizes.caption
    });
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
                let mut stand = Stand::new(crate::shell::options::Options::default());
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
