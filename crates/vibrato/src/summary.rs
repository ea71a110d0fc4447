//! From the line and the turns of a note to its measures.

use crate::measure::Measure;
use crate::note::{Oscillation, PitchCourse, Vibrato};
use crate::pitch_line::{ORIGIN, PitchLine};
use crate::quantity::{Measures, Quantity};
use crate::short_swing::ShortSwing;
use crate::straight_line::StraightLine;
use crate::turn::Turn;
use pitch::HOP_SECS;
use std::f64::consts::TAU;
use std::ops::Range;
use tuning::{Cents, Hz, Secs};

/// Least oscillations that make a vibrato.
pub(crate) const LEAST_OSCILLATIONS: usize = 2;
/// Least width of an oscillation that counts, in cents, and as a share of the note's.
const LEAST_WIDTH_CENTS: f64 = 2.5;
const LEAST_SHARE: f64 = 0.25;
/// Spread of the period, as a share, below which the beat is even.
const EVEN_SHARE: f64 = 0.03;
/// Doubt of a width that no repetition shows: in cents, and as a share, which is the larger the lower the note, for so much
/// longer is the window through which it is heard (made notes of six and of twelve oscillations).
const WIDTH_FLOOR_CENTS: f64 = 0.1;
const WIDTH_SHARE: f64 = 0.0035;
const WIDTH_SHARE_HZ: f64 = 0.3;
/// Doubt of a centre that no repetition shows, in cents and as a share of the width, over so many oscillations; of fewer it is
/// larger.
const CENTRE_FLOOR_CENTS: f64 = 0.05;
const CENTRE_SHARE: f64 = 0.0005;
const CENTRE_FLOOR_OSCILLATIONS: f64 = 12.0;
/// Nearly all oscillations of a note are measured: how they scatter is a doubt of its mean only as far as the others, at its
/// start and its end, are not among them.
const SCATTER_SHARE: f64 = 0.5;
/// A period that wanders leaves the rate of so few oscillations in doubt, by this share of how their periods scatter, once
/// they do so by more than the ear's own error, as a share.
const FEW_OSCILLATIONS: f64 = 6.0;
const WANDER_SHARE: f64 = 0.7;
const EAR_SHARE: f64 = 0.012;
/// So many harmonics of an oscillation are looked at: all of them say how round it is, the first ones where its crest
/// lies, at one of so many points.
const HARMONICS: usize = 5;
const ROUND_HARMONICS: usize = 3;
const ROUND_POINTS: usize = 200;
/// Doubts of the time up that no repetition shows: in percent of an oscillation, and by which share of its distance
/// from half the ear, which hears through a window, draws it towards half (made motions, `tests/notes.rs`).
const TIME_UP_FLOOR_PCT: f64 = 0.5;
const TIME_UP_DRAWN: f64 = 0.25;
/// The first or last oscillation of a note is none if its period differs from its neighbours' by more than so many
/// standard deviations of all others, but by this much at least and at most, as a logarithm.
const STEP_DEVIATIONS: f64 = 4.0;
const LEAST_OUT_OF_STEP: f64 = 0.05;
const OUT_OF_STEP: f64 = 0.2;
/// While the note sounds, that is judged by so many oscillations before it.
const STEP_CYCLES: usize = 6;
/// A crest or trough at the edge is not a whole one if one side of it is higher than the other by more than this, as a
/// logarithm.
const LOPSIDED: f64 = 0.4;
/// The first or last oscillation is none, either, if it is wider than its neighbours by this factor.
const OUT_OF_WIDTH: f64 = 1.8;
/// Frames of a note in which the pitch still settles, and in which it is let go.
pub(crate) const ATTACK_FRAMES: usize = 24;
const RELEASE_FRAMES: usize = 12;
/// Frames whose mean is one value of the pitch's course, 0.1 s; of a short note there are at least so many values. Half the
/// frames of each must be heard.
const VALUE_FRAMES: usize = 20;
const LEAST_VALUES: usize = 3;
/// A pitch whose lowest and highest values lie no further apart than this, in cents, stays where it is...
const STAYS_CENTS: f64 = 24.0;
/// ...and one that moves glides if a straight line explains this share of its variance.
const GLIDE_SHARE: f64 = 0.9;
/// Frames between neighbours that share no samples.
const APART_FRAMES: f64 = 4.0;

