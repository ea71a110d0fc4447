//! The pitch line of one note, and where it starts, changes and ends.

use pitch::{Frame, HOP_SECS};
use tuning::{Cents, Hz};

/// Pitch is kept in cents above this.
pub(crate) const ORIGIN: Hz = Hz(440.0);

/// Mains hum: so soft and so near to these pitches no note begins. Notes in tune lie 35 cents or more away from all.
const HUM_HZ: [f64; 6] = [50.0, 60.0, 100.0, 120.0, 150.0, 180.0];
const HUM_DBFS: f64 = -40.0;
const HUM_CENTS: f64 = 12.0;
/// A note begins after so many frames of steady pitch: 35 ms.
pub(crate) const HOLD_FRAMES: usize = 7;
/// It ends after so many frames without pitch: 30 ms...
const SILENCE_FRAMES: usize = 6;
/// ...or, while it stays as loud, so that the ear may only have slipped, after so many: 60 ms.
const LOUD_SILENCE_FRAMES: usize = 12;
/// It ends as well after so many frames in which it has died away: 20 ms.
const DEATH_FRAMES: usize = 4;
/// Largest step of the pitch from frame to frame within a note that begins, in cents.
const MOST_STEP_CENTS: f64 = 60.0;
/// A pitch less confident than this is none.
pub(crate) const SURE_CONFIDENCE: f64 = 0.2;
/// Least mean confidence of the frames that begin a note.
const LEAST_CONFIDENCE: f64 = 0.5;
/// The middle and the range of so many frames say where the pitch of a note lies: 350 ms.
const MEMORY_FRAMES: usize = 70;
/// A frame belongs to another note if it lies further than this from the pitch of this one, or further than half its
/// range and so much more.
const AWAY_CENTS: f64 = 60.0;
const AWAY_MARGIN_CENTS: f64 = 45.0;
/// A finger falls: the pitch moves this far within four frames.
const LEAP_CENTS: f64 = 38.0;
const LEAP_FRAMES: usize = 4;
/// Frames of a new note must agree within this, in cents.
const AGREE_CENTS: f64 = 120.0;
/// A leap that lies near one or two octaves or a twelfth is more often a slip of the ear: wait twice as long.
const SLIPS_CENTS: [f64; 3] = [1200.0, 1902.0, 2400.0];
const NEAR_SLIP_CENTS: f64 = 60.0;
/// What begins after silence and goes over into another pitch without a pause is no note but the attack of that one, if it
/// lasts no longer than 0.2 s and lies so far below it; or if it is such a slip away and lasts no longer than 0.14 s, or 0.2 s
/// where the later pitch was told before it.
const SOFT_ATTACK_FRAMES: usize = 40;
const SOFT_ATTACK_DB: f64 = 12.0;
const SLIPPED_ATTACK_FRAMES: usize = 28;
/// A note of up to 0.3 s between two others, of which both are harmonics of it, may be none: within so many cents, of the one
/// before (the pitch of its last 0.1 s), which swings on in the room, and of the one behind.
const BETWEEN_FRAMES: usize = 60;
const BEFORE_FRAMES: usize = 20;
const BEFORE_CENTS: f64 = 110.0;
const BEHIND_CENTS: f64 = 60.0;
/// One of up to 0.15 s may be none though the note before is no harmonic of it: a thump at the bow's attack.
const BETWEEN_ATTACK_FRAMES: usize = 30;
/// Where two strings sounded one is left, and a note of its own, once it has sounded alone for so many frames: 0.3 s.
const ONE_LEFT_FRAMES: usize = 60;
/// Within a note that begins, frames this far from its pitch, in cents, are slips.
const SLIP_CENTS: f64 = 600.0;
/// The sound has died away once it lies so far below its recent level, which fades so fast.
const DIED_DB: f64 = 18.0;
const FADE_DB: f64 = 10.0 * pitch::HOP_SECS;
/// A level counts as the note's own once it has lasted for so many frames, within so many decibels: a bow that bites
/// into the string is louder for up to 50 ms, and what comes after that has not died away.
const LASTING_FRAMES: usize = 16;
const LASTING_DB: f64 = 4.0;
/// The note itself ended where it had fallen this far.
const ENDED_DB: f64 = 10.0;
/// The bow left where the level had fallen by this much within so many frames, 0.15 s, and by more than it ever did in the
/// second before (frames before the end): no bow falls as fast. The string and the room ring on.
const FALL_DB: f64 = 5.0;
const FALL_FRAMES: usize = 30;
const BEFORE_FALL_FRAMES: std::ops::Range<usize> = 60..260;
/// A bow that is lifted takes no longer than this, 30 ms, from there to where the note has ended.
const LIFTED_FRAMES: usize = 6;
/// The bow leaves within the last 0.12 s of a note: the level has fallen by this much, and a frame is less sure than this.
const RELEASE_FRAMES: usize = 24;
const RELEASE_DB: f64 = 1.5;
const RELEASE_CONFIDENCE: f64 = 0.6;
/// A frame looks one period to either side, but this far at least, in seconds.
const LEAST_REACH_SECS: f64 = 0.008;
/// What rings on after a note is none until it rises by this much, and above a ceiling that starts
/// so far below the note and falls so fast.
const RING_DB: f64 = 13.0;
const RISE_DB: f64 = 6.0;
const RING_FADE_DB: f64 = 35.0 * pitch::HOP_SECS;
/// The note that rises out of it began where the level had come up by this much, at most half a second before that was told;
/// not before a place where what rang was louder than behind it by more than a ring sways.
const BEGUN_DB: f64 = 1.5;
const SWAYS_DB: f64 = 3.0;
const BEGUN_FRAMES: usize = 100;
/// What falls by no more than this from the first to the last quarter of 0.3 s, and goes on so for 0.2 s, is no ring but a
/// softer note; but not if it is softer than this against the loudest of the one before: that may be a fan or a fridge.
const HELD_OVER_FRAMES: usize = 60;
const HELD_FRAMES: usize = 40;
const HELD_DB: f64 = 0.5;
const SOFTER_DB: f64 = 24.0;

