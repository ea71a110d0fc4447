//! The row of buttons: each can be reached, pressed and is told with its state.

use super::WINDOW;
use super::heard::{ended, hear, play, stand};
use crate::scenes::window::{click, harness, press, reach};
use coach::Showing;
use egui::accesskit::Toggled;
use egui::{Key, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT, Queryable};
use panels::shell::options::Options;
use panels::shell::room::Room;
use panels::stand::{About, Action, Command, Heard, Overlay, Stand};
use pitch::Frame;
use tuning::{Hz, Secs};
use vibrato::{Event, Note};

/// What a button changes.
type Effect = fn(&Stand) -> bool;

/// The buttons by their names, with what each does to a Stand that has heard a straight note.
const BUTTONS: [(&str, Effect); 10] = [
    ("way of showing: live", |stand| stand.shell.options().showing == Showing::AfterNote),
    ("straight practice", |stand| stand.straight),
    ("take the last note as reference", |stand| stand.own().is_some()),
    ("drone A2", |stand| stand.shell.drone_on),
    ("metronome, 60 beats a minute", |stand| stand.shell.beat_on),
    ("keep takes", |stand| !stand.shell.options().take.kept),
    ("span of the trace: 8 seconds", |stand| stand.span().0 == 16.0),
    ("Sound", |stand| stand.shell.overlay == Some(Overlay::Sound)),
    ("Settings", |stand| stand.shell.overlay == Some(Overlay::Settings)),
    ("Keys", |stand| stand.shell.overlay == Some(Overlay::Keys)),
];

fn after_a_straight_note() -> Harness<'static, Stand> {
    let mut stand = stand();
    play(&mut stand, true);
    harness(stand, WINDOW)
}

/// The name of what has the focus.
pub(super) fn focused(harness: &Harness<Stand>) -> Option<String> {
    let mut nodes = harness.query_all(egui_kittest::kittest::by());
    let node = nodes.find(|node| node.is_focused())?;
    node.accesskit_node().label()
}

/// Presses Tab until what has this name has the focus.
pub(super) fn tab_to(harness: &mut Harness<Stand>, name: &str) {
    for _ in 0..200 {
        if focused(harness).as_deref() == Some(name) {
            return;
        }
        press(harness, Key::Tab);
    }
    panic!("Tab does not reach \"{name}\"");
}

#[test]
fn tab_reaches_every_button_and_space_and_enter_press_it() {
    for (name, effect) in BUTTONS {
        for key in [Key::Space, Key::Enter] {
            let mut harness = after_a_straight_note();
            assert!(!effect(harness.state()), "{name} is done already");
            reach(&mut harness, name);
            tab_to(&mut harness, name);
            press(&mut harness, key);
            assert!(effect(harness.state()), "{name} by {key:?}");
            assert!(!harness.state().holding(), "{key:?} on {name} held the picture");
        }
    }
}

#[test]
fn every_button_can_be_clicked() {
    for (name, effect) in BUTTONS {
        let mut harness = after_a_straight_note();
        click(&mut harness, name);
        assert!(effect(harness.state()), "{name}");
    }
}

