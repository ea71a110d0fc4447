//! The buttons at the foot of the room.

use super::keys::level;
use super::limits::may_be_free;
use super::{DrillAction, Phase, Sight};
use crate::foot::Button;
use coach::{FindingKind, Pace, Showing};

/// The buttons of now.
pub fn buttons(sight: &Sight) -> Vec<Button<DrillAction>> {
    let room = sight.room;
    let showing = match sight.stand.options().showing {
        Showing::Live => "live",
        Showing::AfterNote => "after the turn",
        Showing::AfterRound => "after the round",
    };
    let showing = Button::new(DrillAction::Showing, showing, "V")
        .longest("after the round")
        .named(format!("way of showing: {showing}"));
    match room.phase() {
        Phase::Choosing => vec![
            Button::new(DrillAction::Choose(room.cursor()), "open", "Enter")
                .enabled(!room.drills().is_empty())
                .first(),
            Button::new(DrillAction::Reread, "read the files anew", "R"),
        ],
        Phase::Ready => ready(sight, showing),
        Phase::CountIn | Phase::Round => {
            vec![
                Button::new(DrillAction::Stop, "stop", "Space").first(),
                showing,
            ]
        }
        Phase::Findings => findings(sight),
    }
}

fn ready(sight: &Sight, showing: Button<DrillAction>) -> Vec<Button<DrillAction>> {
    let room = sight.room;
    let Some(drill) = room.drill() else {
        return Vec::new();
    };
    let free = drill.pace == Pace::Free;
    let mut all = vec![Button::new(DrillAction::Ready, "start", "Enter").first()];
    if !free {
        let click = DrillAction::Click(!room.click());
        all.push(Button::new(click, "click", "C").switch(room.click()));
        let guide = DrillAction::Guide(!room.guided());
        all.push(Button::new(guide, "guide tone", "G").switch(room.guided()));
    }
    if may_be_free(drill) {
        let action = DrillAction::FreePace(!free);
        all.push(Button::new(action, "free pace", "P").switch(free));
    }
    all.push(showing);
    all.push(Button::new(DrillAction::Back, "back", "Page Up"));
    all
}

fn findings(sight: &Sight) -> Vec<Button<DrillAction>> {
    let room = sight.room;
    let to_level = |level: f64, word: &str, key| {
        Button::new(DrillAction::Level(level), format!("{word} {level:.0}"), key)
    };
    let mut all = vec![Button::new(DrillAction::Ready, "again", "Enter").first()];
    if let Some(level) = level(sight) {
        let name = format!("go to {level:.0} beats a minute");
        all.push(to_level(level, "on to", "Page Down").named(name));
    } else if let (below, Some(above)) = room.levels() {
        all.extend(below.map(|below| to_level(below, "down to", "Left")));
        all.push(to_level(above, "up to", "Right"));
    }
    let tires =
        |finding: &coach::Finding| matches!(finding.kind, FindingKind::Rest | FindingKind::Tiring);
    if room
        .judged()
        .is_some_and(|round| round.findings.iter().any(tires))
    {
        all.push(Button::new(DrillAction::Rested, "I have rested", "R"));
    }
    all.push(Button::new(DrillAction::Back, "back", "Page Up"));
    all
}
