//! What is usual of a motion around each frame: its middle, width and rate, first from the range of the pitch,
//! then from the half cycles that were found.

use crate::measure::{median, upper_median};
use crate::motion::{Chain, ChainPoint, PointKind};
use pitch::HOP_SECS;

/// Half cycles on either side that say what is usual.
const AROUND_HALVES: usize = 4;
/// Cycles in which the range of the pitch says how wide the motion is, to begin with.
const WINDOW_CYCLES: f64 = 1.5;
/// Half a cycle upward or downward takes at least this share of the mean of both.
const LEAST_SKEW: f64 = 0.55;
/// Half the least width that is looked for, in cents, and as a share of the widest.
const LEAST_HEIGHT_CENTS: f64 = 1.8;
const LEAST_SHARE: f64 = 0.12;
/// Noise of the pitch, in cents, and as a share of the half width: at first, and at least.
const NOISE_CENTS_SHARE: (f64, f64) = (1.5, 0.15);
pub(crate) const LEAST_NOISE_CENTS_SHARE: (f64, f64) = (0.7, 0.05);

/// What is usual at one frame.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Expectation {
    /// Middle of the motion, in cents.
    pub middle: f64,
    /// Half its width, in cents.
    pub height: f64,
    /// Half a cycle upward and downward, in frames.
    pub up: f64,
    /// See `up`.
    pub down: f64,
}

/// Noise of the pitch, from what a chain has left.
pub(crate) fn noise(expected: &[Expectation], left: Option<f64>) -> f64 {
    let height = middle_height(expected);
    match left {
        None => NOISE_CENTS_SHARE.0.max(NOISE_CENTS_SHARE.1 * height),
        Some(left) => left.max(LEAST_NOISE_CENTS_SHARE.0).max(LEAST_NOISE_CENTS_SHARE.1 * height),
    }
}

/// Half widths that are usual, of a frame in eight.
fn heights(expected: &[Expectation]) -> Vec<f64> {
    expected.iter().step_by(8).map(|expected| expected.height).collect()
}

/// The half width in the middle of those that are usual.
pub(crate) fn middle_height(expected: &[Expectation]) -> f64 {
    upper_median(heights(expected)).unwrap_or(f64::INFINITY)
}

/// Frames before `from` and from `to` on that the finger at `at` does not play.
fn finger(cuts: &[usize], at: usize, length: usize) -> (usize, usize) {
    let next = cuts.partition_point(|cut| *cut <= at);
    let from = next.checked_sub(1).map_or(0, |i| cuts[i]);
    (from, cuts.get(next).copied().unwrap_or(length).min(length))
}

/// What the range of the pitch around each frame says, for fingers that change at `cuts`.
pub(crate) fn initial(
    flat: &[f64],
    heard: &[bool],
    cuts: &[usize],
    rates: &[f64],
) -> Vec<Expectation> {
    let length = rates.len();
    let mut expected = Vec::with_capacity(length);
    let mut cents = Vec::new();
    let mut at = 0;
    while at < length {
        let half = 0.5 / rates[at] / HOP_SECS;
        let reach = (WINDOW_CYCLES * half) as usize;
        let (from, to) = finger(cuts, at, length);
        // As wide a window as there is within the finger's time, around the frame if there is room.
        let low = at.saturating_sub(reach).max(from);
        let high = (low + 2 * reach).min(to);
        let low = high.saturating_sub(2 * reach).max(from);
        cents.clear();
        let step = ((high - low) / 64).max(1);
        let sure = (low..high).step_by(step).filter(|i| heard[*i]);
        cents.extend(sure.map(|i| flat[i]));
        cents.sort_by(f64::total_cmp);
        let (middle, height) = if cents.is_empty() {
            expected.last().map_or((flat[at], LEAST_HEIGHT_CENTS), |last: &Expectation| {
                (last.middle, last.height)
            })
        } else {
            let of = |share: f64| cents[((cents.len() - 1) as f64 * share).round() as usize];
            (0.5 * (of(0.1) + of(0.9)), (of(0.9) - of(0.1)) / 1.9)
        };
        let here = Expectation { middle, height, up: half, down: half };
        let next = (at + ((0.25 * half) as usize).max(1)).min(length);
        expected.resize(next, here);
        at = next;
    }
    floor(&mut expected);
    expected
}

