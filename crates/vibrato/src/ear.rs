//! The whole engine: samples in, events out.

use crate::bow_signs::{Ended, Harmonics};
use crate::fit::{Scanner, Sine, fit_sine, wobble};
use crate::measure::Measure;
use crate::new_bow;
use crate::note::{ContourPoint, Live, Motion, Note, Oscillation, PitchCourse, Remarks, Vibrato};
use crate::pitch_line::{Change, FORETOLD_FRAMES, Foretold, ORIGIN, PitchLine};
use crate::quantity::Measures;
use crate::room::{self, Room};
use crate::summary;
use crate::turn::Turns;
use pitch::{Frame, HIGHEST, HOP, HOP_SECS, LOWEST, Tracker};
use std::collections::VecDeque;
use std::ops::Range;
use tuning::{Cents, Hz, Secs, Strings, Tuning};

/// What the ear reports. Frames and lost samples come in the order of time; what a note does is told as soon as it is
/// certain, some frames behind the place it lies at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Event {
    /// A pitch frame, every 5 ms.
    Frame(Frame),
    /// A note began at this time (decided about 50 ms later, or up to half a second where another rings on); the pitch is a first estimate.
    NoteBegan {
        /// Where the note starts.
        start: Secs,
        /// MIDI number of the nearest note.
        midi: i32,
        /// Frequency of that note in the tuning.
        reference: Hz,
    },
    /// The state of the sounding note, after each of its frames.
    Live(Live),
    /// An oscillation came to its end.
    Oscillation(Oscillation),
    /// A crest (`true`) or a trough (`false`) of the sounding note was confirmed.
    Turn {
        /// When.
        time: Secs,
        /// Pitch at the turn.
        f0: Hz,
        /// `true` for a crest.
        crest: bool,
    },
    /// The bow started anew without leaving the pitch.
    Rebowed {
        /// When.
        time: Secs,
    },
    /// What began was too short to be a note.
    NoteDropped,
    /// A note ended; its measures are in [`Ear::note`] until the next poll.
    NoteEnded,
    /// Samples are missing from here on for this long.
    Lost {
        /// Where the gap starts.
        time: Secs,
        /// How long it is.
        length: Secs,
    },
}

/// What the ear has to know beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// What notes are named by and measured against.
    pub tuning: Tuning,
    /// Lowest pitch to be expected; the narrower the range, the fewer octaves can be mistaken.
    pub low: Hz,
    /// Highest pitch to be expected.
    pub high: Hz,
    /// The strings, which say how far a finger goes; `None` where no instrument was chosen.
    pub strings: Option<Strings>,
}

impl Default for Settings {
    /// A4 = 440 Hz, equal temperament, every bowed string.
    fn default() -> Self {
        Self { tuning: Tuning::default(), low: LOWEST, high: HIGHEST, strings: None }
    }
}

