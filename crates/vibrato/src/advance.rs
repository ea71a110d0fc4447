//! How far a motion has gone, in cycles, and where it pauses.
//!
//! From one turn of the motion to the next it advances half a cycle. Where it pauses, a quarter is
//! behind the last turn and a quarter ahead of the next one: there it comes to rest on the straight
//! pitch and sets out from it again.

use crate::course::Stretch;
use crate::turn::Turn;
use pitch::HOP_SECS;

/// Turns on either side that say what is usual.
const AROUND: usize = 4;
/// A turn from which the pitch swings less of the usual width than this to either side is none: the pitch
/// only rests there. At the edges, where there is one side only, it may swing less.
const LEAST_SWING: f64 = 0.66;
const LEAST_SWING_EDGE: f64 = 0.6;
/// One that swings less than this multiple of the least, and stands out from the middle by less than this
/// share of the height, is none either.
const LOW: f64 = 1.35;
const LEAST_HEIGHT: f64 = 0.3;
/// The narrowest oscillation that is one, in cents.
const LEAST_WIDTH: f64 = 3.5;
/// Half a cycle may be longer than usual by this factor and so many seconds; then it may hold a pause...
const LONG: f64 = 1.3;
const LONG_SECS: f64 = 0.02;
/// ...and beyond this it must.
const TOO_LONG: f64 = 2.2;
/// A pause must explain the pitch so much better than none, and be so long at least, in seconds.
const BETTER: f64 = 1.8;
const LEAST_PAUSE: f64 = 0.04;
/// Noise of the pitch that no model explains, in cents.
const NOISE: f64 = 0.7;
/// Steps of the search for the ends of a pause in a quarter of a cycle.
const STEPS: usize = 16;
/// A sound is heard so many frames late, and its end so many early.
const EDGE: f64 = 2.5;
/// At the edge of a sound the pitch counts as swung to the other side beyond this share of the height.
const SWUNG: f64 = 0.45;

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
        let turns = full(stretch);
        let mut advance = Self::default();
        let (Some(first), Some(last)) = (turns.first(), turns.last()) else {
            return advance;
        };
        let view = View {
            stretch,
            turns: &turns,
        };
        let lead = view.lead(first.at, 0.0, view.usual(0), -1.0);
        advance.points.push((first.at - lead.0, -lead.1));
        advance.points.push((first.at, 0.0));
        let mut cycles = 0.0;
        for (i, pair) in turns.windows(2).enumerate() {
            if let Some(pause) = view.pause(i) {
                advance.points.push((pause.from, cycles + 0.25));
                advance.points.push((pause.to, cycles + 0.25));
                advance.pauses.push(pause);
            }
            cycles += 0.5;
            advance.points.push((pair[1].at, cycles));
        }
        let end = if stretch.over {
            let usual = view.usual(turns.len() - 1);
            let lead = view.lead(last.at, stretch.flat.len() as f64, usual, 1.0);
            advance.points.push((last.at + lead.0, cycles + lead.1));
            last.at + lead.0
        } else {
            // Certain frames behind the last turn show the motion on its way to the middle.
            let quarter = 0.5 * view.usual(turns.len() - 1);
            let gone = (stretch.known() as f64 - last.at).clamp(0.0, quarter);
            advance
                .points
                .push((last.at + gone, cycles + 0.25 * gone / quarter));
            last.at + gone
        };
        advance.span = Some((advance.points[0].0, end));
        advance.turns = turns;
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

/// The turns of a stretch without those at which the pitch only rests.
fn full(stretch: &Stretch) -> Vec<Turn> {
    let mut turns = stretch.turns();
    loop {
        let weakest = (0..turns.len())
            .map(|i| (i, swing(&turns, i), height(stretch, &turns, i)))
            .filter(|(_, swing, height)| *swing < 1.0 || (*swing < LOW && *height < LEAST_HEIGHT))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match weakest {
            Some((i, ..)) => {
                turns.remove(i);
            }
            None => break,
        }
    }
    let wide = turns
        .windows(2)
        .any(|pair| (pair[0].cents - pair[1].cents).abs() >= LEAST_WIDTH);
    if !wide && turns.len() > 1 {
        turns.clear();
    }
    turns
}

/// How far the pitch swings from a turn to its neighbours, the further one, as a multiple of the least that
/// makes it a turn.
fn swing(turns: &[Turn], i: usize) -> f64 {
    let near = &turns[i.saturating_sub(AROUND)..(i + AROUND + 1).min(turns.len())];
    let mut swings: Vec<f64> = near
        .windows(2)
        .map(|p| (p[0].cents - p[1].cents).abs())
        .collect();
    swings.sort_by(f64::total_cmp);
    let Some(usual) = swings.get(2 * swings.len() / 3).copied() else {
        return 1.0;
    };
    let side = |j: Option<usize>| {
        let other = turns.get(j?)?;
        Some((other.cents - turns[i].cents).abs())
    };
    let (before, after) = (side(i.checked_sub(1)), side(Some(i + 1)));
    let least = if before.is_some() && after.is_some() {
        LEAST_SWING
    } else {
        LEAST_SWING_EDGE
    };
    before.unwrap_or(0.0).max(after.unwrap_or(0.0)) / (least * usual).max(1e-9)
}

