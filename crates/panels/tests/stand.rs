//! The Stand as a player meets it: what is said, what keys and clicks do. Without a window system.

use egui::accesskit::Role;
use egui::{Key, Vec2, vec2};
use egui_kittest::{
    Harness,
    kittest::{NodeT, Queryable},
};
use panels::Source;
use panels::stand::{Action, Heard, Stand, stand_ui};
use panels::theme::{self, Paper};
use pitch::Frame;
use tuning::{Cents, Hz, Naming, Secs, Tuning};
use vibrato::{Event, Live, Measure, Motion, Note, Oscillation, Remarks, Vibrato};

const WINDOW: Vec2 = vec2(900.0, 600.0);
const B_FLAT_3: i32 = 58;

fn stand() -> Stand {
    Stand::new(Tuning::default(), Naming::default())
}

fn harness(stand: Stand, size: Vec2) -> Harness<'static, Stand> {
    let mut harness = Harness::builder()
        .with_size(size)
        .with_context_setup(theme::dress)
        .build_ui_state(
            |ui, stand: &mut Stand| {
                for action in stand_ui(ui, stand) {
                    stand.apply(action);
                }
            },
            stand,
        );
    harness.run();
    harness
}

fn reference() -> Hz {
    Tuning::default().frequency(B_FLAT_3)
}

fn hear(stand: &mut Stand, event: Event) {
    stand.apply(Action::Heard(Heard::Event(event)));
}

fn measure<T>(value: T, se: T) -> Measure<T> {
    Measure {
        value,
        se: Some(se),
    }
}

/// A note from 0.5 s on, heard up to `until`, with this motion.
fn sound(stand: &mut Stand, until: f64, motion: Motion) {
    let start = Secs(0.5);
    hear(
        stand,
        Event::NoteBegan {
            start,
            midi: B_FLAT_3,
            reference: reference(),
        },
    );
    let mut time = start.0;
    while time < until {
        hear(
            stand,
            Event::Frame(Frame {
                time: Secs(time),
                f0: Some(reference().raised(Cents(-6.0))),
                confidence: 0.95,
                level_dbfs: -20.0,
                disagreement: None,
            }),
        );
        hear(
            stand,
            Event::Live(Live {
                time: Secs(time),
                midi: B_FLAT_3,
                reference: reference(),
                centre: measure(Cents(-6.2), Cents(0.8)),
                motion,
                two_strings: false,
                room: false,
            }),
        );
        time += 0.005;
    }
}

fn vibrato() -> Motion {
    Motion::Vibrato {
        rate: measure(Hz(5.62), Hz(0.2)),
        width: measure(Cents(34.4), Cents(2.6)),
    }
}

fn ended(straight: bool) -> Note {
    Note {
        start: Secs(0.5),
        end: Secs(2.0),
        midi: B_FLAT_3,
        reference: reference(),
        f0: measure(reference(), Hz(0.1)),
        offset: measure(Cents(-6.1), Cents(0.3)),
        level_dbfs: -20.0,
        confidence: 0.95,
        unsteadiness: Cents(1.24),
        vibrato: (!straight).then(|| Vibrato {
            rate: measure(Hz(5.618), Hz(0.03)),
            width: measure(Cents(33.6), Cents(0.7)),
            centre: measure(Cents(-6.1), Cents(0.4)),
            rate_spread_pct: Some(measure(6.2, 1.2)),
            width_spread_pct: None,
            smoothness_pct: None,
            drift: None,
            onset: measure(Secs(0.42), Secs(0.02)),
            contour: Vec::new(),
            oscillations: Vec::new(),
        }),
        straight,
        rebows: Vec::new(),
        remarks: Remarks::default(),
    }
}

#[test]
fn before_the_first_note_it_asks_for_one_and_cautions_once() {
    let mut stand = stand();
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label("no note yet");
    harness.get_by_label("rate: no note");
    harness.get_by_label_contains("Stop at pain, numbness or tingling");
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(false)))));
    let after = self::harness(stand, WINDOW);
    assert!(after.query_by_label_contains("Stop at pain").is_none());
}

#[test]
fn a_sounding_note_is_said_with_its_units_and_doubts() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    let harness = harness(stand, WINDOW);
    harness.get_by_label("note B♭3, centre 6 cents flat ±0.8");
    let rate = harness.get_by_label("rate: 5.6 Hz ±0.2");
    assert_eq!(rate.accesskit_node().role(), Role::Meter);
    assert_eq!(rate.accesskit_node().numeric_value(), Some(5.62));
    let width = harness.get_by_label("width: 34 cents ±3");
    assert_eq!(width.accesskit_node().numeric_value(), Some(34.4));
}

