//! The room "Lesson" as a player meets it: what keys and clicks do, what is said, how it looks. Without a
//! window system.

mod controls;
mod pictures;
mod scene;
