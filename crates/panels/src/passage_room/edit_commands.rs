//! The commands by which a plan is edited. No key is used up that does the same in every room.

use super::commands::PassageRow;
use super::{PassageAction, PlanAction};
use crate::shell::keys::Scope;
use crate::widgets::button_row::Label;
use coach::plan::{Along, Edit, Go, Intention, Step};
use egui::Key;
use tuning::Hz;

const EDITING: &[Scope] = &[Scope::Editing];
const HEAD: &[Scope] = &[Scope::PassageHead];

/// Steps of the rate, in Hz, and of the place of the peak, as a share of the note.
const RATE_STEP: Hz = Hz(0.5);
const PEAK_STEP: f64 = 0.1;

fn plan(action: PlanAction) -> Option<PassageAction> {
    Some(PassageAction::Plan(action))
}

fn make(edit: Edit) -> Option<PassageAction> {
    plan(PlanAction::Make(edit))
}

fn go(to: Go) -> Option<PassageAction> {
    plan(PlanAction::Go(to))
}

/// A digit.
const fn digit<const DIGIT: u8>(
    name: &'static str,
    keys: &'static [Key],
    help: &'static str,
) -> PassageRow {
    PassageRow::new(name, EDITING, keys, help, |_, _| plan(PlanAction::Digit(DIGIT)))
}

