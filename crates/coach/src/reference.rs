//! What a note is measured against, and how much of its swing lies above and below.

use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::Note;

/// What a straight note is held against.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Against {
    /// Equal temperament from A4.
    #[default]
    Equal,
    /// Pure fifths from the player's own open string.
    OpenStrings,
    /// Just intervals above the sounding drone.
    Drone,
}

/// Frequency ratios of the twelve just intervals within an octave, from the unison up: the simplest
/// of 5-limit just intonation. 3/2, 5/4, 6/5, 9/8, 16/15 and 15/8 are those of A. J. Ellis's table
/// in H. Helmholtz, "On the Sensations of Tone"; 4/3, 8/5, 5/3 and 16/9 are their complements; 45/32
/// is a just third over 9/8.
const JUST: [(f64, f64); 12] = [
    (1.0, 1.0),
    (16.0, 15.0),
    (9.0, 8.0),
    (6.0, 5.0),
    (5.0, 4.0),
    (4.0, 3.0),
    (45.0, 32.0),
    (3.0, 2.0),
    (8.0, 5.0),
    (5.0, 3.0),
    (16.0, 9.0),
    (15.0, 8.0),
];

/// The frequency of the just interval so many semitones above `drone` (below, if negative).
pub fn just_above(drone: Hz, semitones: i32) -> Hz {
    let (over, under) = JUST[semitones.rem_euclid(12) as usize];
    Hz(drone.0 * over / under * f64::from(semitones.div_euclid(12)).exp2())
}

/// A straight note the player took for a reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OwnNote {
    /// Which note it is.
    pub midi: i32,
    /// Its mean pitch.
    pub f0: Hz,
    /// When it ended.
    pub time: Secs,
}

impl OwnNote {
    /// The tuning in pure fifths in which this note has its frequency: the player's open string
    /// carries on to all other notes.
    pub fn pure_fifths(&self, tuning: &Tuning) -> Tuning {
        let pure = Tuning { a4: tuning.a4, temperament: tuning::Temperament::PureFifths };
        let off = self.f0.0 / pure.frequency(self.midi).0;
        Tuning { a4: Hz(pure.a4.0 * off), ..pure }
    }
}

/// How a swing lies around a reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Around {
    /// Mean crest above the reference; negative if the crests stay below it.
    pub above: Cents,
    /// Mean trough below the reference; negative if the troughs stay above it.
    pub below: Cents,
    /// The centre above the reference.
    pub centre: Cents,
}

/// How the vibrato of `note` lies around `reference`; `None` for a note without vibrato.
pub fn around(note: &Note, reference: Hz) -> Option<Around> {
    let vibrato = note.vibrato.as_ref()?;
    let count = vibrato.oscillations.len();
    if count == 0 {
        return None;
    }
    let shift = note.reference.cents_above(reference).0;
    let mean = |of: fn(&vibrato::Oscillation) -> f64| {
        vibrato.oscillations.iter().map(of).sum::<f64>() / count as f64 + shift
    };
    Some(Around {
        above: Cents(mean(|o| o.crest.0)),
        below: Cents(-mean(|o| o.trough.0)),
        centre: Cents(vibrato.centre.value.0 + shift),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn just_intervals_have_the_cents_of_the_published_table() {
        // Ellis's appendix to Helmholtz, "On the Sensations of Tone": cents of the just intervals.
        for (semitones, cents) in [
            (1, 111.731),
            (2, 203.910),
            (3, 315.641),
            (4, 386.314),
            (7, 701.955),
            (9, 884.359),
            (11, 1_088.269),
            (12, 1_200.0),
            (-5, 701.955 - 1_200.0),
        ] {
            let got = just_above(Hz(100.0), semitones).cents_above(Hz(100.0)).0;
            assert!((got - cents).abs() < 1e-3, "{semitones}: {got}");
        }
    }

    #[test]
    fn an_own_open_string_tunes_all_others_in_fifths() {
        let tuning = Tuning::default();
        // D3 three cents sharp of its pure fifth below A3.
        let d3 = OwnNote { midi: 50, f0: Hz(220.0 / 1.5).raised(Cents(3.0)), time: Secs(0.0) };
        let own = d3.pure_fifths(&tuning);
        assert!((own.frequency(50).cents_above(d3.f0).0).abs() < 1e-9);
        assert!((own.frequency(57).cents_above(Hz(220.0)).0 - 3.0).abs() < 1e-9);
        assert!((own.frequency(36).cents_above(Hz(220.0 / 3.375)).0 - 3.0).abs() < 1e-9);
    }
}