#[test]
fn straight_and_unknown_are_said_in_words() {
    for (motion, word) in [(Motion::Straight, "straight"), (Motion::Unknown, "unknown")] {
        let mut stand = stand();
        sound(&mut stand, 2.0, motion);
        let harness = harness(stand, WINDOW);
        for gauge in ["rate", "width"] {
            let said = format!("{gauge}: {word}");
            let node = harness.get_by_label(&said);
            assert_eq!(node.accesskit_node().numeric_value(), None);
        }
    }
}

#[test]
fn the_measures_of_a_note_stay_until_the_next_one_begins() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(false)))));
    let harness = harness(stand.clone(), WINDOW);
    harness.get_by_label(
        "measures of B♭3: rate 5.62 ±0.03 Hz, width 33.6 ±0.7 cents, centre −6.1 ±0.4 cents, \
         rate spread 6 ±1 %, width spread unknown, onset 0.42 s",
    );
    harness.get_by_label("last note B♭3, centre 6 cents flat ±0.4");
    harness.get_by_label("rate of the last note: 5.6 Hz ±0.03");
    sound(&mut stand, 2.0, Motion::Unknown);
    let next = self::harness(stand, WINDOW);
    assert!(next.query_by_label_contains("measures of B♭3").is_none());
}

#[test]
fn a_straight_note_is_called_straight_afterwards() {
    let mut stand = stand();
    sound(&mut stand, 2.0, Motion::Straight);
    stand.apply(Action::Heard(Heard::Note(Box::new(ended(true)))));
    let harness = harness(stand, WINDOW);
    harness.get_by_label(
        "measures of B♭3: vibrato none: straight, centre −6.1 ±0.3 cents, \
         unsteadiness 1.2 cents, length 1.50 s",
    );
    harness.get_by_label("width of the last note: straight");
}

#[test]
fn remarks_say_what_to_do() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    let mut note = ended(false);
    note.remarks.room = true;
    stand.apply(Action::Heard(Heard::Note(Box::new(note))));
    harness(stand, WINDOW).get_by_label_contains("come within about 60 cm");
}

#[test]
fn a_missing_microphone_is_said_with_what_to_do_and_nothing_looks_live() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Heard(Heard::Source(Source::Trouble {
        words: "no microphone is there; plug one in".to_owned(),
    })));
    let harness = harness(stand, WINDOW);
    let alert =
        harness.get_by_label_contains("Nothing is heard: No microphone is there; plug one in.");
    assert_eq!(alert.accesskit_node().role(), Role::Alert);
    harness.get_by_label("rate: no note");
    harness.get_by_label("level: none");
}

