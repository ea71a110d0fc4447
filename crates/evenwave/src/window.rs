//! The window.

use tuning::Naming;

use crate::listener::Listening;

/// Opens the window; `Err` says in words why it cannot be opened.
pub fn run(_: Listening, _: Naming) -> Result<(), String> {
    Err("this evenwave has no window yet".to_owned())
}
