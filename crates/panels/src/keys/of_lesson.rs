//! The commands of the room Lesson. A pedal of two keys runs a lesson: what is played is heard by itself, Page
//! Down goes on to a new model, Page Up plays model and echo in turn.

use super::{Does, Entry, Place, of};
use egui::Key;

/// What a key does in the room Lesson.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum LessonKey {
    /// What was played last was the model; before there is an echo, all again.
    WasModel,
    /// The next phrase is a model.
    NewModel,
    /// Take the last echo back.
    DropEcho,
    /// The next way of showing.
    Showing,
    /// The phrase as a whole, or one note of it.
    Whole,
    /// The other way of laying them over each other.
    Align,
    /// The note after, or before if `false`.
    Note(bool),
    /// The echo after, or before if `false`.
    Echo(bool),
    /// Model and echo in turn.
    Other,
    /// The pitch as a plain tone.
    Pitch,
    /// How fast that is.
    Speed,
    /// Quiet.
    Quiet,
    /// A report of the lesson.
    Report,
    /// Write a task.
    Task,
    /// Give it.
    Give,
    /// Leave off writing it.
    Leave,
}

const LESSON: &[Place] = &[Place::Lesson];
const TASK: &[Place] = &[Place::Task];

/// In the order they are listed.
pub const ENTRIES: [Entry; 18] = [
    of(
        LESSON,
        Does::Lesson(LessonKey::NewModel),
        "lesson-new-model",
        "next: a new model",
        &[Key::PageDown, Key::N],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::WasModel),
        "lesson-was-model",
        "what was played last was the model",
        &[Key::Enter],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::DropEcho),
        "lesson-drop-echo",
        "take the last echo back",
        &[Key::Backspace, Key::Delete],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Other),
        "lesson-other",
        "hear model and echo in turn",
        &[Key::PageUp, Key::Space, Key::A],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Pitch),
        "lesson-pitch",
        "hear the pitch as a plain tone",
        &[Key::P],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Speed),
        "lesson-speed",
        "at full, half or quarter speed",
        &[Key::W],
    ),
    of(LESSON, Does::Lesson(LessonKey::Quiet), "lesson-quiet", "stop the sound", &[Key::Q]),
    of(
        LESSON,
        Does::Lesson(LessonKey::Showing),
        "lesson-showing",
        "show live, after the note or after the echo",
        &[Key::V],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Whole),
        "lesson-whole",
        "a phrase as a whole, or one note of it",
        &[Key::Z],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Align),
        "lesson-align",
        "lay them over each other the other way",
        &[Key::C],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Note(true)),
        "lesson-note-after",
        "the note after",
        &[Key::ArrowRight],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Note(false)),
        "lesson-note-before",
        "the note before",
        &[Key::ArrowLeft],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Echo(true)),
        "lesson-echo-after",
        "the echo after",
        &[Key::ArrowDown],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Echo(false)),
        "lesson-echo-before",
        "the echo before",
        &[Key::ArrowUp],
    ),
    of(
        LESSON,
        Does::Lesson(LessonKey::Report),
        "lesson-report",
        "a report of the lesson",
        &[Key::X],
    ),
    of(LESSON, Does::Lesson(LessonKey::Task), "lesson-task", "write a task", &[Key::T]),
    of(TASK, Does::Lesson(LessonKey::Give), "lesson-give-task", "give the task", &[Key::Enter]),
    of(
        TASK,
        Does::Lesson(LessonKey::Leave),
        "lesson-leave-task",
        "back to the lesson without a task",
        &[Key::PageUp, Key::Escape],
    ),
];
