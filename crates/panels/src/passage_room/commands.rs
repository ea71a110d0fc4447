//! The commands of the room, but for those by which a plan is edited.

use super::{Pass, PassageAction, PassageRoom};
use crate::shell::keys::Scope;
use crate::shell::row::Row;
use crate::widgets::button_row::Label;
use egui::Key;

pub(super) type PassageRow = Row<PassageRoom, PassageAction>;

const LIST: &[Scope] = &[Scope::Passages];
const EXCERPT: &[Scope] = &[Scope::Excerpt];
const BEFORE: &[Scope] = &[Scope::BeforePass];
const DURING: &[Scope] = &[Scope::Pass];
const AFTER: &[Scope] = &[Scope::AfterPass];
const ASKED: &[Scope] = &[Scope::AskedOfPass];
const AROUND: &[Scope] = &[Scope::BeforePass, Scope::AfterPass];
const WALKED: &[Scope] = &[Scope::BeforePass, Scope::AskedOfPass, Scope::AfterPass];

/// A step of the pace, in beats per minute.
const PACE_STEP_BPM: f64 = 2.0;

/// In the order they are listed, and their buttons stand.
pub(crate) static ROWS: [PassageRow; 30] = [
    PassageRow::new(
        "passage-below",
        LIST,
        &[Key::ArrowRight, Key::PageDown, Key::ArrowDown],
        "the passage below",
        |_, _| Some(PassageAction::Move(1)),
    )
    .repeats(),
    PassageRow::new(
        "passage-above",
        LIST,
        &[Key::ArrowLeft, Key::PageUp, Key::ArrowUp],
        "the passage above",
        |_, _| Some(PassageAction::Move(-1)),
    )
    .repeats(),
    PassageRow::new(
        "passage-open",
        LIST,
        &[Key::Space, Key::Enter],
        "open the passage",
        |room, _| {
            let chosen = room.passages().get(room.cursor())?;
            chosen.passage.is_ok().then(|| PassageAction::Choose(room.cursor()))
        },
    )
    .button(|_, _| Some(Label::new("open").first())),
    PassageRow::new(
        "passage-file",
        LIST,
        &[Key::I],
        "take in a file: a passage, MusicXML or MIDI",
        |_, _| Some(PassageAction::File),
    )
    .button(|_, _| Some(Label::new("take in a file"))),
    PassageRow::new("passage-new", LIST, &[Key::N], "write a passage of your own", |_, shell| {
        let instrument = shell.options().instrument.as_deref();
        Some(PassageAction::New(instrument.unwrap_or("cello").to_owned()))
    })
    .button(|_, _| Some(Label::new("new passage"))),
    PassageRow::new("passage-reread", LIST, &[Key::R], "read the files anew", |_, _| {
        Some(PassageAction::Reread)
    })
    .button(|_, _| Some(Label::new("read the files anew"))),
    PassageRow::new("excerpt-take", EXCERPT, &[Key::Enter, Key::Space], "take it in", |_, _| {
        Some(PassageAction::TakeExcerpt)
    })
    .button(|_, _| Some(Label::new("take it in").first())),
    PassageRow::new("excerpt-below", EXCERPT, &[Key::ArrowDown], "the next part", |room, _| {
        other_part(room, 1)
    })
    .repeats(),
    PassageRow::new("excerpt-above", EXCERPT, &[Key::ArrowUp], "the part before", |room, _| {
        other_part(room, -1)
    })
    .repeats(),
    PassageRow::new("excerpt-leave", EXCERPT, &[Key::Escape], "leave the score", |_, _| {
        Some(PassageAction::LeaveScore)
    })
    .button(|_, _| Some(Label::new("leave it"))),
    PassageRow::new(
        "passage-start",
        BEFORE,
        &[Key::Space, Key::Enter, Key::PageDown],
        "start the pass",
        |_, _| Some(PassageAction::Start),
    )
    .while_playing()
    .button(|_, _| Some(Label::new("start").first())),
    PassageRow::new(
        "passage-end",
        DURING,
        &[Key::Enter, Key::Escape, Key::Space, Key::PageDown],
        "end the pass",
        |_, _| Some(PassageAction::End),
    )
    .while_playing()
    .button(|_, _| Some(Label::new("end the pass").first())),
    PassageRow::new(
        "passage-answer",
        ASKED,
        &[Key::Enter, Key::Space, Key::PageDown],
        "this note had most vibrato",
        |room, _| Some(PassageAction::Answer(room.note())),
    )
    .while_playing()
    .button(|room, _| {
        room.note()?;
        Some(Label::new("this one").named("this note had most vibrato").first())
    }),
    PassageRow::new(
        "passage-no-answer",
        ASKED,
        &[Key::Escape],
        "show what was found without an answer",
        |_, _| Some(PassageAction::Answer(None)),
    )
    .button(|_, _| Some(Label::new("show it"))),
    PassageRow::new(
        "passage-on",
        AFTER,
        &[Key::Space, Key::Enter, Key::PageDown],
        "on to the next pass; after the last, the same again",
        |room, _| Some(room.pass().next().map_or(PassageAction::Again, PassageAction::Pass)),
    )
    .while_playing()
    .button(|room, _| {
        let next = room.pass().next()?;
        Some(Label::new("next pass").named(format!("next pass: {}", next.name())).first())
    }),
    PassageRow::new(
        "passage-again",
        &[Scope::Pass, Scope::AfterPass],
        &[Key::PageUp],
        "the same pass again",
        |_, _| Some(PassageAction::Again),
    )
    .while_playing()
    .button(|_, _| Some(Label::new("again"))),
    PassageRow::new(
        "passage-note-on",
        WALKED,
        &[Key::ArrowRight],
        "the next note: what is planned, or was found",
        |_, _| Some(PassageAction::Walk(1)),
    )
    .repeats()
    .button(|_, _| Some(Label::new("next note"))),
    PassageRow::new("passage-note-back", WALKED, &[Key::ArrowLeft], "the note before", |_, _| {
        Some(PassageAction::Walk(-1))
    })
    .repeats()
    .button(|_, _| Some(Label::new("note before"))),
    PassageRow::new("passage-edit", AROUND, &[Key::W], "write in the plan", |_, _| {
        Some(PassageAction::Edit)
    })
    .button(|_, _| Some(Label::new("write").named("write in the plan"))),
    PassageRow::new("passage-click", BEFORE, &[Key::C], "click on or off", |room, _| {
        (!room.free()).then(|| PassageAction::Click(!room.click()))
    })
    .button(|room, _| Some(Label::new("click").switch(room.click()))),
    PassageRow::new(
        "passage-free",
        BEFORE,
        &[Key::P],
        "in your own time, or with the beat again",
        |room, _| Some(PassageAction::Free(!room.free())),
    )
    .button(|room, _| Some(Label::new("free time").switch(room.free()))),
    FASTER,
    SLOWER,
    PassageRow::new("passage-1", AROUND, &[Key::Num1], "pass 1: straight and slow", |_, _| {
        Some(PassageAction::Pass(Pass::Straight))
    }),
    PassageRow::new("passage-2", AROUND, &[Key::Num2], "pass 2: vibrated, slow", |_, _| {
        Some(PassageAction::Pass(Pass::Vibrated))
    }),
    PassageRow::new("passage-3", AROUND, &[Key::Num3], "pass 3: at tempo", |_, _| {
        Some(PassageAction::Pass(Pass::AtTempo))
    }),
    PassageRow::new("passage-4", AROUND, &[Key::Num4], "pass 4: without looking", |_, _| {
        Some(PassageAction::Pass(Pass::Unseen))
    }),
    PassageRow::new("passage-report", AFTER, &[Key::X], "a report of the pass", |room, _| {
        room.report().map(|_| PassageAction::Report)
    })
    .button(|room, _| room.report().map(|_| Label::new("report"))),
    PassageRow::new(
        "passage-back",
        AFTER,
        &[Key::Escape],
        "back to the list of passages",
        |_, _| Some(PassageAction::Back),
    )
    .button(|_, _| Some(Label::new("back"))),
    PassageRow::new(
        "passage-leave",
        BEFORE,
        &[Key::Escape, Key::PageUp],
        "back to the list of passages",
        |_, _| Some(PassageAction::Back),
    )
    .button(|_, _| Some(Label::new("back"))),
];

fn other_part(room: &PassageRoom, by: isize) -> Option<PassageAction> {
    let (score, chosen) = room.score()?;
    let part = chosen.part.checked_add_signed(by).filter(|part| *part < score.parts.len())?;
    Some(PassageAction::Excerpt(score.whole(part)))
}

/// A faster beat.
const FASTER: PassageRow =
    PassageRow::new("passage-faster", BEFORE, &[Key::ArrowUp], "a faster beat", |room, _| {
        Some(PassageAction::Bpm(room.bpm() + PACE_STEP_BPM))
    })
    .repeats()
    .button(|room, _| (!room.free()).then(|| Label::new("faster")));

/// A slower beat.
const SLOWER: PassageRow =
    PassageRow::new("passage-slower", BEFORE, &[Key::ArrowDown], "a slower beat", |room, _| {
        Some(PassageAction::Bpm(room.bpm() - PACE_STEP_BPM))
    })
    .repeats()
    .button(|room, _| (!room.free()).then(|| Label::new("slower")));
