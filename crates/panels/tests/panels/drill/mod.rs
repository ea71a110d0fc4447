//! The room "Drill".

mod controls;
mod keyboard;
mod pictures;
mod places;
pub(crate) mod play;
mod rounds;

/// A window as a player may have it.
const WINDOW: egui::Vec2 = egui::vec2(1024.0, 640.0);
