//! What the room knows: plain data. [`PassageRoom::apply`] is the only place where the player changes it.

use super::action::{
    Edited, Excerpt, PassageAction, PassageFile, PassageHeard, Phase, PlanAction, Score, Sounds,
};
use super::editing::Editing;
use super::opened::Opened;
use super::pass::Pass;
use crate::shell::report::ReportOf;
use coach::BPM;
use coach::follow::Now;
use coach::plan::{BeatUnit, Edit, Intention, Passage};
use coach::played::{Checked, PlayedNote, Widest, as_played, habits, widest};
use journal::TakeId;
use pictures::HeardPoint;
use std::sync::Arc;
use tuning::{Hz, Secs};
use vibrato::{Event, Note};

/// What sounds so long before the first beat of the passage belongs to it.
const EARLY: Secs = Secs(0.4);
/// A pass is over after so long a silence behind its last note; before that, so much longer than the longest rest.
const OVER_AFTER: Secs = Secs(2.0);
const STOPPED_FOR: Secs = Secs(4.0);
/// So long after the count-in a pass in which nothing sounded is over.
const GIVES_UP: Secs = Secs(10.0);
/// What is known of the place is about so late.
const KNOWN_LATE: Secs = Secs(0.1);
/// Frames of the longest pass: half an hour, as long as it is followed.
const MOST_POINTS: usize = 360_000;

/// What was kept of a pass that was judged.
#[derive(Clone, Debug)]
pub(super) struct Done {
    pub checked: Checked,
    pub heard: Arc<Vec<HeardPoint>>,
}

/// A note of the plan that was passed, on the clock of the pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// The note, by its number in the plan.
    pub note: usize,
    /// When it began.
    pub start: Secs,
    /// When it ended.
    pub end: Secs,
}

/// Habits are looked for in so many passes, the newest.
const MOST_VIBRATED: usize = 30;

/// The room "Passage".
#[derive(Clone, Debug, Default)]
pub struct PassageRoom {
    passages: Vec<PassageFile>,
    cursor: usize,
    phase: Phase,
    /// A score, and what of it is wanted; asked for beside the list.
    score: Option<(Score, Excerpt)>,
    opened: Option<Arc<Opened>>,
    pass: Pass,
    /// Beats a minute of each pass.
    paces: [f64; 4],
    free: bool,
    no_click: bool,
    /// The note that was walked to.
    note: Option<usize>,
    /// What was found in each pass.
    done: [Option<Done>; 4],
    /// The notes of each pass with vibrato since the plan became what it is, and what comes back in them.
    vibrated: Vec<Vec<PlayedNote>>,
    habits: Vec<String>,
    /// The take of each pass.
    takes: [Option<TakeId>; 4],
    /// The note that had most vibrato by the player's ear, in the last pass without looking, and as measured.
    answer: Option<(usize, Widest)>,
    /// The pass that goes on, or went on last: each has another number.
    run: u64,
    /// When the first beat of the count-in sounds, and when the pass began, on the ear's clock.
    first: Option<Secs>,
    from: Option<Secs>,
    now: Secs,
    heard: Secs,
    sounding: bool,
    /// When something of the pass sounded last.
    last_sound: Option<Secs>,
    points: Vec<HeardPoint>,
    /// Where the player is, and since when, on the clock of the pass.
    place: Option<(Now, Secs)>,
    passed: Vec<Span>,
    /// What the player should know.
    remark: Option<&'static str>,
    /// The plan that is edited, or was last.
    editing: Option<Editing>,
    /// How its notes were played in the pass that was looked at, as long as they are the same notes.
    as_played: Option<Vec<Option<Intention>>>,
    /// Plans that were edited so far, and changes of them.
    plans: u64,
    changes: u64,
}

impl PassageRoom {
    /// A room in which these passages can be chosen.
    pub fn new(passages: Vec<PassageFile>) -> Self {
        Self { passages, ..Self::default() }
    }

    /// The files were read anew. A passage that is open stays as it is.
    pub fn set_passages(&mut self, passages: Vec<PassageFile>) {
        self.passages = passages;
        self.cursor = self.cursor.min(self.passages.len().saturating_sub(1));
    }

