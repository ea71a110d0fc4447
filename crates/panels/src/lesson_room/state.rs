//! What the room knows: plain data. [`LessonRoom::apply`] and [`LessonRoom::hear`] are the only places it
//! changes.

use super::action::{Laid, LessonAction, Side, Standing, TaskDraft, Voice};
use super::orders::{LessonOrder, Part, PitchPoint};
use super::takes::Takes;
use crate::drill_room::DrillFile;
use crate::shell::Shell;
use crate::shell::action::UseAs;
use crate::shell::report::ReportOf;
use coach::{
    Align, Comparison, Echo, Lesson, LessonEvent, Pair, Phrase, Showing, TIMES, Task, Work,
};
use tuning::Secs;
use vibrato::{Event, Note};

/// How fast the pitch may be heard.
const SPEEDS: [f64; 3] = [1.0, 0.5, 0.25];
/// Below this confidence a pitch is not played back.
const SURE_FROM: f64 = 0.5;
/// Sound that is played from before the first note of a phrase and after its last.
const AROUND: Secs = Secs(0.15);

/// The room.
#[derive(Clone, Debug)]
pub struct LessonRoom {
    lesson: Lesson,
    align: Align,
    /// A phrase is looked at note by note rather than from its first onset.
    by_notes: bool,
    /// One note of a phrase is looked at alone.
    alone: bool,
    /// The note of the model that is looked at.
    note: usize,
    /// The echo that is looked at; `None` for the last.
    echo: Option<usize>,
    /// Where the note began that sounds now.
    sounding: Option<Secs>,
    /// What was heard last did not sound bowed.
    aside_is_last: bool,
    voice: Option<Voice>,
    /// What was heard from the loudspeaker last.
    last_voice: Option<Side>,
    speed: usize,
    draft: Option<TaskDraft>,
    drills: Vec<DrillFile>,
    standing: Option<Box<Standing>>,
    /// The task that was given in this lesson.
    given: Option<Task>,
    takes: Takes,
    players: Vec<String>,
    task_file: String,
    word: Option<String>,
    orders: Vec<LessonOrder>,
}

impl Default for LessonRoom {
    fn default() -> Self {
        Self {
            lesson: Lesson::new(Secs(2.0)),
            align: Align::default(),
            by_notes: false,
            alone: false,
            note: 0,
            echo: None,
            sounding: None,
            aside_is_last: false,
            voice: None,
            last_voice: None,
            speed: 0,
            draft: None,
            drills: Vec::new(),
            standing: None,
            given: None,
            takes: Takes::default(),
            players: Vec::new(),
            task_file: String::new(),
            word: None,
            orders: vec![LessonOrder::TakesAre { model: true }],
        }
    }
}

impl LessonRoom {
    /// A note that ended a moment ago was looked at again.
    pub fn settle(&mut self, note: &Note) {
        self.lesson.settle(note);
    }

    /// Takes in what the ear reports; `note` is the ear's note where one has just ended. Only while the room
    /// is there to be seen: what is played elsewhere is no part of a lesson. What the loudspeaker plays back
    /// is none either.
    pub fn hear(&mut self, event: &Event, note: Option<&Note>) {
        if self.voice.is_some() || self.draft.is_some() {
            return;
        }
        match *event {
            Event::NoteBegan { start, .. } => self.sounding = Some(start),
            Event::NoteEnded | Event::NoteDropped => self.sounding = None,
            _ => {}
        }
        if let Some(came) = self.lesson.hear(event, note) {
            self.came(came);
        }
        if let (Event::NoteBegan { .. }, Some(current)) = (event, self.lesson.current()) {
            // The note of the model that it should be, and its band, are looked at.
            self.note = moved(current.notes.len(), 0, self.notes());
        }
    }

    /// Something became of what was played.
    fn came(&mut self, came: LessonEvent) {
        self.aside_is_last = came == LessonEvent::SetAside;
        match came {
            LessonEvent::Began => self.word = None,
            LessonEvent::Model => self.model_is_there(),
            LessonEvent::Echo => {
                self.echo = None;
                self.note = self.foremost();
            }
            // Its take is none of an echo until it is said to be.
            LessonEvent::Unlike => self.order_doubtful(false),
            LessonEvent::SetAside | LessonEvent::Nothing => {}
        }
    }

    /// The last phrase that did not sound bowed was meant: it is taken up as if it had just ended, and its take is kept.
    fn bring_back(&mut self) {
        let Some((phrase, _)) = self.lesson.set_aside().and_then(Phrase::span) else { return };
        let Some(came) = self.lesson.bring_back() else { return };
        self.quiet();
        self.word = None;
        self.orders.push(LessonOrder::KeepTake(phrase));
        self.orders.push(LessonOrder::TakeIs { phrase, echo: true });
        self.came(came);
    }

