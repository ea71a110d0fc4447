//! Changes of finger looked for anew once a stretch is over.
//!
//! While it sounds, a change is told from what lies half a cycle on either side of it; under a wide uneven
//! motion that can be too little. Afterwards each change that is asked for and was not heard is put where
//! the whole motion around it is explained best, if that is far better than without it.

use crate::chain_search::{ChainInput, cell_of, likeliest_chain};
use crate::change::{Awaited, Cut};
use crate::expectation::{Expectation, initial, noise};
use crate::motion::CycleShape;
use pitch::HOP_SECS;

/// A change that was heard is the one asked for within this, in cents, or as a share of the step.
const ALIKE_CENTS_SHARE: (f64, f64) = (35.0, 0.25);
/// One that explains the pitch by less than this factor and is none of those asked for is dropped.
const DOUBTFUL_GAIN: f64 = 25.0;
/// One that explains the pitch by less than this is looked for anew.
const RECONSIDERED_GAIN: f64 = 60.0;
/// A change that is found again within so many frames is the one that was heard.
const SAME_PLACE_FRAMES: usize = 8;
/// Forms of half a cycle by which ways are compared.
const SHAPES: [CycleShape; 2] = [CycleShape::Sine, CycleShape::Flat(2.2)];
/// Places tried in half a cycle.
const PLACES_A_HALF: f64 = 5.0;
/// A change must be worth so much, in logarithms of likelihood.
const LEAST_WORTH: f64 = 12.0;
/// No finger plays less than this share of half a cycle.
const LEAST_TURN_HALVES: f64 = 0.7;
/// The first of several changes in a row is looked for within this multiple of an even share of the time.
const EARLY_SHARE: f64 = 1.6;
/// Half cycles on either side of a place that say what a change there is worth.
const REACH_HALVES: f64 = 8.0;
/// The means of the cycles around a change differ from the step by less than this share of it, and of the
/// half width: of an uneven motion a cycle is not quite one.
const BESIDE_SHARES: (f64, f64) = (0.6, 0.35);
/// Frames left out around a change.
const GUARD_FRAMES: usize = 5;
/// More than this, in frames, is not gone through anew.
pub(crate) const LONGEST_FRAMES: usize = 24_000;

/// Whether a step is about as large as the one asked for, both in cents.
fn alike(step: f64, asked: f64) -> bool {
    (step - asked).abs() <= ALIKE_CENTS_SHARE.0.max(ALIKE_CENTS_SHARE.1 * asked.abs())
}

/// What was heard of a change that was found; the change itself if nothing was. What is found where it was heard is
/// better known from there.
fn heard_of(found: Cut, cuts: &[Cut]) -> Cut {
    let here = |heard: &&Cut| {
        heard.at.abs_diff(found.at) <= SAME_PLACE_FRAMES && alike(heard.cents, found.cents)
    };
    cuts.iter().find(here).copied().unwrap_or(found)
}

