//! The room "Lesson": a model is played, the student echoes it, both are laid over each other, and a task
//! goes home.
//!
//! State ([`LessonRoom`]) changed in one place, and a view that reads it.

mod buttons;
mod gauges;
mod keys;
mod overlay;
mod rows;
mod said;
mod state;
mod takes;
mod task_sheet;
mod view;

pub use state::{
    Laid, LessonAction, LessonOrder, LessonRoom, PitchPoint, Side, Standing, TaskDraft, Voice,
};
pub use takes::Takes;
pub use view::lesson_ui;
