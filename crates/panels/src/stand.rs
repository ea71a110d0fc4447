//! The room in which one plays and watches: state, update, view.

pub mod action;
pub mod calm;
pub mod layout;
pub mod picture;
pub mod state;
pub mod view;

pub use action::{Action, Device, Devices, Figures, Heard, Leaf, Take};
pub use calm::Calm;
pub use state::{From, Reference, Stand};
pub use view::stand_ui;
