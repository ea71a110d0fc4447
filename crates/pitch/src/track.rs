//! The tracker: samples in, frames out.

use crate::chord::Chord;
use crate::coarse::{Found, MULTIPLES, Search};
use crate::confidence::{Evidence, confidence};
use crate::front::{COARSE_RATE, FINE_FACTOR, FINE_HOP, FINE_RATE, Front, decibels, dot};
use crate::known::Known;
use crate::refine::{Harmonic, Point, Refiner, half_window_secs};
use crate::rise::Rise;
use crate::still_string::StillString;
use crate::{Frame, HOP, HOP_SECS, SAMPLE_RATE};
use std::collections::VecDeque;
use tuning::{Cents, Hz, Secs};

/// The pitches the tracker can be asked for.
pub const LOWEST: Hz = Hz(30.0);
/// See [`LOWEST`].
pub const HIGHEST: Hz = Hz(2_700.0);

/// Similarity of neighbouring periods below which there is no pitch.
const LEAST_SIMILARITY: f64 = 0.6;
/// Share of half a window over which the coarse track may be held on beyond its newest point.
const HELD_SHARE: f64 = 0.35;
/// Points of the coarse track that are kept: more than any window and delay need.
const POINTS: usize = 64;
/// Neighbouring points further apart than this belong to different notes.
const LEAP_OCTAVES: f64 = 0.1;
/// A frame this close to a lone coarse point has a pitch.
const NEAR_SECS: f64 = 0.004;
/// Above this a window holds many periods, and the power between harmonics alone can be believed;
/// below, the sound must also repeat better at the longer period.
const MANY_PERIODS_HZ: f64 = 500.0;
/// Votes that decide, of frames that find power between the harmonics of the coarse pitch; frames
/// at the start that each vote, then every so many.
const VOTES: i32 = 3;
/// Votes at the start of a note, after a rest and after another note.
const FIRST_VOTES: i32 = -3;
const LATER_VOTES: i32 = -6;
/// A leap this near to an octave, a twelfth or two octaves above is taken for a slip. While another note may ring on it is
/// one only if the lower pitch was told for so many frames: else that was the slip.
const SLIP_OCTAVES: f64 = 0.06;
const NOTE_FRAMES: usize = 24;
const EAGER: usize = 8;
/// The longest gap that is believed: 2^40 samples.
const MOST_LOST: i64 = 1 << 40;
/// Of a longer gap than this, in samples, the rest is passed over: 1 s.
const LONG_GAP: i64 = SAMPLE_RATE as i64;
/// Lost stretches remembered.
const HOLES: usize = 8;
/// Span over which the level is taken, in fine samples: 20 ms.
const LEVEL_SPAN: i64 = 480;
/// The level below which no pitch is looked for lies this far above the measured floor, within bounds.
const ABOVE_FLOOR_DB: f64 = 6.0;
const GATE_BOUNDS_DBFS: (f64, f64) = (-80.0, -50.0);
/// Frames from one look for two strings to the next, and frames of one note before the first, beyond the
/// spectrum's own length.
const LOOK_EVERY: i64 = 8;
const LOOK_MARGIN: usize = 12;
/// Frames whose levels a frame is compared with: 0.12 s.
const RECENT: usize = 24;
/// How fast the floor follows sound that has no pitch, per hop.
const FLOOR_RATE: f64 = 0.01;

/// Samples to frames, one each 5 ms, a few hundredths of a second late.
///
/// Same samples, same frames, whatever the size of the blocks they come in.
pub struct Tracker {
    front: Front,
    search: Search,
    refiner: Refiner,
    hop: [f32; HOP],
    filled: usize,
    /// What each hop found, newest last; the number of the newest hop.
    points: VecDeque<Option<Found>>,
    hops: i64,
    /// Number of the next frame to be told.
    next: i64,
    /// Samples pushed or skipped so far.
    heard: i64,
    lost: i64,
    /// Samples taken for silence since the last that were heard.
    silent: i64,
    holes: VecDeque<(i64, i64)>,
    finished: bool,
    /// The sound has ended before the newest hop does.
    over: bool,
    floor_dbfs: f64,
    track: Vec<Point>,
    octave: Octave,
    rise: Rise,
    chord: Chord,
    still: StillString,
    /// The pitches last told, newest last, for the chord's look.
    told: VecDeque<f64>,
    low_hz: f64,
    high_hz: f64,
    levels: VecDeque<f64>,
    known: Known,
}

