//! How the Stand looks.

use crate::scenes;
use crate::scenes::pictures::{EACH, FEW, compare, compare_in};
use coach::{Curtain, Question, Showing};
use panels::shell::options::Options;
use panels::shell::report::{ReportOf, ReportState};
use panels::stand::picture::Sounding;
use panels::stand::{Action, Command, Device, Devices, Heard, Overlay};
use panels::theme::Paper;
use tuning::{Cents, Hz};
use vibrato::Motion;

fn options(paper: Paper, text_scale: f32) -> Options {
    let mut options =
        Options { paper, text_scale, instrument: Some("cello".to_owned()), ..Options::default() };
    options.wanted.rate = Some((Hz(4.8), Hz(5.6)));
    options.wanted.width = Some((Cents(20.0), Cents(45.0)));
    options
}

fn usual() -> Options {
    options(Paper::Light, 1.0)
}

#[test]
fn a_recorded_note_looks_as_it_did() {
    compare_in(&EACH, "recorded", scenes::recorded_note(usual()));
}

#[test]
fn a_jerky_note_looks_as_it_did() {
    compare_in(&FEW[..2], "jerky", scenes::jerky_note(usual()));
}

#[test]
fn silence_looks_as_it_did() {
    compare_in(&FEW[..2], "silence", scenes::silent(usual()));
}

#[test]
fn no_device_looks_as_it_did() {
    compare_in(&FEW, "no-device", scenes::no_device(usual()));
}

fn hidden(showing: Showing) -> Options {
    Options { showing, ..usual() }
}

#[test]
fn the_ear_before_the_eye_looks_as_it_did() {
    let mut listening = scenes::recorded_note(hidden(Showing::AfterRound));
    let asking = scenes::even_note(hidden(Showing::AfterNote), 0.4);
    let mut answered = asking.clone();
    answered.apply(Action::Do(Command::Answer(0)));
    let mut large = asking.clone();
    let set = Options { showing: Showing::AfterNote, ..options(Paper::Dark, 2.0) };
    large.apply(Action::Set(Box::new(set)));
    listening.apply(Action::Do(Command::Paper));
    compare([
        ("ear-listening-dark", listening),
        ("ear-asking-light", asking),
        ("ear-answered-light", answered),
        ("ear-asking-dark-200", large),
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
    let mut swinging = scenes::even_note(usual(), 0.5);
    swinging.apply(Action::Do(Command::Straight));
    compare([
        ("straight-swinging-light", swinging),
        ("straight-light", straight(Paper::Light, 1.0)),
        ("straight-own-dark", own),
        ("straight-light-200", straight(Paper::Light, 2.0)),
    ]);
}

#[test]
fn the_sheets_look_as_they_did() {
    let device =
        |name: &str, channels| Device { name: name.to_owned(), id: name.to_owned(), channels };
    let devices = Devices {
        inputs: vec![device("Built-in microphone", 1), device("Sound interface", 2)],
        outputs: vec![device("Headphones", 2)],
    };
    let mut heard = scenes::even_note(usual(), 0.5);
    heard.apply(Action::Heard(Heard::Devices(devices)));
    let open = |overlay, (paper, text_scale)| {
        let mut stand = heard.clone();
        let mut set = options(paper, text_scale);
        set.input.name = Some("Sound interface".to_owned());
        stand.apply(Action::Set(Box::new(set)));
        stand.apply(Action::Turn(overlay));
        stand
    };
    let (light, dark) = ((Paper::Light, 1.0), (Paper::Dark, 2.0));
    let mut report = open(Overlay::Sound, light);
    let of = ReportOf::Take("2026-11-25/17-41-09".parse().expect("a name"));
    report.apply(Action::Report(of));
    let path = "Documents/take-2026-11-25-17-41-09.html";
    let written = ReportState::Written(path.into());
    report.apply(Action::Heard(Heard::Report(written)));
    compare([
        ("sheet-keys-light", open(Overlay::Keys, light)),
        ("sheet-keys-dark-200", open(Overlay::Keys, dark)),
        ("sheet-settings-light", open(Overlay::Settings, light)),
        ("sheet-settings-dark-200", open(Overlay::Settings, dark)),
        ("sheet-sound-light", open(Overlay::Sound, light)),
        ("sheet-sound-dark-200", open(Overlay::Sound, dark)),
        ("sheet-report-light", report),
    ]);
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
