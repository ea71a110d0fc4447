//! The sheets: opened, worked and closed by keyboard alone.

use super::WINDOW;
use super::controls::{focused, tab_to};
use super::heard::{play, stand};
use crate::scenes;
use crate::scenes::window::{click, harness, press, write};
use coach::{Against, Showing, Swing};
use egui::accesskit::Role;
use egui::{Key, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use panels::shell::options::{Options, shipped_regions};
use panels::shell::report::{ReportOf, ReportState};
use panels::shell::room::Room;
use panels::stand::{Action, Command, Device, Devices, Heard, Overlay, Stand};
use panels::theme::Paper;
use tuning::Hz;

const LEAVES: [(Overlay, Key); 4] = [
    (Overlay::Keys, Key::F1),
    (Overlay::Settings, Key::E),
    (Overlay::Sound, Key::O),
    (Overlay::Manual, Key::F9),
];

fn devices() -> Devices {
    let device = |name: &str, channels| Device {
        name: name.to_owned(),
        id: format!("id of {name}"),
        channels,
    };
    Devices {
        inputs: vec![device("built-in microphone", 1), device("interface", 2)],
        outputs: vec![device("headphones", 2)],
    }
}

/// A sheet over a Stand in which every control of it has something to do.
fn opened(overlay: Overlay, size: Vec2, text_scale: f32) -> Harness<'static, Stand> {
    let mut options = Options { text_scale, ..Options::default() };
    options.wanted.rate = Some((Hz(5.0), Hz(6.0)));
    options.wanted.width = Some((tuning::Cents(20.0), tuning::Cents(40.0)));
    options.regions[0].name = "still".to_owned();
    options.input.name = Some("id of interface".to_owned());
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Devices(devices())));
    stand.apply(scenes::manual());
    play(&mut stand, true);
    stand.apply(Action::Turn(overlay));
    let mut harness = harness(stand, size);
    play(harness.state_mut(), true);
    harness.run();
    harness
}

/// The names of all that Tab reaches, from the first to the last.
fn walk(harness: &mut Harness<Stand>) -> Vec<String> {
    let mut names = Vec::new();
    for _ in 0..300 {
        let name = focused(harness).expect("something on the sheet has the focus");
        if names.first() == Some(&name) {
            return names;
        }
        names.push(name);
        press(harness, Key::Tab);
    }
    panic!("Tab never comes back: {names:?}");
}

#[test]
fn sheets_open_and_close_by_key_and_take_the_focus() {
    for (overlay, key) in LEAVES {
        let mut harness = harness(stand(), WINDOW);
        press(&mut harness, key);
        assert_eq!(harness.state().shell.overlay, Some(overlay));
        assert_eq!(focused(&harness).as_deref(), Some("close"));
        press(&mut harness, key);
        assert_eq!(harness.state().shell.overlay, None, "{overlay:?} by its key");
        press(&mut harness, key);
        press(&mut harness, Key::Escape);
        assert_eq!(harness.state().shell.overlay, None, "{overlay:?} by Escape");
        press(&mut harness, key);
        press(&mut harness, Key::Enter);
        assert_eq!(harness.state().shell.overlay, None, "{overlay:?} by its button");
    }
}

#[test]
fn a_click_beside_a_sheet_closes_it() {
    let mut harness = opened(Overlay::Keys, vec2(1400.0, 700.0), 1.0);
    let beside = egui::pos2(12.0, 350.0);
    harness.drag_at(beside);
    harness.run();
    harness.drop_at(beside);
    harness.run();
    assert_eq!(harness.state().shell.overlay, None);
}

#[test]
fn tab_stays_on_the_sheet_and_reaches_all_of_it_in_sight() {
    for (size, text_scale) in [(vec2(1024.0, 640.0), 1.0), (vec2(1024.0, 640.0), 2.0)] {
        let window = egui::Rect::from_min_size(egui::Pos2::ZERO, size);
        for (overlay, _) in LEAVES {
            let mut harness = opened(overlay, size, text_scale);
            let mut count = 0;
            let first = focused(&harness);
            loop {
                let nodes = harness.query_all(egui_kittest::kittest::by());
                let place = nodes
                    .filter(|node| node.is_focused())
                    .map(|node| node.rect())
                    .next()
                    .expect("something has the focus");
                let name = focused(&harness);
                assert!(
                    window.contains_rect(place),
                    "{overlay:?} × {text_scale}: {name:?} at {place}"
                );
                count += 1;
                press(&mut harness, Key::Tab);
                if focused(&harness) == first {
                    break;
                }
                assert!(count < 300, "{overlay:?}: Tab never comes back");
            }
            // A page of the manual is read: its names alone are pressed.
            let least = if overlay == Overlay::Manual { 2 } else { 10 };
            assert!(count > least, "{overlay:?}: only {count} things to reach");
        }
    }
}

