//! Where exactly a note begins, once it is known which notes are played.

use std::f64::consts::TAU;
use std::ops::Range;

use vibrato::{FRAME, LeastSquares, bowed_until, median};

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
/// Before a new pitch the ear is unsure for so many frames at most. The old one still rings where it is told so surely, and
/// within half of the step: at least and at most so many cents.
const UNSURE_FRAMES: usize = 30;
const OLD_CONFIDENCE: f64 = 0.6;
const OLD_CENTS: (f64, f64) = (50.0, 100.0);
/// A note is heard from so far below its own level on. A soft bow rises by so many dB for so many frames at most before its
/// pitch is told, and falls by no more than this meanwhile from frame to frame.
const FAINT_DB: f64 = 20.0;
const RISE_DB: f64 = 1.0;
const SOFT_FRAMES: usize = 24;
const FLAT_DB: f64 = 0.2;
/// Behind the last frame that is no quieter than this below the middle of a note the bow has left the string.
const LEFT_DB: f64 = 10.0;

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
        let Some((old, new)) = middle(heard, before).zip(middle(heard, note)) else { continue };
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
    for i in 0..found.len() {
        let (before, slur) = (i.checked_sub(1).map(|i| &found[i]), model.notes[found[i].note].slur);
        let at = spoken(heard, before, &found[i], bounds[i].start, slur);
        let first = if i > 0 { bounds[i - 1].start + EDGE as f64 } else { 0.0 };
        bounds[i].start = at.max(first).min(bounds[i].end);
        if i > 0 {
            bounds[i - 1].end = bounds[i - 1].end.min(bounds[i].start);
        }
    }
    bounds
}

/// The middle pitch of a note, in cents.
fn middle(heard: &Heard, note: &Found) -> Option<f64> {
    median(heard.cents_in(note.start..note.end).collect())
}

/// Where a note speaks whose pitch is told from `at` on. A new pitch in a room is unsure before it is sure: under a slur it
/// begins there; else midway from there to where it is quietest, for the bow takes time to be louder than what rings on. A
/// soft bow is heard before its pitch.
fn spoken(heard: &Heard, before: Option<&Found>, note: &Found, at: f64, slur: bool) -> f64 {
    let own = |levels: &[f64]| median(levels[note.start..note.end].to_vec());
    let faint = |levels: &[f64]| own(levels).map_or(f64::NEG_INFINITY, |own| own - FAINT_DB);
    let least_db = faint(&heard.level_db);
    let loud = |frame: &usize| heard.level_db[*frame] >= least_db;
    let old = before.and_then(|before| middle(heard, before));
    let near = old.zip(middle(heard, note)).map_or(0.0, |(old, new)| 0.5 * (old - new).abs());
    let rings_on = |frame: &usize| {
        let off = old.zip(heard.cents(*frame)).map(|(old, cents)| (cents - old).abs());
        let near = off.is_some_and(|off| off < near.clamp(OLD_CENTS.0, OLD_CENTS.1));
        near && heard.confidence[*frame] >= OLD_CONFIDENCE
    };
    let told = (at.max(0.0).ceil() as usize).min(note.end - 1);
    let low =
        before.map_or(0, |before| before.start + EDGE).max(told.saturating_sub(UNSURE_FRAMES));
    let unsure = (low..told).rev().take_while(|frame| !rings_on(frame) && loud(frame));
    let unsure = unsure.last().unwrap_or(told);
    if slur {
        return at.min(unsure as f64);
    }
    let quietest = (unsure..=told).min_by(|a, b| heard.level_db[*a].total_cmp(&heard.level_db[*b]));
    let at = at.min(0.5 * (quietest.unwrap_or(told) + unsure) as f64);
    let levels = [&heard.level_db, &heard.upper_db];
    let at = levels.map(|levels| rising(levels, at, faint(levels))).into_iter().fold(at, f64::min);
    let spoken = (at.max(0.0) as usize..note.end).find(loud);
    spoken.map_or(at, |frame| at.max(frame as f64))
}

/// Where the level begins to rise to what it is `at` this place, from no less than `least_db`.
fn rising(level_db: &[f64], at: f64, least_db: f64) -> f64 {
    let last = (at.max(0.0) as usize).min(level_db.len() - 1);
    let rises = |i: &usize| level_db[*i] <= level_db[*i + 1] + FLAT_DB && level_db[*i] >= least_db;
    let low = (last.saturating_sub(SOFT_FRAMES)..last).rev().take_while(rises).last();
    low.filter(|low| level_db[last] - level_db[*low] >= RISE_DB).map_or(at, |low| low as f64)
}

/// Where the bow leaves the string: what follows has no pitch, or is what the string and the room still say.
fn left(heard: &Heard, frames: Range<usize>) -> usize {
    let levels = heard.level_db[frames.clone()].to_vec();
    let quiet = median(levels).map_or(f64::NEG_INFINITY, |middle| middle - LEFT_DB);
    let sounds = |i: &usize| heard.cents(*i).is_some() && heard.level_db[*i] >= quiet;
    let Some(last) = frames.clone().rev().find(sounds) else { return frames.end };
    let first = frames.start;
    match bowed_until(&heard.level_db[first..=last], |i| sounds(&(first + i))) {
        0 => frames.end,
        left => first + left,
    }
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