#[test]
fn the_level_is_said_in_words() {
    let mut stand = stand();
    let level = |stand: &mut Stand, peak_dbfs, clipped| {
        stand.apply(Action::Heard(Heard::Level { peak_dbfs, clipped }));
    };
    harness(stand.clone(), WINDOW).get_by_label("level: none");
    level(&mut stand, -75.0, false);
    harness(stand.clone(), WINDOW).get_by_label("level: silence");
    sound(&mut stand, 1.0, Motion::Unknown);
    harness(stand.clone(), WINDOW).get_by_label("level: too quiet: come closer");
    level(&mut stand, 0.0, true);
    harness(stand.clone(), WINDOW).get_by_label("level: clipping: turn it down");
    for _ in 0..40 {
        level(&mut stand, -20.0, false);
    }
    harness(stand, WINDOW).get_by_label("level: good");
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
fn every_key_does_what_the_list_says() {
    let mut harness = harness(stand(), WINDOW);
    let reach = harness.state().reach();
    let mut press = |key| {
        harness.key_press(key);
        harness.run();
        harness.state().clone()
    };
    assert_eq!(press(Key::L).paper, Paper::Dark);
    assert_eq!(press(Key::L).paper, Paper::Light);
    assert!(press(Key::Plus).reach() < reach);
    assert_eq!(press(Key::Minus).reach(), reach);
    assert!(press(Key::Minus).reach() > reach);
    assert!(press(Key::F).full_screen);
    assert!(press(Key::F1).keys_shown);
    assert!(!press(Key::Questionmark).keys_shown);
}

#[test]
fn the_list_of_keys_opens_and_works_by_mouse() {
    let mut harness = harness(stand(), WINDOW);
    harness.get_by_label("Keys ?").click();
    harness.run();
    harness.get_by_label_contains("light or dark paper").click();
    harness.run();
    assert_eq!(harness.state().paper, Paper::Dark);
    harness
        .get_by_label_contains("show or hide this list")
        .click();
    harness.run();
    assert!(!harness.state().keys_shown);
    assert!(
        harness
            .query_by_label_contains("light or dark paper")
            .is_none()
    );
}

#[test]
fn zoom_stops_at_both_ends() {
    let mut stand = stand();
    for action in [Action::ZoomIn, Action::ZoomOut] {
        for _ in 0..20 {
            stand.apply(action.clone());
        }
        let end = stand.reach();
        stand.apply(action);
        assert_eq!(stand.reach(), end);
    }
}

#[test]
fn another_source_starts_on_an_empty_sheet() {
    let mut stand = stand();
    sound(&mut stand, 2.0, vibrato());
    stand.apply(Action::Hold);
    stand.apply(Action::Heard(Heard::Anew));
    assert!(!stand.holding());
    assert!(stand.picture().points.is_empty());
    assert_eq!(stand.picture().time, None);
}

#[test]
fn a_note_that_began_before_anybody_listened_is_a_note_all_the_same() {
    let mut stand = stand();
    sound(&mut stand, 1.0, vibrato());
    stand.apply(Action::Heard(Heard::Anew));
    let time = Secs(4.0);
    hear(
        &mut stand,
        Event::Frame(Frame {
            time,
            f0: Some(reference()),
            confidence: 0.95,
            level_dbfs: -20.0,
            disagreement: None,
        }),
    );
    hear(
        &mut stand,
        Event::Live(Live {
            time,
            midi: B_FLAT_3,
            reference: reference(),
            centre: measure(Cents(0.0), Cents(1.0)),
            motion: vibrato(),
            two_strings: false,
            room: false,
        }),
    );
    assert!(stand.picture().in_note(time));
    assert!(!stand.picture().in_note(Secs(3.9)));
}

#[test]
fn only_the_last_dozen_oscillations_and_eight_seconds_are_kept() {
    let mut stand = stand();
    sound(&mut stand, 30.0, vibrato());
    for count in 0..50 {
        hear(
            &mut stand,
            Event::Oscillation(Oscillation {
                start: Secs(f64::from(count) * 0.2),
                period: Secs(0.2),
                crest: Cents(10.0),
                trough: Cents(-10.0),
            }),
        );
    }
    let picture = stand.picture();
    assert_eq!(picture.oscillations.len(), 12);
    assert_eq!(picture.oscillations[11].start, Secs(49.0 * 0.2));
    let first = picture.points.front().map(|point| point.time.0);
    let newest = picture.time.map(|time| time.0);
    assert!(newest > Some(29.9) && first >= newest.map(|t| t - 8.0));
}

#[test]
fn the_view_stays_on_a_note_that_swings_and_follows_one_that_goes() {
    let mut stand = stand();
    sound(&mut stand, 1.0, vibrato());
    let middle = stand.picture().middle().expect("a note was heard");
    let tuning = Tuning::default();
    let go_to = |stand: &mut Stand, midi: i32, from: f64| {
        for i in 0..300 {
            let time = Secs(from + f64::from(i) * 0.005);
            let reference = tuning.frequency(midi);
            hear(
                stand,
                Event::Frame(Frame {
                    time,
                    f0: Some(reference),
                    confidence: 0.95,
                    level_dbfs: -20.0,
                    disagreement: None,
                }),
            );
            hear(
                stand,
                Event::Live(Live {
                    time,
                    midi,
                    reference,
                    centre: measure(Cents(0.0), Cents(1.0)),
                    motion: Motion::Unknown,
                    two_strings: false,
                    room: false,
                }),
            );
        }
    };
    // On a wide sheet a neighbour lies in the quiet middle.
    for _ in 0..9 {
        stand.apply(Action::ZoomOut);
    }
    go_to(&mut stand, B_FLAT_3 + 1, 1.0);
    assert_eq!(stand.picture().middle(), Some(middle));
    for _ in 0..9 {
        stand.apply(Action::ZoomIn);
    }
    go_to(&mut stand, B_FLAT_3 + 1, 2.5);
    let now = stand.picture().middle().expect("a note was heard");
    assert!(
        (now.0 - middle.0 - 100.0).abs() < 1.0,
        "{now:?} after {middle:?}"
    );
}

#[test]
fn it_draws_at_every_size_and_on_both_papers() {
    for size in [
        vec2(480.0, 360.0),
        WINDOW,
        vec2(1280.0, 800.0),
        vec2(2560.0, 1440.0),
    ] {
        let mut stand = stand();
        sound(&mut stand, 9.0, vibrato());
        hear(
            &mut stand,
            Event::Lost {
                time: Secs(7.0),
                length: Secs(0.25),
            },
        );
        let mut harness = harness(stand, size);
        harness.get_by_label("trace of the pitch: B♭3, 0.2 s of the sound is lost");
        harness.key_press(Key::L);
        harness.run();
        assert_eq!(harness.state().paper, Paper::Dark);
    }
}
