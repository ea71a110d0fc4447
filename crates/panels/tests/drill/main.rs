//! The room "Drill" as a player meets it: what is said, what keys and clicks do, how it looks. Without a
//! window system.

mod controls;
mod keyboard;
mod pictures;
mod play;
mod rounds;

/// A window as a player may have it.
const WINDOW: egui::Vec2 = egui::vec2(1024.0, 640.0);