/// No height is less than a share of the widest.
fn floor(expected: &mut [Expectation]) {
    let mut heights = heights(expected);
    heights.sort_by(f64::total_cmp);
    let wide = heights[heights.len() * 8 / 10];
    let least = LEAST_HEIGHT_CENTS.max(LEAST_SHARE * wide);
    for expected in expected {
        expected.height = expected.height.max(least);
    }
}

/// A half cycle of a chain.
struct Half {
    at: f64,
    frames: f64,
    up: bool,
    middle: f64,
    height: f64,
    finger: usize,
}

/// What the half cycles of `chain` around each frame say, for fingers that change at `cuts`.
pub(crate) fn refined(cuts: &[usize], chain: &Chain, before: &[Expectation]) -> Vec<Expectation> {
    let halves = halves_of(chain, cuts);
    if halves.is_empty() {
        return before.to_vec();
    }
    let mut expected = Vec::with_capacity(before.len());
    let mut at = 0;
    while at < before.len() {
        let next = halves.partition_point(|half| half.at < at as f64);
        let near =
            &halves[next.saturating_sub(AROUND_HALVES)..(next + AROUND_HALVES).min(halves.len())];
        let finger = cuts.partition_point(|cut| *cut <= at);
        let (here, length) = refined_at(near, finger, before[at]);
        let next = (at + ((0.25 * length) as usize).max(1)).min(before.len());
        expected.resize(next, here);
        at = next;
    }
    floor(&mut expected);
    expected
}

/// The half cycles of a chain, for fingers that change at `cuts`.
fn halves_of(chain: &Chain, cuts: &[usize]) -> Vec<Half> {
    let pairs = chain.points.windows(2).filter(|pair| pair[1].cycles == 0.5);
    let half = |pair: &[ChainPoint]| {
        let at = 0.5 * (pair[0].at + pair[1].at);
        Half {
            at,
            frames: pair[1].at - pair[0].at,
            up: pair[1].kind == PointKind::Crest,
            middle: pair[1].middle,
            height: pair[1].height,
            finger: cuts.partition_point(|cut| *cut as f64 <= at),
        }
    };
    pairs.map(half).collect()
}

/// What the half cycles `near` a frame of this finger say of it, where `old` was usual, and the length of one.
fn refined_at(near: &[Half], finger: usize, old: Expectation) -> (Expectation, f64) {
    let of = |value: fn(&Half) -> f64| median(near.iter().map(value).collect());
    // Another finger has a middle of its own.
    let own: Vec<f64> =
        near.iter().filter(|half| half.finger == finger).map(|half| half.middle).collect();
    let middle = match own[..] {
        [one] => 0.5 * (old.middle + one),
        _ => median(own).unwrap_or(old.middle),
    };
    let height = of(|half| half.height).unwrap_or(old.height);
    let length = of(|half| half.frames).unwrap_or(0.5 * (old.up + old.down));
    let way = |up: bool| {
        let some: Vec<f64> =
            near.iter().filter(|half| half.up == up).map(|half| half.frames).collect();
        let count = some.len();
        median(some).filter(|_| count >= 2)
    };
    let (up, down) = match (way(true), way(false)) {
        (Some(up), Some(down)) => {
            let mean = 0.5 * (up + down);
            let up = up.clamp(LEAST_SKEW * mean, (2.0 - LEAST_SKEW) * mean);
            (up, 2.0 * mean - up)
        }
        _ => (length, length),
    };
    (Expectation { middle, height, up, down }, length)
}