/// Frames in the longest note that is measured as one: 120 s.
const LONGEST_FRAMES: usize = 24_000;
/// Fewer oscillations of a short note are not counted one by one, but all of its frames explained at once.
const FEW_OSCILLATIONS: usize = 4;
/// Turns in the longest note at the fastest rate.
const MOST_TURNS: usize = 2_600;
/// Frames of a note before a motion is looked for.
const EARLIEST_FRAMES: usize = 24;
/// The last second says whether a note is straight, and the last four seconds what its pitch does; both are looked at
/// once in so many frames.
const SECOND_FRAMES: usize = 200;
const COURSE_FRAMES: usize = 800;
const EVERY_FRAMES: usize = 20;
/// Frames of the shortest note of which can be told what its pitch does, and what it does by now while it sounds.
const TELLING_FRAMES: usize = (PitchCourse::LEAST.0 / HOP_SECS) as usize;
const LIVE_TELLING_FRAMES: usize = 100;
/// A note that is bowed has more than this share of its power in harmonics that are those of neither note beside it: of 54 such
/// short notes the least had 0.07, of ten that nobody played six had less than 0.06.
const LEAST_BESIDE: f64 = 0.06;
/// One that is shorter than the latter and strays from a line by more than this, in cents (root mean square), may be the
/// beginning of a vibrato.
const MOST_BESIDE_CENTS: f64 = 3.0;
/// A sine is a vibrato at once if it explains this share and is this wide, in cents...
const SURE_SHARE: f64 = 0.85;
const SURE_CENTS: f64 = 8.0;
/// ...a slow one if it explains more, for a hand's slow wander looks like it...
const SLOW_HZ: f64 = 3.0;
const SLOW_SHARE: f64 = 0.92;
/// ...and a narrow one once the last second wobbles by more than a straight note does.
const NARROW_SHARE: f64 = 0.5;
const STRAIGHT_CENTS: f64 = 3.0;
/// A vibrato goes on while the sine explains this share and is this wide.
const STAYS_SHARE: f64 = 0.4;
const STAYS_CENTS: f64 = 2.5;
/// The name of a sounding note changes once its centre lies this far from it, in cents.
const RENAME_CENTS: f64 = 65.0;
/// Smear above which the room is spoken of: what the width is widened by is then itself in doubt by a twentieth.
const ROOM_SMEAR: f64 = 0.08;
/// A sample clips from just below full scale on; a note of which so many clip is told to.
const FULL_SCALE: f32 = 0.999;
const CLIPPED_SAMPLES: u32 = 8;
/// The pitch is found after the sound has begun: samples clipped within so many frames before a note are its attack,
/// and so are those within so many frames before the end of the note it follows.
const ATTACK_FRAMES: i64 = 12;
const NEXT_ATTACK_FRAMES: i64 = 2;
/// Frames in which samples clipped that are kept: the longest note, and what has not been heard yet.
const MOST_CLIPPED: usize = LONGEST_FRAMES + 256;
/// Losses that are waiting to be told, at most; the tracker remembers fewer.
const MOST_LOSSES: usize = 16;
/// A note in which two strings sound for more than this share of its frames is said to be one.
const TWO_STRINGS_SHARE: f64 = 0.3;
/// Pitches at which a string may be still that are kept for a note, and how near to each other they are one, in cents.
const STILL_PITCHES: usize = 3;
const SAME_CENTS: f64 = 40.0;
/// Standard error of such a pitch, in cents.
const STILL_DOUBT_CENTS: f64 = 0.5;
/// A dip this near to a new bow is that bow.
const NEAR_BOW_SECS: f64 = 0.03;
/// New bows of one note that are kept.
const MOST_REBOWS: usize = 512;
/// While a note sounds, an oscillation is not counted if its period differs by more than this from that of the rate, as a
/// logarithm.
const OUT_OF_STEP: f64 = 0.35;
/// A vibrato is foretold for so many frames, so that a change of note shows within its swing.
const FORETELLING_FRAMES: usize = FORETOLD_FRAMES + 1;

/// Hears: samples in, events out, the same whatever the size of the blocks.
pub struct Ear {
    settings: Settings,
    tracker: Tracker,
    line: PitchLine,
    scanner: Scanner,
    turns: Turns,
    /// Starts and periods of the oscillations of the sounding note that were told, in seconds.
    told: Vec<(f64, f64)>,
    /// The fits of the last frames, the oldest first.
    sines: VecDeque<Option<Sine>>,
    room: Room,
    /// What the frames of the line were made of.
    harmonics: Harmonics,
    events: VecDeque<Event>,
    note: Note,
    ended: bool,
    /// What [`still_strings`](Self::still_strings) tells of the note that ended.
    ended_still: [Still; STILL_PITCHES],
    spare: Vibrato,
    resting: Option<Vibrato>,
    rebows: Vec<Secs>,
    scratch: Vec<f64>,
    state: State,
    closing: bool,
    /// The program itself plays: what leaks of that is no late sound.
    playing: bool,
    /// Numbers of frames around which samples clipped, and how many did, the oldest first.
    clipped: VecDeque<(i64, u32)>,
    /// Losses whose place has not been reached: start and length in samples.
    losses: VecDeque<(u64, u64)>,
    samples: u64,
}

/// What is known of the sounding note.
#[derive(Clone, Copy)]
struct State {
    midi: i32,
    reference: Hz,
    moving: bool,
    was_moving: bool,
    rate_hz: f64,
    width: f64,
    wobble: Option<f64>,
    /// What the pitch of the last seconds does, if it does not swing.
    course: PitchCourse,
    /// Sum and number of the wobbles so far.
    wobbles: (f64, f64),
    turns_told: usize,
    /// Turns of which is told whether an oscillation ends with them.
    cycles_told: usize,
    told_until: f64,
    lost: bool,
    cut: bool,
    /// Frames in which two strings sounded.
    chord_frames: f64,
    still: [Still; STILL_PITCHES],
}

/// A pitch at which one of two strings was still.
#[derive(Clone, Copy, Default)]
struct Still {
    /// Mean, in cents above [`ORIGIN`].
    cents: f64,
    frames: f64,
}

