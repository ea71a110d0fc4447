//! Changes of finger looked for anew once a stretch is over.
//!
//! While it sounds, a change is told from what lies half a cycle on either side of it; under a wide uneven
//! motion that can be too little. Afterwards each change that is asked for and was not heard is put where
//! the whole motion around it is explained best, if that is far better than without it.

use crate::advance::{at_first, noise};
use crate::course::{Awaited, Cut};
use crate::swings::{Course, Known, cell_of, chain};
use pitch::HOP_SECS;

/// A change that was heard is the one asked for within this, in cents, or as a share of the step.
const ALIKE: (f64, f64) = (35.0, 0.25);
/// One that explains the pitch by less than this factor and is none of those asked for is dropped.
const DOUBTFUL: f64 = 25.0;
/// Places tried in half a cycle.
const PLACES: f64 = 5.0;
/// A change must be worth so much, in logarithms of likelihood.
const WORTH: f64 = 12.0;
/// No finger plays less than this share of half a cycle.
const LEAST_TURN: f64 = 0.7;
/// The first of several changes in a row is looked for within this multiple of an even share of the time.
const EARLY: f64 = 1.6;
/// Frames left out around a change.
const GUARD: usize = 5;
/// More than this, in frames, is not gone through anew.
const LONGEST: usize = 24_000;

/// The changes of `cuts` and `awaited` set against each other, in order: as many as fit, the earliest or the
/// latest of those asked for that are alike.
fn matched(cuts: &[Cut], awaited: &[Awaited], latest: bool) -> Vec<Option<usize>> {
    let (rows, columns) = (cuts.len(), awaited.len());
    let (row_of, column_of) = (
        |row: usize| if latest { rows - 1 - row } else { row },
        |column: usize| if latest { columns - 1 - column } else { column },
    );
    let fits = |row: usize, column: usize| {
        let size = awaited[column_of(column)].step.get();
        (cuts[row_of(row)].cents - size).abs() <= ALIKE.0.max(ALIKE.1 * size.abs())
    };
    let mut most = vec![vec![0; columns + 1]; rows + 1];
    for row in (0..rows).rev() {
        for column in (0..columns).rev() {
            let both = if fits(row, column) {
                most[row + 1][column + 1] + 1
            } else {
                0
            };
            most[row][column] = both.max(most[row + 1][column]).max(most[row][column + 1]);
        }
    }
    let mut found = vec![None; columns];
    let (mut row, mut column) = (0, 0);
    while row < rows && column < columns {
        if fits(row, column) && most[row][column] == most[row + 1][column + 1] + 1 {
            found[column_of(column)] = Some(row_of(row));
            (row, column) = (row + 1, column + 1);
        } else if most[row][column] == most[row + 1][column] {
            row += 1;
        } else {
            column += 1;
        }
    }
    found
}

/// The changes of a stretch whose pitch is `cents`, given those that were heard and those asked for; `None`
/// if there is nothing to be changed.
pub fn settled(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    cuts: &[Cut],
    awaited: &[Awaited],
) -> Option<Vec<Cut>> {
    let wanted: Vec<f64> = awaited
        .iter()
        .map(|a| a.step.get())
        .filter(|step| *step != 0.0)
        .collect();
    let same = awaited.len() != wanted.len();
    if wanted.is_empty() || same || rate_hz <= 0.0 || cents.len() > LONGEST {
        return None;
    }
    let ways = [false, true].map(|latest| matched(cuts, awaited, latest));
    if ways[0].iter().all(Option::is_some) && cuts.len() == wanted.len() {
        return None;
    }
    let mut best: Option<(f64, Vec<Cut>)> = None;
    for (number, found) in ways.iter().enumerate() {
        // A finger that was left out, or played beside: what was heard is not what is asked for.
        let strange = |row: usize| !found.contains(&Some(row)) && cuts[row].gain > DOUBTFUL;
        if (number == 1 && *found == ways[0]) || (0..cuts.len()).any(strange) {
            continue;
        }
        let (worth, settled) = filled(cents, heard, rate_hz, cuts, found, &wanted);
        if best.as_ref().is_none_or(|(most, _)| worth > *most) {
            best = Some((worth, settled));
        }
    }
    best.map(|(_, settled)| settled)
        .filter(|settled| settled != cuts)
}

