//! Measures of a part of a stretch: one finger's turn, measured as a note is.

use crate::cycle_count::CycleCount;
use crate::measure::Measure;
use crate::note::{Oscillation, Vibrato};
use crate::pitch_line::{ORIGIN, PitchLine};
use crate::stretch::Stretch;
use crate::summary;
use crate::turn::Turn;
use pitch::HOP_SECS;
use tuning::{Cents, Hz, Secs};

/// Frames on either side of a turn that show it.
const TURN_FRAMES: usize = 2;

/// The pitch of a part, vibrato aside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeldPitch {
    /// Mean pitch.
    pub mean: Measure<Cents>,
    /// Standard deviation around that mean.
    pub unsteadiness: Cents,
}

/// Whether the pitch is heard all around a turn of a part, and the finger not on its way.
fn sure(line: &PitchLine, turn: &Turn) -> bool {
    let at = turn.at.round().max(0.0) as usize;
    let around = at.checked_sub(TURN_FRAMES).map(|from| from..=at + TURN_FRAMES);
    let heard = around.and_then(|frames| line.heard.get(frames));
    heard.is_some_and(|heard| heard.iter().all(|heard| *heard))
}

impl Stretch {
    /// The vibrato from frame `from` to before frame `to`, against `reference`; `None` where there are
    /// fewer than two whole oscillations. `motion` is the motion of this stretch.
    pub fn vibrato(
        &self,
        motion: &CycleCount,
        from: usize,
        to: usize,
        reference: Hz,
    ) -> Option<Vibrato> {
        let line = self.line(from, to)?;
        let turns = self.turns_of(motion, from, to);
        let mut vibrato = crate::ear::empty_vibrato();
        let mut cut = Vec::new();
        // A finger that comes or goes is no attack or release: all full turns count, but none over a rest.
        let shift = ORIGIN.cents_above(reference).get();
        let secs = |at: f64| Secs((line.first as f64 + at) * HOP_SECS);
        let rests = |a: &Turn, b: &Turn| {
            let (a, b) = (from as f64 + a.at, from as f64 + b.at);
            motion.pauses.iter().any(|pause| pause.from >= a && pause.to <= b)
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
                cut.push(trio.iter().any(|turn| !sure(&line, turn)));
            }
        }
        // One that a change of finger cuts is no measure, if there are others.
        if cut.iter().filter(|cut| !**cut).count() >= summary::LEAST_OSCILLATIONS {
            let mut cut = cut.into_iter();
            vibrato.oscillations.retain(|_| cut.next() == Some(false));
        }
        if !summary::summarise(&line, &turns, reference, &mut vibrato) {
            return None;
        }
        vibrato.rate = self.pace(motion, from, to).unwrap_or(vibrato.rate);
        Some(vibrato)
    }

    /// Mean width from crest to trough of neighbouring turns from frame `from` to before frame `to`.
    pub fn mean_width(&self, motion: &CycleCount, from: usize, to: usize) -> Option<Cents> {
        let (line, turns) = (self.line(from, to)?, self.turns_of(motion, from, to));
        let width = |pair: &[Turn]| (pair[0].cents - pair[1].cents).abs();
        // A turn at which the motion rests stands twice.
        let pairs = || turns.windows(2).filter(|pair| pair[0].crest != pair[1].crest);
        let whole = |pair: &&[Turn]| pair.iter().all(|turn| sure(&line, turn));
        let mut widths: Vec<f64> = pairs().filter(whole).map(width).collect();
        if widths.is_empty() {
            widths = pairs().map(width).collect();
        }
        let count = widths.len() as f64;
        (count > 0.0).then(|| Cents(widths.iter().sum::<f64>() / count))
    }

    /// Mean pitch from frame `from` to before frame `to`, against `reference`, attack and release apart.
    pub fn held_pitch(&self, from: usize, to: usize, reference: Hz) -> Option<HeldPitch> {
        let line = self.line(from, to)?;
        let (mean, se, unsteadiness) = summary::settled(&line, line.len());
        Some(HeldPitch {
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
        let of = |line: PitchLine| summary::settled(&line, line.len());
        let (early, early_se, _) = of(self.line(from, from + third)?);
        let (late, late_se, _) = of(self.line(to - third, to)?);
        Some(Measure { value: Cents(late - early), se: Some(Cents(early_se.hypot(late_se))) })
    }

    fn line(&self, from: usize, to: usize) -> Option<PitchLine> {
        let to = to.min(self.cents.len());
        if from + 2 > to {
            return None;
        }
        let mut line = PitchLine::new(to - from);
        line.first = self.first + from as i64;
        line.cents.extend_from_slice(&self.cents[from..to]);
        line.heard.extend_from_slice(&self.heard[from..to]);
        Some(line)
    }

    /// The turns of a part, on its own frames and at the pitch they were played.
    fn turns_of(&self, motion: &CycleCount, from: usize, to: usize) -> Vec<Turn> {
        let within = |turn: &&Turn| turn.at >= from as f64 && turn.at < to as f64;
        let shift = |at: f64| {
            let before = self.steps().filter(|step| step.at as f64 <= at);
            before.map(|step| step.cents).sum::<f64>()
        };
        motion
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_is_sure_if_all_around_it_is_heard_in_its_part() {
        let mut line = PitchLine::new(40);
        line.cents.extend([0.0; 40]);
        line.heard.extend([true; 40]);
        line.heard[20..24].fill(false);
        for (at, is) in [
            (1.0, false),
            (2.0, true),
            (17.4, true),
            (18.0, false),
            (25.0, false),
            (26.0, true),
            (37.2, true),
            (38.0, false),
        ] {
            let turn = Turn { at, cents: 0.0, crest: true, reach: 0.0 };
            assert_eq!(sure(&line, &turn), is, "{at}");
        }
    }
}
