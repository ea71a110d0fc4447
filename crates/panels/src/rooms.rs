//! The rooms of the window, and the strip by which one is chosen.

use egui::{Frame, Margin, Panel, Ui};

use crate::keys::{self, Command};
use crate::stand::{Action, Stand};
use crate::strip::Strip;
use crate::theme::Scale;
use crate::{leaves, notice};

/// A room of the window.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Room {
    /// Play and watch.
    #[default]
    Stand,
    /// Counted oscillations, carried from finger to finger.
    Drill,
    /// The takes that were kept.
    Journal,
    /// Model and echo.
    Lesson,
}

impl Room {
    /// All of them, in the order of the strip.
    pub const ALL: [Self; 4] = [Self::Stand, Self::Drill, Self::Journal, Self::Lesson];

    /// Its name.
    pub fn name(self) -> &'static str {
        match self {
            Self::Stand => "Stand",
            Self::Drill => "Drill",
            Self::Journal => "Journal",
            Self::Lesson => "Lesson",
        }
    }
}

/// Draws the strip along the top of `ui` and says which room was asked for.
pub fn strip_ui(ui: &mut Ui, here: Room, stand: &Stand) -> Option<Command> {
    let options = stand.options();
    let window = ui.ctx().content_rect().size();
    let theme = &options
        .paper
        .theme()
        .scaled(Scale::of(options.text_scale, window));
    let mut asked = None;
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
            let strip = Strip {
                theme,
                height: HEIGHT,
                line: (theme.sizes.value, 2.0),
            };
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = APART * size;
                for room in Room::ALL {
                    let command = Command::Room(room);
                    let key = options.keys.shown(command).unwrap_or("");
                    let spoken = format!("room {}", room.name());
                    if strip.name_ui(ui, room.name(), &spoken, key, room == here) {
                        asked = Some(command);
                    }
                }
            });
        });
    asked
}

/// What lies over a room that is not the Stand: sheets, what the program has to say; and the keys that are
/// the same in every room. Call it last.
pub fn over_ui(ui: &mut Ui, stand: &Stand) -> Vec<Action> {
    let options = stand.options();
    let window = ui.ctx().content_rect();
    let theme = &options
        .paper
        .theme()
        .scaled(Scale::of(options.text_scale, window.size()));
    let mut asked = keys::common(ui, stand);
    asked.extend(notice::word_ui(ui, window, stand, theme));
    asked.extend(leaves::leaf_ui(ui, stand, theme));
    asked
}

/// Height of the strip and distance of the names, as shares of the type size of captions.
const HEIGHT: f32 = 1.55;
const APART: f32 = 1.3;
