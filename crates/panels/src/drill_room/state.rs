//! What the room knows: plain data. [`DrillRoom::apply`] is the only place where the player changes it.

use super::action::{DrillAction, DrillFile, Phase, Sounds};
use super::drill_task::DrillTask;
use super::heard::Course;
use super::limits::{bar, believed, may_be_free, may_count, may_pace, place_of};
use crate::shell::Shell;
use coach::{BPM, Beat, Drill, Judged, Kind, Moves, Next, Now, OSCILLATIONS, Pace, Practice};
use journal::TakeId;
use tuning::{Cents, Hz, Secs};
use vibrato::{Event, Note};

/// What sounds so long before the first turn belongs to it.
const EARLY: Secs = Secs(0.4);
/// What is known of a round is looked up anew so often.
const LOOKS_EVERY: Secs = Secs(0.08);
/// So long after the last turn a round in which nothing sounded is over.
const GIVES_UP: Secs = Secs(2.0);
/// From one number by chance to the next: 2^64 over the golden ratio, so that none is near an earlier one.
const CHANCE_STEP: u64 = 0x9E37_79B9_7F4A_7C15;
/// Fingers of a figure at most.
const MOST_FINGERS: usize = 32;

/// An oscillation that was counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Counted {
    pub at: Secs,
    pub turn: usize,
    pub count: u32,
}

/// The room "Drill".
#[derive(Default)]
pub struct DrillRoom {
    /// What the program has to say of the calibration; `None` for what the options say.
    calibration: Option<String>,
    /// The take of the round that was judged last, once it is kept.
    pub round_take: Option<TakeId>,
    /// The task that a drill was opened for.
    pub task: Option<DrillTask>,
    /// A number by chance, from which regions that are shuffled come in another order each round; `None` leaves them
    /// as the drill's own seed has them.
    pub chance: Option<u64>,
    drills: Vec<DrillFile>,
    cursor: usize,
    phase: Phase,
    practice: Option<Practice>,
    /// What the beat was before the pace became free.
    beat: Option<Pace>,
    no_click: bool,
    guide: bool,
    /// When the count-in begins.
    first: Option<Secs>,
    now: Secs,
    heard: Secs,
    /// The note that sounds.
    sounding: Option<(i32, Hz)>,
    /// What sounds is of the round.
    listens: bool,
    known: Now,
    known_at: Option<Secs>,
    /// When each count was seen to grow, of which turn, and to what.
    counted: Vec<Counted>,
    course: Course,
    reach: Cents,
    /// All measures of the round are looked at.
    all_measures: bool,
    /// What the player should know.
    remark: Option<&'static str>,
}

impl DrillRoom {
    /// A room in which these drills can be chosen.
    pub fn new(drills: Vec<DrillFile>) -> Self {
        Self { drills, ..Self::default() }
    }

    /// The drills were read anew. One that is open stays as it is.
    pub fn set_drills(&mut self, drills: Vec<DrillFile>) {
        self.drills = drills;
        self.cursor = self.cursor.min(self.drills.len().saturating_sub(1));
    }

