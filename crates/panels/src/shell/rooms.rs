//! The strip by which a room is chosen, and what lies over every room.

use egui::{Align2, Frame, Margin, Panel, Role, Sense, Ui, WidgetInfo, vec2};

use crate::shell::Shell;
use crate::shell::action::{Action, Command};
use crate::shell::commands;
use crate::shell::keys::Scope;
use crate::shell::notice;
use crate::shell::overlays::{self, Behind};
use crate::shell::room::Room;
use crate::shell::row::{self, Row};
use crate::theme::Theme;
use crate::widgets::pen;
use crate::widgets::tabs::Strip;

/// Draws the strip along the top of `ui`, with whose takes are kept, and says what was asked for. In a room that is not
/// the Stand, what the program has to say stands below it and covers nothing.
pub fn strip_ui(ui: &mut Ui, here: Room, shell: &Shell) -> Vec<Action> {
    let options = shell.options();
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let mut actions = Vec::new();
    let size = theme.sizes.caption;
    Panel::top("rooms")
        .frame(
            Frame::new()
                .fill(theme.paper)
                .inner_margin(Margin::symmetric(theme.sizes.margin as i8, 0)),
        )
        .show_separator_line(false)
        .exact_size(HEIGHT * size)
        .show(ui, |ui| {
            let strip = Strip { theme, height: HEIGHT, line: (theme.sizes.value, 2.0) };
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = APART * size;
                for room in Room::ALL {
                    let goes = Action::Do(Command::Room(room));
                    let goes_there =
                        |row: &&Row<(), Action>| row.action(&(), shell).as_ref() == Some(&goes);
                    let row = commands::ROWS.iter().find(goes_there);
                    let key = row.and_then(|row| options.keys.shown(&row.entry)).unwrap_or("");
                    let spoken = format!("room {}", room.name());
                    if strip.name_ui(ui, room.name(), &spoken, key, room == here) {
                        actions.push(goes);
                    }
                }
                player_ui(ui, &options.player, theme);
            });
        });
    if here != Room::Stand {
        actions.extend(word_ui(ui, shell, theme));
    }
    actions
}

/// Whose takes are kept, at the right end of the strip, where one was named and there is room.
fn player_ui(ui: &mut Ui, player: &str, theme: &Theme) {
    let (wide, font) = (ui.available_width(), theme.word_font(theme.sizes.caption));
    if player.is_empty() || pen::width(ui.painter(), player, font.clone()) > wide {
        return;
    }
    let (place, response) =
        ui.allocate_exact_size(vec2(wide, HEIGHT * theme.sizes.caption), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("player {player}")));
    let at = place.right_center();
    ui.painter().text(at, Align2::RIGHT_CENTER, player, font, theme.soft_ink);
}

/// What the program has to say, below the strip.
fn word_ui(ui: &mut Ui, shell: &Shell, theme: &Theme) -> Vec<Action> {
    let margin = theme.sizes.margin;
    let wide = ui.available_width() - 2.0 * margin;
    let Some(height) = notice::word_height(ui, wide, shell, theme) else {
        return Vec::new();
    };
    let frame = Frame::new().fill(theme.paper).inner_margin(Margin::symmetric(margin as i8, 0));
    Panel::top("word")
        .frame(frame)
        .show_separator_line(false)
        .exact_size(height)
        .show(ui, |ui| notice::word_ui(ui, ui.max_rect(), shell, theme))
        .inner
}

/// What lies over a room: its sheets, which tell this of the rooms behind them; and the keys that are the same in
/// every room. Call it last.
pub fn over_ui(ui: &mut Ui, shell: &Shell, behind: impl FnOnce() -> Behind) -> Vec<Action> {
    let options = shell.options();
    let window = ui.ctx().content_rect();
    let theme = &Theme::in_window(options.paper, options.text_scale, window.size());
    let mut actions = row::pressed(ui, &commands::ROWS, &[Scope::Everywhere], &(), shell);
    actions.extend(overlays::overlay_ui(ui, shell, behind, theme));
    actions
}

/// Height of the strip and distance of the names, as shares of the type size of captions.
const HEIGHT: f32 = 1.55;
const APART: f32 = 1.3;