    /// A phrase of a take that was kept before is the model, or an echo.
    fn bring(&mut self, use_as: UseAs, phrase: Phrase) {
        self.quiet();
        match use_as {
            UseAs::Model => {
                self.lesson.bring_model(phrase);
                self.sounding = None;
                self.model_is_there();
            }
            UseAs::Echo => {
                self.lesson.bring_echo(phrase);
                self.note = self.foremost();
            }
        }
        (self.echo, self.last_voice, self.word) = (None, None, None);
        self.aside_is_last = false;
    }

    /// What was heard last did not sound bowed, and can be brought back.
    pub fn aside_is_last(&self) -> bool {
        self.aside_is_last
    }

    /// The one place where a player's wish changes the room.
    pub fn apply(&mut self, action: LessonAction, shell: &Shell) {
        self.lesson.end_after(shell.options().take.ends_after);
        match action {
            LessonAction::NewModel => {
                self.quiet();
                self.lesson.again();
                (self.note, self.echo, self.sounding) = (0, None, None);
                self.last_voice = None;
                self.orders.push(LessonOrder::TakesAre { model: true });
            }
            LessonAction::WasModel => {
                self.quiet();
                if self.lesson.last_was_model() {
                    self.echo = None;
                    self.last_voice = None;
                    self.model_is_there();
                }
            }
            LessonAction::DropEcho => {
                self.quiet();
                if self.lesson.drop_echo() {
                    self.echo = None;
                    self.last_voice = None;
                    self.note = self.foremost();
                }
            }
            LessonAction::IsEcho(is_echo) => {
                if is_echo {
                    self.order_doubtful(true);
                }
                if self.lesson.answer(is_echo) && is_echo {
                    self.echo = None;
                    self.note = self.foremost();
                }
            }
            LessonAction::BringBack => self.bring_back(),
            LessonAction::Bring(use_as, phrase) => self.bring(use_as, *phrase),
            LessonAction::Align => match self.laid() {
                Laid::Whole | Laid::NoteByNote => self.by_notes = !self.by_notes,
                Laid::Note(align) => self.align = align.turned(),
            },
            LessonAction::Whole if self.is_phrase() => self.alone = !self.alone,
            LessonAction::Whole => {}
            LessonAction::Into(note) => {
                self.note = moved(note, 0, self.notes());
                self.alone = true;
            }
            LessonAction::Note(by) => {
                self.note = moved(self.note, by, self.notes());
            }
            LessonAction::Echo(by) => {
                let count = self.lesson.echoes().len();
                let here = moved(self.echo.unwrap_or(count.saturating_sub(1)), by, count);
                self.echo = (here + 1 < count).then_some(here);
            }
            LessonAction::Hear(side) => self.play(side),
            LessonAction::Other => self.play(self.other()),
            LessonAction::HearPitch => self.play_pitch(),
            LessonAction::Speed => {
                self.speed = (self.speed + 1) % SPEEDS.len();
                if matches!(self.voice, Some(Voice::Pitch(..))) {
                    self.play_pitch();
                }
            }
            LessonAction::Quiet => self.quiet(),
            LessonAction::Played => self.voice = None,
            LessonAction::Task => self.turn_task(),
            LessonAction::Draft(draft) => self.write(*draft),
            LessonAction::Give => self.give(&shell.options().player),
            LessonAction::Done => {
                if self.standing.take().is_some() {
                    self.orders.push(LessonOrder::Forget);
                }
            }
            LessonAction::Report => self.orders.extend(self.report().map(LessonOrder::Report)),
            LessonAction::Taken(takes) => self.takes = takes,
            LessonAction::Drills(drills) => {
                self.drills = drills;
                self.drills.retain(|listed| listed.drill.is_ok());
            }
            LessonAction::Players(players) => self.players = players,
            LessonAction::Student(name) => {
                if name != shell.options().player {
                    // Neither task nor word of one student is the next one's.
                    (self.given, self.standing, self.word) = (None, None, None);
                    self.orders.push(LessonOrder::Student(name));
                }
            }
            LessonAction::Teacher(name) => self.orders.push(LessonOrder::Teacher(name)),
            LessonAction::TaskFile(file) => self.task_file = file,
            LessonAction::Find(sought) => self.orders.push(LessonOrder::Find(sought)),
            LessonAction::ExportTask if !self.task_file.is_empty() => {
                self.orders.push(LessonOrder::ExportTask(self.task_file.clone()));
            }
            LessonAction::ImportTask if !self.task_file.is_empty() => {
                self.orders.push(LessonOrder::ImportTask(self.task_file.clone()));
            }
            LessonAction::ExportTask | LessonAction::ImportTask => {}
            LessonAction::Standing(standing) => self.standing = standing,
            LessonAction::Anew => {
                self.lesson.break_off();
                self.sounding = None;
                self.aside_is_last = false;
            }
            LessonAction::Word(word) => {
                self.voice = None;
                self.word = Some(word);
            }
            LessonAction::Do(command) => self.orders.push(LessonOrder::Do(command)),
        }
    }

