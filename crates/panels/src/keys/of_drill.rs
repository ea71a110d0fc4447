//! The commands of the room Drill.

use super::{Does, Entry, Place};
use egui::Key;

/// What a key does in the room Drill.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum DrillKey {
    /// The drill below, or above if `false`.
    Move(bool),
    /// Open the drill.
    Open,
    /// Read the drills anew.
    Reread,
    /// Start a round.
    Start,
    /// Stop it.
    Stop,
    /// Another one.
    Again,
    /// On to the next level, if the ladder goes there.
    On,
    /// The level above, or below if `false`.
    Level(bool),
    /// The player has rested.
    Rested,
    /// A report of the round.
    Report,
    /// Back to the list.
    Back,
    /// The next way of showing.
    Showing,
    /// A faster beat, or a slower one if `false`.
    Pace(bool),
    /// More oscillations a beat, or fewer if `false`.
    PerBeat(bool),
    /// More oscillations for each finger, or fewer if `false`.
    Count(bool),
    /// The click, on or off.
    Click,
    /// The guide tone, on or off.
    Guide,
    /// A pace of one's own, or the beat again.
    FreePace,
    /// Measure the delay from loudspeaker to microphone.
    Calibrate,
    /// Leave out the last finger.
    DropFinger,
    /// Add this finger; 0 is the thumb.
    Finger(u8),
}

const LIST: &[Place] = &[Place::Drills];
const READY: &[Place] = &[Place::Ready];
const ROUND: &[Place] = &[Place::Round];
const FINDINGS: &[Place] = &[Place::Findings];
const AROUND: &[Place] = &[Place::Ready, Place::Findings];
const OPENED: &[Place] = &[Place::Ready, Place::Round, Place::Findings];

const fn of(
    places: &'static [Place],
    key: DrillKey,
    name: &'static str,
    said: &'static str,
    keys: &'static [Key],
) -> Entry {
    Entry {
        places,
        does: Does::Drill(key),
        name,
        said,
        keys,
    }
}

/// In the order they are listed.
pub const ENTRIES: [Entry; 30] = [
    of(
        LIST,
        DrillKey::Move(true),
        "drill-below",
        "the drill below",
        &[Key::ArrowRight, Key::PageDown, Key::ArrowDown],
    ),
    of(
        LIST,
        DrillKey::Move(false),
        "drill-above",
        "the drill above",
        &[Key::ArrowLeft, Key::PageUp, Key::ArrowUp],
    ),
    of(
        LIST,
        DrillKey::Open,
        "drill-open",
        "open the drill",
        &[Key::Space, Key::Enter],
    ),
    of(
        LIST,
        DrillKey::Reread,
        "drill-reread",
        "read the files of drills anew",
        &[Key::R],
    ),
    of(
        READY,
        DrillKey::Start,
        "drill-start",
        "start a round",
        &[Key::PageDown, Key::Space, Key::Enter],
    ),
    of(
        ROUND,
        DrillKey::Stop,
        "drill-stop",
        "stop the round",
        &[
            Key::PageUp,
            Key::PageDown,
            Key::Enter,
            Key::Escape,
            Key::Space,
        ],
    ),
    of(
        FINDINGS,
        DrillKey::Again,
        "drill-again",
        "another round",
        &[Key::Space, Key::Enter],
    ),
    of(
        FINDINGS,
        DrillKey::On,
        "drill-on",
        "go on: the next level, or another round",
        &[Key::PageDown],
    ),
    of(
        FINDINGS,
        DrillKey::Level(true),
        "drill-level-up",
        "the level above",
        &[Key::ArrowRight],
    ),
    of(
        FINDINGS,
        DrillKey::Level(false),
        "drill-level-down",
        "the level below",
        &[Key::ArrowLeft],
    ),
    of(
        FINDINGS,
        DrillKey::Rested,
        "drill-rested",
        "I have rested",
        &[Key::R],
    ),
    of(
        FINDINGS,
        DrillKey::Report,
        "drill-report",
        "a report of the round",
        &[Key::X],
    ),
    of(
        AROUND,
        DrillKey::Back,
        "drill-back",
        "back to the list",
        &[Key::Escape, Key::PageUp],
    ),
    of(
        OPENED,
        DrillKey::Showing,
        "drill-showing",
        "show live, after the turn or after the round",
        &[Key::V],
    ),
    of(
        READY,
        DrillKey::Pace(true),
        "drill-faster",
        "a faster beat",
        &[Key::ArrowUp],
    ),
    of(
        READY,
        DrillKey::Pace(false),
        "drill-slower",
        "a slower beat",
        &[Key::ArrowDown],
    ),
    of(
        READY,
        DrillKey::PerBeat(true),
        "drill-more-a-beat",
        "more oscillations a beat",
        &[Key::ArrowRight],
    ),
    of(
        READY,
        DrillKey::PerBeat(false),
        "drill-fewer-a-beat",
        "fewer oscillations a beat",
        &[Key::ArrowLeft],
    ),
    of(
        READY,
        DrillKey::Count(true),
        "drill-count-up",
        "more oscillations for each finger",
        &[Key::Equals, Key::Plus],
    ),
    of(
        READY,
        DrillKey::Count(false),
        "drill-count-down",
        "fewer oscillations for each finger",
        &[Key::Minus],
    ),
    of(
        READY,
        DrillKey::Click,
        "drill-click",
        "click on or off",
        &[Key::C],
    ),
    of(
        READY,
        DrillKey::Guide,
        "drill-guide",
        "guide tone on or off",
        &[Key::G],
    ),
    of(
        READY,
        DrillKey::FreePace,
        "drill-free-pace",
        "a pace of one's own, or the beat again",
        &[Key::P],
    ),
    of(
        READY,
        DrillKey::Calibrate,
        "drill-calibrate",
        "measure the delay from loudspeaker to microphone",
        &[Key::K],
    ),
    of(
        READY,
        DrillKey::DropFinger,
        "drill-drop-finger",
        "leave out the last finger",
        &[Key::Backspace],
    ),
    of(
        READY,
        DrillKey::Finger(0),
        "drill-thumb",
        "add the thumb",
        &[Key::Num0],
    ),
    of(
        READY,
        DrillKey::Finger(1),
        "drill-finger-1",
        "add the first finger",
        &[Key::Num1],
    ),
    of(
        READY,
        DrillKey::Finger(2),
        "drill-finger-2",
        "add the second finger",
        &[Key::Num2],
    ),
    of(
        READY,
        DrillKey::Finger(3),
        "drill-finger-3",
        "add the third finger",
        &[Key::Num3],
    ),
    of(
        READY,
        DrillKey::Finger(4),
        "drill-finger-4",
        "add the fourth finger",
        &[Key::Num4],
    ),
];
