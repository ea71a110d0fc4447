//! How the room looks.

use super::scene::Scene;
use crate::scenes::pictures::{FEW, LARGE, SMALL, compare_in};
use egui::{Vec2, vec2};
use panels::passage_room::{Pass, PassageAction};
use panels::theme::Paper;

/// The window that all is designed for.
const USUAL: Vec2 = vec2(1280.0, 800.0);

#[test]
fn the_list_looks_as_it_did() {
    compare_in(&FEW[..1], "passage-list", Scene::choosing());
    compare_in(&FEW[..1], "passage-score", Scene::asked_of_a_score());
}

#[test]
fn a_plan_looks_as_it_did() {
    let ways = [(Paper::Light, USUAL, 1.0), (Paper::Light, SMALL, 1.0)];
    compare_in(&ways, "passage-planned", Scene::open());
}

#[test]
fn a_plan_that_is_edited_looks_as_it_did() {
    let ways = [
        (Paper::Light, USUAL, 1.0),
        (Paper::Light, SMALL, 1.0),
        (Paper::Light, SMALL, 2.0),
        (Paper::Dark, LARGE, 1.0),
    ];
    compare_in(&ways, "passage-edited", Scene::edited());
    compare_in(&ways[1..2], "passage-begun", Scene::begun());
}

#[test]
fn a_pass_that_goes_on_looks_as_it_did() {
    let ways = [(Paper::Light, USUAL, 1.0), (Paper::Dark, LARGE, 1.0)];
    compare_in(&ways, "passage-playing", Scene::played(Pass::AtTempo, 9.0));
}

#[test]
fn what_is_not_to_be_looked_at_is_not_shown() {
    compare_in(&FEW[..1], "passage-unseen", Scene::played(Pass::Unseen, 9.0));
    let mut asked = Scene::judged(Pass::Unseen);
    (0..5).for_each(|_| asked.apply(PassageAction::Walk(1)));
    compare_in(&[(Paper::Light, USUAL, 1.0)], "passage-asked", asked.clone());
    asked.apply(PassageAction::Answer(Some(0)));
    compare_in(&[(Paper::Light, SMALL, 1.0)], "passage-answered", asked);
}

#[test]
fn what_was_found_looks_as_it_did() {
    let ways = [
        (Paper::Light, USUAL, 1.0),
        (Paper::Dark, USUAL, 1.0),
        (Paper::Light, SMALL, 1.0),
        (Paper::Light, SMALL, 2.0),
    ];
    compare_in(&ways, "passage-found", Scene::judged(Pass::AtTempo));
    let mut walked = Scene::judged(Pass::Straight);
    walked.apply(PassageAction::Walk(1));
    compare_in(&ways[..1], "passage-straight", walked);
}
