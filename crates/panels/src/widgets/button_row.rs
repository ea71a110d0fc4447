//! The row of buttons at the foot of a room, each with the key that does the same: what one needs now, and the rest
//! behind "more".

use crate::theme::Theme;
use crate::widgets::pen;
use egui::{
    FontId, Id, Painter, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2,
};

/// Height of a button, as a share of the type size of captions.
const BUTTON: f32 = 2.0;
/// Room at both sides of what stands in a button, between that and its key, and between buttons, as
/// shares of the type size.
const PAD: f32 = 0.6;
const APART: f32 = 0.5;
const BETWEEN: f32 = 0.4;
/// The mark that says on or off, as a share of the type size.
const MARK: f32 = 0.62;
/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;
/// How round the corners of a button are.
const ROUND: f32 = 3.0;
/// No more buttons than this are shown at once, "more" among them.
const MOST: usize = 7;
/// The type shrinks a little before fewer than this are shown.
const FEW: usize = 5;
/// Where the buttons would take more than this share of the height, their type grows by less than is wanted.
const SHARE: f32 = 0.16;

/// What a button shows, and what a screen reader calls it.
pub struct Label {
    pub(crate) text: String,
    longest: &'static str,
    pub(crate) name: String,
    pub(crate) on: Option<bool>,
    first: bool,
}

impl Label {
    /// What stands in it, which is what it is called, too.
    pub fn new(text: impl Into<String>) -> Self {
        let text = text.into();
        Self { longest: "", name: text.clone(), text, on: None, first: false }
    }

    /// What a screen reader calls it, if not by what stands in it.
    pub fn named(self, name: impl Into<String>) -> Self {
        let name = name.into();
        Self { name, ..self }
    }

    /// The longest that may stand in it, so that nothing moves when it changes.
    pub fn longest(self, longest: &'static str) -> Self {
        Self { longest, ..self }
    }

    /// It is a switch, on or off.
    pub fn switch(self, on: bool) -> Self {
        Self { on: Some(on), ..self }
    }

    /// The one that goes on.
    pub fn first(self) -> Self {
        Self { first: true, ..self }
    }
}

/// One button.
pub(crate) struct Button<A> {
    /// What it shows.
    pub label: Label,
    /// The key that does the same; empty for none.
    pub key: &'static str,
    /// What it asks for; `None` where it cannot be pressed now.
    pub action: Option<A>,
}

impl<A> Button<A> {
    fn width(&self, painter: &Painter, size: f32, theme: &Theme) -> f32 {
        let font = theme.word_font(size);
        let text = pen::width(painter, &self.label.text, font.clone());
        let longest = pen::width(painter, self.label.longest, font);
        let key = pen::width(painter, self.key, theme.word_font(KEY * size));
        let mark = if self.label.on.is_some() { MARK + APART } else { 0.0 };
        let apart = if self.key.is_empty() { 0.0 } else { APART };
        text.max(longest) + key + (2.0 * PAD + apart + mark) * size
    }
}

/// How high the buttons are in a room of this height.
pub(crate) fn height(high: f32, theme: &Theme) -> f32 {
    let wanted = BUTTON * theme.sizes.caption;
    wanted.min((SHARE * high).max(BUTTON * theme.least_caption()))
}

/// Takes the buttons' room off the foot of `inner`: what is left above it, and that room.
pub(crate) fn under(inner: Rect, theme: &Theme) -> (Rect, Rect) {
    let foot = inner.bottom() - height(inner.height(), theme);
    let (above, foot) = inner.split_top_bottom_at_y(foot);
    (above.with_max_y(above.bottom() - theme.sizes.between), foot)
}

/// Draws the buttons of a room into `area` and says what was asked for. Where not all have room, "more" shows the
/// next of them.
pub(crate) fn button_row_ui<A: Clone>(
    ui: &mut Ui,
    area: Rect,
    room: &str,
    buttons: &[Button<A>],
    theme: &Theme,
) -> Vec<A> {
    let id = Id::unique(("foot", room));
    let (size, pages) = fitting(ui.painter(), buttons, area, theme);
    let turned = ui.data(|data| data.get_temp::<usize>(id)).unwrap_or_default();
    let here = turned % pages.len().max(1);
    let before: usize = pages[..here].iter().sum();
    let shown = &buttons[before..before + pages.get(here).copied().unwrap_or_default()];
    let mut left = area.left();
    let mut next = |width: f32| {
        let place = Rect::from_min_size(pos2(left, area.top()), vec2(width, area.height()));
        left = place.right() + BETWEEN * size;
        place
    };
    let mut actions = Vec::new();
    for (number, button) in shown.iter().enumerate() {
        let place = next(button.width(ui.painter(), size, theme));
        // The focus stays with the key where other buttons come and go.
        let place_of_none = if button.key.is_empty() { before + number } else { 0 };
        let id = Id::unique(("foot", room, button.key, place_of_none));
        if button_ui(ui, place, id, button, size, theme) {
            actions.extend(button.action.clone());
        }
    }
    if pages.len() > 1 {
        let more = more();
        let place = next(more.width(ui.painter(), size, theme));
        if button_ui(ui, place, Id::unique(("more", room)), &more, size, theme) {
            ui.data_mut(|data| data.insert_temp(id, here + 1));
            ui.ctx().request_repaint();
        }
    }
    actions
}

