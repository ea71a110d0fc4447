//! The commands of the room.

use super::limits::{may_be_free, may_count, may_pace, per_beats};
use super::{DrillAction, DrillRoom};
use crate::shell::Shell;
use crate::shell::keys::Scope;
use crate::shell::row::Row;
use crate::widgets::button_row::Label;
use coach::{FindingKind, Next, Pace, Showing};
use egui::Key;

type DrillRow = Row<DrillRoom, DrillAction>;

const LIST: &[Scope] = &[Scope::Drills];
const READY: &[Scope] = &[Scope::Ready];
const ROUND: &[Scope] = &[Scope::Round];
const FINDINGS: &[Scope] = &[Scope::Findings];
const AROUND: &[Scope] = &[Scope::Ready, Scope::Findings];
const BEFORE: &[Scope] = &[Scope::Ready, Scope::Round];

/// A step of the pace, in beats per minute.
const PACE_STEP_BPM: f64 = 2.0;

/// In the order they are listed, and their buttons stand.
pub(crate) static ROWS: [DrillRow; 32] = [
    DrillRow::new(
        "drill-below",
        LIST,
        &[Key::ArrowRight, Key::PageDown, Key::ArrowDown],
        "the drill below",
        |_, _| Some(DrillAction::Move(1)),
    )
    .repeats(),
    DrillRow::new(
        "drill-above",
        LIST,
        &[Key::ArrowLeft, Key::PageUp, Key::ArrowUp],
        "the drill above",
        |_, _| Some(DrillAction::Move(-1)),
    )
    .repeats(),
    DrillRow::new("drill-open", LIST, &[Key::Space, Key::Enter], "open the drill", |room, _| {
        (!room.drills().is_empty()).then(|| DrillAction::Choose(room.cursor()))
    })
    .button(|_, _| Some(Label::new("open").first())),
    DrillRow::new("drill-reread", LIST, &[Key::R], "read the files of drills anew", |_, _| {
        Some(DrillAction::Reread)
    })
    .button(|_, _| Some(Label::new("read the files anew"))),
    DrillRow::new(
        "drill-start",
        READY,
        &[Key::PageDown, Key::Space, Key::Enter],
        "start a round",
        |_, _| Some(DrillAction::Ready),
    )
    .button(|_, _| Some(Label::new("start").first())),
    DrillRow::new(
        "drill-stop",
        ROUND,
        &[Key::PageUp, Key::PageDown, Key::Enter, Key::Escape, Key::Space],
        "stop the round",
        |_, _| Some(DrillAction::Stop),
    )
    .button(|_, _| Some(Label::new("stop").first())),
    DrillRow::new(
        "drill-bring-back",
        BEFORE,
        &[Key::K],
        "judge what did not sound bowed",
        |room, _| room.has_set_aside().then_some(DrillAction::BringBack),
    )
    .button(|_, _| Some(Label::new("judge it").named("judge the last sound all the same"))),
    DrillRow::new("drill-again", FINDINGS, &[Key::Space, Key::Enter], "another round", |_, _| {
        Some(DrillAction::Ready)
    })
    .button(|_, _| Some(Label::new("again").first())),
    DrillRow::new(
        "drill-on",
        FINDINGS,
        &[Key::PageDown],
        "go on: the next level, or another round",
        |room, _| Some(level(room).map_or(DrillAction::Ready, DrillAction::Level)),
    )
    .button(|room, _| {
        let name = format!("go to {:.0} beats a minute", level(room)?);
        Some(Label::new(format!("on to {:.0}", level(room)?)).named(name))
    }),
    // Where the ladder goes on by itself there is a button for that.
    DrillRow::new("drill-level-down", FINDINGS, &[Key::ArrowLeft], "the level below", |room, _| {
        room.levels().0.map(DrillAction::Level)
    })
    .button(|room, _| match (level(room), room.levels()) {
        (None, (Some(below), Some(_))) => Some(Label::new(format!("down to {below:.0}"))),
        _ => None,
    }),
    DrillRow::new("drill-level-up", FINDINGS, &[Key::ArrowRight], "the level above", |room, _| {
        room.levels().1.map(DrillAction::Level)
    })
    .button(|room, _| match (level(room), room.levels().1) {
        (None, Some(above)) => Some(Label::new(format!("up to {above:.0}"))),
        _ => None,
    }),
    DrillRow::new("drill-rested", FINDINGS, &[Key::R], "I have rested", |_, _| {
        Some(DrillAction::Rested)
    })
    .button(|room, _| tires(room).then(|| Label::new("I have rested"))),
    DrillRow::new("drill-report", FINDINGS, &[Key::X], "a report of the round", |room, _| {
        room.round_take.as_ref().map(|_| DrillAction::Report)
    })
    .button(|_, _| Some(Label::new("report"))),
    DrillRow::new("drill-click", READY, &[Key::C], "click on or off", |room, _| {
        Some(DrillAction::Click(!room.click()))
    })
    .button(|room, _| has_beat(room).then(|| Label::new("click").switch(room.click()))),
    DrillRow::new("drill-guide", READY, &[Key::G], "guide tone on or off", |room, _| {
        Some(DrillAction::Guide(!room.guided()))
    })
    .button(|room, _| has_beat(room).then(|| Label::new("guide tone").switch(room.guided()))),
    DrillRow::new(
        "drill-free-pace",
        READY,
        &[Key::P],
        "a pace of one's own, or the beat again",
        |room, _| Some(DrillAction::FreePace(room.drill()?.pace != Pace::Free)),
    )
    .button(|room, _| {
        may_be_free(room.drill()?).then(|| Label::new("free pace").switch(!has_beat(room)))
    }),
    DrillRow::new(
        "drill-showing",
        BEFORE,
        &[Key::V],
        "show live, after each note or after the round",
        |_, _| Some(DrillAction::Showing),
    )
    .button(|_, shell| Some(showing(shell))),
    DrillRow::new(
        "drill-all-measures",
        FINDINGS,
        &[Key::V],
        "all measures, or what matters most",
        |_, _| Some(DrillAction::AllMeasures),
    )
    .button(|room, _| Some(Label::new("all measures").switch(room.all_measures()))),
    DrillRow::new("drill-back", AROUND, &[Key::Escape, Key::PageUp], "back to the list", |_, _| {
        Some(DrillAction::Back)
    })
    .button(|_, _| Some(Label::new("back"))),
    FASTER,
    SLOWER,
    MORE_A_BEAT,
    FEWER_A_BEAT,
    COUNT_UP,
    COUNT_DOWN,
    CALIBRATE,
    DrillRow::new(
        "drill-drop-finger",
        READY,
        &[Key::Backspace],
        "remove the last finger",
        |room, _| {
            let (_, fingers) = room.practice()?.place().fingers.split_last()?;
            (!fingers.is_empty()).then(|| DrillAction::Fingers(fingers.to_vec()))
        },
    ),
    DrillRow::new("drill-thumb", READY, &[Key::Num0], "add the thumb", |room, _| {
        with_finger(room, 0)
    }),
    DrillRow::new("drill-finger-1", READY, &[Key::Num1], "add the first finger", |room, _| {
        with_finger(room, 1)
    }),
    DrillRow::new("drill-finger-2", READY, &[Key::Num2], "add the second finger", |room, _| {
        with_finger(room, 2)
    }),
    DrillRow::new("drill-finger-3", READY, &[Key::Num3], "add the third finger", |room, _| {
        with_finger(room, 3)
    }),
    DrillRow::new("drill-finger-4", READY, &[Key::Num4], "add the fourth finger", |room, _| {
        with_finger(room, 4)
    }),
];

