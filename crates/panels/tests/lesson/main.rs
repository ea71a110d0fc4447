//! The room "Lesson" as a player meets it: what keys and clicks do, what is said, how it looks. Without a
//! window system.

mod controls;
mod pictures;
mod scene;

#[path = "../scenes/mod.rs"]
#[allow(dead_code, reason = "scenes of the Stand are among them")]
mod scenes;