/// The pitch strays from what its vibrato foretold if it lies so many cents off and this share of the width.
const STRAY_CENTS: f64 = 25.0;
const STRAY_SHARE: f64 = 0.3;
/// Before that it must have kept as near as this, or else the vibrato has only changed little by little.
const KEPT_CENTS: f64 = 10.0;
const KEPT_SHARE: f64 = 0.1;
/// Frames foretold: those that must have strayed, those on the way, three before.
pub(crate) const FORETOLD_FRAMES: usize = HOLD_FRAMES + 9;
/// A note does not change while it fades: the level must be this near to its recent peak.
const LOUD_DB: f64 = 9.0;
/// A note shorter than this is none: 90 ms.
const LEAST_NOTE_FRAMES: usize = 18;

/// Behind which frame the bow has left the string: behind the last that `sounds` and has not fallen as no bow lets a note
/// fall. `levels_db` are those of the note, one a [`FRAME`](crate::FRAME); 0 if it never sounded.
pub fn bowed_until(levels_db: &[f64], sounds: impl Fn(usize) -> bool) -> usize {
    let fall_db = |i: usize, from: usize| {
        let before = &levels_db[i.saturating_sub(FALL_FRAMES).max(from)..=i];
        before.iter().copied().fold(f64::NEG_INFINITY, f64::max) - levels_db[i]
    };
    let before = |back: usize| levels_db.len().saturating_sub(back);
    let (first, last) = (before(BEFORE_FALL_FRAMES.end), before(BEFORE_FALL_FRAMES.start));
    let most = (first..last).map(|i| fall_db(i, first)).fold(FALL_DB, f64::max);
    let bowed = |i: &usize| sounds(*i) && fall_db(*i, 0) <= most;
    (0..levels_db.len()).rev().find(bowed).map_or(0, |last| last + 1)
}

/// Where the note's own vibrato, as it was a while ago, would have the newest frames.
pub(crate) struct Foretold {
    /// Cents, the newest frame first.
    pub cents: [f64; FORETOLD_FRAMES],
    /// Crest to trough.
    pub width: f64,
}

