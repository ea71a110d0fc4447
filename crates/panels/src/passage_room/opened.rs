//! The passage that is open, laid out once.

use coach::plan::{Passage, Pitch};
use egui::Rangef;
use pictures::Staff;

/// A passage that is open.
#[derive(Clone, Debug)]
pub struct Opened {
    /// Its name: that of its file.
    pub name: String,
    /// The plan.
    pub passage: Passage,
    /// The same without vibrato, as the first pass is played.
    pub straight: Passage,
    staff: Staff,
    /// Notes that begin: neither rests nor tied to what is before them.
    heads: Vec<usize>,
    /// Of each note: where its time lies, in spaces of the staff; that of a head with all that is tied to it.
    times: Vec<Rangef>,
    /// Bars as they are played: where each begins, in spaces.
    bars: Vec<f32>,
}

impl Opened {
    /// Lays it out.
    pub fn new(name: &str, passage: Passage) -> Self {
        let staff = Staff::new(&passage);
        let notes = passage.notes();
        let sounds = |note: usize| notes[note].pitch != Pitch::Rest;
        let heads: Vec<usize> =
            (0..notes.len()).filter(|&note| sounds(note) && !notes[note].tie).collect();
        let mut times: Vec<Rangef> =
            (0..notes.len()).map(|note| staff.time_of(note).unwrap_or(Rangef::NOTHING)).collect();
        for note in (1..notes.len()).rev().filter(|&note| notes[note].tie) {
            times[note - 1].max = times[note].max;
        }
        let bars = staff.bar_lines().map(|(_, x)| x).collect();
        let straight = passage.straight();
        Self { name: name.to_owned(), passage, straight, staff, heads, times, bars }
    }

    /// The staff.
    pub(super) fn staff(&self) -> &Staff {
        &self.staff
    }

    /// Notes that begin, by their numbers in the plan.
    pub fn heads(&self) -> &[usize] {
        &self.heads
    }

    /// Where the time of a note lies, in spaces of the staff.
    pub(super) fn time_of(&self, note: usize) -> Option<Rangef> {
        self.times.get(note).copied()
    }

    /// Where bars begin, in spaces.
    pub(super) fn bars(&self) -> &[f32] {
        &self.bars
    }

    /// The longest rest, in beats.
    pub(super) fn longest_rest(&self) -> f64 {
        let rests = self.passage.notes().iter().filter(|note| note.pitch == Pitch::Rest);
        rests.map(|note| note.beats.get()).fold(0.0, f64::max)
    }

    /// Beats of the metronome in a bar, and how many of them come before the first note: a whole bar, less a pickup.
    pub(super) fn count_in(&self) -> (u32, u32) {
        let (meter, unit) = (self.passage.meter, self.passage.pace.unit);
        let per_beat = f64::from(meter.of.eighths()) / f64::from(unit.eighths());
        let bar = f64::from(meter.beats) * per_beat;
        let bars = self.passage.bars();
        let first: f64 =
            bars.first().map_or(0.0, |notes| notes.iter().map(|note| note.beats.get()).sum());
        let pickup = if bars.len() > 1 { first * per_beat } else { bar };
        let whole = (bar.round() as u32).max(1);
        let short = pickup < bar - 1e-6;
        let lead = if short { (bar - pickup).round() as u32 } else { whole };
        // Too little of a bar says no pace.
        (whole, if short && 2 * lead < whole { lead + whole } else { lead })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn opened(text: &str) -> Opened {
        Opened::new("mine", Passage::from_text(text).expect("a passage"))
    }

    #[test]
    fn a_bar_is_counted_in_and_a_pickup_takes_its_place_in_it() {
        let of = |bars: &str| {
            opened(&format!("instrument cello\nbeats 3 of quarter\npace 60\n{bars}")).count_in()
        };
        assert_eq!(of("bar 1 A3 3\nbar 2 A3 3\n"), (3, 3));
        assert_eq!(of("bar 0 A3 1\nbar 1 A3 3\n"), (3, 2));
        assert_eq!(of("bar 0 A3 2\nbar 1 A3 3\n"), (3, 4), "one beat says no pace");
        let eighths = "instrument cello\nbeats 6 of eighth\npace 96\nbar 1 A3 6\nbar 2 A3 6\n";
        assert_eq!(opened(eighths).count_in().0, opened(eighths).count_in().1);
    }

    #[test]
    fn what_is_tied_is_one_note_and_rests_are_none() {
        let one =
            opened("instrument cello\npace 60\nbar 1 A3 2, rest 1, B3 1\nbar 2 B3 2 tied, C4 2\n");
        assert_eq!(one.heads(), [0, 2, 4]);
        let (tied, after) = (one.time_of(2).expect("there"), one.time_of(4).expect("there"));
        assert!((tied.max - after.min).abs() < 0.1, "{tied:?} {after:?}");
    }
}