    /// The one place where the player changes the room. [`PassageAction::Reread`] and [`PassageAction::File`] change
    /// nothing here: they are the program's.
    pub fn apply(&mut self, action: PassageAction) {
        match action {
            PassageAction::Move(places) => {
                let last = self.passages.len().saturating_sub(1) as i64;
                self.cursor = (self.cursor as i64 + i64::from(places)).clamp(0, last) as usize;
            }
            PassageAction::Choose(place) => self.choose(place),
            PassageAction::Excerpt(wanted) => {
                if let Some((_, chosen)) = &mut self.score {
                    *chosen = wanted;
                }
            }
            PassageAction::TakeExcerpt | PassageAction::LeaveScore => self.score = None,
            PassageAction::Back if !self.moving() => self.phase = Phase::Choosing,
            PassageAction::Pass(pass) if !self.moving() => self.turn_to(pass),
            PassageAction::Start if !self.moving() => self.start(),
            PassageAction::End => self.end(),
            PassageAction::Again if self.phase != Phase::Judging => self.start(),
            PassageAction::Walk(by) if !self.moving() => self.walk(by),
            PassageAction::Answer(note) if self.phase == Phase::Asking => self.answer(note),
            PassageAction::Bpm(bpm) if !self.moving() => {
                self.paces[self.pass.place()] = bpm.clamp(BPM.0, BPM.1);
            }
            PassageAction::Free(free) if !self.moving() => self.free = free,
            PassageAction::Click(on) => self.no_click = !on,
            PassageAction::New(instrument) if self.phase == Phase::Choosing => {
                self.begin(&instrument);
            }
            PassageAction::Edit if matches!(self.phase, Phase::Ready | Phase::After) => self.edit(),
            PassageAction::Plan(action) if self.phase == Phase::Editing => self.plan(action),
            _ => {}
        }
    }

    /// Which part of this score is wanted is asked, this one for now: at once, or when the player is back at the list.
    pub fn ask_of(&mut self, score: Score, part: usize) {
        if matches!(self.phase, Phase::Ready | Phase::After) {
            self.phase = Phase::Choosing;
        }
        let wanted = score.whole(part);
        self.score = Some((score, wanted));
    }

    /// A score, and what of it is wanted, while that is asked.
    pub fn score(&self) -> Option<&(Score, Excerpt)> {
        self.score.as_ref()
    }

    fn choose(&mut self, place: usize) {
        let Some(PassageFile { name, passage: Ok(passage), .. }) = self.passages.get(place) else {
            return;
        };
        self.cursor = place;
        self.phase = Phase::Ready;
        let same = |open: &Arc<Opened>| open.name == *name && open.passage == *passage;
        if self.opened.as_ref().is_some_and(same) {
            return;
        }
        let (name, passage) = (name.clone(), passage.clone());
        self.open(&name, passage);
    }

    /// Opens a passage of which nothing was played yet.
    fn open(&mut self, name: &str, passage: Passage) {
        self.set_pace(&passage);
        self.opened = Some(Arc::new(Opened::new(name, passage)));
        (self.pass, self.done, self.takes) =
            (Pass::default(), Default::default(), Default::default());
        (self.vibrated, self.habits) = Default::default();
        (self.note, self.remark, self.place) = (None, None, None);
        self.points.clear();
        self.passed.clear();
    }

    fn set_pace(&mut self, passage: &Passage) {
        self.paces = Pass::ALL
            .map(|pass| (pass.share_of_pace() * passage.pace.bpm).round().clamp(BPM.0, BPM.1));
        self.free = passage.pace.free;
    }

    /// A title that no passage of the list has.
    fn title(&self, wanted: &str) -> String {
        let titled = |listed: &PassageFile, title: &str| {
            listed.passage.as_ref().is_ok_and(|passage| passage.title == title)
        };
        let numbered = |number: u32| match number {
            1 => wanted.to_owned(),
            _ => format!("{wanted} {number}"),
        };
        let free = |title: &String| !self.passages.iter().any(|listed| titled(listed, title));
        (1..).map(numbered).find(free).unwrap_or_default()
    }

    /// Begins a passage from nothing.
    fn begin(&mut self, instrument: &str) {
        let Ok(mut passage) = Passage::begun(instrument) else { return };
        passage.title = self.title("My passage");
        self.open("", passage.clone());
        self.plans += 1;
        self.as_played = None;
        self.editing = Some(Editing::new(self.plans, None, passage));
        self.phase = Phase::Editing;
    }

