//! The commands of the Stand, and of a question that is asked there.

use super::state::Stand;
use crate::shell::action::{Action, Command, Take};
use crate::shell::keys::Scope;
use crate::shell::row::{self, Row};
use crate::widgets::button_row::Label;
use coach::{Curtain, Showing};
use egui::{Key, Ui};
use tuning::pitch_name;

type StandRow = Row<Stand, Action>;

const STAND: &[Scope] = &[Scope::Stand];
const ASKED: &[Scope] = &[Scope::Question];

/// In the order they are listed, and their buttons stand.
pub(crate) static ROWS: [StandRow; 16] = [
    HOLD,
    StandRow::new(
        "showing",
        STAND,
        &[Key::PageDown, Key::V],
        "show live, after the note or after the round",
        |_, _| does(Command::Showing),
    )
    .while_playing()
    .button(|stand, _| Some(showing(stand.shell.options().showing))),
    StandRow::new(
        "straight",
        STAND,
        &[Key::PageUp, Key::S],
        "straight practice, or back",
        |_, _| does(Command::Straight),
    )
    .while_playing()
    .button(|stand, _| {
        Some(Label::new("straight").named("straight practice").switch(stand.straight))
    }),
    StandRow::new(
        "take-reference",
        STAND,
        &[Key::Enter, Key::R],
        "measure against the straight note just played, or no more",
        |_, _| does(Command::TakeReference),
    )
    .while_playing()
    .button(|stand, _| {
        (stand.can_take_reference() || stand.own().is_some()).then_some(())?;
        Some(Label::new("reference").named(reference(stand)).switch(stand.own().is_some()))
    }),
    StandRow::new(
        "drop-reference",
        STAND,
        &[Key::Backspace],
        "measure against the temperament again",
        |_, _| does(Command::DropReference),
    ),
    StandRow::new("drone", STAND, &[Key::ArrowRight, Key::D], "drone on or off", |_, _| {
        does(Command::Drone)
    })
    .while_playing()
    .button(|stand, _| {
        let note = pitch_name(stand.shell.options().drone.midi, stand.shell.naming());
        Some(Label::new(format!("drone {note}")).longest("drone B♭3").switch(stand.shell.drone_on))
    }),
    StandRow::new("beat", STAND, &[Key::ArrowLeft, Key::B], "metronome on or off", |_, _| {
        does(Command::Beat)
    })
    .while_playing()
    .button(|stand, _| {
        let bpm = stand.shell.options().beat.bpm;
        let label = Label::new(format!("beat {bpm}")).longest("beat 200");
        Some(label.named(format!("metronome, {bpm} beats a minute")).switch(stand.shell.beat_on))
    }),
    StandRow::new("drone-up", STAND, &[Key::ArrowUp], "drone a semitone higher", |_, _| {
        does(Command::DroneUp)
    })
    .while_playing()
    .repeats(),
    StandRow::new("drone-down", STAND, &[Key::ArrowDown], "drone a semitone lower", |_, _| {
        does(Command::DroneDown)
    })
    .while_playing()
    .repeats(),
    StandRow::new("take", STAND, &[Key::T], "keep takes, or do not", |_, _| does(Command::Take))
        .button(|stand, _| {
            let kept = stand.shell.options().take.kept;
            Some(Label::new("takes").named(takes(stand.shell.take())).switch(kept))
        }),
    BRING_BACK,
    TASK,
    StandRow::new("zoom-in", STAND, &[Key::Plus, Key::Equals], "fewer cents, larger", |_, _| {
        does(Command::ZoomIn)
    })
    .repeats(),
    StandRow::new("zoom-out", STAND, &[Key::Minus], "more cents, smaller", |_, _| {
        does(Command::ZoomOut)
    })
    .repeats(),
    StandRow::new(
        "zoom-by-itself",
        STAND,
        &[Key::Z],
        "as many cents as the motion needs",
        |_, _| does(Command::ZoomByItself),
    ),
    StandRow::new("span", STAND, &[Key::W], "4, 8 or 16 seconds", |_, _| does(Command::Span))
        .button(|stand, _| {
            let secs = stand.span().0;
            let label = Label::new(format!("{secs:.0} s")).longest("16 s");
            Some(label.named(format!("span of the trace: {secs:.0} seconds")))
        }),
];