#[test]
fn every_control_of_a_sheet_has_a_name_of_its_own_and_does_something() {
    for (overlay, _) in [LEAVES[1], LEAVES[2]] {
        let names = walk(&mut opened(overlay, vec2(1400.0, 900.0), 1.0));
        for (i, name) in names.iter().enumerate() {
            assert!(!name.is_empty(), "number {i} of {overlay:?} has no name");
            assert!(!names[i + 1..].contains(name), "two are called {name}");
        }
        let mut harness = opened(overlay, vec2(1400.0, 900.0), 1.0);
        let ready = harness.state().clone();
        for name in &names {
            *harness.state_mut() = ready.clone();
            harness.run();
            let node = harness
                .get_by(|node| node.label().as_deref() == Some(name) && node.role() != Role::Label);
            let role = node.accesskit_node().role();
            let chosen = node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True);
            node.focus();
            harness.run();
            let before = format!("{:?}", harness.state());
            match role {
                Role::SpinButton => press(&mut harness, Key::ArrowUp),
                Role::TextInput => {
                    write(&mut harness, "x");
                    press(&mut harness, Key::Tab);
                }
                _ => press(&mut harness, Key::Space),
            }
            if role == Role::SpinButton {
                press(&mut harness, Key::Enter);
            }
            let after = format!("{:?}", harness.state());
            if role == Role::RadioButton && chosen {
                assert_eq!(before, after, "{name} was chosen already");
            } else if !name.starts_with("choose the ") {
                // Those open the system's own dialog.
                assert_ne!(before, after, "{name} ({role:?}) does nothing");
            }
        }
    }
}

#[test]
fn what_is_chosen_is_set() {
    let mut harness = opened(Overlay::Settings, vec2(1400.0, 900.0), 1.0);
    for name in [
        "paper: dark",
        "measures are shown: after the round",
        "straight notes against: my open strings",
        "it swings: below it, crests on the note",
        "instrument: cello",
        "size of type: 150 %",
    ] {
        tab_to(&mut harness, name);
        press(&mut harness, Key::Space);
    }
    let options = harness.state().shell.options();
    assert_eq!(options.paper, Paper::Dark);
    assert_eq!(options.showing, Showing::AfterRound);
    assert_eq!(options.against, Against::OpenStrings);
    assert_eq!(options.swing, Swing::Below);
    assert_eq!(options.instrument.as_deref(), Some("cello"));
    assert_eq!(options.text_scale, 1.5);
}

#[test]
fn a_number_is_taken_when_it_is_finished_and_kept_in_its_range() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    tab_to(&mut harness, "A4");
    write(&mut harness, "415");
    assert_eq!(harness.state().shell.options().tuning.a4, Hz(440.0), "half written");
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().shell.options().tuning.a4, Hz(415.0));
    assert_eq!(focused(&harness).as_deref(), Some("A4"), "nobody is sent away");
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    write(&mut harness, "300");
    press(&mut harness, Key::Tab);
    assert_eq!(harness.state().shell.options().tuning.a4, Hz(392.0));
}

#[test]
fn letters_written_in_a_field_are_no_commands() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    tab_to(&mut harness, "region 1, name");
    let before = harness.state().shell.options().clone();
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    for (key, letter) in [(Key::L, "l"), (Key::S, "s"), (Key::D, "d"), (Key::Num1, "1")] {
        harness.key_down(key);
        harness.event(egui::Event::Text(letter.to_owned()));
        harness.key_up(key);
        harness.run();
    }
    press(&mut harness, Key::Space);
    assert_eq!(*harness.state().shell.options(), before);
    assert!(!harness.state().straight && !harness.state().shell.drone_on);
    press(&mut harness, Key::Enter);
    let name = &harness.state().shell.options().regions[0].name;
    assert_eq!(name, "lsd1");
    let mut after = harness.state().shell.options().clone();
    after.regions[0].name.clone_from(&before.regions[0].name);
    assert_eq!(after, before, "nothing but the name changed");
}

