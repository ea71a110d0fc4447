//! Finds a metronome's clicks in recorded sound.

/// Samples a second of every record here.
pub(crate) const RATE_HZ: f64 = 48_000.0;
/// Channels of a WAV record.
const CHANNELS: usize = 2;
/// Length of a click from its first sample to its last, in samples: 12 ms (`tone::Beat`). It rises as it
/// falls, so that it begins half its length before its middle.
const LENGTH: f64 = 576.0;
/// Louder than this is a click; quieter for so many samples is its end.
const LOUD: i32 = 100;
const QUIET: u64 = 960;

/// Takes samples one by one.
#[derive(Default)]
pub(crate) struct Clicks {
    taken: u64,
    onsets: Vec<f64>,
    click: Option<Sum>,
}

/// The click that is being heard: where its power lies.
struct Sum {
    first: u64,
    last_loud: u64,
    power: f64,
    moment: f64,
}

impl Clicks {
    /// Those in the first channel of a WAV file of 16 bits.
    pub(crate) fn in_wav(wav: &[u8]) -> Self {
        let mut clicks = Self::default();
        let data = wav.windows(4).position(|four| four == b"data");
        let samples = wav.get(data.map_or(wav.len(), |data| data + 8)..);
        for group in samples.unwrap_or_default().chunks_exact(2 * CHANNELS) {
            clicks.take(i16::from_le_bytes([group[0], group[1]]));
        }
        clicks
    }

    /// The next sample.
    pub(crate) fn take(&mut self, sample: i16) {
        let level = i32::from(sample).abs();
        if self.click.is_none() && level > LOUD {
            self.click =
                Some(Sum { first: self.taken, last_loud: self.taken, power: 0.0, moment: 0.0 });
        }
        if let Some(click) = &mut self.click {
            let power = f64::from(level).powi(2);
            click.power += power;
            click.moment += power * (self.taken - click.first) as f64;
            if level > LOUD {
                click.last_loud = self.taken;
            } else if self.taken - click.last_loud > QUIET {
                let middle = click.first as f64 + click.moment / click.power;
                self.onsets.push(middle - 0.5 * LENGTH);
                self.click = None;
            }
        }
        self.taken += 1;
    }

    /// Samples taken so far.
    pub(crate) fn taken(&self) -> u64 {
        self.taken
    }

    /// Where each click begins to rise, in samples from the first.
    pub(crate) fn onsets(&self) -> &[f64] {
        &self.onsets
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn click(sample: i64, onset: i64) -> i16 {
        let place = (sample - onset) as f64;
        if !(0.0..LENGTH).contains(&place) {
            return 0;
        }
        let window = (std::f64::consts::PI * place / LENGTH).sin().powi(2);
        (3_000.0 * window * (0.9 * place).sin()) as i16
    }

    #[test]
    fn a_click_begins_half_its_length_before_its_middle() {
        let mut wav = b"RIFF....data....".to_vec();
        for sample in 0..96_000_i64 {
            let level = click(sample, 10_000) + click(sample, 60_007);
            wav.extend(level.to_le_bytes());
            wav.extend(0_i16.to_le_bytes());
        }
        let clicks = Clicks::in_wav(&wav);
        assert_eq!(clicks.onsets().len(), 2);
        for (onset, due) in clicks.onsets().iter().zip([10_000.0, 60_007.0]) {
            assert!((onset - due).abs() < 0.5, "{onset} {due}");
        }
    }

    #[test]
    fn a_faint_noise_is_no_click() {
        let mut clicks = Clicks::default();
        for sample in 0..48_000_i32 {
            clicks.take((sample * 7_919 % 100) as i16);
        }
        assert!(clicks.onsets().is_empty());
    }
}