    /// Edits the passage that is open, or a copy of it where it is not the player's own.
    fn edit(&mut self) {
        let Some(opened) = self.opened.clone() else { return };
        let same = |editing: &Editing| {
            editing.name.as_ref() == Some(&opened.name) && *editing.passage() == opened.passage
        };
        let goes_on = self.editing.take().filter(same);
        let editing = goes_on.unwrap_or_else(|| {
            self.plans += 1;
            let own = self.passages.iter().any(|listed| listed.own && listed.name == opened.name);
            let mut passage = opened.passage.clone();
            if !own {
                passage.title = self.title(&format!("{}, my own", passage.title));
            }
            Editing::new(self.plans, own.then(|| opened.name.clone()), passage)
        });
        // Without vibrato on purpose: that pass does not show how its notes are meant.
        let vibrated = self.checked(self.pass).filter(|_| self.pass != Pass::Straight);
        self.as_played = vibrated.map(|checked| as_played(&opened.passage, &checked.notes));
        self.editing.insert(editing).enter(self.note);
        self.phase = Phase::Editing;
    }

    /// Changes the plan, or leaves it.
    fn plan(&mut self, action: PlanAction) {
        let action = match action {
            PlanAction::AsPlayed => match &self.as_played {
                Some(played) => PlanAction::Make(Edit::IntendAll(played.clone())),
                None => return,
            },
            action => action,
        };
        let Some(editing) = &mut self.editing else { return };
        let before = editing.passage().clone();
        if editing.apply(action) {
            return self.leave_plan();
        }
        if *editing.passage() == before {
            return;
        }
        editing.touched = true;
        let passage = editing.passage().clone();
        let name = editing.name.clone().unwrap_or_else(|| passage.title.clone());
        let kept = PassageFile { name: name.clone(), passage: Ok(passage.clone()), own: true };
        match self.passages.iter().position(|listed| listed.own && listed.name == name) {
            Some(place) => self.passages[place] = kept,
            None => {
                editing.name = Some(name.clone());
                self.passages.push(kept);
                self.cursor = self.passages.len() - 1;
            }
        }
        if passage.pace != before.pace {
            self.set_pace(&passage);
        }
        let opened = Opened::new(&name, passage);
        // What was found without vibrato holds as long as pitches and lengths do.
        let straight = self.done[Pass::Straight.place()].take();
        let same = opened.straight.notes() == before.straight().notes();
        self.done = Default::default();
        self.done[Pass::Straight.place()] = straight.filter(|_| same);
        let straight = self.takes[Pass::Straight.place()].take();
        self.takes = Default::default();
        self.takes[Pass::Straight.place()] = straight.filter(|_| same);
        self.as_played.take_if(|_| !same);
        (self.vibrated, self.habits) = Default::default();
        self.opened = Some(Arc::new(opened));
        self.changes += 1;
    }

    /// How the notes were played in the pass that was looked at last is known.
    pub(super) fn can_be_as_played(&self) -> bool {
        self.as_played.is_some()
    }

    fn leave_plan(&mut self) {
        let (Some(editing), Some(opened)) = (&self.editing, &self.opened) else { return };
        if opened.name.is_empty() {
            // Nothing was made of it.
            (self.phase, self.editing, self.opened) = (Phase::Choosing, None, None);
            return;
        }
        let note = editing.note();
        self.turn_to(self.pass);
        self.note = self.opened.as_ref().filter(|it| it.heads().contains(&note)).map(|_| note);
    }

    fn turn_to(&mut self, pass: Pass) {
        if self.opened.is_none() {
            return;
        }
        (self.pass, self.note, self.remark, self.answer) = (pass, None, None, None);
        self.phase = match self.done[pass.place()] {
            Some(_) => Phase::After,
            None => Phase::Ready,
        };
    }

    fn start(&mut self) {
        if self.opened.is_none() || self.phase == Phase::Choosing {
            return;
        }
        self.run += 1;
        self.takes[self.pass.place()] = None;
        (self.first, self.from, self.last_sound) = (None, None, None);
        (self.place, self.note, self.remark, self.answer) = (None, None, None, None);
        self.points.clear();
        self.passed.clear();
        self.phase = if self.free { Phase::Playing } else { Phase::CountIn };
        if self.free {
            self.from = Some(self.heard);
        }
    }

    fn end(&mut self) {
        if !matches!(self.phase, Phase::CountIn | Phase::Playing) {
            return;
        }
        if self.last_sound.is_some() {
            self.phase = Phase::Judging;
        } else {
            self.phase = Phase::Ready;
            self.remark = Some(NOTHING);
        }
    }

