//! How far a motion has gone, in cycles, and where it pauses.
//!
//! From one turn of the motion to the next it advances half a cycle. Where it pauses, a quarter is
//! behind the last turn and a quarter ahead of the next one: there it comes to rest on the straight
//! pitch and sets out from it again.

use crate::course::Stretch;
use crate::rest::Rest;
use crate::swings::{Chain, Course, Known, Place, Usual, cell_of, chain};
use crate::turn::Turn;
use pitch::HOP_SECS;

/// Half cycles on either side that say what is usual.
const AROUND: usize = 4;
/// The narrowest oscillation that is one, in cents.
const LEAST_WIDTH: f64 = 3.5;
/// Half the least width that is looked for, in cents, and as a share of the widest.
const LEAST_HEIGHT: f64 = 1.8;
const LEAST_SHARE: f64 = 0.12;
/// Cycles in which the range of the pitch says how wide the motion is, to begin with.
const WINDOW: f64 = 1.5;
/// Noise of the pitch, in cents, and as a share of the half width: at first, and at least.
const NOISE: (f64, f64) = (1.5, 0.15);
const LEAST_NOISE: (f64, f64) = (0.7, 0.05);
/// How often what is usual is found anew from the chain, once the sound is over: before that once.
const PASSES: usize = 2;
/// Courses of half a cycle that are tried in the last pass.
const COURSES: [Course; 3] = [Course::Sine, Course::Flat(1.6), Course::Flat(2.6)];
/// A sound is heard so many frames late, and its end so many early.
const EDGE: f64 = 2.5;
/// Rates tried where none is known, in Hz.
const GUESSES: [f64; 12] = [9.0, 7.5, 6.0, 4.8, 3.6, 2.7, 2.0, 1.5, 1.1, 0.8, 0.6, 0.45];
/// Half a cycle upward or downward takes at least this share of the mean of both.
const LEAST_SKEW: f64 = 0.55;

/// A stretch of time in which the motion rests, in frames from the first of the stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    /// End of the last oscillation.
    pub from: f64,
    /// Start of the next one.
    pub to: f64,
}

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
}

impl Advance {
    /// The motion of `stretch` as far as it is known.
    pub fn of(stretch: &Stretch) -> Self {
        let flat = &stretch.flat[..stretch.known()];
        let mut advance = Self::default();
        let Some((chain, usual)) = likeliest(stretch) else {
            return advance;
        };
        let mut cycles = 0.0;
        let mut rest: Option<(f64, usize)> = None;
        for (i, knot) in chain.knots.iter().enumerate() {
            cycles += knot.cycles;
            match knot.place {
                Place::Crest | Place::Trough => {
                    let crest = knot.place == Place::Crest;
                    let near = &usual[(knot.at as usize).min(usual.len() - 1)];
                    let turn = crate::turning::turn_near(flat, knot.at, near, crest);
                    advance.turns.push(turn);
                    advance.points.push((turn.at, cycles));
                }
                Place::Rest | Place::Ready | Place::Edge => {
                    advance.points.push((knot.at, cycles));
                }
            }
            match (knot.place, rest) {
                (Place::Rest, _) if !advance.turns.is_empty() => {
                    rest = Some((knot.at, advance.turns.len() - 1));
                }
                (Place::Crest | Place::Trough, Some((from, before))) => {
                    let to = chain.knots[i - 1].at;
                    let near = usual[(from as usize).min(usual.len() - 1)];
                    let pause = Rest {
                        stretch,
                        usual: near,
                        noise: chain.left.max(LEAST_NOISE.0),
                        before: (advance.turns[before], from),
                        after: (to, advance.turns[advance.turns.len() - 1]),
                    };
                    advance.pauses.push(pause.placed());
                    rest = None;
                }
                _ => {}
            }
        }
        advance.points.sort_by(|a, b| a.0.total_cmp(&b.0));
        let moves = |pair: &&[(f64, f64)]| pair[1].1 > pair[0].1;
        let mut moving = advance.points.windows(2).filter(moves);
        let first = moving.next().map(|pair| pair[0].0);
        let last = advance.points.windows(2).rfind(moves).map(|pair| pair[1].0);
        // A sound is heard a little late, and its end a little early.
        let first = first.map(|at| if at <= 0.0 { at - EDGE } else { at });
        let end = flat.len() as f64;
        let last = last.map(|at| {
            if at >= end - 0.5 * EDGE {
                at + EDGE
            } else {
                at
            }
        });
        advance.span = first.zip(last);
        advance
    }

