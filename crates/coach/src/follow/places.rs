//! Places at which a note may begin, and how loudly the bow speaks for a beginning there. Too many are harmless: the
//! alignment takes those that fit.

use std::collections::BTreeMap;
use std::ops::Range;

use vibrato::median;

use super::heard::Heard;

/// A dip of the level that counts: at least so deep, from so many frames before to so many behind.
const LEAST_DIP_DB: f64 = 2.5;
const DIP_REACH: usize = 30;
/// It is the lowest of so many frames on either side...
const LOWEST_OF: usize = 5;
/// ...and not quieter than this even beside it, in dBFS.
const QUIETEST_DBFS: f64 = -75.0;
/// A vibrato makes dips of its own, by the body's resonances: so many times the middle one of those within so many
/// frames is taken off. Deeper ones than this are the bow's.
const USUAL_SHARE: f64 = 1.2;
const USUAL_REACH: usize = 80;
const SURE_DB: f64 = 10.0;
/// A shallower dip that is wider than so many frames has its place in its middle.
const WIDE_DB: f64 = 20.0;
const WIDE_FRAMES: usize = 8;
/// The bow's noise hides the pitch: a confidence below this speaks for the bow, by up to so many dB.
const CLEAR_CONFIDENCE: f64 = 0.8;
const UNCLEAR_DB: f64 = 6.0;
/// A pitch that begins after so many frames without one speaks for the bow by so many dB; runs shorter than so many frames
/// are noise.
const QUIET_FRAMES: usize = 4;
pub(super) const LEAST_RUN: usize = 3;
const AFTER_QUIET_DB: f64 = 6.0;
/// So does a new bow that the ear heard.
const BOW_DB: f64 = 4.0;
/// The pitch steps where the middle of the frames on either side differs by so many cents: from so many frames away on.
const STEP_CENTS: f64 = 45.0;
const STEP_NEAR: usize = 2;
const STEP_FAR: usize = 11;
const LEAST_STEP_FRAMES: usize = 4;
const STEP_PEAK: usize = 3;
/// Places so near to each other are one.
const SAME_PLACE: usize = 2;

/// A place at which a note may begin or end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Onset {
    /// The frame.
    pub(super) frame: usize,
    /// How loudly the bow speaks for a beginning here, in dB.
    pub(super) sign_db: f64,
}

/// The places within some frames, in order, from all that was heard by now.
pub(super) fn places(heard: &Heard, within: Range<usize>) -> Vec<Onset> {
    let mut found = BTreeMap::new();
    let mut add = |frame: usize, sign_db: f64| {
        if within.contains(&frame) {
            let kept: &mut f64 = found.entry(frame).or_insert(0.0);
            *kept = kept.max(sign_db);
        }
    };
    let around =
        within.start.saturating_sub(USUAL_REACH)..(within.end + USUAL_REACH).min(heard.len());
    for level in [&heard.level_db, &heard.upper_db] {
        signs(level, &heard.confidence, around.clone()).for_each(|(at, db)| add(at, db));
    }
    runs(heard, around.clone(), &mut add);
    steps(heard, within.clone()).for_each(|at| add(at, 0.0));
    heard.edges.iter().for_each(|at| add(*at, 0.0));
    heard.bows.iter().for_each(|at| add(*at, BOW_DB));
    merged(found)
}

/// Places that are near to each other are one, and the loudest has it.
fn merged(found: BTreeMap<usize, f64>) -> Vec<Onset> {
    let mut places: Vec<Onset> = Vec::new();
    for (frame, sign_db) in found {
        match places.last_mut().filter(|last| frame - last.frame <= SAME_PLACE) {
            Some(last) if sign_db > last.sign_db => *last = Onset { frame, sign_db },
            Some(_) => {}
            None => places.push(Onset { frame, sign_db }),
        }
    }
    places
}

/// A dip of the level.
struct Dip {
    lowest: usize,
    deep_db: f64,
    rise_db: f64,
}

fn fold(part: &[f64], from: f64, pick: fn(f64, f64) -> f64) -> f64 {
    part.iter().copied().fold(from, pick)
}

fn dips(level: &[f64], within: Range<usize>) -> Vec<Dip> {
    let mut dips: Vec<Dip> = Vec::new();
    for at in within {
        let near = at.saturating_sub(LOWEST_OF)..(at + LOWEST_OF + 1).min(level.len());
        let again = dips.last().is_some_and(|dip| at - dip.lowest < 3);
        if again || fold(&level[near], f64::INFINITY, f64::min) < level[at] {
            continue;
        }
        let top = |part: &[f64]| fold(part, f64::NEG_INFINITY, f64::max);
        let after = top(&level[at..(at + DIP_REACH + 1).min(level.len())]);
        let before = top(&level[at.saturating_sub(DIP_REACH)..=at]);
        let rise_db = after - level[at];
        let deep_db = rise_db.min(before - level[at]);
        if deep_db >= LEAST_DIP_DB && after > QUIETEST_DBFS {
            dips.push(Dip { lowest: at, deep_db, rise_db });
        }
    }
    dips
}

