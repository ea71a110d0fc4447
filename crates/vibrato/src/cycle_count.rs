//! How far a motion has gone, in cycles, and where it pauses.
//!
//! From one turn of the motion to the next is half a cycle. Where it pauses in the middle, it goes on for a quarter after
//! the last turn and sets out with the quarter before the next one. Where it pauses at a crest or a trough, that turn
//! stands twice among the turns: where the motion came to rest, and where it set out.

use crate::chain_search::{ChainInput, cell_of, likeliest_chain};
use crate::expectation::{Expectation, initial, noise, refined};
use crate::motion::{Chain, CycleShape, Pause, PointKind};
use crate::pitch_line::ORIGIN;
use crate::rest::Rest;
use crate::stretch::Stretch;
use crate::turn::Turn;
use pitch::HOP_SECS;
use tuning::Cents;

/// To be a motion, it must have so many half cycles that are this wide, in cents. Where there are fewer in all, each must
/// be a little wider: under a straight finger, too, the pitch may stray by 5 cents and come back.
const LEAST_WIDE_HALVES: usize = 3;
const LEAST_WIDTH_CENTS: f64 = 4.5;
const LEAST_WIDTH_OF_FEW_CENTS: f64 = 5.5;
/// Once the sound is over, what is usual is taken from the chain and the chain found again so many times; while it goes
/// on, once.
const PASSES: usize = 2;
/// Shapes of half a cycle that are tried in the last of these passes.
const SHAPES: [CycleShape; 3] = [CycleShape::Sine, CycleShape::Flat(1.6), CycleShape::Flat(2.6)];
/// A sound is heard late: by so many of its periods and so many seconds, but by so many seconds at least. Its end is heard
/// early by so many seconds.
const BEGINS_LATE: (f64, f64, f64) = (1.5, 0.0025, 0.0055);
const ENDS_EARLY_SECS: f64 = 0.0085;
/// Standard errors of both, in seconds (measured on rounds that crate `tone` made).
const EDGE_DOUBTS_SECS: (f64, f64) = (0.006, 0.01);
/// Its pitch is known so many frames after its start.
const SOUNDS_FRAMES: usize = 10;
/// Rates tried where none is known, in Hz.
const GUESSES_HZ: [f64; 12] = [9.0, 7.5, 6.0, 4.8, 3.6, 2.7, 2.0, 1.5, 1.1, 0.8, 0.6, 0.45];
/// Once a sound is over, rates slower by these factors are tried as well: while it went on, the quicker unrest of the
/// finger may have been taken for a narrow motion.
const SLOWER_SHARES: [f64; 2] = [0.6, 0.36];
/// While a sound goes on, what lies further back than so many frames and so many cycles is settled.
const SETTLED_FRAMES_CYCLES: (f64, f64) = (300.0, 4.0);

/// The motion of one stretch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CycleCount {
    /// Frames from the first of the stretch, and cycles; the first point is the start of the motion.
    points: Vec<(f64, f64)>,
    /// Where it pauses, in order.
    pub pauses: Vec<Pause>,
    /// Crests and troughs that are full ones. One at which the motion rests stands twice: at the start and the end of the
    /// rest.
    pub turns: Vec<Turn>,
    /// Where the motion starts and, in a stretch that is over, ends.
    pub span: Option<(f64, f64)>,
    /// Standard errors of both.
    pub doubts: (f64, f64),
    /// Where it sets out behind the start of the sound, and comes to rest before its end, with standard errors.
    sets_out: Option<(f64, f64)>,
    comes_to_rest: Option<(f64, f64)>,
}

/// The motions of the stretches of a [`MotionFollower`](crate::MotionFollower), kept so that each look costs no more than the
/// newest seconds: those of a stretch that is over stay, and in the one that sounds what lies far back does.
#[derive(Clone, Debug, Default)]
pub struct CycleCounts {
    over: Vec<CycleCount>,
    /// The motion of the stretch that sounds, up to its last settled turn.
    settled: CycleCount,
}

