//! The vibrato of a short note: one and a half oscillations or a few more.
//!
//! So few make too few turns to be counted. But all frames of such a note can be explained at once: by a sine on a straight
//! line, where a note without vibrato strays from every sine. A slip, a slide or a wiggle of the attack is told from it by
//! what the sine leaves, by how often it goes to and fro, and by how far the line runs beside it.

use crate::least_squares::{LeastSquares, solve_normal};
use crate::measure::Measure;
use crate::note::Oscillation;
use crate::pitch_line::{ORIGIN, PitchLine};
use crate::straight_line::StraightLine;
use pitch::HOP_SECS;
use std::f64::consts::{PI, TAU};
use std::ops::Range;
use tuning::{Cents, Hz, Secs};

/// Frames at the start of a note in which the ear still settles, and at its end in which it hears the bow leave; a low
/// note is heard through a longer window.
const FIRST_FRAMES: usize = 6;
const LAST_FRAMES: usize = 3;
const LAST_LOW_FRAMES: usize = 5;
const LOW_HZ: f64 = 150.0;
/// Most frames that are looked at, 1 s, and least that must have been heard of them.
const MOST_FRAMES: usize = 200;
const LEAST_HEARD: usize = 24;
/// Rates that are scanned, in Hz, by so large a step; the best one must lie between two others.
const SCAN_HZ: (f64, f64) = (3.0, 10.5);
const SCAN_STEP: f64 = 1.03;
/// Looks around the best of them.
const LOOKS: usize = 8;
/// Least oscillations in the frames looked at.
const LEAST_CYCLES: f64 = 1.45;
/// Least width, in cents.
const LEAST_CENTS: f64 = 7.0;
/// Of what the line alone leaves, the sine must explain this share: more of the fewest oscillations than of many.
const FEW: (f64, f64) = (LEAST_CYCLES, 0.96);
const MANY: (f64, f64) = (2.2, 0.88);
/// The line runs no further than this multiple of the width: of fewer than two oscillations, and of more.
const MOST_RISE_FEW: f64 = 1.0;
const MOST_RISE: f64 = 2.0;
/// Frames that stray by this multiple of what a middling frame does, and by so many cents, are slips of the ear; no more than
/// this share of the frames may be.
const SLIP: f64 = 5.0;
const SLIP_CENTS: f64 = 0.1;
const MOST_SLIPS: f64 = 0.15;
/// What is left is taken for a chain in which each frame keeps a share of the last one's, this much at most.
const MOST_KEPT: f64 = 0.97;
/// Frames that share no samples lie so far apart, and are alike by this much by chance.
const APART_FRAMES: usize = 4;
const BY_CHANCE: f64 = 0.12;
/// Doubts that no fit shows: of the width in cents and as a share, of the centre in cents, of the rate as a share. A finger
/// that is uneven strays in time by more than the fit can see, the more so the fewer oscillations it has to be seen in.
const WIDTH_CENTS: f64 = 0.05;
const WIDTH_SHARE: f64 = 0.001;
const CENTRE_CENTS: f64 = 0.05;
const RATE_SHARE: f64 = 5e-4;
const RATE_UNEVEN: f64 = 1.4;
/// The chain takes more of what is left for slow than is: so much of it falls to width and centre (made short notes).
const SLOW_SHARE: f64 = 0.85;

/// Constant, slope, cosine, sine and rate.
const UNKNOWNS: usize = 5;

/// A sine on a straight line that explains a short note.
pub(crate) struct ShortSwing {
    /// Oscillations per second.
    pub rate: Measure<Hz>,
    /// Crest to trough.
    pub width: Measure<Cents>,
    /// Mean pitch, against [`ORIGIN`].
    pub centre: Measure<Cents>,
    /// How far the line rises from frame to frame, in cents.
    slope: f64,
    /// A trough, and a period, in frames.
    trough: f64,
    period: f64,
    /// The frame in the middle.
    middle: f64,
}

impl ShortSwing {
    /// The vibrato of the short note that ends before frame `end` of the line; `None` where it has none that can be told,
    /// or is no short note.
    pub(crate) fn of(line: &PitchLine, end: usize) -> Option<Self> {
        let low = ORIGIN.raised(Cents(*line.cents.get(end / 2)?)).get() < LOW_HZ;
        let last = if low { LAST_LOW_FRAMES } else { LAST_FRAMES };
        let frames = FIRST_FRAMES..end.checked_sub(last)?;
        if frames.len() > MOST_FRAMES {
            return None;
        }
        let mut points = Points::new(line, frames);
        let mut fit = points.best()?;
        if points.drop_slips(&fit) {
            fit = points.best()?;
        }
        let swing = points.swing(&fit)?;
        points.is_vibrato(&fit, &swing).then_some(swing)
    }

