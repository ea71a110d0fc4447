//! The commands of the room.

use super::{Ask, JournalAction, JournalRoom, Page, Step, TraceOf};
use crate::shell::Shell;
use crate::shell::action::UseAs;
use crate::shell::keys::Scope;
use crate::shell::row::{self, Row};
use crate::widgets::button_row::Label;
use egui::{Key, Ui};
use tuning::Secs;

type JournalRow = Row<JournalRoom, JournalAction>;

const JOURNAL: &[Scope] = &[Scope::Journal];
const TAKES: &[Scope] = &[Scope::Takes];

/// A step along the take by the arrows.
const NUDGE: Secs = Secs(2.0);

/// In the order they are listed.
pub(crate) static ROWS: [JournalRow; 25] = [
    JournalRow::new("journal-takes", JOURNAL, &[Key::Num1], "the takes", |_, _| {
        Some(JournalAction::Page(Page::Takes))
    }),
    JournalRow::new("journal-trends", JOURNAL, &[Key::Num2], "trends over weeks", |_, _| {
        Some(JournalAction::Page(Page::Trends))
    }),
    JournalRow::new("journal-minutes", JOURNAL, &[Key::Num3], "minutes of practice", |_, _| {
        Some(JournalAction::Page(Page::Minutes))
    }),
    JournalRow::new(
        "journal-two-takes",
        JOURNAL,
        &[Key::Num4],
        "two takes beside each other",
        |_, _| Some(JournalAction::Page(Page::Compare)),
    ),
    JournalRow::new("journal-players", JOURNAL, &[Key::Num5], "the players", |_, _| {
        Some(JournalAction::Page(Page::Players))
    }),
    FILTER,
    REPORT,
    BACK,
    JournalRow::new("journal-above", TAKES, &[Key::ArrowUp], "the take above", |_, _| {
        Some(JournalAction::Step(Step::Up))
    })
    .repeats(),
    JournalRow::new("journal-below", TAKES, &[Key::ArrowDown], "the take below", |_, _| {
        Some(JournalAction::Step(Step::Down))
    })
    .repeats(),
    JournalRow::new("journal-first", TAKES, &[Key::Home], "the first of the list", |_, _| {
        Some(JournalAction::Step(Step::First))
    })
    .repeats(),
    JournalRow::new("journal-last", TAKES, &[Key::End], "the last of the list", |_, _| {
        Some(JournalAction::Step(Step::Last))
    })
    .repeats(),
    OPEN,
    PLAY,
    JournalRow::new(
        "journal-earlier",
        TAKES,
        &[Key::ArrowLeft],
        "a little earlier in it",
        |_, _| Some(JournalAction::Nudge(Secs(-NUDGE.0))),
    )
    .repeats(),
    JournalRow::new("journal-later", TAKES, &[Key::ArrowRight], "a little later in it", |_, _| {
        Some(JournalAction::Nudge(NUDGE))
    })
    .repeats(),
    PART_FROM,
    PART_TO,
    LOOP,
    HALF_SPEED,
    KEEP,
    COMPARE,
    AS_MODEL,
    AS_ECHO,
    DELETE,
];

/// Pages of the list; where a take is seen alone, the same keys turn its pages.
pub(crate) static LEAPS: [JournalRow; 2] = [
    JournalRow::new("journal-page-up", TAKES, &[Key::PageUp], "a page of takes up", |_, _| {
        Some(JournalAction::Step(Step::PageUp))
    })
    .repeats(),
    JournalRow::new(
        "journal-page-down",
        TAKES,
        &[Key::PageDown],
        "a page of takes down",
        |_, _| Some(JournalAction::Step(Step::PageDown)),
    )
    .repeats(),
];

pub(crate) const FILTER: JournalRow = JournalRow::new(
    "journal-filter",
    JOURNAL,
    &[Key::Slash],
    "show or hide the filter",
    |room, _| Some(JournalAction::ShowFilter(!room.filter_shown)),
)
.page_button(|room, _| {
    Some(match room.filter_shown {
        true => Label::new("Hide").named("hide the filter"),
        false => Label::new("Filter").named("show the filter"),
    })
});

pub(crate) const REPORT: JournalRow = JournalRow::new(
    "journal-report",
    JOURNAL,
    &[Key::X],
    "a report of the take, or of the weeks",
    |room, _| room.report().map(|_| JournalAction::Report),
)
.page_button(|room, _| {
    Some(Label::new("Report").named(match room.page {
        Page::Takes => "report of this take",
        _ => "report of these weeks",
    }))
});

pub(crate) const BACK: JournalRow = JournalRow::new(
    "journal-back",
    JOURNAL,
    &[Key::Escape],
    "back from the filter or from a take",
    |room, _| match (room.filter_shown, room.page) {
        (true, _) => Some(JournalAction::ShowFilter(false)),
        (false, Page::Takes) if room.in_take => Some(JournalAction::Back),
        _ => None,
    },
)
.page_button(|_, _| Some(Label::new("Back").named("back to the list")));

pub(crate) const OPEN: JournalRow =
    JournalRow::new("journal-open", TAKES, &[Key::Enter], "open the take", |_, _| {
        Some(JournalAction::Open)
    })
    .page_button(|_, _| Some(Label::new("Open").named("open the take")));

