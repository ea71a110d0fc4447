//! The room Lesson in the window: what it hears, what it plays back, its takes and its tasks.

use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender, channel};

use coach::{Phrase, Work};
use journal::{GREETING, GivenTask, JournalError, LessonPart, Received, Shelf, Tasks};
use panels::drill_room::DrillTask;
use panels::journal_room::JournalHeard;
use panels::lesson_room::{LessonAction, LessonOrder, LessonRoom, Part, PitchPoint, Standing};
use panels::shell::action::UseAs;
use panels::shell::options::{Practised, Wanted};
use panels::shell::room::Room;
use panels::stand::{About, Action, Command, Heard, TASK};
use tone::FollowPoint;
use tuning::{Hz, Secs};
use vibrato::{Event, Note};

use super::lesson_sound::{Fetched, GONE, Lately, Stored};
use super::lesson_takes::LessonTakes;
use super::{Window, teller};
use crate::journal_thread::LessonPhrase;
use crate::player::Clip;

/// A tone that follows a pitch is as loud as this, in dB below full scale: quiet at first.
const FOLLOW_DB: f64 = -26.0;
/// Samples a second of that tone.
const FOLLOW_RATE_HZ: u32 = 48_000;

/// The room Lesson and what the window keeps for it.
pub(super) struct LessonHost {
    pub room: LessonRoom,
    /// What was heard in it.
    lately: Lately,
    /// What is looked up for it on another thread.
    pub told: Receiver<LessonAction>,
    tell: Sender<LessonAction>,
    /// Sound that was fetched to be played.
    pub brought: Receiver<Fetched>,
    bring: Sender<Fetched>,
    /// The number of the sound that is waited for.
    fetched: u64,
    /// The takes to come are models.
    takes_are_models: bool,
    /// The takes of the model that stands and of its echoes.
    takes: LessonTakes,
}

impl LessonHost {
    /// Nothing was heard in it yet.
    pub(super) fn new() -> Self {
        let (tell, told) = channel();
        let (bring, brought) = channel();
        Self {
            room: LessonRoom::default(),
            lately: Lately::default(),
            told,
            tell,
            brought,
            bring,
            fetched: 0,
            takes_are_models: true,
            takes: LessonTakes::default(),
        }
    }

    /// Where the sound of `part` is: in its take in `folder`, or else among what was heard lately.
    fn stored(&self, part: &Part, folder: Option<&Path>) -> Option<Stored> {
        let of_take = self.takes.placed(part.phrase).zip(folder).map(|((take, begins), folder)| {
            Stored::of_take(
                folder,
                take,
                (Secs(part.from.0 - begins.0), Secs(part.to.0 - begins.0)),
            )
        });
        of_take.or_else(|| self.lately.stored(part.from, part.to))
    }
}

impl Window {
    /// The room is opened, or left: what is heard in it is kept, what is told of tasks is read.
    pub(super) fn lesson_is_seen(&mut self, seen: bool) {
        if !seen {
            self.lesson.lately.end();
            self.lesson_asked(LessonAction::Quiet);
            return;
        }
        self.keep_anew();
        let drills = self.drill.room.drills().to_vec();
        self.lesson.room.apply(LessonAction::Drills(drills), &self.stand.shell);
        self.lesson.room.apply(LessonAction::Standing(None), &self.stand.shell);
        self.look_up_standing();
        self.do_lesson_orders();
    }

    /// Another source is listened to: what it says is kept while the room is seen.
    pub(super) fn keep_anew(&mut self) {
        if self.stand.shell.room == Room::Lesson {
            let heard =
                self.listened.stand_in.as_ref().map_or(&self.listened.asked, |(_, demo)| demo);
            self.lesson.lately.begin(heard);
        }
    }

    pub(super) fn lesson_hears(&mut self, event: &Event, note: Option<&Note>) {
        if self.stand.shell.room == Room::Lesson {
            self.lesson.room.hear(event, note);
            self.do_lesson_orders();
        }
    }

    pub(super) fn lesson_asked(&mut self, action: LessonAction) {
        if let (LessonAction::Standing(Some(standing)), Some(task)) =
            (&action, &mut self.drill.room.task)
        {
            task.played = standing.outcome.takes;
        }
        if matches!(action, LessonAction::Standing(Some(_))) {
            self.hear(Heard::About(About::Task, None));
        }
        self.lesson.room.apply(action, &self.stand.shell);
        self.do_lesson_orders();
    }

