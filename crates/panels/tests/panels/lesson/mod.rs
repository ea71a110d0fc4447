//! The room "Lesson".

mod controls;
mod pictures;
mod scene;
