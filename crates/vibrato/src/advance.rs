//! How far a motion has gone, in cycles, and where it pauses.
//!
//! From one turn of the motion to the next it advances half a cycle. Where it pauses, a quarter is
//! behind the last turn and a quarter ahead of the next one: there it comes to rest on the straight
//! pitch and sets out from it again.

use crate::course::Stretch;
use crate::line::ORIGIN;
use crate::motion::{Chain, Form, Place};
use crate::rest::{Pause, Rest};
use crate::swings::{Known, cell_of, chain};
use crate::turn::Turn;
use crate::usual::{Usual, anew, at_first, noise};
use pitch::HOP_SECS;
use tuning::Cents;

/// A motion has so many half cycles of this width, in cents; where there are fewer, all are wider than that: a bow
/// that is held straight now and then strays by 5 cents and comes back.
const LEAST_WIDE: usize = 3;
const LEAST_WIDTH: f64 = 4.5;
const LEAST_WIDTH_OF_FEW: f64 = 5.5;
/// How often what is usual is found anew from the chain, once the sound is over: before that once.
const PASSES: usize = 2;
/// Forms of half a cycle that are tried in the last pass.
const FORMS: [Form; 3] = [Form::Sine, Form::Flat(1.6), Form::Flat(2.6)];
/// A sound is heard so many of its periods late, and seconds more, but so many seconds at least; and its end so
/// many seconds early.
const BEGINS: (f64, f64, f64) = (1.5, 0.0025, 0.0055);
const ENDS: f64 = 0.0085;
/// Standard errors of both, in seconds (of rounds made by crate tone).
const EDGE_DOUBTS: (f64, f64) = (0.006, 0.01);
/// Its pitch is known so many frames after its start.
const SOUNDS: usize = 10;
/// Rates tried where none is known, in Hz.
const GUESSES: [f64; 12] = [9.0, 7.5, 6.0, 4.8, 3.6, 2.7, 2.0, 1.5, 1.1, 0.8, 0.6, 0.45];
/// A sound that is over may have moved so much slower than was thought: a narrow motion is easily taken for
/// that of the finger's own unrest.
const SLOWER: [f64; 2] = [0.6, 0.36];
/// While a sound goes on, what lies so many frames back, and so many cycles, is not looked for again.
const SETTLED: (f64, f64) = (300.0, 4.0);

/// The motion of one stretch.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Advance {
    /// Frames from the first of the stretch, and cycles; the first point is the start of the motion.
    points: Vec<(f64, f64)>,
    /// Where it pauses, in order.
    pub pauses: Vec<Pause>,
    /// Crests and troughs that are full ones.
    pub turns: Vec<Turn>,
    /// Where the motion starts and, in a stretch that is over, ends.
    pub span: Option<(f64, f64)>,
    /// Standard errors of both.
    pub doubts: (f64, f64),
    /// Where it sets out behind the start of the sound, and comes to rest before its end, with standard errors.
    sets_out: Option<(f64, f64)>,
    comes_to_rest: Option<(f64, f64)>,
}

/// The motions of the stretches of a [`Course`](crate::Course), kept so that each look costs no more than the
/// newest seconds: those of a stretch that is over stay, and in the one that sounds what lies far back does.
#[derive(Clone, Debug, Default)]
pub struct Advances {
    over: Vec<Advance>,
    /// The motion of the stretch that sounds, up to its last settled turn.
    settled: Advance,
}

impl Advances {
    /// The motions of `stretches`, which are those of the last look, gone on, and new ones behind them.
    pub fn of(&mut self, stretches: &[Stretch]) -> Vec<Advance> {
        for stretch in &stretches[self.over.len()..] {
            if !stretch.over {
                break;
            }
            self.over.push(Advance::of(stretch));
            self.settled = Advance::default();
        }
        let mut all = self.over.clone();
        if let Some(sounds) = stretches.get(self.over.len()) {
            let advance = Advance::onward(sounds, &self.settled);
            let keep =
                SETTLED.0.max(sounds.rate().map_or(0.0, |rate| SETTLED.1 / rate.get() / HOP_SECS));
            let done = self.settled.turns.last().map_or(0.0, |turn| turn.at);
            if sounds.known() as f64 - done > 2.0 * keep {
                self.settled = advance.up_to(sounds.known() as f64 - keep);
            }
            all.push(advance);
        }
        all
    }
}