/// What is known of the true pitch being the coarse one divided by a whole number.
#[derive(Clone, Copy)]
struct Octave {
    divisor: usize,
    votes: [i32; MULTIPLES.len()],
    frames: usize,
    hz: f64,
    /// The pitch last told; 0 after a rest.
    told_hz: f64,
}

impl Default for Octave {
    fn default() -> Self {
        Self { divisor: 1, votes: [FIRST_VOTES; MULTIPLES.len()], frames: 0, hz: 1.0, told_hz: 0.0 }
    }
}

impl Tracker {
    /// A tracker for pitches from `low` to `high`, which are brought within [`LOWEST`] and
    /// [`HIGHEST`]; the narrower, the fewer octaves can be mistaken.
    pub fn new(low: Hz, high: Hz) -> Self {
        let low = low.get().clamp(LOWEST.get(), HIGHEST.get() / 2.0);
        let high = high.get().clamp(2.0 * low, HIGHEST.get());
        Self {
            front: Front::new(),
            search: Search::new(low, high),
            refiner: Refiner::new(1.0 / HOP_SECS),
            hop: [0.0; HOP],
            filled: 0,
            points: VecDeque::with_capacity(POINTS),
            hops: 0,
            next: 0,
            heard: 0,
            lost: 0,
            silent: 0,
            holes: VecDeque::with_capacity(HOLES),
            finished: false,
            over: false,
            floor_dbfs: GATE_BOUNDS_DBFS.0,
            track: Vec::with_capacity(POINTS),
            octave: Octave::default(),
            rise: Rise::default(),
            chord: Chord::new(),
            still: StillString::new(),
            told: VecDeque::with_capacity(POINTS),
            low_hz: low,
            high_hz: high,
            levels: VecDeque::with_capacity(RECENT),
            known: Known::default(),
        }
    }

    /// From here on these partials (at most 16) of sound that the program itself plays may leak into what is
    /// pushed; none if empty. They are no evidence of a lower pitch, and alone they have none.
    pub fn expect(&mut self, partials: &[Hz]) {
        self.known = Known::of(partials);
    }

    /// Takes as many of `new` (full scale = 1) as fit and says how many that was; the rest is to be
    /// pushed again after [`poll`](Self::poll) returned `None`. Values that are not numbers count as 0.
    pub fn push(&mut self, new: &[f32]) -> usize {
        if self.lost > 0 {
            return 0;
        }
        let count = new.len().min(HOP - self.filled);
        self.hop[self.filled..self.filled + count].copy_from_slice(&new[..count]);
        self.filled += count;
        self.heard += count as i64;
        self.silent = 0;
        count
    }

    /// Passes over the whole hops that are still missing: nothing is left that could be heard in them.
    /// No frame is told for them.
    fn jump(&mut self) {
        let hops = self.lost / HOP as i64;
        self.front.jump(hops);
        self.search.jump(hops);
        self.points.clear();
        self.hops += hops;
        self.next += hops;
        self.heard += hops * HOP as i64;
        self.lost -= hops * HOP as i64;
    }

    /// Says that `lost` samples (at most 265 days of them) are missing at this place. Frames that would
    /// need them have no pitch.
    pub fn skip(&mut self, lost: u64) {
        let lost = i64::try_from(lost).map_or(MOST_LOST, |lost| lost.min(MOST_LOST));
        if lost == 0 {
            return;
        }
        if self.holes.len() == HOLES {
            self.holes.pop_front();
        }
        let from = self.heard + self.lost;
        self.holes.push_back((from, from + lost));
        self.lost += lost;
    }

    /// Says that the sound has ended: the frames still waiting come out with the next polls.
    pub fn finish(&mut self) {
        self.finished = true;
    }

