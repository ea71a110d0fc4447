//! Whether all of the room has its place, in every state and size.

use super::scene::Scene;
use crate::places::{State, check};
use panels::passage_room::{Pass, PassageAction, PlanAction};

#[test]
fn all_of_the_passage_has_its_place_in_every_state_and_size() {
    let mut walked = Scene::judged(Pass::AtTempo);
    let found = walked.clone();
    walked.apply(PassageAction::Walk(1));
    let (edited, mut head) = (Scene::edited(), Scene::edited());
    head.apply(PassageAction::Plan(PlanAction::Head));
    let mut refused = Scene::begun();
    refused.apply(PassageAction::Plan(PlanAction::Digit(7)));
    let mut counted = Scene::open();
    counted.apply(PassageAction::Free(false));
    let ready = counted.clone();
    counted.apply(PassageAction::Start);
    let mut asked = Scene::judged(Pass::Unseen);
    asked.apply(PassageAction::Walk(1));
    let mut answered = asked.clone();
    answered.apply(PassageAction::Answer(Some(0)));
    let states: Vec<State<Scene>> = vec![
        ("choosing", Scene::choosing()),
        ("asked of a score", Scene::asked_of_a_score()),
        ("ready", ready),
        ("in free time", Scene::open()),
        ("counting in", counted),
        ("playing", Scene::played(Pass::AtTempo, 6.0)),
        ("straight", Scene::played(Pass::Straight, 6.0)),
        ("without looking", Scene::played(Pass::Unseen, 6.0)),
        ("found", found),
        ("walked", walked),
        ("asked", asked),
        ("answered", answered),
        ("edited", edited),
        ("its head", head),
        ("begun", Scene::begun()),
        ("refused", refused),
    ];
    check("Passage", states);
}
