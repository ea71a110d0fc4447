//! The room "Passage".

mod controls;
mod editing;
mod pictures;
mod places;
pub(crate) mod scene;