/// The frames' time in the stream.
fn secs(line: &PitchLine, at: f64) -> f64 {
    (line.first as f64 + at) * HOP_SECS
}

/// Mean pitch from frame `from` to frame `to`, both fractional, over the frames heard.
fn mean_cents(line: &PitchLine, from: f64, to: f64) -> Option<f64> {
    let (first, last) =
        (from.floor().max(0.0) as usize, (to.ceil() as usize).min(line.len().saturating_sub(1)));
    let (mut sum, mut length) = (0.0, 0.0);
    for i in first..last {
        let left = from.max(i as f64) - i as f64;
        let right = to.min(i as f64 + 1.0) - i as f64;
        if right <= left || !line.heard[i] || !line.heard[i + 1] {
            continue;
        }
        let step = line.cents[i + 1] - line.cents[i];
        sum += (right - left) * (line.cents[i] + 0.5 * (left + right) * step);
        length += right - left;
    }
    (length > 0.0).then(|| sum / length)
}

fn mean(values: impl Iterator<Item = f64> + Clone) -> (f64, f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count.max(1.0);
    let squares: f64 = values.map(|v| (v - mean) * (v - mean)).sum();
    (mean, (squares / (count - 1.0).max(1.0)).sqrt(), count)
}

/// Writes the whole oscillations among `turns` to `out`, in cents against `reference`.
///
/// `scratch` is room for as many numbers as there are oscillations.
pub(crate) fn oscillations(
    line: &PitchLine,
    turns: &[Turn],
    reference: Hz,
    out: &mut Vec<Oscillation>,
    scratch: &mut Vec<f64>,
) {
    out.clear();
    let shift = ORIGIN.cents_above(reference).get();
    for trio in whole(turns).windows(3) {
        let [a, crest, b] = trio else { continue };
        if crest.crest {
            out.push(Oscillation {
                start: Secs(secs(line, a.at)),
                period: Secs((b.at - a.at) * HOP_SECS),
                crest: Cents(crest.cents + shift),
                trough: Cents(0.5 * (a.cents + b.cents) + shift),
            });
        }
    }
    let width = |o: &Oscillation| o.crest.get() - o.trough.get();
    let typical = median(out.iter().map(width), scratch);
    let least = LEAST_WIDTH_CENTS.max(LEAST_SHARE * typical);
    // Weak ones at the edges are the vibrato still coming or already gone; inside they count.
    let strong = |o: &Oscillation| width(o) >= least;
    let first = out.iter().position(strong).unwrap_or(out.len());
    let last = out.iter().rposition(strong).map_or(first, |last| last + 1);
    out.truncate(last);
    out.drain(..first);
    // An attack or a release can pass for one more turn: what is out of step at the edges goes.
    while out.len() > 2 && !in_step(out, 0) {
        out.remove(0);
    }
    while out.len() > 2 && !in_step(out, out.len() - 1) {
        out.pop();
    }
}

/// The turns without those at the edges that are no full ones: where the pitch sets out from a straight note, or
/// is let go, one side of a crest is much higher than the other.
fn whole(mut turns: &[Turn]) -> &[Turn] {
    let even = |a: &Turn, b: &Turn, c: &Turn| {
        let lopsided = ((b.cents - a.cents) / (c.cents - b.cents)).abs().ln();
        lopsided.abs() < LOPSIDED
    };
    while let [a, b, c, ..] = turns
        && !even(a, b, c)
    {
        turns = &turns[1..];
    }
    while let [.., a, b, c] = turns
        && !even(a, b, c)
    {
        turns = &turns[..turns.len() - 1];
    }
    turns
}

