//! Whether the line that the bow drew in the straight pass was still there in the vibrated one.
//!
//! The share of the line that was kept cannot be told: the body of the instrument gives each pitch a level of its own in both
//! passes, so the slope of one on the other reads about one half where nothing was kept. What can be told is each note against
//! its neighbours, and what was lost at least.

use std::ops::Range;

use tuning::Secs;
use vibrato::{FRAME, Measure, median};

use crate::follow::{Heard, frame_at};
use crate::told::DOUBTS;

/// The middle of a note: so long after its beginning, and before its end, in seconds.
const AFTER_SECS: f64 = 0.15;
const BEFORE_SECS: f64 = 0.1;
const LEAST_SECS: f64 = 0.15;
/// Each cycle of a vibrato tells the level anew, in seconds.
const CYCLE_SECS: f64 = 0.2;
/// A bow does not come back to a level nearer than this, in dB (no source: a proposal).
const RETURN_DB: f64 = 0.7;
/// A difference matters from here on.
const MATTERS_DB: f64 = 3.0;
/// Fewer notes tell nothing of the line.
const LEAST_NOTES: usize = 6;
/// The line is said to have survived if no note differs, no more than this was lost for certain, and that is known so well.
const SURVIVED: f64 = 0.15;
const KNOWN: f64 = 0.15;

/// The level of a note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Level {
    db: f64,
    variance: f64,
}

/// The level of the middle of a note; `None` where it is too short.
pub(super) fn level(heard: &Heard, start: Secs, end: Secs) -> Option<Level> {
    let (from, to) = (start.get() + AFTER_SECS, end.get() - BEFORE_SECS);
    let frames: Range<usize> = frame_at(Secs(from))..frame_at(Secs(to)).min(heard.len());
    if to - from < LEAST_SECS || frames.is_empty() {
        return None;
    }
    let levels = &heard.level_db[frames];
    let count = levels.len() as f64;
    let power = levels.iter().map(|db| 10_f64.powf(db / 10.0)).sum::<f64>() / count;
    let mean = levels.iter().sum::<f64>() / count;
    let scatter = levels.iter().map(|db| (db - mean).powi(2)).sum::<f64>() / count;
    let cycles = (count * FRAME.get() / CYCLE_SECS).max(1.0);
    Some(Level { db: 10.0 * power.max(1e-12).log10(), variance: scatter / cycles })
}

/// The levels of one note in both passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Both {
    /// Number of the note in the plan.
    pub(super) note: usize,
    pub(super) straight: Level,
    pub(super) vibrated: Level,
}

/// What became of the bow's line.
#[derive(Clone, Debug, PartialEq)]
pub struct BowLine {
    /// Each note that was heard in both passes, by its number in the plan, and how much louder it came out against its
    /// neighbours than in the straight pass, in dB.
    pub notes: Vec<(usize, Measure<f64>)>,
    /// The least share of the line that was lost; more may have been.
    pub least_loss: Measure<f64>,
    /// Nothing differs, and nothing was lost for certain.
    pub survived: bool,
}

impl BowLine {
    /// The notes that came out louder or softer, beyond doubt and by enough to matter.
    pub fn changed(&self) -> impl Iterator<Item = &(usize, Measure<f64>)> {
        self.notes.iter().filter(|(_, by)| {
            by.value.abs() >= MATTERS_DB && crate::told::beyond_doubt(*by, self.notes.len())
        })
    }
}

/// What became of the line; `None` where too few notes were heard in both passes.
pub(super) fn bow_line(both: &[Both]) -> Option<BowLine> {
    if both.len() < LEAST_NOTES {
        return None;
    }
    let change: Vec<f64> = both.iter().map(|note| note.vibrated.db - note.straight.db).collect();
    let middle = median(change.clone())?;
    let notes = both.iter().zip(&change).map(|(note, change)| {
        let variance = note.straight.variance + note.vibrated.variance + RETURN_DB.powi(2);
        (note.note, Measure { value: change - middle, se: Some(variance.sqrt()) })
    });
    let points: Vec<(f64, f64)> =
        both.iter().zip(&change).map(|(note, change)| (note.straight.db, *change)).collect();
    let count = points.len();
    let without = |left_out: usize| {
        let kept = points.iter().enumerate().filter(|(i, _)| *i != left_out);
        loss(kept.map(|(_, point)| *point))
    };
    let value = loss(points.iter().copied())?;
    // The jackknife over notes.
    let each: Vec<f64> = (0..count).filter_map(without).collect();
    let mean = each.iter().sum::<f64>() / count as f64;
    let squares: f64 = each.iter().map(|one| (one - mean).powi(2)).sum();
    let se = ((count - 1) as f64 / count as f64 * squares).sqrt();
    let mut line = BowLine {
        notes: notes.collect(),
        least_loss: Measure { value, se: Some(se) },
        survived: false,
    };
    line.survived = line.changed().next().is_none() && se < KNOWN && value < SURVIVED + DOUBTS * se;
    Some(line)
}

/// How much the change goes against the line: minus its slope on the level of the straight pass.
fn loss(points: impl Iterator<Item = (f64, f64)> + Clone) -> Option<f64> {
    let count = points.clone().count() as f64;
    let mean_x = points.clone().map(|point| point.0).sum::<f64>() / count;
    let mean_y = points.clone().map(|point| point.1).sum::<f64>() / count;
    let squares: f64 = points.clone().map(|point| (point.0 - mean_x).powi(2)).sum();
    let product: f64 = points.map(|point| (point.0 - mean_x) * (point.1 - mean_y)).sum();
    (squares > 0.0).then(|| -product / squares)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(keep: f64) -> BowLine {
        let levels = [-6.0, -4.0, -1.0, 2.0, 5.0, 7.0, 4.0, 0.0, -3.0, -4.0];
        let level = |db| Level { db, variance: 0.1 };
        let both: Vec<Both> = levels
            .iter()
            .enumerate()
            .map(|(note, db)| Both {
                note,
                straight: level(*db),
                vibrated: level(keep * db - 12.0),
            })
            .collect();
        bow_line(&both).expect("ten notes")
    }

    #[test]
    fn a_line_played_elsewhere_before_the_microphone_survives_and_a_flat_one_does_not() {
        let kept = line(1.0);
        assert!(kept.survived && kept.least_loss.value.abs() < 1e-9, "{kept:?}");
        assert_eq!(kept.changed().count(), 0);
        let flat = line(0.0);
        assert!(!flat.survived && (flat.least_loss.value - 1.0).abs() < 1e-9, "{flat:?}");
        let softer: Vec<usize> =
            flat.changed().filter(|one| one.1.value < 0.0).map(|one| one.0).collect();
        assert_eq!(softer, [4, 5, 6]);
    }

    #[test]
    fn one_note_that_bulges_is_told_by_its_number() {
        let level = |db| Level { db, variance: 0.1 };
        let both: Vec<Both> = (0..8)
            .map(|note| Both {
                note,
                straight: level(-20.0),
                vibrated: level(if note == 5 { -14.0 } else { -20.0 }),
            })
            .collect();
        // Nothing is said of a line that is flat in the straight pass.
        assert!(bow_line(&both).is_none());
        let sloped: Vec<Both> = both
            .iter()
            .map(|one| Both {
                straight: level(one.straight.db + one.note as f64),
                vibrated: level(one.vibrated.db + one.note as f64),
                ..*one
            })
            .collect();
        let line = bow_line(&sloped).expect("a line");
        let changed: Vec<usize> = line.changed().map(|one| one.0).collect();
        assert_eq!(changed, [5]);
    }
}