/// A faster beat.
pub(crate) const FASTER: DrillRow =
    DrillRow::new("drill-faster", READY, &[Key::ArrowUp], "a faster beat", |room, _| {
        paced(room, PACE_STEP_BPM)
    })
    .repeats();

/// A slower beat.
pub(crate) const SLOWER: DrillRow =
    DrillRow::new("drill-slower", READY, &[Key::ArrowDown], "a slower beat", |room, _| {
        paced(room, -PACE_STEP_BPM)
    })
    .repeats();

/// More oscillations on each beat.
pub(crate) const MORE_A_BEAT: DrillRow = DrillRow::new(
    "drill-more-a-beat",
    READY,
    &[Key::ArrowRight],
    "more oscillations a beat",
    |room, _| beat_parted(room, 1),
);

/// Fewer of them.
pub(crate) const FEWER_A_BEAT: DrillRow = DrillRow::new(
    "drill-fewer-a-beat",
    READY,
    &[Key::ArrowLeft],
    "fewer oscillations a beat",
    |room, _| beat_parted(room, -1),
);

/// More oscillations for each finger.
pub(crate) const COUNT_UP: DrillRow = DrillRow::new(
    "drill-count-up",
    READY,
    &[Key::Equals, Key::Plus],
    "more oscillations for each finger",
    |room, _| Some(DrillAction::Count(count(room)? + 1)),
);