/// Whether the oscillation at an edge keeps the step of the others, as even as they are.
fn in_step(oscillations: &[Oscillation], edge: usize) -> bool {
    let others = if edge == 0 { &oscillations[1..] } else { &oscillations[..edge] };
    let near = if edge == 0 {
        &others[..3.min(others.len())]
    } else {
        &others[others.len().saturating_sub(3)..]
    };
    let (all, sd, _) = mean(others.iter().map(|o| o.period.get()));
    let (period, ..) = mean(near.iter().map(|o| o.period.get()));
    let (usual, ..) = mean(near.iter().map(|o| o.crest.get() - o.trough.get()));
    let here = &oscillations[edge];
    (here.period.get() / period).ln().abs() < most_out_of_step(sd / all)
        && here.crest.get() - here.trough.get() < OUT_OF_WIDTH * usual
}

/// Whether an oscillation of this period, in seconds, keeps the step of those told before it (starts and periods), as even
/// as the last of them are.
pub(crate) fn keeps_step(told: &[(f64, f64)], period: f64) -> bool {
    let last = &told[told.len().saturating_sub(STEP_CYCLES)..];
    let (usual, sd, count) = mean(last.iter().map(|(_, period)| *period));
    count < 2.0 || (period / usual).ln().abs() < most_out_of_step(sd / usual)
}

/// How far out of step, as a logarithm, an oscillation may be among others whose periods scatter by this share.
fn most_out_of_step(scatter: f64) -> f64 {
    (STEP_DEVIATIONS * scatter).clamp(LEAST_OUT_OF_STEP, OUT_OF_STEP)
}

/// The middle one of some values; 0 if there are none.
fn median(values: impl Iterator<Item = f64>, scratch: &mut Vec<f64>) -> f64 {
    scratch.clear();
    scratch.extend(values);
    let middle = scratch.len() / 2;
    if scratch.is_empty() {
        return 0.0;
    }
    *scratch.select_nth_unstable_by(middle, f64::total_cmp).1
}

/// Fills `vibrato` from its own oscillations; `false` if there are too few for a vibrato.
pub(crate) fn summarise(
    line: &PitchLine,
    turns: &[Turn],
    reference: Hz,
    vibrato: &mut Vibrato,
) -> bool {
    let oscillations = &vibrato.oscillations;
    if oscillations.len() < LEAST_OSCILLATIONS {
        return false;
    }
    let start = oscillations[0].start.get();
    let end = oscillations.last().map_or(start, |o| o.start.get() + o.period.get());
    let frame = |secs: f64| secs / HOP_SECS - line.first as f64;
    let (period, period_sd, count) = mean(oscillations.iter().map(|o| o.period.get()));
    let (width, width_sd, _) = mean(oscillations.iter().map(|o| o.crest.get() - o.trough.get()));
    vibrato.rate = rate(turns, (frame(start), frame(end)), period_sd < EVEN_SHARE * period);
    if count <= FEW_OSCILLATIONS {
        let wander = (period_sd / period).powi(2) - EAR_SHARE * EAR_SHARE;
        let wander = WANDER_SHARE * (wander.max(0.0) / count).sqrt() * vibrato.rate.value.get();
        vibrato.rate.se = vibrato.rate.se.map(|se| Hz(se.get().hypot(wander)));
    }
    let scattered = |sd: f64| SCATTER_SHARE * sd / count.sqrt();
    let shift = ORIGIN.cents_above(reference).get();
    let cycle = |o: &Oscillation| {
        let (from, to) = (frame(o.start.get()), frame(o.start.get() + o.period.get()));
        mean_cents(line, from, to).map(|c| c + shift)
    };
    let (_, centre_sd, _) = mean(oscillations.iter().filter_map(cycle));
    let whole = mean_cents(line, frame(start), frame(end)).map_or(0.0, |c| c + shift);
    let centre_floor =
        CENTRE_FLOOR_CENTS.hypot(CENTRE_SHARE * width) * (CENTRE_FLOOR_OSCILLATIONS / count).sqrt();
    vibrato.centre = Measure::known(Cents(whole), Cents(scattered(centre_sd).hypot(centre_floor)));
    let share = WIDTH_SHARE + WIDTH_SHARE_HZ / reference.raised(Cents(whole)).get();
    let width_floor = WIDTH_FLOOR_CENTS + share * width;
    vibrato.width = Measure::known(Cents(width), Cents(scattered(width_sd).hypot(width_floor)));
    let rounds = || {
        let of = |o: &Oscillation| harmonics(line, frame(o.start.get()), o.period.get() / HOP_SECS);
        oscillations.iter().filter_map(of)
    };
    let mut others = Measures::default();
    others.set(Quantity::RateSpread, spread(period, period_sd, count));
    others.set(Quantity::WidthSpread, spread(width, width_sd, count));
    others.set(Quantity::OutOfRound, out_of_round(rounds().filter_map(|round| impurity(&round))));
    others.set(Quantity::TimeUp, mean_time_up(rounds().map(|round| time_up(&round))));
    others.set(Quantity::Drift, drift(oscillations, cycle, centre_sd));
    vibrato.others = others;
    vibrato.onset = onset(start - secs(line, 0.0), period);
    true
}