#[test]
fn at_most_seven_buttons_are_shown_at_once_in_one_row_and_more_shows_the_others() {
    for (size, text_scale) in [
        (vec2(800.0, 500.0), 1.0),
        (vec2(800.0, 500.0), 2.5),
        (vec2(1024.0, 640.0), 1.0),
        (vec2(1024.0, 640.0), 2.0),
        (vec2(2560.0, 1440.0), 1.0),
        (vec2(2560.0, 1440.0), 2.5),
    ] {
        let mut stand = Stand::new(Options { text_scale, ..Options::default() });
        play(&mut stand, true);
        let mut harness = harness(stand, size);
        let window = egui::Rect::from_min_size(egui::Pos2::ZERO, size);
        let mut reached = Vec::new();
        while reached.len() < BUTTONS.len() {
            let shown: Vec<_> = BUTTONS
                .iter()
                .filter_map(|(name, _)| Some((*name, harness.query_by_label(name)?.rect())))
                .collect();
            let more = ("more", harness.get_by_label("more").rect());
            let all = [&shown[..], &[more]].concat();
            assert!((2..=7).contains(&all.len()), "{all:?} at {size} × {text_scale}");
            for (i, (name, place)) in all.iter().enumerate() {
                assert!(window.contains_rect(*place), "{name} at {size} × {text_scale}: {place}");
                assert!(place.height() >= 24.0 && place.width() >= 24.0, "{name}: {place}");
                assert_eq!(place.top(), more.1.top(), "{name} at {size} × {text_scale}");
                for (other, its) in &all[i + 1..] {
                    let over = place.intersect(*its).width() > 0.01;
                    assert!(!over, "{name} and {other} at {size} × {text_scale}");
                }
            }
            let before = reached.len();
            reached.extend(shown.iter().map(|(name, _)| *name));
            assert!(reached.len() > before, "{reached:?} at {size} × {text_scale}");
            click(&mut harness, "more");
        }
    }
}

#[test]
fn switches_tell_whether_they_are_on_and_by_which_key() {
    let mut harness = harness(stand(), WINDOW);
    let toggled = |harness: &Harness<Stand>, name| {
        let node = harness.get_by_label(name);
        node.accesskit_node().toggled()
    };
    assert_eq!(toggled(&harness, "drone A2"), Some(Toggled::False));
    assert_eq!(toggled(&harness, "keep takes"), Some(Toggled::True));
    press(&mut harness, Key::D);
    assert_eq!(toggled(&harness, "drone A2"), Some(Toggled::True));
    let drone = harness.get_by_label("drone A2");
    let shortcut = drone.accesskit_node().data().keyboard_shortcut();
    assert_eq!(shortcut, Some("D"));
}

#[test]
fn a_reference_can_be_taken_only_after_a_straight_note() {
    let mut harness = harness(stand(), WINDOW);
    let name = "take the last note as reference";
    assert!(harness.query_by_label(name).is_none(), "nothing is shown that cannot be done");
    play(harness.state_mut(), true);
    harness.run();
    click(&mut harness, name);
    let taken = "your own B♭3 is the reference; press to clear it";
    harness.get_by_label(taken);
    // The key leads back; with another straight note it takes that one.
    press(&mut harness, Key::R);
    assert_eq!(harness.state().own(), None);
    press(&mut harness, Key::R);
    let first = harness.state().own().expect("the note is there still");
    let later = Box::new(ended(true).later(Secs(5.0)));
    harness.state_mut().apply(Action::Heard(Heard::Note(later)));
    harness.run();
    harness.get_by_label("take the last note as reference; now your own B♭3");
    press(&mut harness, Key::R);
    assert!(harness.state().own().is_some_and(|own| own.time > first.time));
    // Behind a note with vibrato there is nothing to take: it is cleared.
    play(harness.state_mut(), false);
    harness.run();
    click(&mut harness, taken);
    assert_eq!(harness.state().own(), None);
}

#[test]
fn a_word_goes_with_its_cause() {
    let mut stand = stand();
    stand.apply(Action::Heard(Heard::Word("the settings are new".to_owned())));
    let about = |stand: &mut Stand, words: Option<&str>| {
        let words = words.map(str::to_owned);
        stand.apply(Action::Heard(Heard::About(About::Task, words)));
    };
    about(&mut stand, Some("there is no task: a lesson ends with one"));
    stand.apply(Action::Do(Command::TakeReference));
    let hint = "play a note without vibrato first: it becomes the reference";
    assert_eq!(stand.shell.words.len(), 3);
    assert_eq!(stand.shell.words.last().map(String::as_str), Some(hint));
    play(&mut stand, false);
    assert_eq!(stand.shell.words.len(), 3, "it had vibrato");
    play(&mut stand, true);
    assert_eq!(stand.shell.words.len(), 2, "now it can be taken");
    about(&mut stand, Some("your takes are of no passage any more"));
    let second = "your takes are of no passage any more";
    assert_eq!(stand.shell.words, ["the settings are new", second], "in place of the word before");
    about(&mut stand, None);
    assert_eq!(stand.shell.words, ["the settings are new"]);
}

