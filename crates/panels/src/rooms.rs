//! The rooms of the window, and the strip by which one is chosen.

use egui::{Align2, Frame, Margin, Panel, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

use crate::keys::{self, Command};
use crate::stand::{Action, Stand};
use crate::theme::{Scale, Theme};
use crate::{leaves, notice, pen};

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
            ui.horizontal_centered(|ui| {
                ui.spacing_mut().item_spacing.x = APART * size;
                for room in Room::ALL {
                    let command = Command::Room(room);
                    let key = options.keys.shown(command).unwrap_or("");
                    if name_ui(ui, room, room == here, key, theme) {
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
/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;

/// One name; whether it was pressed.
fn name_ui(ui: &mut Ui, room: Room, here: bool, key: &str, theme: &Theme) -> bool {
    let size = theme.sizes.caption;
    let font = theme.word_font(size);
    let small = theme.word_font((KEY * size).max(theme.sizes.scale.min(size)));
    let text = pen::width(ui.painter(), room.name(), font.clone());
    let both = text + 0.35 * size + pen::width(ui.painter(), key, small.clone());
    let (place, response) = ui.allocate_exact_size(vec2(both, HEIGHT * size), Sense::click());
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Button, true, format!("room {}", room.name()));
        info.selected = Some(here);
        info
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(key);
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        let ink = if here || response.hovered() {
            theme.ink
        } else {
            theme.soft_ink
        };
        let middle = place.left_center();
        painter.text(middle, Align2::LEFT_CENTER, room.name(), font, ink);
        let at = middle + vec2(text + 0.35 * size, 0.08 * size);
        painter.text(at, Align2::LEFT_CENTER, key, small, theme.soft_ink);
        if here {
            let line = Stroke::new(theme.sizes.value, theme.ink);
            painter.hline(
                place.left()..=place.left() + text,
                place.bottom() - 2.0,
                line,
            );
        }
        if response.has_focus() {
            let edge = Stroke::new(theme.sizes.value, theme.ink);
            painter.rect_stroke(place.expand(2.0), 3.0, edge, StrokeKind::Inside);
        }
    }
    response.clicked()
}
