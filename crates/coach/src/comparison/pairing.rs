//! Which note of the echo answers which of the model: by order, by the steps of the pitch, and a little
//! by length.

use tuning::Hz;
use vibrato::Note;

/// The longest model or echo, in notes.
pub const MOST_NOTES: usize = 2_000;

/// What it costs to leave a note without a partner...
const ALONE: f64 = 1.0;
/// ...to pair two notes that are a semitone apart, and at most for any distance: less than leaving both
/// alone, for a wrong note is still an answer...
const SEMITONE: f64 = 0.2;
const FARTHEST: f64 = 1.6;
/// ...or whose lengths differ by a factor of e, and at most...
const LENGTH: f64 = 0.15;
const LENGTH_MOST: f64 = 0.3;
/// ...and to think the whole echo moved, by octaves or by anything else.
const OCTAVES: f64 = 0.1;
const MOVED: f64 = 0.25;
/// So many ways of moving the echo are tried: the commonest distances of its notes from the model's.
const TRIED: usize = 8;

/// Which note answers which.
pub(super) struct Alignment {
    /// Indices into model and echo, both rising.
    pub pairs: Vec<(usize, usize)>,
    /// Notes of the model that nothing answers.
    pub missing: Vec<usize>,
    /// Notes of the echo that answer nothing.
    pub extra: Vec<usize>,
    /// Semitones by which the whole echo lies above the model.
    pub transposed: i32,
}

/// What two notes are to each other before the echo is moved.
struct Step {
    semitones: f64,
    length: f64,
}

/// The pairs of least cost (Needleman and Wunsch, J. Mol. Biol. 48 (1970), 443, for notes), over all
/// ways of moving the echo. `O(model · echo)` for each of them.
pub(super) fn aligned(model: &[Note], echo: &[Note]) -> Alignment {
    let steps = |notes: &[Note]| -> Vec<Step> {
        notes
            .iter()
            .map(|note| Step {
                semitones: note.f0.value.cents_above(Hz(440.0)).0 / 100.0,
                length: (note.end.0 - note.start.0).max(1e-3).ln(),
            })
            .collect()
    };
    let (from, to) = (steps(model), steps(echo));
    let mut best: Option<(f64, Alignment)> = None;
    for transposed in transpositions(&from, &to) {
        let (cost, alignment) = paired(&from, &to, transposed);
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, alignment));
        }
    }
    best.map_or_else(|| paired(&from, &to, 0).1, |(_, alignment)| alignment)
}

/// The ways of moving the echo that are worth a try: not at all, and by the commonest distances.
fn transpositions(model: &[Step], echo: &[Step]) -> Vec<i32> {
    let mut counts: Vec<(i32, usize)> = Vec::new();
    // Notes that answer each other lie near each other in order: so many places away at most.
    let reach = 4 + model.len().abs_diff(echo.len());
    for (m, a) in model.iter().enumerate() {
        let near = m.saturating_sub(reach)..(m + reach + 1).min(echo.len());
        for b in echo.get(near).into_iter().flatten() {
            let distance = (b.semitones - a.semitones).round();
            if !distance.is_finite() {
                continue;
            }
            let distance = distance as i32;
            match counts.iter_mut().find(|(known, _)| *known == distance) {
                Some((_, count)) => *count += 1,
                None => counts.push((distance, 1)),
            }
        }
    }
    counts.sort_by_key(|&(distance, count)| (usize::MAX - count, distance.abs()));
    let mut all = vec![0];
    all.extend(
        counts
            .into_iter()
            .map(|(distance, _)| distance)
            .filter(|&distance| distance != 0)
            .take(TRIED),
    );
    all
}

#[derive(Clone, Copy)]
enum Move {
    Pair,
    Missing,
    Extra,
}

