//! The room "Drill" as a player meets it: what is said, what keys and clicks do, how it looks. Without a
//! window system.

mod controls;
mod keyboard;
mod pictures;
mod play;
mod rounds;

#[path = "../scenes/mod.rs"]
#[allow(dead_code, reason = "scenes of the Stand are among them")]
mod scenes;

/// A window as a player may have it.
const WINDOW: egui::Vec2 = egui::vec2(1024.0, 640.0);
