//! The room Passage in the window: what reaches it, what is played for it, and what becomes of a pass.

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Instant;

use coach::follow::{Heard as HeardPass, How};
use coach::plan::{Intention, PlanNote};
use coach::played::Written;
use journal::{Context, PassOf};
use panels::passage_room::{
    Edited, Pass, PassageAction, PassageFile, PassageHeard, PassageRoom, Phase, Score, answer_said,
};
use panels::stand::{Action, Heard};
use score::ReadPassage;
use tone::RunWish;
use tuning::{Instrument, Secs, Tuning};
use vibrato::{Event, Note};

use super::awaited_take::AwaitedTake;
use super::choosing::{choose_passage, choose_recording};
use super::passage_follower::{OfPass, PassageFollower};
use super::{PICTURE, SEEN_AFTER, SETTLED, Window, teller};
use crate::arguments::settings;
use crate::fault::Fault;
use crate::heard_file::Wanted;
use crate::heard_passage::{as_model, hear_passage};
use crate::journal_thread::pass_of;
use crate::passages::{self, Keeper, TakenIn};
use crate::sound_files::is_sound;
use crate::takes::RecentTakes;
use crate::words::aside;

/// A pass with a beat lasts so many times the passage at most: then the beat stops.
const LONGEST: f64 = 4.0;
/// Beats of a run at most.
const MOST_BEATS: f64 = 20_000.0;

/// What other threads tell the room.
pub(super) enum PassageTold {
    /// Of a pass.
    Pass(OfPass),
    /// A file was chosen, or there is no dialog.
    Chosen(Result<PathBuf, String>),
    /// A recording was, whose notes are to be planned.
    Model(Result<PathBuf, String>),
    /// How the plan, after so many changes, was played in it, with what is to be told.
    Heard(u64, Result<(Vec<Option<Intention>>, Vec<String>), String>),
    /// A score was opened of which something is to be chosen, this part for now.
    Asked(PathBuf, Score, usize),
    /// A file was read and kept under this name, with what is to be told.
    TakenIn(Result<(String, Vec<String>), String>),
}

/// The room Passage and what the window keeps for it.
pub(super) struct PassageHost {
    pub room: PassageRoom,
    follower: Option<PassageFollower>,
    /// The take of the pass that was judged last, and which pass that was.
    awaited: (AwaitedTake, Pass),
    /// The straight pass of these notes, which the bow's line is held against.
    straight: Option<(Vec<PlanNote>, Box<HeardPass>)>,
    /// The number of the run of beats, and of the pass that it is played for.
    run: Option<(u64, u64)>,
    /// The file of the score that is asked about.
    score: Option<PathBuf>,
    pub told: Receiver<PassageTold>,
    tell: Sender<PassageTold>,
    /// Keeps what is edited, on the disk's thread; `None` where there is no folder.
    keeper: Option<Arc<Mutex<Keeper>>>,
    /// Something that was edited may not be kept yet.
    unkept: Arc<AtomicBool>,
    /// Changes of plans that were handed to the keeper, and when the first one came that was not.
    handed: u64,
    changed: Option<Instant>,
}

impl PassageHost {
    /// Without passages yet; those that are edited are kept in `folder`.
    pub(super) fn new(folder: Option<PathBuf>) -> Self {
        let (tell, told) = channel();
        Self {
            room: PassageRoom::new(Vec::new()),
            follower: None,
            awaited: (AwaitedTake::default(), Pass::default()),
            straight: None,
            run: None,
            score: None,
            told,
            tell,
            keeper: folder.map(|folder| Arc::new(Mutex::new(Keeper::new(folder)))),
            unkept: Arc::default(),
            handed: 0,
            changed: None,
        }
    }
}

impl PassageHost {
    /// The ear's clock begins again: no take to come holds the last pass.
    pub(super) fn await_none(&mut self) {
        self.awaited.0 = AwaitedTake::default();
    }

    /// Gives the room the take of the pass that was judged last, if it is kept now.
    pub(super) fn find_take(&mut self, recent: &RecentTakes) {
        if let Some(id) = self.awaited.0.find(self.room.moving(), recent) {
            self.room.is_kept(self.awaited.1, id);
        }
    }
}