/// What is left of the last note: levels in dBFS.
struct Ring {
    /// Lowest since the note ended.
    lowest: f64,
    /// What rings on stays below this.
    ceiling: f64,
    /// Level of the note where it ended, and where it was loudest.
    peak: f64,
    loudest: f64,
}

/// What a frame did to the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Change {
    /// Nothing that matters.
    None,
    /// A note began with the line's first frame.
    Began,
    /// The note ended with the line's last frame.
    Ended,
    /// The note ended before this frame of the line, and another began with it.
    Changed(usize),
}

/// The frames of the note that sounds, or of one that may be about to begin.
pub(crate) struct PitchLine {
    /// Number of the first frame in the stream.
    pub first: i64,
    /// Pitch in cents above [`ORIGIN`]; held where none was heard.
    pub cents: Vec<f64>,
    /// Whether the frame had a pitch.
    pub heard: Vec<bool>,
    /// Level, in dBFS.
    pub level: Vec<f64>,
    /// Level above 2 kHz, in dBFS.
    pub upper: Vec<f64>,
    /// Confidence, 0 to 1.
    pub confidence: Vec<f64>,
    sounding: bool,
    /// The note that sounds began after silence.
    after_silence: bool,
    /// What was told at its very beginning, in cents above [`ORIGIN`], if that was a slip.
    attack: Option<f64>,
    /// Where it did not: the pitch of the note before it, in cents above [`ORIGIN`].
    before: Option<f64>,
    /// Frames since two strings sounded.
    one_string: usize,
    silence: usize,
    /// First frame since which all lie away from the note.
    away: Option<usize>,
    /// First of the newest frames that lie away on one side.
    one_side: usize,
    peak_dbfs: f64,
    ring: Option<Ring>,
    /// While none sounds: for so many frames what may begin has been no ring.
    risen: usize,
    /// For so many what may be a ring has not faded.
    held: usize,
    /// So many of the first frames of the note that sounds may have been a ring.
    doubted: usize,
    sorted: [f64; MEMORY_FRAMES],
}

impl PitchLine {
    /// Room for `most` frames.
    pub(crate) fn new(most: usize) -> Self {
        Self {
            first: 0,
            cents: Vec::with_capacity(most),
            heard: Vec::with_capacity(most),
            level: Vec::with_capacity(most),
            upper: Vec::with_capacity(most),
            confidence: Vec::with_capacity(most),
            sounding: false,
            after_silence: true,
            attack: None,
            before: None,
            one_string: usize::MAX,
            silence: 0,
            away: None,
            one_side: 0,
            peak_dbfs: -120.0,
            ring: None,
            risen: 0,
            held: 0,
            doubted: 0,
            sorted: [0.0; MEMORY_FRAMES],
        }
    }

    /// Frames in the line.
    pub(crate) fn len(&self) -> usize {
        self.cents.len()
    }

    /// Whether a note sounds.
    pub(crate) fn sounding(&self) -> bool {
        self.sounding
    }

    /// Whether the newest frames may belong to another note.
    pub(crate) fn doubtful(&self) -> bool {
        self.away.is_some()
    }

    /// Takes frame `number` in. After `Ended` and `Changed` the caller must call
    /// [`restart`](Self::restart).
    ///
    /// `foretold` says where the note's own vibrato would have the pitch so many frames before this one. While `two_strings`
    /// sound the pitch may leap between them: all of it is one stretch.
    pub(crate) fn push(
        &mut self,
        number: i64,
        frame: &Frame,
        foretold: Option<&Foretold>,
        two_strings: bool,
    ) -> Change {
        let level = frame.level_dbfs;
        if let Some(ring) = &mut self.ring {
            ring.lowest = ring.lowest.min(level);
            ring.ceiling -= RING_FADE_DB;
        }
        let sure = frame.f0.filter(|_| frame.confidence > SURE_CONFIDENCE);
        let pitch = sure.map(|f0| f0.cents_above(ORIGIN).get());
        self.one_string = if two_strings { 0 } else { self.one_string.saturating_add(1) };
        match (self.sounding, self.one_string) {
            (false, _) => self.wait(number, pitch, frame),
            (true, ..ONE_LEFT_FRAMES) => self.hold(pitch, frame),
            (true, ONE_LEFT_FRAMES) if self.len() > ONE_LEFT_FRAMES => {
                match self.hold(pitch, frame) {
                    Change::None => Change::Changed(self.len() - ONE_LEFT_FRAMES),
                    change => change,
                }
            }
            (true, _) => self.go_on(pitch, frame, foretold),
        }
    }

