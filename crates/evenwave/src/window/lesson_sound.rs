//! Where the sound of a model or an echo comes from when it is heard again: from its take in the journal, so that it can be
//! heard at any time; from what the microphone brought lately where no take was kept.

use std::path::{Path, PathBuf};
use std::sync::mpsc::Receiver;

use journal::{JournalError, Shelf, TakeId};
use tuning::Secs;

use crate::listener::{Listener, SoundBlock};
use crate::player::Clip;

/// What was heard is kept for so long, for phrases without a take.
const KEPT_SECS: f64 = 240.0;

/// What is told where there is nothing left to be heard.
pub(super) const GONE: &str = "this cannot be heard again: no take of it was kept; turn takes on in the settings, and play it once more";

/// A sound that was fetched, by its number; or why it cannot be played.
pub(super) type Fetched = (u64, Result<Clip, String>);

/// The sound that was heard lately.
#[derive(Default)]
pub(super) struct Lately {
    blocks: Option<Receiver<SoundBlock>>,
    rate_hz: u32,
    /// The time of the sound of the first sample.
    start: Secs,
    samples: Vec<f32>,
}

impl Lately {
    /// Keeps what `listener` hears from now on, in place of what was kept.
    pub(super) fn begin(&mut self, listener: &Listener) {
        *self = Self { blocks: Some(listener.follow_sound()), ..Self::default() };
    }

    /// Nothing is kept any more.
    pub(super) fn end(&mut self) {
        *self = Self::default();
    }

    pub(super) fn take_in(&mut self) {
        let Some(blocks) = &self.blocks else { return };
        for block in blocks.try_iter() {
            let rate = f64::from(block.rate_hz.max(1));
            let end = self.start.0 + self.samples.len() as f64 / rate;
            // Half a sample is the rounding of a time; more is sound that is missing.
            let goes_on = block.rate_hz == self.rate_hz
                && !self.samples.is_empty()
                && (block.start.0 - end).abs() * rate < 0.5;
            if !goes_on {
                self.samples.clear();
                (self.rate_hz, self.start) = (block.rate_hz, block.start);
            }
            self.samples.extend_from_slice(&block.samples);
            let most = (KEPT_SECS * rate) as usize;
            if self.samples.len() > most + most / 8 {
                let old = self.samples.len() - most;
                self.samples.drain(..old);
                self.start.0 += old as f64 / rate;
            }
        }
    }

    /// The sound from one time to another; `None` where it is not kept any more.
    fn part(&self, from: Secs, to: Secs) -> Option<&[f32]> {
        let rate = f64::from(self.rate_hz);
        let at = |time: Secs| ((time.0 - self.start.0) * rate).round();
        // Before the clock began there was no sound.
        let (first, end) = (at(Secs(from.0.max(0.0))), at(to).min(self.samples.len() as f64));
        if first < 0.0 || end <= first {
            return None;
        }
        Some(&self.samples[first as usize..end as usize])
    }

    /// The same as a sound of its own.
    pub(super) fn stored(&self, from: Secs, to: Secs) -> Option<Stored> {
        let samples = self.part(from, to)?;
        Some(Stored::Lately(Clip::new(0, samples.into(), self.rate_hz)))
    }
}

/// Where a sound is.
pub(super) enum Stored {
    /// In memory.
    Lately(Clip),
    /// In a take, from one time in it to another.
    Take {
        /// The folder of the journal.
        folder: PathBuf,
        /// The take.
        id: TakeId,
        /// The part of it.
        part: (Secs, Secs),
    },
}

impl Stored {
    /// A part of a take.
    pub(super) fn of_take(folder: &Path, id: &TakeId, part: (Secs, Secs)) -> Self {
        Self::Take { folder: folder.to_owned(), id: id.clone(), part }
    }

    /// The sound to be played, as loud to the ear as what lies `beside`, where that can be read. Decodes a take: not for
    /// the thread that draws.
    pub(super) fn clip(self, beside: Option<Self>) -> Result<Clip, String> {
        let own = self.read()?;
        let beside = beside.and_then(|beside| beside.read().ok());
        let both = [Some(&own), beside.as_ref()];
        let both: Vec<(&[f32], u32)> =
            both.into_iter().flatten().map(|clip| (&*clip.samples, clip.rate_hz)).collect();
        let gain_db = sound::equal_gains_db(&both).first().copied().unwrap_or(0.0);
        Ok(Clip { gain_db, ..own })
    }

