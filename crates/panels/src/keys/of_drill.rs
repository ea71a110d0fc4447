//! The commands of the room Drill.

use super::{Does, Entry, Place, of};
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

/// In the order they are listed.
pub const ENTRIES: [Entry; 30] = [
    of(
        LIST,
        Does::Drill(DrillKey::Move(true)),
        "drill-below",
        "the drill below",
        &[Key::ArrowRight, Key::PageDown, Key::ArrowDown],
    ),
    of(
        LIST,
        Does::Drill(DrillKey::Move(false)),
        "drill-above",
        "the drill above",
        &[Key::ArrowLeft, Key::PageUp, Key::ArrowUp],
    ),
    of(
        LIST,
        Does::Drill(DrillKey::Open),
        "drill-open",
        "open the drill",
        &[Key::Space, Key::Enter],
    ),
    of(
        LIST,
        Does::Drill(DrillKey::Reread),
        "drill-reread",
        "read the files of drills anew",
        &[Key::R],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Start),
        "drill-start",
        "start a round",
        &[Key::PageDown, Key::Space, Key::Enter],
    ),
    of(
        ROUND,
        Does::Drill(DrillKey::Stop),
        "drill-stop",
        "stop the round",
        &[Key::PageUp, Key::PageDown, Key::Enter, Key::Escape, Key::Space],
    ),
    of(
        FINDINGS,
        Does::Drill(DrillKey::Again),
        "drill-again",
        "another round",
        &[Key::Space, Key::Enter],
    ),
    of(
        FINDINGS,
        Does::Drill(DrillKey::On),
        "drill-on",
        "go on: the next level, or another round",
        &[Key::PageDown],
    ),
    of(
        FINDINGS,
        Does::Drill(DrillKey::Level(true)),
        "drill-level-up",
        "the level above",
        &[Key::ArrowRight],
    ),
    of(
        FINDINGS,
        Does::Drill(DrillKey::Level(false)),
        "drill-level-down",
        "the level below",
        &[Key::ArrowLeft],
    ),
    of(FINDINGS, Does::Drill(DrillKey::Rested), "drill-rested", "I have rested", &[Key::R]),
    of(FINDINGS, Does::Drill(DrillKey::Report), "drill-report", "a report of the round", &[Key::X]),
    of(
        AROUND,
        Does::Drill(DrillKey::Back),
        "drill-back",
        "back to the list",
        &[Key::Escape, Key::PageUp],
    ),
    of(
        OPENED,
        Does::Drill(DrillKey::Showing),
        "drill-showing",
        "show live, after the turn or after the round",
        &[Key::V],
    ),
    of(READY, Does::Drill(DrillKey::Pace(true)), "drill-faster", "a faster beat", &[Key::ArrowUp]),
    of(
        READY,
        Does::Drill(DrillKey::Pace(false)),
        "drill-slower",
        "a slower beat",
        &[Key::ArrowDown],
    ),
    of(
        READY,
        Does::Drill(DrillKey::PerBeat(true)),
        "drill-more-a-beat",
        "more oscillations a beat",
        &[Key::ArrowRight],
    ),
    of(
        READY,
        Does::Drill(DrillKey::PerBeat(false)),
        "drill-fewer-a-beat",
        "fewer oscillations a beat",
        &[Key::ArrowLeft],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Count(true)),
        "drill-count-up",
        "more oscillations for each finger",
        &[Key::Equals, Key::Plus],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Count(false)),
        "drill-count-down",
        "fewer oscillations for each finger",
        &[Key::Minus],
    ),
    of(READY, Does::Drill(DrillKey::Click), "drill-click", "click on or off", &[Key::C]),
    of(READY, Does::Drill(DrillKey::Guide), "drill-guide", "guide tone on or off", &[Key::G]),
    of(
        READY,
        Does::Drill(DrillKey::FreePace),
        "drill-free-pace",
        "a pace of one's own, or the beat again",
        &[Key::P],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Calibrate),
        "drill-calibrate",
        "measure the delay from loudspeaker to microphone",
        &[Key::K],
    ),
    of(
        READY,
        Does::Drill(DrillKey::DropFinger),
        "drill-drop-finger",
        "leave out the last finger",
        &[Key::Backspace],
    ),
    of(READY, Does::Drill(DrillKey::Finger(0)), "drill-thumb", "add the thumb", &[Key::Num0]),
    of(
        READY,
        Does::Drill(DrillKey::Finger(1)),
        "drill-finger-1",
        "add the first finger",
        &[Key::Num1],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Finger(2)),
        "drill-finger-2",
        "add the second finger",
        &[Key::Num2],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Finger(3)),
        "drill-finger-3",
        "add the third finger",
        &[Key::Num3],
    ),
    of(
        READY,
        Does::Drill(DrillKey::Finger(4)),
        "drill-finger-4",
        "add the fourth finger",
        &[Key::Num4],
    ),
];
