//! The strip by which a room is chosen, and what lies over every room.

use egui::{Align2, Frame, Margin, Panel, Role, Sense, Ui, WidgetInfo, vec2};

use crate::shell::Shell;
use crate::shell::action::{Action, Command};
use crate::shell::commands;
use crate::shell::keys::Scope;
use crate::shell::notice;
use crate::shell::overlays::{self, Behind};
use crate::shell::room::Room;
use crate::shell::row;
use crate::theme::{Sizes, Theme};
use crate::widgets::pen;
use crate::widgets::tabs::Strip;

/// Draws the strip along the top of `ui`, with whose takes are kept, and says what was asked for. In a room that is not
/// the Stand, what the program has to say stands below it and covers nothing.
pub fn strip_ui(ui: &mut Ui, here: Room, shell: &Shell) -> Vec<Action> {
    let options = shell.options();
    let window = ui.ctx().content_rect().size();
    let theme = &Theme::in_window(options.paper, options.text_scale, window);
    let mut actions = Vec::new();
    let margin = theme.sizes.margin;
    let strip = strip(ui, window.x - 2.0 * margin, shell, theme);
    Panel::top("rooms")
        .frame(Frame::new().fill(theme.paper).inner_margin(Margin::symmetric(margin as i8, 0)))
        .show_separator_line(false)
        .exact_size(strip.height)
        .show(ui, |ui| {
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = APART * strip.size;
                for room in Room::ALL {
                    let spoken = format!("room {}", room.name());
                    let key = key_of(room, shell);
                    if strip.name_ui(ui, room.name(), &spoken, key, room == here) {
                        actions.push(Action::Do(Command::Room(room)));
                    }
                }
                player_ui(ui, &options.player, &strip);
            });
        });
    if here != Room::Stand {
        actions.extend(word_ui(ui, shell, theme));
    }
    actions
}

/// The key by which one goes to a room.
fn key_of(room: Room, shell: &Shell) -> &'static str {
    let goes = Some(Action::Do(Command::Room(room)));
    let row = commands::ROWS.iter().find(|row| row.action(&(), shell) == goes);
    row.and_then(|row| shell.options().keys.shown(&row.entry)).unwrap_or("")
}

/// How the names of the rooms are drawn so that they fit into `wide`: where they do not, their keys go first, and
/// then their type shrinks, to no less than it is where no larger type is wanted.
fn strip<'a>(ui: &Ui, wide: f32, shell: &Shell, theme: &'a Theme) -> Strip<'a> {
    let (size, line) = (theme.sizes.caption, (theme.sizes.value, 0.12 * theme.sizes.caption));
    let mut strip = Strip { theme, size, keys: true, height: 0.0, line };
    let fits = |strip: &Strip<'_>| {
        let name = |room: Room| strip.name_width(ui.painter(), room.name(), key_of(room, shell));
        let names: f32 = Room::ALL.into_iter().map(name).sum();
        names + (Room::ALL.len() - 1) as f32 * APART * strip.size <= wide
    };
    while !fits(&strip) && (strip.keys || strip.size > theme.least_caption()) {
        if strip.keys {
            strip.keys = false;
        } else {
            strip.size -= 0.5;
        }
    }
    let height = HEIGHT * Sizes::USUAL.caption * theme.sizes.grown.strokes;
    strip.height = height.max(LEAST_HEIGHT * strip.size);
    strip
}

/// Whose takes are kept, at the right end of the strip, where one was named and there is room.
fn player_ui(ui: &mut Ui, player: &str, strip: &Strip<'_>) {
    let theme = strip.theme;
    let (wide, font) = (ui.available_width(), theme.word_font(strip.size));
    if player.is_empty() || pen::width(ui.painter(), player, font.clone()) > wide {
        return;
    }
    let (place, response) = ui.allocate_exact_size(vec2(wide, strip.height), Sense::hover());
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

/// Height of the strip, as a share of the usual type size of captions, and the least of it as one of that of the
/// names; distance of the names.
const HEIGHT: f32 = 2.44;
const LEAST_HEIGHT: f32 = 1.6;
const APART: f32 = 1.5;
