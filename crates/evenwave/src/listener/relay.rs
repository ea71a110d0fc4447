//! From samples to what is handed on.

use std::sync::mpsc::SyncSender;

use vibrato::{Ear, Event};

use super::heard::{Heard, Level};
use crate::chain::Chain;

/// Time from one report of the level to the next.
const LEVEL_SECS: f64 = 0.05;

/// From here on a sample counts as full scale, whatever the converter's last step is.
const FULL_SCALE: f32 = 0.999;

/// Level told for silence.
const QUIETEST_DBFS: f64 = -120.0;

/// Passes on what the chain reports.
pub struct Relay {
    sender: SyncSender<Heard>,
    level: LevelMeter,
    /// Nobody listens to the listener any more.
    pub gone: bool,
}

impl Relay {
    /// A relay into this channel.
    pub fn new(sender: SyncSender<Heard>) -> Self {
        Self {
            sender,
            level: LevelMeter::default(),
            gone: false,
        }
    }

    /// Hands one thing on; waits while the channel is full.
    pub fn send(&mut self, heard: Heard) {
        self.gone |= self.sender.send(heard).is_err();
    }

    /// Hands on what the ear reports.
    pub fn report(&mut self, event: Event, ear: &Ear) {
        match (event, ear.note()) {
            (Event::NoteEnded, Some(note)) => self.send(Heard::Note(Box::new(note.clone()))),
            (event, _) => self.send(Heard::Event(event)),
        }
    }

    /// Runs one block through the chain.
    pub fn take(&mut self, chain: &mut Chain, lost_before: u64, samples: &[f32], rate_hz: u32) {
        for level in self.level.measure(samples, rate_hz) {
            self.send(Heard::Level(level));
        }
        chain.push(lost_before, samples, &mut |event, ear: &Ear| {
            self.report(event, ear)
        });
    }

    /// The sound is over: hands on what is still to be said.
    pub fn end(mut self, chain: Option<Chain>) {
        if let Some(chain) = chain {
            chain.finish(&mut |event, ear: &Ear| self.report(event, ear));
        }
        self.send(Heard::Ended);
    }
}

/// Gathers peaks over [`LEVEL_SECS`].
#[derive(Default)]
struct LevelMeter {
    peak: f32,
    samples: usize,
}

impl LevelMeter {
    /// The levels that are complete after `samples`.
    fn measure(&mut self, samples: &[f32], rate_hz: u32) -> Vec<Level> {
        let whole = ((LEVEL_SECS * f64::from(rate_hz)) as usize).max(1);
        let mut levels = Vec::new();
        for &sample in samples {
            self.peak = self.peak.max(sample.abs());
            self.samples += 1;
            if self.samples == whole {
                levels.push(Level {
                    peak_dbfs: (20.0 * f64::from(self.peak).log10()).max(QUIETEST_DBFS),
                    clipped: self.peak >= FULL_SCALE,
                });
                *self = Self::default();
            }
        }
        levels
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_level_is_told_each_50_ms_and_full_scale_is_seen() {
        let mut meter = LevelMeter::default();
        let mut sound = vec![0.1_f32; 2_400];
        sound.extend([0.0; 2_400]);
        sound.extend([-1.0; 2_400]);
        let levels: Vec<Level> = sound
            .chunks(700)
            .flat_map(|part| meter.measure(part, 48_000))
            .collect();
        assert_eq!(levels.len(), 3);
        assert!((levels[0].peak_dbfs + 20.0).abs() < 1e-5, "{levels:?}");
        assert_eq!(levels[1].peak_dbfs, QUIETEST_DBFS);
        assert_eq!(
            levels.iter().map(|level| level.clipped).collect::<Vec<_>>(),
            [false, false, true]
        );
    }
}
