//! The commands of the room Journal.

use super::{Does, Entry, Place, of};
use egui::Key;

/// What a key does in the room Journal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum JournalKey {
    /// The page in this place, from 0.
    Page(usize),
    /// Show or hide the filter.
    Filter,
    /// A report of the take, or of the weeks.
    Report,
    /// Back from the filter, or from a take.
    Back,
    /// The take below in the list, or above if `false`.
    Move(bool),
    /// So many below, or above if `false`.
    Leap(bool),
    /// The last of the list, or the first if `false`.
    End(bool),
    /// Open the take.
    Open,
    /// Play it, or stop.
    Play,
    /// A little later in it, or earlier if `false`.
    Nudge(bool),
    /// A part begins here.
    PartFrom,
    /// It ends here.
    PartTo,
    /// Play the part again and again, or once.
    Loop,
    /// Half speed, or full.
    Half,
    /// Keep it for ever, or not.
    Keep,
    /// Compare it.
    Compare,
    /// Delete it.
    Delete,
}

const JOURNAL: &[Place] = &[Place::Journal];
const TAKES: &[Place] = &[Place::Takes];

/// In the order they are listed.
pub const ENTRIES: [Entry; 25] = [
    of(JOURNAL, Does::Journal(JournalKey::Page(0)), "journal-takes", "the takes", &[Key::Num1]),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Page(1)),
        "journal-trends",
        "trends over weeks",
        &[Key::Num2],
    ),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Page(2)),
        "journal-minutes",
        "minutes of practice",
        &[Key::Num3],
    ),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Page(3)),
        "journal-two-takes",
        "two takes beside each other",
        &[Key::Num4],
    ),
    of(JOURNAL, Does::Journal(JournalKey::Page(4)), "journal-players", "the players", &[Key::Num5]),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Filter),
        "journal-filter",
        "show or hide the filter",
        &[Key::Slash],
    ),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Report),
        "journal-report",
        "a report of the take, or of the weeks",
        &[Key::X],
    ),
    of(
        JOURNAL,
        Does::Journal(JournalKey::Back),
        "journal-back",
        "back from the filter or from a take",
        &[Key::Escape],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Move(false)),
        "journal-above",
        "the take above",
        &[Key::ArrowUp],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Move(true)),
        "journal-below",
        "the take below",
        &[Key::ArrowDown],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Leap(false)),
        "journal-page-up",
        "a page of takes up",
        &[Key::PageUp],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Leap(true)),
        "journal-page-down",
        "a page of takes down",
        &[Key::PageDown],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::End(false)),
        "journal-first",
        "the first of the list",
        &[Key::Home],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::End(true)),
        "journal-last",
        "the last of the list",
        &[Key::End],
    ),
    of(TAKES, Does::Journal(JournalKey::Open), "journal-open", "open the take", &[Key::Enter]),
    of(TAKES, Does::Journal(JournalKey::Play), "journal-play", "play it, or stop", &[Key::Space]),
    of(
        TAKES,
        Does::Journal(JournalKey::Nudge(false)),
        "journal-earlier",
        "a little earlier in it",
        &[Key::ArrowLeft],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Nudge(true)),
        "journal-later",
        "a little later in it",
        &[Key::ArrowRight],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::PartFrom),
        "journal-part-from",
        "a part begins here",
        &[Key::OpenBracket],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::PartTo),
        "journal-part-to",
        "the part ends here",
        &[Key::CloseBracket],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Loop),
        "journal-loop",
        "play the part again and again, or once",
        &[Key::R],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Half),
        "journal-half-speed",
        "half speed, or full",
        &[Key::H],
    ),
    of(
        TAKES,
        Does::Journal(JournalKey::Keep),
        "journal-keep",
        "keep it for ever, or not",
        &[Key::K],
    ),
    of(TAKES, Does::Journal(JournalKey::Compare), "journal-compare", "compare it", &[Key::C]),
    of(TAKES, Does::Journal(JournalKey::Delete), "journal-delete", "delete it", &[Key::Delete]),
];