    /// Whether two strings sounded a moment ago.
    pub(crate) fn holds(&self) -> bool {
        self.one_string < ONE_LEFT_FRAMES
    }

    /// Two strings sound: the stretch lasts as long as the sound does.
    fn hold(&mut self, pitch: Option<f64>, frame: &Frame) -> Change {
        let last = self.cents.last().copied().unwrap_or(0.0);
        self.append(pitch.unwrap_or(last), pitch.is_some(), frame);
        let level = self.lasting_dbfs() + LASTING_DB;
        self.peak_dbfs = (self.peak_dbfs - FADE_DB).max(level.min(frame.level_dbfs));
        (self.away, self.one_side) = (None, self.len());
        let loud = frame.level_dbfs > self.peak_dbfs - LOUD_DB;
        self.silence = if pitch.is_some() || loud { 0 } else { self.silence + 1 };
        let died = frame.level_dbfs < self.peak_dbfs - DIED_DB;
        if died || self.silence >= SILENCE_FRAMES {
            return self.end(frame.level_dbfs);
        }
        if self.len() == self.cents.capacity() {
            self.sounding = false;
            return Change::Ended;
        }
        Change::None
    }

    /// Says that no more frames come: the note ends with the last frame that is surely its own.
    pub(crate) fn finish(&mut self) {
        self.come_back(self.len());
        let end = self.heard.iter().rposition(|heard| *heard).map_or(0, |last| last + 1);
        self.truncate(end);
        let (spoilt, left) = self.release(end);
        self.truncate(left);
        self.heard[spoilt..].fill(false);
    }

    /// Starts over from frame `from` on: those before it are dropped.
    pub(crate) fn restart(&mut self, from: usize) {
        let from = from.min(self.len());
        if from > 0 {
            self.before = mean(&self.cents[from.saturating_sub(BEFORE_FRAMES)..from]);
        }
        self.drop_first(from);
        self.sounding = !self.cents.is_empty();
        self.after_silence = !self.sounding || from == 0 && self.after_silence;
        self.doubted = if from == 0 { self.doubted } else { 0 };
        (self.silence, self.away) = (0, None);
        self.peak_dbfs = self.peak_dbfs.min(self.loudest());
    }

    /// No note yet: collect steady frames, of what may be a ring as well.
    fn wait(&mut self, number: i64, pitch: Option<f64>, frame: &Frame) -> Change {
        let rings = |ring: &Ring| {
            let risen = (ring.lowest + RISE_DB).min(ring.peak - RISE_DB);
            frame.level_dbfs <= ring.ceiling.max(risen)
        };
        let hums = |cents: f64| {
            frame.level_dbfs < HUM_DBFS
                && HUM_HZ
                    .iter()
                    .any(|hz| (Hz(*hz).cents_above(ORIGIN).get() - cents).abs() < HUM_CENTS)
        };
        let pitch = pitch.filter(|cents| !hums(*cents));
        let joins = pitch.is_some_and(|p| {
            self.one_string == 0
                || self.cents.last().is_none_or(|last| (p - last).abs() < MOST_STEP_CENTS)
        });
        if !joins {
            self.drop_all();
        }
        let Some(pitch) = pitch else {
            return Change::None;
        };
        if self.cents.is_empty() {
            (self.first, self.risen, self.held, self.doubted) = (number, 0, 0, 0);
        } else if self.len() == BEGUN_FRAMES {
            self.drop_first(1);
        }
        self.append(pitch, true, frame);
        let rings = self.ring.as_ref().is_some_and(rings);
        let soft = |ring: &Ring| frame.level_dbfs < ring.loudest - SOFTER_DB;
        let holds = rings && !self.ring.as_ref().is_some_and(soft) && !self.fades();
        self.held = if holds { self.held + 1 } else { 0 };
        self.risen = if rings && self.held < HELD_FRAMES { 0 } else { self.risen + 1 };
        if self.len().min(self.risen) < HOLD_FRAMES {
            return Change::None;
        }
        let sure = self.len() - HOLD_FRAMES;
        let confidence = mean(&self.confidence[sure..]).unwrap_or(0.0);
        if confidence < LEAST_CONFIDENCE && self.one_string > 0 {
            self.drop_first(sure + 1);
            return Change::None;
        }
        self.attack = None;
        if let Some(ring) = self.ring.take() {
            let begun = self.risen_from(sure, ring.lowest, holds);
            self.drop_first(begun);
            self.doubted = if holds { 0 } else { sure - begun };
        }
        self.sounding = true;
        (self.silence, self.away) = (0, None);
        self.peak_dbfs = self.loudest().min(self.lasting_dbfs() + LASTING_DB);
        Change::Began
    }