    /// The one place where the player changes the room. Instrument, tuning and care are those of `stand`.
    /// [`DrillAction::Showing`], [`DrillAction::Reread`], [`DrillAction::Calibrate`] and
    /// [`DrillAction::Report`] change nothing here: they are the program's.
    pub fn apply(&mut self, action: DrillAction, shell: &Shell) {
        match action {
            DrillAction::Move(places) => {
                let last = self.drills.len().saturating_sub(1) as i64;
                let to = self.cursor as i64 + i64::from(places);
                self.cursor = to.clamp(0, last) as usize;
            }
            DrillAction::Choose(place) => self.choose(place, shell),
            DrillAction::Back => {
                self.remark = None;
                self.phase = match self.phase {
                    Phase::Findings => Phase::Ready,
                    Phase::CountIn | Phase::Round => {
                        self.stop();
                        self.phase
                    }
                    Phase::Choosing | Phase::Ready => Phase::Choosing,
                };
            }
            DrillAction::Ready => self.begin(shell),
            DrillAction::Stop => self.stop(),
            DrillAction::BringBack => self.bring_back(),
            DrillAction::Pace(bpm) => self.pace(Some(bpm), None),
            DrillAction::PerBeat(per_beat) => self.pace(None, Some(per_beat)),
            DrillAction::Count(count) => {
                if self.drill().is_some_and(may_count) {
                    let count = count.clamp(OSCILLATIONS.0, OSCILLATIONS.1);
                    self.change(|drill| drill.counted(Some(count)));
                }
            }
            DrillAction::Fingers(fingers) => self.finger(fingers, shell),
            DrillAction::FreePace(free) => self.free(free),
            DrillAction::Click(on) => self.no_click = !on,
            DrillAction::Guide(on) => self.guide = on,
            DrillAction::Rules(rules) => self.change(|drill| Drill { rules, ..drill }),
            DrillAction::Level(bpm) => {
                self.pace(Some(bpm), None);
                if self.phase == Phase::Findings {
                    self.phase = Phase::Ready;
                }
            }
            DrillAction::Rested => {
                if let Some(practice) = &mut self.practice {
                    practice.rested();
                }
            }
            DrillAction::AllMeasures => self.all_measures = !self.all_measures,
            DrillAction::Showing
            | DrillAction::Reread
            | DrillAction::Calibrate
            | DrillAction::Report => {}
        }
    }

    fn choose(&mut self, place: usize, shell: &Shell) {
        let options = shell.options();
        let Some(listed) = self.drills.get(place) else {
            return;
        };
        self.cursor = place;
        let Ok(drill) = &listed.drill else {
            return;
        };
        let drill = drill.clone();
        let Some(place) = place_of(&drill, options).cloned() else {
            return;
        };
        (self.phase, self.remark, self.beat) = (Phase::Ready, None, None);
        self.reach = Cents(0.0);
        match &mut self.practice {
            Some(practice) if practice.drill().name == drill.name => {}
            Some(practice) => practice.turn_to(drill, place, shell.tuning(), options.hints),
            None => {
                self.practice = Some(Practice::new(drill, place, shell.tuning(), options.hints));
            }
        }
    }

    fn change(&mut self, changed: impl FnOnce(Drill) -> Drill) {
        if let Some(practice) = &mut self.practice {
            let drill = changed(practice.drill().clone());
            practice.change(drill);
        }
    }

    fn pace(&mut self, bpm: Option<f64>, per_beat: Option<f64>) {
        let Some(drill) = self.drill().filter(|drill| may_pace(drill)) else {
            return;
        };
        let bpm = bpm.map(|bpm| bpm.clamp(BPM.0, BPM.1));
        let paced = drill.clone().paced(bpm, per_beat);
        if paced.pace.rate().is_some_and(believed) {
            self.change(|_| paced);
        }
    }

    fn free(&mut self, free: bool) {
        let Some(drill) = self.drill().filter(|drill| may_be_free(drill)) else {
            return;
        };
        let pace = drill.pace;
        if free && pace != Pace::Free {
            self.beat = Some(pace);
            self.change(|drill| Drill { pace: Pace::Free, ..drill });
        } else if !free && pace == Pace::Free {
            let beat = self.beat.take().unwrap_or(Pace::Beat { bpm: 60.0, per_beat: 2.0 });
            self.change(|drill| Drill { pace: beat, ..drill });
        }
    }

    fn finger(&mut self, fingers: Vec<u8>, shell: &Shell) {
        let Some(practice) = &mut self.practice else {
            return;
        };
        let known = |finger| practice.place().hand.contains_key(finger);
        if fingers.is_empty() || fingers.len() > MOST_FINGERS || !fingers.iter().all(known) {
            return;
        }
        let (drill, mut place) = (practice.drill().clone(), practice.place().clone());
        place.fingers = fingers;
        practice.turn_to(drill, place, shell.tuning(), shell.options().hints);
    }

