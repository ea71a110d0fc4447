//! A list from which one is chosen, and a row of it: its ground, and a title with what is said under it.

use crate::theme::Theme;
use crate::widgets::paging::tell_scrolled;
use crate::widgets::pen;
use egui::style::ScrollAnimation;
use egui::{
    Id, Painter, Rect, Response, ScrollArea, Stroke, StrokeKind, Ui, UiBuilder, pos2, vec2,
};

/// Draws the list `id` into `area`; `rows` draws what stands in it.
pub(crate) fn list(
    ui: &mut Ui,
    area: Rect,
    id: &'static str,
    theme: &Theme,
    rows: impl FnOnce(&mut Ui),
) {
    let mut inner = ui.new_child(UiBuilder::new().max_rect(area));
    inner.spacing_mut().item_spacing = vec2(0.0, 0.0);
    // That there is more below must be seen.
    inner.spacing_mut().scroll.floating = false;
    inner.spacing_mut().scroll.bar_width = 0.5 * theme.sizes.caption;
    ScrollArea::vertical().id_salt(id).auto_shrink(false).show(&mut inner, |ui| {
        tell_scrolled(ui);
        rows(ui);
    });
}

/// Draws the ground of a row; `here` is its number if it is the one pointed at, which is brought into sight in the list `id`.
/// Gives what is painted on, and the place for words; `None` where the row is out of sight.
pub(crate) fn ground(
    ui: &Ui,
    (place, response): (Rect, &Response),
    id: &'static str,
    here: Option<usize>,
    theme: &Theme,
) -> Option<(Painter, Rect)> {
    let sizes = &theme.sizes;
    if let Some(number) = here {
        follow(ui, place, id, number);
    }
    if !ui.is_rect_visible(place) {
        return None;
    }
    let painter = ui.painter_at(place);
    if here.is_some() {
        painter.rect_filled(place, 3.0, theme.patch);
    } else if response.hovered() {
        painter.rect_stroke(place, 3.0, theme.rule_stroke(), StrokeKind::Inside);
    }
    if here.is_some() {
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
    Some((painter, inner))
}

/// Writes a title at the head of `text` and what is said of it below; `trouble` is what cannot be used.
pub(crate) fn words(
    painter: &Painter,
    text: Rect,
    (title, about): (&str, &str),
    trouble: bool,
    theme: &Theme,
) {
    let sizes = &theme.sizes;
    let (ink, below_ink) =
        if trouble { (theme.attention, theme.ink) } else { (theme.ink, theme.soft_ink) };
    let font = pen::fitting(painter, title, theme.word_font(sizes.word), text.width());
    let foot = text.top() + 0.95 * sizes.word;
    pen::write(painter, pos2(text.left(), foot), title, font, ink);
    let below = text.with_min_y(foot + 0.35 * sizes.caption);
    let font = theme.word_font(sizes.caption);
    pen::write_lines(painter, below, about, font, 0.7 * sizes.scale, below_ink);
}

/// Brings the row that is pointed at into sight once it is another one, or the room for it is; at once,
/// since nothing glides.
fn follow(ui: &Ui, place: Rect, id: &'static str, number: usize) {
    let id = Id::unique(id);
    let now = (number, ui.clip_rect().size());
    if ui.data(|data| data.get_temp(id)) != Some(now) {
        ui.data_mut(|data| data.insert_temp(id, now));
        ui.scroll_to_rect_animation(place, None, ScrollAnimation::none());
    }
}
