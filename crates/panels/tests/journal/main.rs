//! The Journal as a player meets it: what is said, what keys and clicks do, how it looks. Without a window system.

mod keyboard;
mod orders;
mod pictures;
mod scene;
mod words;

#[path = "../scenes/mod.rs"]
#[allow(dead_code, reason = "scenes of the Stand are among them")]
mod scenes;
