//! The frame of the window: what is the same in every room.

pub mod action;
pub(crate) mod commands;
pub(crate) mod delays_shown;
pub mod keys;
pub mod manual;
pub(crate) mod notice;
pub mod options;
pub(crate) mod overlays;
pub mod place;
pub mod report;
pub mod room;
pub mod rooms;
pub(crate) mod row;
pub mod source;
pub mod state;

pub use state::Shell;