    /// Whether the newest frames of what may be a ring have faded, or are too few to say.
    fn fades(&self) -> bool {
        let Some(from) = self.len().checked_sub(HELD_OVER_FRAMES) else { return true };
        let quarter = HELD_OVER_FRAMES / 4;
        let level = |from: usize| mean(&self.level[from..from + quarter]);
        let fallen = || Some(level(from)? - level(self.len() - quarter)?);
        fallen().is_none_or(|db| db > HELD_DB)
    }

    /// From which frame on a note has risen out of a ring that was as low as `lowest`, or has held its level within it, if it
    /// is sure from frame `sure` on.
    fn risen_from(&self, sure: usize, lowest: f64, holds: bool) -> usize {
        let pitch = mean(&self.cents[sure..]).unwrap_or(0.0);
        let mut least = f64::INFINITY;
        (0..sure)
            .rev()
            .find(|&i| {
                let level = self.level[i];
                least = least.min(level);
                level > least + SWAYS_DB
                    || !holds && level < lowest + BEGUN_DB
                    || (self.cents[i] - pitch).abs() > AWAY_CENTS
            })
            .map_or(0, |last| last + 1)
    }

    /// A note sounds: does it still?
    fn go_on(&mut self, pitch: Option<f64>, frame: &Frame, foretold: Option<&Foretold>) -> Change {
        let level = (self.lasting_dbfs() + LASTING_DB).min(frame.level_dbfs);
        self.peak_dbfs = (self.peak_dbfs - FADE_DB).max(level);
        let died = frame.level_dbfs < self.peak_dbfs - DIED_DB;
        let Some(pitch) = pitch.filter(|_| !died) else {
            self.take_out_slips();
            let last = self.cents.last().copied().unwrap_or(0.0);
            self.append(last, false, frame);
            self.one_side = self.len();
            self.silence += 1;
            let loud = frame.level_dbfs > self.peak_dbfs - LOUD_DB;
            let most = match (died, loud) {
                (true, _) => DEATH_FRAMES,
                (false, false) => SILENCE_FRAMES,
                (false, true) => LOUD_SILENCE_FRAMES,
            };
            if self.silence < most {
                return Change::None;
            }
            self.come_back(self.len());
            return self.end(frame.level_dbfs);
        };
        self.silence = 0;
        self.append(pitch, true, frame);
        if self.len() == self.cents.capacity() {
            self.sounding = false;
            return Change::Ended;
        }
        match self.changed(pitch) {
            Change::None => foretold.map_or(Change::None, |foretold| self.strayed(foretold)),
            change => change,
        }
    }

