//! Round after round of a drill: what was played, whether it held, what was found.

use tuning::{Secs, Tuning};
use vibrato::{Event, Note, SHORT_LOSS};

use crate::bowing::Bowing;
use crate::drill::{Asked, Drill, Fingering, Kind, Moves, Pace};
use crate::elsewhere::moved;
use crate::finding::Finding;
use crate::findings::{breaks_rule, lost_in, of_round};
use crate::intonation::Aim;
use crate::judged::Judged;
use crate::on_beat::{OnBeat, beside_beat};
use crate::pacer::Pacer;
use crate::progress::{SinceRest, changed, tightening, tiring, to_try};
use crate::round::Round;
use crate::round_bounds::{Change, Rounds};
use crate::turns::{Now, Played};
use std::collections::VecDeque;

/// Silence that ends a round, and, where the bow stops between fingers, in beats.
const ENDS_AFTER: Secs = Secs(1.5);
const STOP_BEATS: f64 = 2.0;
/// A turn lies on its note if it is no nearer to another.
const ON_ITS_NOTE_CENTS: f64 = 50.0;

/// Hints that a player may turn off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hints {
    /// Signs of tiring are pointed out.
    pub tiring: bool,
    /// A rest is suggested after 25 minutes of playing.
    pub rest: bool,
}

impl Default for Hints {
    fn default() -> Self {
        Self { tiring: true, rest: true }
    }
}

/// Where a ladder goes next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Next {
    /// It stays at this level.
    Stay(f64),
    /// Up to this level, in beats per minute.
    Up(f64),
    /// Down to this level.
    Down(f64),
}

/// What was played, from its first sound to the silence after it, and not judged yet.
struct Ended {
    turns: Vec<Played>,
    /// What was found of notes that were to swell.
    swells: Vec<Finding>,
    asked: Vec<Asked>,
    pacer: Option<Pacer>,
    motion: Option<Vec<(Secs, bool)>>,
    losses: Vec<(Secs, Secs)>,
}

/// Practice of one drill: rounds apart by silence.
pub struct Practice {
    drill: Drill,
    place: Fingering,
    tuning: Tuning,
    hints: Hints,
    aim: Aim,
    rounds: Rounds,
    round: Round,
    done: Vec<Judged>,
    pacer: Option<Pacer>,
    /// Crests (`true`) and troughs of the round; `None` where it is not judged whether they fall on the beat.
    motion: Option<Vec<(Secs, bool)>>,
    /// Where a little sound was lost in the round, and how much.
    losses: Vec<(Secs, Secs)>,
    /// Whether the round was bowed.
    bowing: Bowing,
    /// What ended last and did not sound bowed, until it is brought back or something else is judged.
    aside: Option<Ended>,
    since_rest: SinceRest,
    rested: bool,
    /// Seeds by which the next rounds are shuffled, where they were played before and are known.
    shuffles: VecDeque<u64>,
}

impl Practice {
    /// Practice of `drill` at `place`, before its first sound.
    pub fn new(drill: Drill, place: Fingering, tuning: Tuning, hints: Hints) -> Self {
        // Once the drill has its widths as the place wants them, the place wants nothing more.
        let drill = drill.widened(place.width_share);
        let place = Fingering { width_share: 1.0, ..place };
        let stop = drill.pace.beat().filter(|_| drill.stops());
        let ends_after =
            stop.map_or(ENDS_AFTER.get(), |beat| ENDS_AFTER.get().max(STOP_BEATS * beat.get()));
        Self {
            round: Round::new(&drill, &place, tuning, None),
            rounds: Rounds::new(Secs(ends_after)),
            drill,
            place,
            tuning,
            hints,
            aim: Aim::default(),
            done: Vec::new(),
            pacer: None,
            motion: None,
            losses: Vec::new(),
            bowing: Bowing::default(),
            aside: None,
            since_rest: SinceRest::default(),
            rested: false,
            shuffles: VecDeque::new(),
        }
    }

    /// The same, its rounds shuffled as they were when they were played: by these seeds, one after the other.
    pub fn shuffled_by(self, seeds: Vec<u64>) -> Self {
        let mut practice = Self { shuffles: seeds.into(), ..self };
        practice.next_shuffle();
        practice
    }

    /// Shuffles the next round as it was played, if that is known.
    fn next_shuffle(&mut self) {
        if let Some(seed) = self.shuffles.pop_front() {
            self.drill = self.drill.clone().shuffled_by(seed);
            self.round = Round::new(&self.drill, &self.place, self.tuning, None);
        }
    }

    /// From now on notes are meant to lie so.
    pub fn aim(&mut self, aim: Aim) {
        self.aim = aim;
    }

    /// Where notes are meant to lie.
    pub fn aimed(&self) -> Aim {
        self.aim
    }

    /// Judges from now on whether oscillations fall on the beat, or no longer does. To be asked only where the delay
    /// between beat and sound has been measured.
    pub fn judge_beat(&mut self, on: bool) {
        self.motion = on.then(Vec::new);
    }

