//! All that is drawn: theme, trace and gauges.
//!
//! Plain state ([`stand::Stand`]) changed in one place, and views that read it by reference. Starts
//! no thread, reads no clock, computes no music.

mod bar;
mod gauge;
pub mod keys;
mod leaves;
mod level_meter;
mod measures_strip;
mod note_head;
pub mod options;
mod pen;
mod question;
mod sheet;
pub mod stand;
pub mod theme;
mod trace;
mod words;

pub use words::Source;
