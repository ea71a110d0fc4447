//! How the room looks: pictures that are compared with those kept in `tests/snapshots`.
//!
//! After a change that is meant, `UPDATE_SNAPSHOTS=1 cargo test -p panels --test drill pictures` makes
//! them anew; look at each before it is kept.

use crate::play::{Player, TURN, harness, note, session, sound, straight, there_and_back};
use coach::Showing;
use egui::{Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions};
use panels::drill_room::Phase;
use panels::options::Options;
use panels::stand::Action;
use panels::theme::Paper;

const SMALL: Vec2 = vec2(1024.0, 640.0);
const LARGE: Vec2 = vec2(2560.0, 1440.0);
/// How much a pixel may differ and how many may differ by more: see the pictures of the Stand.
const THRESHOLD: f32 = 1.5;
const FAILED: usize = 20;

fn options(paper: Paper, text_scale: f32) -> Options {
    Options {
        paper,
        text_scale,
        instrument: Some("cello".to_owned()),
        ..Options::default()
    }
}

fn compare(harness: &mut Harness<Player>, name: &str) -> Option<String> {
    let options = SnapshotOptions::new()
        .threshold(THRESHOLD)
        .max_failed_pixels(FAILED);
    let compared = harness.try_snapshot_options(name, &options);
    compared.err().map(|error| error.to_string())
}

fn draw(harness: &mut Harness<Player>, options: Options, size: Vec2, name: &str) -> Option<String> {
    let set = Action::Set(Box::new(options));
    harness.state_mut().stand.apply(set);
    // A large window is drawn at half its size: what matters of it is how it is laid out.
    harness.set_pixels_per_point(if size == LARGE { 0.5 } else { 1.0 });
    harness.run_steps(2);
    harness.set_size(size);
    harness.run();
    compare(harness, name)
}

/// A scene on both papers, at both sizes of the window, at type of 100 and 200 %.
fn everywhere(name: &str, player: Player) {
    let mut harness = harness(player, SMALL);
    let mut differ = Vec::new();
    for (paper, called) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
        for (size, wide) in [(SMALL, 1024), (LARGE, 2560)] {
            for text_scale in [1.0, 2.0] {
                let percent = 100.0 * text_scale;
                let name = format!("drill-{name}-{called}-{wide}-{percent:.0}");
                let set = options(paper, text_scale);
                differ.extend(draw(&mut harness, set, size, &name));
            }
        }
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}

/// A scene in a small window, in one way.
fn once(name: &str, player: Player, set: Options) -> Option<String> {
    let mut harness = harness(player, SMALL);
    draw(&mut harness, set, SMALL, &format!("drill-{name}"))
}

fn all_well(differ: impl IntoIterator<Item = Option<String>>) {
    let differ: Vec<String> = differ.into_iter().flatten().collect();
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}

fn usual() -> Options {
    options(Paper::Light, 1.0)
}

#[test]
fn the_list_looks_as_it_did() {
    everywhere("choosing", Player::new(usual()));
}

#[test]
fn an_open_drill_looks_as_it_did() {
    everywhere("ready", Player::at("there-and-back", usual()));
}

#[test]
fn counting_in_looks_as_it_did() {
    let mut player = Player::started("there-and-back", usual());
    player.until(&[], TURN - 1.95);
    assert_eq!(player.room.phase(), Phase::CountIn);
    everywhere("count-in", player);
}

#[test]
fn the_middle_of_a_turn_looks_as_it_did() {
    let mut player = Player::started("there-and-back", usual());
    player.until(&there_and_back(), TURN + 3.1);
    assert_eq!(player.room.phase(), Phase::Round);
    everywhere("playing", player);
}

#[test]
fn findings_look_as_they_did() {
    let mut player = Player::started("all-in-a-row", usual());
    player.until(&session("stop-and-press", TURN - 0.6), TURN + 11.0);
    assert_eq!(player.room.phase(), Phase::Findings);
    everywhere("findings", player);
}

#[test]
fn what_is_hidden_looks_as_it_did() {
    let hidden = |showing| Options {
        showing,
        ..options(Paper::Dark, 1.0)
    };
    let at = |showing| {
        let mut player = Player::started("there-and-back", hidden(showing));
        player.until(&there_and_back(), TURN + 3.1);
        player
    };
    all_well([Showing::AfterNote, Showing::AfterRound].map(|showing| {
        let name = format!("hidden-{showing:?}").to_lowercase();
        once(&name, at(showing), hidden(showing))
    }));
}

#[test]
fn a_page_that_does_not_flow_looks_as_it_did() {
    let still = Options {
        still: true,
        ..usual()
    };
    let mut player = Player::started("there-and-back", still.clone());
    player.until(&there_and_back(), TURN + 3.1);
    all_well([once("still", player, still)]);
}

#[test]
fn a_free_pace_looks_as_it_did() {
    let mut player = Player::at("there-and-back", usual());
    player.act(panels::drill_room::DrillAction::FreePace(true));
    let ready = once("free-ready", player, usual());
    let mut player = Player::at("there-and-back", usual());
    player.act(panels::drill_room::DrillAction::FreePace(true));
    player.act(panels::drill_room::DrillAction::Ready);
    player.until(&session("tidy-transfer", 0.5), 4.6);
    all_well([ready, once("free", player, usual())]);
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
    all_well([
        once(
            "straight-playing",
            played("straight", &held, TURN + 2.6),
            usual(),
        ),
        once(
            "straight-findings",
            played("straight", &held, TURN + 20.0),
            usual(),
        ),
        once("bloom-playing", played("bloom", &[], TURN + 1.3), usual()),
        once(
            "width-ladder-playing",
            played("width-ladder", &wide, TURN + 4.2),
            usual(),
        ),
        once(
            "width-ladder-findings",
            played("width-ladder", &wide, TURN + 16.0),
            usual(),
        ),
        once(
            "field-walk-playing",
            played("field-walk", &walk, 4.6),
            usual(),
        ),
        once(
            "field-walk-findings",
            played("field-walk", &walk, 20.0),
            usual(),
        ),
        once(
            "start-and-stop-playing",
            played("start-and-stop", &[], 3.1),
            usual(),
        ),
        once(
            "pace-ladder-ready",
            Player::at("pace-ladder", usual()),
            usual(),
        ),
    ]);
}
