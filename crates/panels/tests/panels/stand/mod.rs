//! The Stand.

mod controls;
mod heard;
mod keyboard;
mod overlays;
mod pictures;
mod places;
mod question;
mod words;

/// A window as a player may have it.
const WINDOW: egui::Vec2 = egui::vec2(900.0, 600.0);
