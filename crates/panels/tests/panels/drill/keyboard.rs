//! The keys of the room: a whole drill by those a pedal can send.

use super::WINDOW;
use super::play::{FIRST, Player, TURN, cello, note, session, sound, there_and_back};
use crate::scenes::window::{harness, press};
use egui::{Event, Key, Modifiers};
use egui_kittest::kittest::{NodeT, Queryable};
use panels::commands;
use panels::drill_room::{DrillAction, Phase};
use panels::keys::Scope;
use panels::shell::room::Room;
use panels::stand::Overlay;
use panels::theme::Paper;

#[test]
fn a_whole_drill_is_played_by_the_keys_of_a_pedal() {
    let mut harness = harness(Player::new(cello()), WINDOW);
    press(&mut harness, Key::PageDown);
    assert_eq!(harness.state().room.cursor(), 1);
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().room.phase(), Phase::Ready);
    harness.get_by_label_contains("fingers 2-3-2, notes F3 F♯3 F3");
    press(&mut harness, Key::Space);
    assert_eq!(harness.state().room.phase(), Phase::CountIn);
    harness.state_mut().room.first_beat(FIRST);
    harness.state_mut().until(&[], 2.0);
    harness.run();
    harness.get_by_label("count-in: beat 2 of 4");
    harness.state_mut().until(&there_and_back(), TURN + 2.9);
    harness.run();
    harness.get_by_label("finger 3, F♯3, next finger 2, F3");
    harness.get_by_label("made 1 of 4");
    harness.get_by_label("note 1 (finger 2, F3): 4 of 4");
    harness.get_by_label("pace wave: note 2, oscillation 2 of 4");
    harness.state_mut().until(&there_and_back(), TURN + 8.3);
    harness.run();
    assert_eq!(harness.state().room.phase(), Phase::Findings);
    harness.get_by_label("Secure.");
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().room.phase(), Phase::CountIn);
    press(&mut harness, Key::PageDown);
    assert_eq!(harness.state().room.phase(), Phase::Ready);
    press(&mut harness, Key::PageUp);
    assert_eq!(harness.state().room.phase(), Phase::Choosing);
}

#[test]
fn arrows_change_the_pace_and_letters_the_rest() {
    let mut harness = harness(Player::at("there-and-back", cello()), WINDOW);
    for (key, action) in [
        (Key::ArrowUp, DrillAction::Pace(62.0)),
        (Key::ArrowDown, DrillAction::Pace(60.0)),
        (Key::ArrowRight, DrillAction::PerBeat(3.0)),
        (Key::ArrowLeft, DrillAction::PerBeat(2.0)),
        (Key::Plus, DrillAction::Count(5)),
        (Key::Minus, DrillAction::Count(4)),
        (Key::Num4, DrillAction::Fingers(vec![2, 3, 2, 4])),
        (Key::Backspace, DrillAction::Fingers(vec![2, 3, 2])),
        (Key::C, DrillAction::Click(false)),
        (Key::G, DrillAction::Guide(true)),
        (Key::P, DrillAction::FreePace(true)),
        (Key::V, DrillAction::Showing),
        (Key::D, DrillAction::Calibrate),
        (Key::PageUp, DrillAction::Back),
        (Key::R, DrillAction::Reread),
    ] {
        press(&mut harness, key);
        assert_eq!(harness.state().asked.last(), Some(&action), "{key:?}");
    }
    // A finger that has no note here is none.
    let mut harness = self::harness(Player::at("there-and-back", cello()), WINDOW);
    press(&mut harness, Key::Num9);
    assert!(harness.state().asked.is_empty());
}