    /// Cycles at a place, in frames from the first of the stretch; held beyond the motion's ends.
    pub fn at(&self, place: f64) -> f64 {
        let next = self.points.partition_point(|p| p.0 <= place);
        match (
            next.checked_sub(1).map(|i| self.points[i]),
            self.points.get(next),
        ) {
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (place - a.0) / (b.0 - a.0),
            (Some(only), None) => only.1,
            (None, Some(only)) => only.1,
            (None, None) => 0.0,
        }
    }

    /// Where the motion has come to this many cycles; `None` if it does not.
    pub fn when(&self, cycles: f64) -> Option<f64> {
        let next = self.points.partition_point(|p| p.1 < cycles);
        let (a, b) = (
            self.points.get(next.checked_sub(1)?)?,
            self.points.get(next)?,
        );
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

/// The likeliest chain through a stretch, and what is usual at each frame; `None` where nothing moves.
fn likeliest(stretch: &Stretch) -> Option<(Chain, Vec<Usual>)> {
    let length = stretch.known();
    if length < 8 {
        return None;
    }
    let rates = stretch.rates();
    let first = rates.iter().copied().find(|rate| *rate > 0.0);
    let mut tried: Vec<Vec<f64>> = Vec::new();
    match first {
        Some(first) => {
            let rates = rates.iter().map(|r| if *r > 0.0 { *r } else { first });
            tried.push(rates.collect());
        }
        None => tried.extend(GUESSES.map(|rate| vec![rate; length])),
    }
    let mut best: Option<(Chain, Vec<Usual>)> = None;
    let usuals: Vec<Vec<Usual>> = {
        let (flat, heard) = (&stretch.flat[..length], &stretch.heard[..length]);
        tried
            .iter()
            .map(|rates| at_first(flat, heard, stretch.places(), rates))
            .collect()
    };
    let cell = usuals.iter().map(|usual| cell_of(usual)).min()?;
    for usual in usuals {
        let noise = noise(&usual, None);
        let found = chain(&known(stretch, noise, Course::Sine, cell), &usual);
        if best
            .as_ref()
            .is_none_or(|(least, _)| found.cost < least.cost)
        {
            best = Some((found, usual));
        }
    }
    let (mut found, mut usual) = best?;
    let passes = if stretch.over { PASSES } else { 1 };
    for pass in 1..=passes {
        let noise = noise(&usual, Some(found.left));
        usual = anew(stretch, &found, &usual);
        let cell = cell_of(&usual);
        let courses = if pass == PASSES {
            &COURSES[..]
        } else {
            &COURSES[..1]
        };
        let each = courses
            .iter()
            .map(|course| chain(&known(stretch, noise, *course, cell), &usual));
        found = each.min_by(|a, b| a.cost.total_cmp(&b.cost))?;
    }
    let wide = found.knots.iter().any(|knot| {
        matches!(knot.place, Place::Crest | Place::Trough) && 2.0 * knot.height >= LEAST_WIDTH
    });
    wide.then_some((found, usual))
}

fn known<'a>(stretch: &'a Stretch, noise: f64, course: Course, cell: usize) -> Known<'a> {
    let length = stretch.known();
    Known {
        flat: &stretch.flat[..length],
        heard: &stretch.heard[..length],
        cuts: stretch.places(),
        noise,
        course,
        cell,
    }
}

