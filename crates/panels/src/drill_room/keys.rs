//! The keys of the room: all that is needed while playing lies on those a pedal can send.

use super::limits::{may_count, may_pace, per_beats};
use super::{DrillAction, Phase, Sight};
use crate::keys;
use coach::{Next, Pace};
use egui::{Key, Ui};

/// A step of the pace, in beats per minute.
const PACE_STEP: f64 = 2.0;
/// The digits, in order.
const DIGITS: [Key; 10] = [
    Key::Num0,
    Key::Num1,
    Key::Num2,
    Key::Num3,
    Key::Num4,
    Key::Num5,
    Key::Num6,
    Key::Num7,
    Key::Num8,
    Key::Num9,
];

/// What the pressed keys ask for; they are used up.
pub fn pressed(ui: &Ui, sight: &Sight) -> Vec<DrillAction> {
    if sight.stand.leaf.is_some() {
        return Vec::new();
    }
    keys::taken(ui, sight.stand, |key, repeat| {
        let action = asked(key, sight)?;
        let again = matches!(action, DrillAction::Move(_) | DrillAction::Pace(_));
        Some((!repeat || again).then_some(action))
    })
}

fn asked(key: Key, sight: &Sight) -> Option<DrillAction> {
    let room = sight.room;
    match (room.phase(), key) {
        (Phase::Choosing, Key::PageDown | Key::ArrowDown | Key::ArrowRight) => {
            Some(DrillAction::Move(1))
        }
        (Phase::Choosing, Key::PageUp | Key::ArrowUp | Key::ArrowLeft) => {
            Some(DrillAction::Move(-1))
        }
        (Phase::Choosing, Key::Enter | Key::Space) => Some(DrillAction::Choose(room.cursor())),
        (Phase::Choosing, Key::R) => Some(DrillAction::Reread),
        (Phase::Ready, key) => ready(key, sight),
        (Phase::CountIn | Phase::Round, Key::Space | Key::Enter) => Some(DrillAction::Stop),
        (Phase::CountIn | Phase::Round, Key::PageUp | Key::PageDown | Key::Escape) => {
            Some(DrillAction::Stop)
        }
        (Phase::Findings, Key::Enter | Key::Space) => Some(DrillAction::Ready),
        (Phase::Findings, Key::PageDown) => Some(match level(sight) {
            Some(level) => DrillAction::Level(level),
            None => DrillAction::Ready,
        }),
        (Phase::Findings, Key::PageUp | Key::Escape) => Some(DrillAction::Back),
        (Phase::Findings, Key::ArrowRight) => room.levels().1.map(DrillAction::Level),
        (Phase::Findings, Key::ArrowLeft) => room.levels().0.map(DrillAction::Level),
        (Phase::Findings, Key::R) => Some(DrillAction::Rested),
        (Phase::CountIn | Phase::Round | Phase::Findings, Key::V) => Some(DrillAction::Showing),
        _ => None,
    }
}

fn ready(key: Key, sight: &Sight) -> Option<DrillAction> {
    let room = sight.room;
    let drill = room.drill()?;
    match key {
        Key::Enter | Key::Space | Key::PageDown => Some(DrillAction::Ready),
        Key::PageUp | Key::Escape => Some(DrillAction::Back),
        Key::ArrowUp | Key::ArrowDown => {
            let Pace::Beat { bpm, .. } = drill.pace else {
                return None;
            };
            let by = if key == Key::ArrowUp {
                PACE_STEP
            } else {
                -PACE_STEP
            };
            may_pace(drill).then_some(DrillAction::Pace(bpm + by))
        }
        Key::ArrowRight | Key::ArrowLeft => {
            let Pace::Beat { per_beat, .. } = drill.pace else {
                return None;
            };
            let all = per_beats(drill);
            let here = all.iter().position(|each| *each == per_beat)?;
            let to = if key == Key::ArrowRight {
                here + 1
            } else {
                here.checked_sub(1)?
            };
            all.get(to).copied().map(DrillAction::PerBeat)
        }
        Key::Plus | Key::Equals | Key::Minus => {
            let count = drill.oscillations().filter(|_| may_count(drill))?;
            let count = if key == Key::Minus {
                count.saturating_sub(1)
            } else {
                count + 1
            };
            Some(DrillAction::Count(count))
        }
        Key::C => Some(DrillAction::Click(!room.click())),
        Key::G => Some(DrillAction::Guide(!room.guided())),
        Key::P => Some(DrillAction::FreePace(drill.pace != Pace::Free)),
        Key::K => Some(DrillAction::Calibrate),
        Key::V => Some(DrillAction::Showing),
        Key::Backspace => {
            let fingers = &room.practice()?.place().fingers;
            let shorter = fingers[..fingers.len().saturating_sub(1)].to_vec();
            (!shorter.is_empty()).then_some(DrillAction::Fingers(shorter))
        }
        digit => {
            let finger = DIGITS.iter().position(|key| *key == digit)? as u8;
            let place = room.practice()?.place();
            let mut fingers = place.fingers.clone();
            fingers.push(finger);
            place
                .hand
                .contains_key(&finger)
                .then_some(DrillAction::Fingers(fingers))
        }
    }
}

/// The level that the ladder goes to by itself, if it does.
pub fn level(sight: &Sight) -> Option<f64> {
    match sight.room.next()? {
        Next::Up(level) | Next::Down(level) => Some(level),
        Next::Stay(_) => None,
    }
}