    fn begin(&mut self, shell: &Shell) {
        let options = shell.options();
        let now = self.heard;
        let Some(practice) = &mut self.practice else {
            return;
        };
        if !matches!(self.phase, Phase::Ready | Phase::Findings) {
            return;
        }
        let mut drill = practice.drill().clone();
        if let Some(chance) = &mut self.chance {
            *chance = chance.wrapping_add(CHANCE_STEP);
            drill = drill.shuffled_anew(*chance >> 32);
        }
        // Another instrument was chosen meanwhile: its own place, and its own fingers.
        let usual = place_of(&drill, options).cloned();
        let place = match usual {
            Some(usual) if usual.hand != practice.place().hand => usual,
            _ => practice.place().clone(),
        };
        practice.turn_to(drill, place, shell.tuning(), options.hints);
        practice.aim(shell.aim());
        practice.judge_beat(options.delay().is_some());
        let free = practice.drill().pace == Pace::Free;
        (self.first, self.remark, self.round_take) = (None, None, None);
        self.all_measures = false;
        (self.known, self.known_at) = (Now::default(), None);
        self.counted.clear();
        self.course = Course::default();
        self.listens = free;
        self.phase = if free { Phase::Round } else { Phase::CountIn };
        if free {
            self.open(now);
        }
    }

    /// What sounds from now on is of the round.
    fn open(&mut self, now: Secs) {
        self.listens = true;
        self.course = Course::from(self.sounding, now);
        if let (Some((midi, reference)), Some(practice)) = (self.sounding, &mut self.practice) {
            let began = Event::NoteBegan { start: now, midi, reference };
            practice.hear(&began, None);
        }
    }

    fn stop(&mut self) {
        if !matches!(self.phase, Phase::CountIn | Phase::Round) {
            return;
        }
        let judged = self
            .practice
            .as_mut()
            .is_some_and(|practice| self.listens && practice.finish().is_some());
        self.listens = false;
        self.phase = if judged { Phase::Findings } else { Phase::Ready };
        if self.has_set_aside() {
            self.remark = Some(NOT_BOWED);
        }
    }

    /// What did not sound bowed is a round all the same.
    fn bring_back(&mut self) {
        if self.practice.as_mut().is_some_and(|practice| practice.bring_back().is_some()) {
            (self.listens, self.remark) = (false, None);
            self.phase = Phase::Findings;
        }
    }

    /// What was heard last did not sound bowed, and can be judged all the same.
    pub fn has_set_aside(&self) -> bool {
        self.practice.as_ref().is_some_and(Practice::has_set_aside)
    }

    /// Another source begins, and time with it.
    pub fn anew(&mut self) {
        self.sounding = None;
        self.stop();
    }

    /// A note that ended a while ago was looked at again.
    pub fn settle(&mut self, note: &Note) {
        if let Some(practice) = &mut self.practice {
            practice.settle(note);
        }
    }

