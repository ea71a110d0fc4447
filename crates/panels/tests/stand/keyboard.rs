//! What keys do: those of the keyboard, and those that pedals send.

use crate::WINDOW;
use crate::heard::{play, sound, stand, vibrato};
use crate::scenes::window::harness;
use coach::Showing;
use egui::{Event, Key, Modifiers, Vec2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use panels::keys::{Command, Does, Entry, entries};
use panels::shell::options::{Options, Zoom};
use panels::shell::rooms::Room;
use panels::stand::{Action, Leaf, Stand, stand_ui};
use panels::theme::{self, Paper};
use vibrato::Motion;

/// The commands that are heard on the Stand, with their lines in the list.
fn commands() -> impl Iterator<Item = (&'static Entry, Command)> {
    entries().filter_map(|entry| match entry.does {
        Does::Command(command) => Some((entry, command)),
        _ => None,
    })
}

/// A Stand in which this command has something to do.
fn ready_for(command: Command) -> Stand {
    let hidden = || Stand::new(Options { showing: Showing::AfterNote, ..Options::default() });
    let mut ready = stand();
    match command {
        Command::TakeReference => play(&mut ready, true),
        Command::DropReference => {
            play(&mut ready, true);
            ready.apply(Action::Do(Command::TakeReference));
        }
        Command::Room(room) => {
            ready.room = if room == Room::Stand { Room::Drill } else { Room::Stand };
        }
        Command::Answer(2) => {
            // The third question is the one with three answers.
            ready = hidden();
            for _ in 0..2 {
                play(&mut ready, false);
                ready.apply(Action::Do(Command::Answer(0)));
            }
            play(&mut ready, false);
        }
        Command::Answer(_) | Command::Reveal => {
            ready = hidden();
            play(&mut ready, false);
        }
        Command::ZoomByItself => {
            let zoom = Zoom::Fixed(0);
            ready = Stand::new(Options { zoom, ..Options::default() });
        }
        Command::Close => ready.leaf = Some(Leaf::Keys),
        _ => {}
    }
    ready
}

/// A harness that also keeps what was asked for.
fn watched(stand: Stand, size: Vec2) -> Harness<'static, (Stand, Vec<Action>)> {
    let mut harness =
        Harness::builder().with_size(size).with_context_setup(theme::dress).build_ui_state(
            |ui, (stand, asked): &mut (Stand, Vec<Action>)| {
                for action in stand_ui(ui, stand) {
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
    for (entry, command) in commands() {
        let keys = Options::default().keys.of(command).to_vec();
        assert!(!keys.is_empty(), "{}", entry.name);
        for key in keys {
            *harness.state_mut() = (ready_for(command), Vec::new());
            harness.run();
            let before = format!("{:?}", harness.state().0);
            harness.key_press(key);
            harness.run();
            let (stand, asked) = harness.state();
            let done = Action::Do(command);
            assert_eq!(*asked, [done], "{} by {key:?}", entry.name);
            // Which source is heard and what the task is are the program's affair: they are only asked for here.
            if !matches!(command, Command::TakeMicrophone | Command::Task) {
                let after = format!("{stand:?}");
                assert_ne!(before, after, "{} by {key:?} changes nothing", entry.name);
            }
            // Nothing keeps the focus for the next one.
            harness.key_press(Key::Escape);
            harness.run();
        }
    }
}

#[test]
fn every_line_of_the_list_does_what_it_says() {
    let mut harness = watched(stand(), vec2(1400.0, 1500.0));
    for (entry, command) in commands() {
        let mut stand = ready_for(command);
        stand.leaf = Some(Leaf::Keys);
        *harness.state_mut() = (stand, Vec::new());
        harness.run();
        harness.get_by_label(entry.said).click();
        harness.run();
        let done = Action::Do(command);
        assert_eq!(harness.state().1, [done], "{}", entry.name);
    }
}

#[test]
fn keys_do_what_a_player_expects() {
    let mut harness = harness(stand(), WINDOW);
    let reach = harness.state().reach();
    let mut press = |key| {
        harness.key_press(key);
        harness.run();
        harness.state().clone()
    };
    assert_eq!(press(Key::L).options().paper, Paper::Dark);
    assert_eq!(press(Key::L).options().paper, Paper::Light);
    assert!(press(Key::Plus).reach() < reach);
    assert_eq!(press(Key::Minus).reach(), reach);
    assert!(press(Key::Minus).reach() > reach);
    assert_eq!(press(Key::Z).options().zoom, Zoom::ByItself);
    assert_eq!(press(Key::W).span().0, 16.0);
    assert_eq!(press(Key::W).span().0, 4.0);
    assert!(press(Key::F).full_screen);
    assert_eq!(press(Key::F1).leaf, Some(Leaf::Keys));
    assert_eq!(press(Key::Questionmark).leaf, None);
}

#[test]
fn space_holds_the_picture_and_lets_it_go_on() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    let mut harness = harness(stand, WINDOW);
    harness.key_press(Key::Space);
    harness.run();
    assert!(harness.state().holding());
    harness.get_by_label("trace of the pitch: B♭3, held");
    // What is heard meanwhile does not move the picture.
    sound(harness.state_mut(), 3.0, Motion::Straight);
    harness.run();
    harness.get_by_label("rate: 5.6 Hz ±0.2");
    harness.key_press(Key::Space);
    harness.run();
    harness.get_by_label("rate: straight");
}

#[test]
fn all_that_is_needed_while_playing_lies_on_the_keys_of_pedals() {
    let pedals = [
        Key::PageUp,
        Key::PageDown,
        Key::ArrowLeft,
        Key::ArrowRight,
        Key::ArrowUp,
        Key::ArrowDown,
        Key::Space,
        Key::Enter,
    ];
    for command in [
        Command::Hold,
        Command::Showing,
        Command::Straight,
        Command::TakeReference,
        Command::Drone,
        Command::DroneUp,
        Command::DroneDown,
        Command::Beat,
        Command::Answer(0),
        Command::Answer(1),
        Command::Answer(2),
        Command::Reveal,
    ] {
        let keys = Options::default().keys.of(command).to_vec();
        assert!(keys.iter().any(|key| pedals.contains(key)), "{command:?}");
    }
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
    assert_eq!(harness.state().options().showing, Showing::AfterNote);
    let midi = harness.state().options().drone.midi;
    hold(&mut harness, Key::ArrowUp);
    assert_eq!(harness.state().options().drone.midi, midi + 3);
}

#[test]
fn keys_together_with_ctrl_or_alt_are_not_ours() {
    let mut harness = harness(stand(), WINDOW);
    for modifiers in [Modifiers::CTRL, Modifiers::COMMAND, Modifiers::ALT] {
        harness.key_press_modifiers(modifiers, Key::L);
        harness.run();
        assert_eq!(harness.state().options().paper, Paper::Light, "{modifiers:?}");
    }
}

#[test]
fn a_key_that_was_given_another_command_does_that_one() {
    let mut options = Options::default();
    let keys = |names: &[&str]| names.iter().map(|&name| name.to_owned()).collect::<Vec<_>>();
    options.keys.set("paper", &keys(&["F5"])).expect("known");
    options.keys.set("hold", &keys(&["L"])).expect("known");
    let mut harness = harness(Stand::new(options), WINDOW);
    harness.key_press(Key::L);
    harness.run();
    assert!(harness.state().holding());
    assert_eq!(harness.state().options().paper, Paper::Light);
    harness.key_press(Key::F5);
    harness.run();
    assert_eq!(harness.state().options().paper, Paper::Dark);
}
