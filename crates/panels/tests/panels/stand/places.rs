//! Whether all of the Stand and of its sheets has its place.

use super::heard::play;
use crate::places::{State, check};
use crate::scenes;
use coach::{Against, Showing};
use panels::Source;
use panels::shell::options::{Options, Practised, Side, Zoom};
use panels::shell::report::{ReportOf, ReportState};
use panels::stand::{Action, Command, Device, Devices, Figures, Heard, Overlay, Stand, Take};
use tuning::{Cents, Hz};

fn cello() -> Options {
    let mut options = Options { instrument: Some("cello".to_owned()), ..Options::default() };
    options.wanted.rate = Some((Hz(4.8), Hz(5.6)));
    options.wanted.width = Some((Cents(20.0), Cents(45.0)));
    options
}

/// What stands after these.
fn after(mut stand: Stand, actions: impl IntoIterator<Item = Action>) -> Stand {
    for action in actions {
        stand.apply(action);
    }
    stand
}

fn told(words: &str) -> Action {
    Action::Heard(Heard::Word(words.to_owned()))
}

#[test]
fn all_of_the_stand_has_its_place_in_every_state_and_size() {
    let heard = |options| scenes::even_note(options, 0.5);
    let asked = |question: usize| {
        let mut stand = Stand::new(Options { showing: Showing::AfterNote, ..cello() });
        (0..=question).for_each(|_| play(&mut stand, false));
        stand
    };
    let straight = after(scenes::straight_note(cello(), 0.5), [Action::Do(Command::Straight)]);
    let states: Vec<State<Stand>> = vec![
        ("first start", Stand::new(Options::default())),
        ("silence", scenes::silent(cello())),
        ("no device", scenes::no_device(cello())),
        ("a recorded note", scenes::recorded_note(cello())),
        ("a jerky note", scenes::jerky_note(Options { side: Side::Left, ..cello() })),
        ("an even note", heard(Options { zoom: Zoom::Fixed(0), ..cello() })),
        ("no band", heard(Options { instrument: Some("violin".to_owned()), ..Options::default() })),
        ("still", heard(Options { still: true, ..cello() })),
        ("straight", straight.clone()),
        ("own reference", after(straight.clone(), [Action::Do(Command::TakeReference)])),
        (
            "against the drone",
            after(
                scenes::straight_note(Options { against: Against::Drone, ..cello() }, 0.5),
                [Action::Do(Command::Straight), Action::Do(Command::Drone)],
            ),
        ),
        ("straight, nothing yet", after(scenes::silent(cello()), [Action::Do(Command::Straight)])),
        ("a note without vibrato", scenes::straight_note(cello(), 0.0)),
        ("asked once", asked(0)),
        ("asked twice", asked(1)),
        ("asked thrice", asked(2)),
        ("answered", after(asked(1), [Action::Do(Command::Answer(0))])),
        ("hidden", scenes::recorded_note(Options { showing: Showing::AfterRound, ..cello() })),
        ("demo", scenes::demo(cello(), 24.5)),
        (
            "held, with beat, drone, figures and a word",
            after(
                scenes::recorded_note(Options { player: "Wilhelmina".to_owned(), ..cello() }),
                [
                    Action::Do(Command::Hold),
                    Action::Do(Command::Drone),
                    Action::Do(Command::Beat),
                    Action::Heard(Heard::Beat(2)),
                    Action::Do(Command::Figures),
                    Action::Heard(Heard::Figures(Figures {
                        delay_median_ms: 31.2,
                        delay_most_ms: 48.9,
                        work_p99_ms: 4.1,
                        pictures_per_sec: 60.0,
                    })),
                    told(
                        "There is no reference yet: play a note without vibrato first, then press R.",
                    ),
                ],
            ),
        ),
        (
            "words in a row",
            after(
                scenes::silent(cello()),
                [
                    told(
                        "The settings file cannot be read: line 12, column 4: expected a number. It was moved \
                         aside, to “settings-2026-11-28.ron”, and the usual settings are in use.",
                    ),
                    told("The report is written: Documents/take-2026-11-25-17-41-09.html."),
                ],
            ),
        ),
        (
            "a take in trouble",
            after(
                scenes::recorded_note(cello()),
                [Action::Heard(Heard::Take(Take::Trouble(
                    "the disk is full: free some space, and takes go on by themselves".to_owned(),
                )))],
            ),
        ),
        (
            "a passage as task",
            scenes::recorded_note(Options {
                practised: Some(Practised {
                    player: String::new(),
                    passage: "The slow movement, bars 12 to 20, with the upbeat".to_owned(),
                }),
                ..cello()
            }),
        ),
        (
            "no loudspeaker, a demo for want of a microphone",
            after(
                scenes::demo(cello(), 8.0),
                [
                    Action::Heard(Heard::Loudspeaker(Some("no loudspeaker is there".to_owned()))),
                    Action::Heard(Heard::Source(Source::Demo {
                        name: "four-fingers".to_owned(),
                        missing: Some("no microphone is there".to_owned()),
                    })),
                ],
            ),
        ),
    ];
    check("Stand", states);
}

#[test]
fn all_of_every_sheet_has_its_place_in_every_size() {
    let device =
        |name: &str, channels| Device { name: name.to_owned(), id: name.to_owned(), channels };
    let devices = Devices {
        inputs: vec![
            device("Built-in Audio Analog Stereo of the notebook, front microphone", 2),
            device("Sound interface", 18),
        ],
        outputs: vec![device("Headphones", 2)],
    };
    let mut set = cello();
    set.input.name = Some("A microphone that was unplugged".to_owned());
    set.instrument = Some("instruments/not-there.ron".to_owned());
    set.sound_days = Some(90);
    let open = |overlay| {
        let heard = scenes::even_note(set.clone(), 0.5);
        after(heard, [Action::Heard(Heard::Devices(devices.clone())), Action::Turn(overlay)])
    };
    let report = |state| {
        let of = ReportOf::Take("2026-11-25/17-41-09".parse().expect("a name"));
        after(open(Overlay::Sound), [Action::Report(of), Action::Heard(Heard::Report(state))])
    };
    let manual = |page| {
        after(
            open(Overlay::Sound),
            [scenes::manual(), Action::Do(Command::Manual), Action::ManualPage(page)],
        )
    };
    let path = "/home/somebody/Documents/Reports/take-2026-11-25-17-41-09.html";
    let states: Vec<State<Stand>> = vec![
        ("keys", open(Overlay::Keys)),
        ("settings", open(Overlay::Settings)),
        ("sound", open(Overlay::Sound)),
        (
            "sound without devices",
            after(scenes::no_device(cello()), [Action::Turn(Overlay::Sound)]),
        ),
        ("manual of the Stand", manual(0)),
        ("manual of the numbers", manual(1)),
        ("report asked", report(ReportState::Asked)),
        ("report coming", report(ReportState::Coming)),
        ("report written", report(ReportState::Written(path.into()))),
        (
            "report in trouble",
            report(ReportState::Trouble(format!("{path} cannot be written: the disk is full"))),
        ),
    ];
    check("sheets", states);
}