/// Noise of the pitch, from what a chain has left.
pub fn noise(usual: &[Usual], left: Option<f64>) -> f64 {
    let mut heights: Vec<f64> = usual.iter().step_by(8).map(|usual| usual.height).collect();
    heights.sort_by(f64::total_cmp);
    let height = heights[heights.len() / 2];
    match left {
        None => NOISE.0.max(NOISE.1 * height),
        Some(left) => left.max(LEAST_NOISE.0).max(LEAST_NOISE.1 * height),
    }
}

/// Frames before `from` and from `to` on that the finger at `at` does not play.
fn finger(cuts: &[usize], at: usize, length: usize) -> (usize, usize) {
    let next = cuts.partition_point(|cut| *cut <= at);
    let from = next.checked_sub(1).map_or(0, |i| cuts[i]);
    (from, cuts.get(next).copied().unwrap_or(length).min(length))
}

/// What the range of the pitch around each frame says, for fingers that change at `cuts`.
pub fn at_first(flat: &[f64], heard: &[bool], cuts: &[usize], rates: &[f64]) -> Vec<Usual> {
    let length = rates.len();
    let mut usual = Vec::with_capacity(length);
    let mut cents = Vec::new();
    let mut at = 0;
    while at < length {
        let half = 0.5 / rates[at] / HOP_SECS;
        let reach = (WINDOW * half) as usize;
        let (from, to) = finger(cuts, at, length);
        // As wide a window as there is within the finger's time, around the frame if there is room.
        let low = at.saturating_sub(reach).max(from);
        let high = (low + 2 * reach).min(to);
        let low = high.saturating_sub(2 * reach).max(from);
        cents.clear();
        let step = ((high - low) / 64).max(1);
        let sure = (low..high).step_by(step).filter(|i| heard[*i]);
        cents.extend(sure.map(|i| flat[i]));
        cents.sort_by(f64::total_cmp);
        let (middle, height) = if cents.is_empty() {
            usual
                .last()
                .map_or((flat[at], LEAST_HEIGHT), |last: &Usual| {
                    (last.middle, last.height)
                })
        } else {
            let of = |share: f64| cents[((cents.len() - 1) as f64 * share).round() as usize];
            (0.5 * (of(0.1) + of(0.9)), (of(0.9) - of(0.1)) / 1.9)
        };
        let here = Usual {
            middle,
            height,
            up: half,
            down: half,
        };
        let next = (at + ((0.25 * half) as usize).max(1)).min(length);
        usual.resize(next, here);
        at = next;
    }
    floor(&mut usual);
    usual
}

/// No height is less than a share of the widest.
fn floor(usual: &mut [Usual]) {
    let mut heights: Vec<f64> = usual.iter().step_by(8).map(|usual| usual.height).collect();
    heights.sort_by(f64::total_cmp);
    let wide = heights[heights.len() * 8 / 10];
    let least = LEAST_HEIGHT.max(LEAST_SHARE * wide);
    for usual in usual {
        usual.height = usual.height.max(least);
    }
}

fn middle_of(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let count = values.len();
    (count > 0).then(|| 0.5 * (values[(count - 1) / 2] + values[count / 2]))
}

/// A half cycle of a chain.
struct Half {
    at: f64,
    frames: f64,
    up: bool,
    middle: f64,
    height: f64,
    finger: usize,
}