fn paired(model: &[Step], echo: &[Step], transposed: i32) -> (f64, Alignment) {
    let cost = |a: &Step, b: &Step| {
        let apart = (b.semitones - a.semitones - f64::from(transposed)).abs();
        let lengths = (b.length - a.length).abs();
        // What is no number is as far away as can be.
        let apart = if apart.is_finite() { apart } else { f64::MAX };
        (SEMITONE * apart).min(FARTHEST) + (LENGTH * lengths).min(LENGTH_MOST)
    };
    let width = echo.len() + 1;
    let mut moves = vec![Move::Extra; (model.len() + 1) * width];
    let mut above: Vec<f64> = (0..width).map(|e| ALONE * e as f64).collect();
    for (m, a) in model.iter().enumerate() {
        let mut row = vec![above[0] + ALONE; width];
        moves[(m + 1) * width] = Move::Missing;
        for (e, b) in echo.iter().enumerate() {
            let ways = [
                (above[e] + cost(a, b), Move::Pair),
                (above[e + 1] + ALONE, Move::Missing),
                (row[e] + ALONE, Move::Extra),
            ];
            let least =
                ways.into_iter().reduce(|best, way| if way.0 < best.0 { way } else { best });
            if let Some((cost, way)) = least {
                row[e + 1] = cost;
                moves[(m + 1) * width + e + 1] = way;
            }
        }
        above = row;
    }
    let moved = match transposed {
        0 => 0.0,
        octaves if octaves % 12 == 0 => OCTAVES,
        _ => MOVED,
    };
    (above[echo.len()] + moved, followed_back(&moves, (model.len(), echo.len()), transposed))
}

/// The pairs to which these moves lead, each at its place `model · (echoes + 1) + echo`, from the last note of both.
fn followed_back(moves: &[Move], (mut m, mut e): (usize, usize), transposed: i32) -> Alignment {
    let width = e + 1;
    let mut alignment =
        Alignment { pairs: Vec::new(), missing: Vec::new(), extra: Vec::new(), transposed };
    while m > 0 || e > 0 {
        match moves[m * width + e] {
            Move::Pair => {
                (m, e) = (m - 1, e - 1);
                alignment.pairs.push((m, e));
            }
            Move::Missing => {
                m -= 1;
                alignment.missing.push(m);
            }
            Move::Extra => {
                e -= 1;
                alignment.extra.push(e);
            }
        }
    }
    alignment.pairs.reverse();
    alignment.missing.reverse();
    alignment.extra.reverse();
    alignment
}

#[cfg(test)]
mod tests {
    use super::super::tests::straight;
    use super::*;

    fn phrase(midi: &[i32]) -> Vec<Note> {
        let place = |(i, &midi): (usize, &i32)| straight(midi, 2.1 * i as f64);
        midi.iter().enumerate().map(place).collect()
    }

    fn of(model: &[i32], echo: &[i32]) -> Alignment {
        aligned(&phrase(model), &phrase(echo))
    }

    #[test]
    fn a_note_left_out_and_one_put_in_are_found() {
        let left_out = of(&[50, 52, 54, 55], &[50, 54, 55]);
        assert_eq!(left_out.pairs, [(0, 0), (2, 1), (3, 2)]);
        assert_eq!((left_out.missing, left_out.extra), (vec![1], vec![]));
        let put_in = of(&[50, 54, 55], &[50, 52, 54, 55]);
        assert_eq!((put_in.missing, put_in.extra), (vec![], vec![1]));
    }

    #[test]
    fn an_echo_an_octave_higher_or_on_another_string_answers_note_by_note() {
        for by in [12, -12, 7] {
            let model = [50, 52, 54, 52, 50];
            let echo = model.map(|midi| midi + by);
            let alignment = of(&model, &echo);
            assert_eq!(alignment.transposed, by);
            assert_eq!(alignment.pairs.len(), 5);
        }
    }

    #[test]
    fn a_wrong_note_is_an_answer_all_the_same() {
        let alignment = of(&[50, 52, 54, 55], &[50, 53, 54, 55]);
        assert_eq!(alignment.transposed, 0);
        assert_eq!(alignment.pairs.len(), 4);
    }

    #[test]
    fn one_note_answers_one_note_whatever_it_is() {
        assert_eq!(of(&[50], &[50]).pairs, [(0, 0)]);
        assert_eq!(of(&[50], &[51]).transposed, 0, "a semitone off is off");
        assert_eq!(of(&[50], &[62]).transposed, 12);
    }

    #[test]
    fn pitches_that_are_no_numbers_do_no_harm() {
        let mut model = phrase(&[50, 52]);
        model[0].f0.value = Hz(f64::NAN);
        model[1].f0.value = Hz(0.0);
        let alignment = aligned(&model, &phrase(&[50, 52]));
        assert_eq!(alignment.pairs.len() + alignment.missing.len(), 2);
    }
}
