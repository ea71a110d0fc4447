//! The frame of the window: what is the same in every room.

pub mod action;
pub(crate) mod commands;
pub(crate) mod delays_shown;
pub(crate) mod notice;
pub mod options;
pub mod report;
pub mod rooms;
pub(crate) mod row;
pub(crate) mod sheets;
pub(crate) mod words;