    fn do_lesson_orders(&mut self) {
        for order in self.lesson.room.wants() {
            match order {
                LessonOrder::Play { part, beside } => self.fetch(part, beside),
                LessonOrder::PlayPitch { course, speed } => {
                    self.lesson.fetched += 1;
                    let samples = followed(&course, speed);
                    self.sounds.play(Room::Lesson, Clip::new(0, samples.into(), FOLLOW_RATE_HZ));
                }
                LessonOrder::Stop => {
                    self.lesson.fetched += 1;
                    self.sounds.stop_clip();
                }
                LessonOrder::TakeIs { phrase, echo } => {
                    let part = if echo { self.lesson_part() } else { None };
                    if let Some(takes) = &self.takes {
                        takes.lesson_part(phrase, part);
                    }
                }
                LessonOrder::KeepTake(phrase) => self.keep_take(self.recent.not_kept(phrase)),
                LessonOrder::TakesAre { model } => self.lesson.takes_are_models = model,
                LessonOrder::Keep(task) => {
                    self.hear(Heard::About(About::Task, None));
                    let given =
                        GivenTask { task: *task, unix_s: jiff::Timestamp::now().as_second() };
                    let player = self.options().player.clone();
                    self.with_tasks(move |tasks| tasks.keep(&player, &given));
                }
                LessonOrder::Forget => {
                    let player = self.options().player.clone();
                    self.with_tasks(move |tasks| tasks.forget(&player));
                    self.drill.room.task = None;
                    self.set(|options| options.practised = None);
                }
                LessonOrder::Student(name) => {
                    self.set(|options| {
                        options.now_plays(name);
                        options.practised = None;
                    });
                    self.drill.room.task = None;
                    self.look_up_standing();
                }
                LessonOrder::Teacher(name) => self.set(|options| options.teacher = name),
                LessonOrder::Find(sought) => self.do_asked(Action::Find(sought)),
                LessonOrder::ExportTask(file) => self.export_task(file),
                LessonOrder::ImportTask(file) => self.import_task(file),
                LessonOrder::Report(of) => self.do_asked(Action::Report(of)),
                LessonOrder::Do(command) => self.do_asked(Action::Do(command)),
            }
        }
        self.pair_lesson_takes();
        self.surround();
    }

    /// Has the sound of `part` brought, from its take where that is kept: however long ago it was played.
    fn fetch(&mut self, part: Part, beside: Option<Part>) {
        self.lesson.lately.take_in();
        self.lesson.fetched += 1;
        let number = self.lesson.fetched;
        let folder = self.opening.journal(&self.in_force);
        let own = self.lesson.stored(&part, folder.as_deref());
        let beside = beside.and_then(|beside| self.lesson.stored(&beside, folder.as_deref()));
        let tell = teller(&self.lesson.bring, &self.context);
        self.disk.ask(move || {
            let clip = own.ok_or_else(|| GONE.to_owned()).and_then(|own| own.clip(beside));
            tell((number, clip));
            Ok(())
        });
    }

    /// The sound that was fetched is there; what was not waited for is not played.
    pub(super) fn lesson_fetched(&mut self, (number, clip): Fetched) {
        if number != self.lesson.fetched {
            return;
        }
        match clip {
            Ok(clip) => self.sounds.play(Room::Lesson, clip),
            Err(why) => self.lesson_asked(LessonAction::Word(why)),
        }
    }

    /// Finds the takes of the phrases that stand. One that was taken back keeps its take in the journal, but that is none
    /// of this lesson.
    pub(super) fn pair_lesson_takes(&mut self) {
        let lesson = self.lesson.room.lesson();
        let model = lesson.model().and_then(start_of);
        let echoes = lesson.echoes().iter().filter_map(|echo| start_of(&echo.phrase));
        if self.lesson.takes.pair(model.into_iter().chain(echoes.clone()), &self.recent) {
            let shown = self.lesson.takes.shown(model, echoes);
            self.lesson.room.apply(LessonAction::Taken(shown), &self.stand.shell);
        }
    }

