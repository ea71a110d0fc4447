//! A stretch of sound without a stop: its pitch with the fingers' steps taken out of it.

use crate::change::{Awaited, Cut};
use crate::find_turns::find_turns;
use crate::fit::{Scanner, fit_sine};
use crate::measure::upper_median;
use crate::missing_changes::{self, place_missing_changes};
use crate::pitch_line::{ORIGIN, SURE_CONFIDENCE};
use crate::step::{Step, half_frames, step_at};
use crate::unison::Unison;
use pitch::{Frame, HOP_SECS};
use tuning::{Hz, Secs};

/// The rate is looked for once in so many frames.
const EVERY_FRAMES: usize = 4;
/// A sine tells the rate if it explains this share of the pitch's movement and is this wide, in cents.
const LEAST_SHARE: f64 = 0.6;
const LEAST_CENTS: f64 = 3.0;
/// Rates tried, in Hz, where the whole motion is too short for a sine.
const GUESSES_HZ: [f64; 10] = [8.0, 6.0, 4.5, 3.5, 2.5, 1.8, 1.3, 0.9, 0.6, 0.4];
/// At each look the rate goes this share of the way to what was found.
const FOLLOW_SHARE: f64 = 0.3;
/// A step is a change of finger if it is this large, in cents, and the pitch fits better with it by this factor. That
/// holds for a step that is expected...
const LEAST_STEP_CENTS: f64 = 50.0;
const LEAST_GAIN: f64 = 3.5;
/// ...which is one that differs from the step asked for by no more than so many cents, or this share of it, and comes
/// after this share of the oscillations that the finger was to make.
const OFF_STEP_CENTS: f64 = 45.0;
const OFF_SHARE: f64 = 0.3;
const EARLIEST_SHARE: f64 = 0.55;
/// If it comes sooner, or while the rate is not known yet, the pitch must fit better by this factor...
const BLIND_GAIN: f64 = 20.0;
/// ...and a step that is not expected at all must be this large, and the pitch must fit better by this factor.
const STRANGE_STEP_CENTS: f64 = 80.0;
const STRANGE_GAIN: f64 = 60.0;
/// No finger of one hand lies further away than this on a string, in cents.
const FARTHEST_FINGER_CENTS: f64 = 1_000.0;
/// The best place for a step is taken once no better one was found for this multiple of the frames that are looked at on
/// one side of it.
const SETTLED_SHARE: f64 = 1.0;
/// Frames on either side of a step that hear the finger on its way. Those of low notes hear more sound at once.
const GUARD_FRAMES: usize = 4;
const GUARD_LOW_FRAMES: usize = 6;
const LOW_HZ: f64 = 150.0;
/// It may be on its way for so many frames more, as long as the pitch strays from the motion by this share of the step,
/// and by so many cents.
const STRAYS_SHARE: f64 = 0.02;
const STRAYS_CENTS: f64 = 2.0;
const WAY_FRAMES: usize = 4;
/// Where a change was looked for again, the finger comes where the pitch moves by this share of the step from so many frames
/// before to as many behind.
const STEEP_FRAMES: usize = 3;
const STEEP_SHARE: f64 = 0.7;
/// A frame that lies so far, in cents, from the middle of those around it, so many on either side, is a slip of the ear.
const SLIP_CENTS: f64 = 300.0;
const SLIP_REACH_FRAMES: usize = 7;
/// A leap by more than this, in cents, is a slip unless it lasts for so many frames.
const LEAP_CENTS: f64 = 900.0;
const LONGEST_SLIP_FRAMES: usize = 30;
/// At the start a slip may last longer: the first half of so many frames is held against the second.
const SETTLED_BY_FRAMES: usize = 36;
/// How loud a sound was before it ended: its level between so many frames before the end and so many.
const LOUD_FRAMES: (usize, usize) = (80, 30);
/// It has faded once it is so many decibels lower, and rings on in the room if that lasts for more frames than this.
const FADED_DB: f64 = 6.0;
const FADES_FRAMES: usize = 6;

