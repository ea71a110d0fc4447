//! How unlike a bowed note a note is, by its pitch, its harmonics and its level alone.
//!
//! A bow keeps a string in even motion, and the string sounds through a body with many narrow resonances. What is none of
//! that shows it. In **speech** the pitch never rests, and the mouth changes its shape within a syllable, so that some
//! harmonics rise while others fall. A **voice** or a **horn** has few and wide resonances, so that neighbouring harmonics
//! are about equally strong. A **closed pipe** lacks every other harmonic. A string or a bar that was **struck or plucked**
//! is loudest at once and falls evenly from there; and the stiffer it is, the sharper are its upper harmonics, while a bow
//! holds them all in step. **Mains hum** does not move at all. Each sign that is clear counts 1, and they are added up.
//! The bounds come from sampled and recorded bows on one side, made speech and sampled instruments on the other.

use crate::pitch_line::PitchLine;
use crate::straight_line::StraightLine;
use pitch::{HOP_SECS, Harmonic};
use std::collections::VecDeque;
use std::ops::Range;
use tuning::Hz;

/// Harmonics that are looked at, and the highest frequency of one, in Hz.
const HARMONICS: usize = 20;
const HIGHEST_HZ: f64 = 7_000.0;
/// Harmonics so far below the strongest are none: among those that are compared with their neighbours, among those whose
/// change is looked at, and among those that say how stiff the string is.
const FAINT_DB: f64 = 45.0;
const CHANGING_DB: f64 = 35.0;
const STIFF_POWER: f64 = 1e-4;
/// One that lies so far from the others is another sound.
const APART_CENTS: f64 = 60.0;
/// Fewer harmonics say nothing of the body.
const BODY_HARMONICS: usize = 12;
/// Frames of the middle of a note at least, and the most of which the stiffness is a median.
const LEAST_FRAMES: usize = 8;
const STIFF_FRAMES: usize = 400;
/// A pitch leaps if it changes by so much from one frame to the next.
const LEAP_CENTS: f64 = 25.0;
/// No syllable lasts longer; a note that does may well move as a whole, as in a wide and slow vibrato.
const SYLLABLE_SECS: f64 = 1.2;
/// What is struck is loudest within this time, and is looked at if it lasts so long; short notes could be a hard stroke.
const STRUCK_SECS: f64 = 0.1;
const RINGS_SECS: f64 = 0.25;
const STROKE_SECS: f64 = 0.6;
const STROKE_WEIGHT: f64 = 0.8;
/// A note with a vibrato wider than this was not struck.
const SWINGS_CENTS: f64 = 8.0;
/// The mains and their octave; hum keeps to them so near, for so long, and moves so little.
const MAINS: [Hz; 4] = [Hz(50.0), Hz(60.0), Hz(100.0), Hz(120.0)];
const HUM_CENTS: f64 = 10.0;
const HUM_SECS: f64 = 1.0;
const HUM_STRAYS_CENTS: f64 = 0.7;
const HUM_STRAYS_DB: f64 = 2.0;
/// No sum of signs is greater.
const MOST: f64 = 2.0;

/// What the harmonics of one frame say.
#[derive(Clone, Copy, Default)]
struct Partials {
    /// The power of each; all 0 without a pitch.
    power: [f32; HARMONICS],
    /// By how many cents a harmonic lies too high, for the square of its number.
    stiffness: f32,
}

impl Partials {
    fn of(harmonics: &[Harmonic]) -> Self {
        let mut partials = Self::default();
        for (power, harmonic) in partials.power.iter_mut().zip(harmonics) {
            *power = harmonic.power as f32;
        }
        let strongest = harmonics.iter().map(|h| h.power).fold(0.0, f64::max);
        let heard = harmonics.iter().take(HARMONICS).enumerate().filter(|(_, h)| {
            h.power > STIFF_POWER * strongest && h.apart_cents.abs() < APART_CENTS
        });
        let points = heard.map(|(k, h)| (((k + 1) * (k + 1)) as f64, h.apart_cents));
        if points.clone().count() > 3 {
            partials.stiffness = StraightLine::through(points).slope as f32;
        }
        partials
    }
}

/// The harmonics of the frames of the sounding note.
pub(crate) struct Harmonics {
    /// Number of the oldest frame.
    first: i64,
    frames: VecDeque<Partials>,
}

impl Harmonics {
    /// Room for `most` frames.
    pub(crate) fn new(most: usize) -> Self {
        Self { first: 0, frames: VecDeque::with_capacity(most) }
    }

