//! Which finger played what: the turns of a round, found by the same code while it goes on and once it is over.

use tuning::{Cents, Hz, Secs, Tuning};
use vibrato::{
    ContourPoint, CycleCount, Measure, Measures, Note, Oscillation, Quantity, StraightLine,
    Stretch, Vibrato,
};

use crate::drill::{Asked, Drill, Kind};
use crate::order::order;
use crate::pacer::starts;
use crate::sharing::Shared;

/// On the same pitch, a pause of the motion may be a change of finger from this length on.
const CHANGE_PAUSE: Secs = Secs(0.09);
/// The shortest turn.
const LEAST_TURN: Secs = Secs(0.1);
/// A pause belongs to a change of finger if it lies around it, or as near as this.
const REACH: Secs = Secs(0.04);
/// A count this close to a half, in cycles, may be rounded either way: where a motion ends is not known better.
const UNDECIDED: f64 = 0.06;

/// One finger's turn, as it was played.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// Which of the asked turns it is, from 0.
    pub asked: usize,
    /// Start of the finger's sound.
    pub start: Secs,
    /// Its end.
    pub end: Secs,
    /// Oscillations made, with their fraction.
    pub made_cycles: f64,
    /// The same as a whole number; what lies too close to a half is rounded towards the count asked for.
    pub made: u32,
    /// Oscillations per second.
    pub rate: Option<Measure<Hz>>,
    /// Crest to trough.
    pub width: Option<Measure<Cents>>,
    /// Mean pitch above the asked note as the tuning has it.
    pub centre: Option<Measure<Cents>>,
    /// All else that is measured of a turn; its unsteadiness where it has no vibrato.
    pub others: Measures,
    /// Width and rate through the turn.
    pub contour: Vec<ContourPoint>,
    /// Time without motion at the change to the next finger; `None` after the last one. Where the motion goes on it is 0
    /// and has no standard error.
    pub gap: Option<Measure<Secs>>,
}

impl Played {
    /// Turn number `asked`, from `start` to `end`, without any measures.
    pub(crate) fn unmeasured(asked: usize, start: Secs, end: Secs) -> Self {
        Self {
            asked,
            start,
            end,
            made_cycles: 0.0,
            made: 0,
            rate: None,
            width: None,
            centre: None,
            others: Measures::default(),
            contour: Vec::new(),
            gap: None,
        }
    }

    /// Takes over the measures of the vibrato in it.
    fn take_vibrato(&mut self, vibrato: Vibrato) {
        let middle = |o: &Oscillation| ContourPoint {
            time: Secs(o.start.get() + 0.5 * o.period.get()),
            rate: Hz(1.0 / o.period.get()),
            width: Cents(o.crest.get() - o.trough.get()),
        };
        self.contour = vibrato.oscillations.iter().map(middle).collect();
        let se = drift_se(&vibrato.oscillations);
        let drift = vibrato.get(Quantity::Drift).map(|drift| Measure { se, ..drift });
        self.rate = Some(vibrato.rate);
        self.width = Some(vibrato.width);
        self.centre = Some(vibrato.centre);
        self.others = vibrato.others;
        self.others.set(Quantity::Drift, drift);
    }

    /// From how long on the gap behind this turn is too long; `None` where gaps are not judged.
    pub fn gap_limit(&self, drill: &Drill, asked: &[Asked]) -> Option<Secs> {
        // A stop that is asked for is none of the motion's.
        if drill.stops() || matches!(drill.kind, Kind::StartAndStop { .. }) {
            return None;
        }
        let wanted = asked[self.asked].rate.map(|(low, _)| low);
        let rate = self.rate.map(|rate| rate.value).or(wanted);
        Some(drill.rules.gap_below?.at(rate))
    }

    /// A measure of the turn; `None` where it is not known.
    pub fn get(&self, quantity: Quantity) -> Option<Measure<f64>> {
        match quantity {
            Quantity::Rate => self.rate.map(Measure::bare),
            Quantity::Width => self.width.map(Measure::bare),
            Quantity::Centre => self.centre.map(Measure::bare),
            Quantity::Gap => self.gap.map(Measure::bare),
            _ => self.others.get(quantity),
        }
    }
}

/// What is known while a round goes on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Now {
    /// The turn that is played, or that comes next, from 0.
    pub turn: usize,
    /// Oscillations counted in each turn so far.
    pub counts: Vec<u32>,
    /// Rate of the motion by now.
    pub rate: Option<Hz>,
    /// The last gap at a change.
    pub gap: Option<Secs>,
}