impl CycleCounts {
    /// The motions of `stretches`, which are those of the last look, gone on, and new ones behind them.
    pub fn of(&mut self, stretches: &[Stretch]) -> Vec<CycleCount> {
        for stretch in &stretches[self.over.len()..] {
            if !stretch.over {
                break;
            }
            self.over.push(CycleCount::of(stretch));
            self.settled = CycleCount::default();
        }
        let mut all = self.over.clone();
        if let Some(sounds) = stretches.get(self.over.len()) {
            let motion = CycleCount::onward(sounds, &self.settled);
            let keep = SETTLED_FRAMES_CYCLES.0.max(
                sounds.rate().map_or(0.0, |rate| SETTLED_FRAMES_CYCLES.1 / rate.get() / HOP_SECS),
            );
            let done = self.settled.turns.last().map_or(0.0, |turn| turn.at);
            if sounds.known() as f64 - done > 2.0 * keep {
                self.settled = motion.up_to(sounds.known() as f64 - keep);
            }
            all.push(motion);
        }
        all
    }
}

/// Places a rest: roughly where it is, the turn before it and where it begins, where it ends and the turn behind it, and
/// whether it is at a crest, or in the middle.
trait Between: Fn(f64, Option<(Turn, f64)>, Option<(f64, Turn)>, Option<bool>) -> Pause {}

impl<F: Fn(f64, Option<(Turn, f64)>, Option<(f64, Turn)>, Option<bool>) -> Pause> Between for F {}

impl CycleCount {
    /// The motion of `stretch` as far as it is known.
    pub fn of(stretch: &Stretch) -> Self {
        Self::onward(stretch, &Self::default())
    }

    /// The motion up to its last turn that lies no later than a place, in frames.
    fn up_to(&self, place: f64) -> Self {
        let count = self.turns.partition_point(|turn| turn.at <= place);
        let Some(last) = self.turns[..count].last() else {
            return Self::default();
        };
        let points = self.points.iter().filter(|point| point.0 <= last.at);
        let pauses = self.pauses.iter().filter(|pause| pause.to <= last.at);
        Self {
            points: points.copied().collect(),
            pauses: pauses.copied().collect(),
            turns: self.turns[..count].to_vec(),
            span: None,
            doubts: (0.0, 0.0),
            sets_out: self.sets_out,
            comes_to_rest: None,
        }
    }

    /// The motion of `stretch` as far as it is known, of which `settled` is known up to its last turn.
    fn onward(stretch: &Stretch, settled: &Self) -> Self {
        let flat = &stretch.flat[..stretch.known()];
        let mut motion = settled.clone();
        let begin = settled.turns.last().map_or(0.0, |turn| turn.at.round());
        let start = settled.turns.last().map(|turn| turn.crest);
        if let Some((chain, expected)) = likeliest(stretch, begin as usize, start) {
            motion.go_on(stretch, begin, &chain, &expected);
        }
        motion.points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let moves = |pair: &&[(f64, f64)]| pair[1].1 > pair[0].1;
        let mut moving = motion.points.windows(2).filter(moves);
        let first = moving.next().map(|pair| pair[0].0);
        let last = motion.points.windows(2).rfind(moves).map(|pair| pair[1].0);
        let heard = |at: Option<f64>, doubt_secs: f64| at.map(|at| (at, doubt_secs / HOP_SECS));
        let first = motion.sets_out.or(heard(first, EDGE_DOUBTS_SECS.0));
        let last = motion.comes_to_rest.or(heard(last, EDGE_DOUBTS_SECS.1));
        motion.doubts = (first.map_or(0.0, |at| at.1), last.map_or(0.0, |at| at.1));
        let (first, last) = (first.map(|at| at.0), last.map(|at| at.0));
        // A sound is heard a little late, and its end a little early.
        let cents = stretch.cents.get(SOUNDS_FRAMES).or(stretch.cents.last());
        let period = cents.map_or(0.0, |cents| 1.0 / ORIGIN.raised(Cents(*cents)).get());
        let begins = (BEGINS_LATE.0 * period + BEGINS_LATE.1).max(BEGINS_LATE.2) / HOP_SECS;
        let first = first.map(|at| if at <= 0.0 { at - begins } else { at });
        let (end, ends) = (flat.len() as f64, ENDS_EARLY_SECS / HOP_SECS);
        let last = last.map(|at| if at >= end - 0.5 * ends { at + ends } else { at });
        motion.span = first.zip(last);
        motion
    }

