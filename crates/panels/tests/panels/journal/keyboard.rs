//! What keys do in the Journal.

use super::scene::{Scene, WINDOW, answer, files, id, room};
use crate::scenes::window::{click, harness, press};
use egui::{Key, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use panels::commands;
use panels::journal_room::{Ask, JournalAction, JournalOrder, Page, Step, TraceOf};
use panels::keys::Scope;
use panels::shell::options::Options;
use tuning::Secs;

fn scene() -> Scene {
    Scene::new(room(), Options::default())
}

#[test]
fn the_arrows_move_in_the_list_and_the_take_beside_it_follows() {
    let mut harness = harness(scene(), WINDOW);
    let chosen = |harness: &egui_kittest::Harness<'static, Scene>| {
        let chosen = harness.state().room.chosen().expect("there are takes");
        chosen.to_string()
    };
    let latest = chosen(&harness);
    assert_eq!(latest, files().last().expect("takes").0.to_string());
    let mut after = |key| {
        press(&mut harness, key);
        let opened = harness.state().room.opened().map(|opened| opened.id.to_string());
        assert_eq!(opened, Some(chosen(&harness)), "{key:?}");
        chosen(&harness)
    };
    let second = after(Key::ArrowDown);
    assert!(second < latest);
    assert_eq!(after(Key::ArrowUp), latest);
    assert_eq!(after(Key::ArrowUp), latest, "there is nothing above");
    let tenth = after(Key::PageDown);
    assert!(tenth < second);
    assert_eq!(after(Key::PageUp), latest);
    assert_eq!(after(Key::End), files()[0].0.to_string());
    assert_eq!(after(Key::Home), latest);
}

#[test]
fn the_chosen_take_is_seen_wherever_it_lies() {
    let mut harness = harness(scene(), WINDOW);
    for key in [Key::End, Key::Home, Key::PageDown, Key::PageDown, Key::PageDown, Key::PageUp] {
        press(&mut harness, key);
        let seen = harness
            .query_all_by(|node| {
                node.is_selected() == Some(true) && node.role() == egui::Role::ListBoxOption
            })
            .count();
        assert_eq!(seen, 1, "after {key:?}");
    }
}

#[test]
fn where_there_is_room_for_one_enter_opens_and_escape_goes_back() {
    let mut harness = harness(scene(), vec2(640.0, 600.0));
    assert!(harness.query_by_label("back to the list").is_none());
    assert_eq!(harness.state().orders, []);
    press(&mut harness, Key::Enter);
    harness.get_by_label("back to the list");
    let wanted = harness.state().room.chosen().cloned().expect("a take");
    assert_eq!(harness.state().orders, [JournalOrder::Read(wanted)]);
    press(&mut harness, Key::Escape);
    assert!(harness.query_by_label("back to the list").is_none());
}

#[test]
fn space_plays_a_part_at_half_speed_again_and_again_and_stops() {
    let mut harness = harness(scene(), WINDOW);
    answer(harness.state_mut(), &files());
    harness.run();
    let opened = harness.state().room.opened().expect("beside the list");
    assert!(matches!(opened.trace, TraceOf::Here));
    for key in
        [Key::ArrowRight, Key::OpenBracket, Key::ArrowRight, Key::CloseBracket, Key::H, Key::R]
    {
        press(&mut harness, key);
    }
    assert_eq!(harness.state().orders, [], "nothing sounds yet");
    press(&mut harness, Key::Space);
    let orders = std::mem::take(&mut harness.state_mut().orders);
    let [JournalOrder::Play { from, part, looped, speed, .. }] = &orders[..] else {
        panic!("{orders:?}");
    };
    assert_eq!((from.0, part.0.0, part.1.0), (2.0, 2.0, 4.0));
    assert!(*looped);
    assert_eq!(*speed, 0.5);
    press(&mut harness, Key::ArrowLeft);
    press(&mut harness, Key::Space);
    let orders = &harness.state().orders;
    assert!(matches!(orders[..], [JournalOrder::Seek(at), JournalOrder::Stop] if at.0 == 0.0));
}