/// The changes of `cuts` and `awaited` set against each other, in order: as many as fit, the earliest or the
/// latest of those asked for that are alike.
fn matched(cuts: &[Cut], awaited: &[Awaited], latest: bool) -> Vec<Option<usize>> {
    let (rows, columns) = (cuts.len(), awaited.len());
    let (row_of, column_of) = (
        |row: usize| if latest { rows - 1 - row } else { row },
        |column: usize| if latest { columns - 1 - column } else { column },
    );
    let fits = |row: usize, column: usize| {
        alike(cuts[row_of(row)].cents, awaited[column_of(column)].step.get())
    };
    let mut most = vec![vec![0; columns + 1]; rows + 1];
    for row in (0..rows).rev() {
        for column in (0..columns).rev() {
            let both = if fits(row, column) { most[row + 1][column + 1] + 1 } else { 0 };
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
pub(crate) fn place_missing_changes(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    cuts: &[Cut],
    awaited: &[Awaited],
) -> Option<Vec<Cut>> {
    let wanted: Vec<f64> =
        awaited.iter().map(|a| a.step.get()).filter(|step| *step != 0.0).collect();
    let same = awaited.len() != wanted.len();
    if wanted.is_empty() || same || rate_hz <= 0.0 || cents.len() > LONGEST_FRAMES {
        return None;
    }
    let ways = [false, true].map(|latest| matched(cuts, awaited, latest));
    let doubtful = |row: &usize| cuts[*row].gain < RECONSIDERED_GAIN;
    let complete = ways[0].iter().all(Option::is_some) && cuts.len() == wanted.len();
    if complete && !(0..cuts.len()).any(|row| doubtful(&row)) {
        return None;
    }
    let mut tried: Vec<Vec<Cut>> = Vec::new();
    let mut best: Option<(f64, Vec<Cut>)> = None;
    for (number, found) in ways.iter().enumerate() {
        // A finger that was left out, or played beside: what was heard is not what is asked for.
        let strange = |row: usize| !found.contains(&Some(row)) && cuts[row].gain > DOUBTFUL_GAIN;
        if (number == 1 && *found == ways[0]) || (0..cuts.len()).any(strange) {
            continue;
        }
        let (worth, settled) = filled(cents, heard, rate_hz, cuts, found, &wanted);
        if best.as_ref().is_none_or(|(most, _)| worth > *most) {
            best = Some((worth, settled));
        }
        // The same where what is doubtful is looked for anew.
        let sure: Vec<Option<usize>> =
            found.iter().map(|row| row.filter(|row| !doubtful(row))).collect();
        if sure != *found {
            let (_, mut refined) = filled(cents, heard, rate_hz, cuts, &sure, &wanted);
            refined.iter_mut().for_each(|cut| *cut = heard_of(*cut, cuts));
            if refined.len() == wanted.len() && !tried.contains(&refined) {
                tried.push(refined);
            }
        }
    }
    let (_, first) = best?;
    // Of these the one that explains the whole pitch best.
    tried.insert(0, first);
    let settled = likeliest(cents, heard, rate_hz, tried);
    Some(settled).filter(|settled| settled != cuts)
}

/// Of several ways in which the fingers may change the one that explains the pitch best.
fn likeliest(cents: &[f64], heard: &[bool], rate_hz: f64, mut ways: Vec<Vec<Cut>>) -> Vec<Cut> {
    if ways.len() == 1 {
        return ways.remove(0);
    }
    let rates = vec![rate_hz; cents.len()];
    let each: Vec<_> = ways
        .iter()
        .map(|cuts| {
            let (mut flat, mut sure) = (cents.to_vec(), heard.to_vec());
            for cut in cuts {
                flat[cut.at..].iter_mut().for_each(|cents| *cents -= cut.cents);
                sure[cut.at.saturating_sub(GUARD_FRAMES)..(cut.at + GUARD_FRAMES).min(heard.len())]
                    .fill(false);
            }
            let places: Vec<usize> = cuts.iter().map(|cut| cut.at).collect();
            let expected = initial(&flat, &sure, &places, &rates);
            (flat, sure, places, expected)
        })
        .collect();
    // The least range there is: a wider one holds a step that is not taken out.
    let ranges = each.iter().map(|(_, _, _, expected)| middle_height(expected));
    let height = ranges.fold(f64::INFINITY, f64::min);
    let costs = each.into_iter().map(|(flat, sure, places, mut expected)| {
        expected.iter_mut().for_each(|expected| expected.height = height);
        let known = |shape| ChainInput {
            flat: &flat,
            heard: &sure,
            cuts: &places,
            noise: noise(&expected, None),
            shape,
            cell: cell_of(&expected),
            start: None,
        };
        let shapes = SHAPES.iter().map(|shape| likeliest_chain(&known(*shape), &expected).cost);
        shapes.fold(f64::INFINITY, f64::min)
    });
    let best = costs.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
    ways.swap_remove(best.map_or(0, |(number, _)| number))
}

fn middle_height(expected: &[Expectation]) -> f64 {
    let mut heights: Vec<f64> =
        expected.iter().step_by(8).map(|expected| expected.height).collect();
    heights.sort_by(f64::total_cmp);
    heights.get(heights.len() / 2).copied().unwrap_or(f64::INFINITY)
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
        let missing = found[column..].iter().take_while(|row| row.is_none()).count();
        let from = settled.last().map_or(0, |cut| cut.at);
        let next = found.get(column + missing).copied().flatten();
        let to = next.map_or(cents.len(), |row| cuts[row].at);
        // Of several in a row the first one lies early.
        let to = if missing > 1 {
            from + ((to - from) as f64 * EARLY_SHARE / (missing + 1) as f64) as usize
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
    let edge = (LEAST_TURN_HALVES * half) as usize;
    let length = to.checked_sub(from)?;
    if length < 2 * edge + 2 * GUARD_FRAMES {
        return None;
    }
    let (flat, sure) = (&cents[from..to], &heard[from..to]);
    let rates = vec![rate_hz; length];
    let expected = initial(flat, sure, &[], &rates);
    // The least range there is, for a wider one holds the step; but where the motion rests there is hardly any.
    let least = expected.iter().map(|expected| expected.height);
    let least = least.fold(f64::INFINITY, f64::min);
    let heights = [least, middle_height(&expected)];
    let likely = Likely::new(flat, sure, half, step, least);
    // What explains the pitch around `at`, with the step there and without.
    let reach = (REACH_HALVES * half) as usize;
    let explained = |at: usize, with: bool| {
        let (low, high) = (at.saturating_sub(reach), (at + reach).min(length));
        let (mut flat, mut sure) = (flat[low..high].to_vec(), sure[low..high].to_vec());
        let at = at - low;
        let cuts: &[usize] = if with { &[at] } else { &[] };
        if with {
            flat[at..].iter_mut().for_each(|cents| *cents -= step);
            let guard = at.saturating_sub(GUARD_FRAMES)..(at + GUARD_FRAMES).min(sure.len());
            sure[guard].fill(false);
        }
        let mut expected = initial(&flat, &sure, cuts, &rates[..flat.len()]);
        let each = heights.map(|height| {
            expected.iter_mut().for_each(|expected| expected.height = height);
            let known = ChainInput {
                flat: &flat,
                heard: &sure,
                cuts,
                noise: noise(&expected, None),
                shape: CycleShape::Sine,
                cell: cell_of(&expected),
                start: None,
            };
            likeliest_chain(&known, &expected)
        });
        let [narrow, wide] = each;
        let found = if wide.cost < narrow.cost { wide } else { narrow };
        (found, low)
    };
    let worth = |at: usize| explained(at, false).0.cost - explained(at, true).0.cost;
    let stride = ((half / PLACES_A_HALF) as usize).max(1);
    let mut best: Option<(f64, usize)> = None;
    let mut look = |places: &mut dyn Iterator<Item = usize>| {
        for at in places {
            let worth = worth(at);
            if best.is_none_or(|(most, _)| worth > most) {
                best = Some((worth, at));
            }
        }
        best
    };
    let places = (edge..length - edge).step_by(stride);
    let (_, coarse) = look(&mut places.filter(|at| likely.at(*at)))?;
    let fine = coarse.saturating_sub(stride).max(edge)..(coarse + stride).min(length - edge);
    let (worth, at) = look(&mut fine.step_by((stride / 3).max(1)))?;
    if worth < LEAST_WORTH {
        return None;
    }
    // How far the middles of the two fingers lie apart.
    let (found, low) = explained(at, true);
    let middle = |before: bool| {
        let mut middles: Vec<f64> = found
            .points
            .windows(2)
            .filter(|pair| pair[1].cycles == 0.5)
            .filter(|pair| {
                let at = (at - low) as f64;
                if before { pair[1].at <= at } else { pair[0].at >= at }
            })
            .map(|pair| pair[1].middle)
            .collect();
        middles.sort_by(f64::total_cmp);
        middles.get(middles.len() / 2).copied()
    };
    let beside = middle(false).zip(middle(true)).map_or(0.0, |(after, before)| after - before);
    Some(Cut {
        at: from + at,
        cents: step + beside.clamp(-ALIKE_CENTS_SHARE.0, ALIKE_CENTS_SHARE.0),
        gain: worth,
    })
}

/// Where a step may lie at all: the mean pitch of the cycle behind is about the step away from that of the
/// cycle ahead.
struct Likely {
    /// Running sums of the cents that were heard, and of their number.
    sums: Vec<(f64, f64)>,
    cycle: usize,
    step: f64,
    most: f64,
}

impl Likely {
    fn new(cents: &[f64], heard: &[bool], half: f64, step: f64, height: f64) -> Self {
        let mut sums = vec![(0.0, 0.0)];
        let mut sum = (0.0, 0.0);
        for (cents, heard) in cents.iter().zip(heard) {
            if *heard {
                sum = (sum.0 + cents, sum.1 + 1.0);
            }
            sums.push(sum);
        }
        Self {
            sums,
            cycle: (2.0 * half) as usize,
            step,
            most: BESIDE_SHARES.0 * step.abs() + BESIDE_SHARES.1 * height,
        }
    }

    fn mean(&self, from: usize, to: usize) -> Option<f64> {
        let (a, b) = (self.sums[from], self.sums[to]);
        (b.1 > a.1).then(|| (b.0 - a.0) / (b.1 - a.1))
    }

    fn at(&self, at: usize) -> bool {
        let length = self.sums.len() - 1;
        // Near an edge there is no whole cycle to tell by.
        if at < self.cycle + GUARD_FRAMES || at + self.cycle + GUARD_FRAMES > length {
            return true;
        }
        let before = self.mean(at - GUARD_FRAMES - self.cycle, at - GUARD_FRAMES);
        let after = self.mean(at + GUARD_FRAMES, at + GUARD_FRAMES + self.cycle);
        before.zip(after).is_none_or(|(a, b)| (b - a - self.step).abs() <= self.most)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_that_was_heard_stands_for_one_found_near_it_only_if_it_steps_alike() {
        let cut = |at, cents| Cut { at, cents, gain: 40.0 };
        let heard = [cut(200, 97.0), cut(400, -100.0)];
        for (found, kept) in [
            (cut(204, 100.0), heard[0]),
            (cut(396, -104.0), heard[1]),
            (cut(396, 104.0), cut(396, 104.0)),
            (cut(220, 100.0), cut(220, 100.0)),
        ] {
            assert_eq!(heard_of(found, &heard), kept);
        }
    }
}
