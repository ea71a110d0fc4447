//! Whether the string has gone up an octave while the room keeps the note before.
//!
//! What the room keeps and what the string gives then still repeat at the lower pitch, and together they look like one
//! note. But of the harmonics of the lower pitch the odd ones are those of the room alone: they fall at once, and fade,
//! while the even ones stay or rise. A bow that moves on one note does not do that to all odd harmonics.

use crate::front::decibels;
use std::collections::VecDeque;
use tuning::Cents;

/// Frames whose harmonics are remembered, 0.4 s: as long as a slow vibrato needs to swing once. The newest of them, 60 ms,
/// are no part of what the note was before, of which so many are wanted: in a room a single harmonic can vanish for a
/// moment within each swing.
const REMEMBERED: usize = 80;
const NEWEST: usize = 12;
const LEAST_BEFORE: usize = 40;
/// Frames behind a leap, or without a pitch, after which it is another note.
const AWAY: usize = 12;
/// A pitch so far from the one before has leapt, in octaves.
const LEAP_OCTAVES: f64 = 0.1;
/// The last frames lie so near to what the pitch was before; while the string is up, so near to what it left.
const SAME: Cents = Cents(30.0);
const STILL_SAME: Cents = Cents(50.0);
/// Against their mean before, the odd harmonics have fallen by so much and the even ones by no more than this, in dB.
const ODD_FALL_DB: f64 = 5.0;
const EVEN_FALL_DB: f64 = 2.0;
/// What has sunk so far is a bow that turns or leaves, and what comes behind it another note.
const DIP_DB: f64 = 12.0;
/// So many of the odd harmonics that are no weaker than this against the strongest have fallen by this, each for itself.
const ODD: usize = 4;
const LEAST_ODD: usize = 2;
const FAINT_DB: f64 = 20.0;
const EACH_FALL_DB: f64 = 4.0;
/// So much weaker are the odd harmonics against the even ones than in the mean before, and than they ever were.
const WEAKER_DB: f64 = 10.0;
const WEAKER_THAN_EVER_DB: f64 = 5.0;
/// All of this holds in so many last frames.
const NOW_FRAMES: usize = 3;
/// So many frames that lie further off, or with odd harmonics nearly as strong as before, say that it is down again.
const DOWN_DB: f64 = 6.0;
const DOWN_FRAMES: usize = 3;

/// What one frame says.
#[derive(Clone, Copy)]
struct Heard {
    log2_hz: f64,
    /// Power of the first odd harmonics, of all of them and of the even ones, in dB.
    each_db: [f64; ODD],
    odd_db: f64,
    even_db: f64,
}

impl Heard {
    fn ratio_db(&self) -> f64 {
        self.odd_db - self.even_db
    }

    fn stronger_db(&self) -> f64 {
        self.odd_db.max(self.even_db)
    }
}

/// Follows the odd and the even harmonics of one note.
#[derive(Default)]
pub(crate) struct Rise {
    heard: VecDeque<Heard>,
    log2_hz: f64,
    /// Frames since the note was heard.
    away: usize,
    /// While the string is up: the pitch it left, in octaves, and how strong the odd harmonics were there.
    left: Option<(f64, f64)>,
    down: usize,
}

impl Rise {
    /// Nothing is heard of the note in this frame.
    pub(crate) fn leave(&mut self) {
        self.left = None;
        self.away += 1;
        if self.away > AWAY {
            self.forget();
        }
    }

    fn forget(&mut self) {
        self.heard.clear();
        self.left = None;
        (self.away, self.down) = (0, 0);
    }

    /// The lower pitch that the sound repeats at, in this frame.
    pub(crate) fn go_on(&mut self, hz: f64) {
        let log2_hz = hz.log2();
        if !self.heard.is_empty() && (log2_hz - self.log2_hz).abs() > LEAP_OCTAVES {
            self.leave();
        } else {
            self.log2_hz = log2_hz;
        }
    }