    /// Goes on with a chain. Its frames, and those of what is usual, count from `begin`; where the motion is known up to
    /// there, the first point of the chain is the last turn that is known.
    fn go_on(&mut self, stretch: &Stretch, begin: f64, chain: &Chain, expected: &[Expectation]) {
        let flat = &stretch.flat[..stretch.known()];
        let near = |at: f64| &expected[((at - begin).max(0.0) as usize).min(expected.len() - 1)];
        let mut cycles = self.points.last().map_or(0.0, |point| point.1);
        let mut rest: Option<(f64, usize)> = None;
        let known = usize::from(!self.turns.is_empty());
        let between = |at: f64, before, after, crest| {
            let (expected, shape) = (*near(at), chain.shape);
            Rest { stretch, expected, shape, before, after, crest }.placed()
        };
        for (i, point) in chain.points.iter().enumerate().skip(known) {
            let at = begin + point.at;
            cycles += point.cycles;
            match point.kind {
                PointKind::Crest | PointKind::Trough => {
                    let crest = point.kind == PointKind::Crest;
                    let turn = crate::find_turns::turn_near(flat, at, near(at), crest);
                    self.turns.push(turn);
                    self.points.push((turn.at, cycles));
                }
                PointKind::CrestHeld | PointKind::TroughHeld if i > 0 => {
                    // A long rest is a chain of pieces.
                    if chain.points[i - 1].kind == point.kind && i > 1 {
                        self.turns.pop();
                        self.points.pop();
                    }
                    let crest = point.kind == PointKind::CrestHeld;
                    self.turns.push(Turn { at, cents: point.middle, crest, reach: 0.0 });
                    self.points.push((at, cycles));
                }
                _ => self.points.push((at, cycles)),
            }
            match (point.kind, rest) {
                (PointKind::Crest | PointKind::Trough, _)
                    if i > 1 && chain.points[i - 1].is_held() =>
                {
                    self.set_out_from_turn(&between, near(at));
                }
                (PointKind::Rest, _) if !self.turns.is_empty() => {
                    rest = Some((at, self.turns.len() - 1));
                }
                (PointKind::Crest | PointKind::Trough, Some((from, before))) => {
                    let to = begin + chain.points[i - 1].at;
                    let after = (to, self.turns[self.turns.len() - 1]);
                    let pause = between(from, Some((self.turns[before], from)), Some(after), None);
                    self.pauses.push(pause);
                    rest = None;
                }
                (PointKind::Crest | PointKind::Trough, None) if self.turns.len() == 1 && i > 1 => {
                    let to = begin + chain.points[i - 1].at;
                    let rest = between(to, None, Some((to, self.turns[0])), None);
                    self.sets_out = Some((rest.to, rest.doubts.1));
                }
                _ => {}
            }
        }
        if let Some((from, before)) = rest {
            let before = (self.turns[before], from);
            let rest = between(from, Some(before), None, None);
            self.comes_to_rest = Some((rest.from, rest.doubts.0));
        }
        if let [.., before, last] = &chain.points[..]
            && last.cycles == 0.0
            && last.at > before.at
            && before.is_turn()
        {
            self.come_to_rest_at_turn(&between, near(begin + before.at), before.is_held());
        }
    }

