//! How much of the planned contrast from note to note was to be heard.

use vibrato::Measure;

/// Fewer notes, or plans that differ by less than this (standard deviation), tell nothing.
const LEAST_NOTES: usize = 6;

/// One note: what was planned, and what was played with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pair {
    pub(super) planned: f64,
    pub(super) played: f64,
    pub(super) se: f64,
}

/// The share of the planned contrast that was played: 1 is all of it, 0 the same on every note. It is the slope of played on
/// planned, weighted by what is known of each note and by the player's own scatter. `least_sd` is the least contrast
/// of a plan of which anything is said.
pub(super) fn share(notes: &[Pair], least_sd: f64) -> Option<Measure<f64>> {
    let count = notes.len() as f64;
    let mean = notes.iter().map(|note| note.planned).sum::<f64>() / count;
    let variance = notes.iter().map(|note| (note.planned - mean).powi(2)).sum::<f64>() / count;
    if notes.len() < LEAST_NOTES || variance.sqrt() < least_sd {
        return None;
    }
    let mean_se2 = notes.iter().map(|note| note.se * note.se).sum::<f64>() / count;
    let (mut scatter2, mut told) = (0.0, None);
    // The scatter comes from what the slope leaves, and the slope from the weights.
    for _ in 0..3 {
        let weights: Vec<f64> =
            notes.iter().map(|note| 1.0 / (note.se * note.se + scatter2 + 1e-6)).collect();
        let all: f64 = weights.iter().sum();
        let of = |value: &dyn Fn(&Pair) -> f64| -> f64 {
            notes.iter().zip(&weights).map(|(note, weight)| weight * value(note)).sum()
        };
        let (planned, played) = (of(&|note| note.planned) / all, of(&|note| note.played) / all);
        let squares = of(&|note| (note.planned - planned).powi(2));
        let slope = of(&|note| (note.planned - planned) * (note.played - played)) / squares;
        let rest = |note: &Pair| note.played - played - slope * (note.planned - planned);
        let left: f64 = notes.iter().map(|note| rest(note).powi(2)).sum();
        let chi = of(&|note| rest(note).powi(2)) / (count - 2.0);
        scatter2 = (left / (count - 2.0) - mean_se2).max(0.0);
        told = Some(Measure { value: slope, se: Some((chi.max(1.0) / squares).sqrt()) });
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::told::tests::chance;

    #[test]
    fn the_share_is_unbiased_and_its_doubt_holds() {
        const PLAYERS: usize = 400;
        for (true_share, own) in [(0.0, 3.0), (0.5, 8.0), (1.0, 8.0)] {
            let mut normal = chance();
            let mut draw = || normal.next().expect("endless");
            let (mut sum, mut within) = (0.0, 0);
            for _ in 0..PLAYERS {
                let notes: Vec<Pair> = (0..16)
                    .map(|_| {
                        let planned = 20.0 * (draw().abs() * 2.0).floor().min(4.0);
                        let se = 1.0 + draw().abs();
                        let played = 20.0 + true_share * planned + own * draw() + se * draw();
                        Pair { planned, played, se }
                    })
                    .collect();
                let Some(Measure { value, se: Some(se) }) = share(&notes, 10.0) else { continue };
                sum += value;
                within += usize::from((value - true_share).abs() <= se);
            }
            let mean = sum / PLAYERS as f64;
            assert!((mean - true_share).abs() < 0.03, "{true_share}: {mean}");
            let pct = 100 * within / PLAYERS;
            assert!((60..=76).contains(&pct), "{true_share}: within one doubt {pct} %");
        }
    }

    #[test]
    fn too_few_notes_and_an_even_plan_tell_nothing() {
        let note = |planned| Pair { planned, played: 20.0, se: 1.0 };
        let wide: Vec<Pair> = [0.0, 60.0, 0.0, 60.0, 0.0, 60.0].map(note).to_vec();
        assert!(share(&wide, 15.0).is_some() && share(&wide[1..], 15.0).is_none());
        assert!(share(&[note(30.0); 8], 15.0).is_none());
    }
}