/// Fills `vibrato`, against [`ORIGIN`], from all frames of a note too short for its oscillations to be counted; `false` if it
/// has none. What takes more oscillations stays unknown.
pub(crate) fn summarise_short(line: &PitchLine, end: usize, vibrato: &mut Vibrato) -> bool {
    let Some(swing) = ShortSwing::of(line, end) else { return false };
    (vibrato.rate, vibrato.width, vibrato.centre) = (swing.rate, swing.width, swing.centre);
    vibrato.others = Measures::default();
    swing.oscillations(line, end, ORIGIN, &mut vibrato.oscillations);
    let period = 1.0 / swing.rate.value.get();
    vibrato.onset = onset(swing.first_turn() * HOP_SECS, period);
    true
}

/// The onset of a vibrato of this period whose first turn lies so many seconds within the note.
fn onset(secs: f64, period: f64) -> Measure<Secs> {
    // The note's first frame is known to about two hops, a turn to a few percent of a period.
    Measure::known(Secs(secs.max(0.0)), Secs((2.0 * HOP_SECS).hypot(0.03 * period)))
}

/// A standard deviation as a share of the mean, in percent; unknown of fewer than three.
fn spread(mean: f64, sd: f64, count: f64) -> Option<Measure<f64>> {
    (count >= 3.0 && mean > 0.0).then(|| Measure {
        value: 100.0 * sd / mean,
        se: Some(100.0 * sd / mean / (2.0 * (count - 1.0)).sqrt()),
    })
}

/// Mean of the times up of each oscillation, in percent.
fn mean_time_up(times: impl Iterator<Item = f64> + Clone) -> Option<Measure<f64>> {
    let (up, up_sd, count) = mean(times);
    (count > 0.0).then(|| Measure {
        value: up,
        se: (count >= 2.0).then(|| {
            let drawn = TIME_UP_DRAWN * (up - 50.0);
            (up_sd / count.sqrt()).hypot(TIME_UP_FLOOR_PCT).hypot(drawn)
        }),
    })
}

/// Mean share of power outside the fundamental, in percent, of these shares of single oscillations.
fn out_of_round(impure: impl Iterator<Item = f64> + Clone) -> Option<Measure<f64>> {
    let (share, sd, count) = mean(impure);
    (count > 0.0).then(|| Measure {
        value: 100.0 * share,
        se: (count >= 2.0).then(|| 100.0 * sd / count.sqrt()),
    })
}

