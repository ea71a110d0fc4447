//! The Journal.

mod keyboard;
mod orders;
mod pictures;
mod places;
mod scene;
mod words;