/// How far the turn stands out from the middle, as a share of what is usual around it.
fn height(stretch: &Stretch, turns: &[Turn], i: usize) -> f64 {
    let Some((middle, half)) = place(stretch, turns, i) else {
        return 1.0;
    };
    let out = turns[i].cents - middle;
    (if turns[i].crest { out } else { -out }) / half
}

/// Middle and half width of the swing around turn `i`, of the same finger if it has turns enough; `None`
/// without both a crest and a trough.
fn place(stretch: &Stretch, turns: &[Turn], i: usize) -> Option<(f64, f64)> {
    let near = &turns[i.saturating_sub(AROUND)..(i + AROUND + 1).min(turns.len())];
    let finger = |turn: &Turn| {
        stretch
            .cuts
            .iter()
            .filter(|cut| cut.at as f64 <= turn.at)
            .count()
    };
    let own = finger(&turns[i]);
    let of = |crest: bool, any: bool| {
        let mut cents: Vec<f64> = near
            .iter()
            .filter(|turn| turn.crest == crest && (any || finger(turn) == own))
            .map(|turn| turn.cents)
            .collect();
        cents.sort_by(f64::total_cmp);
        // Rather further out, for some may be rests.
        let out = 2 * cents.len() / 3;
        if crest {
            cents.get(out).copied()
        } else {
            cents.iter().rev().nth(out).copied()
        }
    };
    let pair = |any| Some((of(true, any)?, of(false, any)?));
    let (crest, trough) = pair(false)
        .filter(|(crest, trough)| crest - trough >= LEAST_WIDTH)
        .or_else(|| pair(true))?;
    (crest > trough).then_some((0.5 * (crest + trough), 0.5 * (crest - trough)))
}

/// A stretch and its full turns.
struct View<'a> {
    stretch: &'a Stretch,
    turns: &'a [Turn],
}

impl View<'_> {
    /// Frames that half a cycle usually takes around the step from turn `i` to the next one.
    fn usual(&self, i: usize) -> f64 {
        let from = i.saturating_sub(AROUND);
        let mut near: Vec<f64> = self.turns[from..(i + AROUND + 2).min(self.turns.len())]
            .windows(2)
            .enumerate()
            .filter(|(k, pair)| from + k != i && pair[0].crest != pair[1].crest)
            .map(|(_, pair)| pair[1].at - pair[0].at)
            .collect();
        near.sort_by(f64::total_cmp);
        let rate = self.stretch.rate().map_or(5.0, tuning::Hz::get);
        let by_rate = 0.5 / rate / HOP_SECS;
        match near.len() {
            0 => by_rate,
            1 | 2 => 0.5 * (near[0] + by_rate),
            count => near[(count - 1) / 2],
        }
    }

    /// The pause between turn `i` and the next one, if there is one.
    fn pause(&self, i: usize) -> Option<Pause> {
        let (a, b) = (self.turns[i], self.turns[i + 1]);
        let half = self.usual(i);
        let length = b.at - a.at;
        let alike = a.crest == b.crest;
        if !alike && length < LONG * half + LONG_SECS / HOP_SECS {
            return None;
        }
        let cut = self
            .stretch
            .cuts
            .iter()
            .map(|cut| cut.at as f64)
            .find(|at| *at > a.at && *at < b.at);
        let points: Vec<(f64, f64)> = (a.at.ceil() as usize..b.at.floor() as usize)
            .filter(|i| self.stretch.heard[*i])
            .map(|i| (i as f64, self.stretch.flat[i]))
            .collect();
        let noise = NOISE * NOISE * points.len() as f64;
        let mut best: Option<(f64, Pause)> = None;
        let step = (0.5 * half / STEPS as f64).max(0.5);
        // A quarter may be up to half as long again as usual.
        let most = (0.75 * half).min(0.5 * length);
        let least = 0.25 * half;
        let quarters = || {
            (0..)
                .map(|k| least + f64::from(k) * step)
                .take_while(|q| *q <= most)
        };
        for before in quarters() {
            for after in quarters() {
                let pause = Pause {
                    from: a.at + before,
                    to: b.at - after,
                };
                if pause.to < pause.from {
                    continue;
                }
                // Quarters far from the usual length are less likely.
                let odd = 1.0
                    + 0.3
                        * ((2.0 * before / half - 1.0).powi(2)
                            + (2.0 * after / half - 1.0).powi(2));
                for gentle in [false, true] {
                    let left = (noise + paused(&points, (a, b), pause, cut, gentle)) * odd;
                    if best.is_none_or(|(least, _)| left < least) {
                        best = Some((left, pause));
                    }
                }
            }
        }
        let (left, pause) = best?;
        let long = (pause.to - pause.from) * HOP_SECS >= LEAST_PAUSE;
        let through = noise + unpaused(&points, (a, b), cut);
        (alike || (long && (length > TOO_LONG * half || through > BETTER * left))).then_some(pause)
    }

    /// Frames and cycles between the turn at `at` and the start (`way` −1) or the end (`way` 1) of
    /// the sound at `edge`, as far as the motion fills them.
    fn lead(&self, at: f64, edge: f64, half: f64, way: f64) -> (f64, f64) {
        let room = (edge - at) * way + EDGE;
        let quarter = 0.5 * half;
        if room <= quarter {
            return (room.max(0.0), 0.5 * room.max(0.0) / half);
        }
        let i = if way < 0.0 { 0 } else { self.turns.len() - 1 };
        let Some((middle, height)) = place(self.stretch, self.turns, i) else {
            return (quarter, 0.25);
        };
        // Has the pitch swung beyond the middle, or does it rest there?
        let sign = if self.turns[i].crest { 1.0 } else { -1.0 };
        let reach = room.min(half);
        let span = |from: f64, to: f64| {
            let (from, to) = (at + way * from, at + way * to);
            let (from, to) = (
                from.min(to).max(0.0) as usize,
                from.max(to).max(0.0) as usize,
            );
            let flat = &self.stretch.flat;
            let part = &flat[from.min(flat.len())..to.min(flat.len())];
            (!part.is_empty()).then(|| part.iter().sum::<f64>() / part.len() as f64)
        };
        let Some(last) = span(0.75 * reach.max(quarter), reach) else {
            return (quarter, 0.25);
        };
        let beyond = -sign * (last - middle) / height;
        if room < 1.15 * half && beyond > SWUNG * (reach / half) {
            return (reach, 0.5 * reach / half);
        }
        (quarter, 0.25)
    }
}

