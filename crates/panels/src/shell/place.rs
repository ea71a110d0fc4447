//! How loud the room is beside the instrument, as the last notes with vibrato showed it.

use std::collections::VecDeque;
use tuning::figure;
use vibrato::{Note, Quantity, median};

/// So many notes are kept.
const NOTES: usize = 8;
/// Direct sound so many dB above the room's, and the room does not narrow a vibrato that counts.
const DRY_DB: f64 = 8.0;
/// At half the distance the direct sound is 6 dB louder and the room as loud as before. What is in doubt of a width is then
/// this share of what it was: half of 480 made notes in eight rooms each, from bare to dry, came to less.
const HALF_WAY: f64 = 0.7;
/// A width that is known to this share needs no better place.
const WELL_KNOWN: f64 = 0.02;

/// What one note showed.
#[derive(Clone, Copy, Debug)]
struct Shown {
    /// Direct sound over late sound, in dB; `None` where no late sound showed.
    ratio_db: Option<f64>,
    /// Its width, and the standard error of that, in cents.
    width: (f64, f64),
}

/// How loud the room is beside the instrument.
#[derive(Clone, Debug, Default)]
pub struct Place(VecDeque<Shown>);

impl Place {
    /// A note ended, or was looked at again.
    pub(crate) fn hear(&mut self, note: &Note) {
        let Some(vibrato) = &note.vibrato else { return };
        let ratio_db = vibrato.get(Quantity::DirectSound).map(|ratio| ratio.value);
        let dry = vibrato.get(Quantity::Widened).is_some_and(|pct| pct.value <= 0.0);
        // What is still to be looked at comes again.
        let Some(doubt) = vibrato.width.se.filter(|_| ratio_db.is_some() || dry) else { return };
        if self.0.len() == NOTES {
            self.0.pop_front();
        }
        self.0.push_back(Shown { ratio_db, width: (vibrato.width.value.get(), doubt.get()) });
    }

    /// What is known of it, in words.
    pub fn words(&self) -> String {
        let of = |each: fn(&Shown) -> f64| median(self.0.iter().map(each).collect());
        let ratio = of(|shown| shown.ratio_db.unwrap_or(f64::INFINITY));
        let (Some(ratio), Some(width), Some(share)) =
            (ratio, of(|shown| shown.width.0), of(|shown| shown.width.1 / shown.width.0))
        else {
            return "How loud the room is beside the instrument is said here after a note with vibrato."
                .to_owned();
        };
        if ratio > DRY_DB {
            return "The room is soft beside the instrument: a good place.".to_owned();
        }
        let side = if ratio < 0.0 { "below" } else { "above" };
        let known = format!(
            "The instrument's own sound lies about {} dB {side} that of the room: a vibrato of {} cents is known to {} cents",
            figure::number(Some(ratio.abs()), 0, false),
            figure::number(Some(width), 0, false),
            figure::doubt(Some(share * width), 1),
        );
        if share < WELL_KNOWN {
            return format!("{known}.");
        }
        let nearer = figure::doubt(Some(HALF_WAY * share * width), 1);
        format!("{known}, at half the distance to about {nearer}.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::{Cents, Hz, Secs};
    use vibrato::{Measure, Measures, Vibrato};

    /// A note of 40 cents with this standard error, ratio and widening.
    fn note(se: f64, ratio_db: Option<f64>, widened: f64) -> Note {
        let mut others = Measures::default().with(Quantity::Widened, widened, Some(0.0));
        let ratio = ratio_db.map(|value| Measure { value, se: Some(3.0) });
        others.set(Quantity::DirectSound, ratio);
        let vibrato = Vibrato {
            rate: Measure::known(Hz(5.0), Hz(0.01)),
            width: Measure::known(Cents(40.0), Cents(se)),
            centre: Measure::known(Cents(0.0), Cents(0.1)),
            onset: Measure::known(Secs(0.0), Secs(0.0)),
            others,
            contour: Vec::new(),
            oscillations: Vec::new(),
        };
        Note { vibrato: Some(vibrato), ..Note::plain(57, Hz(220.0), Secs(0.0), Secs(2.0)) }
    }

    #[test]
    fn a_loud_room_is_told_with_what_half_the_distance_makes_of_the_doubt() {
        let mut place = Place::default();
        assert!(place.words().contains("after a note"));
        place.hear(&note(1.2, None, 9.0));
        assert!(place.words().contains("after a note"), "it is still to be looked at");
        place.hear(&note(1.0, Some(-2.0), 20.0));
        let words = place.words();
        assert!(words.contains("2 dB below") && words.contains("to ±1 cents"), "{words}");
        assert!(words.contains("at half the distance to about ±0.7"), "{words}");
    }

    #[test]
    fn the_last_notes_count_and_a_dry_place_is_good() {
        let mut place = Place::default();
        place.hear(&note(1.0, Some(-2.0), 20.0));
        (0..3).for_each(|_| place.hear(&note(0.2, None, 0.0)));
        assert!(place.words().contains("good place"), "{}", place.words());
        (0..NOTES).for_each(|_| place.hear(&note(0.5, Some(4.0), 3.0)));
        let words = place.words();
        assert!(words.contains("4 dB above") && words.ends_with("known to ±0.5 cents."), "{words}");
    }
}