    /// Whether the string is an octave above the pitch at which the sound repeats.
    pub(crate) fn is_up(&self) -> bool {
        self.left.is_some()
    }

    /// The share of the odd harmonics of the lower pitch in the power of this frame; says whether the string is still up.
    pub(crate) fn stays(&mut self, share: Option<f64>) -> bool {
        let Some((log2_hz, ratio_db)) = self.left else { return false };
        let is_strong = |share: f64| decibels(share) - decibels(1.0 - share) > ratio_db - DOWN_DB;
        let is_down = is_apart(self.log2_hz, log2_hz, STILL_SAME) || share.is_some_and(is_strong);
        self.down = if is_down { self.down + 1 } else { 0 };
        if self.down == DOWN_FRAMES {
            self.forget();
        }
        self.is_up()
    }

    /// The powers of the harmonics of this frame at the pitch that was told; and whether it may be left for its
    /// octave: not while the room is full of another note, nor for a pitch that is out of range.
    pub(crate) fn hear(&mut self, hz: f64, powers: impl Iterator<Item = f64>, may_rise: bool) {
        let log2_hz = hz.log2();
        if self.is_up() || !self.heard.is_empty() && (log2_hz - self.log2_hz).abs() > LEAP_OCTAVES {
            return;
        }
        (self.away, self.log2_hz) = (0, log2_hz);
        let (mut odd, mut even, mut each_db) = (0.0, 0.0, [decibels(0.0); ODD]);
        for (index, power) in powers.enumerate() {
            *(if index % 2 == 0 { &mut odd } else { &mut even }) += power;
            if index % 2 == 0
                && let Some(each) = each_db.get_mut(index / 2)
            {
                *each = decibels(power);
            }
        }
        if self.heard.len() == REMEMBERED {
            self.heard.pop_front();
        }
        let now = Heard { log2_hz, each_db, odd_db: decibels(odd), even_db: decibels(even) };
        self.heard.push_back(now);
        let Some(before) = self.heard.len().checked_sub(NEWEST).filter(|n| *n >= LEAST_BEFORE)
        else {
            return;
        };
        let before = Before::of(self.heard.range(..before));
        let sunk = |now: &Heard| now.stronger_db() < before.mean.stronger_db() - DIP_DB;
        if self.heard.iter().rev().take(NOW_FRAMES).all(sunk) {
            self.heard.clear();
            return;
        }
        if may_rise && self.heard.iter().rev().take(NOW_FRAMES).all(|now| before.is_left_for(now)) {
            (self.left, self.down) = (Some((before.mean.log2_hz, before.mean.ratio_db())), 0);
        }
    }
}

/// What the note was before.
struct Before {
    mean: Heard,
    /// The weakest that the odd harmonics were against the even ones.
    least_db: f64,
}

impl Before {
    fn of<'a>(frames: impl ExactSizeIterator<Item = &'a Heard> + Clone) -> Self {
        let count = frames.len() as f64;
        let mean = |of: &dyn Fn(&Heard) -> f64| frames.clone().map(of).sum::<f64>() / count;
        Self {
            mean: Heard {
                log2_hz: mean(&|h| h.log2_hz),
                each_db: std::array::from_fn(|k| mean(&|h| h.each_db[k])),
                odd_db: mean(&|h| h.odd_db),
                even_db: mean(&|h| h.even_db),
            },
            least_db: frames.clone().map(Heard::ratio_db).fold(f64::MAX, f64::min),
        }
    }

    /// Whether this frame is what a room keeps of the note, and a string an octave above it.
    fn is_left_for(&self, now: &Heard) -> bool {
        let mean = &self.mean;
        let loudest = mean.each_db.into_iter().fold(f64::MIN, f64::max);
        let each = || mean.each_db.iter().zip(now.each_db);
        let strong = || each().filter(|(before_db, _)| **before_db > loudest - FAINT_DB);
        strong().count() >= LEAST_ODD
            && strong().all(|(before_db, now_db)| now_db < before_db - EACH_FALL_DB)
            && !is_apart(now.log2_hz, mean.log2_hz, SAME)
            && now.odd_db < mean.odd_db - ODD_FALL_DB
            && now.even_db > mean.even_db - EVEN_FALL_DB
            && now.ratio_db() < mean.ratio_db() - WEAKER_DB
            && now.ratio_db() < self.least_db - WEAKER_THAN_EVER_DB
    }
}