/// How far the centre moves from the first third of the oscillations to the last, where `cycle` is the centre of one
/// and `sd` their standard deviation.
fn drift(
    oscillations: &[Oscillation],
    cycle: impl Fn(&Oscillation) -> Option<f64> + Copy,
    sd: f64,
) -> Option<Measure<f64>> {
    let third = oscillations.len() / 3;
    (third > 0).then(|| {
        let (early, early_sd, n) = mean(oscillations[..third].iter().filter_map(cycle));
        let last = &oscillations[oscillations.len() - third..];
        let (late, late_sd, _) = mean(last.iter().filter_map(cycle));
        let se = (sd.max(early_sd).max(late_sd) * (2.0 / n.max(1.0)).sqrt()).max(0.1);
        Measure { value: late - early, se: Some(se) }
    })
}

/// Oscillations per second. An even beat is fitted to all turns by least squares, the troughs and
/// the crests each with a start of their own, so that no single turn decides; an uneven one is
/// counted from the first trough to the last, for no beat is there to be fitted.
fn rate(turns: &[Turn], (from, to): (f64, f64), even: bool) -> Measure<Hz> {
    let within = |crest: bool| {
        turns
            .iter()
            .filter(move |t| t.crest == crest && t.at >= from - 0.5 && t.at <= to + 0.5)
            .map(|t| t.at * HOP_SECS)
    };
    // Sums over both sets of index and time around the middle of each.
    let (mut kk, mut kt, mut tt, mut count) = (0.0, 0.0, 0.0, 0.0);
    for crest in [false, true] {
        let n = within(crest).count() as f64;
        let middle = within(crest).sum::<f64>() / n.max(1.0);
        for (k, t) in within(crest).enumerate() {
            let (k, t) = (k as f64 - 0.5 * (n - 1.0), t - middle);
            kk += k * k;
            kt += k * t;
            tt += t * t;
        }
        count += n;
    }
    let fitted = kt / kk;
    let scatter = (tt - kt * fitted).max(0.0) / (count - 3.0).max(1.0);
    let troughs = within(false).count() as f64;
    let length = (to - from) * HOP_SECS;
    let (period, se) = if even {
        (fitted, (scatter / kk).sqrt())
    } else {
        let cycles = troughs - 1.0;
        (length / cycles, (2.0 * scatter).sqrt() / cycles)
    };
    let relative = (se / period).max(5e-4);
    Measure { value: Hz(1.0 / period), se: Some(Hz(relative / period)) }
}

/// Share of one oscillation, in percent, in which its pitch goes up: from the lowest to the highest point of the round
/// that its first harmonics make, for single frames are too rough to say where a crest is.
fn time_up(harmonics: &[(f64, f64); HARMONICS]) -> f64 {
    let at = |point: usize| {
        let angle = TAU * point as f64 / ROUND_POINTS as f64;
        let first = harmonics.iter().take(ROUND_HARMONICS).zip(1..);
        first
            .map(|(&(re, im), k)| {
                re * (f64::from(k) * angle).cos() + im * (f64::from(k) * angle).sin()
            })
            .sum::<f64>()
    };
    let points = || (0..ROUND_POINTS).map(|point| (point, at(point)));
    let by_height = |a: &(usize, f64), b: &(usize, f64)| a.1.total_cmp(&b.1);
    let (low, high) = (points().min_by(by_height), points().max_by(by_height));
    let place = |point: Option<(usize, f64)>| point.map_or(0.0, |(point, _)| point as f64);
    100.0 * ((place(high) - place(low)) / ROUND_POINTS as f64).rem_euclid(1.0)
}

/// Share of one oscillation's modulation power outside its fundamental.
fn impurity(harmonics: &[(f64, f64); HARMONICS]) -> Option<f64> {
    let power = harmonics.map(|(re, im)| re * re + im * im);
    let total: f64 = power.iter().sum();
    (total > 0.0).then(|| 1.0 - power[0] / total)
}

