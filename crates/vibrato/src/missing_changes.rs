//! Changes of finger that were not heard while a stretch sounded, looked for again once it is over.
//!
//! While it sounds, half a cycle on either side tells whether the finger changed. Under a wide, uneven motion that can
//! be too little. Afterwards the drill says which changes were to come; each one that was not heard is put where the
//! motion for some cycles around it fits best, if it fits far better with the change than without. Where one is still
//! missing then, another note than the one asked for may have been played: steps of whole semitones are looked for too.

use crate::change::{Awaited, Cut};
use crate::expectation::{middle_height, noise};
use crate::measure::upper_median;
use crate::motion::{Chain, CycleShape};
use crate::trial::{REACH_HALVES, Trial, least_height, set_heights};
use pitch::HOP_SECS;

/// A change that was heard is the one asked for if its step is off by no more than this: in cents, or as a share of
/// the step, whichever is more.
const ALIKE_CENTS_SHARE: (f64, f64) = (35.0, 0.25);
/// A change that was heard and is none of those asked for is dropped, unless the pitch fits better with it by this
/// factor.
const DOUBTFUL_GAIN: f64 = 25.0;
/// A change that was heard is looked for again, unless the pitch fits better with it by this factor.
const RECONSIDERED_GAIN: f64 = 60.0;
/// A change that is found again within so many frames is the one that was heard.
const SAME_PLACE_FRAMES: usize = 8;
/// Places tried in half a cycle.
const PLACES_A_HALF: f64 = 5.0;
/// The pitch must fit better with a change than without by so much, as a logarithm of likelihood.
const LEAST_WORTH: f64 = 12.0;
/// Another note than the one asked for lies up to so many semitones from its neighbours. Its step is not known
/// beforehand, so it must be worth more.
const OTHER_SEMITONES: i32 = 7;
const OTHER_WORTH: f64 = 20.0;
/// From the cycle before it to the cycle after it the mean pitch steps by that, give or take so many cents.
const OTHER_BESIDE_CENTS: f64 = 50.0;
/// No finger plays less than so many half cycles; another note than the one asked for lasts a whole cycle.
const LEAST_TURN_HALVES: f64 = 0.7;
/// Where several changes in a row are missing, the first is looked for within the time that each finger would have if
/// all had the same, times this.
const EARLY_SHARE: f64 = 1.6;
/// From the cycle before a change to the cycle after it the mean pitch steps as asked, give or take this share of the
/// step and this share of the half width. The second is for uneven motion, of which the cycle is not known exactly.
const BESIDE_SHARES: (f64, f64) = (0.6, 0.35);
/// Frames left out around a change.
const GUARD_FRAMES: usize = 5;
/// A longer stretch is not gone through again.
pub(crate) const LONGEST_FRAMES: usize = 24_000;

/// Whether a step is about as large as the one asked for, both in cents.
fn alike(step: f64, asked: f64) -> bool {
    (step - asked).abs() <= ALIKE_CENTS_SHARE.0.max(ALIKE_CENTS_SHARE.1 * asked.abs())
}

/// The change that was heard where this one was found; the one found where none was. Hearing places a change more
/// exactly than looking for it does.
fn heard_of(found: Cut, cuts: &[Cut]) -> Cut {
    let here = |heard: &&Cut| {
        heard.at.abs_diff(found.at) <= SAME_PLACE_FRAMES && alike(heard.cents, found.cents)
    };
    cuts.iter().find(here).copied().unwrap_or(found)
}

/// Which of the changes that were heard, `cuts`, each of those asked for is; `None` for one that was not heard. Both
/// stay in order, and as many as possible find their match. Where the same step is asked for several times, it is the
/// earliest of them that was heard, or the latest.
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

