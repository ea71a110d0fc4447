//! The room "Passage": what a phrase is to have of vibrato, note by note, and what it had.
//!
//! State ([`PassageRoom`]) changed in one place, and a view that reads it. A passage is chosen and gone through four times:
//! straight and slow, vibrated and slow, at tempo, without looking; and its plan is edited. What follows the player and what judges a pass stands
//! outside: the room is told.

mod action;
mod axis;
mod choose;
mod commands;
mod edit_commands;
mod editing;
mod excerpt;
mod head;
mod head_sheet;
mod opened;
mod pass;
mod plan_wording;
mod sheet;
mod state;
mod view;
mod wording;

pub use action::{
    Drag, Edited, Excerpt, PassageAction, PassageFile, PassageHeard, Phase, PlanAction, Score,
    ScorePart, Sounds,
};
pub(crate) use commands::ROWS;
pub(crate) use edit_commands::ROWS as EDIT_ROWS;
pub use opened::Opened;
pub use pass::Pass;
pub use state::{PassageRoom, Span};
pub use view::passage_ui;
pub use wording::{answer_said, found};

use crate::shell::Shell;
use crate::theme::Theme;

/// What a part of the room is drawn from.
#[derive(Clone, Copy)]
struct RoomContext<'a> {
    room: &'a PassageRoom,
    shell: &'a Shell,
    theme: &'a Theme,
}
