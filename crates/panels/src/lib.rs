//! All that is drawn: theme, trace and gauges.
//!
//! Plain state ([`stand::Stand`]) changed in one place, and views that read it by reference. Starts
//! no thread, reads no clock, computes no music.

mod bar;
mod beat;
mod bow_line;
pub mod drill_room;
mod field;
mod figures;
mod foot;
mod gauge;
pub mod journal_room;
pub mod keys;
mod leaves;
pub mod lesson_room;
mod level_meter;
mod measures_strip;
mod note_head;
mod notice;
pub mod options;
mod oscillation_strip;
mod paging;
mod pen;
mod question;
pub mod report;
pub mod rooms;
mod sheet;
pub mod stand;
mod steadiness;
mod strip;
pub mod theme;
mod time_axis;
mod trace;
mod words;

pub use words::Source;
