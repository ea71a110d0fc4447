//! How the Stand looks: pictures that are compared with those kept in `tests/snapshots`.
//!
//! After a change that is meant, `UPDATE_SNAPSHOTS=1 cargo test -p panels --test stand pictures`
//! makes them anew; look at each before it is kept.

use crate::scenes;
use coach::{Curtain, Question, Showing};
use egui::{Vec2, vec2};
use egui_kittest::{Harness, SnapshotOptions};
use panels::keys::Command;
use panels::options::Options;
use panels::stand::picture::Sounding;
use panels::stand::{Action, Device, Devices, Heard, Leaf, Stand};
use panels::theme::Paper;
use tuning::{Cents, Hz};
use vibrato::Motion;

const SMALL: Vec2 = vec2(1024.0, 640.0);
const LARGE: Vec2 = vec2(2560.0, 1440.0);
/// How much a pixel may differ, as a weighted squared distance in YIQ, and how many may differ by
/// more. Another software renderer may round the edges of letters and slanted lines otherwise
/// (Vulkan and OpenGL of one version of Mesa do not); one other digit in the smallest type of a
/// window of 1024 points differs in 28 pixels.
const THRESHOLD: f32 = 1.5;
const FAILED: usize = 20;

type Scene = fn(Options) -> Stand;

fn options(paper: Paper, text_scale: f32) -> Options {
    let mut options = Options {
        paper,
        text_scale,
        instrument: Some("cello".to_owned()),
        ..Options::default()
    };
    options.wanted.rate = Some((Hz(4.8), Hz(5.6)));
    options.wanted.width = Some((Cents(20.0), Cents(45.0)));
    options
}

fn compare(harness: &mut Harness<Stand>, name: &str) -> Result<(), String> {
    let options = SnapshotOptions::new()
        .threshold(THRESHOLD)
        .max_failed_pixels(FAILED);
    let compared = harness.try_snapshot_options(name, &options);
    compared.map_err(|error| error.to_string())
}

/// Compares all pictures before it tells of the first that differs.
fn compare_all(pictures: impl IntoIterator<Item = (String, Stand, Vec2)>) {
    let mut harness: Option<Harness<Stand>> = None;
    let mut differ = Vec::new();
    for (name, stand, size) in pictures {
        // One renderer draws them all: it takes longer to start than to draw.
        let harness = harness.get_or_insert_with(|| scenes::harness(stand.clone(), size));
        *harness.state_mut() = stand;
        // A large window is drawn at half its size: what matters of it is how it is laid out.
        harness.set_pixels_per_point(if size == LARGE { 0.5 } else { 1.0 });
        // A change of the scale takes a frame to arrive, and changes the size.
        harness.run_steps(2);
        harness.set_size(size);
        harness.run();
        differ.extend(compare(harness, &name).err());
    }
    assert!(differ.is_empty(), "{}", differ.join("\n"));
}

/// A scene on both papers, at both sizes of the window, at type of 100 and 200 %.
fn everywhere(name: &str, scene: Scene) {
    let heard = scene(options(Paper::Light, 1.0));
    let mut pictures = Vec::new();
    for (paper, called) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
        for (size, wide) in [(SMALL, 1024), (LARGE, 2560)] {
            for text_scale in [1.0, 2.0] {
                let mut stand = heard.clone();
                let set = Box::new(options(paper, text_scale));
                stand.apply(Action::Set(set));
                let percent = 100.0 * text_scale;
                let name = format!("{name}-{called}-{wide}-{percent:.0}");
                pictures.push((name, stand, size));
            }
        }
    }
    compare_all(pictures);
}

#[test]
fn a_recorded_note_looks_as_it_did() {
    everywhere("recorded", scenes::recorded_note);
}

#[test]
fn a_jerky_note_looks_as_it_did() {
    everywhere("jerky", scenes::jerky_note);
}

#[test]
fn silence_looks_as_it_did() {
    everywhere("silence", scenes::silent);
}

#[test]
fn no_device_looks_as_it_did() {
    everywhere("no-device", scenes::no_device);
}

fn hidden(showing: Showing) -> Options {
    Options {
        showing,
        ..options(Paper::Light, 1.0)
    }
}

#[test]
fn the_ear_before_the_eye_looks_as_it_did() {
    let mut listening = scenes::recorded_note(hidden(Showing::AfterRound));
    let asking = scenes::even_note(hidden(Showing::AfterNote), 0.4);
    let mut answered = asking.clone();
    answered.apply(Action::Do(Command::Answer(0)));
    let mut large = asking.clone();
    let set = Options {
        showing: Showing::AfterNote,
        ..options(Paper::Dark, 2.0)
    };
    large.apply(Action::Set(Box::new(set)));
    listening.apply(Action::Do(Command::Paper));
    compare_all([
        ("ear-listening-dark".to_owned(), listening, SMALL),
        ("ear-asking-light".to_owned(), asking, SMALL),
        ("ear-answered-light".to_owned(), answered, SMALL),
        ("ear-asking-dark-200".to_owned(), large, SMALL),
    ]);
}

#[test]
fn straight_practice_looks_as_it_did() {
    let straight = |paper, text_scale| {
        let mut stand = scenes::straight_note(options(paper, text_scale), 0.5);
        stand.apply(Action::Do(Command::Straight));
        stand
    };
    let mut own = straight(Paper::Dark, 1.0);
    own.apply(Action::Do(Command::TakeReference));
    compare_all([
        (
            "straight-light".to_owned(),
            straight(Paper::Light, 1.0),
            SMALL,
        ),
        ("straight-own-dark".to_owned(), own, SMALL),
        (
            "straight-light-200".to_owned(),
            straight(Paper::Light, 2.0),
            SMALL,
        ),
    ]);
}

#[test]
fn the_sheets_look_as_they_did() {
    let device = |name: &str, channels| Device {
        name: name.to_owned(),
        id: name.to_owned(),
        channels,
    };
    let devices = Devices {
        inputs: vec![
            device("Built-in microphone", 1),
            device("Sound interface", 2),
        ],
        outputs: vec![device("Headphones", 2)],
    };
    let mut heard = scenes::even_note(options(Paper::Light, 1.0), 0.5);
    heard.apply(Action::Heard(Heard::Devices(devices)));
    let mut pictures = Vec::new();
    for (leaf, name) in [
        (Leaf::Keys, "keys"),
        (Leaf::Settings, "settings"),
        (Leaf::Sound, "sound"),
    ] {
        for (paper, text_scale, called) in
            [(Paper::Light, 1.0, "light"), (Paper::Dark, 2.0, "dark-200")]
        {
            let mut stand = heard.clone();
            let mut set = options(paper, text_scale);
            set.input.name = Some("Sound interface".to_owned());
            stand.apply(Action::Set(Box::new(set)));
            stand.apply(Action::Turn(leaf));
            pictures.push((format!("sheet-{name}-{called}"), stand, SMALL));
        }
    }
    compare_all(pictures);
}

#[test]
fn the_pictures_of_the_readme_show_what_they_are_there_for() {
    let [(_, live), (_, straight), (_, question)] = scenes::readme();
    let sounding = live.picture().sounding;
    let Sounding::Note(note) = sounding else {
        panic!("no note sounds: {sounding:?}");
    };
    assert!(matches!(note.motion, Motion::Vibrato { .. }), "{note:?}");
    assert!(straight.straight && straight.steady().is_some());
    assert_eq!(question.curtain(), Curtain::Asking(Question::Evenness));
}
