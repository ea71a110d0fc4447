//! Sound to be heard through the ear: made, recorded, or of a demo session. The same each time.

use coach::Drill;
use panels::Source;
use panels::shell::options::Options;
use panels::stand::{Action, Heard, Stand};
use std::path::{Path, PathBuf};
use tone::{Line, NoteSpec, Spec};

/// Samples per second of the ear.
pub(crate) const RATE: u32 = pitch::SAMPLE_RATE;

/// The repository.
pub(crate) fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// As many samples as so much time has.
pub(crate) fn samples_in(secs: f64) -> usize {
    (secs * f64::from(RATE)) as usize
}

pub(crate) fn silence(secs: f64) -> Vec<f32> {
    vec![0.0; samples_in(secs)]
}

/// These samples, cut off or followed by silence after so much time.
pub(crate) fn lasting(mut samples: Vec<f32>, secs: f64) -> Vec<f32> {
    samples.resize(samples_in(secs), 0.0);
    samples
}

/// The samples of these notes, over a quiet room.
pub(crate) fn made(notes: Vec<NoteSpec>) -> Vec<f32> {
    let spec = Spec {
        lines: vec![Line { notes, level_db: 0.0 }],
        floor_dbfs: Some(-78.0),
        ..Spec::default()
    };
    spec.render().expect("a sound specification").samples
}

/// A recording of the repository, at the rate of the ear.
pub(crate) fn recording(name: &str) -> Vec<f32> {
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

/// A demo session.
pub(crate) fn session(name: &str) -> Vec<f32> {
    let path = root().join("demo-sessions").join(format!("{name}.ron"));
    let text = std::fs::read_to_string(path).expect("a demo session");
    let spec = Spec::from_ron(&text).expect("a sound specification");
    spec.render().expect("a sound specification").samples
}

/// A Stand that listens to a microphone.
pub(crate) fn listening(options: Options) -> Stand {
    let mut stand = Stand::new(options);
    stand.apply(Action::Heard(Heard::Source(Source::Hearing {
        words: "listening to the microphone at 48 kHz".to_owned(),
    })));
    stand
}

/// A shipped drill.
pub(crate) fn drill(name: &str) -> Drill {
    let file = format!("{name}.ron");
    let text = std::fs::read_to_string(root().join("assets/drills").join(&file));
    Drill::from_ron(&text.expect("a shipped drill"), name, &file).expect("well written")
}