impl Window {
    /// Reads the passages anew; those that cannot be used are told by the room.
    pub(super) fn read_passages(&mut self) {
        let mut all = passages::all(self.opening.settings.passages().as_deref());
        // What the disk has not taken yet is listed all the same.
        if let Some(edited) =
            self.passage.room.edited().filter(|_| self.passage.unkept.load(Relaxed))
        {
            let passage = Ok(edited.passage.clone());
            let name = edited.name.map_or_else(|| edited.passage.title.clone(), str::to_owned);
            all.retain(|listed| !(listed.own && listed.name == name));
            all.push(PassageFile { name, passage, own: true });
        }
        self.passage.room.set_passages(all);
    }

    /// Has the passage that is edited kept, if it was changed, or could not be kept before.
    pub(super) fn keep_edited(&mut self) {
        self.passage.changed = None;
        let changes = self.passage.room.changes();
        let Some(Edited { id, name, passage }) = self.passage.room.edited() else { return };
        if changes == self.passage.handed && !self.passage.unkept.load(Relaxed) {
            return;
        }
        let (name, passage) = (name.map(str::to_owned), passage.clone());
        self.passage.handed = changes;
        let Some(keeper) = self.passage.keeper.clone() else {
            let words = "there is no folder for passages on this system: what you edit is lost when the window is closed";
            return self.hear(Heard::Word(words.to_owned()));
        };
        let (unkept, tell) =
            (self.passage.unkept.clone(), teller(&self.passage.tell, &self.context));
        unkept.store(true, Relaxed);
        self.disk.ask(move || {
            let mut keeper = keeper.lock().unwrap_or_else(PoisonError::into_inner);
            let kept = keeper.keep(id, name, passage);
            unkept.store(keeper.waits(), Relaxed);
            if let Some(name) = keeper.name(id) {
                tell(PassageTold::Pass(OfPass::Room(PassageHeard::Kept(id, name.to_owned()))));
            }
            kept.map_err(|fault| {
                format!("{fault}; it stays open here, and is tried again with your next change")
            })
        });
    }

    /// The plan may have been changed: then it is kept soon.
    fn plan_was_changed(&mut self) {
        if self.passage.room.changes() != self.passage.handed {
            self.passage.changed.get_or_insert_with(Instant::now);
            self.context.request_repaint_after(SETTLED);
        }
    }

    /// Keeps what was edited once it has stayed so for a while.
    pub(super) fn settle_passage(&mut self, now: Instant) {
        let Some(changed) = self.passage.changed else { return };
        let waited = now.saturating_duration_since(changed);
        if waited < SETTLED {
            return self.context.request_repaint_after(SETTLED - waited);
        }
        self.keep_edited();
    }

    /// The window is closed.
    pub(super) fn keep_last_edited(&mut self) {
        self.keep_edited();
        if let Some(keeper) =
            self.passage.keeper.clone().filter(|_| self.passage.unkept.load(Relaxed))
        {
            self.disk.ask(move || {
                let mut keeper = keeper.lock().unwrap_or_else(PoisonError::into_inner);
                if let Err(fault) = keeper.go_on() {
                    aside(fault);
                }
                Ok(())
            });
        }
    }

    /// What the player did in the room.
    pub(super) fn passage_asked(&mut self, action: PassageAction) {
        match &action {
            PassageAction::Reread => self.read_passages(),
            PassageAction::File => {
                let tell = teller(&self.passage.tell, &self.context);
                choose_passage(move |chosen| tell(PassageTold::Chosen(chosen)));
            }
            PassageAction::Model => self.look_for_model(),
            PassageAction::TakeExcerpt => self.take_excerpt(),
            PassageAction::Report => {
                if let Some(of) = self.passage.room.report() {
                    self.do_asked(Action::Report(of));
                }
            }
            _ => {}
        }
        let before = self.passage.room.phase();
        self.passage.room.apply(action);
        self.plan_was_changed();
        match (before, self.passage.room.phase()) {
            (Phase::Editing, after) if after != before => self.keep_edited(),
            (Phase::Asking, Phase::After) => {
                // Once more, with the answer.
                if let (Some(takes), Some((at, pass))) = (&self.takes, self.pass_to_keep()) {
                    takes.pass(at, pass);
                }
            }
            _ => {}
        }
        self.pass_changed();
    }

