//! Crests and troughs, one by one.
//!
//! A parabola through about a third of a cycle slides along the pitch; where its slope changes
//! sign lies a turn. How high it lies is read off a quartic through half a cycle, which follows
//! crests of any shape. A turn counts once the pitch has come back from it by a fair share of the
//! width, so that noise on a flank makes none.

use crate::least_squares::LeastSquares;
use pitch::HOP_SECS;

/// Half the parabola's length and half the quartic's, in cycles.
const HALF_CYCLES: f64 = 0.17;
const HALF_CYCLES_HIGH: f64 = 0.25;
/// Half the shortest parabola, in frames: near the start and the end of a note.
const LEAST_HALF_FRAMES: usize = 6;
/// Points in half a parabola at most.
const HALF_POINTS: usize = 12;
/// Share of the width by which the pitch must come back, and the least in cents.
const RETURN_SHARE: f64 = 0.3;
const LEAST_RETURN_CENTS: f64 = 1.2;
/// At the end of a note it need come back by this share only, in the mean of so many frames.
const LAST_RETURN_SHARE: f64 = 0.05;
const LAST_FRAMES: usize = 3;
/// Frames at the start of a note that hold no turn: the pitch is still settling.
const SETTLING_FRAMES: usize = 10;

/// A crest or a trough.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// In frames from the first of the note, fractional.
    pub at: f64,
    /// Pitch, in cents.
    pub cents: f64,
    /// `true` for a crest.
    pub crest: bool,
    /// Frames after it that were looked at.
    pub reach: f64,
}

/// Finds the turns of one note as it goes on.
pub(crate) struct Turns {
    /// The turns that are certain, alternating.
    pub found: Vec<Turn>,
    pending: Option<Turn>,
    /// Slope at the frame before `next`.
    slope: Option<f64>,
    next: usize,
    rate_hz: f64,
}

impl Turns {
    /// Room for `most` turns.
    pub(crate) fn new(most: usize) -> Self {
        Self {
            found: Vec::with_capacity(most),
            pending: None,
            slope: None,
            next: SETTLING_FRAMES,
            rate_hz: 0.0,
        }
    }

    /// Starts anew, from the first frame of a note.
    pub(crate) fn clear(&mut self) {
        self.found.clear();
        (self.pending, self.slope, self.next, self.rate_hz) = (None, None, SETTLING_FRAMES, 0.0);
    }

    /// Goes on to the newest frames, for oscillations of about `rate_hz` and `width` cents.
    ///
    /// If the rate has changed by more than a third since the last start, the note is gone through
    /// anew: its beginning was looked at through the wrong glass.
    pub(crate) fn advance(&mut self, cents: &[f64], heard: &[bool], rate_hz: f64, width: f64) {
        if self.rate_hz > 0.0 && (rate_hz / self.rate_hz).ln().abs() > 0.3 && self.found.len() < 6 {
            self.clear();
        }
        if self.rate_hz == 0.0 {
            self.rate_hz = rate_hz;
        }
        let (half, high) = reaches(rate_hz);
        self.go_to(cents.len().saturating_sub(high), cents, heard, (half, high), rate_hz, width);
    }

    /// Goes on to the end of a note, which these are all the frames of: what was seen through
    /// later frames is looked at again without them, and the last turns with what there is.
    pub(crate) fn finish(&mut self, cents: &[f64], heard: &[bool], rate_hz: f64, width: f64) {
        let (half, high) = reaches(rate_hz);
        let within = |turn: &Turn| turn.at + turn.reach < cents.len() as f64;
        self.found.retain(within);
        self.pending = self.pending.filter(within);
        let seen = self.found.last().map_or(0, |turn| turn.at as usize + 2);
        self.next = self.next.min(cents.len().saturating_sub(high + 1)).max(seen);
        self.slope = None;
        self.go_to(
            cents.len().saturating_sub(LEAST_HALF_FRAMES.min(half)),
            cents,
            heard,
            (half, high),
            rate_hz,
            width,
        );
        // The last turn has less room to come back in.
        let last = (0..cents.len()).rev().filter(|&i| heard[i]).take(LAST_FRAMES);
        let (sum, count) = last.fold((0.0, 0.0), |(sum, count), i| (sum + cents[i], count + 1.0));
        if count > 0.0 {
            let back = (LAST_RETURN_SHARE * width).max(0.5 * LEAST_RETURN_CENTS);
            self.confirm(sum / count, back);
        }
    }

    /// Goes on to frame `end`, with windows of so many frames on either side.
    fn go_to(
        &mut self,
        end: usize,
        cents: &[f64],
        heard: &[bool],
        (half, high): (usize, usize),
        rate_hz: f64,
        width: f64,
    ) {
        let back = (RETURN_SHARE * width).max(LEAST_RETURN_CENTS);
        while self.next < end && self.found.len() < self.found.capacity() {
            let at = self.next;
            let room = at.min(cents.len() - 1 - at);
            let high = high.min(room);
            self.next += 1;
            let Some([value, slope, ..]) = local_fit::<3>(cents, heard, at, half.min(room)) else {
                self.slope = None;
                continue;
            };
            if let Some(before) = self.slope.replace(slope)
                && (before > 0.0) != (slope > 0.0)
            {
                let x = -slope / (slope - before);
                let quartic = local_fit::<5>(cents, heard, at, high);
                let height =
                    quartic.map(|q| (((q[4] * x + q[3]) * x + q[2]) * x + q[1]) * x + q[0]);
                self.consider(Turn {
                    at: at as f64 + x,
                    cents: height.unwrap_or(value),
                    crest: before > 0.0,
                    reach: high as f64,
                });
            }
            self.confirm(value, back);
            self.rate_hz += 0.05 * (rate_hz - self.rate_hz);
        }
    }

