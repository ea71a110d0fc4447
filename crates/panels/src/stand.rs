//! The room in which one plays and watches: state, update, view.

mod bar;
mod beat;
mod bow_line;
pub mod calm;
mod commands;
mod field;
pub mod layout;
mod level_meter;
mod measures_strip;
mod note_head;
mod oscillation_strip;
pub mod picture;
mod question;
pub mod state;
pub(crate) mod steadiness;
mod time_axis;
mod trace;
pub mod view;

pub use crate::shell::action::{Action, Command, Device, Devices, Figures, Heard, Leaf, Take};
pub use calm::Calm;
pub use commands::TASK;
pub(crate) use commands::{HOLD, QUESTION, ROWS};
pub use state::{From, Reference, Stand};
pub use view::stand_ui;
