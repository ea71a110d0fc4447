//! Whether the motion goes on from note to note, told by what happens between them.
//!
//! What a hand does at a leap, a shift or another string, sound does not say: both are leaps here.

use vibrato::{Measure, Note, Quantity};

/// Within a slur one note ends where the next begins, give or take so much, in seconds; beyond that the bow stops.
const SLURRED_SECS: f64 = 0.03;
/// Fingers of one hand lie within so many semitones on a string; what is farther is a leap.
const HAND_SEMITONES: i32 = 4;

/// What happens between two notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// Another finger, in one bow.
    Finger,
    /// A leap in one bow: a shift or another string.
    Leap,
    /// The bow stops.
    Bow,
}

impl Between {
    const ALL: [Self; 3] = [Self::Finger, Self::Leap, Self::Bow];

    fn of(before: &Note, note: &Note) -> Self {
        if note.start.get() - before.end.get() > SLURRED_SECS {
            Self::Bow
        } else if note.midi.abs_diff(before.midi) > HAND_SEMITONES.unsigned_abs() {
            Self::Leap
        } else {
            Self::Finger
        }
    }

    /// What it is called, once and several times.
    fn name(self, several: bool) -> &'static str {
        match (self, several) {
            (Self::Finger, false) => "change of finger",
            (Self::Finger, true) => "changes of finger",
            (Self::Leap, false) => "leap",
            (Self::Leap, true) => "leaps",
            (Self::Bow, false) => "stop of the bow",
            (Self::Bow, true) => "stops of the bow",
        }
    }
}

/// How long the motion rests at one kind of change.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Continuity {
    /// What happens there.
    pub between: Between,
    /// Changes of which it is known.
    pub count: usize,
    /// Mean rest, in oscillations of the notes on either side.
    pub rest: Measure<f64>,
}

/// How the motion goes on in notes that follow each other, for each kind of change that they have.
pub fn continuity(notes: &[Note]) -> Vec<Continuity> {
    let rests: Vec<(Between, Measure<f64>)> = notes
        .windows(2)
        .filter_map(|pair| {
            let gap = Quantity::Gap.read(&pair[1], Some(&pair[0]))?;
            let rate = |note: &Note| Some(note.vibrato.as_ref()?.rate.value.get());
            let rate = 0.5 * (rate(&pair[0])? + rate(&pair[1])?);
            let rest = Measure { value: rate * gap.value, se: gap.se.map(|se| rate * se) };
            Some((Between::of(&pair[0], &pair[1]), rest))
        })
        .collect();
    let of = |between: Between| {
        let these = || rests.iter().filter(move |(of, _)| *of == between).map(|(_, rest)| *rest);
        Some(Continuity { between, count: these().count(), rest: Measure::mean(these())? })
    };
    Between::ALL.into_iter().filter_map(of).collect()
}

/// The same in a sentence; `None` where nothing is known.
pub fn continuity_said(notes: &[Note]) -> Option<String> {
    let each = continuity(notes).into_iter().map(|Continuity { between, count, rest }| {
        let long = tuning::figure::with_doubt(rest.value, rest.se, 1, false);
        format!("{long} oscillations at {count} {}", between.name(count > 1))
    });
    let each: Vec<String> = each.collect();
    (!each.is_empty()).then(|| format!("Between notes the motion rests for {}.", each.join(", ")))
}

#[cfg(test)]
mod tests {
    use tuning::Secs;

    use super::*;
    use crate::comparison::tests::vibrated;

    /// A note of 5 Hz from `start`, whose motion ends with it or so many oscillations earlier.
    fn note(midi: i32, start: f64, earlier: usize) -> Note {
        let mut note = vibrated(midi, start, 5.0, 30.0);
        let vibrato = note.vibrato.as_mut().expect("it has one");
        for (number, oscillation) in vibrato.oscillations.iter_mut().enumerate() {
            oscillation.start = Secs(start + 0.2 * number as f64);
        }
        let whole = vibrato.oscillations.len();
        note.end = Secs(start + 0.2 * whole as f64);
        let vibrato = note.vibrato.as_mut().expect("it has one");
        vibrato.oscillations.truncate(whole - earlier);
        note
    }

    #[test]
    fn the_motion_rests_at_each_kind_of_change_as_long_as_it_was_made_to() {
        // Over a finger it goes on, over a leap it rests for two oscillations, and the bow stops for one.
        let first = note(53, 0.0, 0);
        let second = note(54, first.end.get(), 2);
        let third = note(62, second.end.get(), 0);
        let fourth = note(62, third.end.get() + 0.2, 0);
        let found = continuity(&[first, second, third, fourth]);
        let told: Vec<(Between, f64)> =
            found.iter().map(|one| (one.between, (10.0 * one.rest.value).round() / 10.0)).collect();
        assert_eq!(told, [(Between::Finger, 0.0), (Between::Leap, 2.0), (Between::Bow, 1.0)]);
    }

    #[test]
    fn it_is_said_with_how_often_and_nothing_is_said_of_one_note() {
        let first = note(53, 0.0, 1);
        let second = note(54, first.end.get(), 1);
        let third = note(53, second.end.get(), 0);
        let said = continuity_said(&[first.clone(), second, third]).expect("two changes");
        assert!(said.starts_with("Between notes the motion rests for 1.0 ±"), "{said}");
        assert!(said.ends_with(" oscillations at 2 changes of finger."), "{said}");
        assert_eq!(continuity_said(&[first]), None);
    }
}