/// Keep what did not sound bowed.
pub(crate) const BRING_BACK: StandRow =
    StandRow::new("bring-back", STAND, &[Key::K], "keep what did not sound bowed", |stand, _| {
        (stand.shell.aside > 0).then_some(Action::Do(Command::BringBack))
    })
    .button(|_, _| Some(Label::new("keep it").named("keep the last sound all the same")));

/// What answers a question, in the order of the answers; the last shows what is hidden without one.
pub(crate) static QUESTION: [StandRow; 4] = [
    StandRow::new(
        "first-answer",
        ASKED,
        &[Key::Num1, Key::PageUp, Key::ArrowLeft],
        "first answer, while a question is asked",
        |_, _| does(Command::Answer(0)),
    )
    .while_playing(),
    StandRow::new(
        "second-answer",
        ASKED,
        &[Key::Num2, Key::PageDown, Key::ArrowRight],
        "second answer",
        |_, _| does(Command::Answer(1)),
    )
    .while_playing(),
    StandRow::new(
        "third-answer",
        ASKED,
        &[Key::Num3, Key::ArrowUp, Key::Space],
        "third answer",
        |_, _| does(Command::Answer(2)),
    )
    .while_playing(),
    StandRow::new(
        "reveal",
        ASKED,
        &[Key::Num0, Key::Enter, Key::ArrowDown],
        "show what is hidden, without an answer",
        |_, _| does(Command::Reveal),
    )
    .while_playing(),
];

/// Hold the picture, or let it go on.
pub(crate) const HOLD: StandRow =
    StandRow::new("hold", STAND, &[Key::Space], "freeze the picture, or go on", |_, _| {
        does(Command::Hold)
    })
    .while_playing();

/// Play the task of the last lesson, or leave off.
pub const TASK: StandRow = StandRow::new(
    "task",
    STAND,
    &[Key::G],
    "play the task of the last lesson, or leave off",
    |_, _| does(Command::Task),
);

/// What the pressed keys ask for; they are used up. While a question is asked its answers come first.
pub(crate) fn pressed(ui: &Ui, stand: &Stand) -> Vec<Action> {
    let asking = stand.shell.overlay.is_none() && matches!(stand.curtain(), Curtain::Asking(_));
    let mut actions = Vec::new();
    if asking {
        actions.extend(row::pressed(ui, &QUESTION, ASKED, stand, &stand.shell));
    }
    actions.extend(row::pressed(ui, &ROWS, STAND, stand, &stand.shell));
    actions
}

fn does(command: Command) -> Option<Action> {
    Some(Action::Do(command))
}

fn showing(showing: Showing) -> Label {
    let words = match showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the note",
        Showing::AfterRound => "after the round",
    };
    Label::new(words).longest("after the round").named(format!("way of showing: {words}"))
}

fn reference(stand: &Stand) -> String {
    match stand.own() {
        Some(own) => {
            let name = pitch_name(own.midi, stand.shell.naming());
            match stand.can_take_reference() {
                true => format!("take the last note as reference; now your own {name}"),
                false => format!("your own {name} is the reference; press to clear it"),
            }
        }
        None => "take the last note as reference".to_owned(),
    }
}

fn takes(take: &Take) -> String {
    let state = match take {
        Take::Off => return "keep takes".to_owned(),
        Take::Ready => "the next note starts one".to_owned(),
        Take::Running => "one is being written".to_owned(),
        Take::SetAside => "what was heard last did not sound bowed and is not kept".to_owned(),
        Take::Kept { id, .. } => format!("the one of {} was kept", id.clock()),
        Take::Trouble(words) => words.clone(),
    };
    format!("keep takes: {state}")
}