    /// Takes in what the ear reports, in order; `note` is the ear's note where one has just ended.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) {
        match *event {
            Event::Frame(frame) => self.heard = frame.time,
            Event::NoteBegan { midi, reference, .. } => self.sounding = Some((midi, reference)),
            Event::Live(live) => self.sounding = Some((live.midi, live.reference)),
            Event::NoteEnded | Event::NoteDropped => self.sounding = None,
            _ => {}
        }
        if !matches!(self.phase, Phase::CountIn | Phase::Round) {
            return;
        }
        if !self.listens {
            let pacer = self.practice.as_ref().and_then(Practice::pacer);
            let from = pacer.map(|pacer| pacer.turn_start(0).0 - EARLY.0);
            if from.is_none_or(|from| self.heard.0 < from) {
                return;
            }
            let at_hand = matches!(event, Event::NoteBegan { .. });
            if at_hand {
                // It is told of by itself.
                self.sounding = None;
            }
            self.open(self.heard);
        }
        self.course.hear(event, note);
        let Some(practice) = &mut self.practice else {
            return;
        };
        let was = practice.under_way();
        if practice.hear(event, note).is_some() {
            self.listens = false;
            self.phase = Phase::Findings;
        } else if was && !practice.under_way() {
            self.nothing_heard();
        }
    }

    /// What began was no round.
    fn nothing_heard(&mut self) {
        let paced = self.practice.as_ref().is_some_and(|p| p.pacer().is_none())
            && self.drill().is_some_and(|drill| drill.pace.rate().is_some());
        if paced {
            self.listens = false;
            self.phase = Phase::Ready;
            self.remark = Some(NOTHING);
        }
    }

    /// The time of the sound that is seen with the next picture.
    pub fn tick(&mut self, now: Secs) {
        self.now = now;
        if !self.moving() {
            return;
        }
        let Some(practice) = &mut self.practice else {
            return;
        };
        if let Some(pacer) = practice.pacer() {
            match pacer.at(now) {
                Beat::Turn(_) | Beat::After if self.phase == Phase::CountIn => {
                    self.phase = Phase::Round;
                }
                Beat::After
                    if !practice.under_way()
                        && now.0 > pacer.turn_start(practice.asked().len()).0 + GIVES_UP.0 =>
                {
                    self.listens = false;
                    self.phase = Phase::Ready;
                    self.remark = Some(NOTHING);
                    return;
                }
                _ => {}
            }
        }
        let due = self.known_at.is_none_or(|at| now.0 < at.0 || now.0 - at.0 >= LOOKS_EVERY.0);
        if self.listens && due {
            let known = practice.now();
            mark(&mut self.counted, &known.counts, now);
            let midis = self.midis();
            self.reach = Cents(self.reach.0.max(self.course.reach(&midis).0));
            (self.known, self.known_at) = (known, Some(now));
        }
    }

    /// The first beat of the count-in sounds at this time of the sound.
    pub fn first_beat(&mut self, at: Secs) {
        if self.phase == Phase::CountIn
            && let Some(practice) = &mut self.practice
        {
            practice.start(at);
            self.first = Some(at);
        }
    }

    /// What the loudspeaker is to play now; once there is something, its first beat is awaited
    /// ([`Self::first_beat`]).
    pub fn wants(&self) -> Option<Sounds> {
        let practice = self.practice.as_ref().filter(|_| self.moving())?;
        let Pace::Beat { bpm, .. } = practice.drill().pace else {
            return None;
        };
        let over = practice.pacer().is_some_and(|pacer| pacer.at(self.now) == Beat::After);
        if over || (self.first.is_some() && practice.pacer().is_none()) {
            return None;
        }
        Some(Sounds { bpm, bar: bar(practice), click: !self.no_click, guide: self.guide })
    }

    /// A picture is needed at every frame.
    pub fn moving(&self) -> bool {
        matches!(self.phase, Phase::CountIn | Phase::Round)
    }

    /// The program has this to say of measuring the delay; `None` for what the options say.
    pub fn tell_calibration(&mut self, words: Option<String>) {
        self.calibration = words;
    }

    /// What the program has to say of measuring the delay.
    pub fn calibration(&self) -> Option<&str> {
        self.calibration.as_deref()
    }

    /// The drills that can be chosen.
    pub fn drills(&self) -> &[DrillFile] {
        &self.drills
    }

    /// The place in the list that is pointed at.
    pub fn cursor(&self) -> usize {
        self.cursor
    }

    /// Where in a drill the player is.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// The practice of the drill that is open.
    pub fn practice(&self) -> Option<&Practice> {
        self.practice.as_ref()
    }

    /// The fingers of a round, in order; none where no drill is open.
    pub fn fingers(&self) -> &[u8] {
        let place = self.practice.as_ref().map(Practice::place);
        place.map_or(&[], |place| &place.fingers)
    }

    /// The drill that is open, as it is played now.
    pub fn drill(&self) -> Option<&Drill> {
        self.practice.as_ref().map(Practice::drill)
    }

    /// The round that was judged last.
    pub fn judged(&self) -> Option<&Judged> {
        self.practice.as_ref()?.done().last()
    }

    /// Where a drill goes from here.
    pub fn next(&self) -> Option<Next> {
        self.practice.as_ref()?.next()
    }

    /// All measures of the round are looked at, and not only what matters most.
    pub fn all_measures(&self) -> bool {
        self.all_measures
    }

    /// What is known of the round that goes on.
    pub fn known(&self) -> &Now {
        &self.known
    }

    /// The time of the sound that is seen.
    pub fn now(&self) -> Secs {
        self.now
    }

    /// The beat clicks.
    pub fn click(&self) -> bool {
        !self.no_click
    }

    /// The guide tone is wished for.
    pub fn guided(&self) -> bool {
        self.guide
    }

    /// What the player should know of the last round.
    pub fn remark(&self) -> Option<&'static str> {
        self.remark
    }

    /// What was heard of the round.
    pub(super) fn course(&self) -> &Course {
        &self.course
    }

    /// The oscillations that were counted and by now still are, in order of time.
    pub(super) fn counted(&self) -> impl DoubleEndedIterator<Item = &Counted> {
        still_counted(&self.counted, &self.known.counts)
    }

    /// How far the pitch went from its line in the round.
    pub(super) fn reach(&self) -> Cents {
        self.reach
    }

    /// The notes asked for, at the place where they are played: it may be another string than the drill's.
    pub(super) fn midis(&self) -> Vec<i32> {
        let asked = self.practice.as_ref().map_or(&[][..], Practice::asked);
        let midis: Vec<i32> = asked.iter().map(|asked| asked.midi).collect();
        let away = self.course.away(&midis);
        midis.iter().map(|midi| midi + away).collect()
    }

    /// Levels of a pace ladder below and above this one.
    pub(super) fn levels(&self) -> (Option<f64>, Option<f64>) {
        let Some(Drill {
            kind: Kind::PaceLadder { bpm, .. },
            pace: Pace::Beat { bpm: here, .. },
            ..
        }) = self.drill()
        else {
            return (None, None);
        };
        let below = bpm.iter().rev().find(|level| **level < here - 1e-9);
        let above = bpm.iter().find(|level| **level > here + 1e-9);
        (below.copied(), above.copied())
    }

    /// The level changes by itself.
    pub(super) fn moves(&self) -> bool {
        matches!(
            self.drill().map(|drill| &drill.kind),
            Some(Kind::PaceLadder { moves: Moves::WithRounds, .. })
        )
    }
}

