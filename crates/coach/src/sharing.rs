//! Fingers that change on one pitch: where one hands over to the next, by the breaks in the motion, by the
//! beat, or by the count.
//!
//! The pitch shows no change here. A break of the motion may be one, but the motion may also break off in the middle of
//! a turn, and a finger may take over without a break. So all ways of dividing the motion among the fingers are
//! compared. A change without a break, a break that is no change, and a count that is not the one asked for each have a
//! cost, about minus the logarithm of how often it happens (set by hand); the cheapest way is taken.

use vibrato::Pause;

/// Cost of a change that no break shows.
const UNSEEN: f64 = 4.0;
/// What it costs on top where there is a beat and the change is not on it.
const OFF_BEAT: f64 = 0.5;
/// Cost of a break that is no change.
const NO_CHANGE: f64 = 5.0;
/// A break of so many cycles counts for nearly two thirds of a clear one, a longer one for more.
const SHOWS: f64 = 0.35;
/// Usual error of a count that is the one asked for, in cycles. A count that is quite another costs so much, and so much
/// for each cycle it is off.
const COUNT_SPREAD: f64 = 0.3;
const MISCOUNT: (f64, f64) = (2.5, 1.0);
/// While a finger plays, it makes what was asked and so many cycles more at most, for then the next one is taken to have
/// begun; any other way costs so much.
const OVERRUN: f64 = 0.5;
const OVERRUN_COST: f64 = 50.0;

/// The motion between two places, in frames, to be divided among the fingers.
pub(crate) struct Shared<'a> {
    /// Cycles of the motion at a place, and the place where it has come to so many; `None` if it does not.
    pub cycles_at: &'a dyn Fn(f64) -> f64,
    /// See `cycles_at`.
    pub when: &'a dyn Fn(f64) -> Option<f64>,
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
    /// The motion has ended.
    pub over: bool,
}

/// A place at which a finger may begin.
#[derive(Clone, Copy)]
struct Edge {
    /// In frames.
    at: f64,
    /// Cycles of the motion up to there.
    cycles: f64,
    /// What the cheapest way there costs.
    cost: f64,
    /// Where the finger before it begins on that way, as an index among its edges.
    before: usize,
}

