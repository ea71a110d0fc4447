//! A model and its echo, note beside note: what differs, how sure that is, and what differs most.

mod course;
mod difference;
mod pairing;
mod timing;
mod wording;

pub use course::{Align, CoursePoint, cycles_at};
pub use difference::{Difference, band};
pub use pairing::MOST_NOTES;

pub(crate) use wording::{amount, distance};

use difference::differences;
use pairing::{Alignment, aligned};
use vibrato::{Measure, Note, PitchCourse, Quantity};
use wording::beside;

/// Whether model and echo of a pair have vibrato.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Motions {
    /// Both.
    Both,
    /// Neither: what the model does, and the echo.
    Neither(PitchCourse, PitchCourse),
    /// The model has; the echo has none and does this.
    ModelOnly(PitchCourse),
    /// The echo has; the model has none and does this.
    EchoOnly(PitchCourse),
    /// One of them is too short or too unclear to tell.
    Unknown,
}

/// A note of the model and the note that answers it.
#[derive(Clone, Debug, PartialEq)]
pub struct Pair {
    /// Index of the model's note.
    pub model: usize,
    /// Index of the echo's note.
    pub echo: usize,
    /// Whether they have vibrato.
    pub motions: Motions,
    /// Semitones by which the echo's note is another one than the model's, once the whole echo is
    /// thought moved by [`Comparison::transposed`]; 0 where the right note was played.
    pub astray: i32,
    /// What differs, echo minus model, where both are known; in the order in which they are read.
    pub differences: Vec<Difference>,
}

impl Pair {
    /// The difference in this quantity, if it is known.
    pub fn difference(&self, quantity: Quantity) -> Option<&Difference> {
        self.differences.iter().find(|difference| difference.quantity == quantity)
    }

    /// What can be told apart, the largest first, in units of what can be told. A width that grows is spread
    /// too: where the growth is told, the spread of the width is not said again.
    pub fn told(&self) -> Vec<&Difference> {
        let can_be_told = |difference: &&Difference| difference.units() > 1.0;
        let grows = self.difference(Quantity::Growth).filter(can_be_told);
        let mut told: Vec<&Difference> = self
            .differences
            .iter()
            .filter(can_be_told)
            .filter(|difference| grows.is_none() || difference.quantity != Quantity::WidthSpread)
            .collect();
        told.sort_by(|a, b| b.units().total_cmp(&a.units()));
        told
    }
}

/// A model and its echo.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// The notes of the model.
    pub model: Vec<Note>,
    /// The notes of the echo.
    pub echo: Vec<Note>,
    /// Which note answers which, in the order of time.
    pub pairs: Vec<Pair>,
    /// Notes of the model that nothing answers.
    pub missing: Vec<usize>,
    /// Notes of the echo that answer nothing.
    pub extra: Vec<usize>,
    /// Semitones by which the whole echo lies above the model: 12 for an octave higher.
    pub transposed: i32,
    /// The means over the pairs: a window asks for those of every echo in each picture.
    means: Vec<Difference>,
}

impl Comparison {
    /// Compares two stretches of playing, each in the order of time. Of either, only the first
    /// [`MOST_NOTES`] notes are looked at: what is longer is no model to be echoed.
    pub fn new(model: &[Note], echo: &[Note]) -> Self {
        let model = &model[..model.len().min(MOST_NOTES)];
        let echo = &echo[..echo.len().min(MOST_NOTES)];
        let Alignment { pairs, missing, extra, transposed } = aligned(model, echo);
        let pairs: Vec<Pair> = pairs
            .into_iter()
            .map(|(m, e)| {
                let before =
                    |notes: &[Note], at: usize| at.checked_sub(1).map(|at| notes[at].clone());
                let (before_model, before_echo) = (before(model, m), before(echo, e));
                let (a, b) = (&model[m], &echo[e]);
                Pair {
                    model: m,
                    echo: e,
                    motions: motions(a, b),
                    astray: b.midi - a.midi - transposed,
                    differences: differences(
                        (a, before_model.as_ref()),
                        (b, before_echo.as_ref()),
                        transposed,
                    ),
                }
            })
            .collect();
        let means = Quantity::compared().filter_map(|quantity| mean(&pairs, quantity)).collect();
        let (model, echo) = (model.to_vec(), echo.to_vec());
        Self { model, echo, pairs, missing, extra, transposed, means }
    }

