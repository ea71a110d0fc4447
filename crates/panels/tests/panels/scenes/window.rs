//! A window without a window system: it draws a room and does what the room asks for.

use egui::{Key, Ui, UiBuilder, Vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use panels::stand::Stand;
use panels::theme;

/// What a window shows.
pub(crate) trait Shown: Sized + 'static {
    /// Draws it over `ui` and does what it asks for.
    fn draw(&mut self, ui: &mut Ui);

    /// The Stand that listens, whatever room is shown.
    fn stand(&mut self) -> &mut Stand;

    /// What is done before a picture is taken of it.
    fn settle(_harness: &mut Harness<'static, Self>) {}
}

/// A window of this size.
pub(crate) fn harness<S: Shown>(shown: S, size: Vec2) -> Harness<'static, S> {
    harness_at(shown, size, 1.0)
}

/// The same with so many pixels to a point.
pub(crate) fn harness_at<S: Shown>(shown: S, size: Vec2, pixels: f32) -> Harness<'static, S> {
    let mut harness = Harness::builder()
        .with_size(size)
        .with_pixels_per_point(pixels)
        .with_context_setup(theme::dress)
        .build_ui_state(
            |ui, shown: &mut S| {
                // All of the window, without the margin that the harness leaves.
                let whole = ui.ctx().content_rect();
                let mut ui = ui.new_child(UiBuilder::new().max_rect(whole));
                ui.set_clip_rect(whole);
                shown.draw(&mut ui);
            },
            shown,
        );
    harness.run();
    harness
}

/// Presses a key and lets the window answer.
pub(crate) fn press<S>(harness: &mut Harness<'_, S>, key: Key) {
    harness.key_press(key);
    harness.run();
}

/// Brings the button of this name to the foot of the room: it may stand behind "more".
pub(crate) fn reach<S>(harness: &mut Harness<'_, S>, name: &str) {
    const MOST: usize = 12;
    for _ in 0..MOST {
        if harness.query_by_label(name).is_some() || harness.query_by_label("more").is_none() {
            return;
        }
        harness.get_by_label("more").click();
        harness.run();
    }
}

/// Clicks what a screen reader calls by this name.
pub(crate) fn click<S>(harness: &mut Harness<'_, S>, name: &str) {
    reach(harness, name);
    harness.get_by_label(name).click();
    harness.run();
}

/// Writes where the focus is.
pub(crate) fn write<S>(harness: &mut Harness<'_, S>, words: &str) {
    harness.event(egui::Event::Text(words.to_owned()));
    harness.run();
}