/// Where a note may begin by what this level says, and how much it speaks for the bow.
fn signs<'a>(
    level: &'a [f64],
    confidence: &'a [f64],
    within: Range<usize>,
) -> impl Iterator<Item = (usize, f64)> + 'a {
    let dips = dips(level, within);
    let usual: Vec<f64> = dips.iter().map(|dip| usual_db(&dips, dip)).collect();
    dips.into_iter().zip(usual).map(move |(dip, usual)| {
        let near = dip.lowest.saturating_sub(3)..(dip.lowest + 7).min(confidence.len());
        let least = fold(&confidence[near], f64::INFINITY, f64::min);
        let unclear = (CLEAR_CONFIDENCE - least).max(0.0) / CLEAR_CONFIDENCE;
        let own =
            if dip.deep_db < SURE_DB { dip.deep_db - USUAL_SHARE * usual } else { dip.deep_db };
        (risen(level, &dip), own.max(0.0) + UNCLEAR_DB * unclear)
    })
}

/// How deep the dips around this one are.
fn usual_db(dips: &[Dip], dip: &Dip) -> f64 {
    let near: Vec<f64> = dips
        .iter()
        .filter(|other| (1..=USUAL_REACH).contains(&other.lowest.abs_diff(dip.lowest)))
        .filter(|other| other.deep_db < SURE_DB)
        .map(|other| other.deep_db)
        .collect();
    if near.len() < 2 { 0.0 } else { median(near).unwrap_or(0.0) }
}

/// Where the level rises from a dip; the middle of a shallow one that is wide.
fn risen(level: &[f64], dip: &Dip) -> usize {
    let low = level[dip.lowest];
    let end = (dip.lowest + DIP_REACH).min(level.len() - 1);
    let over = low + LEAST_DIP_DB.min(0.25 * dip.rise_db);
    let right = (dip.lowest..end).find(|i| level[*i] >= over).unwrap_or(end);
    if dip.deep_db >= WIDE_DB {
        return right;
    }
    let first = dip.lowest.saturating_sub(DIP_REACH);
    let is_edge = |i: &usize| *i == first || level[*i - 1] >= low + LEAST_DIP_DB;
    let left = (first..=dip.lowest).rev().find(is_edge).unwrap_or(first);
    if right - left > WIDE_FRAMES { left.midpoint(right) } else { right }
}

/// Where the pitch sets in and where it ends.
fn runs(heard: &Heard, within: Range<usize>, add: &mut impl FnMut(usize, f64)) {
    let mut ended: Option<usize> = None;
    let mut began = None;
    for at in within.start..=within.end {
        let sounds = at < within.end && heard.cents(at).is_some();
        match (began, sounds) {
            (None, true) => began = Some(at),
            (Some(start), false) => {
                if at - start >= LEAST_RUN {
                    let quiet = ended.is_none_or(|ended| start - ended >= QUIET_FRAMES);
                    add(start, if quiet && start > within.start { AFTER_QUIET_DB } else { 0.0 });
                    add(at, 0.0);
                    ended = Some(at);
                }
                began = None;
            }
            _ => {}
        }
    }
}

/// Where the pitch steps.
fn steps(heard: &Heard, within: Range<usize>) -> impl Iterator<Item = usize> {
    let side = |frames: Range<usize>| {
        let cents: Vec<f64> = heard.cents_in(frames).collect();
        (cents.len() >= LEAST_STEP_FRAMES).then(|| median(cents)).flatten()
    };
    let step = |at: usize| {
        let before = side(at.saturating_sub(STEP_FAR - 1)..at.saturating_sub(STEP_NEAR - 1))?;
        Some((side(at + STEP_NEAR..at + STEP_FAR)? - before).abs())
    };
    let first = within.start.saturating_sub(STEP_PEAK);
    let sizes: Vec<f64> =
        (first..within.end + STEP_PEAK).map(|at| step(at).unwrap_or(0.0)).collect();
    within.filter(move |at| {
        let i = at - first;
        let near = &sizes[i.saturating_sub(STEP_PEAK)..(i + STEP_PEAK + 1).min(sizes.len())];
        sizes[i] > STEP_CENTS && fold(near, 0.0, f64::max) <= sizes[i]
    })
}
