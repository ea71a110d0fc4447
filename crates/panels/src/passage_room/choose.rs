//! The list of passages: what each is called, and what it is.

use super::{PassageAction, RoomContext, wording};
use crate::widgets::paging::tell_scrolled;
use crate::widgets::pen;
use egui::style::ScrollAnimation;
use egui::{
    Id, Rect, Response, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, UiBuilder, WidgetInfo,
    pos2, vec2,
};
use tuning::figure;

/// Height of a row, as shares of the type sizes of words and captions; more lines where a file cannot be used.
const WORDS: f32 = 1.6;
const CAPTIONS: f32 = 1.5;
const TROUBLE: f32 = 3.6;

/// Draws the list into `area`.
pub(super) fn choose_ui(
    ui: &mut Ui,
    area: Rect,
    context: &RoomContext,
    actions: &mut Vec<PassageAction>,
) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let title = "Choose a passage";
    let foot = area.top() + 0.7 * sizes.big_word;
    let font = theme.figure_font(sizes.big_word);
    let font = pen::fitting(ui.painter(), title, font, area.width());
    pen::write(ui.painter(), pos2(area.left(), foot), title, font, theme.ink);
    let list = area.with_min_y(foot + 0.3 * sizes.big_word + sizes.between);
    let passages = context.room.passages();
    let mut inner = ui.new_child(UiBuilder::new().max_rect(list));
    inner.spacing_mut().item_spacing = vec2(0.0, 0.0);
    // That there is more below must be seen.
    inner.spacing_mut().scroll.floating = false;
    inner.spacing_mut().scroll.bar_width = 0.5 * sizes.caption;
    ScrollArea::vertical().id_salt("passages").auto_shrink(false).show(&mut inner, |ui| {
        tell_scrolled(ui);
        for (number, listed) in passages.iter().enumerate() {
            let captions = if listed.passage.is_ok() { CAPTIONS } else { TROUBLE };
            let high = WORDS * sizes.word + captions * sizes.caption + sizes.between;
            let size = vec2(ui.available_width(), high);
            let (place, response) = ui.allocate_exact_size(size, Sense::click());
            row_ui(ui, place, &response, number, context);
            if response.clicked() {
                actions.push(PassageAction::Choose(number));
            }
        }
    });
}

fn row_ui(ui: &Ui, place: Rect, response: &Response, number: usize, context: &RoomContext) {
    let theme = context.theme;
    let sizes = &theme.sizes;
    let listed = &context.room.passages()[number];
    let here = number == context.room.cursor();
    let (title, about, trouble) = match &listed.passage {
        Ok(passage) => (passage.title.clone(), wording::about(passage), false),
        Err(words) => (format!("{} cannot be used", listed.name), figure::sentence(words), true),
    };
    response.widget_info(|| {
        let said = format!("passage {title}: {about}");
        let mut info = WidgetInfo::labeled(Role::Button, !trouble, said);
        info.selected = Some(here);
        info
    });
    if here {
        follow(ui, place, number);
    }
    if !ui.is_rect_visible(place) {
        return;
    }
    let painter = ui.painter_at(place);
    if here || response.hovered() {
        painter.rect_filled(place, 3.0, theme.patch);
    }
    if here {
        let bar = Rect::from_min_size(place.min, vec2(2.0 * sizes.value, place.height()));
        painter.rect_filled(bar, 0.0, theme.ink);
    } else {
        painter.hline(place.x_range(), place.bottom() - 0.5, theme.hairline_stroke());
    }
    if response.has_focus() {
        let edge = Stroke::new(sizes.value, theme.ink);
        painter.rect_stroke(place, 3.0, edge, StrokeKind::Inside);
    }
    let inner = place.shrink2(vec2(1.3 * sizes.between, 0.5 * sizes.between));
    let font = pen::fitting(&painter, &title, theme.word_font(sizes.word), inner.width());
    let foot = inner.top() + 0.95 * sizes.word;
    let ink = if trouble { theme.attention } else { theme.ink };
    pen::write(&painter, pos2(inner.left(), foot), &title, font, ink);
    let below = inner.with_min_y(foot + 0.35 * sizes.caption);
    let font = theme.word_font(sizes.caption);
    let ink = if trouble { theme.ink } else { theme.soft_ink };
    pen::write_lines(&painter, below, &about, font, 0.7 * sizes.scale, ink);
}

/// Brings the row that is pointed at into sight once it is another one, or the room for it is; at once,
/// since nothing glides.
fn follow(ui: &Ui, place: Rect, number: usize) {
    let id = Id::unique("passage pointed at");
    let now = (number, ui.clip_rect().size());
    if ui.data(|data| data.get_temp(id)) != Some(now) {
        ui.data_mut(|data| data.insert_temp(id, now));
        ui.scroll_to_rect_animation(place, None, ScrollAnimation::none());
    }
}