impl Ear {
    /// An ear at rest.
    pub fn new(settings: Settings) -> Self {
        Self {
            settings,
            tracker: Tracker::new(settings.low, settings.high),
            line: PitchLine::new(LONGEST_FRAMES),
            scanner: Scanner::new(),
            turns: Turns::new(MOST_TURNS),
            told: Vec::with_capacity(MOST_TURNS),
            sines: VecDeque::with_capacity(FORETELLING_FRAMES),
            room: Room::new(),
            harmonics: Harmonics::new(LONGEST_FRAMES + 1),
            events: VecDeque::with_capacity(256),
            note: empty_note(),
            ended: false,
            ended_still: [Still::default(); STILL_PITCHES],
            spare: empty_vibrato(),
            resting: Some(empty_vibrato()),
            rebows: Vec::with_capacity(MOST_REBOWS),
            scratch: Vec::with_capacity(MOST_TURNS),
            state: State::new(),
            closing: false,
            playing: false,
            clipped: VecDeque::with_capacity(MOST_CLIPPED),
            losses: VecDeque::with_capacity(MOST_LOSSES),
            samples: 0,
        }
    }

    /// Takes as many of `new` (48 kHz, full scale = 1) as fit and says how many that was; the rest
    /// is to be pushed again after [`poll`](Self::poll) returned `None`.
    pub fn push(&mut self, new: &[f32]) -> usize {
        let count = self.tracker.push(new);
        for (number, sample) in (self.samples..).zip(&new[..count]) {
            if sample.abs() >= FULL_SCALE {
                self.clip((number as i64 + HOP as i64 / 2) / HOP as i64);
            }
        }
        self.samples += count as u64;
        count
    }

    /// Remembers that a sample around this frame clipped.
    fn clip(&mut self, frame: i64) {
        match self.clipped.back_mut() {
            Some((last, count)) if *last == frame => *count += 1,
            _ => {
                if self.clipped.len() == MOST_CLIPPED {
                    self.clipped.pop_front();
                }
                self.clipped.push_back((frame, 1));
            }
        }
    }

    /// How many samples clipped in the note from frame `start` to before frame `end`; they are counted once.
    fn clipped_within(&mut self, start: i64, end: i64) -> u32 {
        let mut count = 0;
        while let Some((frame, samples)) =
            self.clipped.pop_front_if(|(frame, _)| *frame < end - NEXT_ATTACK_FRAMES)
        {
            if frame >= start - ATTACK_FRAMES {
                count += samples;
            }
        }
        count
    }

    /// Says that `lost` samples are missing at this place.
    pub fn skip(&mut self, lost: u64) {
        if lost == 0 {
            return;
        }
        if self.losses.len() == MOST_LOSSES {
            self.tell_loss();
        }
        self.losses.push_back((self.samples, lost));
        self.samples = self.samples.saturating_add(lost);
        self.tracker.skip(lost);
    }

    /// Tells the loss that comes next.
    fn tell_loss(&mut self) {
        let Some((start, length)) = self.losses.pop_front() else { return };
        let secs = |samples: u64| Secs(samples as f64 / f64::from(pitch::SAMPLE_RATE));
        self.state.lost |= self.line.sounding();
        self.events.push_back(Event::Lost { time: secs(start), length: secs(length) });
    }

    /// Says which partials (at most 16; none if empty) of sound that the program itself plays may leak into
    /// what is pushed from here on: they are not taken for a string, nor for a sign of a lower pitch.
    pub fn expect(&mut self, partials: &[Hz]) {
        self.playing = !partials.is_empty();
        self.tracker.expect(partials);
    }

    /// Says that the sound has ended: what is still to be told comes out with the next polls.
    pub fn finish(&mut self) {
        self.tracker.finish();
        self.closing = true;
    }

    /// The next event, or `None` until more samples are pushed.
    pub fn poll(&mut self) -> Option<Event> {
        self.ended = false;
        loop {
            if let Some(event) = self.events.pop_front() {
                self.ended = event == Event::NoteEnded;
                return Some(event);
            }
            if let Some(frame) = self.tracker.poll() {
                self.take(&frame);
            } else if self.closing && self.line.sounding() {
                self.line.finish();
                self.close(self.line.len());
                self.line.restart(self.line.len());
            } else if self.closing && !self.losses.is_empty() {
                self.tell_loss();
            } else {
                return None;
            }
        }
    }