    /// The take of the model that stands, once it is kept.
    pub(super) fn model_of_lesson(&self) -> Option<PathBuf> {
        let model = self.lesson.room.lesson().model().and_then(start_of)?;
        let take = self.lesson.takes.of(model)?;
        Some(self.opening.journal(&self.in_force)?.join(take.to_string()))
    }

    /// The ear's clock begins again: no take to come holds a phrase that stands.
    pub(super) fn lesson_clock_anew(&mut self) {
        let lesson = self.lesson.room.lesson();
        let model = lesson.model().and_then(start_of);
        let echoes = lesson.echoes().iter().filter_map(|echo| start_of(&echo.phrase));
        self.lesson.takes.anew(model.into_iter().chain(echoes));
    }

    /// A part of a take that was kept before is the model, or an echo; the player sees it there.
    pub(super) fn bring_to_lesson(&mut self, brought: LessonPhrase) {
        let LessonPhrase { id, use_as, whole, phrase } = brought;
        if use_as == UseAs::Echo && self.lesson.room.lesson().model().is_none() {
            let words =
                "there is no model yet: use a take as the model first, or play one in the Lesson";
            return self.journal_hears(JournalHeard::Trouble(words.to_owned()));
        }
        self.do_asked(Action::Do(Command::Room(Room::Lesson)));
        let begins = self.lesson.takes.beginning();
        let phrase = phrase.later(begins);
        let start = start_of(&phrase);
        self.lesson.room.apply(LessonAction::Bring(use_as, Box::new(phrase)), &self.stand.shell);
        if let Some(start) = start {
            self.lesson.takes.bring(start, id, whole, begins);
        }
        self.do_lesson_orders();
    }

    /// What the next take is in the lesson.
    pub(super) fn lesson_part(&self) -> Option<LessonPart> {
        if self.lesson.takes_are_models {
            return Some(LessonPart::Model);
        }
        let model = start_of(self.lesson.room.lesson().model()?)?;
        let of = self.lesson.takes.of(model)?.clone();
        Some(LessonPart::Echo { of })
    }

    fn tasks(&self) -> Option<Tasks> {
        Some(Tasks::of(&self.opening.journal(&self.in_force)?))
    }

    /// Writes to the tasks.
    fn with_tasks(
        &mut self,
        work: impl FnOnce(&Tasks) -> Result<(), JournalError> + Send + 'static,
    ) {
        match self.tasks() {
            Some(tasks) => self.disk.ask(move || work(&tasks).map_err(|error| error.to_string())),
            None => self
                .hear(Heard::Word("there is no folder in which the task could be kept".to_owned())),
        }
    }

    /// Writes the student's task into a file.
    fn export_task(&mut self, file: String) {
        let player = self.options().player.clone();
        let tell = teller(&self.lesson.tell, &self.context);
        self.with_tasks(move |tasks| {
            let words = match tasks.hand_over(&player, Path::new(&file))? {
                true => format!("the task is in {file}"),
                false => "there is no task yet: T writes one".to_owned(),
            };
            tell(LessonAction::Word(words));
            Ok(())
        });
    }

    /// Takes over a task that was handed over, for the student.
    fn import_task(&mut self, file: String) {
        let player = self.options().player.clone();
        let tell = teller(&self.lesson.tell, &self.context);
        self.with_tasks(move |tasks| {
            let words = match tasks.receive(Path::new(&file), Some(&player), false)? {
                Received::For(_) => {
                    "the task is taken over: the Stand tells of it at the next start"
                }
                Received::Another(_) => {
                    "another task stands already; say that it is done with first"
                }
            };
            tell(LessonAction::Word(words.to_owned()));
            Ok(())
        });
        self.look_up_standing();
    }

    /// The player's task; what keeps it from being read is told.
    fn task(&mut self) -> Option<GivenTask> {
        match self.tasks()?.task(&self.options().player) {
            Ok(given) => given,
            Err(error) => {
                self.hear(Heard::Word(error.to_string()));
                None
            }
        }
    }