    /// The next frame, or `None` until more samples are pushed.
    pub fn poll(&mut self) -> Option<Frame> {
        loop {
            if self.finished && self.lost == 0 && self.next * HOP as i64 >= self.heard {
                return None;
            }
            if let Some(frame) = self.decide() {
                self.next += 1;
                return Some(frame);
            }
            if self.filled < HOP {
                if self.lost > 0 && self.filled == 0 && self.silent >= LONG_GAP {
                    self.jump();
                }
                if self.lost > 0 {
                    // What is missing counts as silence here; `decide` knows where it lies.
                    let count = (HOP - self.filled).min(usize::try_from(self.lost).unwrap_or(HOP));
                    self.hop[self.filled..self.filled + count].fill(0.0);
                    self.filled += count;
                    self.lost -= count as i64;
                    self.heard += count as i64;
                    self.silent += count as i64;
                } else if self.finished {
                    self.hop[self.filled..].fill(0.0);
                    self.filled = HOP;
                    self.over = true;
                } else {
                    return None;
                }
                if self.filled < HOP {
                    continue;
                }
            }
            self.step();
        }
    }

    /// How late a frame of pitch `f0` comes at most: newest sample used minus time stamp, with the
    /// hop and the filters.
    pub fn delay(f0: Hz) -> Secs {
        let hz = f0.get().clamp(LOWEST.get(), HIGHEST.get());
        let coarse = ((1.25 * COARSE_RATE / hz).max(128.0) + COARSE_RATE / hz) / 2.0 / COARSE_RATE;
        Secs((1.0 - HELD_SHARE) * half_window_secs(hz) + coarse + HOP_SECS + 0.0011)
    }

    /// What each harmonic, from the first, said of the frame last polled; empty without a pitch.
    pub fn harmonics(&self) -> &[Harmonic] {
        self.refiner.harmonics()
    }

    /// Whether two strings seem to sound at once: then the pitch is of one of them, or of none.
    pub fn two_strings(&self) -> bool {
        self.chord.two_strings() || self.still.two_strings()
    }

    /// The pitch of the one of two strings that is still, where it is known.
    pub fn still_string(&self) -> Option<Hz> {
        self.still.pitch().filter(|_| self.still.two_strings())
    }

    /// Looks every so often whether the pitches told explain the sound.
    fn look_for_chords(&mut self, hz: f64) {
        if self.told.back().is_some_and(|last| (hz / last).log2().abs() > LEAP_OCTAVES) {
            self.told.clear();
        }
        let needed = (Chord::reach_secs() / HOP_SECS).ceil() as usize + LOOK_MARGIN;
        if self.told.len() == needed {
            self.told.pop_front();
        }
        self.told.push_back(hz);
        if self.told.len() == needed && self.next % LOOK_EVERY == 0 {
            let low = self.told.iter().copied().fold(f64::INFINITY, f64::min);
            let high = self.told.iter().copied().fold(0.0, f64::max);
            self.chord.look(&self.front, low, high);
        }
    }

    /// Takes in a full hop.
    fn step(&mut self) {
        self.front.push(&self.hop);
        self.filled = 0;
        self.hops += 1;
        let level = level_dbfs(&self.front, self.front.fine.end() - LEVEL_SPAN);
        let (lowest, highest) = GATE_BOUNDS_DBFS;
        let gate = (self.floor_dbfs + ABOVE_FLOOR_DB).clamp(lowest, highest);
        // A sound that is cut off at its end repeats at longer periods that nobody played.
        let audible = level > gate && !self.over;
        let found = self.search.step(&self.front.coarse, audible, self.known.allowed());
        let found = found.filter(|found| found.similarity > LEAST_SIMILARITY);
        if level <= gate {
            self.still.forget();
        } else if self.hops % LOOK_EVERY == 0 && self.known.allowed() == 0.0 {
            self.still.look(&self.front);
        }
        if found.is_none() || level < self.floor_dbfs {
            let rate = if level < self.floor_dbfs { 10.0 * FLOOR_RATE } else { FLOOR_RATE };
            self.floor_dbfs += rate * (level - self.floor_dbfs);
        }
        if self.points.len() == POINTS {
            self.points.pop_front();
        }
        self.points.push_back(found);
    }