    /// Whether the newest frames stray from the note's own vibrato as one: a change by a small
    /// interval that stays within the swing.
    fn strayed(&mut self, foretold: &Foretold) -> Change {
        let length = self.len();
        let Some(from) =
            length.checked_sub(HOLD_FRAMES).filter(|_| length >= FORETOLD_FRAMES + HOLD_FRAMES)
        else {
            return Change::None;
        };
        if self.heard[from..].iter().any(|heard| !heard) || !self.loud() {
            return Change::None;
        }
        let apart = |i: usize| self.cents[i] - foretold.cents[length - 1 - i];
        let before = length - FORETOLD_FRAMES;
        let kept =
            (before..before + 3).all(|i| apart(i).abs() < KEPT_CENTS + KEPT_SHARE * foretold.width);
        let (mut low, mut high, mut sum) = (f64::INFINITY, f64::NEG_INFINITY, 0.0);
        for i in from..length {
            let apart = apart(i);
            (low, high, sum) = (low.min(apart), high.max(apart), sum + apart);
        }
        // A finger falls at once; a vibrato that grows does not.
        let fell = (before..length - LEAP_FRAMES)
            .any(|i| (apart(i + LEAP_FRAMES) - apart(i)).abs() > LEAP_CENTS);
        let mean = sum / HOLD_FRAMES as f64;
        let least = if mean > 0.0 { low } else { -high };
        if !kept
            || !fell
            || least < STRAY_CENTS + STRAY_SHARE * foretold.width
            || mean.abs() < AWAY_CENTS
        {
            return Change::None;
        }
        Change::Changed(from)
    }

    /// Ends the note where the bow left it.
    fn end(&mut self, level: f64) -> Change {
        let least = HOLD_FRAMES.min(self.len());
        let loudest = self.loudest();
        self.truncate(self.loud_until().max(least));
        let (spoilt, left) = self.release(self.len());
        self.truncate(left.max(least));
        self.heard[spoilt..].fill(false);
        let (ceiling, peak) = (self.peak_dbfs - RING_DB, self.peak_dbfs);
        self.ring = Some(Ring { lowest: level, ceiling, peak, loudest });
        self.sounding = false;
        Change::Ended
    }

    /// Whether the bow seems to be leaving the string: the newest frames may be none of the note's.
    pub(crate) fn leaving(&self) -> bool {
        self.release(self.loud_until()).0 < self.len()
    }

    /// The bow leaves where the level falls, not to come back, and the pitch is unsure: what is heard from there on is the
    /// body of the instrument. Says the first frame whose window reaches into that, and the first that lies there; `end`, the
    /// end of what is looked at, for both if there is no such place.
    fn release(&self, end: usize) -> (usize, usize) {
        let from = end.saturating_sub(RELEASE_FRAMES);
        let before = &self.level[from.saturating_sub(RELEASE_FRAMES)..from];
        if before.is_empty() {
            return (end, end);
        }
        let usual = before.iter().sum::<f64>() / before.len() as f64;
        let fallen = |level: &f64| *level < usual - RELEASE_DB;
        let last =
            self.level[..end].iter().rposition(|level| !fallen(level)).map_or(0, |last| last + 1);
        let unsure = |i: &usize| !self.heard[*i] || self.confidence[*i] < RELEASE_CONFIDENCE;
        let Some(left) = (last.max(from)..end).find(unsure) else { return (end, end) };
        let hz = ORIGIN.raised(Cents(self.cents[from])).get();
        let reach = (LEAST_REACH_SECS.max(1.0 / hz) / HOP_SECS).ceil() as usize;
        (left.saturating_sub(reach).max(from), left)
    }

    /// Where the note would end if no more of it came: behind the last frame with a pitch that has not faded.
    fn loud_until(&self) -> usize {
        let least = self.peak_dbfs - ENDED_DB;
        let sounds = |i: &usize| self.heard[*i] && self.level[*i] >= least;
        (0..self.len()).rev().find(sounds).map_or(0, |last| last + 1)
    }

    /// Where the bow left the string, of a note that ends before frame `end`. What sounds from there on is still counted: the
    /// last oscillation before a bow is lifted swings on in it.
    pub(crate) fn left_at(&self, end: usize) -> usize {
        let left = bowed_until(&self.level[..end], |i| self.heard[i]);
        if left > 0 && left + LIFTED_FRAMES < end { left } else { end }
    }