    /// Pushes all of `new` and tells `each` event, with the ear as it is then.
    pub fn hear(&mut self, mut new: &[f32], mut each: impl FnMut(Event, &Self)) {
        loop {
            let count = self.push(new);
            new = &new[count..];
            while let Some(event) = self.poll() {
                each(event, self);
            }
            if new.is_empty() {
                return;
            }
        }
    }

    /// All that is told of a sound that ends with `samples`, and its notes.
    pub fn all_of(mut self, samples: &[f32]) -> (Vec<Event>, Vec<Note>) {
        let (mut events, mut notes) = (Vec::new(), Vec::new());
        let mut keep = |event, ear: &Self| {
            notes.extend(ear.note().cloned());
            events.push(event);
        };
        self.hear(samples, &mut keep);
        self.finish();
        self.hear(&[], keep);
        (events, notes)
    }

    /// The note that [`Event::NoteEnded`] has just told of; `None` at any other time.
    pub fn note(&self) -> Option<&Note> {
        self.ended.then_some(&self.note)
    }

    /// What it was told beforehand.
    pub fn settings(&self) -> Settings {
        self.settings
    }

    /// At which pitches one of two strings was still in the note just ended, the likeliest first.
    pub fn still_strings(&self) -> impl Iterator<Item = Hz> {
        let still = self.ended.then_some(self.ended_still).into_iter().flatten();
        still.filter(|still| still.frames > 0.0).map(|still| ORIGIN.raised(Cents(still.cents)))
    }

    /// How late a frame of pitch `f0` comes at most, filters and hop included.
    pub fn delay(f0: Hz) -> Secs {
        Tracker::delay(f0)
    }

    /// Takes in one frame.
    fn take(&mut self, frame: &Frame) {
        let number = (frame.time.get() / HOP_SECS).round() as i64;
        while self.losses.front().is_some_and(|(start, _)| *start as i64 <= number * HOP as i64) {
            self.tell_loss();
        }
        self.events.push_back(Event::Frame(*frame));
        let foretold = self.foretell();
        let two = self.tracker.still_string().is_some()
            || (self.line.holds() && self.tracker.two_strings());
        let change = self.line.push(number, frame, foretold.as_ref(), two);
        let needed = if self.line.len() > 0 { self.line.first } else { number };
        self.harmonics.push(number, self.tracker.harmonics(), needed);
        match change {
            Change::None => {}
            Change::Began => self.begin(),
            Change::Ended => {
                self.state.cut = self.line.len() >= LONGEST_FRAMES;
                self.close(self.line.len());
                self.line.restart(self.line.len());
            }
            Change::Changed(at) => {
                let attack = self.line.behind_attack(at).or_else(|| self.between(at));
                match attack {
                    Some(_) => self.events.push_back(Event::NoteDropped),
                    None => self.close(at),
                }
                self.line.restart(attack.unwrap_or(at));
                self.begin();
            }
        }
        if self.line.sounding() {
            if frame.f0.is_some() && !self.line.doubtful() {
                let swing = self.line.cents[self.line.len() - 1] - self.line.cents[0];
                self.room.push(swing, self.tracker.harmonics());
            }
            self.follow(frame.time);
        }
    }

    /// Where the note that was found to begin at frame `at` really begins, if what sounded before that was none: nothing but
    /// harmonics of the note before it and of this one.
    fn between(&mut self, at: usize) -> Option<usize> {
        let (before, next) = self.line.between(at)?;
        let beside = self.harmonics.beside(&self.line, 0..at, (before, next));
        (beside < LEAST_BESIDE).then(|| self.line.was_the_next(at))
    }

    /// How much the harmonics disagree about the swing.
    fn smear(&self) -> Option<f64> {
        self.room.smear().filter(|_| !self.playing)
    }

    /// Where the vibrato of a while ago would have the frame now coming and those before it.
    fn foretell(&self) -> Option<Foretold> {
        if self.sines.len() < FORETELLING_FRAMES {
            return None;
        }
        let sine = self.sines.front().copied().flatten()?;
        let ahead = self.sines.len() as f64;
        Some(Foretold {
            cents: std::array::from_fn(|back| sine.foretold(ahead - back as f64)),
            width: sine.width,
        })
    }