    /// Plans the notes as in the model of the lesson, or in a recording that the player chooses.
    fn look_for_model(&mut self) {
        match self.model_of_lesson() {
            Some(take) => self.plan_as(take),
            None => {
                let tell = teller(&self.passage.tell, &self.context);
                choose_recording(move |chosen| tell(PassageTold::Model(chosen)));
            }
        }
    }

    /// Plans the notes as they are played in this recording or take, which is heard on a thread of its own.
    pub(super) fn plan_as(&mut self, take: PathBuf) {
        let Some(opened) = self.passage.room.opened() else { return };
        let (passage, changes) = (opened.passage.clone(), self.passage.room.changes());
        self.hear(Heard::Word("the model is listened to".to_owned()));
        let usual = self.stand.shell.tuning();
        let tuning = Tuning { a4: passage.a4.unwrap_or(usual.a4), ..usual };
        let chosen = self.options().instrument().ok().flatten();
        let instrument = Instrument::find(&passage.instrument).ok().or(chosen);
        let wanted = Wanted::whole(settings(tuning, instrument.as_ref()));
        let tell = teller(&self.passage.tell, &self.context);
        let hear = move || {
            let mut told = Vec::new();
            let heard = hear_passage(&take, &wanted, &mut told).and_then(|mut played| {
                let (copied, more) = as_model(&passage, &mut played, &tuning)?;
                told.extend(more);
                Ok((copied, told))
            });
            tell(PassageTold::Heard(changes, heard.map_err(|fault| fault.to_string())));
        };
        std::thread::Builder::new().name("hear a model".to_owned()).spawn(hear).ok();
    }

    /// Takes a file of a passage or a score in, on a thread of its own; a recording while a plan is edited is its model.
    pub(super) fn take_in_passage(&mut self, path: PathBuf) {
        if self.passage.room.phase() == Phase::Editing && is_sound(&path) {
            return self.plan_as(path);
        }
        if !passages::is_one(&path) {
            let words = format!(
                "no passage: {}; drop a .passage.txt, .ron, MusicXML or MIDI file here, and recordings on another room",
                path.display()
            );
            return self.hear(Heard::Word(words));
        }
        let instrument = self.options().instrument.clone();
        self.take_in_by(move || passages::take_in(&path, instrument.as_deref()));
    }

    /// Takes in what was chosen of a score.
    fn take_excerpt(&mut self) {
        let (Some(path), Some((score, excerpt))) =
            (self.passage.score.take(), self.passage.room.score().cloned())
        else {
            return;
        };
        let instrument = self.options().instrument.clone();
        self.take_in_by(move || {
            passages::take_excerpt(&path, &score, &excerpt, instrument.as_deref())
                .map(TakenIn::Read)
        });
    }

    /// Keeps what is read by `take_in`, on a thread of its own, or asks what of it is wanted.
    fn take_in_by(&mut self, take_in: impl FnOnce() -> Result<TakenIn, Fault> + Send + 'static) {
        let Some(own) = self.opening.settings.passages() else {
            let words = "there is no folder for passages on this system".to_owned();
            return self.hear(Heard::Word(words));
        };
        let tell = teller(&self.passage.tell, &self.context);
        let take_in = move || {
            let kept = match take_in() {
                Ok(TakenIn::Asked(path, score, part)) => {
                    return tell(PassageTold::Asked(path, score, part));
                }
                Ok(TakenIn::Read(ReadPassage { passage, told })) => {
                    passages::keep(&passage, &own).map(|name| (name, told))
                }
                Err(fault) => Err(fault),
            };
            tell(PassageTold::TakenIn(kept.map_err(|fault| fault.to_string())));
        };
        std::thread::Builder::new().name("take in a passage".to_owned()).spawn(take_in).ok();
    }

