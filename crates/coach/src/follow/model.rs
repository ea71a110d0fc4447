//! What the plan leads one to expect, and what it costs to hear something else: negative logarithms of likelihood ratios.

use tuning::Tuning;

use super::heard::{Sums, cents_of};
use crate::plan::{Passage, Pitch, PlanNote};

/// Intonation of a note, in cents.
const SIGMA_CENTS: f64 = 22.0;
/// A cycle of a vibrato, in seconds: so often the mean of a longer note is told anew.
const CYCLE_SECS: f64 = 0.17;
/// Another pitch than planned; nearer than this, in cents, it is the planned one, out of tune.
pub(super) const NEAR_CENTS: f64 = 50.0;
const NEAR_OTHER: f64 = 0.3;
/// A slip is mostly a neighbour: each semitone beyond so many costs this, up to so many.
const NEIGHBOURS: f64 = 3.0;
const FARTHER: f64 = 1.0;
const MOST_FARTHER: f64 = 4.0;
/// How far the pitch strays within a note, in cents; so many frames tell as much as one.
const STRAYS_CENTS: f64 = 45.0;
const FRAMES_AS_ONE: f64 = 10.0;
/// How far lengths stray, as logarithms: too long ones and too short ones. Most are near, but some are held or cut off:
/// the tails are those of a Student's t distribution of three degrees of freedom. A length costs at most so much.
const STRAYS_LONG: f64 = 0.2;
const STRAYS_SHORT: f64 = 0.3;
const TAILS: f64 = 2.0;
const MOST_LENGTH: f64 = 7.0;
/// Two strings: the pitch says little.
const DOUBLE: f64 = 2.5;
/// A beginning in a new bow wants so much of a sign of the bow, in dB.
const SIGN_DB: f64 = 5.0;
const DETACHED: f64 = 0.25;
const SAME_PITCH: f64 = 1.2;
const JUMPED: f64 = 0.6;
/// Under a slur a sign of the bow speaks against a beginning, but no more than one of so many dB.
const SLURRED: f64 = 0.15;
const MOST_SLURRED_DB: f64 = 8.0;
/// Ways from note to note.
const SKIP: f64 = 4.0;
pub(super) const MOST_SKIPPED: usize = 3;
const REPEAT: f64 = 3.0;
const JUMP_BAR: f64 = 8.0;
/// Back to the start of this bar or of the one before.
const JUMP_NEAR: f64 = 4.5;
const JUMP_ANY: f64 = 11.0;

/// What differs between following and aligning afterwards.
#[derive(Clone, Copy, Debug)]
pub(super) struct Costs {
    /// Another pitch than planned.
    other_pitch: f64,
    /// A jump costs less after half a second of silence, by this.
    stopped: f64,
    /// A note that is taken for another octave or twelfth of the planned pitch while it begins.
    slip: Option<f64>,
}

/// When all has been heard.
pub(super) const AFTER: Costs = Costs { other_pitch: 5.5, stopped: 2.0, slip: None };
/// While the player plays.
pub(super) const LIVE: Costs = Costs { other_pitch: 6.5, stopped: 2.5, slip: Some(3.0) };

/// In cents: partials of a lower pitch that may be heard while a note begins.
const SLIPS_CENTS: [f64; 2] = [1200.0, 1902.0];

/// One note of the plan as it is to sound: without rests, and tied notes as one.
#[derive(Clone, Copy, Debug)]
pub(super) struct Planned {
    /// Its number in the plan.
    pub(super) number: usize,
    /// Which of the pitches and which of the lengths it has.
    pitch: usize,
    length: usize,
    pub(super) beats: f64,
    pub(super) slur: bool,
    /// The pitch of the note before it.
    same: bool,
    bar: u32,
    first_of_bar: bool,
    /// The last note that leads back to this one: of its own bar or the next.
    near: usize,
}

