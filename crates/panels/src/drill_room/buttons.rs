//! The buttons at the foot of the room.

use super::keys::level;
use super::limits::may_be_free;
use super::{DrillAction, Phase, Sight};
use crate::keys::DrillKey;
use crate::stand::Take;
use crate::widgets::button_row::Button;
use coach::{FindingKind, Pace, Showing};

/// The key of a button.
fn shown(sight: &Sight, key: DrillKey) -> &'static str {
    sight.stand.options().keys.shown(key).unwrap_or("")
}

/// The buttons of now.
pub fn buttons(sight: &Sight) -> Vec<Button<DrillAction>> {
    let key = |key: DrillKey| shown(sight, key);
    let room = sight.room;
    let showing = match sight.stand.options().showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the turn",
        Showing::AfterRound => "after the round",
    };
    let showing = Button::new(DrillAction::Showing, showing, key(DrillKey::Showing))
        .longest("after the round")
        .named(format!("way of showing: {showing}"));
    match room.phase() {
        Phase::Choosing => vec![
            Button::new(DrillAction::Choose(room.cursor()), "open", key(DrillKey::Open))
                .enabled(!room.drills().is_empty())
                .first(),
            Button::new(DrillAction::Reread, "read the files anew", key(DrillKey::Reread)),
        ],
        Phase::Ready => ready(sight, showing),
        Phase::CountIn | Phase::Round => {
            vec![Button::new(DrillAction::Stop, "stop", key(DrillKey::Stop)).first(), showing]
        }
        Phase::Findings => findings(sight),
    }
}

fn ready(sight: &Sight, showing: Button<DrillAction>) -> Vec<Button<DrillAction>> {
    let room = sight.room;
    let Some(drill) = room.drill() else {
        return Vec::new();
    };
    let key = |key: DrillKey| shown(sight, key);
    let free = drill.pace == Pace::Free;
    let mut all = vec![Button::new(DrillAction::Ready, "start", key(DrillKey::Start)).first()];
    if !free {
        let click = DrillAction::Click(!room.click());
        all.push(Button::new(click, "click", key(DrillKey::Click)).switch(room.click()));
        let guide = DrillAction::Guide(!room.guided());
        all.push(Button::new(guide, "guide tone", key(DrillKey::Guide)).switch(room.guided()));
    }
    if may_be_free(drill) {
        let action = DrillAction::FreePace(!free);
        all.push(Button::new(action, "free pace", key(DrillKey::FreePace)).switch(free));
    }
    all.push(showing);
    all.push(Button::new(DrillAction::Back, "back", key(DrillKey::Back)));
    all
}

fn findings(sight: &Sight) -> Vec<Button<DrillAction>> {
    let room = sight.room;
    let key = |key: DrillKey| shown(sight, key);
    let to_level = |level: f64, word: &str, by: DrillKey| {
        Button::new(DrillAction::Level(level), format!("{word} {level:.0}"), key(by))
    };
    let mut all = vec![Button::new(DrillAction::Ready, "again", key(DrillKey::Again)).first()];
    if let Some(level) = level(sight) {
        let name = format!("go to {level:.0} beats a minute");
        all.push(to_level(level, "on to", DrillKey::On).named(name));
    } else if let (below, Some(above)) = room.levels() {
        all.extend(below.map(|below| to_level(below, "down to", DrillKey::Level(false))));
        all.push(to_level(above, "up to", DrillKey::Level(true)));
    }
    let tires =
        |finding: &coach::Finding| matches!(finding.kind, FindingKind::Rest | FindingKind::Tiring);
    if room.judged().is_some_and(|round| round.findings.iter().any(tires)) {
        all.push(Button::new(DrillAction::Rested, "I have rested", key(DrillKey::Rested)));
    }
    let report = match (&room.round_take, sight.stand.take()) {
        (Some(_), _) => "report",
        (None, Take::Running) => "report: its take is still written",
        (None, _) => "report: no take was kept",
    };
    let button = Button::new(DrillAction::Report, report, key(DrillKey::Report));
    all.push(button.enabled(room.round_take.is_some()));
    all.push(Button::new(DrillAction::Back, "back", key(DrillKey::Back)));
    all
}
