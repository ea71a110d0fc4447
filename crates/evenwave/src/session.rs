//! Demo sessions: specifications of sound that come with the program and are played to the ear.

use std::path::Path;
use std::sync::Arc;

use sound::Recording;
use tone::Spec;

use crate::fault::Fault;

/// The session that is played where none is named.
pub const FIRST_SESSION: &str = "four-fingers";

/// The sessions that come with the program, by name.
const SHIPPED: [(&str, &str); 4] = [
    (FIRST_SESSION, include_str!("../../../demo-sessions/four-fingers.ron")),
    ("tidy-transfer", include_str!("../../../demo-sessions/tidy-transfer.ron")),
    ("stop-and-press", include_str!("../../../demo-sessions/stop-and-press.ron")),
    ("tiring-hand", include_str!("../../../demo-sessions/tiring-hand.ron")),
];

/// A demo session, ready to be played.
#[derive(Clone, Debug)]
pub struct Session {
    name: String,
    samples: Arc<[f32]>,
    sample_rate_hz: u32,
    /// It stands for a microphone: it is played again and again, so many times as fast as it sounded, and its takes
    /// are kept.
    again: Option<f64>,
}

impl Session {
    /// Names of the sessions that come with the program.
    pub fn names() -> impl Iterator<Item = &'static str> {
        SHIPPED.iter().map(|(name, _)| *name)
    }

    /// Makes the sound of the session of this name.
    pub fn named(name: &str) -> Result<Self, Fault> {
        let Some((_, text)) = SHIPPED.iter().find(|(shipped, _)| *shipped == name) else {
            let names: Vec<&str> = Self::names().collect();
            return Err(Fault::Usage(format!(
                "there is no demo session \"{name}\"; choose {}",
                names.join(", ")
            )));
        };
        let made = Spec::from_ron(text).and_then(|spec| spec.render());
        let rendering =
            made.map_err(|error| Fault::Failed(format!("demo session {name}: {error}")))?;
        Ok(Self {
            name: name.to_owned(),
            samples: rendering.samples.into(),
            sample_rate_hz: rendering.sample_rate_hz,
            again: None,
        })
    }

    /// The sound of a file, to stand for a microphone at so many times its pace.
    pub fn of_file(path: &Path, speed: f64) -> Result<Self, Fault> {
        let mut recording = Recording::open(path)?;
        let sample_rate_hz = recording.sample_rate_hz();
        let mut samples = Vec::new();
        while let Some(block) = recording.next_block()? {
            samples.extend_from_slice(block.samples);
        }
        let name = path.display().to_string();
        Ok(Self { name, samples: samples.into(), sample_rate_hz, again: Some(speed) })
    }

    /// This sound, to be heard once, or again and again at so many times its pace.
    #[cfg(test)]
    pub(crate) fn of_samples(samples: &[f32], sample_rate_hz: u32, again: Option<f64>) -> Self {
        Self { name: "made".to_owned(), samples: samples.into(), sample_rate_hz, again }
    }

    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its sound, one channel, full scale = 1.0.
    pub fn samples(&self) -> &[f32] {
        &self.samples
    }

    /// For a sound that stands for a microphone: so many times as fast as it sounded it is played, again and again.
    pub fn again(&self) -> Option<f64> {
        self.again
    }

    /// Samples per second.
    pub fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_shipped_session_can_be_played() {
        for name in Session::names() {
            let session = Session::named(name).expect(name);
            assert_eq!(session.name(), name);
            let secs = session.samples().len() as f64 / f64::from(session.sample_rate_hz());
            assert!((5.0..120.0).contains(&secs), "{name}: {secs} s");
            let peak = session.samples().iter().fold(0.0_f32, |p, s| p.max(s.abs()));
            assert!((0.05..0.99).contains(&peak), "{name}: peak {peak}");
        }
    }

    #[test]
    fn an_unknown_session_names_the_known_ones() {
        let error = Session::named("waltz").expect_err("not shipped").to_string();
        assert!(error.contains(FIRST_SESSION), "{error}");
    }
}