/// The button behind which the rest is.
fn more() -> Button<()> {
    Button { label: Label::new("more"), key: "", action: Some(()) }
}

/// The largest type in which at least a few buttons stand beside each other, and how many of them stand on each page.
fn fitting<A>(
    painter: &Painter,
    buttons: &[Button<A>],
    area: Rect,
    theme: &Theme,
) -> (f32, Vec<usize>) {
    let mut size = theme.sizes.caption.min(area.height() / BUTTON);
    loop {
        let widths: Vec<f32> =
            buttons.iter().map(|button| button.width(painter, size, theme)).collect();
        let more = more().width(painter, size, theme);
        let pages = pages(&widths, more, area.width(), BETWEEN * size);
        let first = pages.first().copied().unwrap_or_default();
        if pages.len() < 2 || first + 1 >= FEW || size <= theme.least_caption() {
            return (size, pages);
        }
        size -= 0.5;
    }
}

/// How many of the buttons of these widths stand on each page, beside "more" if there are several pages.
fn pages(widths: &[f32], more: f32, room: f32, between: f32) -> Vec<usize> {
    let whole = widths.iter().sum::<f32>() + between * widths.len().saturating_sub(1) as f32;
    if widths.len() <= MOST && whole <= room {
        return if widths.is_empty() { Vec::new() } else { vec![widths.len()] };
    }
    let mut pages = vec![0];
    let mut right = more;
    for &width in widths {
        let last = pages.len() - 1;
        if pages[last] > 0 && (pages[last] + 2 > MOST || right + between + width > room) {
            pages.push(0);
            right = more;
        }
        right += between + width;
        let last = pages.len() - 1;
        pages[last] += 1;
    }
    pages
}

/// One button; whether it was pressed.
fn button_ui<A>(
    ui: &mut Ui,
    place: Rect,
    id: Id,
    button: &Button<A>,
    size: f32,
    theme: &Theme,
) -> bool {
    let label = &button.label;
    let response = ui.interact(place, id, Sense::click());
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Button, true, &label.name);
        info.selected = label.on;
        info
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(button.key);
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        if label.first || response.hovered() {
            painter.rect_filled(place, ROUND, theme.patch);
        }
        let edge = match (response.has_focus(), label.first) {
            (true, _) => Stroke::new(theme.sizes.value, theme.ink),
            (false, true) => Stroke::new(theme.sizes.rule, theme.ink),
            (false, false) => theme.hairline_stroke(),
        };
        painter.rect_stroke(place, ROUND, edge, StrokeKind::Inside);
        write(painter, place, button, theme.word_font(size), theme);
    }
    response.clicked()
}

/// The mark, the words, and the key.
fn write<A>(painter: &Painter, place: Rect, button: &Button<A>, font: FontId, theme: &Theme) {
    let size = font.size;
    let label = &button.label;
    let ink = if label.on == Some(false) { theme.soft_ink } else { theme.ink };
    let foot = place.center().y + 0.35 * size;
    let mut left = place.left() + PAD * size;
    if let Some(on) = label.on {
        let radius = MARK * size / 2.0;
        let centre = pos2(left + radius, place.center().y);
        painter.circle_stroke(centre, radius - 1.0, Stroke::new(theme.sizes.rule, ink));
        if on {
            painter.circle_filled(centre, radius - 1.0, ink);
        }
        left += (MARK + APART) * size;
    }
    pen::write(painter, pos2(left, foot), &label.text, font, ink);
    let font = theme.word_font(KEY * size);
    let width = pen::width(painter, button.key, font.clone());
    let right = place.right() - PAD * size;
    pen::write(painter, pos2(right - width, foot), button.key, font, theme.soft_ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_page_holds_no_more_than_seven_buttons_and_none_is_lost() {
        assert_eq!(pages(&[], 60.0, 400.0, 10.0), [0_usize; 0]);
        assert_eq!(pages(&[100.0, 80.0, 60.0, 90.0], 60.0, 400.0, 10.0), [4]);
        // With "more" beside them they end within the row.
        assert_eq!(pages(&[100.0, 80.0, 60.0, 90.0], 60.0, 300.0, 10.0), [2, 2]);
        assert_eq!(pages(&[500.0, 80.0], 60.0, 300.0, 10.0), [1, 1]);
        assert_eq!(pages(&[10.0; 7], 60.0, 2000.0, 10.0), [7]);
        assert_eq!(pages(&[10.0; 8], 60.0, 2000.0, 10.0), [6, 2]);
        for count in 1..30 {
            let pages = pages(&vec![110.0; count], 60.0, 600.0, 10.0);
            assert_eq!(pages.iter().sum::<usize>(), count);
            assert!(pages.iter().all(|&page| 0 < page && page < MOST), "{pages:?}");
        }
    }
}