    /// A note has begun with the line's first frame.
    fn begin(&mut self) {
        self.turns.clear();
        self.told.clear();
        self.sines.clear();
        self.room.clear();
        // One that came just behind the change belongs to this note.
        let start = Secs(self.line.first as f64 * HOP_SECS);
        self.rebows.retain(|at| *at > start);
        self.spare.contour.clear();
        let (cents, ..) = summary::plain(&self.line, 0..self.line.len());
        let nearest = self.settings.tuning.nearest(ORIGIN.raised(Cents(cents)));
        self.state = State::new();
        self.state.midi = nearest.midi;
        self.state.reference = nearest.reference;
        self.events.push_back(Event::NoteBegan {
            start,
            midi: nearest.midi,
            reference: nearest.reference,
        });
    }

    /// Tells the state of the sounding note after its newest frame.
    fn follow(&mut self, time: Secs) {
        let length = self.line.len();
        if length.is_multiple_of(EVERY_FRAMES) {
            let from = length.saturating_sub(SECOND_FRAMES);
            self.state.wobble = wobble(&self.line.cents[from..], &self.line.heard[from..]);
            if let Some(wobble) = self.state.wobble {
                self.state.wobbles = (self.state.wobbles.0 + wobble, self.state.wobbles.1 + 1.0);
            }
            let from = length.saturating_sub(COURSE_FRAMES).max(summary::ATTACK_FRAMES.min(length));
            self.state.course = summary::course(&self.line, from..length);
        }
        let leaving = self.line.leaving();
        let sine = if length >= EARLIEST_FRAMES { self.find_sine() } else { None };
        self.state.moving = sine.is_some_and(|sine| self.is_vibrato(&sine));
        if self.sines.len() == FORETELLING_FRAMES {
            self.sines.pop_front();
        }
        self.sines.push_back(sine.filter(|sine| self.state.moving && sine.share > SURE_SHARE));
        let (centre, centre_se, motion) = match sine.filter(|_| self.state.moving) {
            Some(sine) => {
                self.state.was_moving = true;
                if !leaving {
                    (self.state.rate_hz, self.state.width) = (sine.rate_hz, sine.width);
                }
                let rate = Measure::known(Hz(sine.rate_hz), Hz(sine.rate_se));
                let by = room::widening(self.smear());
                let doubt = (sine.width_se * by.value).hypot(sine.width * by.se.unwrap_or(0.0));
                let width = Measure::known(Cents(sine.width * by.value), Cents(doubt));
                (sine.centre, sine.centre_se, Motion::Vibrato { rate, width })
            }
            None => {
                let (mean, se, _) = summary::plain(&self.line, length.saturating_sub(60)..length);
                (mean, se, self.motion_without_vibrato())
            }
        };
        self.rename(centre);
        if self.tracker.two_strings() {
            self.state.chord_frames += 1.0;
        }
        if let Some(still) = self.tracker.still_string() {
            self.state.add_still(still.cents_above(ORIGIN).get());
        }
        self.events.push_back(Event::Live(Live {
            time,
            midi: self.state.midi,
            reference: self.state.reference,
            centre: Measure::known(
                Cents(centre + ORIGIN.cents_above(self.state.reference).get()),
                Cents(centre_se),
            ),
            motion,
            two_strings: self.tracker.two_strings(),
        }));
        // As heard: all of it is widened at once when the note ends.
        if let Motion::Vibrato { rate, .. } = motion
            && length.is_multiple_of(EVERY_FRAMES)
        {
            self.spare.contour.push(ContourPoint {
                time,
                rate: rate.value,
                width: Cents(self.state.width),
            });
        }
        if self.state.was_moving && !leaving {
            self.count();
        }
        self.watch_bow();
    }

    /// What the pitch does by now where it does not swing.
    fn motion_without_vibrato(&self) -> Motion {
        let wobbles = self.state.wobble.is_none_or(|wobble| wobble >= STRAIGHT_CENTS);
        match self.state.course {
            _ if self.line.len() < LIVE_TELLING_FRAMES || wobbles => Motion::Unknown,
            PitchCourse::Straight => Motion::Straight,
            PitchCourse::Glides(per_sec) => Motion::Glides(per_sec),
            PitchCourse::Moves => Motion::Moves,
            PitchCourse::Vibrato | PitchCourse::TooShort => Motion::Unknown,
        }
    }

    /// The sine that explains the newest cycles best.
    fn find_sine(&self) -> Option<Sine> {
        let (rate_hz, share) = self.scanner.scan(&self.line.cents)?;
        if share < 0.3 {
            return None;
        }
        fit_sine(&self.line.cents, &self.line.heard, rate_hz)
    }