    /// Whether at least half of the model is played, in any octave, and it is at least half of what is played.
    pub(crate) fn answers(&self) -> bool {
        let right = self.pairs.iter().filter(|pair| pair.astray == 0).count();
        self.transposed % 12 == 0 && 2 * right >= self.model.len().max(self.echo.len())
    }

    /// What makes this hardly an echo of its model, in a sentence: it does not answer it, or does in another octave.
    pub fn unlike(&self) -> Option<String> {
        let (model, echo) = (self.model.len(), self.echo.len());
        if self.answers() {
            let octaves = self.transposed;
            return (octaves != 0).then(|| format!("That was {} the model.", beside(octaves)));
        }
        if 2 * model.min(echo) < model.max(echo) {
            return Some(match echo {
                1 => format!("That was 1 note instead of {model}."),
                _ => format!("Those were {echo} notes instead of {model}."),
            });
        }
        Some("Those were not the notes of the model.".to_owned())
    }

    /// The largest difference of all that can be told, with its pair.
    pub fn largest(&self) -> Option<(&Pair, &Difference)> {
        self.pairs
            .iter()
            .filter_map(|pair| Some((pair, *pair.told().first()?)))
            .max_by(|a, b| a.1.units().total_cmp(&b.1.units()))
    }

    /// Mean of a difference over the pairs in which it is known, with its doubt.
    pub fn mean(&self, quantity: Quantity) -> Option<Difference> {
        self.means.iter().find(|mean| mean.quantity == quantity).copied()
    }
}

fn mean(pairs: &[Pair], quantity: Quantity) -> Option<Difference> {
    let all: Vec<&Difference> = pairs.iter().filter_map(|pair| pair.difference(quantity)).collect();
    let measures = all.iter().map(|d| Measure { value: d.value, se: d.se });
    let Measure { value, se } = Measure::mean(measures)?;
    let least = all.iter().map(|d| d.least).sum::<f64>() / all.len() as f64;
    Some(Difference { quantity, value, se, least, asked: 1 })
}

