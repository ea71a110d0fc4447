//! What one string does, sample by sample: pitch, phase and level.

use crate::chance::{Chance, Use};
use crate::spec::{Join, Line, NoteSpec, Spec};
use crate::swing::Swing;
use std::f64::consts::{PI, TAU};

/// Half of the time a bow change takes, in seconds.
const CHANGE_SECS: f64 = 0.03;
/// A string that rings is stopped in this time when the next note is bowed on it, in seconds.
const STOP_SECS: f64 = 0.01;
/// The wandering is a sum of this many sines.
const WANDERERS: usize = 12;
/// The wandering's slowest and fastest sine, in Hz.
const WANDER_HZ: (f64, f64) = (0.15, 3.0);
/// While a string rings, harmonic k loses this times k as many nepers more than the fundamental's own.
const RING_DULLING: f64 = 0.05;

/// One note's pitch as a function of time.
pub(crate) struct Pitch<'a> {
    pub note: &'a NoteSpec,
    pub swing: Option<Swing>,
    /// Frequency in Hz, phase in radians, amplitude in cents.
    wander: Vec<(f64, f64, f64)>,
}

impl<'a> Pitch<'a> {
    /// The pitch of `note`; `chance` must be that of its place in the specification.
    pub(crate) fn new(note: &'a NoteSpec, mut chance: Chance) -> Self {
        let wander = if note.wander.get() > 0.0 {
            let amplitude = note.wander.get() * (2.0 / WANDERERS as f64).sqrt();
            let mut one =
                || (chance.even(WANDER_HZ.0, WANDER_HZ.1), chance.even(0.0, TAU), amplitude);
            (0..WANDERERS).map(|_| one()).collect()
        } else {
            Vec::new()
        };
        let length = note.length.get();
        let swing = note.vibrato.as_ref().map(|vibrato| Swing::new(vibrato, length, &mut chance));
        Self { note, swing, wander }
    }

    /// Cents above the note's nominal pitch, `secs` from its start; goes on beyond its end.
    pub(crate) fn cents_at(&self, secs: f64) -> f64 {
        let swing = self.swing.as_ref().map_or(0.0, |swing| swing.cents_at(secs));
        let drift = self.note.drift.get() * secs / self.note.length.get();
        let wander: f64 =
            self.wander.iter().map(|(hz, at, cents)| cents * (TAU * hz * secs + at).sin()).sum();
        swing + drift + wander
    }

    fn octaves_at(&self, secs: f64) -> f64 {
        self.note.f0.get().log2() + self.cents_at(secs) / 1_200.0
    }
}

/// One string through the whole sound. All lists have one value per sample.
pub(crate) struct Course<'a> {
    pub pitches: Vec<Pitch<'a>>,
    /// Instantaneous frequency in Hz; held in rests.
    pub f0: Vec<f64>,
    /// Its integral in turns, 0 to 1.
    pub phase: Vec<f64>,
    /// Level of the tone, bowed and ringing; 1 is a note at 0 dB.
    pub tone: Vec<f64>,
    /// Level of the bowed tone alone.
    pub bowed: Vec<f64>,
    /// Level of attack and bow-change noise.
    pub scratch: Vec<f64>,
    /// Radius that dulls the harmonics: harmonic k is multiplied by its k-th power.
    pub radius: Vec<f64>,
    /// Whether the bow is on the string.
    pub on: Vec<bool>,
}

impl<'a> Course<'a> {
    /// Line number `index` of `spec`, `samples` long.
    pub(crate) fn new(spec: &Spec, index: usize, line: &'a Line, samples: usize) -> Self {
        let rate = f64::from(spec.sample_rate_hz);
        let chance = |j| Chance::new(spec.seed, Use::Note(index, j));
        let pitches: Vec<Pitch<'a>> =
            line.notes.iter().enumerate().map(|(j, note)| Pitch::new(note, chance(j))).collect();
        let held = line.notes.first().map_or(100.0, |note| note.f0.get());
        let mut course = Self {
            pitches,
            f0: vec![held; samples],
            phase: vec![0.0; samples],
            tone: vec![0.0; samples],
            bowed: vec![0.0; samples],
            scratch: vec![0.0; samples],
            radius: vec![1.0; samples],
            on: vec![false; samples],
        };
        for j in 0..line.notes.len() {
            course.lay_pitch(line, j, rate);
            course.lay_level(line, j, rate);
        }
        course.integrate(rate);
        course
    }

