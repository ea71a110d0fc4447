//! The head of the room: its pages, and what there is to say.

use super::said;
use super::state::{JournalAction, JournalRoom, Page, Writing};
use crate::leaves::form::Form;
use crate::pen;
use crate::words::sentence;
use egui::{Align2, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2};

/// Height of the names of pages, and size of a key's name, as shares of the type size.
const HEIGHT: f32 = 1.7;
const KEY: f32 = 0.8;

/// Draws it.
pub fn heading_ui(ui: &mut Ui, room: &JournalRoom, form: &Form, asked: &mut Vec<JournalAction>) {
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing.x = 1.2 * form.size();
        for (number, page) in Page::ALL.into_iter().enumerate() {
            if page_name_ui(ui, page, number + 1, page == room.page, form) {
                asked.push(JournalAction::Page(page));
            }
        }
    });
    if let Writing::OnlyReading(words) = &room.writing {
        form.trouble(
            ui,
            &format!("Takes can be read here, and not changed: {words}"),
        );
    }
    for (words, bad) in [(&room.trouble, true), (&room.done, false)] {
        let Some(words) = words else { continue };
        ui.horizontal_wrapped(|ui| {
            let said = sentence(words);
            if bad {
                form.trouble(ui, &said);
            } else {
                let response = ui.label(&said);
                response.widget_info(|| WidgetInfo::labeled(Role::Status, true, &said));
            }
            if form.button(ui, "Read", "read", true) {
                asked.push(JournalAction::Dismiss);
            }
        });
    }
    if !room.unread.is_empty() && room.page == Page::Takes {
        ui.horizontal_wrapped(|ui| {
            let count = said::counted(room.unread.len(), "take", "takes");
            form.trouble(ui, &format!("{count} cannot be read."));
            if form.button(ui, "Which?", "which takes cannot be read", true) {
                asked.push(JournalAction::ShowUnread(true));
            }
        });
    }
    ui.add_space(0.2 * form.size());
}

/// One page's name; whether it was pressed.
fn page_name_ui(ui: &mut Ui, page: Page, number: usize, here: bool, form: &Form) -> bool {
    let theme = form.theme;
    let size = theme.sizes.caption;
    let font = theme.word_font(size);
    let small = theme.word_font((KEY * size).max(theme.sizes.scale.min(size)));
    let key = number.to_string();
    let text = pen::width(ui.painter(), page.name(), font.clone());
    let both = text + 0.35 * size + pen::width(ui.painter(), &key, small.clone());
    let (place, response) = ui.allocate_exact_size(vec2(both, HEIGHT * size), Sense::click());
    response.widget_info(|| {
        WidgetInfo::selected(Role::Tab, true, here, format!("page {}", page.name()))
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(key.clone());
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        let ink = if here || response.hovered() {
            theme.ink
        } else {
            theme.soft_ink
        };
        let middle = place.left_center();
        painter.text(middle, Align2::LEFT_CENTER, page.name(), font, ink);
        let at = middle + vec2(text + 0.35 * size, 0.08 * size);
        painter.text(at, Align2::LEFT_CENTER, key, small, theme.soft_ink);
        if here {
            let line = Stroke::new(theme.sizes.rule, theme.ink);
            let foot = place.bottom() - 0.15 * size;
            painter.hline(place.left()..=place.left() + text, foot, line);
        }
        if response.has_focus() {
            let edge = Stroke::new(theme.sizes.value, theme.ink);
            painter.rect_stroke(place.expand(2.0), 3.0, edge, StrokeKind::Inside);
        }
    }
    response.clicked()
}