/// A stretch of sound without a stop.
pub struct Stretch {
    /// Number of its first frame in the stream.
    pub first: i64,
    /// Pitch in cents above 440 Hz, as heard; held where none was heard.
    pub cents: Vec<f64>,
    /// The same with the fingers' steps taken out.
    pub flat: Vec<f64>,
    /// Whether the frame has a pitch that counts.
    pub heard: Vec<bool>,
    /// The same, before changes of finger were found.
    sure: Vec<bool>,
    /// Level of each frame, in dBFS.
    levels: Vec<f64>,
    /// Changes of finger.
    pub cuts: Vec<Cut>,
    /// Steps where another finger takes over the same note, once the sound is over.
    unisons: Vec<Cut>,
    /// Places of all of these.
    places: Vec<usize>,
    /// The sound has ended.
    pub over: bool,
    /// Rate of the motion as it was known at each certain frame; 0 before it was.
    rates: Vec<f64>,
    shift: f64,
    rate_hz: Option<f64>,
    width: f64,
    /// Frames in a row that leapt away.
    leapt: usize,
    /// Best place for a step so far.
    best: Option<(usize, Step)>,
    /// Frames before this are certain.
    safe: usize,
}

impl Stretch {
    pub(crate) fn new(first: i64, rate_hz: Option<f64>) -> Self {
        Self {
            first,
            cents: Vec::new(),
            flat: Vec::new(),
            heard: Vec::new(),
            sure: Vec::new(),
            levels: Vec::new(),
            cuts: Vec::new(),
            unisons: Vec::new(),
            places: Vec::new(),
            over: false,
            rates: Vec::new(),
            shift: 0.0,
            rate_hz,
            width: 0.0,
            leapt: 0,
            best: None,
            safe: 0,
        }
    }

    /// Time of a place in it, in frames from its first.
    pub fn secs(&self, at: f64) -> Secs {
        Secs((self.first as f64 + at) * HOP_SECS)
    }

    /// Frames up to which the motion is known by now.
    pub fn known(&self) -> usize {
        self.safe
    }

    /// Rate of the motion as it was known at each of those frames; 0 before it was.
    pub(crate) fn rates(&self) -> &[f64] {
        &self.rates
    }

    /// Where the fingers change, in frames from the first.
    pub(crate) fn places(&self) -> &[usize] {
        &self.places
    }

    /// Rate of the motion by now.
    pub fn rate(&self) -> Option<Hz> {
        self.rate_hz.map(Hz)
    }

    /// The same, once a motion was measured in it.
    pub(crate) fn measured_rate_hz(&self) -> Option<f64> {
        self.rate_hz.filter(|_| self.width > 0.0)
    }

    /// Counts frame `number` of the stream after all, if it has a pitch: it was taken for silence before.
    pub(crate) fn hear_again(&mut self, number: i64, frame: &Frame) {
        let at = (number - self.first) as usize;
        if at >= self.flat.len() {
            return;
        }
        if let Some(f0) = frame.f0.filter(|_| frame.confidence > SURE_CONFIDENCE) {
            self.cents[at] = f0.cents_above(ORIGIN).get();
            self.flat[at] = self.cents[at] - self.shift;
            (self.heard[at], self.sure[at]) = (true, true);
        }
    }

    /// Takes in the next frame. One without a pitch that counts holds the pitch before it; before the first pitch of all
    /// the stretch has not begun.
    pub(crate) fn push(&mut self, frame: &Frame, sounding: bool) {
        let held = self.cents.last().copied();
        let pitch = |f0: &Hz| f0.cents_above(ORIGIN).get();
        // A leap by an octave or more is a slip of the ear, unless it lasts.
        let leaps = |cents: f64| held.is_some_and(|held| (cents - held).abs() > LEAP_CENTS);
        let leapt = self.heard.len() > SETTLED_BY_FRAMES
            && frame.f0.as_ref().is_some_and(|f0| leaps(pitch(f0)));
        self.leapt = if leapt { self.leapt + 1 } else { 0 };
        let slips = leapt && self.leapt < LONGEST_SLIP_FRAMES;
        let sure = frame.f0.filter(|_| frame.confidence > SURE_CONFIDENCE && sounding && !slips);
        let cents = sure.as_ref().map(pitch).or(held);
        let Some(cents) = cents else {
            self.first += 1;
            return;
        };
        self.cents.push(cents);
        self.flat.push(cents - self.shift);
        self.heard.push(sure.is_some());
        self.sure.push(sure.is_some());
        self.levels.push(frame.level_dbfs);
    }

    /// Takes frame `at` out if it is a slip of the ear.
    fn mend(&mut self, at: usize) {
        let from = at.saturating_sub(SLIP_REACH_FRAMES);
        let mut near = [0.0; 2 * SLIP_REACH_FRAMES + 1];
        let part = &self.cents[from..(from + near.len()).min(self.cents.len())];
        let near = &mut near[..part.len()];
        near.copy_from_slice(part);
        near.sort_unstable_by(f64::total_cmp);
        let middle = near[near.len() / 2];
        if (self.cents[at] - middle).abs() > SLIP_CENTS {
            self.unhear(at, middle);
        }
    }