/// The changes of a stretch whose pitch is `cents`, from those that were heard and those asked for; `None` where what
/// was heard stands.
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
    let as_asked = as_asked(cents, heard, rate_hz, cuts, awaited, &wanted);
    let settled =
        with_other_notes(cents, heard, rate_hz, as_asked.as_deref().unwrap_or(cuts), wanted.len());
    settled.or(as_asked)
}

/// The changes as far as they are those asked for; `None` where what was heard stands.
fn as_asked(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    cuts: &[Cut],
    awaited: &[Awaited],
    wanted: &[f64],
) -> Option<Vec<Cut>> {
    let ways = [false, true].map(|latest| matched(cuts, awaited, latest));
    let doubtful = |row: &usize| cuts[*row].gain < RECONSIDERED_GAIN;
    let complete = ways[0].iter().all(Option::is_some) && cuts.len() == wanted.len();
    if complete && !(0..cuts.len()).any(|row| doubtful(&row)) {
        return None;
    }
    let mut tried: Vec<Vec<Cut>> = Vec::new();
    let mut best: Option<(f64, Vec<Cut>)> = None;
    for (number, found) in ways.iter().enumerate() {
        // A change that was heard clearly and not asked for: a finger was left out, or played out of tune.
        let strange = |row: usize| !found.contains(&Some(row)) && cuts[row].gain > DOUBTFUL_GAIN;
        if (number == 1 && *found == ways[0]) || (0..cuts.len()).any(strange) {
            continue;
        }
        let (worth, settled) = filled(cents, heard, rate_hz, cuts, found, wanted);
        if best.as_ref().is_none_or(|(most, _)| worth > *most) {
            best = Some((worth, settled));
        }
        // The same, with all that was not heard clearly looked for again.
        let sure: Vec<Option<usize>> =
            found.iter().map(|row| row.filter(|row| !doubtful(row))).collect();
        if sure != *found {
            let (_, mut refined) = filled(cents, heard, rate_hz, cuts, &sure, wanted);
            refined.iter_mut().for_each(|cut| *cut = heard_of(*cut, cuts));
            if refined.len() == wanted.len() && !tried.contains(&refined) {
                tried.push(refined);
            }
        }
    }
    let (_, first) = best?;
    tried.insert(0, first);
    let settled = likeliest(cents, heard, rate_hz, tried);
    Some(settled).filter(|settled| settled != cuts)
}

/// These changes and, while there are fewer than `wanted`, steps of whole semitones to notes that nobody asked for, the
/// clearest first; `None` where there are none.
fn with_other_notes(
    cents: &[f64],
    heard: &[bool],
    rate_hz: f64,
    cuts: &[Cut],
    wanted: usize,
) -> Option<Vec<Cut>> {
    let mut all = cuts.to_vec();
    while all.len() < wanted {
        let ends = all.iter().map(|cut| cut.at).chain([cents.len()]);
        let parts = std::iter::once(0).chain(all.iter().map(|cut| cut.at)).zip(ends);
        let found = parts.flat_map(|(from, to)| {
            let part = cents.get(from..to).zip(heard.get(from..to));
            let any = part.and_then(|(cents, heard)| MissingStep::any(cents, heard, rate_hz));
            let ways = (1..=OTHER_SEMITONES).flat_map(|by| [100 * by, -100 * by]);
            ways.filter_map(move |step| {
                let cut = MissingStep { step: f64::from(step), ..any? }.placed()?;
                Some(Cut { at: from + cut.at, ..cut })
            })
        });
        let best = found.max_by(|a, b| a.gain.total_cmp(&b.gain));
        let Some(best) = best.filter(|cut| cut.gain >= OTHER_WORTH) else { break };
        all.push(best);
        all.sort_by_key(|cut| cut.at);
    }
    (all.len() > cuts.len()).then_some(all)
}

