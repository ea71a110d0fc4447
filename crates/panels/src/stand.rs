//! The room in which one plays and watches: state, update, view.

pub mod layout;
pub mod picture;
pub mod state;
pub mod view;

pub use state::{Action, Heard, Stand};
pub use view::stand_ui;