/// The harmonics of the cycle that begins at frame `from`, once the line from its first point to its last is taken out:
/// cosine and sine of each.
fn harmonics(line: &PitchLine, from: f64, period: f64) -> Option<[(f64, f64); HARMONICS]> {
    let (first, last) = (from.ceil() as usize, (from + period).floor() as usize);
    if last >= line.len()
        || last < first + 10
        || line.heard[first..=last].iter().any(|heard| !heard)
    {
        return None;
    }
    let slope = (line.cents[last] - line.cents[first]) / (last - first) as f64;
    let count = (last - first + 1) as f64;
    let middle = line.cents[first..=last].iter().sum::<f64>() / count;
    let mut all = [(0.0, 0.0); HARMONICS];
    for (order, (re, im)) in all.iter_mut().enumerate() {
        let turn = TAU * (order + 1) as f64 / period;
        for i in first..=last {
            let y = line.cents[i] - middle - slope * ((i - first) as f64 - 0.5 * (count - 1.0));
            let (sin, cos) = (turn * (i as f64 - from)).sin_cos();
            *re += y * cos;
            *im += y * sin;
        }
    }
    Some(all)
}

/// The frames of a note of `end` frames without its attack and its release.
pub(crate) fn held(end: usize) -> Range<usize> {
    let from = ATTACK_FRAMES.min(end / 3);
    from..(end - RELEASE_FRAMES.min(end / 6)).max(from + 1).min(end)
}

/// [`plain`] over a whole note of `end` frames, without the attack and the release.
pub(crate) fn settled(line: &PitchLine, end: usize) -> (f64, f64, f64) {
    plain(line, held(end))
}

/// Mean pitch of a stretch without oscillations, with its standard error, and its standard deviation around that
/// mean, in cents.
pub(crate) fn plain(line: &PitchLine, frames: Range<usize>) -> (f64, f64, f64) {
    let values = || frames.clone().filter(|&i| line.heard[i]).map(|i| line.cents[i]);
    let count = values().count() as f64;
    if count == 0.0 {
        return (0.0, 0.0, 0.0);
    }
    let mean = values().sum::<f64>() / count;
    let variance = values().map(|y| (y - mean) * (y - mean)).sum::<f64>() / count;
    (mean, (variance / (count / APART_FRAMES).max(1.0)).sqrt(), variance.sqrt())
}

/// Root mean square of what the straight line through the pitch leaves, in cents.
pub(crate) fn beside_line(line: &PitchLine, frames: Range<usize>) -> f64 {
    let points = frames.filter(|&i| line.heard[i]).map(|i| (i as f64, line.cents[i]));
    let straight = StraightLine::through(points);
    (straight.left / straight.count.max(1.0)).sqrt()
}

/// What the pitch does that has no vibrato: its course is the mean of each tenth of a second, of a short note of each third,
/// and the line through these is fitted by least squares. [`PitchCourse::TooShort`] where there are fewer than three.
pub(crate) fn course(line: &PitchLine, frames: Range<usize>) -> PitchCourse {
    let value_frames = VALUE_FRAMES.min(frames.len() / LEAST_VALUES).max(1);
    let value = |from: usize| {
        let within = from..(from + value_frames).min(frames.end);
        let heard = || within.clone().filter(|&i| line.heard[i]);
        let count = heard().count();
        let mean = |of: &dyn Fn(usize) -> f64| heard().map(of).sum::<f64>() / count as f64;
        (2 * count >= value_frames)
            .then(|| (HOP_SECS * mean(&|i| i as f64), mean(&|i| line.cents[i])))
    };
    let values = || frames.clone().step_by(value_frames).filter_map(value);
    if values().count() < LEAST_VALUES {
        return PitchCourse::TooShort;
    }
    let low = values().map(|(_, y)| y).fold(f64::INFINITY, f64::min);
    let high = values().map(|(_, y)| y).fold(f64::NEG_INFINITY, f64::max);
    let glide = StraightLine::through(values());
    let squares: f64 = values().map(|(_, y)| (y - glide.mean.1).powi(2)).sum();
    if high - low <= STAYS_CENTS {
        PitchCourse::Straight
    } else if glide.left <= (1.0 - GLIDE_SHARE) * squares {
        PitchCourse::Glides(Measure::known(Cents(glide.slope), Cents(glide.slope_se())))
    } else {
        PitchCourse::Moves
    }
}