impl Advance {
    /// The motion of `stretch` as far as it is known.
    pub fn of(stretch: &Stretch) -> Self {
        Self::onward(stretch, &Self::default())
    }

    /// The motion as far as its last turn at or before a place, in frames.
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
        let mut advance = settled.clone();
        let begin = settled.turns.last().map_or(0.0, |turn| turn.at.round());
        let start = settled.turns.last().map(|turn| turn.crest);
        if let Some((chain, usual)) = likeliest(stretch, begin as usize, start) {
            advance.go_on(stretch, begin, &chain, &usual);
        }
        advance.points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let moves = |pair: &&[(f64, f64)]| pair[1].1 > pair[0].1;
        let mut moving = advance.points.windows(2).filter(moves);
        let first = moving.next().map(|pair| pair[0].0);
        let last = advance.points.windows(2).rfind(moves).map(|pair| pair[1].0);
        let heard = |at: Option<f64>, doubt: f64| at.map(|at| (at, doubt / HOP_SECS));
        let first = advance.sets_out.or(heard(first, EDGE_DOUBTS.0));
        let last = advance.comes_to_rest.or(heard(last, EDGE_DOUBTS.1));
        advance.doubts = (first.map_or(0.0, |at| at.1), last.map_or(0.0, |at| at.1));
        let (first, last) = (first.map(|at| at.0), last.map(|at| at.0));
        // A sound is heard a little late, and its end a little early.
        let cents = stretch.cents.get(SOUNDS).or(stretch.cents.last());
        let period = cents.map_or(0.0, |cents| 1.0 / ORIGIN.raised(Cents(*cents)).get());
        let begins = (BEGINS.0 * period + BEGINS.1).max(BEGINS.2) / HOP_SECS;
        let first = first.map(|at| if at <= 0.0 { at - begins } else { at });
        let (end, ends) = (flat.len() as f64, ENDS / HOP_SECS);
        let last = last.map(|at| if at >= end - 0.5 * ends { at + ends } else { at });
        advance.span = first.zip(last);
        advance
    }

    /// Takes in a chain whose frames, and those of what is usual, count from `begin`; where the motion is known
    /// up to there its first knot is the last turn.
    fn go_on(&mut self, stretch: &Stretch, begin: f64, chain: &Chain, usual: &[Usual]) {
        let flat = &stretch.flat[..stretch.known()];
        let near = |at: f64| &usual[((at - begin).max(0.0) as usize).min(usual.len() - 1)];
        let mut cycles = self.points.last().map_or(0.0, |point| point.1);
        let mut rest: Option<(f64, usize)> = None;
        let known = usize::from(!self.turns.is_empty());
        let between = |at: f64, before, after| {
            let rest = Rest { stretch, usual: *near(at), form: chain.form, before, after };
            rest.placed()
        };
        for (i, knot) in chain.knots.iter().enumerate().skip(known) {
            let at = begin + knot.at;
            cycles += knot.cycles;
            match knot.place {
                Place::Crest | Place::Trough => {
                    let crest = knot.place == Place::Crest;
                    let turn = crate::turning::turn_near(flat, at, near(at), crest);
                    self.turns.push(turn);
                    self.points.push((turn.at, cycles));
                }
                Place::Rest | Place::Ready | Place::Edge => self.points.push((at, cycles)),
            }
            match (knot.place, rest) {
                (Place::Rest, _) if !self.turns.is_empty() => {
                    rest = Some((at, self.turns.len() - 1));
                }
                (Place::Crest | Place::Trough, Some((from, before))) => {
                    let to = begin + chain.knots[i - 1].at;
                    let after = (to, self.turns[self.turns.len() - 1]);
                    let pause = between(from, Some((self.turns[before], from)), Some(after));
                    self.pauses.push(pause);
                    rest = None;
                }
                (Place::Crest | Place::Trough, None) if self.turns.len() == 1 && i > 1 => {
                    let to = begin + chain.knots[i - 1].at;
                    let rest = between(to, None, Some((to, self.turns[0])));
                    self.sets_out = Some((rest.to, rest.doubts.1));
                }
                _ => {}
            }
        }
        if let Some((from, before)) = rest {
            let before = (self.turns[before], from);
            let rest = between(from, Some(before), None);
            self.comes_to_rest = Some((rest.from, rest.doubts.0));
        }
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

    /// The pause that holds or touches a place within `reach` frames.
    pub fn pause_at(&self, place: f64, reach: f64) -> Option<Pause> {
        self.pauses
            .iter()
            .copied()
            .find(|pause| pause.from - reach <= place && place <= pause.to + reach)
    }
}

