//! Slips of the ear behind a leap: what still rings of the note before has a lower period in common with the new note, which
//! is then told an octave, a twelfth or two octaves too low until the old one has died. A bow that speaks slowly slips as far
//! the other way.

use vibrato::median;

/// In cents: how far from the new pitch it is told, and how near to that.
const SLIPS_CENTS: [f64; 3] = [1200.0, 1902.0, 2400.0];
const NEAR_CENTS: f64 = 90.0;
/// A run of frames ends where the pitch leaps so far, in cents, or is away for so many frames.
const LEAP_CENTS: f64 = 250.0;
const AWAY: usize = 6;
/// A slip lasts no longer than so many frames, and the right pitch follows within so many.
const LONGEST: usize = 70;
const FOLLOWS: usize = 8;
/// The shortest note, in frames: 0.07 s.
pub(super) const SHORTEST: usize = 14;
/// So many frames at its end tell the pitch of a run.
const TOLD_BY: usize = 6;

/// Frames without a leap between them: the first, and the one behind the last.
#[derive(Clone, Copy)]
struct Run {
    start: usize,
    end: usize,
}

/// Puts runs that are slips in their octave. `planned` tells whether the plan itself may go from one pitch to another, in cents.
/// What is too short for a note is a slip all the same.
pub(super) fn unslip(cents: &mut [Option<f64>], planned: impl Fn(f64, f64) -> bool) {
    let runs = runs(cents);
    // From behind: a slip may be followed by a smaller one.
    for (run, next) in runs.iter().zip(&runs[1.min(runs.len())..]).rev() {
        if run.end - run.start > LONGEST || next.start - run.end > FOLLOWS {
            continue;
        }
        let middle = |frames: &[Option<f64>]| median(frames.iter().copied().flatten().collect());
        let last = middle(&cents[run.end.saturating_sub(TOLD_BY).max(run.start)..run.end]);
        let first = middle(&cents[next.start..next.end.min(next.start + TOLD_BY)]);
        let Some((told, right)) = last.zip(first) else { continue };
        let mut slips = SLIPS_CENTS.into_iter().flat_map(|slip| [slip, -slip]);
        let slip = slips.find(|slip| (right - told - slip).abs() <= NEAR_CENTS);
        let may_be = run.end - run.start >= SHORTEST && planned(told, right);
        if let Some(slip) = slip.filter(|_| !may_be) {
            cents[run.start..run.end].iter_mut().flatten().for_each(|cents| *cents += slip);
        }
    }
}

fn runs(cents: &[Option<f64>]) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut before = 0.0;
    for (at, cents) in cents.iter().enumerate() {
        let Some(cents) = *cents else { continue };
        match runs.last_mut() {
            Some(run) if at - run.end < AWAY && (cents - before).abs() < LEAP_CENTS => {
                run.end = at + 1;
            }
            _ => runs.push(Run { start: at, end: at + 1 }),
        }
        before = cents;
    }
    runs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(parts: &[(f64, usize)]) -> Vec<Option<f64>> {
        parts.iter().flat_map(|(cents, count)| vec![Some(*cents); *count]).collect()
    }

    #[test]
    fn what_slips_behind_a_leap_is_put_right_unless_the_plan_goes_there() {
        for slip in SLIPS_CENTS.into_iter().flat_map(|slip| [slip, -slip]) {
            let told = row(&[(700.0, 80), (10.0 - slip, 30), (0.0, 80)]);
            let mut raised = told.clone();
            unslip(&mut raised, |_, _| false);
            assert_eq!(raised, row(&[(700.0, 80), (10.0, 30), (0.0, 80)]));
            let mut left = told.clone();
            unslip(&mut left, |_, _| true);
            assert_eq!(left, told);
            let short = |cents| row(&[(700.0, 80), (cents, SHORTEST - 1), (0.0, 80)]);
            let mut right = short(10.0 - slip);
            unslip(&mut right, |_, _| true);
            assert_eq!(right, short(10.0), "too short for a note");
        }
        // A seventh is no slip, nor is a long note, nor one before a pause.
        for (parts, pause) in [
            ([(700.0, 80), (-1000.0, 30), (0.0, 80)], 0),
            ([(700.0, 80), (-1200.0, 90), (0.0, 80)], 0),
            ([(700.0, 80), (-1200.0, 30), (0.0, 80)], 20),
        ] {
            let mut told = row(&parts[..2]);
            told.extend(vec![None; pause]);
            told.extend(row(&parts[2..]));
            let mut left = told.clone();
            unslip(&mut left, |_, _| false);
            assert_eq!(left, told);
        }
    }
}
