//! The course of a recorded note's own vibrato over the cycle that is repeated.

use vibrato::Event;
use whole_chain::drill_scoring::Hearing;

use super::recording::Recorded;

/// Parts of the cycle that are told apart.
const PARTS: usize = 40;
/// Seconds that are heard, and left out at both ends.
const HEARD_SECS: f64 = 4.0;
const EDGE_SECS: f64 = 0.3;

/// Cents above its own mean, by the share of the cycle gone through.
#[derive(Clone)]
pub(super) struct Course([f64; PARTS]);

impl Course {
    /// As the ear hears `note` go on for some seconds, `bend` cents beside the recording; and whether it calls that
    /// straight.
    pub(super) fn of(note: &Recorded, mut bend: impl FnMut(f64) -> f64) -> (Self, bool) {
        let mut places = Vec::new();
        let samples = note.play(note.place(1.0), HEARD_SECS, |played, place| {
            let cycles = note.cycles(place);
            places.push((played, cycles));
            bend(cycles)
        });
        let (mut sums, mut counts, mut notes) = ([0.0; PARTS], [0.0; PARTS], Vec::new());
        let reference = tuning::Tuning::default().frequency(note.midi);
        for (event, ended) in Hearing::of_samples(&samples).looks.into_iter().flat_map(|l| l.1) {
            notes.extend(ended);
            let Event::Frame(frame) = event else { continue };
            let secs = frame.time.get();
            let inside = (EDGE_SECS..HEARD_SECS - EDGE_SECS).contains(&secs);
            if let Some(f0) = frame.f0.filter(|_| inside) {
                let at = places.partition_point(|(played, _)| *played < secs);
                let part = (places[at].1.fract() * PARTS as f64) as usize;
                sums[part] += f0.cents_above(reference).get();
                counts[part] += 1.0;
            }
        }
        let mut course: [f64; PARTS] = std::array::from_fn(|part| {
            assert!(counts[part] > 2.0, "{}: nothing in part {part}", note.name);
            sums[part] / counts[part]
        });
        let mean = course.iter().sum::<f64>() / PARTS as f64;
        course.iter_mut().for_each(|cents| *cents -= mean);
        (Self(course), notes.iter().all(|note| note.straight()))
    }

    /// Cents above the mean after so many cycles.
    pub(super) fn at(&self, cycles: f64) -> f64 {
        let place = cycles.rem_euclid(1.0) * PARTS as f64 - 0.5;
        let (part, share) =
            (place.floor().rem_euclid(PARTS as f64) as usize, place - place.floor());
        self.0[part] * (1.0 - share) + self.0[(part + 1) % PARTS] * share
    }

    /// Crest to trough, in cents.
    pub(super) fn width(&self) -> f64 {
        let highest = self.0.iter().copied().fold(f64::MIN, f64::max);
        highest - self.0.iter().copied().fold(f64::MAX, f64::min)
    }

    /// The share of the cycle at which it crosses the mean on its way from trough to crest.
    pub(super) fn crossing(&self) -> f64 {
        let fine = |k: usize| k as f64 / 1_000.0;
        let trough = (0..1_000)
            .min_by(|a, b| self.at(fine(*a)).total_cmp(&self.at(fine(*b))))
            .expect("some");
        let up = (trough..trough + 1_000).find(|k| self.at(fine(*k)) >= 0.0);
        fine(up.expect("it crosses its mean")).fract()
    }
}
