//! The room "Lesson".

mod controls;
mod pictures;
mod places;
mod scene;