    /// Takes a change of slope as the next turn, or as a better place for the one awaited.
    fn consider(&mut self, turn: Turn) {
        let beyond = |other: &Turn| (turn.cents > other.cents) == turn.crest;
        match (&mut self.pending, self.found.last_mut()) {
            (Some(pending), _) if pending.crest == turn.crest => {
                if beyond(pending) {
                    *pending = turn;
                }
            }
            (Some(_), _) => {}
            (None, Some(last)) if last.crest == turn.crest => {
                if beyond(last) {
                    *last = turn;
                }
            }
            (None, _) => self.pending = Some(turn),
        }
    }

    /// Makes the awaited turn certain once the pitch has come back from it far enough.
    fn confirm(&mut self, value: f64, back: f64) {
        let come_back = |turn: &mut Turn| {
            if turn.crest { turn.cents - value } else { value - turn.cents }
        };
        if let Some(turn) = self.pending.take_if(|turn| come_back(turn) >= back) {
            self.found.push(turn);
        }
    }
}

/// Half the length of the parabola and of the quartic, in frames.
fn reaches(rate_hz: f64) -> (usize, usize) {
    let frames = |cycles: f64| ((cycles / rate_hz / HOP_SECS).round() as usize).max(2);
    (frames(HALF_CYCLES), frames(HALF_CYCLES_HIGH))
}

/// The coefficients, per frame, of the least-squares polynomial of `N` terms over `half` frames on
/// both sides of frame `at`; `None` where too many are missing.
fn local_fit<const N: usize>(
    cents: &[f64],
    heard: &[bool],
    at: usize,
    half: usize,
) -> Option<[f64; N]> {
    let stride = half.div_ceil(HALF_POINTS);
    let reach = half / stride;
    let first = at.checked_sub(reach * stride)?;
    if at + reach * stride >= cents.len() || 2 * reach + 1 < N {
        return None;
    }
    let origin = cents[at];
    let scale = (reach * stride) as f64;
    let mut fit = LeastSquares::new();
    let mut count = 0;
    for step in 0..=2 * reach {
        let i = first + step * stride;
        if !heard[i] {
            continue;
        }
        count += 1;
        let x = step as f64 / reach as f64 - 1.0;
        let mut row = [1.0; N];
        for k in 1..N {
            row[k] = row[k - 1] * x;
        }
        fit.add(&row, cents[i] - origin);
    }
    if count * 3 < (2 * reach + 1) * 2 {
        return None;
    }
    let (mut found, _) = fit.solve(N)?;
    for (k, c) in found.iter_mut().enumerate() {
        *c /= scale.powi(k as i32);
    }
    found[0] += origin;
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Turns found in a sine of `rate` Hz, 30 cents wide, three seconds and two cycles long.
    fn turns(rate: f64, noise: f64) -> Vec<Turn> {
        let frames = ((3.0 + 2.0 / rate) / HOP_SECS) as usize;
        let mut seed = 1_u64;
        let mut random = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (seed >> 33) as f64 / f64::from(1_u32 << 30) - 1.0
        };
        let cents: Vec<f64> = (0..frames)
            .map(|i| 15.0 * (TAU * rate * i as f64 * HOP_SECS).sin() + noise * random())
            .collect();
        let mut turns = Turns::new(256);
        for end in 1..=frames {
            turns.advance(&cents[..end], &vec![true; end], rate, 30.0);
        }
        turns.found
    }

    #[test]
    fn every_turn_of_a_sine_is_found_where_it_is() {
        for rate in [0.5, 1.0, 4.0, 6.0, 8.0, 10.0] {
            for (i, turn) in turns(rate, 0.0).iter().enumerate() {
                let quarter = 0.25 / rate / HOP_SECS;
                let first = if quarter < SETTLING_FRAMES as f64 { 1 } else { 0 };
                let truth = quarter * (1.0 + 2.0 * (i + first) as f64);
                assert!(
                    (turn.at - truth).abs() < 0.3,
                    "turn {i} of {rate} Hz at {} not {truth}",
                    turn.at
                );
                assert!((turn.cents.abs() - 15.0).abs() < 0.15, "turn {i} of {rate} Hz: {turn:?}");
            }
        }
    }

    #[test]
    fn noise_adds_and_hides_no_turn() {
        for rate in [1.0, 4.0, 6.0, 8.0] {
            let (clean, noisy) = (turns(rate, 0.0).len(), turns(rate, 4.0).len());
            assert!(clean.abs_diff(noisy) <= 1, "{clean} turns at {rate} Hz, {noisy} with noise");
        }
    }
}