    /// Takes in those of frame `number`; frames before `needed` are not asked for any more.
    pub(crate) fn push(&mut self, number: i64, harmonics: &[Harmonic], needed: i64) {
        if self.first + self.frames.len() as i64 != number {
            self.frames.clear();
            self.first = number;
        }
        while !self.frames.is_empty()
            && (self.first < needed || self.frames.len() == self.frames.capacity())
        {
            self.frames.pop_front();
            self.first += 1;
        }
        if self.frames.is_empty() {
            self.first = number;
        }
        self.frames.push_back(Partials::of(harmonics));
    }

    /// Of these frames of the line: the share of the power in harmonics that are multiples of neither number.
    pub(crate) fn beside(
        &self,
        line: &PitchLine,
        frames: Range<usize>,
        (one, other): (usize, usize),
    ) -> f64 {
        let (mut beside, mut all) = (0.0, 0.0);
        for partials in self.of(line, &frames) {
            for (number, power) in (1..).zip(partials.power) {
                let is_either: bool = number % one == 0 || number % other == 0;
                all += power;
                beside += if is_either { 0.0 } else { power };
            }
        }
        f64::from(beside / all)
    }

    /// Those of these frames of the line that have a pitch.
    fn of(
        &self,
        line: &PitchLine,
        frames: &Range<usize>,
    ) -> impl Iterator<Item = &Partials> + Clone {
        let place = |frame: usize| {
            let place = line.first + frame as i64 - self.first;
            usize::try_from(place).unwrap_or(0).min(self.frames.len())
        };
        let all = self.frames.range(place(frames.start)..place(frames.end));
        all.filter(|partials| partials.power[0] > 0.0)
    }
}

/// A note that has ended.
pub(crate) struct Ended<'a> {
    /// Its frames.
    pub line: &'a PitchLine,
    /// How many of them are its own.
    pub end: usize,
    /// What they were made of.
    pub harmonics: &'a Harmonics,
    /// Its pitch.
    pub f0: Hz,
    /// Width of its vibrato, in cents; 0 without.
    pub width: f64,
    /// Two strings sounded, which only a bow makes last: its pitch leaps, and its harmonics are those of both.
    pub two_strings: bool,
}

