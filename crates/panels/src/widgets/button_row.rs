//! The row of buttons at the foot of a room, each with the key that does the same.

use crate::theme::Theme;
use crate::widgets::pen;
use egui::{
    FontId, Id, Painter, Rect, Role, Sense, Stroke, StrokeKind, Ui, Vec2, WidgetInfo, pos2, vec2,
};

/// Height of a button, as a share of the type size of captions.
const BUTTON: f32 = 2.0;
/// Room at both sides of what stands in a button, between that and its key, and between buttons, as
/// shares of the type size.
const PAD: f32 = 0.32;
const APART: f32 = 0.3;
const BETWEEN: f32 = 0.3;
/// The mark that says on or off, as a share of the type size.
const MARK: f32 = 0.62;
/// A button may grow by so much where there is room to spare, as a share of the type size.
const GROWS: f32 = 1.4;
/// Size of the key's name, as a share of the type size.
const KEY: f32 = 0.8;
/// How wide a letter of what stands in buttons is on average, as a share of the type size; the test of the Stand's
/// buttons holds it.
const LETTER: f32 = 0.45;
/// How round the corners of a button are.
const ROUND: f32 = 3.0;
/// There are never more rows than this.
const MOST_ROWS: usize = 3;
/// Where the buttons would take more than this share of the height, their type grows by less than is
/// wanted, but by no less than this share of it.
const SHARE: f32 = 0.16;
const LEAST: f32 = 0.75;

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
    /// How wide it is at most, as a share of the type size: by its letters, where nothing is drawn yet that could be
    /// measured.
    pub(crate) fn most_width(&self) -> f32 {
        let letters = |text: &str| text.chars().count() as f32;
        let text = letters(&self.label.text).max(letters(self.label.longest));
        LETTER * (text + 1.0 + letters(self.key)) + around(self.label.on.is_some())
    }

    fn width(&self, painter: &Painter, size: f32, theme: &Theme) -> f32 {
        let font = theme.word_font(size);
        let text = pen::width(painter, &self.label.text, font.clone());
        let longest = pen::width(painter, self.label.longest, font);
        let key = pen::width(painter, self.key, theme.word_font(KEY * size));
        text.max(longest) + key + around(self.label.on.is_some()) * size
    }
}

/// What a button needs beside its words and its key, as a share of the type size.
fn around(marked: bool) -> f32 {
    let mark = if marked { MARK + APART } else { 0.0 };
    2.0 * (PAD + APART) + mark
}

/// What the buttons are drawn with in a room of this inner size, where `height` is how high they are in a
/// theme.
pub(crate) fn theme_in(inner: Vec2, theme: &Theme, height: impl Fn(&Theme) -> f32) -> Theme {
    const SMALLER: f32 = 0.05;
    let least = (LEAST * theme.sizes.grown.text).max(1.0);
    let mut smaller = theme.clone();
    while smaller.sizes.grown.text > least && height(&smaller) > SHARE * inner.y {
        smaller = smaller.with_text((smaller.sizes.grown.text - SMALLER).max(least));
    }
    smaller
}

/// Takes the buttons' room off the foot of `inner`: what is left above it, that room, and what they are drawn
/// with.
pub(crate) fn under<A>(
    painter: &Painter,
    inner: Rect,
    buttons: &[Button<A>],
    theme: &Theme,
) -> (Rect, Rect, Theme) {
    let height = |theme: &Theme| height(painter, inner.width(), buttons, theme);
    let drawn = theme_in(inner.size(), theme, height);
    let (above, foot) = inner.split_top_bottom_at_y(inner.bottom() - height(&drawn));
    let above = above.with_max_y(above.bottom() - theme.sizes.between);
    (above, foot, drawn)
}

/// How high the buttons are in a room of this inner width.
pub(crate) fn height<A>(
    painter: &Painter,
    width: f32,
    buttons: &[Button<A>],
    theme: &Theme,
) -> f32 {
    let size = theme.sizes.caption;
    let each = buttons.iter().map(|button| button.width(painter, size, theme));
    height_of(&each.collect::<Vec<_>>(), width, theme)
}

/// How high buttons are that are so wide in the type of captions: one row, or more if they need it.
pub(crate) fn height_of(widths: &[f32], width: f32, theme: &Theme) -> f32 {
    let size = theme.sizes.caption;
    // The type may shrink a little before a row is broken.
    let shrunk = theme.sizes.scale.min(size) / size;
    let rows = (1..MOST_ROWS)
        .find(|&rows| fits(widths, rows, width / shrunk, BETWEEN * size))
        .unwrap_or(MOST_ROWS);
    rows_height(rows, size)
}

fn rows_height(rows: usize, size: f32) -> f32 {
    rows as f32 * BUTTON * size + (rows - 1) as f32 * BETWEEN * size
}

/// Draws the buttons of a room into `area`, the last `at_right` of them at its right end, and says what was
/// asked for.
pub(crate) fn button_row_ui<A: Clone>(
    ui: &mut Ui,
    area: Rect,
    room: &str,
    buttons: &[Button<A>],
    at_right: usize,
    theme: &Theme,
) -> Vec<A> {
    let height = BUTTON * theme.sizes.caption;
    let (size, widths, rows) = fitting(ui.painter(), buttons, area.size(), theme);
    let places = places(area, &widths, rows, (size, height), at_right);
    let mut actions = Vec::new();
    for (number, (button, place)) in buttons.iter().zip(places).enumerate() {
        // The focus stays with the key where other buttons come and go.
        let place_of_none = if button.key.is_empty() { number } else { 0 };
        let id = Id::unique(("foot", room, button.key, place_of_none));
        if button_ui(ui, place, id, button, size, theme) {
            actions.extend(button.action.clone());
        }
    }
    actions
}