    /// Another thread tells something.
    pub(super) fn passage_told(&mut self, told: PassageTold) {
        match told {
            PassageTold::Pass(OfPass::Room(heard)) => {
                let judged = matches!(heard, PassageHeard::Judged(..));
                self.passage.room.told(heard);
                if judged {
                    self.pass_judged();
                }
            }
            PassageTold::Pass(OfPass::Heard(run, heard)) => {
                let room = &self.passage.room;
                if run == room.run()
                    && room.pass() == Pass::Straight
                    && let Some(opened) = room.opened()
                {
                    self.passage.straight = Some((opened.straight.notes().to_vec(), heard));
                }
            }
            PassageTold::Chosen(Ok(path)) => self.take_in_passage(path),
            PassageTold::Asked(path, score, part) => {
                let busy =
                    self.passage.room.moving() || self.passage.room.phase() == Phase::Editing;
                if busy {
                    let words = format!(
                        "{} waits in the list of passages: choose a part of it",
                        score.name
                    );
                    self.hear(Heard::Word(words));
                }
                self.passage.score = Some(path);
                self.passage.room.ask_of(score, part);
                self.pass_changed();
            }
            PassageTold::Model(Ok(path)) => self.plan_as(path),
            PassageTold::Heard(changes, Ok((copied, told))) => {
                if changes != self.passage.room.changes() {
                    let words =
                        "the plan was changed while the model was listened to: ask once more";
                    return self.hear(Heard::Word(words.to_owned()));
                }
                self.passage.room.told(PassageHeard::Model(changes, copied));
                self.plan_was_changed();
                told.into_iter().for_each(|words| self.hear(Heard::Word(words)));
            }
            PassageTold::Chosen(Err(words))
            | PassageTold::Model(Err(words))
            | PassageTold::Heard(_, Err(words))
            | PassageTold::TakenIn(Err(words)) => {
                self.hear(Heard::Word(words));
            }
            PassageTold::TakenIn(Ok((name, told))) => {
                self.read_passages();
                let passages = self.passage.room.passages();
                let busy =
                    self.passage.room.moving() || self.passage.room.phase() == Phase::Editing;
                if let Some(place) = passages.iter().position(|listed| listed.name == name)
                    && !busy
                {
                    self.passage_asked(PassageAction::Choose(place));
                }
                told.into_iter().for_each(|words| self.hear(Heard::Word(words)));
            }
        }
    }

    /// The ear reported something, or a note ended.
    pub(super) fn passage_hears(&mut self, event: &Event, note: Option<&Note>) {
        if !self.passage.room.moving() {
            if let Event::Frame(_) | Event::NoteBegan { .. } | Event::NoteEnded = event {
                self.passage.room.hear(event, note);
            }
            return;
        }
        if let Some((run, from)) = self.passage.room.listening() {
            let here = self.passage.follower.as_ref().map(|follower| follower.run);
            if here != Some(run) {
                self.passage.follower = self.follow(run, from);
            }
            if let Some(follower) = &self.passage.follower {
                follower.hear(event, note);
            }
        }
        let phase = self.passage.room.phase();
        self.passage.room.hear(event, note);
        if phase != self.passage.room.phase() {
            self.pass_changed();
        }
    }

    fn follow(&self, run: u64, from: Secs) -> Option<PassageFollower> {
        let passage = self.passage.room.wanted()?;
        let usual = self.stand.shell.tuning();
        let tuning = Tuning { a4: passage.a4.unwrap_or(usual.a4), ..usual };
        let tell = teller(&self.passage.tell, &self.context);
        PassageFollower::start((run, from), passage, tuning, move |told| {
            tell(PassageTold::Pass(told));
        })
    }

    /// The sound has come to its end, and a pass with it.
    pub(super) fn passage_is_over(&mut self) {
        self.passage.room.anew();
        self.pass_changed();
    }

