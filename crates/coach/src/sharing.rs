//! Fingers that change on one pitch: where one hands over to the next, by the breaks in the motion, by the
//! beat, or by the count.
//!
//! A break may be missed, and one in the middle of a turn is no change. So every way of sharing the
//! oscillations out is weighed at once: a change without a break, a break without a change, and a count that
//! is not the one asked for cost something each, about the negative logarithm of how often it happens
//! (values set by hand).

use vibrato::{Advance, Pause};

/// Cost of a change that no break shows.
const UNSEEN: f64 = 4.0;
/// Cost of a break that is no change.
const NO_CHANGE: f64 = 5.0;
/// How much of a break shows: one of so many cycles nearly two thirds, a long one all.
const SHOWS: f64 = 0.35;
/// Spread of a count around the one asked for, in cycles; one that is quite another costs so much, and so
/// much more for each cycle.
const COUNT_SPREAD: f64 = 0.3;
const MISCOUNT: (f64, f64) = (2.5, 1.0);
/// While a turn goes on it is as long as asked and so many cycles at most, unless a break shows its end.
const OVERRUN: f64 = 0.5;
const OVERRUN_COST: f64 = 50.0;

/// What is shared out: the motion between two places, in frames.
pub(crate) struct Shared<'a> {
    /// The motion.
    pub advance: &'a Advance,
    /// From and to here.
    pub from: f64,
    /// See `from`.
    pub to: f64,
    /// Breaks of the motion that may be changes, in order.
    pub breaks: Vec<Pause>,
    /// A cycle of the motion, in frames.
    pub cycle: f64,
    /// Oscillations asked of each finger.
    pub wanted: Vec<f64>,
    /// Places at which the fingers but the first are to begin by the beat; empty without one.
    pub beats: Vec<f64>,
    /// Nothing follows.
    pub over: bool,
}

/// A place at which a finger may begin, and the likeliest way there.
#[derive(Clone, Copy)]
struct Edge {
    at: f64,
    cycles: f64,
    cost: f64,
    before: usize,
}

impl Shared<'_> {
    /// Where the fingers but the first begin, in order, in frames; while the motion goes on, those that have
    /// begun by now.
    pub fn changes(&self) -> Vec<f64> {
        let first = Edge {
            at: self.from,
            cycles: self.advance.at(self.from),
            cost: 0.0,
            before: 0,
        };
        let mut layers = vec![vec![first]];
        for number in 1..self.wanted.len() {
            let next = self.after(&layers[number - 1], number);
            if next.is_empty() {
                break;
            }
            layers.push(next);
        }
        // The last finger of all ends here; one that goes on may be any.
        let lasts = if self.over {
            layers.len() - 1..layers.len()
        } else {
            0..layers.len()
        };
        let each = lasts.flat_map(|number| (0..layers[number].len()).map(move |i| (number, i)));
        let cost = |(number, i): (usize, usize)| {
            let edge = &layers[number][i];
            let off = self.advance.at(self.to) - edge.cycles - self.wanted[number];
            let odd = match (self.over, off > OVERRUN) {
                (true, _) => odd(off),
                (false, true) if number + 1 < self.wanted.len() => OVERRUN_COST,
                (false, _) => 0.0,
            };
            edge.cost + odd + self.passed(edge.at, self.to)
        };
        let last = each.min_by(|a, b| cost(*a).total_cmp(&cost(*b)));
        let (number, mut i) = last.unwrap_or((0, 0));
        let mut changes = Vec::new();
        for layer in layers[1..=number].iter().rev() {
            changes.push(layer[i].at);
            i = layer[i].before;
        }
        changes.reverse();
        changes
    }

    /// Where finger `number` may begin, after the one before it began at one of `layer`.
    fn after(&self, layer: &[Edge], number: usize) -> Vec<Edge> {
        let wanted = self.wanted[number - 1];
        let way = |before: usize, at: f64, cost: f64| {
            let edge = &layer[before];
            let cycles = self.advance.at(at);
            let cost = edge.cost + cost + self.passed(edge.at, at);
            Edge {
                at,
                cycles,
                cost: cost + odd(cycles - edge.cycles - wanted),
                before,
            }
        };
        let likeliest = |at: f64, cost: f64| {
            (0..layer.len())
                .filter(|before| layer[*before].at < at)
                .map(|before| way(before, at, cost))
                .min_by(|a, b| a.cost.total_cmp(&b.cost))
        };
        let unseen = |pause| UNSEEN * (1.0 - self.shows(pause));
        let by_breaks = self
            .breaks
            .iter()
            .map(|pause| (middle(pause), unseen(pause)));
        let by_beat = self.beats.get(number - 1).map(|at| (*at, UNSEEN));
        let fixed = by_breaks.chain(by_beat);
        let fixed = fixed.filter_map(|(at, cost)| likeliest(at, cost));
        let by_count = (0..layer.len()).filter_map(|before| {
            let at = self.advance.when(layer[before].cycles + wanted)?;
            (at > layer[before].at).then(|| way(before, at, UNSEEN))
        });
        fixed
            .chain(by_count)
            .filter(|edge| edge.at < self.to)
            .collect()
    }

    /// How much of a break shows, from 0 to 1.
    fn shows(&self, pause: &Pause) -> f64 {
        1.0 - (-(pause.to - pause.from) / self.cycle / SHOWS).exp()
    }

    /// Cost of the breaks between two places, which are no changes then.
    fn passed(&self, from: f64, to: f64) -> f64 {
        self.breaks
            .iter()
            .filter(|pause| from < middle(pause) && middle(pause) < to)
            .map(|pause| NO_CHANGE * self.shows(pause))
            .sum()
    }
}

fn middle(pause: &Pause) -> f64 {
    0.5 * (pause.from + pause.to)
}

/// Cost of a count that lies so many cycles off the one asked for.
fn odd(off: f64) -> f64 {
    let near = 0.5 * (off / COUNT_SPREAD).powi(2);
    near.min(MISCOUNT.0 + MISCOUNT.1 * off.abs())
}