    /// The next frame, if enough has been heard to tell.
    fn decide(&mut self) -> Option<Frame> {
        let secs = self.next as f64 * HOP_SECS;
        let now = self.hops as f64 * HOP_SECS;
        if now <= secs {
            return None;
        }
        let latest = self.points.iter().rev().flatten().next().copied();
        let newest = self.points.back().copied().flatten();
        let covered = match (newest, latest) {
            (Some(newest), _) => {
                newest.secs >= secs + (1.0 - HELD_SHARE) * half_window_secs(newest.hz)
            }
            (None, Some(latest)) => secs <= latest.secs + HOP_SECS / 2.0,
            (None, None) => false,
        };
        // Longest wait: a low note may still be on its way to be found.
        let waited = now - secs
            >= self.search.longest_delay_secs()
                + 2.0 * HOP_SECS
                + half_window_secs(LOWEST.get()) * 0.5;
        if !covered && !waited {
            return None;
        }
        let frame = self.measure(secs);
        match frame.f0 {
            Some(f0) => self.look_for_chords(f0.get()),
            None => {
                self.refiner.forget();
                self.told.clear();
                self.chord.forget();
            }
        }
        Some(frame)
    }

    /// Measures the frame at `secs` with what is known by now.
    fn measure(&mut self, secs: f64) -> Frame {
        let centre = self.next * FINE_HOP as i64;
        let level_dbfs = level_dbfs(&self.front, centre - LEVEL_SPAN / 2);
        if self.levels.len() == RECENT {
            self.levels.pop_front();
        }
        self.levels.push_back(level_dbfs);
        let upper = upper_dbfs(&self.front, self.next, 0.0);
        let none = Frame { upper_dbfs: upper, ..Frame::plain(Secs(secs), None, level_dbfs) };
        let Some(mut coarse) = self.gather(secs) else {
            self.octave = Octave::default();
            self.rise.leave();
            return none;
        };
        self.check_octave(&coarse, centre);
        self.divide(&mut coarse, self.octave.divisor as f64);
        let lower_hz = coarse.hz;
        let reach = half_window_secs(lower_hz) * 1.12 + 0.002;
        let sample = |secs: f64| (secs * f64::from(SAMPLE_RATE)) as i64;
        let (from, to) = (sample(secs - reach), sample(secs + reach));
        if self.holes.iter().any(|&(start, end)| start < to && end > from) {
            return none;
        }
        self.rise.go_on(lower_hz);
        if self.rise.is_up() {
            self.divide(&mut coarse, 0.5);
            if !self.stays_up(coarse.hz, centre) {
                self.divide(&mut coarse, 2.0);
            }
        }
        let first = centre - (reach * FINE_RATE) as i64 - 4;
        let last = (centre + (reach * FINE_RATE) as i64 + 4).min(self.front.fine.end());
        let sound = self.front.fine.part(first, last);
        let Some(refined) = self.refiner.refine(sound, first, centre, coarse.hz, &self.track)
        else {
            return none;
        };
        let powers = self.refiner.harmonics().iter().map(|h| h.power);
        let may_rise = coarse.before_hz.is_none() && 2.0 * lower_hz <= self.high_hz;
        self.rise.hear(lower_hz, powers.clone(), may_rise);
        if self.known.is_all(refined.hz, powers) {
            return none;
        }
        self.octave.told_hz = refined.hz;
        let disagreement = Cents(1200.0 * std::f64::consts::LOG2_E * refined.disagreement);
        let evidence = Evidence {
            similarity: coarse.similarity,
            disagreement_cents: disagreement.get(),
            fallen_db: self.levels.iter().copied().fold(level_dbfs, f64::max) - level_dbfs,
        };
        Frame {
            f0: Some(Hz(refined.hz)),
            confidence: confidence(&evidence),
            upper_dbfs: upper_dbfs(&self.front, self.next, 1.0 / refined.hz),
            disagreement: Some(disagreement),
            lean_db: lean_db(&self.front, centre, half_window_secs(refined.hz)),
            ..none
        }
    }