    /// The motion has rested at a turn and has come to the next: the rest is placed, and the turn at which it rested with it.
    fn set_out_from_turn(&mut self, between: &impl Between, usual: &Expectation) {
        let [.., out, next] = self.turns[..] else { return };
        let count = self.turns.len();
        let (points, crest) = (self.points.len(), Some(out.crest));
        let begun = count.checked_sub(3).map(|i| self.turns[i]).filter(|t| t.crest == out.crest);
        let Some(begun) = begun else {
            // It has rested since the sound began.
            let rest = between(out.at, None, Some((out.at, next)), crest);
            self.sets_out = Some((rest.to, rest.doubts.1));
            self.turns[count - 2].at = rest.to;
            self.points[points - 2].0 = rest.to;
            return;
        };
        let before = self.turn_before(count - 3, usual);
        let pause = between(out.at, Some((before, begun.at)), Some((out.at, next)), crest);
        (self.turns[count - 3].at, self.turns[count - 2].at) = (pause.from, pause.to);
        (self.points[points - 3].0, self.points[points - 2].0) = (pause.from, pause.to);
        self.pauses.push(pause);
    }

    /// The motion has come to rest at its last turn, and rests until the sound ends; with `held` that turn stands twice.
    fn come_to_rest_at_turn(&mut self, between: &impl Between, usual: &Expectation, held: bool) {
        // The last point of all is the end of the sound.
        let mut point = self.points.len() - 2;
        if held {
            self.turns.pop();
            self.points.remove(point);
            point -= 1;
        }
        let Some(last) = self.turns.last().copied() else { return };
        let before = self.turn_before(self.turns.len() - 1, usual);
        let rest = between(last.at, Some((before, last.at)), None, Some(last.crest));
        self.comes_to_rest = Some((rest.from, rest.doubts.0));
        self.points[point].0 = rest.from;
        if let Some(last) = self.turns.last_mut() {
            last.at = rest.from;
        }
    }

    /// The turn before turn number `which`; where the motion begins with that one, it lies half a usual cycle back.
    fn turn_before(&self, which: usize, usual: &Expectation) -> Turn {
        let turn = self.turns[which];
        let half = if turn.crest { usual.up } else { usual.down };
        let before = which.checked_sub(1).map(|i| self.turns[i]);
        before.unwrap_or(Turn { at: turn.at - half, crest: !turn.crest, ..turn })
    }

    /// Cycles at a place, in frames from the first of the stretch; held beyond the motion's ends.
    pub fn at(&self, place: f64) -> f64 {
        let next = self.points.partition_point(|p| p.0 <= place);
        match (next.checked_sub(1).map(|i| self.points[i]), self.points.get(next)) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (place - a.0) / (b.0 - a.0),
            (Some(only), None) => only.1,
            (None, Some(only)) => only.1,
            (None, None) => 0.0,
        }
    }

    /// Where the motion has come to this many cycles; `None` if it does not.
    pub fn when(&self, cycles: f64) -> Option<f64> {
        let next = self.points.partition_point(|p| p.1 < cycles);
        let (a, b) = (self.points.get(next.checked_sub(1)?)?, self.points.get(next)?);
        Some(a.0 + (b.0 - a.0) * (cycles - a.1) / (b.1 - a.1))
    }

    /// The pause around a place, or within `reach` frames of it.
    pub fn pause_at(&self, place: f64, reach: f64) -> Option<Pause> {
        self.pauses
            .iter()
            .copied()
            .find(|pause| pause.from - reach <= place && place <= pause.to + reach)
    }
}

