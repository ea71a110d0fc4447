//! What the program is to do for the room.

use super::action::Side;
use crate::shell::report::ReportOf;
use crate::stand::{Command, Sought};
use coach::Task;
use tuning::{Hz, Secs};

/// The pitch at one instant of what is to be heard; times count from its start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PitchPoint {
    /// When.
    pub time: Secs,
    /// The pitch; `None` for silence.
    pub f0: Option<Hz>,
}

/// What is heard of the model or of an echo: its phrase and a little around it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Part {
    /// Whose it is.
    pub side: Side,
    /// Where the phrase begins on the ear's clock of that time.
    pub phrase: Secs,
    /// From this instant.
    pub from: Secs,
    /// To this one.
    pub to: Secs,
}

/// What the program is to do.
#[derive(Clone, Debug, PartialEq)]
pub enum LessonOrder {
    /// Play what was recorded of the model or of an echo.
    Play {
        /// What is heard.
        part: Part,
        /// What it is to be as loud as: the echo for the model, the model for an echo.
        beside: Option<Part>,
    },
    /// Play a plain tone that follows this pitch, so fast.
    PlayPitch {
        /// The pitch, in the order of time.
        course: Vec<PitchPoint>,
        /// 1 as it was played, 0.5 and 0.25 slower.
        speed: f64,
    },
    /// Stop playing.
    Stop,
    /// The takes from now on are the model (`true`) or echoes of the one before.
    TakesAre {
        /// The next take is the model.
        model: bool,
    },
    /// The take that holds the phrase that begins here is an echo of the model, or is none.
    TakeIs {
        /// Where the phrase begins on the ear's clock.
        phrase: Secs,
        /// It is an echo.
        echo: bool,
    },
    /// The take that holds the phrase that begins here is kept, though it did not sound bowed.
    KeepTake(Secs),
    /// Keep this task for the player, in place of the one before.
    Keep(Box<Task>),
    /// The task that stands is done with.
    Forget,
    /// The lesson is this student's from now on.
    Student(String),
    /// The models are this teacher's from now on.
    Teacher(String),
    /// The player looks for a file.
    Find(Sought),
    /// Write the student's task into this file.
    ExportTask(String),
    /// Take over the task in this file, for the student.
    ImportTask(String),
    /// A report of this is wanted.
    Report(ReportOf),
    /// Do what this command does in every room.
    Do(Command),
}