    /// Whether a sine is a vibrato, given what came before.
    fn is_vibrato(&self, sine: &Sine) -> bool {
        let wobbles = self.state.wobble.is_some_and(|w| w > STRAIGHT_CENTS);
        if self.state.moving && sine.share > STAYS_SHARE && sine.width > STAYS_CENTS {
            return true;
        }
        if sine.rate_hz < SLOW_HZ {
            return sine.share > SLOW_SHARE && sine.width > SURE_CENTS;
        }
        (sine.share > SURE_SHARE && sine.width > SURE_CENTS)
            || (wobbles && sine.share > NARROW_SHARE && sine.width > STAYS_CENTS)
    }

    /// The name follows the centre, but does not flicker.
    fn rename(&mut self, centre: f64) {
        let pitch = ORIGIN.raised(Cents(centre));
        if pitch.cents_above(self.state.reference).get().abs() > RENAME_CENTS {
            let nearest = self.settings.tuning.nearest(pitch);
            self.state.midi = nearest.midi;
            self.state.reference = nearest.reference;
        }
    }

    /// Goes on counting turns and tells the new ones.
    fn count(&mut self) {
        let known = self.turns.found.len();
        self.turns.advance(
            &self.line.cents,
            &self.line.heard,
            self.state.rate_hz,
            self.state.width,
        );
        if self.turns.found.len() < known {
            (self.state.turns_told, self.state.cycles_told) = (0, 0);
        }
        self.tell_turns();
    }

    /// Tells the turns that are new, and the oscillations they complete.
    fn tell_turns(&mut self) {
        let found = &self.turns.found;
        let secs = |at: f64| (self.line.first as f64 + at) * HOP_SECS;
        for turn in &found[self.state.turns_told..] {
            if secs(turn.at) > self.state.told_until {
                self.state.told_until = secs(turn.at);
                self.events.push_back(Event::Turn {
                    time: Secs(secs(turn.at)),
                    f0: ORIGIN.raised(Cents(turn.cents)),
                    crest: turn.crest,
                });
            }
        }
        self.state.turns_told = found.len();
        for i in self.state.cycles_told.max(2)..found.len() {
            let (before, crest, turn) = (found[i - 2], found[i - 1], found[i]);
            let (start, period) = (secs(before.at), (turn.at - before.at) * HOP_SECS);
            let new = self.told.last().is_none_or(|(told, length)| start > told + 0.5 * length);
            // An attack or a release can pass for a turn that is out of step.
            let in_step = (period * self.state.rate_hz).ln().abs() < OUT_OF_STEP;
            if !turn.crest && new && in_step {
                if i + 1 == found.len() && !summary::keeps_step(&self.told, period) {
                    // The next turn will say whether it is one.
                    return;
                }
                self.told.push((start, period));
                let shift = ORIGIN.cents_above(self.state.reference).get();
                let oscillation = Oscillation {
                    start: Secs(start),
                    period: Secs(period),
                    crest: Cents(crest.cents + shift),
                    trough: Cents(0.5 * (before.cents + turn.cents) + shift),
                };
                let by = room::widening(self.smear()).value;
                self.events.push_back(Event::Oscillation(oscillation.widened(by)));
            }
            self.state.cycles_told = i + 1;
        }
    }

    /// Tells the oscillations of the finished note that have not been told while it sounded.
    fn tell_the_rest(&mut self) {
        for oscillation in &self.spare.oscillations {
            let (start, half) = (oscillation.start.get(), 0.5 * oscillation.period.get());
            if !self.told.iter().any(|(told, _)| (told - start).abs() < half) {
                self.events.push_back(Event::Oscillation(*oscillation));
            }
        }
    }

    /// Tells a new bow once it is certain.
    fn watch_bow(&mut self) {
        let secs = |frame: usize| Secs((self.line.first + frame as i64) as f64 * HOP_SECS);
        let told = |frame: usize| {
            self.rebows.iter().any(|at| (at.get() - secs(frame).get()).abs() < NEAR_BOW_SECS)
        };
        let bow = new_bow::heard_by_now(&self.line.level, &self.line.upper, told);
        let Some(time) = bow.map(secs) else { return };
        if self.rebows.len() < MOST_REBOWS {
            self.rebows.push(time);
        }
        self.events.push_back(Event::Rebowed { time });
    }