#[test]
fn digits_turn_to_the_pages_and_the_slash_to_the_filter() {
    let mut harness = harness(scene(), WINDOW);
    for (key, page) in
        [Key::Num1, Key::Num2, Key::Num3, Key::Num4, Key::Num5].into_iter().zip(Page::ALL)
    {
        press(&mut harness, key);
        assert_eq!(harness.state().room.page(), page);
        harness.get_by_label(&format!("page {}", page.name()));
    }
    harness.key_press(Key::Num1);
    press(&mut harness, Key::Slash);
    harness.get_by_label("passage or remark").focus();
    harness.run();
    harness.get_by_label("passage or remark").type_text("slow 11-2");
    harness.run();
    let state = harness.state();
    assert_eq!(state.room.filter().text, "slow 11-2");
    let by_hand = files()
        .iter()
        .filter(|(id, file)| file.passage.is_some() && id.to_string().contains("11-2"))
        .count();
    assert!(by_hand > 0);
    assert_eq!(state.room.wanted(), by_hand);
}

#[test]
fn every_command_of_the_room_is_done_by_each_of_its_keys() {
    let mut harness = harness(scene(), WINDOW);
    let of_room = |place: &Scope| matches!(place, Scope::Journal | Scope::Takes);
    for entry in commands::all().iter().filter(|entry| entry.scopes.iter().any(of_room)) {
        for &key in entry.keys {
            *harness.state_mut() = scene();
            answer(harness.state_mut(), &files());
            // From the middle of the list, past the start of a take, with a filter or on another page, all keys
            // have something to do.
            let state = harness.state_mut();
            state.apply(JournalAction::Step(Step::PageDown));
            match entry.name {
                "journal-back" => state.apply(JournalAction::ShowFilter(true)),
                "journal-takes" => state.apply(JournalAction::Page(Page::Trends)),
                _ => {}
            }
            harness.run();
            answer(harness.state_mut(), &files());
            harness.state_mut().apply(JournalAction::Nudge(Secs(3.0)));
            harness.run();
            let look = |harness: &Harness<'static, Scene>| {
                let state = harness.state();
                format!("{:?} {:?}", state.room, state.orders)
            };
            let before = look(&harness);
            press(&mut harness, key);
            assert_ne!(before, look(&harness), "{} by {key:?} does nothing", entry.name);
        }
    }
}

#[test]
fn a_key_of_the_player_s_own_turns_to_a_page_and_stands_beside_its_name() {
    let mut options = Options::default();
    let keys = ["F9".to_owned()];
    options.keys.set(&commands::all(), "journal-trends", &keys).expect("both exist");
    let mut harness = harness(Scene::new(room(), options), WINDOW);
    let name = harness.get_by_label("page Trends");
    assert_eq!(name.accesskit_node().data().keyboard_shortcut(), Some("F9"));
    press(&mut harness, Key::Num2);
    assert_eq!(harness.state().room.page(), Page::Takes);
    press(&mut harness, Key::F9);
    assert_eq!(harness.state().room.page(), Page::Trends);
}

#[test]
fn what_is_deleted_for_good_needs_its_second_word_by_keyboard_too() {
    let mut harness = harness(scene(), WINDOW);
    click(&mut harness, "delete for good");
    assert!(matches!(harness.state().room.asking(), Some(Ask::DeleteForGood(_))));
    harness.state_mut().orders.clear();
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().orders, [], "nothing was typed");
    assert!(harness.state().room.asking().is_some());
    harness.get_by_label("second word").focus();
    harness.run();
    harness.get_by_label("second word").type_text("for good");
    harness.run();
    press(&mut harness, Key::Enter);
    let taken = files().last().expect("takes").0.clone();
    assert_eq!(harness.state().orders, [JournalOrder::DeleteForGood(taken)]);
    assert_eq!(harness.state().room.asking(), None);
}

#[test]
fn escape_leaves_a_question_and_nothing_is_done() {
    let mut harness = harness(scene(), WINDOW);
    press(&mut harness, Key::Delete);
    let latest = id(&files().last().expect("takes").0.to_string());
    assert_eq!(harness.state().room.asking(), Some(&Ask::Delete(latest)));
    harness.state_mut().orders.clear();
    press(&mut harness, Key::Escape);
    assert_eq!(harness.state().room.asking(), None);
    assert_eq!(harness.state().orders, []);
}
