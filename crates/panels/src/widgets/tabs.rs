//! A strip of names of which one is chosen, each with its key: rooms, and pages of a room.

use crate::theme::Theme;
use crate::widgets::pen;
use egui::{Align2, FontId, Painter, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;
/// Distance of the key from the name, and how much lower it stands, as shares of the type size.
const APART: f32 = 0.35;
const LOWER: f32 = 0.08;

/// How a strip is drawn.
pub(crate) struct Strip<'a> {
    /// What it is drawn with.
    pub theme: &'a Theme,
    /// The type size of the names.
    pub size: f32,
    /// Their keys are written beside them.
    pub keys: bool,
    /// Its height.
    pub height: f32,
    /// The pen of the line under the name that is chosen, and how far that lies above the foot.
    pub line: (f32, f32),
}

impl Strip<'_> {
    fn key_font(&self) -> FontId {
        self.theme.word_font((KEY * self.size).max(self.theme.sizes.scale.min(self.size)))
    }

    /// How wide a name is with its key.
    pub(crate) fn name_width(&self, painter: &Painter, name: &str, key: &str) -> f32 {
        let text = pen::width(painter, name, self.theme.word_font(self.size));
        match self.keys {
            true => text + APART * self.size + pen::width(painter, key, self.key_font()),
            false => text,
        }
    }

    /// One name, called `spoken` by a screen reader; whether it was pressed.
    pub(crate) fn name_ui(
        &self,
        ui: &mut Ui,
        name: &str,
        spoken: &str,
        key: &str,
        here: bool,
    ) -> bool {
        let theme = self.theme;
        let size = self.size;
        let font = theme.word_font(size);
        let small = self.key_font();
        let text = pen::width(ui.painter(), name, font.clone());
        let wanted = vec2(self.name_width(ui.painter(), name, key), self.height);
        let (place, response) = ui.allocate_exact_size(wanted, Sense::click());
        response.widget_info(|| WidgetInfo::selected(Role::Tab, true, here, spoken));
        ui.ctx().accesskit_node_builder(response.id, |node| {
            node.set_keyboard_shortcut(key);
        });
        if ui.is_rect_visible(place) {
            let painter = ui.painter();
            let ink = if here || response.hovered() { theme.ink } else { theme.soft_ink };
            let middle = place.left_center();
            painter.text(middle, Align2::LEFT_CENTER, name, font, ink);
            let at = middle + vec2(text + APART * size, LOWER * size);
            if self.keys {
                painter.text(at, Align2::LEFT_CENTER, key, small, theme.soft_ink);
            }
            if here {
                let (wide, rise) = self.line;
                let line = Stroke::new(wide, theme.ink);
                painter.hline(place.left()..=place.left() + text, place.bottom() - rise, line);
            }
            if response.has_focus() {
                let edge = Stroke::new(theme.sizes.value, theme.ink);
                painter.rect_stroke(place.expand(2.0), 3.0, edge, StrokeKind::Inside);
            }
        }
        response.clicked()
    }
}
