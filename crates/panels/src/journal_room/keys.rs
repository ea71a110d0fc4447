//! What the keys of the room ask for.

use super::{Ask, JournalAction, JournalRoom, Page, Step};
use crate::keys::{self, Does, JournalKey, Place};
use crate::stand::Stand;
use egui::{Key, Ui};
use tuning::Secs;

/// A step along the take by the arrows.
const NUDGE: Secs = Secs(2.0);

/// What the pressed keys ask for; they are used up. `alone`: list and take do not stand beside each other.
pub fn pressed(ui: &Ui, room: &JournalRoom, stand: &Stand, alone: bool) -> Vec<JournalAction> {
    if stand.leaf.is_some() {
        return Vec::new();
    }
    let takes = room.page == Page::Takes;
    let map = &stand.options().keys;
    keys::taken(ui, stand, |key, repeat| {
        if room.asking.is_some() || room.unread_shown {
            return match key {
                Key::Escape => Some(Some(JournalAction::Answer(false))),
                // Nothing behind the question hears keys.
                _ => Some(None),
            };
        }
        let of_takes = || map.at(Place::Takes, key).filter(|_| takes);
        let Does::Journal(key) = map.at(Place::Journal, key).or_else(of_takes)? else {
            return None;
        };
        let again = matches!(
            key,
            JournalKey::Move(_) | JournalKey::Leap(_) | JournalKey::End(_) | JournalKey::Nudge(_)
        );
        let action = asked(key, room, alone)?;
        Some((!repeat || again).then_some(action))
    })
}

fn asked(key: JournalKey, room: &JournalRoom, alone: bool) -> Option<JournalAction> {
    let step =
        |onward: bool, on: Step, back: Step| JournalAction::Step(if onward { on } else { back });
    let played = || Some(&room.opened.as_ref()?.played);
    Some(match key {
        JournalKey::Page(place) => JournalAction::Page(*Page::ALL.get(place)?),
        JournalKey::Filter => JournalAction::ShowFilter(!room.filter_shown),
        JournalKey::Back if room.filter_shown => JournalAction::ShowFilter(false),
        JournalKey::Back if room.page == Page::Takes && room.in_take => JournalAction::Back,
        JournalKey::Back => return None,
        // They turn the pages of what is seen alone.
        JournalKey::Leap(_) if alone && room.in_take => return None,
        JournalKey::Move(onward) => step(onward, Step::Down, Step::Up),
        JournalKey::Leap(onward) => step(onward, Step::PageDown, Step::PageUp),
        JournalKey::End(onward) => step(onward, Step::Last, Step::First),
        JournalKey::Nudge(onward) => {
            JournalAction::Nudge(Secs(if onward { NUDGE.0 } else { -NUDGE.0 }))
        }
        JournalKey::Open => JournalAction::Open,
        JournalKey::Play => JournalAction::Play,
        JournalKey::PartFrom => JournalAction::PartFromHere,
        JournalKey::PartTo => JournalAction::PartToHere,
        JournalKey::Loop => JournalAction::Loop(!played()?.looped),
        JournalKey::Half => JournalAction::HalfSpeed(!played()?.half),
        JournalKey::Keep => JournalAction::Keep,
        JournalKey::Report => room.report().map(|_| JournalAction::Report)?,
        JournalKey::Compare => JournalAction::Compare,
        JournalKey::Delete => JournalAction::Ask(Ask::Delete(room.chosen.clone()?)),
    })
}