#[test]
fn a_rest_is_told_once_where_no_finding_tells_it() {
    let said = "25 minutes of playing: a good moment for a rest of 5 minutes.";
    for (room, hinted, told) in [
        (Room::Lesson, true, vec![said]),
        (Room::Passage, true, vec![said]),
        (Room::Lesson, false, vec![]),
        (Room::Stand, true, vec![]),
    ] {
        let mut options = Options::default();
        options.hints.rest = hinted;
        let mut stand = Stand::new(options);
        stand.apply(Action::Do(Command::Room(room)));
        let long = Note::plain(57, Hz(220.0), Secs(0.0), Secs(1_500.0));
        stand.apply(Action::Heard(Heard::Note(Box::new(long))));
        stand.apply(Action::Heard(Heard::Anew));
        let round = |stand: &mut Stand| {
            play(stand, true);
            for hop in 400..1_000 {
                let frame = Frame::plain(Secs(0.005 * f64::from(hop)), None, -80.0);
                hear(stand, Event::Frame(frame));
            }
        };
        round(&mut stand);
        assert_eq!(stand.shell.words, told, "{room:?}");
        stand.apply(Action::Dismiss);
        round(&mut stand);
        assert!(stand.shell.words.is_empty(), "once");
    }
}

#[test]
fn what_has_the_focus_keeps_space_enter_and_the_arrows_until_escape() {
    let mut harness = after_a_straight_note();
    tab_to(&mut harness, "keep takes");
    let midi = harness.state().shell.options().drone.midi;
    for key in [Key::ArrowUp, Key::ArrowDown, Key::ArrowRight, Key::ArrowLeft] {
        press(&mut harness, key);
    }
    assert_eq!(harness.state().shell.options().drone.midi, midi);
    assert!(!harness.state().shell.drone_on && !harness.state().shell.beat_on);
    assert!(focused(&harness).is_some());
    // Letters work all the same.
    press(&mut harness, Key::D);
    assert!(harness.state().shell.drone_on);
    press(&mut harness, Key::Escape);
    assert_eq!(focused(&harness), None);
    press(&mut harness, Key::Space);
    assert!(harness.state().holding());
}

#[test]
fn the_first_start_asks_for_the_instrument_and_for_nothing_else() {
    let mut harness = harness(stand(), WINDOW);
    harness.get_by_label("Which instrument do you play?");
    click(&mut harness, "cello");
    assert_eq!(harness.state().shell.options().instrument.as_deref(), Some("cello"));
    assert!(harness.query_by_label("Which instrument do you play?").is_none());
    // Who just plays is not asked again.
    let mut harness = self::harness(stand(), WINDOW);
    play(harness.state_mut(), true);
    harness.run();
    assert!(harness.query_by_label("Which instrument do you play?").is_none());
}

#[test]
fn r_says_why_there_is_no_reference_yet_and_the_word_goes_by_itself() {
    let mut harness = harness(stand(), WINDOW);
    press(&mut harness, Key::R);
    harness.get_by_label_contains("play a note without vibrato first");
    press(&mut harness, Key::R);
    assert_eq!(harness.state().shell.words.len(), 1, "said once");
    let frame = |secs| {
        let frame = pitch::Frame::plain(tuning::Secs(secs), None, -60.0);
        panels::stand::Action::Heard(panels::stand::Heard::Event(vibrato::Event::Frame(frame)))
    };
    harness.state_mut().apply(frame(1.0));
    harness.state_mut().apply(frame(20.0));
    assert_eq!(harness.state().shell.words.len(), 1, "there is time to read it");
    harness.state_mut().apply(frame(21.5));
    assert!(harness.state().shell.words.is_empty());
}
