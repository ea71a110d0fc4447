//! Model and echo side by side through the note: from its start, or cycle by cycle.

use super::{Comparison, Pair};
use tuning::{Cents, Hz, Secs};
use vibrato::Note;

/// How model and echo are laid over each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Align {
    /// Both notes begin at the same place; time runs in seconds.
    #[default]
    NoteStart,
    /// Each oscillation of the one lies over that of the other; time runs in oscillations.
    Cycles,
}

impl Align {
    /// The other one.
    pub fn turned(self) -> Self {
        match self {
            Self::NoteStart => Self::Cycles,
            Self::Cycles => Self::NoteStart,
        }
    }
}

/// Rate and width of both at one place of the note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoursePoint {
    /// Seconds from the start of the note, or the number of the oscillation from 0.
    pub at: f64,
    /// The model's rate and width there.
    pub model: (Hz, Cents),
    /// The echo's.
    pub echo: (Hz, Cents),
}

/// Distance of two points of the contour, in seconds.
const STEP: f64 = 0.1;

impl Comparison {
    /// How rate and width of a pair run through the note, as far as both go.
    pub fn course(&self, pair: &Pair, align: Align) -> Vec<CoursePoint> {
        let (model, echo) = (&self.model[pair.model], &self.echo[pair.echo]);
        let (Some(a), Some(b)) = (&model.vibrato, &echo.vibrato) else {
            return Vec::new();
        };
        match align {
            Align::NoteStart => {
                let nearest = |note: &Note, at: f64| {
                    let vibrato = note.vibrato.as_ref()?;
                    let off = |time: Secs| (time.0 - note.start.0 - at).abs();
                    let point = vibrato
                        .contour
                        .iter()
                        .min_by(|a, b| off(a.time).total_cmp(&off(b.time)))?;
                    (off(point.time) <= 0.75 * STEP).then_some((point.rate, point.width))
                };
                let length = |note: &Note| note.end.0 - note.start.0;
                let steps = (length(model).min(length(echo)) / STEP) as usize;
                (0..=steps)
                    .filter_map(|step| {
                        let at = STEP * step as f64;
                        Some(CoursePoint {
                            at,
                            model: nearest(model, at)?,
                            echo: nearest(echo, at)?,
                        })
                    })
                    .collect()
            }
            Align::Cycles => {
                let of = |o: &vibrato::Oscillation| {
                    (Hz(1.0 / o.period.0), Cents(o.crest.0 - o.trough.0))
                };
                let both = a.oscillations.iter().zip(&b.oscillations);
                both.enumerate()
                    .map(|(number, (a, b))| CoursePoint {
                        at: number as f64,
                        model: of(a),
                        echo: of(b),
                    })
                    .collect()
            }
        }
    }
}

/// Where `time` lies in the oscillations of a note: 0 at the trough that the first one starts from, 1 at
/// the next, and so on; before and after by the nearest period. `None` for a note without vibrato.
pub fn cycles_at(note: &Note, time: Secs) -> Option<f64> {
    let all = &note.vibrato.as_ref()?.oscillations;
    let first = all.first()?;
    if first.period.0 <= 0.0 {
        return None;
    }
    if time < first.start {
        return Some((time.0 - first.start.0) / first.period.0);
    }
    let number = all.partition_point(|o| o.start <= time).checked_sub(1)?;
    let here = all.get(number)?;
    // Between two oscillations that do not touch, as where one was not whole, time goes on evenly.
    let period = match all.get(number + 1) {
        Some(next) => next.start.0 - here.start.0,
        None => here.period.0,
    };
    (period > 0.0).then(|| number as f64 + (time.0 - here.start.0) / period)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{straight, vibrated};
    use super::*;

    #[test]
    fn cycle_by_cycle_a_faster_echo_lies_over_the_model() {
        let (model, echo) = (vibrated(57, 0.0, 5.0, 40.0), vibrated(57, 9.0, 8.0, 30.0));
        let crest = |note: &Note, number: usize| {
            let o = note.vibrato.as_ref().expect("it has one").oscillations[number];
            cycles_at(note, Secs(o.start.0 + 0.5 * o.period.0)).expect("within")
        };
        for number in 0..4 {
            assert!((crest(&model, number) - crest(&echo, number)).abs() < 1e-9);
        }
        assert!((cycles_at(&model, Secs(0.05)).expect("before") + 1.0).abs() < 1e-9);
        assert_eq!(cycles_at(&straight(57, 0.0), Secs(1.0)), None);
        let comparison = Comparison::new(&[model], &[echo]);
        let course = comparison.course(&comparison.pairs[0], Align::Cycles);
        assert_eq!(course.len(), 8, "as many as the model has");
        assert!((course[3].echo.0.0 - 8.0).abs() < 1e-9);
        assert_eq!(course[3].model.1, Cents(40.0));
    }
}
