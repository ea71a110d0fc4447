//! The Stand in states that are worth a picture: what real sound made of it, through the ear.
//!
//! Same sound, same samples, same picture: nothing here depends on time or chance.

use coach::Showing;
use panels::Source;
use panels::keys::Command;
use panels::options::Options;
use panels::stand::{Action, Devices, Heard, Stand, Take, stand_ui};
use panels::theme::{self, Paper};
use std::path::{Path, PathBuf};
use tone::{Line, NoteSpec, Spec, VibratoSpec};
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Event, Settings};

/// Samples per second of the ear.
const RATE: u32 = pitch::SAMPLE_RATE;
/// Samples in one report of the level: 50 ms.
const LEVEL: usize = RATE as usize / 20;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// A harness that draws `stand` and does what it asks for.
pub fn harness(stand: Stand, size: egui::Vec2) -> egui_kittest::Harness<'static, Stand> {
    harness_at(stand, size, 1.0)
}

/// The same with so many pixels to a point.
pub fn harness_at(
    stand: Stand,
    size: egui::Vec2,
    pixels: f32,
) -> egui_kittest::Harness<'static, Stand> {
    let mut harness = egui_kittest::Harness::builder()
        .with_size(size)
        .with_pixels_per_point(pixels)
        .with_context_setup(theme::dress)
        .build_ui_state(
            |ui, stand: &mut Stand| {
                // All of the window, without the margin that the harness leaves.
                let whole = ui.ctx().content_rect();
                let mut ui = ui.new_child(egui::UiBuilder::new().max_rect(whole));
                ui.set_clip_rect(whole);
                for action in stand_ui(&mut ui, stand) {
                    stand.apply(action);
                }
            },
            stand,
        );
    harness.run();
    harness
}

/// A recording of the repository, at the rate of the ear.
fn recording(name: &str) -> Vec<f32> {
    let path = root().join("tests/recordings").join(name);
    let mut recording = sound::Recording::open(path).expect("a recording of the repository");
    let from = recording.sample_rate_hz();
    let mut resampler = sound::Resampler::new(from, RATE).expect("a usual rate");
    let mut samples = Vec::new();
    while let Some(block) = recording.next_block().expect("a sound file") {
        resampler.push(block.samples, &mut samples);
    }
    resampler.finish(&mut samples);
    samples
}

fn silence(secs: f64) -> Vec<f32> {
    vec![0.0; (secs * f64::from(RATE)) as usize]
}

/// Lets the Stand hear these samples, as the program does.
pub fn hear(stand: &mut Stand, samples: &[f32]) {
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

/// A Stand that listens to a microphone.
fn listening(options: Options) -> Stand {
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Source(Source::Hearing {
        words: "listening to the microphone at 48 kHz".to_owned(),
    })));
    stand.apply(Action::Heard(Heard::Take(Take::Ready)));
    stand
}

/// A recorded note of a viola sounds, for the fourth time.
pub fn recorded_note(options: Options) -> Stand {
    let viola = recording("fluid-viola-064-l.wav");
    let stop = (1.25 * f64::from(RATE)) as usize;
    let mut samples = silence(0.3);
    for _ in 0..3 {
        samples.extend(&viola);
        samples.extend(silence(0.25));
    }
    samples.extend(&viola[..stop]);
    let mut stand = listening(options);
    hear(&mut stand, &samples);
    stand
}

/// The samples of these notes.
fn made(notes: Vec<NoteSpec>) -> Vec<f32> {
    let spec = Spec {
        lines: vec![Line {
            notes,
            level_db: 0.0,
        }],
        floor_dbfs: Some(-78.0),
        ..Spec::default()
    };
    spec.render().expect("a sound specification").samples
}

fn until(mut samples: Vec<f32>, secs: f64) -> Vec<f32> {
    samples.truncate((secs * f64::from(RATE)) as usize);
    samples
}

/// A jerky vibrato sounds.
pub fn jerky_note(options: Options) -> Stand {
    let vibrato = VibratoSpec {
        rate_jitter_pct: 24.0,
        width_jitter_pct: 40.0,
        ..VibratoSpec::regular(Hz(4.8), Cents(42.0))
    };
    let notes = vec![
        NoteSpec::straight(Secs(0.4), Secs(1.6), Hz(146.4)),
        NoteSpec::straight(Secs(2.4), Secs(6.0), Hz(147.2)).with(vibrato),
    ];
    let mut stand = listening(options);
    hear(&mut stand, &until(made(notes), 7.6));
    stand
}

/// A regular vibrato and so much silence after it.
pub fn even_note(options: Options, silent_secs: f64) -> Stand {
    let vibrato = VibratoSpec::regular(Hz(5.4), Cents(34.0));
    let notes = vec![NoteSpec::straight(Secs(0.4), Secs(2.4), Hz(220.4)).with(vibrato)];
    let mut stand = listening(options);
    let samples = [until(made(notes), 2.8), silence(silent_secs)].concat();
    hear(&mut stand, &samples);
    stand
}

/// A straight note, a little sharp and sinking, and so much silence after it.
pub fn straight_note(options: Options, silent_secs: f64) -> Stand {
    let note = NoteSpec {
        drift: Cents(-12.0),
        wander: Cents(1.5),
        ..NoteSpec::straight(Secs(0.4), Secs(5.5), Hz(221.0))
    };
    let mut stand = listening(options);
    let samples = [until(made(vec![note]), 5.9), silence(silent_secs)].concat();
    hear(&mut stand, &samples);
    stand
}

/// Nothing sounds and nothing has sounded.
pub fn silent(options: Options) -> Stand {
    let mut stand = listening(options);
    hear(&mut stand, &silence(2.0));
    stand
}

/// The microphone is not there.
pub fn no_device(options: Options) -> Stand {
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Devices(Devices::default())));
    stand.apply(Action::Heard(Heard::Source(Source::Trouble {
        words: "no microphone is there; plug one in".to_owned(),
    })));
    stand
}

/// The demo session up to this instant.
pub fn demo(options: Options, secs: f64) -> Stand {
    let path = root().join("demo-sessions/four-fingers.ron");
    let text = std::fs::read_to_string(path).expect("the demo session");
    let spec = Spec::from_ron(&text).expect("a sound specification");
    let samples = spec.render().expect("a sound specification").samples;
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Source(Source::Demo {
        name: "four-fingers".to_owned(),
        missing: None,
    })));
    stand.apply(Action::Heard(Heard::Take(Take::Off)));
    hear(&mut stand, &until(samples, secs));
    stand
}

/// The pictures of the README by name, all from the demo session: the fourth finger plays straight,
/// presses and swings more freely; its straight note is held against the temperament, after those of
/// the other three; the first finger's vibrato has ended, and the ear comes before the eye.
pub fn readme() -> [(&'static str, Stand); 3] {
    let options = |paper, showing| {
        let mut options = Options {
            paper,
            showing,
            instrument: Some("cello".to_owned()),
            ..Options::default()
        };
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
        (
            "question",
            demo(options(Paper::Dark, Showing::AfterNote), 5.8),
        ),
    ]
}