    /// Takes this for the pitch of a frame, which does not count any more.
    fn unhear(&mut self, at: usize, cents: f64) {
        (self.cents[at], self.flat[at]) = (cents, cents - self.shift);
        (self.heard[at], self.sure[at]) = (false, false);
    }

    /// Takes a slip by an octave or so at the very start out, which may be longer.
    fn mend_start(&mut self) {
        let mut later = [0.0; SETTLED_BY_FRAMES / 2];
        later.copy_from_slice(&self.cents[SETTLED_BY_FRAMES / 2..SETTLED_BY_FRAMES]);
        later.sort_unstable_by(f64::total_cmp);
        let middle = later[later.len() / 2];
        for i in 0..SETTLED_BY_FRAMES - later.len() {
            if (self.cents[i] - middle).abs() > 2.0 * SLIP_CENTS {
                self.unhear(i, middle);
            }
        }
    }

    /// Frames on either side of a step there that hear the finger on its way.
    fn guard(&self, at: usize) -> usize {
        let low = 1200.0 * (LOW_HZ / ORIGIN.get()).log2();
        if self.cents.get(at).is_some_and(|cents| *cents < low) {
            GUARD_LOW_FRAMES
        } else {
            GUARD_FRAMES
        }
    }

    /// Goes on to the newest frame.
    pub(crate) fn advance(&mut self, scanner: &Scanner, awaited: Option<Awaited>) {
        let length = self.flat.len();
        if let Some(at) = length.checked_sub(SLIP_REACH_FRAMES + 1) {
            if at == SLIP_REACH_FRAMES {
                (0..at).for_each(|early| self.mend(early));
            }
            self.mend(at);
            if length == SETTLED_BY_FRAMES {
                self.mend_start();
            }
        }
        let half = half_frames(self.rate_hz);
        let guard = self.guard(length.saturating_sub(1));
        let mut certain = length.saturating_sub(half + guard);
        let at = certain;
        let step = step_at(&self.flat, &self.heard, at, guard, self.rate_hz);
        if let Some(step) = step.filter(|step| self.is_change(step, at, awaited))
            && self.best.is_none_or(|(_, best)| step.gain > best.gain)
        {
            self.best = Some((at, step));
        }
        if let Some((place, step)) = self.best {
            if at as f64 >= place as f64 + SETTLED_SHARE * half as f64 {
                self.cut(place, &step);
            } else {
                certain = certain.min(place);
            }
        }
        // Frames that were certain stay so, also where a step that is found now reaches a little back among them.
        self.safe = self.safe.max(certain);
        if length.is_multiple_of(EVERY_FRAMES) {
            self.look(scanner, self.safe);
        }
        self.rates.resize(self.safe, self.rate_hz.unwrap_or(0.0));
    }

    /// Whether `step` is a change of finger.
    fn is_change(&self, step: &Step, at: usize, awaited: Option<Awaited>) -> bool {
        if step.cents.abs() < LEAST_STEP_CENTS || step.gain < LEAST_GAIN {
            return false;
        }
        let since = self.cuts.last().map_or(0, |cut| cut.at);
        let cycles = self.rate_hz.map(|hz| (at - since) as f64 * HOP_SECS * hz);
        let expected = awaited.is_some_and(|awaited| {
            let size = awaited.step.get();
            size != 0.0
                && (step.cents - size).abs() < OFF_STEP_CENTS.max(OFF_SHARE * size.abs())
                && (step.gain > BLIND_GAIN
                    || cycles.is_some_and(|cycles| cycles > EARLIEST_SHARE * awaited.cycles))
        });
        let strange = STRANGE_STEP_CENTS..FARTHEST_FINGER_CENTS;
        expected || (step.gain > STRANGE_GAIN && strange.contains(&step.cents.abs()))
    }

