//! The room "Lesson": a model is played, the student echoes it, both are laid over each other, and a task
//! goes home.
//!
//! State ([`LessonRoom`]) changed in one place, and a view that reads it.

mod action;
mod aside;
mod commands;
mod gauges;
mod orders;
mod overlay;
mod rows;
mod state;
mod takes;
mod task_sheet;
mod view;
mod wording;

pub use action::{Laid, LessonAction, Side, Standing, TaskDraft, Voice};
pub(crate) use commands::ROWS;
pub use orders::{LessonOrder, Part, PitchPoint};
pub use state::LessonRoom;
pub use takes::Takes;
pub use view::lesson_ui;