    /// The drill as it is played now.
    pub fn drill(&self) -> &Drill {
        &self.drill
    }

    /// Where it is played.
    pub fn place(&self) -> &Fingering {
        &self.place
    }

    /// What notes are measured against.
    pub fn tuning(&self) -> &Tuning {
        &self.tuning
    }

    /// The turns of a round.
    pub fn asked(&self) -> &[Asked] {
        self.round.asked()
    }

    /// Starts the pacer: its count-in begins at `time`. `None` if the pace is free.
    pub fn start(&mut self, time: Secs) -> Option<&Pacer> {
        self.pacer = Pacer::new(&self.drill, self.asked(), time);
        let first = self.pacer.as_ref().map(|pacer| pacer.turn_start(0));
        self.round = Round::new(&self.drill, &self.place, self.tuning, first);
        self.pacer.as_ref()
    }

    /// The pacer that runs, if one does.
    pub fn pacer(&self) -> Option<&Pacer> {
        self.pacer.as_ref()
    }

    /// What is known of the round that goes on.
    pub fn now(&mut self) -> Now {
        self.round.now()
    }

    /// A round is under way.
    pub fn under_way(&self) -> bool {
        self.rounds.under_way()
    }

    /// The rounds so far.
    pub fn done(&self) -> &[Judged] {
        &self.done
    }

    /// The player has rested: time is counted anew.
    pub fn rested(&mut self) {
        (self.since_rest, self.rested) = (SinceRest::default(), false);
    }

    /// Goes on with the drill changed: another pace, count or rules. The round that goes on is dropped.
    pub fn change(&mut self, drill: Drill) {
        self.turn_to(drill, self.place.clone(), self.tuning, self.hints);
    }

    /// Goes on with another drill, place or tuning. How much has sounded stays known, and so do the rounds
    /// while the drill is of the same name.
    pub fn turn_to(&mut self, drill: Drill, place: Fingering, tuning: Tuning, hints: Hints) {
        let done = std::mem::take(&mut self.done);
        let same = self.drill.name == drill.name;
        let (since_rest, rested) = (self.since_rest, self.rested);
        *self = Self {
            done: if same { done } else { Vec::new() },
            aim: self.aim,
            since_rest,
            rested,
            ..Self::new(drill, place, tuning, hints)
        };
    }

    /// Where a pace ladder goes after the last round; `None` for other drills.
    pub fn next(&self) -> Option<Next> {
        let Kind::PaceLadder { bpm, moves } = &self.drill.kind else {
            return None;
        };
        let Pace::Beat { bpm: here, .. } = self.drill.pace else {
            return None;
        };
        let last = self.done.last()?;
        if *moves == Moves::Stay {
            return Some(Next::Stay(here));
        }
        let (up, down) = neighbours(bpm, here);
        Some(match (last.holds, up, down) {
            (true, Some(up), _) => Next::Up(up),
            (false, _, Some(down)) => Next::Down(down),
            _ => Next::Stay(here),
        })
    }