#[test]
fn an_instrument_file_that_cannot_be_read_is_told_in_its_place() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    tab_to(&mut harness, "instrument file");
    let path = "no/such/viol.ron";
    write(&mut harness, path);
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().shell.options().instrument.as_deref(), Some(path));
    harness.get_by_label_contains("the instrument file cannot be read");
}

#[test]
fn regions_are_added_deleted_and_restored() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    let count = |harness: &Harness<Stand>| harness.state().shell.options().regions.len();
    for (name, left) in [
        ("add a region", 5),
        ("delete region 2", 4),
        ("delete region 1", 3),
        ("restore the four regions", 4),
    ] {
        tab_to(&mut harness, name);
        press(&mut harness, Key::Space);
        assert_eq!(count(&harness), left, "{name}");
    }
    assert_eq!(harness.state().shell.options().regions, shipped_regions(None));
}

#[test]
fn a_band_never_ends_below_its_start() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    tab_to(&mut harness, "wanted rate from");
    write(&mut harness, "9");
    press(&mut harness, Key::Tab);
    let (from, to) = harness.state().shell.options().wanted.rate.expect("it is set");
    assert!(from.0 <= to.0, "{from:?} to {to:?}");
}

#[test]
fn the_sound_sheet_looks_for_devices_until_they_are_known() {
    let mut stand = stand();
    stand.apply(Action::Turn(Overlay::Sound));
    let mut harness = harness(stand, WINDOW);
    harness.get_by_label_contains("Looking for devices");
    let found = Action::Heard(Heard::Devices(devices()));
    harness.state_mut().apply(found);
    harness.run();
    assert!(harness.query_by_label_contains("Looking for").is_none());
    tab_to(&mut harness, "microphone: interface");
    press(&mut harness, Key::Space);
    let wish = &harness.state().shell.options().input;
    assert_eq!(wish.name.as_deref(), Some("id of interface"));
    tab_to(&mut harness, "channel: 2");
    press(&mut harness, Key::Space);
    assert_eq!(harness.state().shell.options().input.channel, Some(2));
    // Another microphone has channels of its own.
    tab_to(&mut harness, "microphone: built-in microphone");
    press(&mut harness, Key::Space);
    assert_eq!(harness.state().shell.options().input.channel, None);
}

#[test]
fn a_device_that_is_gone_is_still_named() {
    let mut options = Options::default();
    options.output.name = Some("old amplifier".to_owned());
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Devices(devices())));
    let words = "the loudspeaker is gone; plug it in".to_owned();
    stand.apply(Action::Heard(Heard::Loudspeaker(Some(words))));
    stand.apply(Action::Turn(Overlay::Sound));
    let harness = harness(stand, vec2(1400.0, 900.0));
    harness.get_by_label("loudspeaker: old amplifier (not there now)");
    harness.get_by_label("the loudspeaker is gone; plug it in");
    harness.get_by_label_contains("check their level");
}

#[test]
fn pages_of_a_sheet_are_turned_by_the_keys_of_a_pedal_and_by_home_and_end() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    let place =
        |harness: &Harness<Stand>| harness.get_by_label("measures are shown: live").rect().top();
    let before = place(&harness);
    for [up, down] in [[Key::PageUp, Key::PageDown], [Key::Home, Key::End]] {
        press(&mut harness, down);
        let turned = place(&harness);
        assert!(turned < before - 100.0, "{down:?}: {before} to {turned}");
        assert_eq!(harness.state().shell.options().showing, Showing::Live);
        press(&mut harness, up);
        assert!((place(&harness) - before).abs() < 1.0, "{up:?}");
    }
}