    /// Writes its whole oscillations within the note's `end` frames to `out`, against `reference`.
    pub(crate) fn oscillations(
        &self,
        line: &PitchLine,
        end: usize,
        reference: Hz,
        out: &mut Vec<Oscillation>,
    ) {
        out.clear();
        let mut at = self.trough - (self.trough / self.period).floor() * self.period;
        let half = 0.5 * self.width.value.get();
        while at + self.period < end as f64 {
            let crest = at + 0.5 * self.period;
            let centre = self.centre.value.get() + self.slope * (crest - self.middle);
            let centre = centre + ORIGIN.cents_above(reference).get();
            out.push(Oscillation {
                start: Secs((line.first as f64 + at) * HOP_SECS),
                period: Secs(self.period * HOP_SECS),
                crest: Cents(centre + half),
                trough: Cents(centre - half),
            });
            at += self.period;
        }
    }

    /// The first turn of the note, in frames.
    pub(crate) fn first_turn(&self) -> f64 {
        let half = 0.5 * self.period;
        self.trough - (self.trough / half).floor() * half
    }
}

/// The frames of a note that were heard: places around the middle, in frames, and cents around their mean.
struct Points {
    places: [f64; MOST_FRAMES],
    cents: [f64; MOST_FRAMES],
    count: usize,
    origin: f64,
    middle: f64,
    length: f64,
}

/// What one rate explains.
#[derive(Clone, Copy)]
struct Fit {
    rate_hz: f64,
    unknowns: [f64; 4],
    left: f64,
}

impl Points {
    fn new(line: &PitchLine, frames: Range<usize>) -> Self {
        let mut points = Self {
            places: [0.0; MOST_FRAMES],
            cents: [0.0; MOST_FRAMES],
            count: 0,
            origin: 0.0,
            middle: 0.5 * (frames.start + frames.end - 1) as f64,
            length: frames.len() as f64,
        };
        for i in frames.filter(|i| line.heard[*i]) {
            points.places[points.count] = i as f64 - points.middle;
            points.cents[points.count] = line.cents[i];
            points.count += 1;
        }
        let values = &mut points.cents[..points.count];
        points.origin = values.iter().sum::<f64>() / values.len().max(1) as f64;
        values.iter_mut().for_each(|cents| *cents -= points.origin);
        points
    }

    fn each(&self) -> impl Iterator<Item = (f64, f64)> + Clone {
        self.places.iter().copied().zip(self.cents.iter().copied()).take(self.count)
    }

    /// Line, cosine and sine at a place.
    fn row(&self, rate_hz: f64, place: f64) -> [f64; 4] {
        let (sin, cos) = (TAU * rate_hz * HOP_SECS * place).sin_cos();
        [1.0, place / self.length, cos, sin]
    }

    fn value(&self, fit: &Fit, place: f64) -> f64 {
        self.row(fit.rate_hz, place).iter().zip(&fit.unknowns).map(|(row, size)| row * size).sum()
    }

    fn squares(&self) -> f64 {
        self.each().map(|(_, y)| y * y).sum()
    }

    fn at(&self, rate_hz: f64) -> Option<Fit> {
        let mut sums = LeastSquares::new();
        self.each().for_each(|(place, y)| sums.add(&self.row(rate_hz, place), y));
        let (unknowns, explained) = sums.solve(4)?;
        Some(Fit { rate_hz, unknowns, left: (self.squares() - explained).max(0.0) })
    }

    /// The rate that leaves least; `None` where none in the range leaves less than its neighbours.
    fn best(&self) -> Option<Fit> {
        if self.count < LEAST_HEARD {
            return None;
        }
        let slowest = SCAN_HZ.0.max(LEAST_CYCLES / SCAN_STEP / (self.length * HOP_SECS));
        let steps = ((SCAN_HZ.1 / slowest).ln() / SCAN_STEP.ln()).floor();
        if steps < 2.0 {
            return None;
        }
        let rate = |step: usize| slowest * SCAN_STEP.powi(step as i32);
        let mut best: Option<(usize, Fit)> = None;
        for step in 0..=steps as usize {
            let fit = self.at(rate(step))?;
            if best.is_none_or(|(_, best)| fit.left < best.left) {
                best = Some((step, fit));
            }
        }
        let (step, mut best) = best.filter(|(step, _)| *step > 0 && *step < steps as usize)?;
        let mut by = 0.5 * (SCAN_STEP - 1.0) * rate(step);
        for _ in 0..LOOKS {
            let below = self.at(best.rate_hz - by)?;
            let above = self.at(best.rate_hz + by)?;
            let bend = below.left + above.left - 2.0 * best.left;
            let slope = 0.5 * (above.left - below.left);
            let shift = if bend > 0.0 { (-slope / bend).clamp(-1.0, 1.0) } else { -slope.signum() };
            best = self.at(best.rate_hz + shift * by)?;
            by *= 0.5;
        }
        Some(best)
    }

