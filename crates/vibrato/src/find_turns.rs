//! Crests and troughs of a motion through several fingers.
//!
//! A parabola through about a third of a cycle slides along the pitch. Its highest point becomes a
//! crest once the pitch has fallen from it by a fair share of the width, and so for troughs.

use crate::expectation::Expectation;
use crate::turn::Turn;
use pitch::HOP_SECS;

/// Half the parabola's length, in cycles.
const HALF_CYCLES: f64 = 0.17;
/// Half the shortest and the longest parabola, in frames.
const HALF_FRAMES: (usize, usize) = (2, 60);
/// At the edges of the sound it may be this short.
const LEAST_HALF_FRAMES: usize = 2;
/// The pitch must come back by this share of the width around it...
const BACK_SHARE: f64 = 0.3;
/// ...of the usual width...
const BACK_USUAL_SHARE: f64 = 0.2;
/// ...and by so many cents.
const LEAST_BACK_CENTS: f64 = 1.2;
/// Frames of the attack, in which the pitch settles: they say nothing of the width.
const ATTACK_FRAMES: usize = 6;
/// A turn is looked for within this share of half a cycle.
const NEAR_SHARE: f64 = 0.2;
/// Cycles on either side that say what the width is.
const AROUND_CYCLES: f64 = 0.8;

/// At the end of the sound the last turn has no room to come back in: this share, and so many cents.
const BACK_END_SHARE: f64 = 0.06;
const LEAST_BACK_END_CENTS: f64 = 1.0;

/// Writes the turns of `flat` (cents, one a frame) to `turns`, for a motion whose rate at each frame
/// is `rates`. If the sound is `over`, the last frame is its end.
pub(crate) fn find_turns(flat: &[f64], rates: &[f64], over: bool, turns: &mut Vec<Turn>) {
    turns.clear();
    let smooth: Vec<f64> = (0..flat.len()).map(|i| parabola(flat, i, rates[i]).0).collect();
    let ranges = ranges(&smooth, rates);
    let mut sorted = ranges.clone();
    sorted.sort_by(f64::total_cmp);
    let expected = sorted.get(sorted.len() * 7 / 10).copied().unwrap_or(0.0);
    // The extreme so far, and whether the pitch is on its way up.
    let (mut low, mut high) = (0, 0);
    let mut rising = None;
    for (i, &y) in smooth.iter().enumerate() {
        if i < LEAST_HALF_FRAMES || i + LEAST_HALF_FRAMES >= flat.len() {
            continue;
        }
        if low == 0 || y < smooth[low] {
            low = i;
        }
        if high == 0 || y > smooth[high] {
            high = i;
        }
        let back = |at: usize| {
            (BACK_SHARE * ranges[at]).max(BACK_USUAL_SHARE * expected).max(LEAST_BACK_CENTS)
        };
        let fell = smooth[high] - y >= back(high);
        let rose = y - smooth[low] >= back(low);
        if fell && rising != Some(false) {
            if rising.is_some() || high > LEAST_HALF_FRAMES {
                turns.push(turn(flat, rates, high, true));
            }
            (rising, low) = (Some(false), i);
        } else if rose && rising != Some(true) {
            if rising.is_some() || low > LEAST_HALF_FRAMES {
                turns.push(turn(flat, rates, low, false));
            }
            (rising, high) = (Some(true), i);
        }
    }
    let Some(rising) = rising.filter(|_| over) else {
        return;
    };
    let at = if rising { high } else { low };
    let back = (BACK_END_SHARE * ranges[at].max(expected)).max(LEAST_BACK_END_CENTS);
    let away = smooth[at..].iter().map(|y| (smooth[at] - y).abs());
    if at + LEAST_HALF_FRAMES < smooth.len() && away.fold(0.0, f64::max) >= back {
        turns.push(turn(flat, rates, at, rising));
    }
}

/// Largest less smallest value within some cycles on either side of each frame.
fn ranges(smooth: &[f64], rates: &[f64]) -> Vec<f64> {
    (0..smooth.len())
        .map(|i| {
            let reach = (AROUND_CYCLES / rates[i] / HOP_SECS) as usize;
            let to = (i + reach + 1).min(smooth.len());
            let part = &smooth[i.saturating_sub(reach).max(ATTACK_FRAMES).min(to - 1)..to];
            let step = (reach / 16).max(1);
            let (low, high) = part
                .iter()
                .step_by(step)
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), y| (l.min(*y), h.max(*y)));
            high - low
        })
        .collect()
}

