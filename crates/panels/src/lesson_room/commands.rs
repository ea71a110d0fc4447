//! The commands of the room. A pedal of two keys runs a lesson: what is played is heard by itself, Page Down goes
//! on to a new model, Page Up plays model and echo in turn.

use super::action::{Laid, LessonAction};
use super::aside::BRING_BACK;
use super::state::LessonRoom;
use super::wording;
use crate::shell::action::Command;
use crate::shell::keys::Scope;
use crate::shell::row::Row;
use crate::widgets::button_row::Label;
use coach::Align;
use egui::Key;

type LessonRow = Row<LessonRoom, LessonAction>;

const LESSON: &[Scope] = &[Scope::Lesson];
const DOUBTFUL: &[Scope] = &[Scope::Doubtful];
const TASK: &[Scope] = &[Scope::Task];

/// In the order they are listed, and their buttons stand. Without a model there is nothing to hear, to lay over
/// another or to report, and no button for it.
pub(crate) static ROWS: [LessonRow; 21] = [
    LessonRow::new(
        "lesson-was-model",
        LESSON,
        &[Key::Enter],
        "what was played last was the model",
        |room, _| {
            // Before there is an echo, all again.
            Some(if has_echo(room) { LessonAction::WasModel } else { LessonAction::NewModel })
        },
    )
    .button(|room, _| {
        let use_it = || Label::new("use as model").named("what was played last was the model");
        has_model(room)?;
        Some(if has_echo(room) { use_it() } else { new_model() })
    }),
    LessonRow::new(
        "lesson-new-model",
        LESSON,
        &[Key::PageDown, Key::N],
        "next: a new model",
        |_, _| Some(LessonAction::NewModel),
    )
    .button(|room, _| has_echo(room).then(new_model)),
    LessonRow::new(
        "lesson-drop-echo",
        LESSON,
        &[Key::Backspace, Key::Delete],
        "take the last echo back",
        |room, _| has_echo(room).then_some(LessonAction::DropEcho),
    )
    .button(|room, _| {
        has_model(room)?;
        Some(Label::new("discard echo").named("take the last echo back"))
    }),
    BRING_BACK,
    LessonRow::new(
        "lesson-showing",
        LESSON,
        &[Key::V],
        "show live, after the note or after the echo",
        |_, _| Some(LessonAction::Do(Command::Showing)),
    )
    .button(|_, shell| {
        let words = wording::showing(shell.options().showing);
        let label = Label::new(words).longest("after the echo");
        Some(label.named(format!("way of showing: {words}")))
    }),
    LessonRow::new(
        "lesson-whole",
        LESSON,
        &[Key::Z],
        "a phrase as a whole, or one note of it",
        |_, _| Some(LessonAction::Whole),
    )
    .button(|room, _| {
        has_model(room)?;
        let (words, name) = match room.laid() {
            Laid::Note(_) => ("one note", "shown: one note of the phrase"),
            _ => ("phrase", "shown: the phrase as a whole"),
        };
        room.is_phrase().then(|| Label::new(words).longest("one note").named(name))
    }),
    LessonRow::new(
        "lesson-align",
        LESSON,
        &[Key::C],
        "lay them over each other the other way",
        |_, _| Some(LessonAction::Align),
    )
    .button(|room, _| {
        has_model(room)?;
        let (words, longest) = match room.laid() {
            Laid::Whole => ("from onset", "by notes"),
            Laid::NoteByNote => ("by notes", "from onset"),
            Laid::Note(Align::NoteStart) => ("from start", ""),
            Laid::Note(Align::Cycles) => ("by cycles", "from start"),
        };
        let name = format!("laid over each other {}", wording::laid(room.laid()));
        Some(Label::new(words).longest(longest).named(name))
    }),
    // While something sounds, the button that stops it stands in this one's place.
    LessonRow::new(
        "lesson-other",
        LESSON,
        &[Key::PageUp, Key::Space, Key::A],
        "hear model and echo in turn",
        |_, _| Some(LessonAction::Other),
    )
    .button(|room, _| {
        has_model(room).filter(|()| room.voice().is_none())?;
        Some(Label::new("in turn").named("hear model and echo in turn"))
    }),
    LessonRow::new("lesson-quiet", LESSON, &[Key::Q], "stop the sound", |_, _| {
        Some(LessonAction::Quiet)
    })
    .button(|room, _| {
        has_model(room).and(room.voice())?;
        Some(Label::new("quiet").longest("in turn").named("stop the sound"))
    }),
    LessonRow::new("lesson-pitch", LESSON, &[Key::P], "hear the pitch as a plain tone", |_, _| {
        Some(LessonAction::HearPitch)
    })
    .button(|room, _| {
        has_model(room)?;
        Some(Label::new("pitch").named("hear the pitch"))
    }),
    LessonRow::new("lesson-speed", LESSON, &[Key::W], "at full, half or quarter speed", |_, _| {
        Some(LessonAction::Speed)
    })
    .button(|room, _| {
        has_model(room)?;
        let speed = wording::speed(room.speed());
        let label = Label::new(speed).longest("quarter speed");
        Some(label.named(format!("hear the pitch at {speed}")))
    }),
    LessonRow::new("lesson-note-after", LESSON, &[Key::ArrowRight], "the note after", |_, _| {
        Some(LessonAction::Note(1))
    }),
    LessonRow::new("lesson-note-before", LESSON, &[Key::ArrowLeft], "the note before", |_, _| {
        Some(LessonAction::Note(-1))
    }),
    LessonRow::new("lesson-echo-after", LESSON, &[Key::ArrowDown], "the echo after", |_, _| {
        Some(LessonAction::Echo(1))
    }),
    LessonRow::new("lesson-echo-before", LESSON, &[Key::ArrowUp], "the echo before", |_, _| {
        Some(LessonAction::Echo(-1))
    }),
    LessonRow::new("lesson-report", LESSON, &[Key::X], "a report of the lesson", |room, _| {
        room.report().map(|_| LessonAction::Report)
    })
    .button(|_, _| Some(Label::new("report").named("a report of the lesson"))),
    LessonRow::new("lesson-task", LESSON, &[Key::T], "write a task", |_, _| {
        Some(LessonAction::Task)
    })
    .button(|_, _| Some(Label::new("task").named("write a task"))),
    LessonRow::new(
        "lesson-is-echo",
        DOUBTFUL,
        &[Key::PageDown, Key::Enter],
        "what was played is an echo",
        |_, _| Some(LessonAction::IsEcho(true)),
    )
    .button(|_, _| Some(Label::new("an echo").named("yes, it is an echo").first())),
    LessonRow::new(
        "lesson-is-no-echo",
        DOUBTFUL,
        &[Key::PageUp, Key::Backspace, Key::Escape],
        "what was played is no echo",
        |_, _| Some(LessonAction::IsEcho(false)),
    )
    .button(|_, _| Some(Label::new("no echo").named("no, it is no echo"))),
    LessonRow::new("lesson-give-task", TASK, &[Key::Enter], "give the task", |_, _| {
        Some(LessonAction::Give)
    })
    .button(|_, _| Some(Label::new("give the task").first())),
    LessonRow::new(
        "lesson-leave-task",
        TASK,
        &[Key::PageUp, Key::Escape],
        "back to the lesson without a task",
        |_, _| Some(LessonAction::Task),
    )
    .button(|room, _| {
        let leaving = room.draft().is_some_and(|draft| draft.leaving);
        let (words, name) = match leaving {
            true => ("leave it", "leave without giving the task"),
            false => ("back", "back to the lesson"),
        };
        Some(Label::new(words).longest("leave it").named(name))
    }),
];

/// Where the room's keys are heard now, and which buttons it has.
pub(crate) fn place(room: &LessonRoom) -> Scope {
    match (room.draft(), room.lesson().doubtful()) {
        (Some(_), _) => Scope::Task,
        (None, Some(_)) => Scope::Doubtful,
        _ => Scope::Lesson,
    }
}

fn has_model(room: &LessonRoom) -> Option<()> {
    room.lesson().model().map(|_| ())
}

fn has_echo(room: &LessonRoom) -> bool {
    !room.lesson().echoes().is_empty()
}

fn new_model() -> Label {
    Label::new("new model").named("a new model: the next phrase")
}
