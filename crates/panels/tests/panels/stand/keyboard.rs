//! What keys do: those of the keyboard, and those that pedals send.

use super::WINDOW;
use super::heard::{play, sound, stand, vibrato};
use crate::scenes::window::{click, harness, press};
use coach::Showing;
use egui::{Event, Key, Modifiers, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use panels::commands;
use panels::keys::{Entry, PEDALS, Scope};
use panels::shell::options::{Options, Zoom};
use panels::shell::{room::Room, rooms::over_ui};
use panels::stand::{Action, Command, Heard, Overlay, Stand, stand_ui};
use panels::theme::{self, Paper};
use vibrato::Motion;

/// The lines of the list that can be pressed on the Stand: its commands, and those that are the same everywhere.
fn of_stand() -> impl Iterator<Item = &'static Entry> {
    let here = [Scope::Stand, Scope::Question, Scope::Everywhere];
    let is_here = move |entry: &&Entry| entry.scopes.iter().any(|place| here.contains(place));
    commands::all().into_iter().filter(is_here)
}

/// A Stand in which the command of this name has something to do.
fn ready_for(name: &str) -> Stand {
    let hidden = || Stand::new(Options { showing: Showing::AfterNote, ..Options::default() });
    let mut ready = stand();
    match name {
        "take-reference" => play(&mut ready, true),
        "drop-reference" => {
            play(&mut ready, true);
            ready.apply(Action::Do(Command::TakeReference));
        }
        "room-stand" => ready.shell.room = Room::Drill,
        "third-answer" => {
            // The third question is the one with three answers.
            ready = hidden();
            for _ in 0..2 {
                play(&mut ready, false);
                ready.apply(Action::Do(Command::Answer(0)));
            }
            play(&mut ready, false);
        }
        "first-answer" | "second-answer" | "reveal" => {
            ready = hidden();
            play(&mut ready, false);
        }
        "zoom-by-itself" => {
            let zoom = Zoom::Fixed(0);
            ready = Stand::new(Options { zoom, ..Options::default() });
        }
        "bring-back" => ready.apply(Action::Heard(Heard::Aside(1))),
        "close" => ready.shell.overlay = Some(Overlay::Keys),
        _ => {}
    }
    ready
}

/// What the line of this command asks for.
fn asks(entry: &Entry, stand: &Stand) -> Action {
    let mut lines = commands::lines(stand).into_iter();
    let line = lines.find(|line| line.entry.name == entry.name).expect("a line for each");
    line.action.expect("it has something to do")
}

/// A harness that also keeps what was asked for.
fn watched(stand: Stand, size: Vec2) -> Harness<'static, (Stand, Vec<Action>)> {
    let mut harness =
        Harness::builder().with_size(size).with_context_setup(theme::dress).build_ui_state(
            |ui, (stand, asked): &mut (Stand, Vec<Action>)| {
                let mut all = stand_ui(ui, stand);
                all.extend(over_ui(ui, &stand.shell, || commands::behind(stand)));
                for action in all {
                    stand.apply(action.clone());
                    asked.push(action);
                }
            },
            (stand, Vec::new()),
        );
    harness.run();
    harness
}

#[test]
fn every_command_has_keys_and_each_of_them_does_it() {
    let mut harness = watched(stand(), WINDOW);
    for entry in of_stand() {
        assert!(!entry.keys.is_empty(), "{}", entry.name);
        for &key in entry.keys {
            let ready = ready_for(entry.name);
            let done = asks(entry, &ready);
            *harness.state_mut() = (ready, Vec::new());
            harness.run();
            let before = format!("{:?}", harness.state().0);
            press(&mut harness, key);
            let (stand, asked) = harness.state();
            assert_eq!(*asked, [done], "{} by {key:?}", entry.name);
            // Sources, takes and tasks are the program's affair: they are only asked for here.
            if !["microphone", "task", "bring-back"].contains(&entry.name) {
                let after = format!("{stand:?}");
                assert_ne!(before, after, "{} by {key:?} changes nothing", entry.name);
            }
            // Nothing keeps the focus for the next one.
            press(&mut harness, Key::Escape);
        }
    }
}

#[test]
fn every_line_of_the_list_does_what_it_says() {
    let mut harness = watched(stand(), vec2(1280.0, 2000.0));
    for entry in of_stand() {
        let mut stand = ready_for(entry.name);
        let done = asks(entry, &stand);
        stand.shell.overlay = Some(Overlay::Keys);
        *harness.state_mut() = (stand, Vec::new());
        harness.run();
        click(&mut harness, entry.help);
        assert_eq!(harness.state().1, [done], "{}", entry.name);
    }
}