pub(crate) const PLAY: JournalRow =
    JournalRow::new("journal-play", TAKES, &[Key::Space], "play it, or stop", |room, _| {
        may_sound(room).then_some(JournalAction::Play)
    })
    .page_button(|room, _| {
        let sounds = room.opened.as_ref()?.played.sounds;
        Some(if sounds {
            Label::new("Stop").named("stop")
        } else {
            Label::new("Play").named("play")
        })
    });

pub(crate) const PART_FROM: JournalRow = JournalRow::new(
    "journal-part-from",
    TAKES,
    &[Key::OpenBracket],
    "a part begins here",
    |room, _| may_sound(room).then_some(JournalAction::PartFromHere),
)
.page_button(|_, _| Some(Label::new("from here").named("part from here")));

pub(crate) const PART_TO: JournalRow = JournalRow::new(
    "journal-part-to",
    TAKES,
    &[Key::CloseBracket],
    "the part ends here",
    |room, _| may_sound(room).then_some(JournalAction::PartToHere),
)
.page_button(|_, _| Some(Label::new("to here").named("part to here")));

pub(crate) const LOOP: JournalRow = JournalRow::new(
    "journal-loop",
    TAKES,
    &[Key::R],
    "play the part in a loop, or once",
    |room, _| Some(JournalAction::Loop(!room.opened.as_ref()?.played.looped)),
)
.page_button(|room, _| Some(Label::new("loop").switch(room.opened.as_ref()?.played.looped)));

pub(crate) const HALF_SPEED: JournalRow =
    JournalRow::new("journal-half-speed", TAKES, &[Key::H], "half speed, or full", |room, _| {
        Some(JournalAction::HalfSpeed(!room.opened.as_ref()?.played.half))
    })
    .page_button(|room, _| {
        Some(Label::new("half speed").switch(room.opened.as_ref()?.played.half))
    });

pub(crate) const KEEP: JournalRow =
    JournalRow::new("journal-keep", TAKES, &[Key::K], "keep it for ever, or not", |room, _| {
        room.may_write().then_some(JournalAction::Keep)
    })
    .page_button(|room, _| {
        Some(match room.chosen_entry()?.keep {
            true => Label::new("Stop keeping").named("stop keeping"),
            false => Label::new("Keep for ever").named("keep for ever"),
        })
    });

pub(crate) const COMPARE: JournalRow =
    JournalRow::new("journal-compare", TAKES, &[Key::C], "compare it", |_, _| {
        Some(JournalAction::Compare)
    })
    .page_button(|_, _| Some(Label::new("Compare").named("compare")));

pub(crate) const AS_MODEL: JournalRow = JournalRow::new(
    "journal-as-model",
    TAKES,
    &[Key::N],
    "the lesson's model is this part",
    |room, _| used(room, UseAs::Model),
)
.page_button(|_, _| Some(Label::new("Use as model").named("use as the model of the lesson")));

pub(crate) const AS_ECHO: JournalRow = JournalRow::new(
    "journal-as-echo",
    TAKES,
    &[Key::B],
    "an echo of the model is this part",
    |room, _| used(room, UseAs::Echo),
)
.page_button(|_, _| Some(Label::new("Use as echo").named("use as an echo of the model")));

/// The part of the chosen take goes into the lesson, where it is open and has a sound.
fn used(room: &JournalRoom, use_as: UseAs) -> Option<JournalAction> {
    let opened = room.opened.as_ref().filter(|opened| room.chosen.as_ref() == Some(&opened.id));
    opened.filter(|opened| opened.may_be_used()).map(|_| JournalAction::UseAs(use_as))
}

pub(crate) const DELETE: JournalRow =
    JournalRow::new("journal-delete", TAKES, &[Key::Delete], "delete it", |room, _| {
        let chosen = room.chosen.clone().filter(|_| room.may_write())?;
        Some(JournalAction::Ask(Ask::Delete(chosen)))
    })
    .page_button(|_, _| Some(Label::new("To the trash").named("to the trash")));

/// Nothing speaks against hearing the chosen take: it has a sound, or is not yet opened.
fn may_sound(room: &JournalRoom) -> bool {
    let opened = room.opened.as_ref().filter(|opened| room.chosen.as_ref() == Some(&opened.id));
    opened.is_none_or(|opened| !matches!(opened.trace, TraceOf::None(_)))
}

/// What the pressed keys ask for; they are used up. `alone`: list and take do not stand beside each other.
pub(crate) fn pressed(
    ui: &Ui,
    room: &JournalRoom,
    shell: &Shell,
    alone: bool,
) -> Vec<JournalAction> {
    if shell.overlay.is_some() {
        return Vec::new();
    }
    if room.asking.is_some() || room.unread_shown {
        // Nothing behind the question hears keys.
        let leave = |key, _| Some((key == Key::Escape).then_some(JournalAction::Answer(false)));
        return row::taken(ui, shell, leave);
    }
    let scopes: &[Scope] = match room.page {
        Page::Takes => &[Scope::Journal, Scope::Takes],
        _ => &[Scope::Journal],
    };
    let mut actions = row::pressed(ui, &ROWS, scopes, room, shell);
    if !(alone && room.in_take) {
        actions.extend(row::pressed(ui, &LEAPS, scopes, room, shell));
    }
    actions
}