    /// The samples themselves.
    fn read(self) -> Result<Clip, String> {
        let (folder, id, (from, to)) = match self {
            Self::Lately(clip) => return Ok(clip),
            Self::Take { folder, id, part } => (folder, id, part),
        };
        let path =
            Shelf::open(&folder).map_err(|error: JournalError| error.to_string())?.sound(&id);
        let whole = Clip::open(&path).map_err(|error| error.to_string())?;
        let at = |time: Secs| (time.0.max(0.0) * f64::from(whole.rate_hz)).round() as usize;
        let end = at(to).min(whole.samples.len());
        let part = whole.samples.get(at(from)..end).filter(|part| !part.is_empty());
        let part = part.ok_or_else(|| format!("{id} is shorter than what was played in it"))?;
        Ok(Clip::new(0, part.into(), whole.rate_hz))
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::TAU;
    use std::sync::mpsc::sync_channel;
    use std::time::Instant;

    use super::*;

    fn block(start: f64, value: f32) -> SoundBlock {
        SoundBlock {
            samples: vec![value; 4_800],
            rate_hz: 48_000,
            start: Secs(start),
            arrived: Instant::now(),
        }
    }

    #[test]
    fn what_was_heard_lately_is_found_by_its_time_and_a_gap_forgets_it() {
        let (sender, blocks) = sync_channel(8);
        let mut lately = Lately { blocks: Some(blocks), ..Lately::default() };
        sender.send(block(2.0, 0.1)).expect("there is room");
        sender.send(block(2.1, 0.2)).expect("there is room");
        lately.take_in();
        let part = lately.part(Secs(2.05), Secs(2.15)).expect("kept");
        assert_eq!(part.len(), 4_800);
        assert_eq!((part[0], part[4_799]), (0.1, 0.2));
        assert!(lately.part(Secs(1.9), Secs(2.1)).is_none());
        sender.send(block(3.0, 0.3)).expect("there is room");
        lately.take_in();
        assert!(lately.part(Secs(2.05), Secs(2.15)).is_none());
        assert!(lately.part(Secs(3.0), Secs(3.1)).is_some());
    }

    #[test]
    fn a_soft_echo_and_a_loud_model_are_played_equally_loud() {
        let tone = |hz: f64, peak: f64| {
            (0..48_000).map(move |i| (peak * (TAU * hz * f64::from(i) / 48_000.0).sin()) as f32)
        };
        // An octave higher it is louder to the ear at the same level.
        let lately = Lately {
            rate_hz: 48_000,
            samples: tone(196.0, 0.3).chain(tone(2_000.0, 0.02)).collect(),
            ..Lately::default()
        };
        let (model, echo) = ((Secs(0.0), Secs(1.0)), (Secs(1.0), Secs(2.0)));
        let heard = |own, beside: Option<(Secs, Secs)>| {
            let stored = |(from, to): (Secs, Secs)| lately.stored(from, to).expect("kept");
            let clip = stored(own).clip(beside.map(stored)).expect("in memory");
            let part = lately.part(own.0, own.1).expect("kept");
            (clip.gain_db, sound::loudness(part, 48_000).expect("it sounds") + clip.gain_db)
        };
        let (_, one) = heard(model, Some(echo));
        let (gain, other) = heard(echo, Some(model));
        assert!((one - other).abs() < 0.01 && gain > 6.0, "{one} and {other} LUFS, {gain} dB");
        assert_eq!(heard(model, None).0, 0.0, "nothing to be as loud as");
    }

    #[test]
    fn a_phrase_is_heard_again_from_its_take_once_the_microphones_sound_is_gone() {
        let folder = std::env::temp_dir().join(format!("lesson-sound-{}", std::process::id()));
        std::fs::remove_dir_all(&folder).ok();
        let opened = journal::Journal::open(&folder).expect("a journal");
        let context = journal::Context::default();
        let mut writer = opened.journal.begin(&context, 48_000).expect("a take");
        let tone: Vec<f32> = (0..96_000)
            .map(|i| (0.5 * (TAU * 220.0 * f64::from(i) / 48_000.0).sin()) as f32)
            .collect();
        writer.sound(&tone).expect("a disk");
        let id = writer.finish().expect("a disk").id;
        // All that the microphone brought then is long forgotten.
        assert!(Lately::default().stored(Secs(0.5), Secs(1.5)).is_none());
        let part = |from, to| Stored::of_take(&folder, &id, (Secs(from), Secs(to)));
        let clip = part(0.5, 1.5).clip(Some(part(1.5, 2.0))).expect("it is kept");
        assert_eq!((clip.samples.len(), clip.rate_hz), (48_000, 48_000));
        assert!((clip.samples[100] - tone[24_100]).abs() < 1e-3);
        let beyond = part(3.0, 4.0).clip(None).expect_err("there is no more");
        assert!(beyond.contains("shorter"), "{beyond}");
        std::fs::remove_dir_all(&folder).ok();
    }
}
