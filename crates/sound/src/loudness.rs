//! How loud a sound is to the ear, so that two can be heard equally loud one after the other.
//!
//! Loudness is that of ITU-R BS.1770 with the gate of EBU R 128, as the library `ebur128` measures it.

use ebur128::{EbuR128, Mode};

/// A sound is made louder by this at most, in dB.
const MOST_GAIN_DB: f64 = 24.0;
/// No sample may pass this, full scale = 1.0.
const MOST_PEAK: f64 = 0.89;

/// Loudness of one channel of samples at `rate_hz`, in LUFS (dB below full scale, weighted as ears do);
/// `None` for silence and for less than 0.4 s.
pub fn loudness(samples: &[f32], rate_hz: u32) -> Option<f64> {
    let mut meter = EbuR128::new(1, rate_hz, Mode::I).ok()?;
    meter.add_frames_f32(samples).ok()?;
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
}

/// The gains, in dB, that make these sounds (samples and their rate) equally loud, and as loud as can be up
/// to the loudest of them without any of them being clipped. A sound without a loudness gets 0.
pub fn equal_gains_db(sounds: &[(&[f32], u32)]) -> Vec<f64> {
    let told: Vec<Option<(f64, f64)>> = sounds
        .iter()
        .map(|(samples, rate_hz)| Some((loudness(samples, *rate_hz)?, room_db(samples))))
        .collect();
    let known = || told.iter().flatten();
    let loudest = known().map(|(lufs, _)| *lufs).fold(f64::MIN, f64::max);
    let possible =
        known().map(|(lufs, room)| lufs + room.min(MOST_GAIN_DB)).fold(f64::MAX, f64::min);
    let wanted = loudest.min(possible);
    told.iter().map(|told| told.map_or(0.0, |(lufs, _)| wanted - lufs)).collect()
}

/// How much louder it may become, in dB.
fn room_db(samples: &[f32]) -> f64 {
    let peak = samples.iter().fold(0.0_f32, |most, s| most.max(s.abs()));
    20.0 * (MOST_PEAK / f64::from(peak).max(1e-9)).log10()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn tone(hz: f64, peak: f64, rate_hz: u32) -> Vec<f32> {
        let rate = f64::from(rate_hz);
        (0..2 * rate_hz).map(|n| (peak * (TAU * hz * f64::from(n) / rate).sin()) as f32).collect()
    }

    /// EBU Tech 3341 (2016), case 1: a stereo sine of 1 kHz at -23 dBFS reads -23 LUFS; one channel alone
    /// reads 3.01 less.
    #[test]
    fn a_published_tone_reads_as_published() {
        let peak = 10f64.powf(-23.0 / 20.0);
        for rate_hz in [44_100, 48_000] {
            let read = loudness(&tone(1_000.0, peak, rate_hz), rate_hz).expect("loud enough");
            assert!((read + 26.01).abs() < 0.1, "{read}");
        }
    }

    #[test]
    fn two_sounds_become_equally_loud_and_none_clips() {
        let (quiet, loud) = (tone(300.0, 0.02, 48_000), tone(800.0, 0.5, 44_100));
        let gains = equal_gains_db(&[(&quiet, 48_000), (&loud, 44_100)]);
        let gained = |samples: &[f32], gain_db: f64| -> Vec<f32> {
            let by = 10f64.powf(gain_db / 20.0) as f32;
            samples.iter().map(|s| s * by).collect()
        };
        let (quiet, loud) = (gained(&quiet, gains[0]), gained(&loud, gains[1]));
        let of = |samples: &[f32], rate| loudness(samples, rate).expect("loud enough");
        assert!((of(&quiet, 48_000) - of(&loud, 44_100)).abs() < 0.05, "{gains:?}");
        assert!(quiet.iter().chain(&loud).all(|s| s.abs() <= 0.9));
    }

    #[test]
    fn silence_and_moments_have_no_loudness() {
        assert_eq!(loudness(&[0.0; 96_000], 48_000), None);
        assert_eq!(loudness(&[0.3; 100], 48_000), None);
        let tone = tone(440.0, 0.1, 48_000);
        let gains = equal_gains_db(&[(&tone, 48_000), (&[0.0; 48_000], 48_000)]);
        assert_eq!(gains, [0.0, 0.0]);
    }
}