/// The plan as it is followed.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub(super) notes: Vec<Planned>,
    /// Pitches, each once, in cents: two for two strings.
    pitches: Vec<(f64, Option<f64>)>,
    lengths: Vec<f64>,
    /// There are two strings at once somewhere.
    pub(super) doubles: bool,
}

/// How a note follows what was played before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Way {
    Next,
    Again,
    /// So many notes were left out.
    Skip(u8),
    Jump,
}

/// What each note of the plan costs for one stretch of sound.
#[derive(Default)]
pub(super) struct StretchCosts {
    by_pitch: Vec<(f64, bool)>,
    by_length: Vec<f64>,
}

/// A stretch of sound that may be a note.
#[derive(Clone, Copy)]
pub(super) struct Stretch {
    pub(super) secs: f64,
    pub(super) sums: Sums,
    /// Seconds a beat.
    pub(super) beat: f64,
    /// It sounds on: it may still become longer.
    pub(super) sounds: bool,
    /// What signs of the bow and silence within it cost.
    pub(super) inside: f64,
}

/// What it costs that the pitch of a stretch strays from its mean.
pub(super) fn strays(sums: &Sums) -> f64 {
    sums.about_mean() / (2.0 * FRAMES_AS_ONE * STRAYS_CENTS.powi(2))
}

fn index_of<T: PartialEq>(all: &mut Vec<T>, one: T) -> usize {
    all.iter().position(|other| *other == one).unwrap_or_else(|| {
        all.push(one);
        all.len() - 1
    })
}

impl Model {
    pub(super) fn new(passage: &Passage, tuning: &Tuning) -> Self {
        let cents = |midi| cents_of(tuning.frequency(midi));
        let double = |note: &PlanNote| matches!(note.pitch, Pitch::Double(..));
        let doubles = passage.notes().iter().any(double);
        let mut model =
            Self { notes: Vec::new(), pitches: Vec::new(), lengths: Vec::new(), doubles };
        let mut beats: Vec<f64> = Vec::new();
        for (number, note) in passage.notes().iter().enumerate() {
            let pitch = match note.pitch {
                Pitch::Rest => continue,
                Pitch::Single(one) => (cents(one.midi()), None),
                Pitch::Double(low, high) => (cents(low.midi()), Some(cents(high.midi()))),
            };
            if let Some(last) = beats.last_mut().filter(|_| note.tie) {
                *last += note.beats.get();
                continue;
            }
            beats.push(note.beats.get());
            let pitch = index_of(&mut model.pitches, pitch);
            let before = model.notes.last();
            model.notes.push(Planned {
                number,
                pitch,
                length: 0,
                beats: 0.0,
                slur: note.slur,
                same: before.is_some_and(|before| before.pitch == pitch),
                bar: note.at.bar,
                first_of_bar: before.is_none_or(|before| before.bar != note.at.bar),
                near: 0,
            });
        }
        for (i, beats) in beats.into_iter().enumerate() {
            let bar = model.notes[i].bar;
            let near = model.notes[i..].iter().take_while(|note| note.bar <= bar + 1).count();
            let length = index_of(&mut model.lengths, beats);
            let note = &mut model.notes[i];
            (note.length, note.beats, note.near) = (length, beats, i + near - 1);
        }
        model
    }

    /// All beats of the plan that sound.
    pub(super) fn beats(&self) -> f64 {
        self.notes.iter().map(|note| note.beats).sum()
    }

    /// Two strings at once.
    pub(super) fn double(&self, note: usize) -> bool {
        self.pitches[self.notes[note].pitch].1.is_some()
    }

    /// How far a pitch lies from a note, in cents; from the nearer of two strings.
    pub(super) fn off(&self, note: usize, cents: f64) -> f64 {
        let (first, second) = self.pitches[self.notes[note].pitch];
        let off = (cents - first).abs();
        second.map_or(off, |second| off.min((cents - second).abs()))
    }