    /// Takes a step at `at` out of the pitch.
    fn cut(&mut self, at: usize, step: &Step) {
        self.best = None;
        // The new finger begins where the pitch has gone half of the step.
        let guard = self.guard(at);
        let half_way = |i: &usize| {
            let gone = self.flat[*i] - step.flat(*i as f64 - at as f64);
            gone / step.cents >= 0.5
        };
        let to = (at + guard).min(self.flat.len());
        let near = (at.saturating_sub(guard)..(to + 2).min(self.flat.len())).find(half_way);
        let (place, at) = (at, near.unwrap_or(at));
        self.places.push(at);
        self.cuts.push(Cut { at, cents: step.cents, gain: step.gain });
        self.shift += step.cents;
        for flat in &mut self.flat[at..] {
            *flat -= step.cents;
        }
        // While the finger is on its way the pitch says nothing of the motion: it is taken from the fit around the step.
        let (mut from, mut to) = (place.saturating_sub(guard), to);
        let strays = |i: usize| {
            let away = (self.flat[i] - step.flat(i as f64 - place as f64)).abs();
            away > (STRAYS_SHARE * step.cents.abs()).max(STRAYS_CENTS)
        };
        let (first, last) =
            (from.saturating_sub(WAY_FRAMES), (to + WAY_FRAMES).min(self.flat.len()));
        while from > first && strays(from - 1) {
            from -= 1;
        }
        while to < last && strays(to) {
            to += 1;
        }
        for i in from..to {
            self.heard[i] = false;
            self.flat[i] = step.flat(i as f64 - place as f64);
        }
    }

    /// Looks for the rate in the newest frames before `end`.
    fn look(&mut self, scanner: &Scanner, end: usize) {
        let Some((rate_hz, share)) = scanner.scan(&self.flat[..end]) else {
            return;
        };
        if share < LEAST_SHARE {
            return;
        }
        let Some(sine) = fit_sine(&self.flat[..end], &self.heard[..end], rate_hz) else {
            return;
        };
        if sine.share < LEAST_SHARE || sine.width < LEAST_CENTS {
            return;
        }
        match self.rate_hz {
            Some(rate_hz) if self.width > 0.0 => {
                self.rate_hz = Some(rate_hz * (sine.rate_hz / rate_hz).powf(FOLLOW_SHARE));
                self.width += FOLLOW_SHARE * (sine.width - self.width);
            }
            _ => (self.rate_hz, self.width) = (Some(sine.rate_hz), sine.width),
        }
    }

    /// The rate of a motion too short for a sine: the one at which as many turns are found as it would make.
    fn guess(&self) -> Option<f64> {
        let secs = self.flat.len() as f64 * HOP_SECS;
        let odd = |rate: f64| {
            let mut turns = Vec::new();
            find_turns(&self.flat, &vec![rate; self.flat.len()], true, &mut turns);
            let (first, last) = (turns.first()?, turns.last()?);
            let made = if turns.len() > 1 {
                0.5 * (turns.len() - 1) as f64 / ((last.at - first.at) * HOP_SECS)
            } else {
                0.5 / secs
            };
            Some((rate / made).ln().abs())
        };
        let tried = GUESSES_HZ.iter().filter_map(|rate| Some((*rate, odd(*rate)?)));
        let (rate, odd) = tried.min_by(|a, b| a.1.total_cmp(&b.1))?;
        (odd < 0.5).then_some(rate)
    }

    /// The sound has ended before frame `end`.
    pub(crate) fn close(&mut self, end: usize, scanner: &Scanner, awaited: &[Awaited]) {
        let end = self.end_by_level(end.min(self.flat.len()));
        if let Some((place, step)) = self.best
            && place + GUARD_LOW_FRAMES < end
        {
            self.cut(place, &step);
        }
        self.cents.truncate(end);
        self.flat.truncate(end);
        self.heard.truncate(end);
        self.sure.truncate(end);
        self.levels.truncate(end);
        self.cuts.retain(|cut| cut.at < end);
        self.places.retain(|at| *at < end);
        (end.saturating_sub(SLIP_REACH_FRAMES)..end).for_each(|late| self.mend(late));
        if self.width == 0.0 {
            self.look(scanner, end);
        }
        if self.rate_hz.is_none() {
            self.rate_hz = self.guess();
        }
        let rate_hz = self.rate_hz.unwrap_or(0.0);
        if self.rates.iter().all(|known| *known == 0.0) {
            self.rates.clear();
        }
        self.rates.resize(end, rate_hz);
        self.safe = end;
        self.over = true;
        self.mend_slips();
        self.end_unsure();
        let settled = place_missing_changes(&self.cents, &self.sure, rate_hz, &self.cuts, awaited);
        if let Some(cuts) = settled {
            self.set_cuts(cuts);
        }
        let same = awaited.iter().filter(|awaited| awaited.step.get() == 0.0);
        self.take_unisons_out(same.count(), rate_hz);
    }
}