impl Ended<'_> {
    /// How unlike a bowed note it is: 0 if nothing speaks against a bow, 1 if one clear sign does, at most 2.
    pub(crate) fn unlike_bow(&self) -> f64 {
        if self.two_strings {
            return 0.0;
        }
        let (from, to) = ((self.end / 6).clamp(4, 20), (self.end / 8).clamp(4, 12));
        let middle = from..self.end.saturating_sub(to);
        let heard = middle.clone().filter(|i| self.line.heard[*i]).count();
        let voiced = self.harmonics.of(self.line, &middle);
        if heard < LEAST_FRAMES || voiced.clone().count() < LEAST_FRAMES {
            return MOST;
        }
        let of_pitch = self.of_pitch(&middle);
        let of_harmonics = self.of_harmonics(voiced);
        (of_pitch + of_harmonics + self.of_level(&middle)).min(MOST)
    }

    fn secs(&self) -> f64 {
        self.end as f64 * HOP_SECS
    }

    /// Its pitch through these frames, over seconds.
    fn pitch(&self, middle: &Range<usize>) -> StraightLine {
        let heard = middle.clone().filter(|i| self.line.heard[*i]);
        StraightLine::through(heard.map(|i| (i as f64 * HOP_SECS, self.line.cents[i])))
    }

    /// Signs that the pitch never rests, as in speech.
    fn of_pitch(&self, middle: &Range<usize>) -> f64 {
        let pitch = self.pitch(middle);
        let glides = if self.secs() < SYLLABLE_SECS {
            share(pitch.slope.abs(), 80.0, 480.0, 1.5)
        } else {
            0.0
        };
        let both = |i: &usize| self.line.heard[*i] && self.line.heard[*i + 1];
        let step = |i: &usize| (self.line.cents[*i + 1] - self.line.cents[*i]).abs();
        let pairs = middle.start..middle.end - 1;
        let leaps = pairs.filter(both).filter(|i| step(i) > LEAP_CENTS).count() as f64;
        glides + share(leaps / pitch.count, 0.0, 0.33, 1.0)
    }

    /// Signs that its harmonics are those of a mouth, a horn, a pipe or a stiff string.
    fn of_harmonics<'b>(&self, voiced: impl Iterator<Item = &'b Partials> + Clone) -> f64 {
        let used = ((HIGHEST_HZ / self.f0.get()) as usize).clamp(1, HARMONICS);
        let count = voiced.clone().count();
        let early = levels(voiced.clone().take(count / 2));
        let late = levels(voiced.clone().skip(count / 2));
        let all = levels(voiced.clone());
        let strongest = all[..used].iter().copied().fold(f64::NEG_INFINITY, f64::max);
        // In speech some rise while others fall.
        let strong = (0..used).filter(|k| all[*k] > strongest - CHANGING_DB);
        let number = strong.clone().count() as f64;
        let mean = strong.clone().map(|k| late[k] - early[k]).sum::<f64>() / number;
        let changes = strong.map(|k| (late[k] - early[k] - mean).abs()).sum::<f64>() / number;
        let syllable = self.secs() < SYLLABLE_SECS;
        let mut signs = if syllable { share(changes, 3.0, 8.0, 1.5) } else { 0.0 };
        let heard = |k: usize| all[k] > strongest - FAINT_DB;
        let known = (0..used).filter(|k| heard(*k)).count();
        if let Some(uneven) = unevenness(&all[..used], heard) {
            if known >= BODY_HARMONICS {
                signs += share(-uneven, -2.65, -2.15, 1.2);
            }
            signs += share(uneven, 10.0, 15.0, 1.2);
        }
        let sharp = stiffness(voiced) * (known * known) as f64;
        signs + share(sharp, 5.0, 11.0, 1.2)
    }

    /// Signs that its level is that of something struck, or of hum.
    fn of_level(&self, middle: &Range<usize>) -> f64 {
        let level = StraightLine::through_even(self.line.level[middle.clone()].iter().copied());
        let (fall, beside) = (-level.slope / HOP_SECS, (level.left / level.count).sqrt());
        // The last part may hold the attack of the note that follows.
        let first = &self.line.level[..(self.end * 7 / 10).max(1)];
        let loudest = (0..first.len()).max_by(|a, b| first[*a].total_cmp(&first[*b]));
        let at_once = loudest.is_some_and(|at| (at as f64) * HOP_SECS < STRUCK_SECS);
        let mut signs = 0.0;
        if at_once && self.secs() > RINGS_SECS && self.width < SWINGS_CENTS {
            let weight = if self.secs() > STROKE_SECS { 1.0 } else { STROKE_WEIGHT };
            signs += weight * share(fall, 2.5, 7.5, 1.0) * share(-beside, -1.5, -0.5, 1.0);
        }
        let pitch = self.pitch(middle);
        let still = (pitch.left / pitch.count).sqrt() < HUM_STRAYS_CENTS && beside < HUM_STRAYS_DB;
        let mains = MAINS.iter().any(|mains| self.f0.cents_above(*mains).get().abs() < HUM_CENTS);
        if mains && still && self.secs() > HUM_SECS {
            signs += 1.2;
        }
        signs
    }
}

/// 0 up to `from`, 1 at `to`, and so on up to `most`.
fn share(value: f64, from: f64, to: f64, most: f64) -> f64 {
    ((value - from) / (to - from)).clamp(0.0, most)
}

/// The mean level of each harmonic, in dB.
fn levels<'a>(frames: impl Iterator<Item = &'a Partials>) -> [f64; HARMONICS] {
    let (mut sums, mut count) = ([0.0; HARMONICS], 0.0_f64);
    for partials in frames {
        count += 1.0;
        for (sum, power) in sums.iter_mut().zip(partials.power) {
            *sum += f64::from(power);
        }
    }
    sums.map(|sum| 10.0 * (sum / count.max(1.0) + 1e-12).log10())
}

/// By how much a harmonic differs from the mean of its neighbours, in dB; `None` where too few have both.
fn unevenness(levels: &[f64], heard: impl Fn(usize) -> bool) -> Option<f64> {
    let (mut sum, mut count) = (0.0, 0.0);
    for k in 1..levels.len().saturating_sub(1) {
        if heard(k - 1) && heard(k) && heard(k + 1) {
            sum += (levels[k] - 0.5 * (levels[k - 1] + levels[k + 1])).abs();
            count += 1.0;
        }
    }
    (count > 2.0).then(|| sum / count)
}

/// The median stiffness.
fn stiffness<'a>(frames: impl Iterator<Item = &'a Partials>) -> f64 {
    let (mut values, mut count) = ([0.0_f32; STIFF_FRAMES], 0);
    for (value, partials) in values.iter_mut().zip(frames) {
        *value = partials.stiffness;
        count += 1;
    }
    f64::from(*values[..count].select_nth_unstable_by(count / 2, f32::total_cmp).1)
}
