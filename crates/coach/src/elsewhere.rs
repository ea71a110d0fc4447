//! A figure that is played at another place of the instrument than the drill has it: on another string, in
//! another position.

use tuning::{Cents, Tuning};

use crate::comparison::distance;
use crate::drill::Asked;
use crate::finding::{Finding, FindingKind};
use crate::turns::Played;

/// A semitone beside is another place only if every turn lies so near to it, in cents; else it is a note out
/// of tune.
const NEAR_SEMITONE: f64 = 30.0;

/// Semitones by which the figure lies above the notes asked for; 0 where the turns do not tell of another place.
fn semitones(played: &[Played]) -> i32 {
    let centres: Vec<f64> =
        played.iter().filter_map(|turn| Some(turn.centre?.value.get())).collect();
    let mut sorted: Vec<i32> = centres.iter().map(|c| (c / 100.0).round() as i32).collect();
    sorted.sort_unstable();
    let Some(&middle) = sorted.get(sorted.len() / 2) else {
        return 0;
    };
    let agree = sorted.iter().filter(|&&of| of == middle).count();
    let near = |centre: &f64| (centre - 100.0 * f64::from(middle)).abs() <= NEAR_SEMITONE;
    let sure = match middle.abs() {
        0 => false,
        1 => centres.iter().all(near),
        _ => 2 * agree > sorted.len(),
    };
    if sure { middle } else { 0 }
}

/// Takes the notes that were played for the ones asked for, where the whole figure lies elsewhere, and says so.
pub(crate) fn moved(
    asked: &mut [Asked],
    played: &mut [Played],
    tuning: &Tuning,
) -> Option<Finding> {
    let by = semitones(played);
    if by == 0 {
        return None;
    }
    for turn in played.iter_mut() {
        let midi = asked[turn.asked].midi;
        let up = tuning.frequency(midi + by).cents_above(tuning.frequency(midi));
        if let Some(centre) = &mut turn.centre {
            centre.value = Cents(centre.value.get() - up.get());
        }
    }
    for turn in asked.iter_mut() {
        turn.midi += by;
    }
    let side = if by > 0 { "above" } else { "below" };
    let distance = distance(by);
    let words =
        format!("the figure was played {distance} {side} the drill’s notes, and is measured there");
    let measure = ("transposed", "semitones");
    Some(Finding::new(FindingKind::Elsewhere, None, words, measure, f64::from(by)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use tuning::Secs;
    use vibrato::Measure;

    fn turns(centres: &[f64]) -> (Vec<Asked>, Vec<Played>) {
        let asked = Asked { count: Some(4), ..Asked::plain(2, 53) };
        let played = |(number, centre): (usize, &f64)| Played {
            centre: Some(Measure { value: Cents(*centre), se: None }),
            ..Played::unmeasured(number, Secs(0.0), Secs(2.0))
        };
        (vec![asked; centres.len()], centres.iter().enumerate().map(played).collect())
    }

    #[test]
    fn a_figure_on_another_string_is_measured_there() {
        let tuning = Tuning::default();
        for (centres, by) in [
            (&[-699.0, -703.0, -640.0][..], -7),
            (&[1202.0, 1199.0], 12),
            (&[-98.0, -103.0, -110.0], -1),
        ] {
            let (mut asked, mut played) = turns(centres);
            let found = moved(&mut asked, &mut played, &tuning).expect("elsewhere");
            assert_eq!(found.value, f64::from(by), "{}", found.words);
            assert!(asked.iter().all(|turn| turn.midi == 53 + by));
            let centre = played[0].centre.expect("kept").value.get();
            let wanted = centres[0] - 100.0 * f64::from(by);
            assert!((centre - wanted).abs() < 1e-6, "{centre}");
        }
    }

    #[test]
    fn a_finger_beside_its_note_is_no_other_place() {
        let tuning = Tuning::default();
        for centres in [
            &[2.0, 19.0, -3.0][..],
            &[60.0],
            &[0.0, 100.0, 0.0],
            &[98.0, 140.0, 101.0],
            &[0.0, 700.0],
            &[],
        ] {
            let (mut asked, mut played) = turns(centres);
            assert_eq!(moved(&mut asked, &mut played, &tuning), None, "{centres:?}");
            assert!(asked.iter().all(|turn| turn.midi == 53));
        }
    }
}
