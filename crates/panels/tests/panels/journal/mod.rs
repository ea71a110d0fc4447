//! The Journal.

mod keyboard;
mod orders;
mod pictures;
mod scene;
mod words;