/// In the order they are listed, and their buttons stand.
pub(crate) static ROWS: [PassageRow; 50] = [
    PassageRow::new("plan-on", EDITING, &[Key::ArrowRight], "the next note", |_, _| go(Go::On))
        .repeats(),
    PassageRow::new("plan-back", EDITING, &[Key::ArrowLeft], "the note before", |_, _| {
        go(Go::Back)
    })
    .repeats(),
    PassageRow::new("plan-first", EDITING, &[Key::Home], "the first note", |_, _| go(Go::First)),
    PassageRow::new("plan-last", EDITING, &[Key::End], "the last note", |_, _| go(Go::Last)),
    PassageRow::new(
        "plan-done",
        EDITING,
        &[Key::Escape, Key::Enter],
        "done: it is kept",
        |_, _| plan(PlanAction::Done),
    )
    .button(|_, _| Some(Label::new("done").first())),
    PassageRow::new("plan-add", EDITING, &[Key::N], "a note after this one", |_, _| {
        make(Edit::InsertAfter)
    })
    .button(|_, _| Some(Label::new("note after"))),
    PassageRow::new("plan-up", EDITING, &[Key::ArrowUp], "a step up", |_, _| {
        make(Edit::Move(Step::Staff(1)))
    })
    .repeats()
    .button(|_, _| Some(Label::new("up"))),
    PassageRow::new("plan-down", EDITING, &[Key::ArrowDown], "a step down", |_, _| {
        make(Edit::Move(Step::Staff(-1)))
    })
    .repeats()
    .button(|_, _| Some(Label::new("down"))),
    PassageRow::new("plan-longer", EDITING, &[Key::Equals, Key::Plus], "longer", |_, _| {
        make(Edit::Longer)
    })
    .repeats()
    .button(|_, _| Some(Label::new("longer"))),
    PassageRow::new("plan-shorter", EDITING, &[Key::Minus], "shorter", |_, _| make(Edit::Shorter))
        .repeats()
        .button(|_, _| Some(Label::new("shorter"))),
    PassageRow::new("plan-copy", EDITING, &[Key::C], "copy its vibrato", |_, _| make(Edit::Copy))
        .button(|_, _| Some(Label::new("copy").named("copy its vibrato"))),
    PassageRow::new(
        "plan-brush",
        EDITING,
        &[Key::B],
        "give the chosen notes the vibrato that was copied",
        |_, _| make(Edit::Brush),
    )
    .button(|room, _| {
        room.editing().filter(|editing| editing.has_copied())?;
        Some(Label::new("brush").named("give the vibrato that was copied"))
    }),
    PassageRow::new("plan-undo", EDITING, &[Key::Z], "take the last change back", |_, _| {
        make(Edit::Undo)
    })
    .repeats()
    .button(|_, _| Some(Label::new("undo").named("take the last change back"))),
    PassageRow::new("plan-redo", EDITING, &[Key::V], "make it once more", |_, _| make(Edit::Redo))
        .repeats()
        .button(|_, _| Some(Label::new("redo").named("make it once more"))),
    PassageRow::new(
        "plan-width",
        EDITING,
        &[Key::W],
        "type the width, in cents; where it grows or fades, at the start",
        |_, _| plan(PlanAction::Number(Along::Start)),
    )
    .button(|_, _| Some(Label::new("width"))),
    PassageRow::new("plan-peak", EDITING, &[Key::P], "type the width at the peak", |_, _| {
        plan(PlanAction::Number(Along::Peak))
    })
    .button(|_, _| Some(Label::new("at the peak").named("width at the peak"))),
    PassageRow::new("plan-end", EDITING, &[Key::D], "type the width at the end", |_, _| {
        plan(PlanAction::Number(Along::End))
    })
    .button(|_, _| Some(Label::new("at the end").named("width at the end"))),
    PassageRow::new("plan-straight", EDITING, &[Key::S], "no vibrato, on purpose", |_, _| {
        make(Edit::Intend(Intention::Straight))
    })
    .button(|_, _| Some(Label::new("straight"))),
    PassageRow::new("plan-faster", EDITING, &[Key::Period], "a faster vibrato", |_, _| {
        make(Edit::RateBy(RATE_STEP))
    })
    .repeats()
    .button(|_, _| Some(Label::new("faster"))),
    PassageRow::new("plan-slower", EDITING, &[Key::Comma], "a slower vibrato", |_, _| {
        make(Edit::RateBy(Hz(-RATE_STEP.0)))
    })
    .repeats()
    .button(|_, _| Some(Label::new("slower"))),
    PassageRow::new("plan-any-rate", EDITING, &[Key::A], "as fast as it comes", |_, _| {
        make(Edit::Rate(Along::Start, None))
    })
    .button(|_, _| Some(Label::new("any rate"))),
    PassageRow::new("plan-earlier", EDITING, &[Key::OpenBracket], "the peak earlier", |_, _| {
        make(Edit::PeakBy(-PEAK_STEP))
    })
    .repeats()
    .button(|_, _| Some(Label::new("peak earlier"))),
    PassageRow::new("plan-later", EDITING, &[Key::CloseBracket], "the peak later", |_, _| {
        make(Edit::PeakBy(PEAK_STEP))
    })
    .repeats()
    .button(|_, _| Some(Label::new("peak later"))),
    PassageRow::new("plan-insert", EDITING, &[Key::I], "a note before this one", |_, _| {
        make(Edit::InsertBefore)
    })
    .button(|_, _| Some(Label::new("note before"))),
    PassageRow::new(
        "plan-delete",
        EDITING,
        &[Key::Backspace, Key::Delete],
        "take the chosen notes out, or a digit back",
        |_, _| plan(PlanAction::Delete),
    )
    .button(|_, _| Some(Label::new("take out"))),
    PassageRow::new("plan-rest", EDITING, &[Key::R], "a rest, or a note again", |_, _| {
        make(Edit::Rest)
    })
    .button(|_, _| Some(Label::new("rest"))),
    PassageRow::new(
        "plan-slur",
        EDITING,
        &[Key::U],
        "under one bow with the note before it, or not",
        |_, _| make(Edit::Slur),
    )
    .button(|_, _| Some(Label::new("slur"))),
    PassageRow::new(
        "plan-tie",
        EDITING,
        &[Key::T],
        "hold it over into the next of its pitch, or not",
        |_, _| make(Edit::Tie),
    )
    .button(|_, _| Some(Label::new("tie"))),
    PassageRow::new("plan-sharper", EDITING, &[Key::K], "a semitone up", |_, _| {
        make(Edit::Move(Step::Semitones(1)))
    })
    .repeats()
    .button(|_, _| Some(Label::new("semitone up"))),
    PassageRow::new("plan-flatter", EDITING, &[Key::J], "a semitone down", |_, _| {
        make(Edit::Move(Step::Semitones(-1)))
    })
    .repeats()
    .button(|_, _| Some(Label::new("semitone down"))),
    PassageRow::new("plan-octave-up", EDITING, &[Key::PageUp], "an octave up", |_, _| {
        make(Edit::Move(Step::Octaves(1)))
    })
    .button(|_, _| Some(Label::new("octave up"))),
    PassageRow::new("plan-octave-down", EDITING, &[Key::PageDown], "an octave down", |_, _| {
        make(Edit::Move(Step::Octaves(-1)))
    })
    .button(|_, _| Some(Label::new("octave down"))),
    PassageRow::new("plan-loud", EDITING, &[Key::G], "how loud: the next sign, or none", |_, _| {
        plan(PlanAction::Dynamic)
    })
    .button(|_, _| Some(Label::new("how loud"))),
    PassageRow::new("plan-string", EDITING, &[Key::Y], "on which string, or any", |_, _| {
        plan(PlanAction::OnString)
    })
    .button(|_, _| Some(Label::new("string"))),
    PassageRow::new(
        "plan-upbeat",
        EDITING,
        &[Key::Q],
        "a bar line here: what is before it is an upbeat",
        |_, _| make(Edit::BarLine),
    )
    .button(|_, _| Some(Label::new("upbeat"))),
    PassageRow::new(
        "plan-extend",
        EDITING,
        &[Key::X],
        "choose more notes by going on, or one again",
        |_, _| plan(PlanAction::Extend),
    )
    .button(|room, _| {
        let on = room.editing().is_some_and(|editing| editing.extends());
        Some(Label::new("choose more").switch(on))
    }),
    PassageRow::new(
        "plan-as-played",
        EDITING,
        &[Key::F7],
        "each note as you played it in the pass that you looked at",
        |room, _| room.can_be_as_played().then_some(PassageAction::Plan(PlanAction::AsPlayed)),
    )
    .button(|_, _| Some(Label::new("as played").named("each note as you played it"))),
    PassageRow::new(
        "plan-model",
        EDITING,
        &[Key::F8],
        "each note as in the model of the lesson, or in a recording that you choose",
        |_, _| Some(PassageAction::Model),
    )
    .button(|_, _| Some(Label::new("from a model").named("each note as in a model"))),
    PassageRow::new("plan-head", EDITING, &[Key::H], "title, pace, bar, key and clef", |_, _| {
        plan(PlanAction::Head)
    })
    .button(|_, _| Some(Label::new("title and bar").named("title, pace, bar, key and clef"))),
    digit::<0>("plan-0", &[Key::Num0], "open string, or a digit of a width")
        .button(|_, _| Some(Label::new("open string"))),
    digit::<1>("plan-1", &[Key::Num1], "finger 1, or a digit")
        .button(|_, _| Some(Label::new("finger 1"))),
    digit::<2>("plan-2", &[Key::Num2], "finger 2, or a digit")
        .button(|_, _| Some(Label::new("finger 2"))),
    digit::<3>("plan-3", &[Key::Num3], "finger 3, or a digit")
        .button(|_, _| Some(Label::new("finger 3"))),
    digit::<4>("plan-4", &[Key::Num4], "finger 4, or a digit")
        .button(|_, _| Some(Label::new("finger 4"))),
    digit::<5>("plan-5", &[Key::Num5], "a digit of a width"),
    digit::<6>("plan-6", &[Key::Num6], "a digit of a width"),
    digit::<7>("plan-7", &[Key::Num7], "a digit of a width"),
    digit::<8>("plan-8", &[Key::Num8], "a digit of a width"),
    digit::<9>("plan-9", &[Key::Num9], "a digit of a width"),
    PassageRow::new(
        "plan-head-done",
        HEAD,
        &[Key::Escape, Key::Enter],
        "back to the notes",
        |_, _| plan(PlanAction::Done),
    )
    .button(|_, _| Some(Label::new("back to the notes").first())),
];