    /// The coarse pitch and the track are this many times too high.
    fn divide(&mut self, coarse: &mut Found, times: f64) {
        coarse.hz /= times;
        self.track.iter_mut().for_each(|p| p.hz /= times);
    }

    /// Whether a string that has gone up an octave, to `hz`, is still there.
    fn stays_up(&mut self, hz: f64, centre: i64) -> bool {
        let (first, centre) = whole_window(hz / 2.0, centre, &self.front);
        let sound = self.front.fine.part(first, 2 * centre - first);
        let beside = (&self.known, None);
        let share = self.refiner.between(sound, first, centre, hz, 2, &self.track, beside);
        self.rise.stays(share)
    }

    /// Whether the coarse pitch is a harmonic of the true one: then there is power between its harmonics.
    fn check_octave(&mut self, coarse: &Found, centre: i64) {
        let octave = &mut self.octave;
        if (coarse.hz / octave.hz).log2().abs() > LEAP_OCTAVES {
            // A leap to a harmonic of the pitch just told is rather a slip than a leap.
            let told = octave.told_hz;
            let was_note = octave.frames >= NOTE_FRAMES || coarse.before_hz.is_none();
            *octave = Octave::default();
            let fits =
                |divisor: usize| (coarse.hz / divisor as f64 / told).log2().abs() < SLIP_OCTAVES;
            let slip = MULTIPLES.iter().position(|divisor| was_note && fits(*divisor));
            if let Some(i) = slip {
                octave.divisor = MULTIPLES[i];
                octave.votes[i] = VOTES;
            } else if told > 0.0 {
                octave.votes = [LATER_VOTES; MULTIPLES.len()];
            }
        }
        octave.hz = coarse.hz;
        octave.frames += 1;
        if octave.frames > EAGER && octave.divisor == 1 && !octave.frames.is_multiple_of(EAGER) {
            return;
        }
        let start = centre - (octave.frames as i64 - 1) * FINE_HOP as i64;
        for ((votes, divisor), gain) in octave.votes.iter_mut().zip(MULTIPLES).zip(coarse.gain) {
            let hz = coarse.hz / divisor as f64;
            let (least_gain, least_share) = if coarse.hz > MANY_PERIODS_HZ {
                (1.3, 0.006 * divisor as f64)
            } else {
                (2.5, 0.01)
            };
            if gain < least_gain || hz < self.low_hz {
                *votes = (*votes - 1).max(LATER_VOTES);
                continue;
            }
            let (first, centre) = whole_window(hz, centre, &self.front);
            if first < start {
                continue;
            }
            let sound = self.front.fine.part(first, 2 * centre - first);
            let share = self.refiner.between(
                sound,
                first,
                centre,
                coarse.hz,
                divisor,
                &self.track,
                (&self.known, coarse.before_hz),
            );
            *votes = (*votes + if share.is_some_and(|share| share > least_share) { 1 } else { -1 })
                .clamp(LATER_VOTES, VOTES);
        }
        let chosen = MULTIPLES
            .iter()
            .zip(octave.votes)
            .filter(|(_, votes)| *votes >= VOTES)
            .map(|(d, _)| *d)
            .next();
        match chosen {
            Some(divisor) => octave.divisor = divisor,
            None if octave.votes.iter().all(|votes| *votes <= 0) => octave.divisor = 1,
            None => {}
        }
    }