/// What the half cycles around each frame say.
fn anew(stretch: &Stretch, chain: &Chain, before: &[Usual]) -> Vec<Usual> {
    let cuts = stretch.places();
    let halves: Vec<Half> = chain
        .knots
        .windows(2)
        .filter(|pair| pair[1].cycles == 0.5)
        .map(|pair| {
            let at = 0.5 * (pair[0].at + pair[1].at);
            Half {
                at,
                frames: pair[1].at - pair[0].at,
                up: pair[1].place == Place::Crest,
                middle: pair[1].middle,
                height: pair[1].height,
                finger: cuts.partition_point(|cut| *cut as f64 <= at),
            }
        })
        .collect();
    if halves.is_empty() {
        return before.to_vec();
    }
    let mut usual = Vec::with_capacity(before.len());
    let mut at = 0;
    while at < before.len() {
        let next = halves.partition_point(|half| half.at < at as f64);
        let near = &halves[next.saturating_sub(AROUND)..(next + AROUND).min(halves.len())];
        let finger = cuts.partition_point(|cut| *cut <= at);
        let of = |value: &dyn Fn(&Half) -> Option<f64>| {
            middle_of(near.iter().filter_map(value).collect())
        };
        let old = before[at];
        let own = || near.iter().filter(|half| half.finger == finger);
        let middle = match own().count() {
            0 => old.middle,
            1 => 0.5 * (old.middle + own().map(|half| half.middle).sum::<f64>()),
            _ => middle_of(own().map(|half| half.middle).collect()).unwrap_or(old.middle),
        };
        let height = of(&|half| Some(half.height)).unwrap_or(old.height);
        let length = of(&|half| Some(half.frames)).unwrap_or(0.5 * (old.up + old.down));
        let way = |up: bool| {
            let some: Vec<f64> = near
                .iter()
                .filter(|half| half.up == up)
                .map(|half| half.frames)
                .collect();
            let count = some.len();
            middle_of(some).filter(|_| count >= 2)
        };
        let (up, down) = match (way(true), way(false)) {
            (Some(up), Some(down)) => {
                let mean = 0.5 * (up + down);
                let up = up.clamp(LEAST_SKEW * mean, (2.0 - LEAST_SKEW) * mean);
                (up, 2.0 * mean - up)
            }
            _ => (length, length),
        };
        let here = Usual {
            middle,
            height,
            up,
            down,
        };
        let next = (at + ((0.25 * length) as usize).max(1)).min(before.len());
        usual.resize(next, here);
        at = next;
    }
    floor(&mut usual);
    usual
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::course::{Awaited, Course};
    use crate::ear::Event;
    use pitch::Frame;
    use std::f64::consts::TAU;
    use tuning::{Cents, Hz, Secs};

    /// Follows a pitch given in cents above 220 Hz by the time in seconds.
    fn follow(secs: f64, step: f64, cents: impl Fn(f64) -> f64) -> Course {
        let awaited = Awaited {
            step: Cents(step),
            cycles: 4.0,
        };
        let mut course = Course::new(Some(Hz(4.0)), false, vec![awaited]);
        let frames = (secs / HOP_SECS) as usize;
        for i in 0..frames {
            let time = Secs(i as f64 * HOP_SECS);
            let frame = Frame {
                time,
                f0: Some(Hz(220.0).raised(Cents(cents(time.get())))),
                confidence: 0.9,
                level_dbfs: -20.0,
                disagreement: None,
            };
            course.hear(&Event::Frame(frame), None);
            if i == 7 {
                let start = Secs(0.0);
                let begun = Event::NoteBegan {
                    start,
                    midi: 57,
                    reference: Hz(220.0),
                };
                course.hear(&begun, None);
            }
        }
        let note = crate::Note {
            end: Secs(secs),
            ..crate::ear::no_note()
        };
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
                assert!(
                    (stretch.secs(cut).get() - at).abs() < 0.02,
                    "{at}: {:?}",
                    stretch.cuts
                );
                let advance = Advance::of(stretch);
                assert!(advance.pauses.is_empty(), "{at}: {:?}", advance.pauses);
                let (first, second) = (advance.at(cut), advance.at(stretch.flat.len() as f64));
                let start = advance.at(0.0);
                assert!(
                    (first - start - 4.0 * at).abs() < 0.12,
                    "{at}: {}",
                    first - start
                );
                assert!(
                    (second - start - 9.0).abs() < 0.12,
                    "{at}: {}",
                    second - start
                );
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
}