    /// Takes out the frames in which the ear slipped; `false` if there are none, or too many.
    fn drop_slips(&mut self, fit: &Fit) -> bool {
        let mut sizes = [0.0; MOST_FRAMES];
        for (size, (place, y)) in sizes.iter_mut().zip(self.each()) {
            *size = (y - self.value(fit, place)).abs();
        }
        let mut sorted = sizes;
        let sorted = &mut sorted[..self.count];
        let middling = *sorted.select_nth_unstable_by(self.count / 2, f64::total_cmp).1;
        let most = (SLIP * middling).max(SLIP_CENTS);
        let slips = sizes[..self.count].iter().filter(|size| **size > most).count();
        if slips == 0 || slips as f64 > MOST_SLIPS * self.count as f64 {
            return false;
        }
        let mut kept = 0;
        for (i, size) in sizes.iter().enumerate().take(self.count) {
            if *size <= most {
                (self.places[kept], self.cents[kept]) = (self.places[i], self.cents[i]);
                kept += 1;
            }
        }
        self.count = kept;
        true
    }

    /// The fit as a vibrato, with its doubts: the scatter of what is left, as far as one frame says more than the one
    /// before it.
    fn swing(&self, fit: &Fit) -> Option<ShortSwing> {
        let [constant, slope, cos, sin] = fit.unknowns;
        let mut sums = LeastSquares::<UNKNOWNS>::new();
        let mut lefts = [0.0; MOST_FRAMES];
        for (place, y) in self.each() {
            let [one, along, c, s] = self.row(fit.rate_hz, place);
            let steep = TAU * HOP_SECS * place * (sin * c - cos * s);
            sums.add(&[one, along, c, s, steep], y);
        }
        for (left, (place, y)) in lefts.iter_mut().zip(self.each()) {
            *left = y - self.value(fit, place);
        }
        let lefts = &lefts[..self.count];
        let count = self.count as f64;
        let alike = |lag: usize| {
            let products: f64 = lefts.iter().zip(&lefts[lag..]).map(|(a, b)| a * b).sum();
            products / fit.left.max(1e-12) * count / (count - lag as f64)
        };
        // The ear's noise hides how alike neighbours are, but it is none of its own some frames on.
        let later = (alike(APART_FRAMES) - BY_CHANCE).max(0.0).powf(1.0 / APART_FRAMES as f64);
        let kept = alike(1).max(later).clamp(0.0, MOST_KEPT);
        let values = count * (1.0 - kept) / (1.0 + kept);
        let scatter = fit.left / (values - UNKNOWNS as f64).max(2.0);
        let doubt = |of: [f64; UNKNOWNS]| {
            let solved = solve_normal(sums.normal, of, UNKNOWNS)?;
            let sum: f64 = of.iter().zip(solved).map(|(of, solved)| of * solved).sum();
            Some((scatter * sum.max(0.0)).sqrt())
        };
        let half = cos.hypot(sin);
        let width = 2.0 * half;
        let width_se = SLOW_SHARE * doubt([0.0, 0.0, 2.0 * cos / half, 2.0 * sin / half, 0.0])?;
        let period = 1.0 / (fit.rate_hz * HOP_SECS);
        let unseen = RATE_UNEVEN * (1.0 + period / self.length);
        let rate_se = unseen * doubt([0.0, 0.0, 0.0, 0.0, 1.0])?;
        let centre_se = SLOW_SHARE * doubt([1.0, 0.0, 0.0, 0.0, 0.0])?;
        Some(ShortSwing {
            rate: Measure::known(Hz(fit.rate_hz), Hz(rate_se.hypot(RATE_SHARE * fit.rate_hz))),
            width: Measure::known(
                Cents(width),
                Cents(width_se.hypot(WIDTH_CENTS).hypot(WIDTH_SHARE * width)),
            ),
            centre: Measure::known(
                Cents(self.origin + constant),
                Cents(centre_se.hypot(CENTRE_CENTS)),
            ),
            slope: slope / self.length,
            trough: self.middle + (sin.atan2(cos) + PI) / TAU * period,
            period,
            middle: self.middle,
        })
    }

    /// Whether what was fitted is a vibrato.
    fn is_vibrato(&self, fit: &Fit, swing: &ShortSwing) -> bool {
        let width = swing.width.value.get();
        let cycles = self.length / swing.period;
        if cycles < LEAST_CYCLES || width < LEAST_CENTS {
            return false;
        }
        let straight = StraightLine::through(self.each());
        let many = ((cycles - FEW.0) / (MANY.0 - FEW.0)).min(1.0);
        let share = FEW.1 + many * (MANY.1 - FEW.1);
        let most_rise = if cycles < 2.0 { MOST_RISE_FEW } else { MOST_RISE };
        fit.left <= (1.0 - share) * straight.left && fit.unknowns[1].abs() <= most_rise * width
    }
}