/// The likeliest chain through a stretch from frame `begin` on, and what is usual at each frame from there;
/// `None` where nothing moves. With `start` it begins at a turn, a crest or not.
fn likeliest(
    stretch: &Stretch,
    begin: usize,
    start: Option<bool>,
) -> Option<(Chain, Vec<Expectation>)> {
    let end = stretch.known();
    if end < begin + 8 {
        return None;
    }
    let (flat, heard) = (&stretch.flat[begin..end], &stretch.heard[begin..end]);
    let later = |cut: &usize| cut.checked_sub(begin).filter(|at| *at > 0);
    let cuts: Vec<usize> = stretch.places().iter().filter_map(later).collect();
    let start = start.map(|crest| if crest { PointKind::Crest } else { PointKind::Trough });
    let known =
        |noise, shape, cell| ChainInput { flat, heard, cuts: &cuts, noise, shape, cell, start };
    let tried = tried_rates(&stretch.rates()[begin..end], stretch.over);
    let expectations: Vec<Vec<Expectation>> =
        tried.iter().map(|rates| initial(flat, heard, &cuts, rates)).collect();
    let cell = expectations.iter().map(|expected| cell_of(expected)).min()?;
    let each = expectations.into_iter().map(|expected| {
        let noise = noise(&expected, None);
        (likeliest_chain(&known(noise, CycleShape::Sine, cell), &expected), expected)
    });
    let (mut found, mut expected) = each.min_by(|a, b| a.0.cost.total_cmp(&b.0.cost))?;
    let passes = if stretch.over { PASSES } else { 1 };
    for pass in 1..=passes {
        let noise = noise(&expected, Some(found.left));
        expected = refined(&cuts, &found, &expected);
        let cell = cell_of(&expected);
        let shapes = if pass == PASSES { &SHAPES[..] } else { &SHAPES[..1] };
        let each =
            shapes.iter().map(|shape| likeliest_chain(&known(noise, *shape, cell), &expected));
        found = each.min_by(|a, b| a.cost.total_cmp(&b.cost))?;
    }
    is_motion(&found, start.is_some()).then_some((found, expected))
}

/// The rates at each frame that are tried, from those that are known; 0 is not known yet.
fn tried_rates(known: &[f64], over: bool) -> Vec<Vec<f64>> {
    let Some(first) = known.iter().copied().find(|rate| *rate > 0.0) else {
        return GUESSES_HZ.map(|rate| vec![rate; known.len()]).to_vec();
    };
    let slower: &[f64] = if over { &SLOWER_SHARES } else { &[] };
    let of = |share: f64| {
        let rates = known.iter().map(|rate| if *rate > 0.0 { *rate } else { first });
        rates.map(|rate| share * rate).collect()
    };
    std::iter::once(1.0).chain(slower.iter().copied()).map(of).collect()
}

