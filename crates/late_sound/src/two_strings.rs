//! Two strings at once, one of which is still: it is taken out of the sound, and the other is heard by itself.
//!
//! `y[n] − y[n − period]` has none of the harmonics of the still string. Each of the others it makes louder or softer and gives
//! the mean of its phases at both times, so its pitch is the mean of two that lie one period apart: half a period late, and a
//! swing of `rate` is narrower by cos(π · rate · period), which is made good. (A still string lies above 60 Hz and no swing is
//! faster than 11 Hz: that is 0.84 at least.)

use pitch::SAMPLE_RATE;
use std::f64::consts::PI;
use tuning::{Cents, Hz, Secs};
use vibrato::{Ear, Note, Remarks, Settings};

/// Samples to either side of an interpolated one.
const TAPS: usize = 16;
/// The other string must have been heard through this share of the sound.
const LEAST_SHARE: f64 = 0.6;
/// It is another one only if its pitch lies this far away.
const APART_CENTS: f64 = 70.0;
/// What is left of the still string moves the crests of the other: so much is added to the standard error of the width, as a
/// share and in cents, and to that of the rate, as a share.
const WIDTH_SHARE: f64 = 0.004;
const WIDTH_CENTS: f64 = 0.1;
const RATE_SHARE: f64 = 0.0003;

/// The sound of two strings.
pub(crate) struct TwoStrings {
    /// At 48 kHz.
    pub samples: Vec<f32>,
    /// When the first of them sounded.
    pub start: Secs,
    /// Where one of them may be still, the likeliest pitch first.
    pub still: Vec<Hz>,
    /// What the ear was told beforehand.
    pub settings: Settings,
}

impl TwoStrings {
    /// The note of the string that was not still, if it can be heard by itself; else `told`.
    pub(crate) fn follow(&self, told: Note) -> Note {
        let mut best: Option<Note> = None;
        for still in &self.still {
            let Some(other) = self.beside(*still) else { continue };
            let moves = other.vibrato.is_some();
            if moves || best.is_none() {
                best = Some(other);
            }
            if moves {
                break;
            }
        }
        let Some(other) = best else { return told };
        let lead = other.start.get() - told.start.get();
        let mut note = Note {
            start: told.start,
            end: told.end,
            heard_until: told.heard_until,
            level_dbfs: told.level_dbfs,
            rebows: told.rebows,
            remarks: Remarks { still: other.remarks.still, two_strings: true, ..told.remarks },
            ..other
        };
        if let Some(vibrato) = &mut note.vibrato {
            vibrato.onset.value.0 = (vibrato.onset.value.get() + lead).max(0.0);
            let width = vibrato.width.value.get();
            let more = (WIDTH_SHARE * width).hypot(WIDTH_CENTS);
            let se = vibrato.width.se;
            vibrato.doubt_width(se.map(|se| Cents(se.get().hypot(more))));
            let more = RATE_SHARE * vibrato.rate.value.get();
            vibrato.rate.se = vibrato.rate.se.map(|se| Hz(se.get().hypot(more)));
        }
        note
    }

    /// What is heard beside a string that is still at this pitch: one note that swings, or is still itself.
    fn beside(&self, still: Hz) -> Option<Note> {
        let period = f64::from(SAMPLE_RATE) / still.get();
        let left = without(&self.samples, period);
        let (_, notes) = Ear::new(self.settings).all_of(&left);
        let secs = |note: &Note| note.end.get() - note.start.get();
        let other = notes.into_iter().max_by(|a, b| secs(a).total_cmp(&secs(b)))?;
        let long = secs(&other) > LEAST_SHARE * self.samples.len() as f64 / f64::from(SAMPLE_RATE);
        let apart = other.f0.value.cents_above(still).get().abs() > APART_CENTS;
        if !long || !apart || (other.vibrato.is_none() && !other.straight()) {
            return None;
        }
        // Half a period later is where the sound that is left lies.
        let delay = 0.5 * period / f64::from(SAMPLE_RATE);
        let mut other = other.later(Secs(self.start.get() - delay));
        if let Some(vibrato) = &mut other.vibrato {
            vibrato.stretch(1.0 / (PI * vibrato.rate.value.get() / still.get()).cos());
        }
        other.remarks.still = Some(self.settings.tuning.nearest(still).midi);
        Some(other)
    }
}

/// The sound without what repeats after so many samples.
fn without(samples: &[f32], period: f64) -> Vec<f32> {
    let whole = period.floor() as usize;
    let fraction = period - whole as f64;
    let sinc = |i: usize| {
        let x = i as f64 - TAPS as f64 - fraction;
        let window = 0.5 + 0.5 * (PI * x / (TAPS as f64 + 1.0)).cos();
        let angle = PI * x;
        window * if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle }
    };
    let taps: Vec<f64> = (0..=2 * TAPS).map(sinc).collect();
    let sum: f64 = taps.iter().sum();
    let taps: Vec<f32> = taps.iter().map(|tap| (tap / sum) as f32).collect();
    let first = whole + TAPS;
    let late = |n: usize| {
        let newest = n - whole + TAPS;
        let part = &samples[newest - 2 * TAPS..=newest];
        part.iter().rev().zip(&taps).map(|(x, tap)| x * tap).sum::<f32>()
    };
    let mut left = vec![0.0; samples.len()];
    for n in first..samples.len() {
        left[n] = samples[n] - late(n);
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn a_string_is_taken_out_by_its_own_period_and_another_is_left() {
        let tone = |hz: f64| -> Vec<f32> {
            (0..9_600).map(|n| (TAU * hz * f64::from(n) / 48_000.0).sin() as f32).collect()
        };
        let power = |x: &[f32]| x[2_000..9_000].iter().map(|x| f64::from(x * x)).sum::<f64>();
        for (still, times) in [(196.0, 1.0), (217.3, 5.0), (441.7, 3.0)] {
            let sound = tone(still * times);
            let left = without(&sound, 48_000.0 / still);
            assert!(power(&left) < 1e-4 * power(&sound), "harmonic {times} of {still} Hz");
            let other = without(&tone(1.5 * still), 48_000.0 / still);
            assert!(power(&other) > power(&sound), "{still} Hz");
        }
    }

    #[test]
    fn a_swing_beside_a_low_string_is_as_wide_as_it_is() {
        let (still, hz, rate, width) = (65.4, 220.0, 7.0, 40.0);
        let mut phase = 0.0;
        let sound = (0..96_000).map(|n| {
            let time = f64::from(n) / f64::from(SAMPLE_RATE);
            let swing = 0.5 * width * (TAU * rate * time).sin();
            phase += TAU * hz * (swing / 1200.0).exp2() / f64::from(SAMPLE_RATE);
            let harmonic = |k: i32| {
                let k = f64::from(k);
                ((TAU * k * still * time).sin() + (k * phase).sin()) / (20.0 * k)
            };
            (1..=8).map(harmonic).sum::<f64>() as f32
        });
        let two = TwoStrings {
            samples: sound.collect(),
            start: Secs(0.0),
            still: vec![Hz(still)],
            settings: Settings::default(),
        };
        let vibrato = two.beside(Hz(still)).and_then(|note| note.vibrato).expect("it swings");
        // The mean of two pitches one low period apart swings by an eighteenth less.
        let off = vibrato.width.value.get() / width - 1.0;
        assert!(off.abs() < 0.01, "{off}");
        let each = vibrato.oscillations.iter().map(|o| o.crest.get() - o.trough.get());
        let mean = each.sum::<f64>() / vibrato.oscillations.len() as f64;
        assert!((mean / width - 1.0).abs() < 0.01, "{mean}");
    }
}