/// The changes that were `found`, and the others where they are likeliest, with what these are worth.
fn filled(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    cuts: &[Cut],
    found: &[Option<usize>],
    wanted: &[f64],
) -> (f64, Vec<Cut>) {
    let mut settled: Vec<Cut> = Vec::new();
    let mut worth = 0.0;
    for column in 0..wanted.len() {
        if let Some(row) = found[column] {
            settled.push(cuts[row]);
            continue;
        }
        let missing = found[column..]
            .iter()
            .take_while(|row| row.is_none())
            .count();
        let from = settled.last().map_or(0, |cut| cut.at);
        let next = found.get(column + missing).copied().flatten();
        let to = next.map_or(cents.len(), |row| cuts[row].at);
        // Of several in a row the first one lies early.
        let to = if missing > 1 {
            from + ((to - from) as f64 * EARLY / (missing + 1) as f64) as usize
        } else {
            to
        };
        if let Some(cut) = place(cents, heard, rate_hz, (from, to), wanted[column]) {
            worth += cut.gain;
            settled.push(cut);
        }
    }
    (worth, settled)
}

/// The place of a `step` within some frames, if there is one.
fn place(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    (from, to): (usize, usize),
    step: f64,
) -> Option<Cut> {
    let half = 0.5 / rate_hz / HOP_SECS;
    let edge = (LEAST_TURN * half) as usize;
    let length = to.checked_sub(from)?;
    if length < 2 * edge + 2 * GUARD {
        return None;
    }
    let rates = vec![rate_hz; length];
    let least = {
        let usual = at_first(&cents[from..to], &heard[from..to], &[], &rates);
        usual
            .iter()
            .map(|usual| usual.height)
            .fold(f64::INFINITY, f64::min)
    };
    let cost = |at: Option<usize>| {
        let mut flat = cents[from..to].to_vec();
        let mut sure = heard[from..to].to_vec();
        let mut cuts = Vec::new();
        if let Some(at) = at {
            flat[at - from..]
                .iter_mut()
                .for_each(|cents| *cents -= step);
            let guard = (at - from).saturating_sub(GUARD)..(at - from + GUARD).min(length);
            sure[guard].iter_mut().for_each(|sure| *sure = false);
            cuts.push(at - from);
        }
        let mut usual = at_first(&flat, &sure, &cuts, &rates);
        // The least range there is: a wider one holds the step.
        usual.iter_mut().for_each(|usual| usual.height = least);
        let known = Known {
            flat: &flat,
            heard: &sure,
            cuts: &cuts,
            noise: noise(&usual, None),
            course: Course::Sine,
            cell: cell_of(&usual),
        };
        let found = chain(&known, &usual);
        (found.cost, found)
    };
    let stride = ((half / PLACES) as usize).max(1);
    let mut best: Option<(f64, usize)> = None;
    for at in (from + edge..to - edge).step_by(stride) {
        let (cost, _) = cost(Some(at));
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, at));
        }
    }
    let (_, coarse) = best?;
    let fine = (stride / 3).max(1);
    for at in (coarse.saturating_sub(stride).max(from + edge)..(coarse + stride).min(to - edge))
        .step_by(fine)
    {
        let (cost, _) = cost(Some(at));
        if best.is_none_or(|(least, _)| cost < least) {
            best = Some((cost, at));
        }
    }
    let (least_cost, at) = best?;
    let (without, _) = cost(None);
    if without - least_cost < WORTH {
        return None;
    }
    // How far the middles of the two fingers lie apart.
    let (_, found) = cost(Some(at));
    let middle = |before: bool| {
        let mut middles: Vec<f64> = found
            .knots
            .windows(2)
            .filter(|pair| pair[1].cycles == 0.5)
            .filter(|pair| {
                let at = (at - from) as f64;
                if before {
                    pair[1].at <= at
                } else {
                    pair[0].at >= at
                }
            })
            .map(|pair| pair[1].middle)
            .collect();
        middles.sort_by(f64::total_cmp);
        middles.get(middles.len() / 2).copied()
    };
    let beside = middle(false)
        .zip(middle(true))
        .map_or(0.0, |(after, before)| after - before);
    Some(Cut {
        at,
        cents: step + beside.clamp(-ALIKE.0, ALIKE.0),
        gain: without - least_cost,
    })
}
