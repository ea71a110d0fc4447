//! The small step of the pitch where another finger takes over the same note, in the middle of a rest.
//!
//! Two fingers hardly ever stop a string at quite the same place. Under a narrow vibrato the small step from one to the
//! other looks like motion, and so hides the rest in which it lies. Such a step has a straight pitch before and behind
//! it. Where the motion for some cycles around fits far better with the step than without, it is taken for one.

use crate::change::Cut;
use crate::expectation::noise;
use crate::straight_line::StraightLine;
use crate::trial::{REACH_HALVES, Trial, least_height, set_heights};
use pitch::HOP_SECS;

/// Frames on either side in which the pitch is straight, and frames left out around the step itself.
const STRAIGHT_FRAMES: usize = 7;
const GUARD_FRAMES: usize = 3;
/// The least step that is looked at, in cents, and as a share of the half width: a smaller one hides no rest.
const LEAST_CENTS_SHARE: (f64, f64) = (1.5, 0.3);
/// No two fingers on one pitch differ by more, in cents.
const MOST_CENTS: f64 = 40.0;
/// A side is straight if it rises or falls by less than this share of the step, or by less than so many cents.
const SLOPE_SHARE_CENTS: (f64, f64) = (0.35, 1.0);
/// A motion rests in its middle: either side lies within so many half widths of the mean pitch of so many cycles.
const MIDDLE_CYCLES: f64 = 2.0;
const BESIDE_HEIGHTS: f64 = 0.6;
/// Places looked at for each change that is awaited, at most.
const LOOKED_AT: usize = 4;
/// The pitch must fit better with a step than without by so much, as a logarithm of likelihood.
const LEAST_WORTH: f64 = 2.5;

/// A stretch, or the part of it that one pitch lasts.
pub(crate) struct Unison<'a> {
    /// Cents.
    pub flat: &'a [f64],
    /// Frames that count.
    pub heard: &'a [bool],
    /// Rate of the motion.
    pub rate_hz: f64,
}

