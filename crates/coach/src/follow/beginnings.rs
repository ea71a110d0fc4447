//! Where exactly a note begins, once it is known which notes are played.

use std::f64::consts::TAU;
use std::ops::Range;

use vibrato::{FRAME, LeastSquares, median};

use super::heard::Heard;
use super::model::Model;
use super::places::{LEAST_RUN, Onset};
use super::viterbi::Found;

/// A new pitch is heard a little after it has begun: one frame, and one period of it.
const LATE_FRAMES: f64 = 1.0;
/// All beginnings are heard this much late, in seconds (middle of made sound).
pub(super) const LATE_SECS: f64 = 0.008;
/// The pitch changes by so much, in cents; by so much it tells more than the bow, even where that speaks by so many dB.
const CHANGE_CENTS: f64 = 60.0;
const LEAP_CENTS: f64 = 150.0;
const BOW_DB: f64 = 5.0;
/// Frames around a place that are looked at, and the greatest gap before a note that still follows the one before.
const REACH: usize = 70;
const EDGE: usize = 6;
const GAP: usize = 60;
const LEAST_FRAMES: usize = 6;
/// A step under a slur up to this, in cents, is placed by what explains both sides best, so many frames around.
const STEP_CENTS: (f64, f64) = (30.0, 250.0);
const AROUND: usize = 18;
const SIDE: usize = 40;
/// Each side is its own mean and one of these swings, in Hz; pulled this much, in frames, to the mean and to no swing.
const RATES_HZ: [f64; 6] = [0.0, 3.5, 4.5, 5.5, 6.5, 7.5];
const PULL_MEAN: f64 = 3.0;
const PULL_SWING: f64 = 1.0;
const MOST_OFF_CENTS: f64 = 150.0;
/// A note that is taken to begin with so many silent frames begins where its pitch does.
const SILENT_FRAMES: f64 = 30.0;
/// Behind the last frame that is no quieter than this below the middle of a note the bow has left the string.
const LEFT_DB: f64 = 10.0;
/// What is quieter by this than the loudest of so many frames before it falls as no bow does: the string and the room ring on.
const FALL_DB: f64 = 5.0;
const FALL_FRAMES: usize = 30;

/// Beginnings and ends in frames, parts of which count.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    pub(super) start: f64,
    pub(super) end: f64,
}

/// Puts each beginning where the new pitch takes over.
pub(super) fn place(
    heard: &Heard,
    model: &Model,
    found: &[Found],
    places: &[Onset],
) -> Vec<Bounds> {
    let mut bounds: Vec<Bounds> =
        found.iter().map(|one| Bounds { start: one.start as f64, end: one.end as f64 }).collect();
    for i in 1..found.len() {
        let (before, note) = (&found[i - 1], &found[i]);
        let middle = |one: &Found| median(heard.cents_in(one.start..one.end).collect());
        let Some((old, new)) = middle(before).zip(middle(note)) else { continue };
        let told = places.binary_search_by_key(&note.start, |place| place.frame);
        let sign_db = told.map_or(0.0, |at| places[at].sign_db);
        let at = takeover(heard, (before, note), (old, new), sign_db);
        let slur = model.notes[note.note].slur;
        let moved = if slur { slurred(heard, (before, note), (old, new), at) } else { None };
        let at = moved.or(at);
        if let Some(at) = at {
            bounds[i].start = at;
            bounds[i - 1].end = bounds[i - 1].end.min(at);
        }
    }
    for (one, bounds) in found.iter().zip(&mut bounds) {
        bounds.end = bounds.end.min(left(heard, one.start..one.end) as f64);
        let sounds = (one.start..one.end).find(|frame| heard.cents(*frame).is_some());
        let first = sounds.map_or(0.0, |first| first as f64);
        if first > bounds.start + SILENT_FRAMES {
            bounds.start = first - LATE_FRAMES;
        }
    }
    bounds
}