    /// Whether the newest frames belong to another note.
    fn changed(&mut self, pitch: f64) -> Change {
        let newest = self.len() - 1;
        let until = self.away.unwrap_or(newest);
        let (middle, half) = self.middle_and_half(until);
        let distance = pitch - middle;
        if distance.abs() <= AWAY_CENTS.max(half + AWAY_MARGIN_CENTS) {
            self.come_back(newest);
            return Change::None;
        }
        if self.away.is_none() {
            (self.away, self.one_side) = (Some(newest), newest);
        }
        let run = &self.cents[self.one_side..];
        if (run[0] > middle) != (pitch > middle) {
            self.one_side = newest;
            return Change::None;
        }
        let needed = if slips(distance) { 2 * HOLD_FRAMES } else { HOLD_FRAMES };
        if run.len() < needed {
            return Change::None;
        }
        // Only the newest frames must agree: the first may lie on the way.
        let settled = &run[run.len() - HOLD_FRAMES..];
        let (low, high) = settled
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), &c| (l.min(c), h.max(c)));
        if high - low > AGREE_CENTS || !self.loud() {
            return Change::None;
        }
        Change::Changed(self.first_of_next(0.5 * (low + high)))
    }

    /// First of the frames away that belong to the next note, whose pitch this is. Where a bow bites into the string the
    /// ear may slip by an octave for some frames: these are taken out.
    fn first_of_next(&mut self, pitch: f64) -> usize {
        let near = |i: &usize| (self.cents[*i] - pitch).abs() < 0.5 * AGREE_CENTS;
        let since = self.away.unwrap_or(self.one_side);
        let first = (since..self.one_side).find(near).unwrap_or(self.one_side);
        for i in first..self.len() {
            if (self.cents[i] - pitch).abs() > SLIP_CENTS {
                (self.cents[i], self.heard[i]) = (pitch, false);
            }
        }
        first
    }

    /// Where the note that was found to begin at frame `at` really begins, if what sounded before that is its attack. Where
    /// the ear slipped in the attack, that counts as part of the note but is not heard.
    pub(crate) fn behind_attack(&mut self, at: usize) -> Option<usize> {
        if !self.after_silence {
            return None;
        }
        let from = self.doubted;
        let frames = at.checked_sub(from).filter(|frames| *frames <= SOFT_ATTACK_FRAMES)?;
        let next = mean(&self.cents[at..])?;
        let (level, next_level) = (mean(&self.level[from..at])?, mean(&self.level[at..])?);
        let pitch = &mut self.sorted[..frames];
        pitch.copy_from_slice(&self.cents[from..at]);
        let pitch = *pitch.select_nth_unstable_by(frames / 2, f64::total_cmp).1;
        let told_before = self.attack.is_some_and(|cents| (cents - next).abs() < AWAY_CENTS);
        if (frames <= SLIPPED_ATTACK_FRAMES || told_before) && slips(next - pitch) {
            self.attack = (frames < LEAST_NOTE_FRAMES).then_some(pitch);
            return Some(self.was_the_next(at));
        }
        let soft = level < next_level - SOFT_ATTACK_DB;
        soft.then_some(at)
    }

    /// While one note rings on and the next begins, both may have a low period in common, so that the frames before `at` told a
    /// note that nobody played. Says which of its harmonics the two then are: that of the one before, that of the next. If the
    /// frames before `at` are few enough for an attack, only the next need be a harmonic; its number then stands for both.
    pub(crate) fn between(&self, at: usize) -> Option<(usize, usize)> {
        if self.after_silence || at > BETWEEN_FRAMES {
            return None;
        }
        let (before, pitch, next) =
            (self.before?, mean(&self.cents[..at])?, mean(&self.cents[at..])?);
        let harmonic = |cents: f64, most: f64| {
            let number = (cents / 1200.0).exp2().round();
            let off = cents - 1200.0 * number.log2();
            (number >= 2.0 && off.abs() < most).then_some(number as usize)
        };
        let next = harmonic(next - pitch, BEHIND_CENTS)?;
        let attack = (at <= BETWEEN_ATTACK_FRAMES).then_some(next);
        Some((harmonic(before - pitch, BEFORE_CENTS).or(attack)?, next))
    }

    /// The frames before `at` belong to the note behind them, which begins with the first, but tell nothing of its pitch.
    pub(crate) fn was_the_next(&mut self, at: usize) -> usize {
        let next = mean(&self.cents[at..]).unwrap_or(self.cents[0]);
        self.cents[..at].fill(next);
        self.heard[..at].fill(false);
        0
    }

    /// The highest level in the line.
    fn loudest(&self) -> f64 {
        self.level.iter().copied().fold(-120.0, f64::max)
    }

    /// The level that the newest frames have not fallen below.
    fn lasting_dbfs(&self) -> f64 {
        let newest = &self.level[self.len().saturating_sub(LASTING_FRAMES)..];
        newest.iter().copied().fold(0.0, f64::min)
    }

    /// Whether the newest frames are as loud as a bowed note.
    fn loud(&self) -> bool {
        self.level[self.len() - HOLD_FRAMES..].iter().all(|level| *level > self.peak_dbfs - LOUD_DB)
    }

    /// Whether the first `frames` of the line are long enough for a note. What may have been a ring does not count.
    pub(crate) fn long_enough(&self, frames: usize) -> bool {
        frames >= LEAST_NOTE_FRAMES + self.doubted
    }

    /// Frames far away just before the pitch is lost are slips, and nothing may find turns in them meanwhile.
    fn take_out_slips(&mut self) {
        let Some(from) = self.away.filter(|&from| from > 0) else { return };
        let held = self.cents[from - 1];
        for i in from..self.len() {
            if (self.cents[i] - held).abs() > SLIP_CENTS {
                (self.cents[i], self.heard[i]) = (held, false);
            }
        }
    }

    /// Frames that lay away and led nowhere were slips: they are not the note's.
    fn come_back(&mut self, to: usize) {
        let Some(from) = self.away.take() else { return };
        let held = from.checked_sub(1).map_or(self.cents[from], |last| self.cents[last]);
        for i in from..to {
            self.cents[i] = held;
            self.heard[i] = false;
        }
    }

    /// Middle and half range of the note over its last frames before `until`.
    fn middle_and_half(&mut self, until: usize) -> (f64, f64) {
        let start = until.saturating_sub(MEMORY_FRAMES);
        let mut count = 0;
        for i in start..until {
            if self.heard[i] {
                self.sorted[count] = self.cents[i];
                count += 1;
            }
        }
        if count == 0 {
            return (self.cents[until], 0.0);
        }
        let values = &mut self.sorted[..count];
        values.sort_unstable_by(f64::total_cmp);
        let edge = count / 20;
        let (low, high) = (values[edge], values[count - 1 - edge]);
        (0.5 * (low + high), 0.5 * (high - low))
    }

    fn append(&mut self, cents: f64, heard: bool, frame: &Frame) {
        self.cents.push(cents);
        self.heard.push(heard);
        self.level.push(frame.level_dbfs);
        self.upper.push(frame.upper_dbfs);
        self.confidence.push(frame.confidence);
    }

    /// All lists of numbers that hold one for each frame.
    fn values(&mut self) -> [&mut Vec<f64>; 4] {
        [&mut self.cents, &mut self.level, &mut self.upper, &mut self.confidence]
    }

    fn truncate(&mut self, length: usize) {
        self.values().into_iter().for_each(|values| values.truncate(length));
        self.heard.truncate(length);
    }

    fn drop_all(&mut self) {
        self.truncate(0);
    }

    fn drop_first(&mut self, frames: usize) {
        for values in self.values() {
            values.drain(..frames);
        }
        self.heard.drain(..frames);
        self.first += frames as i64;
    }
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

/// Whether the ear may only have slipped by so many cents.
fn slips(cents: f64) -> bool {
    SLIPS_CENTS.iter().any(|slip| (cents.abs() - slip).abs() < NEAR_SLIP_CENTS)
}