fn is_apart(one_log2: f64, other_log2: f64, cents: Cents) -> bool {
    1200.0 * (one_log2 - other_log2).abs() > cents.get()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::HOP_SECS;

    const HZ: f64 = 196.0;

    /// Hears frames of eight harmonics, in dB, with what `change` does to them at each frame.
    fn hear(rise: &mut Rise, frames: usize, change: impl Fn(usize, &mut [f64; 8])) {
        for frame in 0..frames {
            let mut harmonics = [60.0, 57.0, 55.0, 52.0, 50.0, 47.0, 45.0, 42.0];
            change(frame, &mut harmonics);
            rise.go_on(HZ);
            rise.hear(HZ, harmonics.into_iter().map(|db| 10.0_f64.powf(db / 10.0)), true);
        }
    }

    /// Odd harmonics fade as in a room of 0.8 s: 6 dB at once and 75 dB a second.
    fn leap(frame: usize, harmonics: &mut [f64; 8]) {
        for (index, db) in harmonics.iter_mut().enumerate() {
            *db += if index % 2 == 0 { -6.0 - 0.375 * frame as f64 } else { 4.0 };
        }
    }

    #[test]
    fn a_leap_of_an_octave_is_known_within_a_tenth_of_a_second_and_left_again() {
        let mut rise = Rise::default();
        hear(&mut rise, 60, |_, _| {});
        assert!(!rise.is_up());
        hear(&mut rise, 20, leap);
        assert!(rise.is_up());
        for _ in 0..100 {
            rise.go_on(HZ);
            assert!(rise.stays(Some(0.05)), "little is left of the lower note");
        }
        for _ in 0..DOWN_FRAMES {
            rise.go_on(HZ);
            rise.stays(Some(0.6));
        }
        assert!(!rise.is_up(), "the lower note is back");
    }

    #[test]
    fn what_happens_on_one_note_is_no_leap() {
        let one_vanishes = |frame: usize, harmonics: &mut [f64; 8]| {
            harmonics[0] -= 30.0 * (0.06 * frame as f64).sin().powi(4);
        };
        let all_fall = |frame: usize, harmonics: &mut [f64; 8]| {
            harmonics.iter_mut().for_each(|db| *db -= 0.4 * frame as f64);
        };
        let mut rise = Rise::default();
        hear(&mut rise, 60, |_, _| {});
        hear(&mut rise, 200, one_vanishes);
        assert!(!rise.is_up(), "one harmonic");
        for (hz, db) in [(4.0, 7.0), (4.0, -7.0), (5.5, 9.0), (5.5, -9.0), (7.0, 9.0), (7.0, -9.0)]
        {
            let odd_ones_swing = |frame: usize, harmonics: &mut [f64; 8]| {
                let swing = (std::f64::consts::TAU * hz * HOP_SECS * frame as f64).sin();
                harmonics.iter_mut().step_by(2).for_each(|each| *each += db * swing);
            };
            let mut rise = Rise::default();
            hear(&mut rise, 200, odd_ones_swing);
            assert!(!rise.is_up(), "a vibrato of {hz} Hz, {db} dB");
        }
        let mut rise = Rise::default();
        hear(&mut rise, 60, |_, _| {});
        hear(&mut rise, 60, all_fall);
        assert!(!rise.is_up(), "the end of the bow");
        let mut rise = Rise::default();
        hear(&mut rise, LEAST_BEFORE - 1, |_, _| {});
        hear(&mut rise, NEWEST, leap);
        assert!(!rise.is_up(), "a note that was too short to be known");
    }
}
