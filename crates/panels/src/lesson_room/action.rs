//! What the player can do in the room, and what the program tells it.

use super::takes::Takes;
use crate::drill_room::DrillFile;
use crate::shell::action::UseAs;
use crate::stand::{Command, Sought};
use coach::{Align, Outcome, Phrase, Task};

/// Whose playing it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The model.
    Model,
    /// The echo of this number, from 0.
    Echo(usize),
}

/// What is heard from the loudspeaker.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Voice {
    /// The recording of this.
    Sound(Side),
    /// A plain tone that follows its pitch, at this speed.
    Pitch(Side, f64),
}

/// The task that the last lesson ended with, and what became of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Standing {
    /// What was to be done.
    pub task: Task,
    /// The day it was given.
    pub given: String,
    /// What became of it.
    pub outcome: Outcome,
}

/// A task that is being written.
#[derive(Clone, Debug, PartialEq)]
pub struct TaskDraft {
    /// What is to be given.
    pub task: Task,
    /// The drill, where it is a passage for now.
    pub drill: String,
    /// The passage, where it is a drill for now.
    pub passage: String,
    /// Something was changed since the page was opened.
    pub changed: bool,
    /// The player wants to leave it, and is asked whether to give it.
    pub leaving: bool,
}

impl TaskDraft {
    /// This task, nothing changed yet.
    pub(super) fn of(task: Task) -> Self {
        let (drill, passage) = (String::new(), String::new());
        Self { task, drill, passage, changed: false, leaving: false }
    }
}

/// How model and echo are laid over each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Laid {
    /// The phrase as a whole, both from the first onset.
    Whole,
    /// The phrase as a whole, each answer at the onset of its note.
    NoteByNote,
    /// One note and its answer.
    Note(Align),
}

/// What the player did, or what the program tells.
#[derive(Clone, Debug, PartialEq)]
pub enum LessonAction {
    /// All is taken back: the next phrase becomes the model.
    NewModel,
    /// What was played last was the model.
    WasModel,
    /// The last echo is taken back.
    DropEcho,
    /// A phrase of a take that was kept before is the model, or an echo.
    Bring(UseAs, Box<Phrase>),
    /// What is unlike the model is an echo all the same, or is none.
    IsEcho(bool),
    /// The last phrase that did not sound bowed was meant.
    BringBack,
    /// Lay them over each other the other way.
    Align,
    /// Look at one note, or at the phrase as a whole again.
    Whole,
    /// Look at the note of this number, from 0, alone.
    Into(usize),
    /// Look at so many notes further on in the phrase, back if negative.
    Note(i32),
    /// Look at so many echoes later, earlier if negative.
    Echo(i32),
    /// Hear this recording.
    Hear(Side),
    /// Hear the other one of model and echo.
    Other,
    /// Hear the pitch of what was heard or played last.
    HearPitch,
    /// The next speed of hearing the pitch.
    Speed,
    /// Nothing is to be heard any more.
    Quiet,
    /// The loudspeaker has come to the end.
    Played,
    /// Write a task, or leave off doing so.
    Task,
    /// The task is to be this.
    Draft(Box<TaskDraft>),
    /// Give the task.
    Give,
    /// The task that stands is done with.
    Done,
    /// A report of the lesson is wanted.
    Report,
    /// These are the takes of the model and of its echoes that were kept.
    Taken(Takes),
    /// The drills there are; those that can be used can be sent home.
    Drills(Vec<DrillFile>),
    /// All players there are.
    Players(Vec<String>),
    /// The lesson is this student's.
    Student(String),
    /// The models are this teacher's.
    Teacher(String),
    /// The file in which a task is handed over.
    TaskFile(String),
    /// Choose that file in the system's own dialog.
    Find(Sought),
    /// Write the student's task into that file.
    ExportTask,
    /// Take over the task in that file.
    ImportTask,
    /// The task that stands, and what became of it.
    Standing(Option<Box<Standing>>),
    /// Another source begins: what is being played is no phrase.
    Anew,
    /// What the program has to say, such as a recording that cannot be heard.
    Word(String),
    /// A key or button that is the same in every room.
    Do(Command),
}
