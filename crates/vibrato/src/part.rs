//! Measures of a part of a stretch: one finger's turn, measured as a note is.

use crate::advance::Advance;
use crate::course::Stretch;
use crate::line::{Line, ORIGIN};
use crate::measures::{Measure, Oscillation, Vibrato};
use crate::summary;
use crate::turn::Turn;
use pitch::HOP_SECS;
use tuning::{Cents, Hz, Secs};

/// The pitch of a part, vibrato aside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Still {
    /// Mean pitch.
    pub mean: Measure<Cents>,
    /// Standard deviation around the slow course (a straight line).
    pub unsteadiness: Cents,
}

impl Stretch {
    /// The vibrato from frame `from` to before frame `to`, against `reference`; `None` where there are
    /// fewer than two whole oscillations. `advance` is the motion of this stretch.
    pub fn vibrato(
        &self,
        advance: &Advance,
        from: usize,
        to: usize,
        reference: Hz,
    ) -> Option<Vibrato> {
        let line = self.line(from, to)?;
        let turns = self.turns_of(advance, from, to);
        let mut vibrato = crate::ear::empty_vibrato();
        // A finger that comes or goes is no attack or release: all full turns count, but none over a rest.
        let shift = ORIGIN.cents_above(reference).get();
        let secs = |at: f64| Secs((line.first as f64 + at) * HOP_SECS);
        let rests = |a: &Turn, b: &Turn| {
            let (a, b) = (from as f64 + a.at, from as f64 + b.at);
            advance
                .pauses
                .iter()
                .any(|pause| pause.from >= a && pause.to <= b)
        };
        for trio in turns.windows(3) {
            if let [a, crest, b] = trio
                && crest.crest
                && !a.crest
                && !b.crest
                && !rests(a, b)
            {
                vibrato.oscillations.push(Oscillation {
                    start: secs(a.at),
                    period: Secs((b.at - a.at) * HOP_SECS),
                    crest: Cents(crest.cents + shift),
                    trough: Cents(0.5 * (a.cents + b.cents) + shift),
                });
            }
        }
        summary::summarise(&line, &turns, reference, None, &mut vibrato).then_some(vibrato)
    }

    /// Mean width from crest to trough of neighbouring turns from frame `from` to before frame `to`.
    pub fn mean_width(&self, advance: &Advance, from: usize, to: usize) -> Option<Cents> {
        let turns = self.turns_of(advance, from, to);
        let widths = turns
            .windows(2)
            .map(|pair| (pair[0].cents - pair[1].cents).abs());
        let count = widths.len();
        (count > 0).then(|| Cents(widths.sum::<f64>() / count as f64))
    }

    /// Mean pitch from frame `from` to before frame `to`, against `reference`, attack and release apart.
    pub fn still(&self, from: usize, to: usize, reference: Hz) -> Option<Still> {
        let line = self.line(from, to)?;
        let (mean, se, unsteadiness) = summary::settled(&line, line.len());
        Some(Still {
            mean: Measure {
                value: Cents(mean + ORIGIN.cents_above(reference).get()),
                se: Some(Cents(se)),
            },
            unsteadiness: Cents(unsteadiness),
        })
    }

    /// From the mean pitch of the first third of the frames from `from` to before `to` to that of the last.
    pub fn rise(&self, from: usize, to: usize) -> Option<Measure<Cents>> {
        let third = to.saturating_sub(from) / 3;
        let of = |line: Line| summary::settled(&line, line.len());
        let (early, early_se, _) = of(self.line(from, from + third)?);
        let (late, late_se, _) = of(self.line(to - third, to)?);
        Some(Measure {
            value: Cents(late - early),
            se: Some(Cents(early_se.hypot(late_se))),
        })
    }

    fn line(&self, from: usize, to: usize) -> Option<Line> {
        let to = to.min(self.cents.len());
        if from + 2 > to {
            return None;
        }
        let mut line = Line::new(to - from);
        line.first = self.first + from as i64;
        line.cents.extend_from_slice(&self.cents[from..to]);
        line.heard.extend_from_slice(&self.heard[from..to]);
        Some(line)
    }

    /// The turns of a part, on its own frames and at the pitch they were played.
    fn turns_of(&self, advance: &Advance, from: usize, to: usize) -> Vec<Turn> {
        let within = |turn: &&Turn| turn.at >= from as f64 && turn.at < to as f64;
        let shift = |at: f64| {
            let before = self.steps().filter(|step| step.at as f64 <= at);
            before.map(|step| step.cents).sum::<f64>()
        };
        advance
            .turns
            .iter()
            .filter(within)
            .map(|turn| Turn {
                at: turn.at - from as f64,
                cents: turn.cents + shift(turn.at),
                ..*turn
            })
            .collect()
    }
}