/// Where the bow leaves the string: what follows has no pitch, or is what the string and the room still say.
fn left(heard: &Heard, frames: Range<usize>) -> usize {
    let levels = heard.level_db[frames.clone()].to_vec();
    let quiet = median(levels).map_or(f64::NEG_INFINITY, |middle| middle - LEFT_DB);
    let bowed = |i: usize| {
        let before = &heard.level_db[i.saturating_sub(FALL_FRAMES).max(frames.start)..=i];
        let loudest = before.iter().copied().fold(quiet + FALL_DB, f64::max);
        heard.level_db[i] >= loudest - FALL_DB
    };
    let sounds = |i: &usize| heard.cents(*i).is_some() && bowed(*i);
    frames.clone().rev().find(sounds).map_or(frames.end, |last| last + 1)
}

/// The place that parts the frames best into those nearer to the old pitch and those nearer to the new one. A pitch of a
/// frame or two between both is the room's, or noise.
fn takeover(
    heard: &Heard,
    (before, note): (&Found, &Found),
    (old, new): (f64, f64),
    sign_db: f64,
) -> Option<f64> {
    let step = (new - old).abs();
    let by_bow = step < LEAP_CENTS && sign_db >= BOW_DB;
    if note.start > before.end + GAP || step < CHANGE_CENTS || by_bow {
        return None;
    }
    let low = (before.start + EDGE).max(before.end.saturating_sub(REACH));
    let high = (note.end.saturating_sub(EDGE)).min(note.start + REACH);
    if heard.cents_in(low..high.max(low)).count() < LEAST_FRAMES {
        return None;
    }
    let (mut sum, mut best, mut split) = (0, 0, low);
    for frame in low..high {
        if let Some(cents) = heard.cents(frame) {
            sum += if (cents - new).abs() < (cents - old).abs() { -1 } else { 1 };
        }
        if sum > best {
            (best, split) = (sum, frame + 1);
        }
    }
    let sounds = |frame: usize| heard.cents(frame).is_some();
    let lasts = |frame: &usize| (*frame..frame + LEAST_RUN).all(sounds);
    let first = (split..high).find(lasts).or_else(|| (split..high).find(|frame| sounds(*frame)))?;
    let period_frames = 1.0 / (440.0 * (new / 1200.0).exp2() * FRAME.get());
    Some(first as f64 - LATE_FRAMES - period_frames)
}

/// Where a small step under a slur explains both sides best.
fn slurred(
    heard: &Heard,
    (before, note): (&Found, &Found),
    (old, new): (f64, f64),
    at: Option<f64>,
) -> Option<f64> {
    let step = (new - old).abs();
    let at = at.map_or(note.start, |at| at.round().max(0.0) as usize);
    if step < STEP_CENTS.0 || step > STEP_CENTS.1 || at > before.end + SIDE {
        return None;
    }
    let low = (before.start + 8).max(at.saturating_sub(AROUND));
    let high = note.end.saturating_sub(8).min(at + AROUND);
    let worth = |at: usize| {
        let left = unlike(heard, before.start.max(at.saturating_sub(SIDE))..at - 1, old)?;
        Some(left + unlike(heard, at + 2..note.end.min(at + SIDE + 2), new)?)
    };
    let all = (low..=high.max(low)).filter_map(|at| Some((at, worth(at)?)));
    all.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(at, _)| at as f64)
}

/// How badly a swing about this pitch explains these frames: mean square, in cents squared.
fn unlike(heard: &Heard, frames: Range<usize>, centre: f64) -> Option<f64> {
    let start = frames.start;
    let points: Vec<(f64, f64)> = frames
        .filter_map(|frame| Some((frame, heard.cents(frame)?)))
        .map(|(frame, cents)| {
            let off = (cents - centre).clamp(-MOST_OFF_CENTS, MOST_OFF_CENTS);
            ((frame - start) as f64 * FRAME.get(), off)
        })
        .collect();
    if points.len() < LEAST_FRAMES {
        return None;
    }
    let left = |rate_hz: f64| {
        let mut swing = LeastSquares::pulled([PULL_MEAN, PULL_SWING, PULL_SWING]);
        for &(time, off) in &points {
            let (sin, cos) = (TAU * rate_hz * time).sin_cos();
            swing.add(&if rate_hz > 0.0 { [1.0, sin, cos] } else { [1.0, 0.0, 0.0] }, off);
        }
        swing.solved().map(|solved| solved.left)
    };
    let least = RATES_HZ.into_iter().filter_map(left).fold(f64::INFINITY, f64::min);
    Some(least / points.len() as f64)
}