#[test]
fn keys_do_what_a_player_expects() {
    let mut harness = harness(stand(), WINDOW);
    let reach = harness.state().reach();
    let mut after = |key| {
        press(&mut harness, key);
        harness.state().clone()
    };
    assert_eq!(after(Key::L).shell.options().paper, Paper::Dark);
    assert_eq!(after(Key::L).shell.options().paper, Paper::Light);
    assert!(after(Key::Plus).reach() < reach);
    assert_eq!(after(Key::Minus).reach(), reach);
    assert!(after(Key::Minus).reach() > reach);
    assert_eq!(after(Key::Z).shell.options().zoom, Zoom::ByItself);
    assert_eq!(after(Key::W).span().0, 16.0);
    assert_eq!(after(Key::W).span().0, 4.0);
    assert!(after(Key::F).shell.full_screen);
    assert_eq!(after(Key::F1).shell.overlay, Some(Overlay::Keys));
    assert_eq!(after(Key::Questionmark).shell.overlay, None);
}

#[test]
fn space_holds_the_picture_and_lets_it_go_on() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    let mut harness = harness(stand, WINDOW);
    press(&mut harness, Key::Space);
    assert!(harness.state().holding());
    harness.get_by_label("trace of the pitch: B♭3, held");
    // What is heard meanwhile does not move the picture.
    sound(harness.state_mut(), 3.0, Motion::Straight);
    harness.run();
    harness.get_by_label("rate: 5.6 Hz ±0.2");
    press(&mut harness, Key::Space);
    harness.get_by_label_contains("offset: ");
}

#[test]
fn all_that_is_needed_while_playing_lies_on_the_keys_of_pedals() {
    let needed: Vec<_> = commands::all().into_iter().filter(|entry| entry.while_playing).collect();
    let names: Vec<_> = needed.iter().map(|entry| entry.name).collect();
    assert_eq!(
        names,
        [
            "hold",
            "showing",
            "straight",
            "take-reference",
            "drone",
            "beat",
            "drone-up",
            "drone-down",
            "first-answer",
            "second-answer",
            "third-answer",
            "reveal",
            "passage-start",
            "passage-end",
            "passage-answer",
            "passage-on",
            "passage-again"
        ]
    );
    for entry in needed {
        assert!(entry.keys.iter().any(|key| PEDALS.contains(key)), "{}", entry.name);
    }
}

#[test]
fn a_question_has_its_keys_first_and_only_while_it_is_asked() {
    let mut harness = watched(ready_for("first-answer"), WINDOW);
    let mut after = |key| {
        press(&mut harness, key);
        std::mem::take(&mut harness.state_mut().1)
    };
    assert_eq!(after(Key::L), [Action::Do(Command::Paper)]);
    assert_eq!(after(Key::PageUp), [Action::Do(Command::Answer(0))]);
    assert_eq!(after(Key::PageUp), [Action::Do(Command::Straight)]);
    assert_eq!(after(Key::Num1), []);
}

#[test]
fn a_pedal_that_is_held_down_counts_once_and_a_semitone_goes_on() {
    let mut harness = harness(stand(), WINDOW);
    let hold = |harness: &mut Harness<Stand>, key| {
        for repeat in [false, true, true] {
            harness.event(Event::Key {
                key,
                physical_key: None,
                pressed: true,
                repeat,
                modifiers: Modifiers::NONE,
            });
            harness.run();
        }
        harness.key_up(key);
        harness.run();
    };
    hold(&mut harness, Key::PageDown);
    assert_eq!(harness.state().shell.options().showing, Showing::AfterNote);
    let midi = harness.state().shell.options().drone.midi;
    hold(&mut harness, Key::ArrowUp);
    assert_eq!(harness.state().shell.options().drone.midi, midi + 3);
}

#[test]
fn keys_together_with_ctrl_or_alt_are_not_ours() {
    let mut harness = harness(stand(), WINDOW);
    for modifiers in [Modifiers::CTRL, Modifiers::COMMAND, Modifiers::ALT] {
        harness.key_press_modifiers(modifiers, Key::L);
        harness.run();
        assert_eq!(harness.state().shell.options().paper, Paper::Light, "{modifiers:?}");
    }
}

#[test]
fn a_key_that_was_given_another_command_does_that_one() {
    let mut options = Options::default();
    let keys = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>();
    options.keys.set(&commands::all(), "paper", &keys(&["F5"])).expect("known");
    options.keys.set(&commands::all(), "hold", &keys(&["L"])).expect("known");
    let mut harness = harness(Stand::new(options), WINDOW);
    press(&mut harness, Key::L);
    assert!(harness.state().holding());
    assert_eq!(harness.state().shell.options().paper, Paper::Light);
    press(&mut harness, Key::F5);
    assert_eq!(harness.state().shell.options().paper, Paper::Dark);
}