/// Whether a chain is wide enough to be a motion, or to go on with one.
fn is_motion(chain: &Chain, goes_on: bool) -> bool {
    let is_turn = |kind| matches!(kind, PointKind::Crest | PointKind::Trough);
    let widths = chain.points.iter().filter(|point| is_turn(point.kind));
    let widths: Vec<f64> = widths.map(|point| 2.0 * point.height).collect();
    let (wide, least) = match widths.len() {
        // One that goes on was wide before.
        _ if goes_on => (LEAST_WIDTH_CENTS, 1),
        few if few < LEAST_WIDE_HALVES => (LEAST_WIDTH_OF_FEW_CENTS, few.max(1)),
        _ => (LEAST_WIDTH_CENTS, LEAST_WIDE_HALVES),
    };
    widths.iter().filter(|width| **width >= wide).count() >= least
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::change::Awaited;
    use crate::ear::Event;
    use crate::motion_follower::MotionFollower;
    use pitch::Frame;
    use std::f64::consts::TAU;
    use tuning::{Cents, Hz, Secs};

    /// Follows a pitch given in cents above 220 Hz by the time in seconds.
    fn follow(secs: f64, step: f64, cents: impl Fn(f64) -> f64) -> MotionFollower {
        follow_with(secs, step, cents, |_| {})
    }

    /// The same, looked at after each frame.
    fn follow_with(
        secs: f64,
        step: f64,
        cents: impl Fn(f64) -> f64,
        mut look: impl FnMut(&MotionFollower),
    ) -> MotionFollower {
        let awaited = Awaited { step: Cents(step), cycles: 4.0 };
        let mut follower = MotionFollower::new(Some(Hz(4.0)), false, vec![awaited]);
        let frames = (secs / HOP_SECS) as usize;
        for i in 0..frames {
            let time = Secs(i as f64 * HOP_SECS);
            let frame = Frame::plain(time, Some(Hz(220.0).raised(Cents(cents(time.get())))), -20.0);
            follower.hear(&Event::Frame(frame), None);
            if i == 7 {
                let start = Secs(0.0);
                let begun = Event::NoteBegan { start, midi: 57, reference: Hz(220.0) };
                follower.hear(&begun, None);
            }
            if !follower.stretches().is_empty() {
                look(&follower);
            }
        }
        let note = crate::Note { heard_until: Secs(secs), ..crate::ear::empty_note() };
        follower.hear(&Event::NoteEnded, Some(&note));
        follower.finish();
        follower
    }

    /// A motion of 4 Hz and 40 cents that sets out from its middle, `cycles` of it.
    fn motion(cycles: f64) -> f64 {
        20.0 * (TAU * cycles).sin()
    }

    #[test]
    fn a_cycle_cut_by_a_change_of_finger_is_neither_lost_nor_counted_twice() {
        for at in [1.0, 1.03, 1.06, 1.09, 1.125, 1.16, 1.19, 1.22] {
            for step in [100.0, -200.0] {
                let pitch = |t: f64| motion(4.0 * t) + if t >= at { step } else { 0.0 };
                let follower = follow(2.25, step, pitch);
                let stretch = &follower.stretches()[0];
                assert_eq!(stretch.cuts.len(), 1, "{at}: {:?}", stretch.cuts);
                let cut = stretch.cuts[0].at as f64;
                assert!((stretch.secs(cut).get() - at).abs() < 0.02, "{at}: {:?}", stretch.cuts);
                let motion = CycleCount::of(stretch);
                assert!(motion.pauses.is_empty(), "{at}: {:?}", motion.pauses);
                let (first, second) = (motion.at(cut), motion.at(stretch.flat.len() as f64));
                let start = motion.at(0.0);
                assert!((first - start - 4.0 * at).abs() < 0.12, "{at}: {}", first - start);
                assert!((second - start - 9.0).abs() < 0.12, "{at}: {}", second - start);
            }
        }
    }

    #[test]
    fn a_rest_of_the_motion_is_a_pause_as_long_as_it_is() {
        for gap in [0.15, 0.33, 0.5] {
            let pitch = |t: f64| {
                let rested = (t - 1.0).clamp(0.0, gap);
                motion(4.0 * (t - rested)) + if t >= 1.0 + 0.5 * gap { 100.0 } else { 0.0 }
            };
            let follower = follow(2.25 + gap, 100.0, pitch);
            let stretch = &follower.stretches()[0];
            let motion = CycleCount::of(stretch);
            assert_eq!(motion.pauses.len(), 1, "{gap}: {:?}", motion.pauses);
            let pause = motion.pauses[0];
            let length = (pause.to - pause.from) * HOP_SECS;
            assert!((length - gap).abs() < 0.025, "{gap}: {length}");
            let made = motion.at(pause.from) - motion.at(0.0);
            assert!((made - 4.0).abs() < 0.1, "{gap}: {made}");
        }
    }

    #[test]
    fn a_rest_at_a_crest_is_a_pause_as_long_as_it_is_also_when_shorter_than_half_a_cycle() {
        for (hz, gap) in [(2.0, 0.25), (1.0, 0.4), (3.0, 0.15), (5.0, 0.15), (2.0, 0.6)] {
            for sign in [1.0, -1.0] {
                // From a turn three and a half cycles to the opposite one, where it rests while the finger changes.
                let rests = 3.5 / hz;
                let pitch = |t: f64| {
                    let rested = (t - rests).clamp(0.0, gap);
                    -20.0 * sign * (TAU * hz * (t - rested)).cos()
                        + if t >= rests + 0.5 * gap { 100.0 } else { 0.0 }
                };
                let follower = follow(2.0 * rests + gap, 100.0, pitch);
                let motion = CycleCount::of(&follower.stretches()[0]);
                assert_eq!(motion.pauses.len(), 1, "{hz} Hz, {gap} s: {:?}", motion.pauses);
                let pause = motion.pauses[0];
                let length = (pause.to - pause.from) * HOP_SECS;
                assert!((length - gap).abs() < 0.03, "{hz} Hz, {gap} s: {length}");
                let made = motion.at(pause.from) - motion.at(0.0);
                assert!((made - 3.5).abs() < 0.1, "{hz} Hz, {gap} s: {made}");
            }
        }
    }

    #[test]
    fn a_motion_that_sets_out_from_a_crest_after_a_straight_start_loses_no_turn() {
        for straight in [0.15, 0.3, 0.6] {
            // 80 cents downward from where it was held, 3 times a second.
            let pitch = |t: f64| {
                let cycles = 3.0 * (t - straight).max(0.0);
                40.0 * ((TAU * cycles).cos() - 1.0) + if cycles >= 4.0 { 200.0 } else { 0.0 }
            };
            let follower = follow(straight + 8.0 / 3.0, 200.0, pitch);
            let stretch = &follower.stretches()[0];
            let motion = CycleCount::of(stretch);
            let cut = stretch.cuts.first().map_or(0.0, |cut| cut.at as f64);
            let first = motion.at(cut) - motion.at(0.0);
            let second = motion.at(stretch.flat.len() as f64) - motion.at(cut);
            assert!((first - 4.0).abs() < 0.15, "{straight}: {first}");
            assert!((second - 4.0).abs() < 0.15, "{straight}: {second}");
        }
    }

    #[test]
    fn a_straight_note_makes_nothing() {
        let follower = follow(2.0, 100.0, |t| 0.6 * (TAU * 1.3 * t).sin());
        let motion = CycleCount::of(&follower.stretches()[0]);
        assert_eq!(motion.at(400.0), 0.0, "{:?}", motion.turns);
    }

    #[test]
    fn a_straight_finger_that_strays_once_makes_nothing_and_a_narrow_motion_counts() {
        for at in [0.3, 0.8, 1.3] {
            // 4.6 cents up and back in a quarter of a second.
            let strays = |t: f64| 2.3 * (1.0 - (TAU * 4.0 * (t - at).clamp(0.0, 0.25)).cos());
            let follower = follow(2.0, 100.0, strays);
            let motion = CycleCount::of(&follower.stretches()[0]);
            assert_eq!(motion.at(400.0), 0.0, "{at}: {:?}", motion.turns);
        }
        for cycles in [1.0, 2.0, 5.0] {
            let narrow = |t: f64| 4.0 * (TAU * (4.0 * t).min(cycles)).sin();
            let follower = follow(cycles / 4.0, 100.0, narrow);
            let stretch = &follower.stretches()[0];
            let motion = CycleCount::of(stretch);
            let made = motion.at(stretch.flat.len() as f64) - motion.at(0.0);
            assert!((made - cycles).abs() < 0.12, "{cycles}: {made}");
        }
    }

    #[test]
    fn what_is_found_look_by_look_is_what_is_found_at_once() {
        // A rest each nine seconds, the first with a change of finger.
        let pitch = |t: f64| {
            let turn = (t / 9.0).floor();
            let rested = 0.5 * turn + (t - 9.0 * turn).min(0.5);
            // Uneven, but in its middle where it rests.
            let uneven = 0.3 * (0.5 * TAU * (t / 9.0 - turn)).sin().powi(2);
            let cycles = 4.0 * (t - rested) + uneven;
            motion(cycles) + if turn >= 1.0 { 100.0 } else { 0.0 }
        };
        let mut looks = 0;
        let mut motions = CycleCounts::default();
        follow_with(45.0, 100.0, pitch, |follower| {
            let stretches = follower.stretches();
            let stretch = &stretches[0];
            if !stretch.flat.len().is_multiple_of(200) {
                return;
            }
            let whole = CycleCount::of(stretch);
            let all = motions.of(stretches);
            // What the newest oscillations are is not sure yet, one way or the other.
            let sure = stretch.known() as f64 - 200.0;
            let off = all[0].at(sure) - whole.at(sure);
            assert!(off.abs() < 0.05, "{sure}: {off}");
            let rests = |motion: &CycleCount| motion.pauses.iter().filter(|p| p.to < sure).count();
            assert_eq!(rests(&all[0]), rests(&whole), "{sure}");
            looks += usize::from(!motions.settled.turns.is_empty());
        });
        assert!(looks > 20, "{looks} looks began at a settled turn");
    }
}