fn motions(model: &Note, echo: &Note) -> Motions {
    // A note that glides or moves without a vibrato is known to have none.
    let without = |note: &Note| {
        let known = !matches!(note.course, PitchCourse::TooShort | PitchCourse::Vibrato);
        (known && note.vibrato.is_none()).then_some(note.course)
    };
    match (without(model), without(echo)) {
        (Some(model), Some(echo)) => Motions::Neither(model, echo),
        (None, Some(echo)) if model.vibrato.is_some() => Motions::ModelOnly(echo),
        (Some(model), None) if echo.vibrato.is_some() => Motions::EchoOnly(model),
        _ if model.vibrato.is_some() && echo.vibrato.is_some() => Motions::Both,
        _ => Motions::Unknown,
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use tuning::{Cents, Hz, Secs};
    use vibrato::{Measures, Vibrato};

    /// A note of this MIDI number from `start` for 2 s, straight and in tune.
    pub(crate) fn straight(midi: i32, start: f64) -> Note {
        let reference = tuning::Tuning::default().frequency(midi);
        Note::plain(midi, reference, Secs(start), Secs(start + 2.0))
    }

    /// The same with a regular vibrato after a quarter of a second.
    pub(crate) fn vibrated(midi: i32, start: f64, rate: f64, width: f64) -> Note {
        let cycles = (1.7 * rate) as usize;
        straight(midi, start).vibrated(Vibrato {
            onset: Measure::known(Secs(0.25), Secs(0.01)),
            others: Measures::default()
                .with(Quantity::RateSpread, 4.0, Some(1.0))
                .with(Quantity::WidthSpread, 6.0, Some(1.5))
                .with(Quantity::OutOfRound, 2.0, Some(0.5))
                .with(Quantity::Drift, 0.0, Some(0.5)),
            ..Vibrato::even(Hz(rate), Cents(width), Secs(start + 0.25), cycles)
        })
    }

    #[test]
    fn an_echo_that_is_the_model_differs_in_nothing() {
        let model = [vibrated(57, 0.0, 5.5, 40.0), vibrated(59, 2.1, 5.5, 40.0)];
        let comparison = Comparison::new(&model, &model);
        assert_eq!(comparison.pairs.len(), 2);
        assert!(comparison.largest().is_none());
        for difference in comparison.pairs.iter().flat_map(|pair| &pair.differences) {
            assert_eq!(difference.value, 0.0, "{difference:?}");
        }
    }

    #[test]
    fn the_difference_is_the_echo_minus_the_model_with_both_doubts() {
        let comparison =
            Comparison::new(&[vibrated(57, 0.0, 5.0, 40.0)], &[vibrated(57, 7.0, 6.0, 30.0)]);
        let pair = &comparison.pairs[0];
        let width = pair.difference(Quantity::Width).expect("both known");
        assert_eq!(width.value, -10.0);
        assert!((width.se.expect("both known") - 0.5_f64.hypot(0.5)).abs() < 1e-12);
        let rate = pair.difference(Quantity::Rate).expect("both known");
        assert_eq!(rate.value, 1.0);
        // 1 Hz is 4 times what is just told at 5 Hz; 10 cents are 2.5 times that at 40.
        let (_, largest) = comparison.largest().expect("both can be told");
        assert_eq!(largest.quantity, Quantity::Rate);
    }

    #[test]
    fn what_is_within_its_doubt_is_not_told() {
        let model = vibrated(57, 0.0, 5.5, 40.0);
        let mut echo = vibrated(57, 0.0, 5.5, 48.0);
        if let Some(vibrato) = &mut echo.vibrato {
            vibrato.width.se = Some(Cents(6.0));
        }
        let comparison = Comparison::new(std::slice::from_ref(&model), &[echo]);
        assert!(comparison.largest().is_none(), "8 cents with a doubt of 6");
        let surer = vibrated(57, 0.0, 5.5, 48.0);
        let comparison = Comparison::new(&[model], &[surer]);
        let (_, largest) = comparison.largest().expect("8 cents with a doubt of 0.7");
        assert_eq!(largest.quantity, Quantity::Width);
    }

    #[test]
    fn the_gap_is_compared_where_notes_follow_each_other() {
        let model = [vibrated(57, 0.0, 5.0, 40.0), vibrated(59, 2.0, 5.0, 40.0)];
        let mut echo = model.clone();
        if let Some(vibrato) = &mut echo[1].vibrato {
            vibrato.oscillations.remove(0);
            vibrato.oscillations.remove(0);
        }
        let comparison = Comparison::new(&model, &echo);
        assert!(comparison.pairs[0].difference(Quantity::Gap).is_none());
        let gap = comparison.pairs[1].difference(Quantity::Gap).expect("both follow");
        assert!((gap.value - 0.4).abs() < 1e-9, "two cycles of 0.2 s: {gap:?}");
        let later = [model[0].clone(), model[1].later(Secs(1.0))];
        let comparison = Comparison::new(&model, &later);
        assert!(comparison.pairs[1].difference(Quantity::Gap).is_none(), "after a rest");
    }

    #[test]
    fn straight_and_vibrated_notes_are_told_apart() {
        let (plain, moved) = (straight(57, 0.0), vibrated(57, 0.0, 5.0, 30.0));
        let motions = |model: &Note, echo: &Note| {
            Comparison::new(std::slice::from_ref(model), std::slice::from_ref(echo)).pairs[0]
                .motions
        };
        let is_straight = PitchCourse::Straight;
        assert_eq!(motions(&plain, &plain), Motions::Neither(is_straight, is_straight));
        assert_eq!(motions(&plain, &moved), Motions::EchoOnly(is_straight));
        assert_eq!(motions(&moved, &plain), Motions::ModelOnly(is_straight));
        let short = Note { course: PitchCourse::TooShort, ..plain.clone() };
        assert_eq!(motions(&moved, &short), Motions::Unknown);
    }

    #[test]
    fn a_sharp_echo_is_sharp_also_where_it_takes_the_next_name() {
        let model = straight(57, 0.0);
        let mut echo = straight(58, 0.0);
        echo.offset.value = Cents(-45.0);
        echo.f0.value = echo.reference.raised(Cents(-45.0));
        let comparison = Comparison::new(&[model], &[echo]);
        assert_eq!(comparison.transposed, 0);
        let centre = comparison.pairs[0].difference(Quantity::Centre).expect("known");
        assert!((centre.value - 55.0).abs() < 1e-9, "{centre:?}");
    }

    #[test]
    fn nothing_against_something_is_no_pair() {
        let comparison = Comparison::new(&[], &[straight(57, 0.0)]);
        assert!(comparison.pairs.is_empty());
        assert_eq!(comparison.extra, [0]);
        assert!(comparison.mean(Quantity::Width).is_none());
    }
}
