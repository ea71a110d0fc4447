//! The Stand as a player meets it: what is said, what keys and clicks do, how it looks. Without a
//! window system.

mod controls;
mod heard;
mod keyboard;
mod leaves;
mod pictures;
mod question;
mod words;

#[path = "../scenes/mod.rs"]
#[allow(dead_code, reason = "the other rooms use some of it alone")]
mod scenes;

/// A window as a player may have it.
const WINDOW: egui::Vec2 = egui::vec2(900.0, 600.0);