/// A turn as a part of a stretch of sound, in its frames.
#[derive(Clone, Copy, Debug, PartialEq)]
struct TurnSpan {
    stretch: usize,
    from: f64,
    to: f64,
}

/// What was heard of a round and how its motion was counted, to be cut into turns.
pub(crate) struct Cutter<'a> {
    /// What is asked for.
    pub drill: &'a Drill,
    /// Its turns.
    pub asked: &'a [Asked],
    /// The sound.
    pub stretches: &'a [Stretch],
    /// The motion of each stretch.
    pub counts: Vec<CycleCount>,
    /// When the first turn begins by the pacer.
    pub first_beat: Option<Secs>,
    /// The ear's notes in it.
    pub notes: &'a [Note],
}

impl Cutter<'_> {
    /// What is known while the round goes on.
    pub(crate) fn now(&self, tuning: &Tuning) -> Now {
        let parts = self.parts();
        let set = self.so_far(&parts, tuning);
        let mut counts: Vec<u32> = Vec::new();
        for (part, asked) in parts.iter().zip(&set) {
            let Some(asked) = *asked else { continue };
            counts.resize(counts.len().max(asked + 1), 0);
            counts[asked] = whole(self.made(part), self.asked[asked].count);
        }
        let sounds = self.stretches.last().is_some_and(|stretch| !stretch.over);
        let turn = match counts.len() {
            0 => 0,
            count if sounds => count - 1,
            count => count,
        };
        let gap = (parts.len() >= 2)
            .then(|| self.gap(&parts[parts.len() - 2], &parts[parts.len() - 1]))
            .flatten()
            .map(|gap| gap.value);
        Now {
            turn: turn.min(self.asked.len()),
            counts,
            rate: self.stretches.last().and_then(Stretch::rate),
            gap,
        }
    }

    /// All turns with their measures.
    pub(crate) fn played(&self, tuning: &Tuning) -> Vec<Played> {
        let parts = self.parts();
        let set = self.set(&parts, tuning);
        let kept: Vec<(TurnSpan, usize)> =
            parts.iter().zip(&set).filter_map(|(part, asked)| Some((*part, (*asked)?))).collect();
        kept.iter()
            .enumerate()
            .map(|(i, (part, asked))| {
                let gap = kept.get(i + 1).and_then(|(next, _)| self.gap(part, next));
                self.measure(part, *asked, gap, tuning)
            })
            .collect()
    }

    fn made(&self, part: &TurnSpan) -> f64 {
        let counts = &self.counts[part.stretch];
        counts.at(part.to) - counts.at(part.from)
    }

    /// The turns as they can be told apart, in order; which one each of them is is not known yet.
    fn parts(&self) -> Vec<TurnSpan> {
        let least = LEAST_TURN.get() / frame_secs();
        let mut parts = Vec::new();
        for (number, stretch) in self.stretches.iter().enumerate() {
            let end = if stretch.over { stretch.flat.len() } else { stretch.known() } as f64;
            let mut edges = vec![0.0];
            if !self.drill.stops() {
                edges.extend(stretch.cuts.iter().map(|cut| cut.at as f64).filter(|at| *at < end));
            }
            edges.push(end);
            for pair in edges.windows(2) {
                let part = TurnSpan { stretch: number, from: pair[0], to: pair[1] };
                if part.to - part.from >= least || !stretch.over {
                    parts.push(part);
                }
            }
        }
        if self.drill.stops() {
            return parts;
        }
        self.split(&parts)
    }

    /// The same, with those divided in which several fingers play the same pitch one after the other.
    fn split(&self, parts: &[TurnSpan]) -> Vec<TurnSpan> {
        // Fingers on the same pitch, in a row.
        let mut runs: Vec<usize> = Vec::new();
        for (i, asked) in self.asked.iter().enumerate() {
            match runs.last_mut() {
                Some(run) if i > 0 && self.asked[i - 1].midi == asked.midi => *run += 1,
                _ => runs.push(1),
            }
        }
        if runs.iter().all(|run| *run == 1) {
            return parts.to_vec();
        }
        let mut all = Vec::new();
        let mut done = 0;
        for (number, part) in parts.iter().enumerate() {
            let run = runs.get(number).copied().unwrap_or(1);
            all.extend(self.fingers(part, run, done));
            done += run;
        }
        all
    }

    /// One part divided among `run` fingers on its pitch; the first of them is the one asked for as number `first`.
    fn fingers(&self, part: &TurnSpan, run: usize, first: usize) -> Vec<TurnSpan> {
        let counts = &self.counts[part.stretch];
        let stretch = &self.stretches[part.stretch];
        let inside = counts
            .pauses
            .iter()
            .filter(|pause| pause.from > part.from && pause.to < part.to)
            .filter(|pause| pause.to - pause.from >= CHANGE_PAUSE.get() / frame_secs());
        // The beat is the pacer's. Without one it is counted from where the first of these fingers began.
        let beats = starts(self.drill, self.asked).map_or_else(Vec::new, |starts| {
            let start = |turn: usize| starts[turn.min(starts.len() - 1)].get();
            let begins = self
                .first_beat
                .map_or_else(|| stretch.secs(part.from).get() - start(first), Secs::get);
            let place = |secs: f64| (secs - stretch.secs(0.0).get()) / frame_secs();
            (1..run).map(|k| place(begins + start(first + k))).collect()
        });
        let wanted = |k: usize| {
            let asked = &self.asked[(first + k).min(self.asked.len() - 1)];
            f64::from(asked.count.unwrap_or(1))
        };
        let shared = Shared {
            cycles_at: &|at| counts.at(at),
            when: &|cycles| counts.when(cycles),
            from: part.from,
            to: part.to,
            breaks: inside.copied().collect(),
            cycle: stretch.rate().map_or(f64::INFINITY, |rate| 1.0 / rate.get() / frame_secs()),
            wanted: (0..run).map(wanted).collect(),
            beats,
            over: stretch.over || part.to < stretch.known() as f64,
        };
        let mut bounds = vec![part.from];
        bounds.extend(shared.changes());
        bounds.push(part.to);
        bounds.windows(2).map(|pair| TurnSpan { from: pair[0], to: pair[1], ..*part }).collect()
    }

    /// Which asked turn each part is while the round goes on: as long as there are no more than were asked for, they
    /// are taken in order.
    fn so_far(&self, parts: &[TurnSpan], tuning: &Tuning) -> Vec<Option<usize>> {
        if parts.len() <= self.asked.len() {
            return (0..parts.len()).map(Some).collect();
        }
        self.set(parts, tuning)
    }

    /// Which asked turn each part of a whole round is; `None` for one that was not asked for. Where there are as many as
    /// were asked for, they are taken in order; otherwise their pitches tell.
    fn set(&self, parts: &[TurnSpan], tuning: &Tuning) -> Vec<Option<usize>> {
        if parts.len() == self.asked.len() {
            return (0..parts.len()).map(Some).collect();
        }
        let pitch = |part: &TurnSpan| {
            let stretch = &self.stretches[part.stretch];
            let a4 = tuning.frequency(69);
            let still = stretch.held_pitch(part.from as usize, part.to as usize, a4)?;
            Some(69.0 + still.mean.value.get() / 100.0)
        };
        let pitches: Vec<Option<f64>> = parts.iter().map(pitch).collect();
        let notes: Vec<i32> = self.asked.iter().map(|asked| asked.midi).collect();
        order(&pitches, &notes)
    }

    /// The vibrato that the ear measured of the note that lies from `start` to `end`.
    fn of_note(&self, start: Secs, end: Secs) -> Option<&Vibrato> {
        let shared =
            |note: &&Note| end.get().min(note.end.get()) - start.get().max(note.start.get());
        let most = |a: &&Note, b: &&Note| shared(a).total_cmp(&shared(b));
        let half = 0.5 * (end.get() - start.get());
        self.notes.iter().filter(|note| shared(note) >= half).max_by(most)?.vibrato.as_ref()
    }

    /// Time without motion between two turns.
    fn gap(&self, part: &TurnSpan, next: &TurnSpan) -> Option<Measure<Secs>> {
        let (a, b) = (&self.counts[part.stretch], &self.counts[next.stretch]);
        if part.stretch == next.stretch {
            let pause = a.pause_at(part.to, REACH.get() / frame_secs());
            return Some(pause.map_or(Measure::doubtful(Secs(0.0)), |p| Measure {
                value: Secs((p.to - p.from) * frame_secs()),
                se: Some(Secs(p.doubts.0.hypot(p.doubts.1) * frame_secs())),
            }));
        }
        let end = self.stretches[part.stretch].secs(a.span?.1);
        let start = self.stretches[next.stretch].secs(b.span?.0);
        Some(Measure {
            value: Secs((start.get() - end.get()).max(0.0)),
            se: Some(Secs(a.doubts.1.hypot(b.doubts.0) * frame_secs())),
        })
    }

    fn measure(
        &self,
        part: &TurnSpan,
        asked: usize,
        gap: Option<Measure<Secs>>,
        tuning: &Tuning,
    ) -> Played {
        let stretch = &self.stretches[part.stretch];
        let counts = &self.counts[part.stretch];
        let (from, to) = (part.from.round() as usize, part.to.round() as usize);
        let reference = tuning.frequency(self.asked[asked].midi);
        let made_cycles = self.made(part).max(0.0);
        let mut played = Played {
            made_cycles,
            made: whole(made_cycles, self.asked[asked].count),
            gap,
            ..Played::unmeasured(asked, stretch.secs(part.from), stretch.secs(part.to))
        };
        let straight = matches!(self.drill.kind, Kind::Straight { .. });
        match stretch.vibrato(counts, from, to, reference).filter(|_| !straight) {
            Some(mut vibrato) => {
                let of_note = self.of_note(played.start, played.end);
                if let Some(by) = of_note.and_then(widened) {
                    vibrato.widen(by);
                }
                if let Some(mm_per_cent) = of_note.and_then(mm_per_cent) {
                    vibrato.set_travel(mm_per_cent * vibrato.width.value.get());
                }
                played.take_vibrato(vibrato);
            }
            None => {
                if made_cycles >= 0.5 && !straight {
                    played.rate = stretch.pace(counts, from, to);
                    played.width = stretch.mean_width(counts, from, to).map(Measure::doubtful);
                }
                if let Some(held) = stretch.held_pitch(from, to, reference) {
                    played.centre = Some(held.mean);
                    let unsteady = Measure::doubtful(held.unsteadiness.0);
                    played.others.set(Quantity::Unsteadiness, Some(unsteady));
                }
            }
        }
        if straight {
            let rise = stretch.rise(from, to).map(Measure::bare);
            played.others.set(Quantity::Drift, rise);
        }
        played
    }
}