    /// What the program is to do, in order; each is told once.
    pub fn wants(&mut self) -> Vec<LessonOrder> {
        std::mem::take(&mut self.orders)
    }

    fn model_is_there(&mut self) {
        self.note = 0;
        self.orders.push(LessonOrder::TakesAre { model: false });
    }

    /// The note of the model in which the echo differs most.
    fn foremost(&self) -> usize {
        let largest = self.shown_echo().and_then(|echo| echo.comparison.largest());
        largest.map_or(0, |(pair, _)| pair.model)
    }

    /// The take of what is hardly an echo is one, or is none.
    fn order_doubtful(&mut self, echo: bool) {
        let span = self.lesson.doubtful().and_then(|doubtful| doubtful.phrase.span());
        self.orders.extend(span.map(|(phrase, _)| LessonOrder::TakeIs { phrase, echo }));
    }

    fn quiet(&mut self) {
        if self.voice.take().is_some() {
            self.orders.push(LessonOrder::Stop);
        }
    }

    /// The other one of model and echo than what was heard last; the model at first.
    fn other(&self) -> Side {
        match (self.last_voice, self.echo_number()) {
            (Some(Side::Model), Some(echo)) => Side::Echo(echo),
            _ => Side::Model,
        }
    }

    fn phrase(&self, side: Side) -> Option<&Phrase> {
        match side {
            Side::Model => self.lesson.model(),
            Side::Echo(number) => Some(&self.lesson.echoes().get(number)?.phrase),
        }
    }

    /// What is played of one of model and echo: its notes and a little around them.
    fn played(&self, side: Side) -> Option<Part> {
        let (phrase, end) = self.phrase(side)?.span()?;
        let (from, to) = (Secs(phrase.0 - AROUND.0), Secs(end.0 + AROUND.0));
        Some(Part { side, phrase, from, to })
    }

    fn play(&mut self, side: Side) {
        let Some(part) = self.played(side) else {
            return;
        };
        let beside = match side {
            Side::Model => self.echo_number().map(Side::Echo),
            Side::Echo(_) => Some(Side::Model),
        };
        let order =
            LessonOrder::Play { part, beside: beside.and_then(|beside| self.played(beside)) };
        self.break_off();
        self.word = None;
        self.orders.push(order);
        (self.voice, self.last_voice) = (Some(Voice::Sound(side)), Some(side));
    }

    fn play_pitch(&mut self) {
        let side = match (self.last_voice, self.echo_number()) {
            (Some(side), _) => side,
            (None, Some(echo)) => Side::Echo(echo),
            (None, None) => Side::Model,
        };
        let Some(phrase) = self.phrase(side) else {
            return;
        };
        let Some(first) = phrase.course.first().map(|instant| instant.time.0) else {
            return;
        };
        let course = phrase
            .course
            .iter()
            .map(|instant| PitchPoint {
                time: Secs(instant.time.0 - first),
                f0: instant.f0.filter(|_| instant.confidence >= SURE_FROM),
            })
            .collect();
        let speed = SPEEDS[self.speed];
        self.break_off();
        self.word = None;
        self.orders.push(LessonOrder::PlayPitch { course, speed });
        (self.voice, self.last_voice) = (Some(Voice::Pitch(side, speed)), Some(side));
    }

    /// What is being played is no phrase: the loudspeaker comes in between.
    fn break_off(&mut self) {
        self.lesson.break_off();
        self.sounding = None;
    }

    fn turn_task(&mut self) {
        self.quiet();
        self.break_off();
        if let Some(draft) = &mut self.draft {
            // What was written is not lost without a word.
            if draft.changed && !std::mem::replace(&mut draft.leaving, true) {
                return;
            }
            self.draft = None;
            return;
        }
        let task = match self.drills.first().and_then(|listed| listed.drill.as_ref().ok()) {
            Some(drill) => Task::of_drill(self.shown_notes(), drill),
            None => Task::of_model(self.shown_notes(), Work::Passage(String::new())),
        };
        let drill = match &task.work {
            Work::Drill(name) => name.clone(),
            Work::Passage(_) => String::new(),
        };
        self.draft = Some(TaskDraft { drill, ..TaskDraft::of(task) });
    }