    /// Another source begins, and time with it.
    pub fn anew(&mut self) {
        self.end();
        if self.phase == Phase::Asking {
            // Of a pass on the old clock: the answer is shown, and goes to no take.
            self.from = None;
        }
        (self.sounding, self.heard) = (false, Secs(0.0));
    }

    /// The player has named a note, or none.
    fn answer(&mut self, note: Option<usize>) {
        let checked = self.checked(self.pass);
        self.answer = note.zip(note.zip(checked).and_then(|(note, it)| widest(it, note)));
        (self.phase, self.note) = (Phase::After, None);
    }

    fn walk(&mut self, by: i32) {
        let Some(opened) = &self.opened else { return };
        let last = opened.heads().len() as i64 - 1;
        let here = self.note.and_then(|note| opened.heads().iter().position(|&h| h == note));
        let to = match here {
            Some(here) => here as i64 + i64::from(by),
            None if by > 0 => 0,
            None => last,
        };
        self.note = opened.heads().get(to.clamp(0, last.max(0)) as usize).copied();
    }

    /// Takes in what the ear reports, in order; `note` is the ear's note where one has just ended.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) {
        match *event {
            Event::Frame(frame) => self.heard = frame.time,
            Event::NoteBegan { .. } => self.sounding = true,
            Event::NoteEnded | Event::NoteDropped => self.sounding = false,
            _ => {}
        }
        let Some(from) = self.listening_from().filter(|from| self.heard >= *from) else { return };
        if let Event::Frame(frame) = *event
            && self.points.len() < MOST_POINTS
        {
            self.points.push(HeardPoint {
                time: Secs(frame.time.0 - from.0),
                pitch: frame.drawn().map(|f0| f0.cents_above(ZERO)),
                level_dbfs: frame.level_dbfs,
            });
        }
        if self.sounding {
            self.last_sound = Some(self.heard);
        } else if let Some(note) = note.filter(|note| note.end >= from) {
            let last = self.last_sound.filter(|last| *last > note.end);
            self.last_sound = Some(last.unwrap_or(note.end));
        }
        let silent_for = self.last_sound.map(|last| self.heard.0 - last.0);
        let over = match silent_for {
            Some(secs) => secs >= self.patience().0,
            // Whoever plays in their own time may wait.
            None => !self.free && self.heard.0 - from.0 > GIVES_UP.0,
        };
        if over {
            self.end();
        }
    }

    /// How long a silence may last.
    fn patience(&self) -> Secs {
        let Some(opened) = &self.opened else { return OVER_AFTER };
        let last = opened.heads().last();
        let may_be_last =
            |now: &Now| Some(&now.note) == last || now.may_be.iter().any(|note| Some(note) == last);
        if self.place.as_ref().is_some_and(|(now, _)| may_be_last(now)) {
            return OVER_AFTER;
        }
        Secs(STOPPED_FOR.0 + opened.longest_rest() * self.beat().0)
    }

    /// How long a beat of the notes lasts in this pass.
    pub(super) fn beat(&self) -> Secs {
        let planned = self.opened.as_ref().map_or(Secs(1.0), |opened| opened.passage.beat());
        let bpm = self.opened.as_ref().map_or(1.0, |opened| opened.passage.pace.bpm);
        Secs(planned.0 * bpm / self.bpm().max(1.0))
    }

    /// The room is told something.
    pub fn told(&mut self, heard: PassageHeard) {
        match heard {
            PassageHeard::Now(run, now) if run == self.run && self.moving() => self.place_is(now),
            PassageHeard::Judged(run, judged) if run == self.run => {
                let heard = Arc::new(std::mem::take(&mut self.points));
                // By ear first, where there is something to be told apart.
                let asks = self.pass == Pass::Unseen && widest(&judged, 0).is_some();
                if self.pass != Pass::Straight {
                    self.look_for_habits(judged.notes.clone());
                }
                self.done[self.pass.place()] = Some(Done { checked: *judged, heard });
                self.phase = if asks { Phase::Asking } else { Phase::After };
                self.place = None;
                self.passed.clear();
            }
            PassageHeard::Kept(id, name) => self.kept_as(id, name),
            PassageHeard::Model(changes, copied)
                if changes == self.changes && self.phase == Phase::Editing =>
            {
                self.plan(PlanAction::Make(Edit::IntendAll(copied)));
            }
            _ => {}
        }
    }

    /// A passage that is new has a file now, of this name.
    fn kept_as(&mut self, id: u64, name: String) {
        let Some(editing) = self.editing.as_mut().filter(|editing| editing.id == id) else {
            return;
        };
        let Some(before) = editing.name.replace(name.clone()) else { return };
        editing.has_file = true;
        for listed in self.passages.iter_mut().filter(|listed| listed.own && listed.name == before)
        {
            listed.name.clone_from(&name);
        }
        if let Some(opened) = self.opened.as_mut().filter(|opened| opened.name == before) {
            Arc::make_mut(opened).name = name;
        }
    }

    /// The player is here now; a note is passed once another one sounds.
    fn place_is(&mut self, now: Now) {
        let time = self.points.last().map_or(Secs(0.0), |point| Secs(point.time.0 - KNOWN_LATE.0));
        match &mut self.place {
            Some((before, _)) if before.note == now.note => *before = now,
            place => {
                if let Some((before, start)) = place {
                    let passed = Span { note: before.note, start: *start, end: time };
                    self.passed.retain(|other| other.note != passed.note);
                    self.passed.push(passed);
                }
                *place = Some((now, time));
            }
        }
    }

    /// The time of the sound that is seen with the next picture.
    pub fn tick(&mut self, now: Secs) {
        self.now = now;
        if self.phase == Phase::CountIn && self.from.is_some_and(|from| now.0 >= from.0 + EARLY.0) {
            self.phase = Phase::Playing;
        }
    }

    /// The first beat of the count-in sounds at this time of the sound.
    pub fn first_beat(&mut self, at: Secs) {
        if self.phase == Phase::CountIn && self.first.is_none() {
            let lead = self.opened.as_ref().map_or(0, |opened| opened.count_in().1);
            let begins = at.0 + f64::from(lead) * 60.0 / self.bpm();
            (self.first, self.from) = (Some(at), Some(Secs(begins - EARLY.0)));
        }
    }

    /// What the loudspeaker is to play now; its first beat is awaited ([`Self::first_beat`]).
    pub fn wants(&self) -> Option<Sounds> {
        let opened = self.opened.as_ref()?;
        let wants = !self.free && matches!(self.phase, Phase::CountIn | Phase::Playing);
        let (bar, lead) = opened.count_in();
        // A pickup is counted in by what is left of its bar: the first beat that is stressed is that of the next.
        let count_in = lead.div_ceil(bar) * bar;
        wants.then(|| Sounds { bpm: self.bpm(), count_in, bar, click: !self.no_click })
    }

    /// This pass is kept as a take.
    pub fn is_kept(&mut self, pass: Pass, take: TakeId) {
        if self.done[pass.place()].is_some() {
            self.takes[pass.place()] = Some(take);
        }
    }

    /// What a report of the pass that is looked at would be of, once its take is kept.
    pub fn report(&self) -> Option<ReportOf> {
        let take = self.takes[self.pass.place()].clone().filter(|_| self.phase == Phase::After)?;
        let straight = self.takes[Pass::Straight.place()].clone();
        let straight = straight.filter(|_| self.pass != Pass::Straight);
        Some(ReportOf::Pass { passage: Box::new(self.wanted()?), take, straight })
    }

    /// A pass goes on, or is being judged.
    pub fn moving(&self) -> bool {
        matches!(self.phase, Phase::CountIn | Phase::Playing | Phase::Judging)
    }

    /// Neither plan nor what is played is shown.
    pub(super) fn hides(&self) -> bool {
        self.pass == Pass::Unseen && (self.moving() || self.phase == Phase::Asking)
    }

    /// The note that had most vibrato by the player's ear, beside what was measured.
    pub(super) fn answered(&self) -> Option<&(usize, Widest)> {
        self.answer.as_ref().filter(|_| self.phase == Phase::After)
    }

    /// What is heard now is of this pass, which began then on the ear's clock.
    pub fn listening(&self) -> Option<(u64, Secs)> {
        Some((self.run, self.listening_from()?))
    }

    /// When the pass began that was played last, on the ear's clock.
    pub fn began(&self) -> Option<Secs> {
        self.from
    }

    fn listening_from(&self) -> Option<Secs> {
        matches!(self.phase, Phase::CountIn | Phase::Playing).then_some(self.from?)
    }

    /// The number of the pass that goes on, or went on last.
    pub fn run(&self) -> u64 {
        self.run
    }

    /// The plan that this pass is followed and judged by, at its pace.
    pub fn wanted(&self) -> Option<Passage> {
        let opened = self.opened.as_ref()?;
        let mut passage = match self.pass {
            Pass::Straight => opened.straight.clone(),
            _ => opened.passage.clone(),
        };
        passage.pace.bpm = self.bpm();
        Some(passage)
    }

    /// Beats a minute of this pass.
    pub fn bpm(&self) -> f64 {
        self.paces[self.pass.place()]
    }

    /// What one of these beats is.
    pub(super) fn beat_unit(&self) -> BeatUnit {
        self.opened.as_ref().map_or(BeatUnit::Quarter, |opened| opened.passage.pace.unit)
    }

    /// The passages that can be chosen.
    pub fn passages(&self) -> &[PassageFile] {
        &self.passages
    }

    /// The place in the list that is pointed at.
    pub fn cursor(&self) -> usize {
        self.cursor
    }

    /// Where in a pass the player is.
    pub fn phase(&self) -> Phase {
        self.phase
    }

    /// The passage that is open.
    pub fn opened(&self) -> Option<&Opened> {
        self.opened.as_deref()
    }

    /// The plan, while it is edited.
    pub(super) fn editing(&self) -> Option<&Editing> {
        self.editing.as_ref().filter(|_| self.phase == Phase::Editing)
    }

    /// Changes of plans so far.
    pub fn changes(&self) -> u64 {
        self.changes
    }

    /// The passage that was edited last, if anything was changed.
    pub fn edited(&self) -> Option<Edited<'_>> {
        let editing = self.editing.as_ref().filter(|editing| editing.touched)?;
        Some(Edited {
            id: editing.id,
            name: editing.name.as_deref().filter(|_| editing.has_file),
            passage: editing.passage(),
        })
    }

    /// The pass that is looked at.
    pub fn pass(&self) -> Pass {
        self.pass
    }

    /// There is no beat.
    pub fn free(&self) -> bool {
        self.free
    }

    /// Another pass with vibrato was played: what comes back in all of them is looked for.
    fn look_for_habits(&mut self, notes: Vec<PlayedNote>) {
        let Some(opened) = &self.opened else { return };
        if self.vibrated.len() == MOST_VIBRATED {
            self.vibrated.remove(0);
        }
        self.vibrated.push(notes);
        let takes: Vec<&[PlayedNote]> = self.vibrated.iter().map(Vec::as_slice).collect();
        let habits = habits(&opened.passage, &takes);
        self.habits = if habits.found.is_empty() { Vec::new() } else { habits.said };
    }

    /// What comes back from pass to pass, beyond chance, in sentences.
    pub fn habits(&self) -> &[String] {
        &self.habits
    }

    /// The beat clicks.
    pub fn click(&self) -> bool {
        !self.no_click
    }

    /// The note that was walked to.
    pub fn note(&self) -> Option<usize> {
        self.note
    }

    /// What was found in a pass.
    pub fn checked(&self, pass: Pass) -> Option<&Checked> {
        self.done[pass.place()].as_ref().map(|done| &done.checked)
    }

    /// What was found in the pass that is looked at, with what was heard of it.
    pub(super) fn done(&self) -> Option<&Done> {
        self.done[self.pass.place()].as_ref().filter(|_| self.phase == Phase::After)
    }

    /// Where the player is, and since when on the clock of the pass.
    pub(super) fn place(&self) -> Option<&(Now, Secs)> {
        self.place.as_ref()
    }

    /// What was heard of the pass that goes on.
    pub(super) fn points(&self) -> &[HeardPoint] {
        &self.points
    }

    /// Notes that were passed.
    pub(super) fn passed(&self) -> &[Span] {
        &self.passed
    }

    /// The newest time that was heard, on the clock of the pass.
    pub(super) fn time(&self) -> Secs {
        self.points.last().map_or(Secs(0.0), |point| point.time)
    }

    /// What the player should know of the last pass.
    pub(super) fn remark(&self) -> Option<&'static str> {
        self.remark
    }
}

/// What the pitches of a pass are counted from.
pub(super) const ZERO: Hz = Hz(440.0);
/// What the player is told of a pass in which nothing sounded.
const NOTHING: &str = "No notes were heard in that pass.";