/// Marks the oscillations that `counts` has for each turn and that were not marked before. A count may fall, as where a
/// change of finger is heard late, and rise again: each is marked once, where it was counted first.
fn mark(counted: &mut Vec<Counted>, counts: &[u32], now: Secs) {
    for (turn, &count) in counts.iter().enumerate() {
        let of_turn = counted.iter().filter(|marked| marked.turn == turn);
        let marked = of_turn.map(|marked| marked.count).max().unwrap_or(0);
        counted.extend((marked + 1..=count).map(|count| Counted { at: now, turn, count }));
    }
}

/// Of the oscillations that were marked, those that are still counted: one that was counted too many is taken back as soon as
/// that is known.
fn still_counted<'a>(
    counted: &'a [Counted],
    counts: &'a [u32],
) -> impl DoubleEndedIterator<Item = &'a Counted> {
    counted.iter().filter(|one| counts.get(one.turn).is_some_and(|count| one.count <= *count))
}

/// What the player is told of a round that did not sound bowed.
pub(super) const NOT_BOWED: &str = "That did not sound bowed, and is not judged.";
/// What the player is told of a round in which nothing sounded.
const NOTHING: &str = "No notes were heard in that round.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_that_falls_and_rises_again_is_marked_once() {
        let mut counted = Vec::new();
        for (at, counts) in [&[2][..], &[3], &[2, 1], &[3, 1], &[4, 2]].into_iter().enumerate() {
            mark(&mut counted, counts, Secs(at as f64));
        }
        let marks: Vec<(usize, u32)> = counted.iter().map(|one| (one.turn, one.count)).collect();
        assert_eq!(marks, [(0, 1), (0, 2), (0, 3), (1, 1), (0, 4), (1, 2)]);
    }

    #[test]
    fn a_mark_that_was_one_too_many_is_taken_back_and_comes_back_where_it_was() {
        let mut counted = Vec::new();
        for (at, counts) in [&[4][..], &[5], &[4, 1], &[5, 1]].into_iter().enumerate() {
            mark(&mut counted, counts, Secs(at as f64));
            let shown: Vec<(usize, u32, f64)> = still_counted(&counted, counts)
                .map(|one| (one.turn, one.count, one.at.0))
                .filter(|one| one.1 == 5 || one.0 == 1)
                .collect();
            let right: &[(usize, u32, f64)] = match at {
                0 => &[],
                1 => &[(0, 5, 1.0)],
                2 => &[(1, 1, 2.0)],
                _ => &[(0, 5, 1.0), (1, 1, 2.0)],
            };
            assert_eq!(shown, right, "look {at}");
        }
    }
}