#[test]
fn a_sheet_opens_at_its_head_and_the_keys_of_this_room_come_first() {
    let mut harness = opened(Overlay::Keys, WINDOW, 1.0);
    let place = |harness: &Harness<Stand>, name: &str| harness.get_by_label(name).rect().top();
    let before = place(&harness, "Stand, while a question is asked");
    assert!(before < place(&harness, "Everywhere"));
    press(&mut harness, Key::PageDown);
    assert!(place(&harness, "Everywhere") < before);
    press(&mut harness, Key::Escape);
    harness.state_mut().apply(Action::Do(Command::Room(Room::Drill)));
    press(&mut harness, Key::F1);
    assert_eq!(harness.state().shell.overlay, Some(Overlay::Keys));
    let first = place(&harness, "Drill, the list");
    assert!((0.0..before).contains(&first), "{first}, {before}");
}

#[test]
fn keys_of_rooms_work_while_a_name_is_written() {
    let mut harness = opened(Overlay::Settings, WINDOW, 1.0);
    tab_to(&mut harness, "player");
    write(&mut harness, "Ida");
    press(&mut harness, Key::F4);
    assert_eq!(harness.state().shell.room, Room::Journal);
    assert_eq!(harness.state().shell.options().player, "Ida", "what was written is kept");
}

#[test]
fn the_list_of_keys_works_by_mouse() {
    let mut harness = harness(stand(), vec2(1280.0, 2000.0));
    click(&mut harness, "Keys");
    harness.get_by_label_contains("light or dark paper").click();
    harness.run();
    assert_eq!(harness.state().shell.options().paper, Paper::Dark);
    harness.get_by_label_contains("show or hide this list").click();
    harness.run();
    assert_eq!(harness.state().shell.overlay, None);
    assert!(harness.query_by_label_contains("light or dark paper").is_none());
}

#[test]
fn a_report_is_asked_for_written_and_opened_by_keyboard_and_told_where_it_is() {
    let mut stand = stand();
    let of = ReportOf::Take("2026-11-25/17-41-09".parse().expect("a name"));
    stand.apply(Action::Report(of));
    let mut harness = harness(stand, WINDOW);
    assert_eq!(focused(&harness).as_deref(), Some("write it"));
    let state = |harness: &Harness<Stand>| harness.state().shell.report.clone().map(|r| r.state);
    tab_to(&mut harness, "folder of the reports");
    harness.key_press(Key::A);
    write(&mut harness, "pages");
    press(&mut harness, Key::Enter);
    let chosen = harness.state().shell.options().reports.clone();
    assert_eq!(chosen.as_deref(), Some("pages"));
    tab_to(&mut harness, "write it");
    press(&mut harness, Key::Enter);
    assert_eq!(state(&harness), Some(ReportState::Coming));
    harness.get_by_label("It is being written.");
    let told = |harness: &mut Harness<Stand>, state| {
        harness.state_mut().apply(Action::Heard(Heard::Report(state)));
        harness.run();
    };
    told(&mut harness, ReportState::Trouble("the disk is full".to_owned()));
    harness.get_by_label("The disk is full.");
    tab_to(&mut harness, "write it");
    press(&mut harness, Key::Enter);
    told(&mut harness, ReportState::Written("pages/take.html".into()));
    harness.get_by_label("Written: pages/take.html");
    tab_to(&mut harness, "open it");
    press(&mut harness, Key::Escape);
    assert_eq!(harness.state().shell.overlay, None);
    // Who has left the sheet is told all the same.
    told(&mut harness, ReportState::Written("pages/take-2.html".into()));
    let words = harness.state().shell.words.last().cloned();
    assert_eq!(words.as_deref(), Some("the report is written: pages/take-2.html"));
}

#[test]
fn the_manual_opens_at_the_room_and_turns_its_pages() {
    let mut stand = stand();
    stand.apply(scenes::manual());
    let mut harness = harness(stand, WINDOW);
    press(&mut harness, Key::F9);
    harness.get_by_role_and_label(Role::Dialog, "Manual");
    // In plain words: no sign of Markdown is left.
    let said: Vec<String> = harness
        .query_all(egui_kittest::kittest::by())
        .filter_map(|node| node.accesskit_node().value().or(node.accesskit_node().label()))
        .collect();
    assert!(said.iter().any(|said| said == "Keys and pedals"), "{said:?}");
    for signs in ["`", "**", "](", "| "] {
        assert!(said.iter().all(|said| !said.contains(signs)), "{signs} in {said:?}");
    }
    click(&mut harness, "manual: What the numbers mean");
    harness.get_by_label("out of round");
    press(&mut harness, Key::F9);
    assert_eq!(harness.state().shell.overlay, None);
}