    fn lay_pitch(&mut self, line: &Line, j: usize, rate: f64) {
        let note = &line.notes[j];
        let start = note.start.get();
        let next = line
            .notes
            .get(j + 1)
            .map_or(self.f0.len(), |next| first_sample(next.start.get(), rate));
        let (from, to) = self.span(note, rate);
        let mut last = note.f0.get();
        for n in from..to {
            let secs = n as f64 / rate - start;
            let mut octaves = self.pitches[j].octaves_at(secs);
            if note.join == Join::Legato && secs < note.glide.get() && j > 0 {
                let before = &self.pitches[j - 1];
                let old = before.octaves_at(n as f64 / rate - before.note.start.get());
                octaves = old + (octaves - old) * smooth(secs / note.glide.get());
            }
            last = octaves.exp2();
            self.f0[n] = last;
            self.on[n] = true;
        }
        for hz in &mut self.f0[to..next.max(to)] {
            *hz = last;
        }
    }

    fn lay_level(&mut self, line: &Line, j: usize, rate: f64) {
        let note = &line.notes[j];
        let gain = |note: &NoteSpec| decibels(note.level_db + line.level_db);
        let tied_on = line.notes.get(j + 1).is_some_and(|next| next.join == Join::Legato);
        let (from, to) = self.span(note, rate);
        let rest = if note.ring.get() > 0.0 { decibels(-note.ring_drop_db) } else { 0.0 };
        for n in from..to {
            let secs = n as f64 / rate - note.start.get();
            let left = note.length.get() - secs;
            let mut level = gain(note);
            let mut scratch = 0.0f64;
            if note.join == Join::Legato && j > 0 {
                let old = gain(&line.notes[j - 1]);
                level = old + (level - old) * smooth(secs / note.glide.get());
            } else {
                level *= smooth(secs / note.attack.get());
                let noisy = note.attack.get().max(CHANGE_SECS);
                scratch = (PI * (secs / noisy).min(1.0)).sin();
            }
            if !tied_on {
                level *= rest + (1.0 - rest) * smooth(left / note.release.get());
            }
            for change in &note.bow_changes {
                let apart = (secs - change.get()).abs() / CHANGE_SECS;
                if apart < 1.0 {
                    let bump = 0.5 * (1.0 + (PI * apart).cos());
                    level *= 1.0 - (1.0 - decibels(-note.dip_db)) * bump;
                    scratch = scratch.max(bump);
                }
            }
            self.tone[n] += level;
            self.bowed[n] += level;
            self.scratch[n] += scratch * gain(note);
        }
        if rest > 0.0 && !tied_on {
            let stop = line.notes.get(j + 1).map_or(f64::INFINITY, |next| next.start.get());
            for n in to..self.tone.len() {
                let at = n as f64 / rate;
                let nepers = 1_000f64.ln() * (at - note.end().get()) / note.ring.get();
                let level =
                    gain(note) * rest * (-nepers).exp() * (1.0 - smooth((at - stop) / STOP_SECS));
                if level < 1e-6 {
                    break;
                }
                self.tone[n] += level;
                if at < stop {
                    self.radius[n] = (-RING_DULLING * nepers).exp();
                }
            }
        }
    }

    fn integrate(&mut self, rate: f64) {
        let mut turns = 0.0;
        for n in 1..self.f0.len() {
            turns += 0.5 * (self.f0[n - 1] + self.f0[n]) / rate;
            turns -= turns.floor();
            self.phase[n] = turns;
        }
    }

    /// Samples at which `note` is bowed: from its start to before its end.
    pub(crate) fn span(&self, note: &NoteSpec, rate: f64) -> (usize, usize) {
        let bound = |secs: f64| first_sample(secs, rate).min(self.f0.len());
        (bound(note.start.get()), bound(note.end().get()))
    }
}

/// Number of the first sample at or after `secs`; a sample's rounding error is forgiven.
fn first_sample(secs: f64, rate: f64) -> usize {
    (secs * rate - 1e-6).ceil().max(0.0) as usize
}

/// From 0 to 1 with level ends; 0 before, 1 behind.
fn smooth(share: f64) -> f64 {
    let share = share.clamp(0.0, 1.0);
    0.5 * (1.0 - (PI * share).cos())
}

/// An amplitude factor from decibels.
pub(crate) fn decibels(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}