    /// Fills `track` with the coarse points of the note around `secs` and says the coarse pitch there.
    fn gather(&mut self, secs: f64) -> Option<Found> {
        // Walk back from the newest: a later hop overrules earlier ones that reach beyond it.
        let mut right: Option<(usize, Found)> = None;
        let mut left: Option<(usize, Found)> = None;
        for (i, found) in self.points.iter().enumerate().rev() {
            let Some(found) = *found else { continue };
            if found.secs > secs {
                if right.is_none_or(|(_, r)| found.secs < r.secs) {
                    right = Some((i, found));
                }
            } else if right.is_none_or(|(_, r)| found.secs < r.secs) {
                left = Some((i, found));
                break;
            }
        }
        let joined = matches!((left, right), (Some((l, _)), Some((r, _))) if r - l <= 1);
        let near = |p: Option<(usize, Found)>| {
            p.filter(|(_, p)| joined || (p.secs - secs).abs() <= NEAR_SECS)
        };
        let (anchor, found) = match (near(left), near(right)) {
            (Some(l), Some(r)) => {
                if secs - l.1.secs <= r.1.secs - secs {
                    l
                } else {
                    r
                }
            }
            (Some(p), None) | (None, Some(p)) => p,
            (None, None) => return None,
        };
        self.track.clear();
        // Points of the same note before the anchor, in order, then those after it.
        let point = |found: &Found| Point { at: found.secs * FINE_RATE, hz: found.hz };
        let joins = |a: &Point, b: &Point| (a.hz / b.hz).log2().abs() < LEAP_OCTAVES;
        let mut last = point(&found);
        self.track.push(last);
        for found in self.points.iter().take(anchor).rev() {
            let Some(p) = found.as_ref().map(point) else {
                break;
            };
            if !joins(&p, &last) {
                break;
            }
            if p.at < last.at {
                self.track.push(p);
                last = p;
            }
        }
        self.track.reverse();
        let mut last = point(&found);
        for found in self.points.iter().skip(anchor + 1) {
            let Some(p) = found.as_ref().map(point) else {
                break;
            };
            if !joins(&p, &last) {
                break;
            }
            if p.at > last.at {
                self.track.push(p);
                last = p;
            }
        }
        let hz = pitch_at(&self.track, secs * FINE_RATE);
        Some(Found { hz, ..found })
    }
}

/// The track's pitch at fine sample `at`: a straight line between points, held beyond the ends.
fn pitch_at(track: &[Point], at: f64) -> f64 {
    let right = track.partition_point(|p| p.at < at);
    match (right.checked_sub(1).and_then(|l| track.get(l)), track.get(right)) {
        (Some(a), Some(b)) => a.hz + (b.hz - a.hz) * (at - a.at) / (b.at - a.at),
        (Some(p), None) | (None, Some(p)) => p.hz,
        (None, None) => 0.0,
    }
}

/// Level of the 20 ms of fine samples from index `from` on, as far as they are here.
fn level_dbfs(front: &Front, from: i64) -> f64 {
    let to = (from + LEVEL_SPAN).min(front.fine.end());
    let part = front.fine.part(from, to);
    decibels(f64::from(dot(part, part)) / part.len().max(1) as f64)
}

/// Level above 2 kHz over the two hops around frame `number`, or over so many that they hold a period of the pitch: within
/// one, the bow's noise comes in bursts.
fn upper_dbfs(front: &Front, number: i64, period_secs: f64) -> f64 {
    let half = (0.5 * period_secs / HOP_SECS).ceil().max(1.0) as i64;
    let part = front.upper.part(number - half, (number + half).min(front.upper.end()));
    decibels(f64::from(part.iter().sum::<f32>()) / part.len().max(1) as f64)
}

/// How much louder the fine samples are after `centre` than before it, over half a window to either side.
fn lean_db(front: &Front, centre: i64, half_secs: f64) -> f64 {
    let half = (half_secs * FINE_RATE) as i64;
    let level = |from: i64, to: i64| {
        let part = front.fine.part(from, to.min(front.fine.end()));
        decibels(f64::from(dot(part, part)) / part.len().max(1) as f64)
    };
    level(centre, centre + half) - level(centre - half, centre)
}

/// Where a whole window for `hz` begins, and its centre: a little before `centre`, so that it need not wait.
fn whole_window(hz: f64, centre: i64, front: &Front) -> (i64, i64) {
    let reach = (half_window_secs(hz) * 1.12 * FINE_RATE) as i64 + 4;
    let centre = centre.min(front.fine.end() - reach);
    (centre - reach, centre)
}

const _: () = assert!(HOP.is_multiple_of(FINE_FACTOR));