    /// Whether the plan goes from one pitch to another, in cents, or does if notes between both are left out.
    pub(super) fn goes(&self, from: f64, to: f64) -> bool {
        let near = |note: usize, cents: f64| self.off(note, cents) <= 2.0 * NEAR_CENTS;
        let ends = |note: usize| note + 1..self.notes.len().min(note + 2 + MOST_SKIPPED);
        let begins = (0..self.notes.len()).filter(|note| near(*note, from));
        begins.flat_map(ends).any(|note| near(note, to))
    }

    /// What a stretch of sound costs as each of the notes.
    pub(super) fn weigh(&self, costs: &Costs, stretch: &Stretch, into: &mut StretchCosts) {
        let Stretch { secs, sums, beat, sounds, inside } = *stretch;
        let (mean, squares) = (sums.mean(), sums.about_mean());
        let own = squares / sums.count.max(1.0) / (2.0 * (secs / CYCLE_SECS).max(1.0));
        let variance = SIGMA_CENTS.powi(2) + own;
        let strays = strays(&sums);
        into.by_pitch.clear();
        into.by_pitch.extend(self.pitches.iter().map(|(cents, second)| {
            let off = mean - cents;
            let right = |off: f64| 0.5 * off * off / variance;
            if let Some(second) = second {
                return (right(off).min(right(mean - second)).min(DOUBLE) + inside, false);
            }
            let mut planned = right(off);
            for slip in SLIPS_CENTS {
                planned =
                    planned.min(costs.slip.map_or(planned, |slips| slips + right(off + slip)));
            }
            let near = if off.abs() < NEAR_CENTS { NEAR_OTHER } else { 0.0 };
            let farther = (off.abs() / 100.0 - NEIGHBOURS).clamp(0.0, MOST_FARTHER);
            let other = costs.other_pitch + near + FARTHER * farther;
            (planned.min(other) + strays + inside, planned > other)
        }));
        into.by_length.clear();
        into.by_length.extend(self.lengths.iter().map(|beats| {
            let ratio = (secs / (beat * beats)).ln();
            let strays = if ratio > 0.0 { STRAYS_LONG } else { STRAYS_SHORT };
            let length = TAILS * (ratio / strays).powi(2).ln_1p();
            if sounds && ratio < 0.0 { 0.0 } else { length.min(MOST_LENGTH) }
        }));
    }

    /// What a note costs by these, and whether it would be another pitch than planned.
    pub(super) fn cost(&self, note: usize, of: &StretchCosts) -> (f64, bool) {
        let Planned { pitch, length, .. } = self.notes[note];
        let (by_pitch, other) = of.by_pitch[pitch];
        (by_pitch + of.by_length[length], other)
    }

    /// What it costs to begin a note behind another in a way that is no jump, where the bow speaks by so much.
    pub(super) fn step(&self, note: usize, way: Way, sign_db: f64) -> f64 {
        let unsaid = (SIGN_DB - sign_db).max(0.0);
        let planned = &self.notes[note];
        match way {
            Way::Next if planned.same => SAME_PITCH * unsaid,
            Way::Next if planned.slur => SLURRED * sign_db.min(MOST_SLURRED_DB),
            Way::Next => DETACHED * unsaid,
            Way::Again => REPEAT + SAME_PITCH * unsaid,
            Way::Skip(skipped) => SKIP * f64::from(skipped) + DETACHED * unsaid,
            Way::Jump => JUMPED * unsaid,
        }
    }

    /// What a jump to a note costs from anywhere, and from the bar it leads back from; both beside what silence takes off.
    pub(super) fn jump(&self, costs: &Costs, note: usize, silent_secs: f64) -> (f64, Option<f64>) {
        let less = costs.stopped * (silent_secs / 0.5).min(1.0);
        match self.notes[note].first_of_bar {
            true => (JUMP_BAR - less, Some(JUMP_NEAR - less)),
            false => (JUMP_ANY - less, None),
        }
    }

    /// The notes from which one leads back to this first note of its bar.
    pub(super) fn leads_back(&self, note: usize) -> std::ops::RangeInclusive<usize> {
        note..=self.notes[note].near
    }
}
