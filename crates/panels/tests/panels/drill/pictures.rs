//! How the room looks.

use super::play::{Player, TURN, note, session, sound, straight, there_and_back};
use crate::scenes::pictures::{EACH, FEW, compare, compare_in};
use coach::Showing;
use panels::drill_room::{DrillAction, Phase};
use panels::shell::options::Options;
use panels::theme::Paper;

fn usual() -> Options {
    Options { instrument: Some("cello".to_owned()), ..Options::default() }
}

#[test]
fn the_list_looks_as_it_did() {
    compare_in(&FEW, "drill-choosing", Player::new(usual()));
}

#[test]
fn an_open_drill_looks_as_it_did() {
    compare_in(&FEW, "drill-ready", Player::at("there-and-back", usual()));
}

#[test]
fn counting_in_looks_as_it_did() {
    let mut player = Player::started("there-and-back", usual());
    player.until(&[], TURN - 1.95);
    assert_eq!(player.room.phase(), Phase::CountIn);
    compare_in(&FEW[..1], "drill-count-in", player);
}

#[test]
fn the_middle_of_a_turn_looks_as_it_did() {
    let mut player = Player::started("there-and-back", usual());
    player.until(&there_and_back(), TURN + 3.1);
    assert_eq!(player.room.phase(), Phase::Round);
    compare_in(&EACH, "drill-playing", player);
}

#[test]
fn findings_look_as_they_did() {
    let mut player = Player::started("all-in-a-row", usual());
    player.until(&session("stop-and-press", TURN - 0.6), TURN + 11.0);
    assert_eq!(player.room.phase(), Phase::Findings);
    compare_in(&FEW, "drill-findings", player);
}

#[test]
fn what_is_hidden_looks_as_it_did() {
    let at = |showing| {
        let hidden = Options { showing, paper: Paper::Dark, ..usual() };
        let mut player = Player::started("there-and-back", hidden);
        player.until(&there_and_back(), TURN + 3.1);
        player
    };
    compare([
        ("drill-hidden-afternote", at(Showing::AfterNote)),
        ("drill-hidden-afterround", at(Showing::AfterRound)),
    ]);
}

#[test]
fn a_page_that_does_not_flow_looks_as_it_did() {
    let still = Options { still: true, ..usual() };
    let mut player = Player::started("there-and-back", still);
    player.until(&there_and_back(), TURN + 3.1);
    compare([("drill-still", player)]);
}

#[test]
fn a_free_pace_looks_as_it_did() {
    let free = || {
        let mut player = Player::at("there-and-back", usual());
        player.act(DrillAction::FreePace(true));
        player
    };
    let mut played = free();
    played.act(DrillAction::Ready);
    played.until(&session("tidy-transfer", 0.5), 4.6);
    compare([("drill-free-ready", free()), ("drill-free", played)]);
}

#[test]
fn other_kinds_of_drill_look_as_they_did() {
    let played = |name: &str, samples: &[f32], to: f64| {
        let mut player = Player::started(name, usual());
        player.until(samples, to);
        player
    };
    let held = sound(vec![straight(TURN, 3.9, 174.9, 9.0)], false);
    let wide: Vec<_> = [12.0, 24.0, 36.0, 52.0]
        .into_iter()
        .enumerate()
        .map(|(step, width)| note(TURN + 3.0 * step as f64, 2.0, 174.6, 4.0, width))
        .collect();
    let wide = sound(wide, false);
    let mut start = 0.5;
    let walk = [(5.6, 16.0), (3.6, 50.0), (3.2, 14.0), (6.4, 44.0)].map(|(rate, width)| {
        let played = note(start, 8.0 / rate, 174.6, rate, width);
        start += 8.0 / rate + 0.9;
        played
    });
    let walk = sound(walk.to_vec(), false);
    compare([
        ("drill-straight-playing", played("straight", &held, TURN + 2.6)),
        ("drill-straight-findings", played("straight", &held, TURN + 20.0)),
        ("drill-bloom-playing", played("bloom", &[], TURN + 1.3)),
        ("drill-width-ladder-playing", played("width-ladder", &wide, TURN + 4.2)),
        ("drill-width-ladder-findings", played("width-ladder", &wide, TURN + 16.0)),
        ("drill-field-walk-playing", played("field-walk", &walk, 4.6)),
        ("drill-field-walk-findings", played("field-walk", &walk, 20.0)),
        ("drill-start-and-stop-playing", played("start-and-stop", &[], 3.1)),
        ("drill-one-bow-ready", Player::at("one-bow", usual())),
        ("drill-one-bow-playing", played("one-bow", &[], TURN + 1.8)),
        ("drill-width-ladder-ready", Player::at("width-ladder", usual())),
        ("drill-pace-ladder-ready", Player::at("pace-ladder", usual())),
    ]);
}
