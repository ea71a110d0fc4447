//! The room "Passage".

mod controls;
mod pictures;
mod places;
mod scene;
