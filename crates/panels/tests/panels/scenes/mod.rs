//! The Stand in states that are worth a picture: what real sound made of it, through the ear.
//!
//! Same sound, same samples, same picture: nothing here depends on time or chance.

pub(crate) mod pictures;
pub(crate) mod sound;
pub(crate) mod window;

use self::sound::{RATE, lasting, listening, made, recording, samples_in, session, silence};
use self::window::Shown;
use coach::Showing;
use egui::Ui;
use panels::Source;
use panels::commands;
use panels::shell::manual::ManualPage;
use panels::shell::options::Options;
use panels::shell::rooms::over_ui;
use panels::stand::{Action, Command, Devices, Heard, Stand, Take, stand_ui};
use panels::theme::Paper;
use tone::{NoteSpec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Settings};

/// Samples in one report of the level: 50 ms.
const LEVEL: usize = RATE as usize / 20;

impl Shown for Stand {
    fn draw(&mut self, ui: &mut Ui) {
        for action in stand_ui(ui, self) {
            self.apply(action);
        }
        for action in over_ui(ui, &self.shell, || commands::behind(self)) {
            self.apply(action);
        }
    }

    fn stand(&mut self) -> &mut Stand {
        self
    }
}

/// Lets the Stand hear these samples, as the program does.
pub(crate) fn hear(stand: &mut Stand, samples: &[f32]) {
    let mut ear = Ear::new(Settings::default());
    for block in samples.chunks(LEVEL) {
        let peak = block.iter().fold(1e-6_f32, |peak, s| peak.max(s.abs()));
        stand.apply(Action::Heard(Heard::Level {
            peak_dbfs: 20.0 * f64::from(peak).log10(),
            clipped: false,
        }));
        ear.hear(block, |event, ear| {
            stand.apply(Action::Heard(match (event, ear.note()) {
                (Event::NoteEnded, Some(note)) => Heard::Note(Box::new(note.clone())),
                (event, _) => Heard::Event(event),
            }));
        });
    }
}

/// A Stand that listens to a microphone and keeps takes.
fn ready(options: Options) -> Stand {
    let mut stand = listening(options);
    stand.apply(Action::Heard(Heard::Take(Take::Ready)));
    stand
}

/// A recorded note of a viola sounds, for the fourth time.
pub(crate) fn recorded_note(options: Options) -> Stand {
    let viola = recording("fluid-viola-064-l.wav");
    let mut samples = silence(0.3);
    for _ in 0..3 {
        samples.extend(&viola);
        samples.extend(silence(0.25));
    }
    samples.extend(&viola[..samples_in(1.25)]);
    let mut stand = ready(options);
    hear(&mut stand, &samples);
    stand
}

/// A jerky vibrato sounds.
pub(crate) fn jerky_note(options: Options) -> Stand {
    let vibrato = VibratoSpec {
        rate_jitter_pct: 24.0,
        width_jitter_pct: 40.0,
        ..VibratoSpec::regular(Hz(4.8), Cents(42.0))
    };
    let notes = vec![
        NoteSpec::straight(Secs(0.4), Secs(1.6), Hz(146.4)),
        NoteSpec::straight(Secs(2.4), Secs(6.0), Hz(147.2)).with(vibrato),
    ];
    let mut stand = ready(options);
    hear(&mut stand, &lasting(made(notes), 7.6));
    stand
}

/// A regular vibrato and so much silence after it.
pub(crate) fn even_note(options: Options, silent_secs: f64) -> Stand {
    let vibrato = VibratoSpec::regular(Hz(5.4), Cents(34.0));
    let notes = vec![NoteSpec::straight(Secs(0.4), Secs(2.4), Hz(220.4)).with(vibrato)];
    let mut stand = ready(options);
    let samples = [lasting(made(notes), 2.8), silence(silent_secs)].concat();
    hear(&mut stand, &samples);
    stand
}

/// A straight note, a little sharp and sinking, and so much silence after it.
pub(crate) fn straight_note(options: Options, silent_secs: f64) -> Stand {
    let note = NoteSpec {
        drift: Cents(-12.0),
        wander: Cents(1.5),
        ..NoteSpec::straight(Secs(0.4), Secs(5.5), Hz(221.0))
    };
    let mut stand = ready(options);
    let samples = [lasting(made(vec![note]), 5.9), silence(silent_secs)].concat();
    hear(&mut stand, &samples);
    stand
}

/// Two pages of the program's own manual.
pub(crate) fn manual() -> Action {
    let page = |name, text| ManualPage { name, text };
    Action::Heard(Heard::Manual(vec![
        page("stand", include_str!("../../../../evenwave/manual/stand.md")),
        page("numbers", include_str!("../../../../evenwave/manual/numbers.md")),
    ]))
}

/// Nothing sounds and nothing has sounded.
pub(crate) fn silent(options: Options) -> Stand {
    let mut stand = ready(options);
    hear(&mut stand, &silence(2.0));
    stand
}

/// The microphone is not there.
pub(crate) fn no_device(options: Options) -> Stand {
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Devices(Devices::default())));
    stand.apply(Action::Heard(Heard::Source(Source::Trouble {
        words: "no microphone is there; plug one in".to_owned(),
        demo: true,
    })));
    stand
}

/// The demo session up to this instant.
pub(crate) fn demo(options: Options, secs: f64) -> Stand {
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Source(Source::Demo {
        name: "four-fingers".to_owned(),
        missing: None,
    })));
    stand.apply(Action::Heard(Heard::Take(Take::Off)));
    hear(&mut stand, &lasting(session("four-fingers"), secs));
    stand
}

/// The pictures of the README by name, all from the demo session: the fourth finger plays straight,
/// presses and swings more freely; its straight note is held against the temperament, after those of
/// the other three; the first finger's vibrato has ended, and the ear comes before the eye.
pub(crate) fn readme() -> [(&'static str, Stand); 3] {
    let options = |paper, showing| {
        let mut options =
            Options { paper, showing, instrument: Some("cello".to_owned()), ..Options::default() };
        options.wanted.rate = Some((Hz(4.8), Hz(5.6)));
        options.wanted.width = Some((Cents(25.0), Cents(45.0)));
        options
    };
    let live = options(Paper::Light, Showing::Live);
    let mut straight = demo(live.clone(), 18.3);
    straight.apply(Action::Do(Command::Straight));
    [
        ("stand", demo(live, 24.5)),
        ("straight", straight),
        ("question", demo(options(Paper::Dark, Showing::AfterNote), 5.8)),
    ]
}