/// The mean of some cents, apart before and after a cut.
fn levels(points: impl Iterator<Item = (f64, f64)> + Clone, cut: Option<f64>) -> [Option<f64>; 2] {
    let cut = cut.unwrap_or(f64::INFINITY);
    [false, true].map(|late| {
        let (mut sum, mut count) = (0.0, 0.0);
        for (_, y) in points.clone().filter(|(t, _)| (*t >= cut) == late) {
            sum += y;
            count += 1.0;
        }
        (count > 0.0).then(|| sum / count)
    })
}

/// Sum of squares that a pause leaves: from one turn to rest, and from rest to the next turn, which a
/// motion that sets out does with a jerk or gently.
fn paused(
    points: &[(f64, f64)],
    (a, b): (Turn, Turn),
    pause: Pause,
    cut: Option<f64>,
    gentle: bool,
) -> f64 {
    let rest = levels(
        points
            .iter()
            .copied()
            .filter(|(t, _)| *t > pause.from && *t < pause.to),
        cut,
    );
    let middle = 0.5 * (a.cents + b.cents);
    let before = rest[0].or(rest[1]).unwrap_or(middle);
    let after = rest[1].or(rest[0]).unwrap_or(middle);
    let quarter = std::f64::consts::FRAC_PI_2;
    let model = |t: f64| {
        if t <= pause.from {
            let done = (t - a.at) / (pause.from - a.at);
            before + (a.cents - before) * (quarter * done).cos()
        } else if t < pause.to {
            if cut.is_some_and(|cut| t >= cut) {
                after
            } else {
                before
            }
        } else {
            let done = (t - pause.to) / (b.at - pause.to);
            let share = if gentle {
                0.5 * (1.0 - (2.0 * quarter * done).cos())
            } else {
                (quarter * done).sin()
            };
            after + (b.cents - after) * share
        }
    };
    points.iter().map(|(t, y)| (y - model(*t)).powi(2)).sum()
}

/// Sum of squares that half a cycle without a pause leaves.
fn unpaused(points: &[(f64, f64)], (a, b): (Turn, Turn), cut: Option<f64>) -> f64 {
    let (middle, half) = (0.5 * (a.cents + b.cents), 0.5 * (a.cents - b.cents));
    let away = |(t, y): (f64, f64)| {
        let done = (t - a.at) / (b.at - a.at);
        (t, y - middle - half * (std::f64::consts::PI * done).cos())
    };
    let off = levels(points.iter().copied().map(away), cut);
    let cut = cut.unwrap_or(f64::INFINITY);
    points
        .iter()
        .map(|point| {
            let (t, y) = away(*point);
            (y - off[usize::from(t >= cut)].unwrap_or(0.0)).powi(2)
        })
        .sum()
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
