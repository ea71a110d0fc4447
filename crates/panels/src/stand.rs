//! The room in which one plays and watches: state, update, view.

mod advice;
mod bar;
mod beat;
mod bow_line;
mod commands;
mod field;
mod foot;
pub(crate) mod gauges;
mod instrument;
pub mod layout;
mod measures;
mod note_head;
mod oscillation_strip;
pub mod picture;
mod question;
pub mod spoken_summary;
pub mod state;
pub(crate) mod steadiness;
mod time_axis;
mod trace;
mod update;
pub mod view;
mod words;

pub use crate::shell::action::{
    About, Action, Command, Device, Devices, Figures, Heard, Overlay, Sought, Take,
};
pub use commands::TASK;
pub(crate) use commands::{HOLD, QUESTION, ROWS};
pub use spoken_summary::SpokenSummary;
pub use state::{From, Reference, Stand};
pub use view::stand_ui;