    /// The task is to be this. Drill, pace and goals go on agreeing, whichever of them was changed.
    fn write(&mut self, mut draft: TaskDraft) {
        let Some(before) = &self.draft else { return };
        (draft.changed, draft.leaving) = (true, false);
        let (task, was) = (&mut draft.task, &before.task);
        let drill = match &task.work {
            Work::Drill(name) => self.drills.iter().find(|listed| listed.name == *name),
            Work::Passage(_) => None,
        };
        match drill.and_then(|listed| listed.drill.as_ref().ok()) {
            Some(drill) if task.work != was.work => {
                let Task { times, words, .. } = task.clone();
                *task = Task { times, words, ..Task::of_drill(self.shown_notes(), drill) };
            }
            Some(drill) if task.rate != was.rate => task.pace_follows(drill),
            Some(drill) => task.rate_follows(drill),
            None if std::mem::discriminant(&task.work) != std::mem::discriminant(&was.work) => {
                let Task { work, times, words, .. } = task.clone();
                *task = Task { times, words, ..Task::of_model(self.shown_notes(), work) };
            }
            None => {}
        }
        self.draft = Some(draft);
    }

    /// The notes of the model; none before there is one.
    fn shown_notes(&self) -> &[Note] {
        self.lesson.model().map_or(&[], |model| &model.notes)
    }

    fn give(&mut self, player: &str) {
        let Some(draft) = self.draft.take() else {
            return;
        };
        let mut task = draft.task;
        task.times = task.times.clamp(TIMES.0, TIMES.1);
        self.orders.push(LessonOrder::Keep(Box::new(task.clone())));
        self.given = Some(task);
        let stand = match player {
            "" => "the Stand".to_owned(),
            player => format!("{player}’s Stand"),
        };
        self.word = Some(format!("the task is given: {stand} tells of it at the next start"));
        self.standing = None;
    }

    /// The lesson itself.
    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    /// Notes of the model.
    fn notes(&self) -> usize {
        self.lesson.model().map_or(0, |model| model.notes.len())
    }

    /// The model is a phrase of several notes.
    pub fn is_phrase(&self) -> bool {
        self.notes() > 1
    }

    /// How model and echo are laid over each other.
    pub fn laid(&self) -> Laid {
        match (self.is_phrase() && !self.alone, self.by_notes) {
            (true, false) => Laid::Whole,
            (true, true) => Laid::NoteByNote,
            (false, _) => Laid::Note(self.align),
        }
    }

    /// The note of the model that is looked at.
    pub fn note(&self) -> usize {
        self.note
    }

    /// The number of the echo that is looked at, from 0.
    pub fn echo_number(&self) -> Option<usize> {
        let last = self.lesson.echoes().len().checked_sub(1)?;
        Some(self.echo.unwrap_or(last).min(last))
    }

    /// The echo that is looked at.
    pub fn shown_echo(&self) -> Option<&Echo> {
        self.lesson.echoes().get(self.echo_number()?)
    }

    /// The comparison that is looked at, and in it the pair of the note that is looked at.
    pub fn shown_pair(&self) -> Option<(&Comparison, &Pair)> {
        let comparison = &self.shown_echo()?.comparison;
        let mut pairs = comparison.pairs.iter();
        let pair = pairs.find(|pair| pair.model == self.note)?;
        Some((comparison, pair))
    }

    /// Where the note began that sounds now.
    pub fn sounding(&self) -> Option<Secs> {
        self.sounding
    }

    /// Whether measures are to be seen now, by the Stand's way of showing.
    pub fn revealed(&self, showing: Showing) -> bool {
        match showing {
            Showing::Live => true,
            Showing::AfterNote => self.sounding.is_none(),
            Showing::AfterRound => self.lesson.current().is_none(),
        }
    }

    /// What the loudspeaker plays.
    pub fn voice(&self) -> Option<Voice> {
        self.voice
    }

    /// How fast the pitch is heard.
    pub fn speed(&self) -> f64 {
        SPEEDS[self.speed]
    }

    /// The task that is being written.
    pub fn draft(&self) -> Option<&TaskDraft> {
        self.draft.as_ref()
    }

    /// What a report of the lesson is of; `None` while the takes of model and echo are not kept.
    pub fn report(&self) -> Option<ReportOf> {
        self.takes.report()
    }

    /// The task that was given in this lesson.
    pub fn given(&self) -> Option<&Task> {
        self.given.as_ref()
    }

    /// The drills that can be sent home.
    pub fn drills(&self) -> &[DrillFile] {
        &self.drills
    }

    /// The task of the lesson before, and what became of it.
    pub fn standing(&self) -> Option<&Standing> {
        self.standing.as_deref()
    }

    /// All players there are.
    pub fn players(&self) -> &[String] {
        &self.players
    }

    /// The file in which a task is handed over.
    pub fn task_file(&self) -> &str {
        &self.task_file
    }

    /// What the program has to say.
    pub fn word(&self) -> Option<&str> {
        self.word.as_deref()
    }
}

/// `by` places on from `here`, within `0..count`.
fn moved(here: usize, by: i32, count: usize) -> usize {
    here.saturating_add_signed(by as isize).min(count.saturating_sub(1))
}