/// Of several ways in which the fingers may have changed, the one that explains the whole pitch best.
fn likeliest(cents: &[f64], heard: &[bool], rate_hz: f64, mut ways: Vec<Vec<Cut>>) -> Vec<Cut> {
    if ways.len() == 1 {
        return ways.remove(0);
    }
    let tried: Vec<_> = ways
        .iter()
        .map(|cuts| {
            let pitch = Trial::new(cents, heard);
            let without = |pitch: Trial, cut: &Cut| pitch.without(cut.at, cut.cents, GUARD_FRAMES);
            let pitch = cuts.iter().fold(pitch, without);
            let expected = pitch.expected(rate_hz);
            (pitch, expected)
        })
        .collect();
    // All are judged by the narrowest motion of any: in the others it looks wider for a step that is left in.
    let heights = tried.iter().map(|(_, expected)| middle_height(expected));
    let height = heights.fold(f64::INFINITY, f64::min);
    let costs = tried.into_iter().map(|(pitch, mut expected)| {
        set_heights(&mut expected, height);
        pitch.least_cost(&expected, noise(&expected, None))
    });
    let best = costs.enumerate().min_by(|a, b| a.1.total_cmp(&b.1));
    ways.swap_remove(best.map_or(0, |(number, _)| number))
}

/// The changes that were `found` among `cuts`, with the missing ones where they are likeliest, and by how much the
/// pitch fits better with these.
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
        let to = if missing > 1 {
            from + ((to - from) as f64 * EARLY_SHARE / (missing + 1) as f64) as usize
        } else {
            to
        };
        let part = cents.get(from..to).zip(heard.get(from..to));
        let step =
            part.and_then(|(cents, heard)| MissingStep::new(cents, heard, rate_hz, wanted[column]));
        if let Some(cut) = step.and_then(|step| step.placed()) {
            let cut = Cut { at: from + cut.at, ..cut };
            worth += cut.gain;
            settled.push(cut);
        }
    }
    (worth, settled)
}

/// A step that was asked for and not heard, to be found in the pitch of the two fingers around it.
#[derive(Clone, Copy)]
struct MissingStep<'a> {
    cents: &'a [f64],
    heard: &'a [bool],
    rate_hz: f64,
    /// In cents, up.
    step: f64,
    /// Half a cycle, in frames.
    half: f64,
    /// It lies so many frames from either end at least.
    edge: usize,
    /// From cycle to cycle the mean pitch may step otherwise by no more than this, in cents.
    most: f64,
    /// Half widths by which the motion is explained, narrow and wide: the step itself makes the motion look wider, but
    /// where it rests hardly any width is left to be seen.
    heights: [f64; 2],
}

impl<'a> MissingStep<'a> {
    /// `None` where the fingers have too little time for a change, or none.
    fn new(cents: &'a [f64], heard: &'a [bool], rate_hz: f64, step: f64) -> Option<Self> {
        let half = 0.5 / rate_hz / HOP_SECS;
        let edge = (LEAST_TURN_HALVES * half) as usize;
        if cents.len() < 2 * edge + 2 * GUARD_FRAMES {
            return None;
        }
        let expected = Trial::new(cents, heard).expected(rate_hz);
        let heights = [least_height(&expected), middle_height(&expected)];
        let most = BESIDE_SHARES.0 * step.abs() + BESIDE_SHARES.1 * heights[0];
        Some(Self { cents, heard, rate_hz, step, half, edge, most, heights })
    }

    /// A step that nobody asked for, by how much is not said: with a whole cycle on either side.
    fn any(cents: &'a [f64], heard: &'a [bool], rate_hz: f64) -> Option<Self> {
        let any = Self::new(cents, heard, rate_hz, 0.0)?;
        let edge = (2.0 * any.half) as usize + GUARD_FRAMES;
        (cents.len() > 2 * edge).then_some(Self { edge, most: OTHER_BESIDE_CENTS, ..any })
    }

