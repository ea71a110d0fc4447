//! Which of the turns asked for were played, where some were left out or others came in between.

/// Costs of setting turns against each other: leaving one out, and playing one too many; a note beside costs as
/// much as it lies beside in semitones, up to this.
const MISSING_COST: f64 = 1.2;
const EXTRA_COST: f64 = 1.0;
const MOST_COST: f64 = 3.0;
/// The figure may be played on another string or in another position, up to so many semitones away; that it is
/// costs as much as a note beside by this.
const FURTHEST: i32 = 24;
const ELSEWHERE_COST: f64 = 0.5;

/// For each turn that was played, at `pitches` in semitones as MIDI counts them, which of the `notes` asked for
/// it is; `None` for one that is none of them. Of several ways that are as likely the one that leaves out the
/// latest.
pub(crate) fn order(pitches: &[Option<f64>], notes: &[i32]) -> Vec<Option<usize>> {
    let elsewhere = (1..=FURTHEST).flat_map(|by| [by, -by]);
    let ways = std::iter::once(0).chain(elsewhere).map(|by| {
        let cost = costs(pitches, notes, f64::from(by));
        let odd = if by == 0 { 0.0 } else { ELSEWHERE_COST };
        (cost[pitches.len()][notes.len()] + odd, by)
    });
    let least = ways.min_by(|a, b| a.0.total_cmp(&b.0));
    let by = f64::from(least.map_or(0, |(_, by)| by));
    let cost = costs(pitches, notes, by);
    let mut order = vec![None; pitches.len()];
    let (mut row, mut column) = (pitches.len(), notes.len());
    while row > 0 && column > 0 {
        let both = cost[row - 1][column - 1] + off(pitches[row - 1], notes[column - 1], by);
        if cost[row][column] >= cost[row][column - 1] + MISSING_COST - 1e-9 {
            column -= 1;
        } else if cost[row][column] >= both - 1e-9 {
            order[row - 1] = Some(column - 1);
            (row, column) = (row - 1, column - 1);
        } else {
            row -= 1;
        }
    }
    order
}

fn off(pitch: Option<f64>, note: i32, by: f64) -> f64 {
    pitch.map_or(MOST_COST, |pitch| (pitch - by - f64::from(note)).abs().min(MOST_COST))
}

/// Least costs of setting the first turns played against the first notes, for a figure `by` semitones away.
fn costs(pitches: &[Option<f64>], notes: &[i32], by: f64) -> Vec<Vec<f64>> {
    let mut cost = vec![vec![0.0; notes.len() + 1]; pitches.len() + 1];
    for row in 0..=pitches.len() {
        for column in 0..=notes.len() {
            cost[row][column] = match (row, column) {
                (0, _) => column as f64 * MISSING_COST,
                (_, 0) => row as f64 * EXTRA_COST,
                _ => {
                    let both = off(pitches[row - 1], notes[column - 1], by);
                    f64::min(
                        cost[row - 1][column - 1] + both,
                        f64::min(
                            cost[row - 1][column] + EXTRA_COST,
                            cost[row][column - 1] + MISSING_COST,
                        ),
                    )
                }
            };
        }
    }
    cost
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set(pitches: &[f64], notes: &[i32]) -> Vec<Option<usize>> {
        let pitches: Vec<Option<f64>> = pitches.iter().map(|pitch| Some(*pitch)).collect();
        order(&pitches, notes)
    }

    #[test]
    fn what_was_left_out_and_what_came_in_between_is_found() {
        let notes = [52, 54, 55, 54, 52];
        assert_eq!(set(&[52.1, 54.0, 54.9, 52.0], &notes), [Some(0), Some(1), Some(2), Some(4)]);
        assert_eq!(
            set(&[52.0, 54.0, 59.0, 55.0, 54.1, 52.0], &notes),
            [Some(0), Some(1), None, Some(2), Some(3), Some(4)]
        );
    }

    #[test]
    fn a_round_that_was_broken_off_lacks_its_last_turns() {
        assert_eq!(set(&[52.05], &[52, 54, 52]), [Some(0)]);
        assert_eq!(set(&[52.0, 54.0], &[52, 54, 52, 54]), [Some(0), Some(1)]);
    }

    #[test]
    fn a_figure_played_a_fifth_lower_is_the_same_figure() {
        assert_eq!(set(&[45.1, 48.0, 46.9], &[52, 54, 55, 54, 52]), [Some(0), Some(2), Some(3)]);
    }
}
