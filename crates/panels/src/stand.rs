//! The room in which one plays and watches: state, update, view.

pub mod calm;
pub mod layout;
pub mod picture;
pub mod state;
pub mod view;

pub use calm::Calm;
pub use state::{Action, Device, Devices, Figures, From, Heard, Leaf, Reference, Stand, Take};
pub use view::stand_ui;