    /// The note ends before frame `end` of the line: its measures go to `note`.
    fn close(&mut self, end: usize) {
        if !self.line.long_enough(end) {
            self.events.push_back(Event::NoteDropped);
            return;
        }
        if self.state.was_moving {
            let line = &self.line;
            self.turns.finish(
                &line.cents[..end],
                &line.heard[..end],
                self.state.rate_hz,
                self.state.width,
            );
        }
        let line = &self.line;
        let smear = self.smear();
        let held = summary::held(end);
        let (mut cents, mut cents_se, unsteadiness) = summary::plain(line, held.clone());
        // Against A4 until the note has its name, which is that of its centre: of whole oscillations if there are any.
        let (turns, spare) = (&self.turns.found, &mut self.spare);
        summary::oscillations(line, turns, ORIGIN, &mut spare.oscillations, &mut self.scratch);
        let few = spare.oscillations.len() < FEW_OSCILLATIONS;
        let two = self.state.still_frames() > TWO_STRINGS_SHARE * end as f64;
        if two {
            // The pitch line leaps between them: what is known is the still one's pitch.
            (cents, cents_se) = (self.state.still[0].cents, STILL_DOUBT_CENTS);
        }
        let moving = !two
            && ((few && summary::summarise_short(line, end, spare))
                || (self.state.was_moving
                    && summary::summarise(line, turns, ORIGIN, spare)
                    && !self.too_narrow()));
        if moving {
            cents = self.spare.centre.value.get();
        }
        let f0 = ORIGIN.raised(Cents(cents));
        let nearest = self.settings.tuning.nearest(f0);
        let shift = ORIGIN.cents_above(nearest.reference).get();
        for o in &mut self.spare.oscillations {
            o.crest.0 += shift;
            o.trough.0 += shift;
        }
        self.spare.centre.value.0 += shift;
        if moving {
            if smear.is_some() {
                self.spare.widen(room::widening(smear));
            }
            cents_se = self.spare.centre.se.map_or(cents_se, Cents::get);
            let width = self.spare.width.value;
            let travel = self.settings.strings.and_then(|strings| strings.travel(f0, width));
            if let Some((_, mm)) = travel {
                self.spare.set_travel(mm);
            }
            self.tell_the_rest();
        }
        let secs = |frame: i64| Secs(frame as f64 * HOP_SECS);
        let bowed = secs(self.line.first + self.line.left_at(end) as i64);
        // No oscillation that is counted ends after its note does.
        let last = self.spare.oscillations.last().filter(|_| moving);
        let swung = last.map_or(0.0, |last| last.start.get() + last.period.get());
        let until = Secs(bowed.get().max(swung));
        self.hand_over(moving, until);
        let course = self.course((moving, two), end, held);
        let remarks = self.remarks(moving, end, f0);
        let (line, note) = (&self.line, &mut self.note);
        (note.start, note.end) = (secs(line.first), until);
        note.heard_until = secs(line.first + end as i64);
        note.midi = nearest.midi;
        note.reference = nearest.reference;
        (note.f0, note.offset) = (Measure::doubtful(f0), Measure::doubtful(nearest.offset));
        note.doubt_pitch(Cents(cents_se));
        note.level_dbfs = line.level[..end].iter().sum::<f64>() / end.max(1) as f64;
        note.confidence = line.confidence[..end].iter().sum::<f64>() / end.max(1) as f64;
        note.unsteadiness = Cents(unsteadiness);
        (note.course, note.remarks) = (course, remarks);
        note.rebows.clear();
        note.rebows.extend(self.rebows.iter().filter(|at| **at < until));
        self.rebows.retain(|at| *at >= until);
        self.ended_still = if two { self.state.still } else { Default::default() };
        self.events.push_back(Event::NoteEnded);
    }

    /// Gives the note the vibrato that was measured, if it has one. Room for a vibrato is never given back: of two sets
    /// the note has the one and the next vibrato is measured in the other.
    fn hand_over(&mut self, moving: bool, until: Secs) {
        self.spare.contour.retain(|point| point.time < until);
        let other = self.note.vibrato.take().or_else(|| self.resting.take());
        if moving {
            self.note.vibrato = other.map(|other| std::mem::replace(&mut self.spare, other));
        } else {
            self.resting = other;
        }
    }