impl Stretch {
    /// Where the bow left the string, in a sound that ends before frame `end`. In a room it rings on after that, and
    /// holds the pitch it had.
    fn end_by_level(&self, end: usize) -> usize {
        let span = end.saturating_sub(LOUD_FRAMES.0)..end.saturating_sub(LOUD_FRAMES.1);
        let Some(loud) = upper_median(self.levels[span].to_vec()) else {
            return end;
        };
        let from = end - LOUD_FRAMES.1;
        let left = (from..end).rev().take_while(|i| self.levels[*i] < loud - FADED_DB).count();
        if left > FADES_FRAMES { end - left + FADES_FRAMES / 2 } else { end }
    }

    /// Takes out the frames in which the ear was an octave or more off.
    fn mend_slips(&mut self) {
        let sure = (0..self.cents.len()).filter(|i| self.sure[*i]);
        let Some(middle) = upper_median(sure.map(|i| self.cents[i]).collect()) else {
            return;
        };
        for i in 1..self.cents.len() {
            if (self.cents[i] - middle).abs() > FARTHEST_FINGER_CENTS {
                (self.cents[i], self.flat[i]) = (self.cents[i - 1], self.flat[i - 1]);
                (self.heard[i], self.sure[i]) = (false, false);
            }
        }
    }

    /// Takes out the small steps between two fingers on the same note, `count` at most.
    fn take_unisons_out(&mut self, count: usize, rate_hz: f64) {
        if count == 0 || rate_hz <= 0.0 || self.flat.len() > missing_changes::LONGEST_FRAMES {
            return;
        }
        let unison = Unison { flat: &self.flat, heard: &self.heard, rate_hz };
        self.unisons = unison.steps(count);
        for step in &self.unisons {
            self.flat[step.at..].iter_mut().for_each(|cents| *cents -= step.cents);
            let guard = self.guard(step.at);
            let (from, to) = (step.at - guard.min(step.at), step.at + guard);
            let to = to.min(self.heard.len());
            self.heard[from..to].fill(false);
            self.places.push(step.at);
        }
        self.places.sort_unstable();
    }

    /// All steps of the pitch that are taken out of `flat`.
    pub(crate) fn steps(&self) -> impl Iterator<Item = &Cut> {
        self.cuts.iter().chain(&self.unisons)
    }

    /// The last frames hear the sound fade, and say nothing of the motion.
    fn end_unsure(&mut self) {
        let guard = self.guard(self.cents.len().saturating_sub(1));
        let from = self.heard.len().saturating_sub(guard);
        self.heard[from..].iter_mut().for_each(|heard| *heard = false);
    }

    /// The place near that of a change at which the pitch moves most in a few frames, if that is most of the step;
    /// otherwise the place as it was found.
    fn steepest(&self, cut: &Cut) -> usize {
        let guard = self.guard(cut.at);
        let moves = |i: usize| {
            let (before, after) = (i.checked_sub(STEEP_FRAMES)?, i + STEEP_FRAMES);
            Some((self.cents.get(after)? - self.cents[before]) / cut.cents)
        };
        let near = cut.at.saturating_sub(2 * guard)..=cut.at + 2 * guard;
        let each = near.filter_map(|i| Some((i, moves(i)?)));
        let most = each.max_by(|a, b| a.1.total_cmp(&b.1));
        most.filter(|(_, share)| *share >= STEEP_SHARE).map_or(cut.at, |(at, _)| at)
    }

    /// Takes these changes instead of those that were heard. Those that were looked for again are put where the pitch
    /// itself steps, if that is to be seen.
    fn set_cuts(&mut self, mut cuts: Vec<Cut>) {
        for cut in &mut cuts {
            if !self.cuts.contains(cut) {
                cut.at = self.steepest(cut);
            }
        }
        self.heard.clone_from(&self.sure);
        self.end_unsure();
        self.flat.clone_from(&self.cents);
        for cut in &cuts {
            self.flat[cut.at..].iter_mut().for_each(|cents| *cents -= cut.cents);
        }
        for cut in &cuts {
            let guard = self.guard(cut.at);
            let (from, to) =
                (cut.at.saturating_sub(guard), (cut.at + guard).min(self.flat.len() - 1));
            let (first, last) = (self.flat[from], self.flat[to]);
            for i in from..to {
                self.flat[i] = first + (last - first) * (i - from) as f64 / (to - from) as f64;
                self.heard[i] = false;
            }
        }
        self.places = cuts.iter().map(|cut| cut.at).collect();
        self.cuts = cuts;
    }
}