/// The likeliest chain through a stretch from frame `begin` on, and what is usual at each frame from there;
/// `None` where nothing moves. With `start` it begins at a turn, a crest or not.
fn likeliest(stretch: &Stretch, begin: usize, start: Option<bool>) -> Option<(Chain, Vec<Usual>)> {
    let end = stretch.known();
    if end < begin + 8 {
        return None;
    }
    let (flat, heard) = (&stretch.flat[begin..end], &stretch.heard[begin..end]);
    let later = |cut: &usize| cut.checked_sub(begin).filter(|at| *at > 0);
    let cuts: Vec<usize> = stretch.places().iter().filter_map(later).collect();
    let start = start.map(|crest| if crest { Place::Crest } else { Place::Trough });
    let known = |noise, form, cell| Known { flat, heard, cuts: &cuts, noise, form, cell, start };
    let rates = &stretch.rates()[begin..end];
    let first = rates.iter().copied().find(|rate| *rate > 0.0);
    let tried: Vec<Vec<f64>> = match first {
        Some(first) => {
            let of = |share: f64| {
                let rates = rates.iter().map(|r| if *r > 0.0 { *r } else { first });
                rates.map(|rate| share * rate).collect()
            };
            let slower: &[f64] = if stretch.over { &SLOWER } else { &[] };
            std::iter::once(1.0).chain(slower.iter().copied()).map(of).collect()
        }
        None => GUESSES.map(|rate| vec![rate; rates.len()]).to_vec(),
    };
    let usuals: Vec<Vec<Usual>> =
        tried.iter().map(|rates| at_first(flat, heard, &cuts, rates)).collect();
    let cell = usuals.iter().map(|usual| cell_of(usual)).min()?;
    let each = usuals.into_iter().map(|usual| {
        let noise = noise(&usual, None);
        (chain(&known(noise, Form::Sine, cell), &usual), usual)
    });
    let (mut found, mut usual) = each.min_by(|a, b| a.0.cost.total_cmp(&b.0.cost))?;
    let passes = if stretch.over { PASSES } else { 1 };
    for pass in 1..=passes {
        let noise = noise(&usual, Some(found.left));
        usual = anew(&cuts, &found, &usual);
        let cell = cell_of(&usual);
        let forms = if pass == PASSES { &FORMS[..] } else { &FORMS[..1] };
        let each = forms.iter().map(|form| chain(&known(noise, *form, cell), &usual));
        found = each.min_by(|a, b| a.cost.total_cmp(&b.cost))?;
    }
    let turns = || {
        let turns = found.knots.iter();
        turns.filter(|knot| matches!(knot.place, Place::Crest | Place::Trough))
    };
    let count = turns().count();
    let (wide, least) = match count {
        // One that goes on was wide before.
        _ if start.is_some() => (LEAST_WIDTH, 1),
        _ if count < LEAST_WIDE => (LEAST_WIDTH_OF_FEW, count.max(1)),
        _ => (LEAST_WIDTH, LEAST_WIDE),
    };
    let enough = turns().filter(|knot| 2.0 * knot.height >= wide).count() >= least;
    enough.then_some((found, usual))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::change::Awaited;
    use crate::course::Course;
    use crate::ear::Event;
    use pitch::Frame;
    use std::f64::consts::TAU;
    use tuning::{Cents, Hz, Secs};

    /// Follows a pitch given in cents above 220 Hz by the time in seconds.
    fn follow(secs: f64, step: f64, cents: impl Fn(f64) -> f64) -> Course {
        follow_with(secs, step, cents, |_| {})
    }

    /// The same, looked at after each frame.
    fn follow_with(
        secs: f64,
        step: f64,
        cents: impl Fn(f64) -> f64,
        mut look: impl FnMut(&Course),
    ) -> Course {
        let awaited = Awaited { step: Cents(step), cycles: 4.0 };
        let mut course = Course::new(Some(Hz(4.0)), false, vec![awaited]);
        let frames = (secs / HOP_SECS) as usize;
        for i in 0..frames {
            let time = Secs(i as f64 * HOP_SECS);
            let frame = Frame::plain(time, Some(Hz(220.0).raised(Cents(cents(time.get())))), -20.0);
            course.hear(&Event::Frame(frame), None);
            if i == 7 {
                let start = Secs(0.0);
                let begun = Event::NoteBegan { start, midi: 57, reference: Hz(220.0) };
                course.hear(&begun, None);
            }
            if !course.stretches().is_empty() {
                look(&course);
            }
        }
        let note = crate::Note { end: Secs(secs), ..crate::ear::no_note() };
        course.hear(&Event::NoteEnded, Some(&note));
        course.finish();
        course
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
                let course = follow(2.25, step, pitch);
                let stretch = &course.stretches()[0];
                assert_eq!(stretch.cuts.len(), 1, "{at}: {:?}", stretch.cuts);
                let cut = stretch.cuts[0].at as f64;
                assert!((stretch.secs(cut).get() - at).abs() < 0.02, "{at}: {:?}", stretch.cuts);
                let advance = Advance::of(stretch);
                assert!(advance.pauses.is_empty(), "{at}: {:?}", advance.pauses);
                let (first, second) = (advance.at(cut), advance.at(stretch.flat.len() as f64));
                let start = advance.at(0.0);
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
            let course = follow(2.25 + gap, 100.0, pitch);
            let stretch = &course.stretches()[0];
            let advance = Advance::of(stretch);
            assert_eq!(advance.pauses.len(), 1, "{gap}: {:?}", advance.pauses);
            let pause = advance.pauses[0];
            let length = (pause.to - pause.from) * HOP_SECS;
            assert!((length - gap).abs() < 0.025, "{gap}: {length}");
            let made = advance.at(pause.from) - advance.at(0.0);
            assert!((made - 4.0).abs() < 0.1, "{gap}: {made}");
        }
    }

    #[test]
    fn a_straight_note_makes_nothing() {
        let course = follow(2.0, 100.0, |t| 0.6 * (TAU * 1.3 * t).sin());
        let advance = Advance::of(&course.stretches()[0]);
        assert_eq!(advance.at(400.0), 0.0, "{:?}", advance.turns);
    }

    #[test]
    fn a_straight_finger_that_strays_once_makes_nothing_and_a_narrow_motion_counts() {
        for at in [0.3, 0.8, 1.3] {
            // 4.6 cents up and back in a quarter of a second.
            let strays = |t: f64| 2.3 * (1.0 - (TAU * 4.0 * (t - at).clamp(0.0, 0.25)).cos());
            let course = follow(2.0, 100.0, strays);
            let advance = Advance::of(&course.stretches()[0]);
            assert_eq!(advance.at(400.0), 0.0, "{at}: {:?}", advance.turns);
        }
        for cycles in [1.0, 2.0, 5.0] {
            let narrow = |t: f64| 4.0 * (TAU * (4.0 * t).min(cycles)).sin();
            let course = follow(cycles / 4.0, 100.0, narrow);
            let stretch = &course.stretches()[0];
            let advance = Advance::of(stretch);
            let made = advance.at(stretch.flat.len() as f64) - advance.at(0.0);
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
        let mut advances = Advances::default();
        follow_with(45.0, 100.0, pitch, |course| {
            let stretches = course.stretches();
            let stretch = &stretches[0];
            if !stretch.flat.len().is_multiple_of(200) {
                return;
            }
            let whole = Advance::of(stretch);
            let all = advances.of(stretches);
            // What the newest oscillations are is not sure yet, one way or the other.
            let sure = stretch.known() as f64 - 200.0;
            let off = all[0].at(sure) - whole.at(sure);
            assert!(off.abs() < 0.05, "{sure}: {off}");
            let rests = |advance: &Advance| advance.pauses.iter().filter(|p| p.to < sure).count();
            assert_eq!(rests(&all[0]), rests(&whole), "{sure}");
            looks += usize::from(!advances.settled.turns.is_empty());
        });
        assert!(looks > 20, "{looks} looks began at a settled turn");
    }
}