    /// Takes in what the ear reports; `note` is the ear's note where one has just ended. Returns a round
    /// once it is over.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) -> Option<&Judged> {
        self.round.hear(event, note);
        if let (Event::Turn { time, crest, .. }, Some(motion)) = (event, &mut self.motion) {
            motion.push((*time, *crest));
        }
        let mut ended = matches!(self.rounds.hear(event), Some(Change::Ended { .. }));
        match event {
            Event::NoteEnded => {
                if let Some(note) = note {
                    self.rounds.note_ended(note.end);
                    self.bowing.add(note);
                    self.since_rest.note(note.start, note.end);
                }
            }
            Event::Lost { time, length } if length.get() < SHORT_LOSS.get() => {
                self.losses.push((*time, *length));
            }
            Event::Lost { .. } => {
                ended |= matches!(self.rounds.break_off(), Some(Change::Ended { .. }))
            }
            _ => {}
        }
        if ended { self.close() } else { None }
    }

    /// A note that ended a while ago was looked at again. It counts for the round that goes on.
    pub fn settle(&mut self, note: &Note) {
        self.round.settle(note);
    }

    /// The sound is over: a round that goes on ends here.
    pub fn finish(&mut self) -> Option<&Judged> {
        match self.rounds.break_off() {
            Some(Change::Ended { .. }) => self.close(),
            _ => None,
        }
    }

    fn close(&mut self) -> Option<&Judged> {
        let turns = self.round.finish();
        let ended = Ended {
            swells: self.round.swells(&turns),
            turns,
            asked: self.round.asked().to_vec(),
            pacer: self.pacer.take(),
            motion: self.motion.as_mut().map(std::mem::take),
            losses: std::mem::take(&mut self.losses),
        };
        let bowed = std::mem::take(&mut self.bowing).is_bowed();
        self.round = Round::new(&self.drill, &self.place, self.tuning, None);
        if ended.turns.is_empty() {
            return None;
        }
        // Words between the rounds are none; what the player counted in, or what lies on the notes that are asked for, was meant
        // as one, however thin it sounded.
        if bowed || ended.pacer.is_some() || on_their_notes(&ended.turns) {
            return self.judge(ended);
        }
        self.aside = Some(ended);
        None
    }

    /// Something ended that did not sound bowed, and it can be brought back.
    pub fn has_set_aside(&self) -> bool {
        self.aside.is_some()
    }

    /// What did not sound bowed was a round all the same.
    pub fn bring_back(&mut self) -> Option<&Judged> {
        let ended = self.aside.take()?;
        // What sounds meanwhile is no other round.
        self.rounds.break_off();
        self.round = Round::new(&self.drill, &self.place, self.tuning, None);
        self.bowing = Bowing::default();
        self.losses.clear();
        self.judge(ended)
    }

    fn judge(&mut self, ended: Ended) -> Option<&Judged> {
        let Ended { mut turns, swells, mut asked, pacer, motion, losses } = ended;
        self.aside = None;
        let elsewhere = moved(&mut asked, &mut turns, &self.tuning);
        self.aim.set_against(&asked, &mut turns, &self.tuning);
        let mut findings = of_round(&self.drill, self.aim, &asked, &turns);
        findings.extend(lost_in(&asked, &turns, &losses));
        findings.extend(swells);
        findings.extend(elsewhere);
        // Oscillations of several lengths have no common place beside the beat.
        let one_pace = !matches!(self.drill.kind, Kind::OneBow { .. });
        let counted = pacer.filter(|_| self.drill.counts() && one_pace);
        let on_beat = counted
            .zip(motion)
            .and_then(|(pacer, motion)| OnBeat::of(&pacer, &motion, self.aim.phase()));
        findings.extend(on_beat.as_ref().and_then(beside_beat));
        let mut judged = Judged {
            pace: self.drill.pace,
            holds: !findings.iter().any(|found| breaks_rule(&self.drill, found)),
            asked,
            turns,
            findings,
            on_beat,
        };
        let like =
            |round: &&Judged| round.pace == judged.pace && alike(&round.asked, &judged.asked);
        let mut rounds: Vec<&Judged> = self.done.iter().filter(like).collect();
        rounds.push(&judged);
        let tighter = tightening(&rounds);
        let tired = if self.hints.tiring { tiring(&rounds) } else { None };
        judged.findings.extend(tighter);
        judged.findings.extend(tired);
        if self.hints.rest && !self.rested {
            let found = self.since_rest.rest();
            self.rested = found.is_some();
            judged.findings.extend(found);
        }
        let last = self.done.iter().rev().find(like);
        let change = last.and_then(|last| changed(last, &judged));
        judged.findings.extend(change);
        let advice = to_try(&judged.findings);
        judged.findings.extend(advice);
        self.done.push(judged);
        self.next_shuffle();
        self.done.last()
    }
}

/// Whether the same turns are asked for, in any order of the regions.
fn alike(one: &[Asked], other: &[Asked]) -> bool {
    let by_step = |asked: &[Asked]| {
        let mut asked = asked.to_vec();
        asked.sort_by_key(|turn| turn.step);
        asked
    };
    by_step(one) == by_step(other)
}

/// The levels above and below one.
fn neighbours(levels: &[f64], here: f64) -> (Option<f64>, Option<f64>) {
    let up = levels.iter().copied().find(|level| *level > here + 1e-9);
    let down = levels.iter().rev().copied().find(|level| *level < here - 1e-9);
    (up, down)
}

/// Whether most turns lie on the notes that they are asked for.
fn on_their_notes(turns: &[Played]) -> bool {
    let on = |turn: &&Played| {
        turn.centre.is_some_and(|centre| centre.value.get().abs() < ON_ITS_NOTE_CENTS)
    };
    2 * turns.iter().filter(on).count() > turns.len()
}

#[cfg(test)]
mod tests {
    use tuning::Cents;
    use vibrato::Measure;

    use super::*;

    #[test]
    fn a_ladder_has_an_end_on_either_side() {
        let levels = [60.0, 66.0, 72.0];
        assert_eq!(neighbours(&levels, 60.0), (Some(66.0), None));
        assert_eq!(neighbours(&levels, 66.0), (Some(72.0), Some(60.0)));
        assert_eq!(neighbours(&levels, 72.0), (None, Some(66.0)));
        assert_eq!(neighbours(&levels, 70.0), (Some(72.0), Some(66.0)));
    }

    #[test]
    fn most_turns_on_their_notes_are_a_round_and_others_may_be_words() {
        let turns = |offs: &[f64]| -> Vec<Played> {
            let turn = |off: &f64| {
                let mut turn = Played::unmeasured(0, Secs(0.0), Secs(0.5));
                turn.centre = Some(Measure { value: Cents(*off), se: None });
                turn
            };
            offs.iter().map(turn).collect()
        };
        assert!(on_their_notes(&turns(&[-12.0, 30.0, 400.0])));
        assert!(!on_their_notes(&turns(&[-120.0, 30.0])), "half is not most");
        assert!(!on_their_notes(&[]));
    }
}