    /// Tells the player of the task that the last lesson ended with.
    pub(super) fn greet(&mut self) {
        if let Some(given) = self.task() {
            let options = self.options();
            // Where its passage is practised already, the key ends that, as the Stand says.
            let key = match options.passage() {
                Some(_) => None,
                None => options.keys.shown(&TASK.entry),
            };
            let words = given.greeting(|name| self.stand.shell.drill_title(name), key);
            self.hear(Heard::Word(words));
        }
    }

    /// The player has left the Stand, whose key it names, or plays the task.
    pub(super) fn greeting_was_read(&mut self) {
        let word = self.stand.shell.words.first();
        if word.is_some_and(|word| word.starts_with(GREETING)) {
            self.stand.apply(Action::Dismiss);
        }
    }

    /// The player plays the task that the last lesson ended with: its drill is opened as it was given, or the takes
    /// of the Stand are of its passage until this is asked for again.
    pub(super) fn play_task(&mut self) {
        self.greeting_was_read();
        let mut options = self.options().clone();
        let words = if options.passage().is_some() {
            options.practised = None;
            "your takes are of no passage any more".to_owned()
        } else {
            match self.task().map(|given| given.task) {
                None => "there is no task: a lesson ends with one".to_owned(),
                Some(task) => {
                    // The Stand shows what is asked for.
                    options.wanted = Wanted::of(&task).unwrap_or(options.wanted);
                    match &task.work {
                        Work::Drill(name) => {
                            if self.open_drill(name, task.pace, task.count) {
                                self.hear(Heard::About(About::Task, None));
                                self.drill.room.task = Some(DrillTask::new(name, &task));
                                self.look_up_standing();
                                return self.do_asked(Action::Set(Box::new(options)));
                            }
                            let words = format!("there is no drill {name} here");
                            return self.hear(Heard::About(About::Task, Some(words)));
                        }
                        Work::Passage(passage) => {
                            options.practised = Some(Practised {
                                player: options.player.clone(),
                                passage: passage.clone(),
                            });
                            format!(
                                "your takes are of the passage “{passage}” from now on, until you ask again"
                            )
                        }
                    }
                }
            }
        };
        self.hear(Heard::About(About::Task, Some(words)));
        self.do_asked(Action::Set(Box::new(options)));
    }

    /// Looks up the task that stands, and all takes for what became of it.
    fn look_up_standing(&self) {
        let Some(folder) = self.opening.journal(&self.in_force) else { return };
        let player = self.options().player.clone();
        let tell = teller(&self.lesson.tell, &self.context);
        self.disk.ask(move || {
            let standing = standing(&folder, &player).map_err(|error| error.to_string())?;
            tell(LessonAction::Players(
                Shelf::open(&folder).map(|shelf| shelf.players()).unwrap_or_default(),
            ));
            tell(LessonAction::Standing(standing.map(Box::new)));
            Ok(())
        });
    }

    /// Takes in the sound of the lesson.
    pub(super) fn keep_lately(&mut self) {
        self.lesson.lately.take_in();
    }
}

/// When the first note of a phrase begins.
fn start_of(phrase: &Phrase) -> Option<Secs> {
    Some(phrase.span()?.0)
}

/// The task of this player that stands, and what became of it.
fn standing(folder: &Path, player: &str) -> Result<Option<Standing>, JournalError> {
    let Some(given) = Tasks::of(folder).task(player)? else { return Ok(None) };
    let shelf = Shelf::open(folder)?;
    // The task stands, and what is known of its takes, also where a folder of others cannot be read now.
    shelf.refresh().ok();
    let outcome = given.outcome(player, &shelf);
    let Ok(moment) = jiff::Timestamp::from_second(given.unix_s) else { return Ok(None) };
    let day = moment.to_zoned(jiff::tz::TimeZone::system()).strftime("%-d %B %Y").to_string();
    Ok(Some(Standing { given: day, task: given.task, outcome }))
}

/// A plain tone that follows a pitch.
fn followed(course: &[PitchPoint], speed: f64) -> Vec<f32> {
    let point = |point: &PitchPoint| {
        point.f0.map(|f0: Hz| FollowPoint { time: point.time, f0, level_db: FOLLOW_DB })
    };
    let points: Vec<FollowPoint> = course.iter().filter_map(point).collect();
    tone::follow(&points, speed, FOLLOW_RATE_HZ)
}
