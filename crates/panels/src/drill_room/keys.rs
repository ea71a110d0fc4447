//! What the keys of the room ask for.

use super::limits::{may_count, may_pace, per_beats};
use super::{DrillAction, Phase, Sight};
use crate::keys::{self, Does, DrillKey, Place};
use coach::{Next, Pace};
use egui::Ui;

/// A step of the pace, in beats per minute.
const PACE_STEP: f64 = 2.0;

/// What the pressed keys ask for; they are used up.
pub fn pressed(ui: &Ui, sight: &Sight) -> Vec<DrillAction> {
    if sight.stand.leaf.is_some() {
        return Vec::new();
    }
    let place = match sight.room.phase() {
        Phase::Choosing => Place::Drills,
        Phase::Ready => Place::Ready,
        Phase::CountIn | Phase::Round => Place::Round,
        Phase::Findings => Place::Findings,
    };
    let map = &sight.stand.options().keys;
    keys::taken(ui, sight.stand, |key, repeat| {
        let Does::Drill(key) = map.at(place, key)? else {
            return None;
        };
        let action = asked(key, sight)?;
        let again = matches!(action, DrillAction::Move(_) | DrillAction::Pace(_));
        Some((!repeat || again).then_some(action))
    })
}

fn asked(key: DrillKey, sight: &Sight) -> Option<DrillAction> {
    let room = sight.room;
    Some(match key {
        DrillKey::Move(down) => DrillAction::Move(if down { 1 } else { -1 }),
        DrillKey::Open => DrillAction::Choose(room.cursor()),
        DrillKey::Reread => DrillAction::Reread,
        DrillKey::Start | DrillKey::Again => DrillAction::Ready,
        DrillKey::Stop => DrillAction::Stop,
        DrillKey::On => level(sight).map_or(DrillAction::Ready, DrillAction::Level),
        DrillKey::Level(up) => {
            let (below, above) = room.levels();
            DrillAction::Level(if up { above? } else { below? })
        }
        DrillKey::Rested => DrillAction::Rested,
        DrillKey::Report => room.round_take.as_ref().map(|_| DrillAction::Report)?,
        DrillKey::Back => DrillAction::Back,
        DrillKey::Showing => DrillAction::Showing,
        DrillKey::Pace(_) | DrillKey::PerBeat(_) => paced(key, sight)?,
        DrillKey::Count(up) => {
            let drill = room.drill()?;
            let first = *room.fingers().first()?;
            let count = drill.oscillations(first).filter(|_| may_count(drill))?;
            DrillAction::Count(if up { count + 1 } else { count.saturating_sub(1) })
        }
        DrillKey::Click => DrillAction::Click(!room.click()),
        DrillKey::Guide => DrillAction::Guide(!room.guided()),
        DrillKey::FreePace => DrillAction::FreePace(room.drill()?.pace != Pace::Free),
        DrillKey::Calibrate => DrillAction::Calibrate,
        DrillKey::DropFinger => {
            let fingers = &room.practice()?.place().fingers;
            let shorter = fingers[..fingers.len().saturating_sub(1)].to_vec();
            (!shorter.is_empty()).then_some(DrillAction::Fingers(shorter))?
        }
        DrillKey::Finger(finger) => {
            let place = room.practice()?.place();
            let mut fingers = place.fingers.clone();
            fingers.push(finger);
            place.hand.contains_key(&finger).then_some(DrillAction::Fingers(fingers))?
        }
    })
}

/// Another beat, or another number of oscillations on each.
fn paced(key: DrillKey, sight: &Sight) -> Option<DrillAction> {
    let drill = sight.room.drill()?;
    let Pace::Beat { bpm, per_beat } = drill.pace else {
        return None;
    };
    match key {
        DrillKey::Pace(up) => {
            let by = if up { PACE_STEP } else { -PACE_STEP };
            may_pace(drill).then_some(DrillAction::Pace(bpm + by))
        }
        DrillKey::PerBeat(up) => {
            let all = per_beats(drill);
            let here = all.iter().position(|each| *each == per_beat)?;
            let to = if up { here + 1 } else { here.checked_sub(1)? };
            all.get(to).copied().map(DrillAction::PerBeat)
        }
        _ => None,
    }
}

/// The level that the ladder goes to by itself, if it does.
pub fn level(sight: &Sight) -> Option<f64> {
    match sight.room.next()? {
        Next::Up(level) | Next::Down(level) => Some(level),
        Next::Stay(_) => None,
    }
}