/// The largest type in which the buttons fit into as many rows as have room, their widths in it, and how
/// many rows these are.
fn fitting<A>(
    painter: &Painter,
    buttons: &[Button<A>],
    room: Vec2,
    theme: &Theme,
) -> (f32, Vec<f32>, usize) {
    let mut size = theme.sizes.caption;
    let rows = (1..MOST_ROWS)
        .find(|&rows| rows_height(rows + 1, size) > room.y + 1.0)
        .unwrap_or(MOST_ROWS);
    loop {
        let widths: Vec<f32> =
            buttons.iter().map(|button| button.width(painter, size, theme)).collect();
        if fits(&widths, rows, room.x, BETWEEN * size) || size <= 0.7 * theme.sizes.scale {
            return (size, widths, rows);
        }
        size -= 0.5;
    }
}

/// Whether pieces of these widths can be laid out in so many rows.
fn fits(widths: &[f32], rows: usize, room: f32, between: f32) -> bool {
    broken(widths, room, between).len() <= rows
}

/// How many pieces stand in each row.
fn broken(widths: &[f32], room: f32, between: f32) -> Vec<usize> {
    let mut rows = vec![0];
    let mut right = 0.0;
    for &width in widths {
        if right > 0.0 && right + width > room {
            rows.push(0);
            right = 0.0;
        }
        right += width + between;
        if let Some(last) = rows.last_mut() {
            *last += 1;
        }
    }
    rows
}

/// Where each button lies: from the left, some at the right end of the last row.
fn places(
    area: Rect,
    widths: &[f32],
    rows: usize,
    (size, height): (f32, f32),
    at_right: usize,
) -> Vec<Rect> {
    let between = BETWEEN * size;
    // The narrowest room in which they still take no more rows: so the rows are about equally long.
    let mut room = area.width();
    while rows > 1 && room > size && fits(widths, rows, room - size, between) {
        room -= size;
    }
    let mut places = Vec::with_capacity(widths.len());
    let mut top = area.top();
    let mut from = 0;
    let rows = broken(widths, room, between);
    for (row, &count) in rows.iter().enumerate() {
        let widths = &widths[from..from + count];
        let used = widths.iter().sum::<f32>() + between * (count.max(1) - 1) as f32;
        let spare = (area.width() - used).max(0.0);
        // Several rows end where the window does; a single one is not drawn out.
        let most = if rows.len() > 1 { spare } else { GROWS * size };
        let each = (spare / count.max(1) as f32).min(most);
        let last = row + 1 == rows.len();
        let mut left = area.left();
        for (index, width) in widths.iter().enumerate() {
            if last && count > at_right && index == count - at_right {
                left += spare - each * count as f32;
            }
            let place = Rect::from_min_size(pos2(left, top), vec2(width + each, height));
            left = place.right() + between;
            places.push(place);
        }
        from += count;
        top += height + between;
    }
    places
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
    let (label, enabled) = (&button.label, button.action.is_some());
    let sense = if enabled { Sense::click() } else { Sense::hover() };
    let response = ui.interact(place, id, sense);
    response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::Button, enabled, &label.name);
        info.selected = label.on;
        info
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.set_keyboard_shortcut(button.key);
    });
    if ui.is_rect_visible(place) {
        let painter = ui.painter();
        let hovered = response.hovered() && enabled;
        if label.first || hovered {
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
    let (label, enabled) = (&button.label, button.action.is_some());
    let ink = match (enabled, label.on) {
        (false, _) => theme.faded(theme.soft_ink, 0.6),
        (true, Some(false)) => theme.soft_ink,
        (true, _) => theme.ink,
    };
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
    let ink = if enabled { theme.soft_ink } else { ink };
    pen::write(painter, pos2(right - width, foot), button.key, font, ink);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_hold_what_fits_and_lose_nothing() {
        let widths = [100.0, 80.0, 60.0, 90.0];
        assert_eq!(broken(&widths, 400.0, 10.0), [4]);
        assert_eq!(broken(&widths, 260.0, 10.0), [3, 1]);
        assert_eq!(broken(&widths, 50.0, 10.0), [1, 1, 1, 1]);
    }

    #[test]
    fn no_button_lies_over_another_or_beyond_the_row() {
        let widths = [150.0, 100.0, 110.0, 120.0, 90.0, 70.0, 60.0, 80.0, 100.0, 70.0];
        for (room, rows) in [(2524.0, 1), (988.0, 1), (604.0, 2), (420.0, 3)] {
            for at_right in [0, 3] {
                let size = vec2(room, rows_height(rows, 18.0));
                let area = Rect::from_min_size(pos2(18.0, 900.0), size);
                let places = places(area, &widths, rows, (10.0, 36.0), at_right);
                assert_eq!(places.len(), widths.len());
                for (i, place) in places.iter().enumerate() {
                    assert!(area.expand(0.01).contains_rect(*place), "{room}: {i} {place}");
                    assert!(place.width() >= widths[i] - 0.01);
                    for other in &places[i + 1..] {
                        let over = place.intersect(*other);
                        assert!(over.width() <= 0.01 || over.height() <= 0.01, "{room}: {i}");
                    }
                }
            }
        }
    }
}