    /// The pass is in another phase, or another passage is looked at.
    fn pass_changed(&mut self) {
        let phase = self.passage.room.phase();
        if phase == Phase::Judging
            && let Some(follower) = self.passage.follower.take()
        {
            let notes = self.passage.room.opened().map(|opened| opened.straight.notes());
            let straight = self.passage.straight.as_ref();
            let straight = straight.filter(|(of, _)| Some(of.as_slice()) == notes);
            let vibrated = self.passage.room.pass() != Pass::Straight;
            follower.judge(straight.filter(|_| vibrated).map(|(_, heard)| heard.clone()));
        } else if !self.passage.room.moving() {
            self.passage.follower = None;
        }
        if let Some(takes) = &self.takes {
            takes.asked_for(self.passage.room.moving());
        }
        self.allow_takes();
        self.order_sound();
        self.surround();
        self.context.request_repaint();
    }

    /// What is kept with the take of the pass that was judged, and when its last note began.
    fn pass_to_keep(&self) -> Option<(Secs, PassOf)> {
        let room = &self.passage.room;
        let (opened, checked, from) = (room.opened()?, room.checked(room.pass())?, room.began()?);
        let name = (opened.name.as_str(), room.pass().number());
        let mut pass = pass_of(name, &room.wanted()?, checked, from);
        pass.said.extend(answer_said(room));
        let sounded = checked.notes.iter().rfind(|note| note.aligned.how != How::LeftOut);
        Some((sounded.map_or(from, |note| Secs(note.aligned.start.0 + from.0)), pass))
    }

    /// What was made of a pass is known.
    fn pass_judged(&mut self) {
        self.pass_changed();
        let Some((at, pass)) = self.pass_to_keep() else { return };
        let room = &self.passage.room;
        self.passage.awaited = (AwaitedTake { first: Some(at) }, room.pass());
        if let (Some(watch), Some(passage), Some(checked)) =
            (&mut self.watch, room.wanted(), room.checked(room.pass()))
        {
            watch.pass(pass.number, &pass.said, &Written { passage: &passage, checked });
        }
        if let Some(takes) = &self.takes {
            takes.pass(at, pass);
        }
        self.passage.find_take(&self.recent);
    }

    /// What takes of this room are of.
    pub(super) fn surround_pass(&self, context: &mut Context) {
        let room = &self.passage.room;
        if room.phase() == Phase::Choosing {
            return;
        }
        context.passage = room.opened().map(|opened| opened.passage.title.clone());
        if !room.free() {
            context.pace = Some(journal::Pace { bpm: room.bpm(), oscillations_per_beat: None });
        }
    }

    /// What the loudspeaker is to play for a pass.
    pub(super) fn passage_run(&mut self) -> Option<RunWish> {
        let Some(wants) = self.passage.room.wants() else {
            self.passage.run = None;
            return None;
        };
        let pass = self.passage.room.run();
        let number = match self.passage.run {
            Some((number, of)) if of == pass => number,
            _ => self.sounds.another_run(),
        };
        self.passage.run = Some((number, pass));
        let planned = self.passage.room.wanted();
        let beats = planned.map_or(0.0, |plan| {
            let notes: f64 = plan.notes().iter().map(|note| note.beats.get()).sum();
            notes * plan.beat().0 * wants.bpm / 60.0
        });
        let beats = f64::from(wants.count_in) + (LONGEST * beats).max(f64::from(wants.bar));
        Some(RunWish {
            number,
            bpm: wants.bpm,
            beats: beats.min(MOST_BEATS) as u32,
            count_in: wants.count_in,
            bar: wants.bar,
            audible: wants.click,
            guide: None,
        })
    }

    /// A beat of a run sounds at this instant.
    pub(super) fn passage_beat(&mut self, run: u64, beat: u32, at: Instant) {
        if beat == 0
            && self.passage.run.is_some_and(|(number, _)| number == run)
            && let Some(at) = self.drill.clock.heard_at(at)
        {
            self.passage.room.first_beat(at);
        }
    }

    /// The picture that is drawn now is seen a little later.
    pub(super) fn tick_passage(&mut self, now: Instant) {
        if let Some(seen) = self.drill.clock.heard_at(now + SEEN_AFTER) {
            let phase = self.passage.room.phase();
            self.passage.room.tick(seen);
            if phase != self.passage.room.phase() {
                self.pass_changed();
            }
        }
        if self.passage.room.moving() {
            self.context.request_repaint_after(PICTURE);
        }
    }
}
