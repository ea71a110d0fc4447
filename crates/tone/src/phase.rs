//! How far a note's vibrato has gone at each time, in cycles: known without playing it.

use crate::chance::{Chance, Use};
use crate::line::Pitch;
use crate::spec::Spec;
use tuning::Secs;

/// The motion of one note as points between which it advances evenly: a trough is a whole number of
/// cycles, a crest lies half a cycle behind it, and the straight pitch from which a motion sets out
/// a quarter before its first turning point.
#[derive(Clone, Debug, PartialEq)]
pub struct Phase {
    /// Seconds from the start of the note, and cycles.
    points: Vec<(f64, f64)>,
}

impl Phase {
    /// The motion of note number `note` of line number `line`; `None` if there is no such note or it
    /// is straight.
    pub fn of(spec: &Spec, line: usize, note: usize) -> Option<Self> {
        let what = spec.lines.get(line)?.notes.get(note)?;
        let pitch = Pitch::new(what, Chance::new(spec.seed, Use::Note(line, note)));
        let mut points: Vec<(f64, f64)> = Vec::new();
        for knot in pitch.swing?.knots() {
            let cycles = match (points.last(), knot.crest) {
                (None, None) if what.vibrato.as_ref()?.upward => 0.25,
                (None, None) => -0.25,
                (None, Some(false)) => 0.0,
                (None, Some(true)) => 0.5,
                (Some((_, before)), _) => (2.0 * before).floor() / 2.0 + 0.5,
            };
            points.push((knot.secs, cycles));
        }
        Some(Self { points })
    }

    /// Cycles at `secs` from the start of the note; before the motion sets in, where it sets out from.
    pub fn at(&self, secs: Secs) -> f64 {
        along(&self.points, secs.get(), |p| *p)
    }

    /// When the motion has come to this many cycles, in seconds from the start of the note.
    pub fn when(&self, cycles: f64) -> Secs {
        Secs(along(&self.points, cycles, |p| (p.1, p.0)))
    }
}

/// Reads a rising course of points at `x`; held beyond its ends.
fn along(points: &[(f64, f64)], x: f64, side: fn(&(f64, f64)) -> (f64, f64)) -> f64 {
    let next = points.partition_point(|p| side(p).0 <= x);
    match (next.checked_sub(1).map(|i| side(&points[i])), points.get(next).map(side)) {
        (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0),
        (Some(only), None) | (None, Some(only)) => only.1,
        (None, None) => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spec::{Line, NoteSpec, VibratoSpec};
    use tuning::{Cents, Hz};

    fn spec(change: impl Fn(&mut VibratoSpec)) -> Spec {
        let mut vibrato = VibratoSpec::regular(Hz(4.0), Cents(30.0));
        change(&mut vibrato);
        let note = NoteSpec::straight(Secs(1.0), Secs(3.0), Hz(200.0)).with(vibrato);
        Spec { lines: vec![Line { notes: vec![note], level_db: 0.0 }], ..Spec::default() }
    }

    #[test]
    fn a_regular_motion_advances_by_its_rate() {
        let phase = Phase::of(&spec(|v| v.phase = Some(0.3)), 0, 0).expect("it moves");
        assert!((phase.at(Secs(0.0)) - 0.3).abs() < 1e-9);
        assert!((phase.at(Secs(2.0)) - 8.3).abs() < 1e-9);
        assert!((phase.when(5.0).get() - 4.7 / 4.0).abs() < 1e-9);
    }

    #[test]
    fn a_motion_that_sets_in_late_sets_out_a_quarter_before_its_first_turn() {
        let late = |upward| spec(move |v| (v.delay, v.upward) = (Secs(0.5), upward));
        let down = Phase::of(&late(false), 0, 0).expect("it moves");
        assert_eq!(down.at(Secs(0.4)), -0.25);
        assert!((down.at(Secs(0.5 + 1.0 / 16.0))).abs() < 1e-9, "the first trough");
        let up = Phase::of(&late(true), 0, 0).expect("it moves");
        assert!((up.at(Secs(0.5 + 1.0 / 16.0)) - 0.5).abs() < 1e-9, "the first crest");
    }

    #[test]
    fn an_uneven_motion_turns_where_the_truth_has_its_turns() {
        let spec = spec(|v| (v.phase, v.rate_jitter_pct) = (Some(0.8), 16.0));
        let phase = Phase::of(&spec, 0, 0).expect("it moves");
        let truth = spec.render().expect("playable").truth;
        let turns = &truth.lines[0].notes[0].turns;
        assert!(turns.len() > 20);
        for turn in turns {
            let cycles = phase.at(Secs(turn.time.get() - 1.0));
            let of_its_kind = if turn.crest { cycles - 0.5 } else { cycles };
            assert!((of_its_kind - of_its_kind.round()).abs() < 1e-9, "{turn:?} at {cycles}");
        }
    }
}