/// Value and slope at frame `i` of the parabola through the frames around it.
///
/// Least squares in closed form (A. Savitzky and M. Golay, Anal. Chem. 36 (1964), 1627: from memory).
fn parabola(flat: &[f64], i: usize, rate_hz: f64) -> (f64, f64) {
    let half = (HALF_CYCLES / rate_hz / HOP_SECS).round() as usize;
    let half = half.clamp(HALF_FRAMES.0, HALF_FRAMES.1).min(i).min(flat.len() - 1 - i);
    if half < LEAST_HALF_FRAMES {
        return (flat[i], 0.0);
    }
    let h = half as f64;
    let scale = (2.0 * h + 1.0) * (2.0 * h - 1.0) * (2.0 * h + 3.0);
    let (mut value, mut slope, mut squares) = (0.0, 0.0, 0.0);
    for (step, y) in flat[i - half..=i + half].iter().enumerate() {
        let k = step as f64 - h;
        value += 3.0 * (3.0 * h * h + 3.0 * h - 1.0 - 5.0 * k * k) / scale * y;
        slope += k * y;
        squares += k * k;
    }
    (value, slope / squares)
}

/// The turn at frame `at`, between the frames where the slope is 0.
fn turn(flat: &[f64], rates: &[f64], at: usize, crest: bool) -> Turn {
    turn_of(flat, rates[at], at, crest)
}

fn turn_of(flat: &[f64], rate_hz: f64, at: usize, crest: bool) -> Turn {
    let slope = |i: usize| parabola(flat, i, rate_hz).1;
    let (before, here, after) = (slope(at - 1), slope(at), slope(at + 1));
    let bend = 0.5 * (after - before);
    let shift = if bend != 0.0 { (-here / bend).clamp(-1.0, 1.0) } else { 0.0 };
    Turn {
        at: at as f64 + shift,
        cents: parabola(flat, at, rate_hz).0 + 0.5 * here * shift,
        crest,
        reach: 0.0,
    }
}

/// The turn of `flat` near frame `at`, where `expected` says how long half a cycle is.
pub(crate) fn turn_near(flat: &[f64], at: f64, expected: &Expectation, crest: bool) -> Turn {
    let half = 0.5 * (expected.up + expected.down);
    let rate_hz = 0.5 / half / HOP_SECS;
    let reach = (NEAR_SHARE * half).ceil();
    let low = ((at - reach).max(0.0) as usize).min(flat.len() - 1);
    let high = ((at + reach) as usize).min(flat.len() - 1);
    let value = |i: usize| {
        let value = parabola(flat, i, rate_hz).0;
        if crest { value } else { -value }
    };
    let best = (low..=high).max_by(|a, b| value(*a).total_cmp(&value(*b)));
    let i = best.unwrap_or(low);
    if i == low || i == high || i < LEAST_HALF_FRAMES || i + LEAST_HALF_FRAMES >= flat.len() {
        let i = (at as usize).min(flat.len() - 1);
        return Turn {
            at: at.min(flat.len() as f64),
            cents: parabola(flat, i, rate_hz).0,
            crest,
            reach: 0.0,
        };
    }
    turn_of(flat, rate_hz, i, crest)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn every_turn_of_a_sine_is_found_where_it_is() {
        for rate in [0.4, 1.0, 4.0, 8.0, 10.0] {
            let frames = (5.25 / rate / HOP_SECS) as usize;
            let flat: Vec<f64> =
                (0..frames).map(|i| 5.0 * (TAU * rate * i as f64 * HOP_SECS).sin()).collect();
            let mut turns = Vec::new();
            find_turns(&flat, &vec![rate; frames], false, &mut turns);
            assert_eq!(turns.len(), 10, "{rate} Hz: {turns:?}");
            for (k, turn) in turns.iter().enumerate() {
                let truth = (0.25 + 0.5 * k as f64) / rate / HOP_SECS;
                assert!((turn.at - truth).abs() < 0.6, "{rate} Hz: {turn:?} not {truth}");
                assert_eq!(turn.crest, k % 2 == 0);
            }
        }
    }
}
