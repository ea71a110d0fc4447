//! All that is drawn: theme, trace and gauges.
//!
//! Plain state ([`stand::Stand`]) changed in one place, and views that read it by reference. Starts
//! no thread, reads no clock, computes no music.

pub mod commands;
pub mod drill_room;
pub mod journal_room;
pub mod lesson_room;
pub mod passage_room;
pub mod shell;
pub mod stand;
pub mod theme;
mod widgets;

pub use shell::keys;
pub use shell::source::Source;
pub use widgets::terms::{TERMS, Term};