    /// What the pitch of the note did that ends before frame `end`, in the frames in which it was `held`.
    fn course(&self, (moving, two): (bool, bool), end: usize, held: Range<usize>) -> PitchCourse {
        if moving {
            return PitchCourse::Vibrato;
        }
        if end < TELLING_FRAMES || two {
            return PitchCourse::TooShort;
        }
        // It was taken for a vibrato while it sounded: the last second says whether it came to stay.
        let last = held.end.saturating_sub(SECOND_FRAMES).max(held.start)..held.end;
        let still = || {
            let wobble = wobble(&self.line.cents[last.clone()], &self.line.heard[last.clone()]);
            wobble.is_some_and(|cents| cents < STRAIGHT_CENTS)
        };
        // A short note wanders by more than a long one does in any second of it.
        let strays = summary::beside_line(&self.line, held.clone()) > MOST_BESIDE_CENTS;
        if self.state.was_moving && !still() && (strays || end > SECOND_FRAMES) {
            return PitchCourse::Moves;
        }
        let course = summary::course(&self.line, held);
        // A single narrow swing stays within the bounds of a straight note, and fills a short one.
        if course == PitchCourse::Straight && end < LIVE_TELLING_FRAMES && strays {
            return PitchCourse::TooShort;
        }
        course
    }

    fn remarks(&mut self, moving: bool, end: usize, f0: Hz) -> Remarks {
        let first = self.line.first;
        let two_strings = self.state.chord_frames > TWO_STRINGS_SHARE * end as f64;
        let width = self.note.vibrato.as_ref().map_or(0.0, |vibrato| vibrato.width.value.get());
        let (line, harmonics) = (&self.line, &self.harmonics);
        let ended = Ended { line, end, harmonics, f0, width, two_strings };
        Remarks {
            unlike_bow: ended.unlike_bow(),
            two_strings,
            still: None,
            room: moving && self.smear().is_some_and(|smear| smear > ROOM_SMEAR),
            clipped: self.clipped_within(first, first + end as i64) >= CLIPPED_SAMPLES,
            lost: self.state.lost,
            cut: self.state.cut,
        }
    }

    /// Whether what was counted is no wider than a straight note's wander.
    fn too_narrow(&self) -> bool {
        let (sum, count) = self.state.wobbles;
        self.spare.rate.value.get() >= SLOW_HZ
            && self.spare.width.value.get() < SURE_CENTS
            && count > 0.0
            && sum / count < STRAIGHT_CENTS
    }
}

impl State {
    /// A string was still at this pitch for a frame.
    fn add_still(&mut self, cents: f64) {
        let near =
            |still: &&mut Still| still.frames == 0.0 || (still.cents - cents).abs() < SAME_CENTS;
        if let Some(still) = self.still.iter_mut().find(near) {
            still.frames += 1.0;
            still.cents += (cents - still.cents) / still.frames;
        }
        self.still.sort_unstable_by(|a, b| b.frames.total_cmp(&a.frames));
    }

    /// Frames in which one of two strings was known to be still.
    fn still_frames(&self) -> f64 {
        self.still.iter().map(|still| still.frames).sum()
    }
    fn new() -> Self {
        Self {
            midi: 69,
            reference: ORIGIN,
            moving: false,
            was_moving: false,
            rate_hz: 6.0,
            width: 0.0,
            wobble: None,
            course: PitchCourse::TooShort,
            wobbles: (0.0, 0.0),
            turns_told: 0,
            cycles_told: 0,
            told_until: -1.0,
            lost: false,
            cut: false,
            chord_frames: 0.0,
            still: [Still::default(); STILL_PITCHES],
        }
    }
}

pub(crate) fn empty_vibrato() -> Vibrato {
    Vibrato {
        rate: Measure::known(Hz(0.0), Hz(0.0)),
        width: Measure::known(Cents(0.0), Cents(0.0)),
        centre: Measure::known(Cents(0.0), Cents(0.0)),
        onset: Measure::known(Secs(0.0), Secs(0.0)),
        others: Measures::default(),
        contour: Vec::with_capacity(LONGEST_FRAMES / EVERY_FRAMES + 1),
        oscillations: Vec::with_capacity(MOST_TURNS / 2 + 1),
    }
}

pub(crate) fn empty_note() -> Note {
    Note {
        start: Secs(0.0),
        end: Secs(0.0),
        heard_until: Secs(0.0),
        midi: 69,
        reference: ORIGIN,
        f0: Measure::known(ORIGIN, Hz(0.0)),
        offset: Measure::known(Cents(0.0), Cents(0.0)),
        level_dbfs: -120.0,
        confidence: 0.0,
        unsteadiness: Cents(0.0),
        vibrato: None,
        course: PitchCourse::TooShort,
        rebows: Vec::with_capacity(MOST_REBOWS),
        remarks: Remarks::default(),
    }
}