/// How much wider the string swung in a note than it was heard.
fn widened(of_note: &Vibrato) -> Option<Measure<f64>> {
    let pct = of_note.get(Quantity::Widened)?;
    let share = |pct: f64| pct / 100.0;
    Some(Measure { value: 1.0 + share(pct.value), se: pct.se.map(share) })
}

/// How far the finger went in a note for each cent of its width.
fn mm_per_cent(of_note: &Vibrato) -> Option<f64> {
    Some(of_note.get(Quantity::Travel)?.value / of_note.width.value.get())
}

/// So many cycles as a whole number of oscillations. Close to a half, where nobody can say which way to round, the player
/// has the benefit of the doubt: it is rounded towards the count asked for.
fn whole(cycles: f64, asked: Option<u32>) -> u32 {
    let cycles = cycles.max(0.0);
    let undecided = (cycles.fract() - 0.5).abs() <= UNDECIDED;
    match asked {
        Some(asked) if undecided && f64::from(asked) > cycles => cycles.ceil() as u32,
        Some(_) if undecided => cycles.floor() as u32,
        _ => cycles.round() as u32,
    }
}

/// Standard error of the drift of some oscillations, in cents, from how their middles scatter around the straight line
/// that fits them best: around their mean the drift itself would count as scatter.
fn drift_se(oscillations: &[Oscillation]) -> Option<f64> {
    if oscillations.len() < 3 {
        return None;
    }
    let middle = |o: &Oscillation| 0.5 * (o.crest.get() + o.trough.get());
    let line = StraightLine::through_even(oscillations.iter().map(middle));
    let sd = (line.left / (line.count - 2.0)).sqrt();
    Some((sd * (2.0 / (line.count / 3.0).floor()).sqrt()).max(0.5))
}

fn frame_secs() -> f64 {
    vibrato::FRAME.get()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_is_rounded_and_only_an_undecided_half_goes_to_what_was_asked() {
        for (cycles, asked, made) in [
            (3.96, Some(4), 4),
            (4.30, Some(5), 4),
            (3.70, Some(3), 4),
            (4.47, Some(5), 5),
            (4.53, Some(4), 4),
            (4.50, Some(9), 5),
            (4.50, Some(1), 4),
            (4.42, Some(5), 4),
            (4.58, Some(4), 5),
            (4.50, None, 5),
            (-0.2, Some(1), 0),
        ] {
            assert_eq!(whole(cycles, asked), made, "{cycles} of {asked:?}");
        }
    }
}