    /// The step where the pitch fits best, if it fits well enough.
    fn placed(&self) -> Option<Cut> {
        let (length, edge) = (self.cents.len(), self.edge);
        let stride = ((self.half / PLACES_A_HALF) as usize).max(1);
        let means = CycleMeans::new(self);
        let coarse = (edge..length - edge).step_by(stride).filter(|at| means.may_step(*at));
        let best = coarse.fold(None, |best, at| self.better(best, at));
        let (_, coarse) = best?;
        let fine = coarse.saturating_sub(stride).max(edge)..(coarse + stride).min(length - edge);
        let fine = fine.step_by((stride / 3).max(1));
        let (worth, at) = fine.fold(best, |best, at| self.better(best, at))?;
        (worth >= LEAST_WORTH).then(|| Cut {
            at,
            cents: self.step + self.beside(at).clamp(-ALIKE_CENTS_SHARE.0, ALIKE_CENTS_SHARE.0),
            gain: worth,
        })
    }

    /// The better of the best place so far, after what it is worth, and this one.
    fn better(&self, best: Option<(f64, usize)>, at: usize) -> Option<(f64, usize)> {
        let worth = self.explained(at, false).0.cost - self.explained(at, true).0.cost;
        match best {
            Some((most, _)) if worth <= most => best,
            _ => Some((worth, at)),
        }
    }

    /// The likeliest motion around a place, with the step there or without it, and the frame it counts from.
    fn explained(&self, at: usize, with: bool) -> (Chain, usize) {
        let reach = (REACH_HALVES * self.half) as usize;
        let (low, high) = (at.saturating_sub(reach), (at + reach).min(self.cents.len()));
        let pitch = Trial::new(&self.cents[low..high], &self.heard[low..high]);
        let pitch = if with { pitch.without(at - low, self.step, GUARD_FRAMES) } else { pitch };
        let mut expected = pitch.expected(self.rate_hz);
        let [narrow, wide] = self.heights.map(|height| {
            set_heights(&mut expected, height);
            pitch.chain(&expected, noise(&expected, None), CycleShape::Sine)
        });
        (if wide.cost < narrow.cost { wide } else { narrow }, low)
    }

    /// By how much the two fingers lie further apart than the step says, in cents: from the middles of the half
    /// cycles on either side.
    fn beside(&self, at: usize) -> f64 {
        let (found, low) = self.explained(at, true);
        let at = (at - low) as f64;
        let middle = |before: bool| {
            let halves = found.points.windows(2).filter(|pair| pair[1].cycles == 0.5);
            let side = halves.filter(|p| if before { p[1].at <= at } else { p[0].at >= at });
            upper_median(side.map(|pair| pair[1].middle).collect())
        };
        middle(false).zip(middle(true)).map_or(0.0, |(after, before)| after - before)
    }
}

/// Mean pitches of whole cycles, which tell quickly where a step may lie at all.
struct CycleMeans {
    /// Running sums of the cents that were heard, and of their number.
    sums: Vec<(f64, f64)>,
    /// A cycle, in frames.
    cycle: usize,
    step: f64,
    /// The means may step otherwise by no more than this, in cents.
    most: f64,
}

impl CycleMeans {
    fn new(missing: &MissingStep) -> Self {
        let mut sums = vec![(0.0, 0.0)];
        let mut sum = (0.0, 0.0);
        for (cents, heard) in missing.cents.iter().zip(missing.heard) {
            if *heard {
                sum = (sum.0 + cents, sum.1 + 1.0);
            }
            sums.push(sum);
        }
        let cycle = (2.0 * missing.half) as usize;
        Self { sums, cycle, step: missing.step, most: missing.most }
    }

    fn mean(&self, from: usize, to: usize) -> Option<f64> {
        let (a, b) = (self.sums[from], self.sums[to]);
        (b.1 > a.1).then(|| (b.0 - a.0) / (b.1 - a.1))
    }

    /// Whether the cycles before and after a place lie about a step apart; also where there is no whole one.
    fn may_step(&self, at: usize) -> bool {
        let length = self.sums.len() - 1;
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