#[test]
fn every_command_of_the_room_is_done_by_each_of_its_keys() {
    let findings = || {
        let mut player = Player::started("pace-ladder", cello());
        player.until(&session("tidy-transfer", 5.0), 20.0);
        player.room.round_take = Some("2026-11-25/17-41-09".parse().expect("a name"));
        player
    };
    let at = |name: &str| Player::at(name, cello());
    let aside = || {
        let mut player = at("there-and-back");
        player.act(DrillAction::FreePace(true));
        player.act(DrillAction::Ready);
        player.unlike_bow = 1.8;
        player.until(&sound(vec![note(1.0, 3.0, 158.0, 2.0, 32.0)], false), 6.5);
        player
    };
    let scenes: [(Scope, &dyn Fn() -> Player); 4] = [
        (Scope::Drills, &|| Player::new(cello())),
        (Scope::Ready, &|| at("there-and-back")),
        (Scope::Round, &|| Player::started("there-and-back", cello())),
        (Scope::Findings, &findings),
    ];
    // Where there is more of the findings below, Page Down turns to it first.
    let mut harness = harness(at("there-and-back"), egui::vec2(1280.0, 1400.0));
    for (place, scene) in scenes {
        for entry in commands::all().iter().filter(|entry| entry.scopes.contains(&place)) {
            // Nothing lies below the first level, and no thumb on these notes.
            let asked = usize::from(!["drill-level-down", "drill-thumb"].contains(&entry.name));
            for &key in entry.keys {
                *harness.state_mut() =
                    if entry.name == "drill-bring-back" { aside() } else { scene() };
                harness.run();
                press(&mut harness, key);
                let done = harness.state().asked.len();
                assert_eq!(done, asked, "{} by {key:?}", entry.name);
            }
        }
    }
}

#[test]
fn keys_of_the_player_s_own_are_heard_and_stand_on_the_buttons() {
    let mut options = cello();
    options.keys.set(&commands::all(), "drill-start", &["F8".to_owned()]).expect("both exist");
    let mut harness = harness(Player::at("there-and-back", options), WINDOW);
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().room.phase(), Phase::Ready);
    let start = harness.get_by_label("start");
    assert_eq!(start.accesskit_node().data().keyboard_shortcut(), Some("F8"));
    press(&mut harness, Key::F8);
    assert_eq!(harness.state().room.phase(), Phase::CountIn);
}

#[test]
fn a_key_that_is_held_down_starts_and_stops_nothing_again() {
    let mut harness = harness(Player::at("there-and-back", cello()), WINDOW);
    for repeat in [false, true, true] {
        harness.event(Event::Key {
            key: Key::PageDown,
            physical_key: None,
            pressed: true,
            repeat,
            modifiers: Modifiers::NONE,
        });
        harness.run();
    }
    assert_eq!(harness.state().asked, [DrillAction::Ready]);
    assert_eq!(harness.state().room.phase(), Phase::CountIn);
}

#[test]
fn the_levels_of_a_ladder_lie_on_the_arrows() {
    let mut player = Player::started("pace-ladder", cello());
    player.until(&session("tidy-transfer", 5.0), 20.0);
    assert_eq!(player.room.phase(), Phase::Findings);
    let mut harness = harness(player, WINDOW);
    press(&mut harness, Key::ArrowRight);
    assert_eq!(harness.state().asked, [DrillAction::Level(60.0)]);
    harness.get_by_label("pace: 60 beats a minute, 2 a beat = 2.0 Hz");
}

#[test]
fn a_sheet_that_lies_over_the_room_has_the_keys() {
    let mut harness = harness(Player::at("there-and-back", cello()), WINDOW);
    press(&mut harness, Key::E);
    assert_eq!(harness.state().stand.shell.overlay, Some(Overlay::Settings));
    press(&mut harness, Key::C);
    press(&mut harness, Key::PageDown);
    press(&mut harness, Key::Escape);
    assert!(harness.state().asked.is_empty());
    assert_eq!(harness.state().stand.shell.overlay, None);
    assert_eq!(harness.state().room.phase(), Phase::Ready);
}

#[test]
fn what_is_the_same_in_every_room_is_so_here() {
    let mut harness = harness(Player::at("there-and-back", cello()), WINDOW);
    press(&mut harness, Key::L);
    assert_eq!(harness.state().stand.shell.options().paper, Paper::Dark);
    press(&mut harness, Key::F2);
    assert_eq!(harness.state().stand.shell.room, Room::Stand);
}