/// Fewer of them.
pub(crate) const COUNT_DOWN: DrillRow = DrillRow::new(
    "drill-count-down",
    READY,
    &[Key::Minus],
    "fewer oscillations for each finger",
    |room, _| Some(DrillAction::Count(count(room)?.saturating_sub(1))),
);

/// Measure the delay from loudspeaker to microphone.
pub(crate) const CALIBRATE: DrillRow = DrillRow::new(
    "drill-calibrate",
    READY,
    &[Key::D],
    "measure the delay from loudspeaker to microphone",
    |_, _| Some(DrillAction::Calibrate),
)
.page_button(|_, _| Some(Label::new("Measure it").named("measure the delay")));

/// The level that the ladder goes to by itself, if it does.
fn level(room: &DrillRoom) -> Option<f64> {
    match room.next()? {
        Next::Up(level) | Next::Down(level) => Some(level),
        Next::Stay(_) => None,
    }
}

fn tires(room: &DrillRoom) -> bool {
    room.judged().is_some_and(|round| {
        let mut kinds = round.findings.iter().map(|finding| finding.kind);
        kinds.any(|kind| matches!(kind, FindingKind::Rest | FindingKind::Tiring))
    })
}

fn has_beat(room: &DrillRoom) -> bool {
    room.drill().is_some_and(|drill| drill.pace != Pace::Free)
}

fn showing(shell: &Shell) -> Label {
    let words = match shell.options().showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the note",
        Showing::AfterRound => "after the round",
    };
    Label::new(words).longest("after the round").named(format!("way of showing: {words}"))
}

fn paced(room: &DrillRoom, by_bpm: f64) -> Option<DrillAction> {
    let drill = room.drill().filter(|drill| may_pace(drill))?;
    let Pace::Beat { bpm, .. } = drill.pace else {
        return None;
    };
    Some(DrillAction::Pace(bpm + by_bpm))
}

/// So many steps further among the numbers of oscillations that may fall on a beat.
fn beat_parted(room: &DrillRoom, by: isize) -> Option<DrillAction> {
    let drill = room.drill()?;
    let Pace::Beat { per_beat, .. } = drill.pace else {
        return None;
    };
    let all = per_beats(drill);
    let here = all.iter().position(|each| *each == per_beat)?;
    all.get(here.checked_add_signed(by)?).copied().map(DrillAction::PerBeat)
}

/// The oscillations of the first turn, where they can be changed.
fn count(room: &DrillRoom) -> Option<u32> {
    room.drill().filter(|drill| may_count(drill))?.oscillations(*room.fingers().first()?)
}

/// The fingers of now and one more, if it has a note here.
fn with_finger(room: &DrillRoom, finger: u8) -> Option<DrillAction> {
    let place = room.practice()?.place();
    let fingers = [&place.fingers[..], &[finger]].concat();
    place.hand.contains_key(&finger).then_some(DrillAction::Fingers(fingers))
}