impl Shared<'_> {
    /// Where the second finger and those after it begin, in frames; while the motion goes on, those that have begun.
    pub(crate) fn changes(&self) -> Vec<f64> {
        let first =
            Edge { at: self.from, cycles: (self.cycles_at)(self.from), cost: 0.0, before: 0 };
        let mut layers = vec![vec![first]];
        for number in 1..self.wanted.len() {
            let next = self.after(&layers[number - 1], number);
            if next.is_empty() {
                break;
            }
            layers.push(next);
        }
        // Once all is over the last finger played last; while it goes on any of them may be playing.
        let lasts = if self.over { layers.len() - 1..layers.len() } else { 0..layers.len() };
        let each = lasts.flat_map(|number| (0..layers[number].len()).map(move |i| (number, i)));
        let cost = |(number, i): (usize, usize)| {
            let edge = &layers[number][i];
            let off = (self.cycles_at)(self.to) - edge.cycles - self.wanted[number];
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

    /// Where finger `number` may begin, if the one before it began at one of `layer`.
    fn after(&self, layer: &[Edge], number: usize) -> Vec<Edge> {
        let wanted = self.wanted[number - 1];
        let way = |before: usize, at: f64, cost: f64| {
            let edge = &layer[before];
            let cycles = (self.cycles_at)(at);
            let cost = edge.cost + cost + self.passed(edge.at, at);
            Edge { at, cycles, cost: cost + odd(cycles - edge.cycles - wanted), before }
        };
        let likeliest = |at: f64, cost: f64| {
            (0..layer.len())
                .filter(|before| layer[*before].at < at)
                .map(|before| way(before, at, cost))
                .min_by(|a, b| a.cost.total_cmp(&b.cost))
        };
        let unseen = |pause| UNSEEN * (1.0 - self.shows(pause));
        let by_breaks = self.breaks.iter().map(|pause| (middle(pause), unseen(pause)));
        let by_beat = self.beats.get(number - 1).map(|at| (*at, UNSEEN));
        let fixed = by_breaks.chain(by_beat);
        let fixed = fixed.filter_map(|(at, cost)| likeliest(at, cost));
        let counted = UNSEEN + if self.beats.is_empty() { 0.0 } else { OFF_BEAT };
        let by_count = (0..layer.len()).filter_map(|before| {
            let at = (self.when)(layer[before].cycles + wanted)?;
            (at > layer[before].at).then(|| way(before, at, counted))
        });
        fixed.chain(by_count).filter(|edge| edge.at < self.to).collect()
    }

    /// How clear a break is, from 0 to 1.
    fn shows(&self, pause: &Pause) -> f64 {
        1.0 - (-(pause.to - pause.from) / self.cycle / SHOWS).exp()
    }

    /// Cost of the breaks between two places, if none of them is a change.
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Frames of a cycle.
    const CYCLE: f64 = 40.0;

    /// Changes of fingers that are asked for `wanted` oscillations, of a motion that makes `made`, each with a
    /// rest of so many frames behind it, as far as frame `to`; to the beat or not.
    fn changes(
        wanted: &[f64],
        made: &[(f64, f64)],
        to: Option<f64>,
        beat: Option<f64>,
    ) -> Vec<f64> {
        let mut points = vec![(0.0, 0.0)];
        let mut breaks = Vec::new();
        for &(cycles, rest) in made {
            let (at, before) = points[points.len() - 1];
            let from = at + CYCLE * cycles;
            points.push((from, before + cycles));
            if rest > 0.0 {
                points.push((from + rest, before + cycles));
                let doubts = (0.0, 0.0);
                breaks.push(Pause { from, to: from + rest, doubts });
            }
        }
        let end = points[points.len() - 1].0;
        let to = to.unwrap_or(end);
        breaks.retain(|pause| pause.to < to);
        let turned: Vec<(f64, f64)> = points.iter().map(|(at, cycles)| (*cycles, *at)).collect();
        let along = |points: &[(f64, f64)], x: f64| {
            let next = points.partition_point(|point| point.0 < x);
            match (next.checked_sub(1).map(|i| points[i]), points.get(next)) {
                (Some(a), Some(b)) => Some(a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0)),
                (None, Some(first)) => Some(first.1),
                _ => None,
            }
        };
        let shared = Shared {
            cycles_at: &|at| along(&points, at.min(end)).unwrap_or(0.0),
            when: &|cycles| along(&turned, cycles),
            from: 0.0,
            to,
            breaks,
            cycle: CYCLE,
            wanted: wanted.to_vec(),
            beats: beat
                .map_or_else(Vec::new, |beat| (1..wanted.len()).map(|k| k as f64 * beat).collect()),
            over: to == end,
        };
        shared.changes()
    }

    #[test]
    fn rests_tell_the_fingers_apart_also_where_one_miscounts() {
        let made = [(4.0, 50.0), (3.0, 60.0), (5.0, 0.0)];
        assert_eq!(changes(&[4.0; 3], &made, None, None), [185.0, 360.0]);
    }

    #[test]
    fn a_rest_that_was_missed_is_made_up_for_by_the_count() {
        let made = [(4.0, 50.0), (4.0, 0.0), (4.0, 0.0)];
        assert_eq!(changes(&[4.0; 3], &made, None, None), [185.0, 370.0]);
    }

    #[test]
    fn a_short_break_within_a_turn_is_no_change() {
        let made = [(4.0, 50.0), (1.5, 6.0), (2.5, 50.0), (4.0, 0.0)];
        assert_eq!(changes(&[4.0; 3], &made, None, None), [185.0, 401.0]);
    }

    #[test]
    fn without_rests_the_count_or_the_beat_tells() {
        let made = [(12.0, 0.0)];
        assert_eq!(changes(&[4.0; 3], &made, None, None), [160.0, 320.0]);
        let by_beat = changes(&[4.0; 3], &made, None, Some(158.0));
        assert_eq!(by_beat, [158.0, 316.0]);
    }

    #[test]
    fn while_it_goes_on_only_those_that_have_begun_are_told() {
        let made = [(4.0, 50.0), (4.0, 50.0), (4.0, 0.0)];
        assert!(changes(&[4.0; 3], &made, Some(150.0), None).is_empty());
        assert_eq!(changes(&[4.0; 3], &made, Some(300.0), None), [185.0]);
        // One that makes more than it is asked for hands over by the count until a rest says otherwise.
        assert_eq!(changes(&[4.0; 3], &[(5.0, 0.0)], Some(190.0), None), [160.0]);
    }
}