impl Unison<'_> {
    /// The likeliest steps, `count` at most, in order.
    pub(crate) fn steps(&self, count: usize) -> Vec<Cut> {
        let mut places = self.places();
        places.sort_by(|a, b| b.1.total_cmp(&a.1));
        let apart = (0.5 * self.half()) as usize;
        let mut tried: Vec<Cut> = Vec::new();
        for (at, _) in places {
            if tried.len() == LOOKED_AT * count {
                break;
            }
            if tried.iter().all(|other| other.at.abs_diff(at) > apart) {
                tried.push(self.worth(at));
            }
        }
        tried.retain(|step| step.gain > LEAST_WORTH);
        tried.sort_by(|a, b| b.gain.total_cmp(&a.gain));
        tried.truncate(count);
        tried.sort_by_key(|step| step.at);
        tried
    }

    /// Half a cycle, in frames.
    fn half(&self) -> f64 {
        0.5 / self.rate_hz / HOP_SECS
    }

    /// Places with a step between two straight sides, each with the step less the slopes, in cents.
    fn places(&self) -> Vec<(usize, f64)> {
        let side = GUARD_FRAMES + STRAIGHT_FRAMES;
        let length = self.flat.len();
        let cycles = (MIDDLE_CYCLES * 2.0 * self.half()) as usize;
        let expected = Trial::new(self.flat, self.heard).expected(self.rate_hz);
        let near = BESIDE_HEIGHTS * least_height(&expected);
        let mut sums = vec![(0.0, 0.0)];
        for (cents, heard) in self.flat.iter().zip(self.heard) {
            let last = sums[sums.len() - 1];
            let of = |value: f64| if *heard { value } else { 0.0 };
            sums.push((last.0 + of(*cents), last.1 + of(1.0)));
        }
        // Mean pitch of some cycles.
        let mean = |from: usize, to: usize| {
            let (a, b) = (sums[from], sums[to]);
            (b.0 - a.0) / (b.1 - a.1).max(1.0)
        };
        let each = (side..length.saturating_sub(side)).filter_map(|at| {
            let around = at - side..at + side;
            if around.clone().any(|i| !self.heard[i]) {
                return None;
            }
            let (before, early) = line(&self.flat[around.start..around.start + STRAIGHT_FRAMES]);
            let (after, late) = line(&self.flat[around.end - STRAIGHT_FRAMES..around.end]);
            let (step, slope) = (after - before, early.abs().max(late.abs()));
            let straight = slope < (SLOPE_SHARE_CENTS.0 * step.abs()).max(SLOPE_SHARE_CENTS.1);
            let middles = (
                mean(at.saturating_sub(cycles), at - GUARD_FRAMES),
                mean(at + GUARD_FRAMES, (at + cycles).min(length)),
            );
            let rests = (before - middles.0).abs() < near && (after - middles.1).abs() < near;
            (straight && rests && (LEAST_CENTS_SHARE.0..MOST_CENTS).contains(&step.abs()))
                .then_some((at, step.abs() - early.abs() - late.abs()))
        });
        each.collect()
    }

    /// The step at a place; its gain is by how much the pitch fits better with it.
    fn worth(&self, at: usize) -> Cut {
        let reach = (REACH_HALVES * self.half()) as usize;
        let (low, high) = (at.saturating_sub(reach), (at + reach).min(self.flat.len()));
        let (flat, heard) = (&self.flat[low..high], &self.heard[low..high]);
        let at = at - low;
        let (before, _) = line(&flat[at - GUARD_FRAMES - STRAIGHT_FRAMES..at - GUARD_FRAMES]);
        let (after, _) = line(&flat[at + GUARD_FRAMES..at + GUARD_FRAMES + STRAIGHT_FRAMES]);
        let cents = after - before;
        let with = Trial::new(flat, heard);
        let without = Trial::new(flat, heard).without(at, cents, GUARD_FRAMES);
        let (mut before, mut after) = (with.expected(self.rate_hz), without.expected(self.rate_hz));
        // Both are judged by the same noise and the same width.
        let noise = noise(&after, None);
        let height = least_height(&before);
        let small = cents.abs() < LEAST_CENTS_SHARE.1 * height;
        set_heights(&mut before, height);
        set_heights(&mut after, height);
        let gain = with.least_cost(&before, noise) - without.least_cost(&after, noise);
        Cut { at: low + at, cents, gain: if small { 0.0 } else { gain } }
    }
}

/// Mean of a few frames, and how far they rise from first to last.
fn line(cents: &[f64]) -> (f64, f64) {
    let line = StraightLine::through_even(cents.iter().copied());
    (line.mean.1, line.slope * (line.count - 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A motion of 5 Hz and 10 cents that rests from 1.0 to 1.3 s; `step` cents higher from 1.15 s on.
    fn pitch(step: f64) -> Vec<f64> {
        let at = |i: usize| {
            let secs = i as f64 * HOP_SECS;
            let rested = (secs - 1.0).clamp(0.0, 0.3);
            let moved = 5.0 * (TAU * 5.0 * (secs - rested)).sin();
            // The finger's own unrest.
            let unrest = 0.3 * (TAU * 0.9 * secs).sin();
            moved + unrest + if secs >= 1.15 { step } else { 0.0 }
        };
        (0..460).map(at).collect()
    }

    fn steps(cents: &[f64]) -> Vec<Cut> {
        let unison = Unison { flat: cents, heard: &vec![true; cents.len()], rate_hz: 5.0 };
        unison.steps(2)
    }

    #[test]
    fn a_step_in_the_middle_of_a_rest_is_found() {
        for step in [-9.0, -6.0, 6.0, 9.0] {
            let found = steps(&pitch(step));
            assert_eq!(found.len(), 1, "{step}: {found:?}");
            assert!(found[0].at.abs_diff(230) <= 4, "{step}: {found:?}");
            assert!((found[0].cents - step).abs() < 1.0, "{step}: {found:?}");
        }
    }

    #[test]
    fn a_rest_without_a_step_and_a_motion_without_a_rest_have_none() {
        assert_eq!(steps(&pitch(0.0)), []);
        let motion = |i: usize| 5.0 * (TAU * 5.0 * i as f64 * HOP_SECS).sin();
        let motion: Vec<f64> = (0..460).map(motion).collect();
        assert_eq!(steps(&motion), []);
    }
}
