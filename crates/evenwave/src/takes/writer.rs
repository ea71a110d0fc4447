//! The writer's thread: disk and nothing else.

use std::path::Path;
use std::sync::mpsc::RecvTimeoutError;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use coach::Answered;
use journal::{
    Context, Forgotten, Journal, JournalError, LessonPart, PassOf, TakeId, TakeWriter, Turn,
};
use tuning::Secs;

use super::queue::JobQueue;
use super::{Job, TakeState, TurnOf, rounded};
use crate::last_wait::Steps;
use crate::words::counted;

/// A journal that could not be opened is tried again so often.
const RETRY: Duration = Duration::from_secs(5);

/// The sound of so many takes is thrown away before a job is looked for again.
const TAKES_AT_A_TIME: usize = 8;
/// So many takes that did not sound bowed wait so long to be brought back.
const MOST_ASIDE: usize = 4;
const WAITS: Duration = Duration::from_secs(600);
/// Of so many takes it is known when they were played.
const MOST_FINISHED: usize = 8;
/// Two notes never end so near to one another.
const SAME_NOTE_SECS: f64 = 1e-3;

/// Writes what it is given until the program ends.
pub(super) fn write(
    folder: &Path,
    context: Context,
    jobs: &JobQueue,
    (opened, steps): (&Mutex<Option<Journal>>, &Steps),
    tell: &(impl Fn(TakeState) + ?Sized),
) {
    let mut writer = Writer {
        folder,
        tell,
        context,
        opened,
        journal: None,
        tried: None,
        running: None,
        note_ends: Vec::new(),
        early: Vec::new(),
        zero: Secs(0.0),
        meant: false,
        aside: Vec::new(),
        finished: Vec::new(),
        forgets: None,
    };
    writer.open();
    loop {
        steps.step();
        match jobs.next(writer.patience()) {
            Ok(Job::End) | Err(RecvTimeoutError::Disconnected) => break,
            Ok(job) => writer.work(job),
            Err(RecvTimeoutError::Timeout) => {
                writer.open();
                writer.forget();
            }
        }
        writer.drop_aside(MOST_ASIDE, WAITS);
    }
    writer.finish();
    writer.drop_aside(0, WAITS);
    writer.journal = None;
    writer.share();
}

/// A take that did not sound bowed.
struct Aside {
    take: TakeWriter,
    note_ends: Vec<Secs>,
    zero: Secs,
    since: Instant,
}

/// A take that was finished.
struct Finished {
    id: TakeId,
    /// Where its notes ended, and it began, on the ear's clock.
    note_ends: Vec<Secs>,
    zero: Secs,
}

struct Writer<'a, T: ?Sized> {
    folder: &'a Path,
    tell: &'a T,
    context: Context,
    opened: &'a Mutex<Option<Journal>>,
    journal: Option<Journal>,
    tried: Option<Instant>,
    running: Option<TakeWriter>,
    /// Answers about notes of it that are still to come: they are looked at again first.
    early: Vec<Answered>,
    /// Where its notes ended, and it begins, on the ear's clock.
    note_ends: Vec<Secs>,
    zero: Secs,
    /// It is kept however it sounds.
    meant: bool,
    /// What did not sound bowed, the newest last.
    aside: Vec<Aside>,
    /// The takes that were finished last, in the order in which they were played.
    finished: Vec<Finished>,
    /// Sound that is older than so many days is to go, and that of so many takes went so far.
    forgets: Option<(u32, usize)>,
}

impl<T: Fn(TakeState) + ?Sized> Writer<'_, T> {
    /// Opens the journal if it is not open and it is time to try again.
    fn open(&mut self) {
        let early = self.tried.is_some_and(|tried| tried.elapsed() < RETRY);
        if self.journal.is_some() || early {
            return;
        }
        let again = self.tried.replace(Instant::now()).is_some();
        match Journal::open(self.folder) {
            Ok(opened) => {
                let words = opened.words();
                self.journal = Some(opened.journal);
                self.share();
                words.into_iter().for_each(|word| (self.tell)(TakeState::Word(word)));
                (self.tell)(TakeState::Ready);
            }
            // It was told the first time.
            Err(_) if again => {}
            Err(error) => self.trouble(&error),
        }
    }

    /// Lets others use the journal, or know that it is closed.
    fn share(&self) {
        let mut opened = self.opened.lock().unwrap_or_else(PoisonError::into_inner);
        opened.clone_from(&self.journal);
    }

    fn trouble(&self, error: &JournalError) {
        (self.tell)(TakeState::Trouble(error.to_string()));
    }

    /// How long to wait for the next job: not at all where sound is to go and nothing is played.
    fn patience(&self) -> Duration {
        let forgets = self.forgets.is_some() && self.journal.is_some() && self.running.is_none();
        if forgets { Duration::ZERO } else { RETRY }
    }

    /// Puts the sound of a few takes that are older than is wanted and not marked into the trash; a take that begins waits for no
    /// more than these.
    fn forget(&mut self) {
        let (Some(journal), Some((days, gone)), None) =
            (&self.journal, self.forgets, &self.running)
        else {
            return;
        };
        match journal.forget_sound_older_than(days, TAKES_AT_A_TIME) {
            Ok(Forgotten { gone: now, .. }) if now.len() == TAKES_AT_A_TIME => {
                self.forgets = Some((days, gone + TAKES_AT_A_TIME));
            }
            Ok(Forgotten { gone: now, next, left }) => {
                self.forgets = None;
                let gone = gone + now.len();
                if gone > 0 {
                    let takes = counted(gone, "take");
                    (self.tell)(TakeState::Word(format!(
                        "the sound of {takes} older than {days} days has gone to the trash, if this system has one; their measures stay"
                    )));
                }
                if !next.is_empty() {
                    let takes = counted(next.len(), "take");
                    (self.tell)(TakeState::Word(format!(
                        "the sound of {takes} older than {days} days goes to the trash at the next start, as the settings \
                         ask; what you mark as kept in the Journal stays"
                    )));
                }
                left.into_iter().for_each(|words| (self.tell)(TakeState::Word(words)));
            }
            Err(error) => {
                self.forgets = None;
                self.trouble(&error);
            }
        }
    }

    /// A take that cannot go on is ended here; the next one tries again.
    fn check(&mut self, done: Result<(), JournalError>) {
        if let Err(error) = done {
            self.trouble(&error);
            // What is on the disk already is mended when the journal is opened next.
            self.running = None;
            for Aside { zero: start, .. } in self.aside.drain(..) {
                (self.tell)(TakeState::Gone { start });
            }
            self.journal = None;
            self.share();
            self.tried = None;
        }
    }

    fn work(&mut self, job: Job) {
        match job {
            Job::Begin { rate_hz, device, zero } => {
                self.begin(rate_hz, device, zero);
            }
            Job::Sound(samples) => self.with_running(|take| take.sound(&samples)),
            Job::Lost(samples) => self.with_running(|take| take.lost(samples)),
            Job::Note(note) => {
                self.note_ends.push(Secs(self.zero.0 + note.end.0));
                self.with_running(|take| take.note(&note));
                std::mem::take(&mut self.early).into_iter().for_each(|early| self.answer(early));
            }
            Job::Finish => self.finish(),
            Job::Discard => {
                if let Some(take) = self.running.take() {
                    let done = take.discard();
                    let well = done.is_ok();
                    self.check(done);
                    if well {
                        (self.tell)(TakeState::Ready);
                    }
                }
            }
            Job::SetAside if self.meant => self.finish(),
            Job::SetAside => self.set_aside(),
            Job::BringBack(zero) => self.bring_back(zero),
            Job::Answer(answered) => self.answer(answered),
            Job::Turns(turns) => self.turns(&turns),
            Job::Lesson(time, part) => self.lesson(time, part.as_ref()),
            Job::Pass(time, pass) => self.pass(time, *pass),
            Job::Forget(days) => self.forgets = days.map(|days| (days, 0)),
            Job::Context(context) => self.context = *context,
            // Seen to by the loop.
            Job::End => {}
        }
    }

    fn with_running(&mut self, work: impl FnOnce(&mut TakeWriter) -> Result<(), JournalError>) {
        if let Some(take) = &mut self.running {
            let done = work(take);
            self.check(done);
        }
    }

    fn begin(&mut self, rate_hz: u32, device: String, zero: Secs) {
        self.finish();
        (self.note_ends, self.zero, self.meant) = (Vec::new(), zero, false);
        // A clock that began again knows nothing of what was played later than now.
        self.finished.retain(|finished| finished.zero < zero);
        self.early.clear();
        self.open();
        let Some(journal) = &self.journal else { return };
        let context = Context { device, ..self.context.clone() };
        match journal.begin(&context, rate_hz) {
            Ok(take) => {
                self.running = Some(take);
                (self.tell)(TakeState::Running { start: self.zero });
            }
            Err(error) => self.check(Err(error)),
        }
    }

    fn finish(&mut self) {
        if let Some(take) = self.running.take() {
            let note_ends = std::mem::take(&mut self.note_ends);
            self.finish_take(take, note_ends, self.zero);
        }
    }

    fn finish_take(&mut self, take: TakeWriter, note_ends: Vec<Secs>, zero: Secs) {
        match take.finish() {
            Ok(kept) => {
                let length = Secs(kept.length_s);
                if self.finished.len() == MOST_FINISHED {
                    self.finished.remove(0);
                }
                let place = self.finished.partition_point(|other| other.zero < zero);
                self.finished.insert(place, Finished { id: kept.id.clone(), note_ends, zero });
                (self.tell)(TakeState::Kept { id: kept.id, start: zero, length });
            }
            Err(error) => self.check(Err(error)),
        }
    }

    /// The running take did not sound bowed: it waits to be brought back.
    fn set_aside(&mut self) {
        let Some(take) = self.running.take() else { return };
        let note_ends = std::mem::take(&mut self.note_ends);
        self.aside.push(Aside { take, note_ends, zero: self.zero, since: Instant::now() });
        (self.tell)(TakeState::SetAside { start: self.zero });
    }

    /// Of what waits to be brought back only the newest so many stay, and none that waited longer.
    fn drop_aside(&mut self, most: usize, longest: Duration) {
        while self.aside.len() > most
            || self.aside.first().is_some_and(|aside| aside.since.elapsed() > longest)
        {
            let Aside { take, zero: start, .. } = self.aside.remove(0);
            (self.tell)(TakeState::Gone { start });
            self.check(take.discard());
        }
    }

    /// The player meant the take that begins here.
    fn bring_back(&mut self, zero: Secs) {
        if let Some(place) = self.aside.iter().position(|aside| aside.zero == zero) {
            let Aside { take, note_ends, .. } = self.aside.remove(place);
            self.finish_take(take, note_ends, zero);
            if self.running.is_some() {
                (self.tell)(TakeState::Running { start: self.zero });
            }
        } else if self.running.is_some() && self.zero == zero {
            self.meant = true;
        }
    }

    /// The take that was finished and holds what was played at `time`.
    fn finished_at(&self, time: Secs) -> Option<&Finished> {
        self.finished.iter().rfind(|finished| finished.zero <= time)
    }

    /// The player said what was heard of a note: it is in the running take, or in the last one.
    fn answer(&mut self, answered: Answered) {
        let among = |ends: &[Secs]| {
            let at = |end: &Secs| (end.0 - answered.note_end.0).abs() < SAME_NOTE_SECS;
            Some(journal::Answer {
                note: ends.iter().rposition(at)?,
                question: answered.question.word().to_owned(),
                answer: answered.answer.word().to_owned(),
                measured: answered.truth.map(|truth| truth.word().to_owned()),
            })
        };
        let in_last = self
            .finished_at(answered.note_end)
            .map(|last| (last.id.clone(), among(&last.note_ends)));
        if let (Some(take), Some(answer)) = (&mut self.running, among(&self.note_ends)) {
            let done = take.answer(answer);
            self.check(done);
        } else if let (Some(journal), Some((id, Some(answer)))) = (&self.journal, in_last) {
            if let Err(error) = journal.answer(&id, answer) {
                self.trouble(&error);
            }
        } else if self.running.is_some() {
            self.early.push(answered);
        }
    }

    /// What was played at `time` is this part of a lesson: it lies in the running take, or in the last one.
    fn lesson(&mut self, time: Secs, part: Option<&LessonPart>) {
        if self.running.is_some() && time >= self.zero {
            self.with_running(|take| take.lesson(part));
        } else if let (Some(journal), Some(last)) = (&self.journal, self.finished_at(time))
            && let Err(error) = journal.lesson(&last.id, part)
        {
            self.trouble(&error);
        }
    }

    /// A pass that was judged: it lies in the running take, or in the last one where that ended first.
    fn pass(&mut self, time: Secs, pass: PassOf) {
        let from = |mut pass: PassOf, zero: Secs| {
            for note in &mut pass.notes {
                note.start_s = rounded(Secs(note.start_s), zero);
                note.end_s = rounded(Secs(note.end_s), zero);
            }
            pass
        };
        if self.running.is_some() && time >= self.zero {
            let pass = from(pass, self.zero);
            self.with_running(|take| take.pass(pass));
        } else if let (Some(journal), Some(last)) = (&self.journal, self.finished_at(time))
            && let Err(error) = journal.pass(&last.id, from(pass, last.zero))
        {
            self.trouble(&error);
        }
    }

    /// The turns of a round that was judged: it lies in the running take, or in the last one where that ended
    /// first.
    fn turns(&mut self, turns: &[TurnOf]) {
        let Some(first) = turns.first() else { return };
        let from =
            |zero: Secs| -> Vec<Turn> { turns.iter().map(|turn| turn.written(zero)).collect() };
        if self.running.is_some() && first.start >= self.zero {
            let turns = from(self.zero);
            self.with_running(|take| take.turns(turns));
        } else if let (Some(journal), Some(last)) = (&self.journal, self.finished_at(first.start))
            && let Err(error) = journal.turns(&last.id, &from(last.zero))
        {
            self.trouble(&error);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::PathBuf;

    use coach::{Answer, Question};

    use super::super::queue::{Jobs, queue};
    use super::super::tests::played_note;
    use super::*;
    use crate::last_wait::last_wait;

    fn folder(name: &str) -> PathBuf {
        let path = std::env::temp_dir().join(format!("takes-{}-{name}", std::process::id()));
        std::fs::remove_dir_all(&path).ok();
        path
    }

    fn context() -> Context {
        Context {
            instrument: Some("viola".to_owned()),
            player: "Noor".to_owned(),
            ..Context::default()
        }
    }

    fn hand_on(sender: &Jobs, jobs: Vec<Job>) {
        for job in jobs {
            match job {
                Job::Sound(samples) => assert!(sender.send_sound(0, samples), "there is room"),
                job => sender.send(job),
            }
        }
    }

    /// What is told while these jobs are done.
    fn told(folder: &Path, jobs: Vec<Job>) -> Vec<TakeState> {
        let (sender, waiting) = queue();
        hand_on(&sender, jobs);
        sender.send(Job::End);
        let told = Mutex::new(Vec::new());
        write(folder, context(), &waiting, (&Mutex::default(), &last_wait().0), &|state| {
            told.lock().expect("one thread").push(state);
        });
        told.into_inner().expect("one thread")
    }

    fn turns(finger: u8, made: u32) -> Job {
        Job::Turns(vec![TurnOf {
            start: Secs(10.0),
            end: Secs(14.0),
            finger,
            made,
            asked: Some(4),
            shuffle: Some(u64::from(made) << 60),
            secure: true,
        }])
    }

    fn begin() -> Job {
        Job::Begin { rate_hz: 48_000, device: "USB Audio".to_owned(), zero: Secs(10.0) }
    }

    #[test]
    fn a_take_is_written_with_its_surroundings_and_an_answer_that_came_late() {
        let folder = folder("answer");
        let note = played_note();
        let of = |note_end| {
            let (question, truth) = (Question::Centre, Some(Answer::OnIt));
            Job::Answer(Answered {
                question,
                answer: Answer::High,
                truth,
                note_end: Secs(note_end),
                measured: coach::Numbers::default(),
            })
        };
        let told = told(
            &folder,
            vec![
                begin(),
                Job::Sound(vec![0.1; 48_000]),
                // The player was quicker than the second look at the note.
                of(10.9),
                Job::Note(Box::new(note.clone())),
                Job::Note(Box::new(note.later(Secs(2.0)))),
                of(12.9),
                // The next note ended before the question about this one was answered.
                of(10.9),
                turns(3, 3),
                Job::Finish,
                of(12.9),
                // No note of this take.
                of(9.9),
                turns(2, 4),
            ],
        );
        assert_eq!(told[..2], [TakeState::Ready, TakeState::Running { start: Secs(10.0) }]);
        assert!(matches!(&told[2], TakeState::Kept { length, .. } if length.0 == 1.0));
        let journal = Journal::open(&folder).expect("the writer let go of it").journal;
        let takes = journal.takes().expect("read");
        let file = journal.take(&takes[0]).expect("read");
        assert_eq!(file.instrument.as_deref(), Some("viola"));
        assert_eq!(file.device, "USB Audio");
        assert_eq!(file.player, "Noor");
        assert_eq!(file.notes[0].finger, Some(2), "as it was judged last");
        let counts: Vec<_> = file.turns.iter().map(|turn| (turn.made, turn.asked)).collect();
        assert_eq!(counts, [(3, Some(4)), (4, Some(4))]);
        assert_eq!(file.turns[0].end_s, 4.0, "from the start of the take");
        assert_eq!(file.shuffles(), [3 << 60, 4 << 60]);
        assert_eq!(file.notes.len(), 2);
        let answered: Vec<_> = file.answers.iter().map(|answer| answer.note).collect();
        assert_eq!(answered, [0, 1, 0, 1], "each belongs to its own note");
        assert_eq!(file.answers[0].measured.as_deref(), Some("on it"));
        drop(journal);
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }

    /// The process that does it has a home, and a trash, of its own.
    #[cfg(target_os = "linux")]
    #[test]
    fn old_sound_is_told_of_at_one_start_and_goes_at_the_next_but_not_while_something_is_played() {
        const CHILD: &str = "EVENWAVE_TEST_HOME";
        if std::env::var_os(CHILD).is_some() {
            return old_sound_goes();
        }
        let home = folder("forget-home");
        let test = std::thread::current().name().map(str::to_owned).expect("tests have names");
        let status = std::process::Command::new(std::env::current_exe().expect("it is running"))
            .args(["--exact", &test])
            .env(CHILD, "1")
            .env("XDG_DATA_HOME", &home)
            .status();
        assert!(status.expect("it can be started").success());
        let files = std::fs::read_dir(home.join("Trash/files"));
        assert_eq!(files.expect("there is a trash").count(), 2 * TAKES_AT_A_TIME + 5);
        std::fs::remove_dir_all(home).expect("the test's own folder");
    }

    #[cfg(target_os = "linux")]
    fn old_sound_goes() {
        let folder = folder("forget");
        let journal = Journal::open(&folder).expect("free").journal;
        let now = jiff::Zoned::now();
        let take = |days: usize| {
            let span = jiff::Span::new().days(days as i64);
            let then = now.checked_sub(span).expect("a time");
            let mut take = journal.begin_at(&then, &context(), 48_000).expect("a writable folder");
            take.sound(&[0.1; 4_800]).expect("room on the disk");
            let id = take.finish().expect("room on the disk").id;
            let file = std::fs::File::options().write(true).open(journal.sound(&id));
            file.and_then(|file| file.set_modified(then.timestamp().into())).expect("dated");
            id
        };
        // Something was played each week: a time in which nothing is known would not be counted.
        let mut ids: Vec<TakeId> = (0..2 * TAKES_AT_A_TIME + 3).map(|day| take(60 - day)).collect();
        ids.extend([36, 31].map(take));
        let young = [25, 19, 13, 7].map(take);
        drop(journal);
        let (sender, waiting) = queue();
        let told = Mutex::new(Vec::new());
        let with_sound = || {
            let has = |id: &&TakeId| folder.join(id.to_string()).join("sound.flac").exists();
            ids.iter().filter(has).count()
        };
        let end = sender.clone();
        let told_so = |state: TakeState| {
            match &state {
                // Nothing goes while a take is played.
                TakeState::Kept { .. } => assert_eq!(with_sound(), ids.len()),
                TakeState::Word(_) => end.send(Job::End),
                _ => {}
            }
            told.lock().expect("one thread").push(state);
        };
        let started = || {
            let sound = Job::Sound(vec![0.1; 4_800]);
            hand_on(&sender, vec![begin(), Job::Forget(Some(30)), sound, Job::Finish]);
            write(&folder, context(), &waiting, (&Mutex::default(), &last_wait().0), &told_so);
            match told.lock().expect("one thread").last() {
                Some(TakeState::Word(words)) => words.clone(),
                other => panic!("{other:?}"),
            }
        };
        let words = started();
        let due = "the sound of 21 takes older than 30 days goes to the trash at the next start";
        assert!(words.starts_with(due), "{words}");
        assert_eq!(with_sound(), ids.len());
        let words = started();
        assert!(words.starts_with("the sound of 21 takes older than 30 days has gone"), "{words}");
        assert_eq!(with_sound(), 0);
        assert!(young.iter().all(|id| folder.join(id.to_string()).join("sound.flac").exists()));
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }

    #[test]
    fn a_program_that_ends_finishes_its_take_and_what_was_none_leaves_nothing() {
        for ended in [Job::Discard, Job::SetAside] {
            let folder = folder("end");
            let told = told(
                &folder,
                vec![
                    begin(),
                    Job::Sound(vec![0.1; 4_800]),
                    ended,
                    begin(),
                    Job::Sound(vec![0.1; 9_600]),
                ],
            );
            let kept = told.iter().filter_map(|state| match state {
                TakeState::Kept { length, .. } => Some(length.0),
                _ => None,
            });
            assert_eq!(kept.collect::<Vec<_>>(), [0.2]);
            let journal = Journal::open(&folder).expect("free").journal;
            assert_eq!(journal.takes().expect("read").len(), 1);
            drop(journal);
            std::fs::remove_dir_all(folder).expect("the test's own folder");
        }
    }

    /// A take that begins here on the ear's clock and does not sound bowed.
    fn doubtful(zero: f64) -> [Job; 4] {
        [
            Job::Begin { rate_hz: 48_000, device: "USB Audio".to_owned(), zero: Secs(zero) },
            Job::Sound(vec![0.1; 48_000]),
            Job::Note(Box::new(played_note())),
            Job::SetAside,
        ]
    }

    #[test]
    fn what_did_not_sound_bowed_can_be_brought_back_until_four_others_wait() {
        let folder = folder("aside");
        let mut jobs: Vec<Job> =
            [10.0, 20.0, 30.0, 40.0, 50.0].map(doubtful).into_iter().flatten().collect();
        jobs.push(Job::BringBack(Secs(20.0)));
        // What was played in it is told once it is judged.
        jobs.push(Job::Turns(vec![TurnOf {
            start: Secs(20.1),
            end: Secs(20.9),
            finger: 3,
            made: 4,
            asked: None,
            shuffle: None,
            secure: true,
        }]));
        // It went when the fifth came.
        jobs.push(Job::BringBack(Secs(10.0)));
        // This one is brought back before it ends.
        let [begins, sound, note, ends] = doubtful(60.0);
        jobs.extend([begins, sound, note, Job::BringBack(Secs(60.0)), ends]);
        let told = told(&folder, jobs);
        let kept = told.iter().filter_map(|state| match state {
            TakeState::Kept { start, .. } => Some(start.0),
            _ => None,
        });
        assert_eq!(kept.collect::<Vec<_>>(), [20.0, 60.0], "{told:?}");
        let gone = told.iter().filter(|state| matches!(state, TakeState::Gone { .. }));
        assert_eq!(gone.count(), 4, "one for the fifth, three at the end");
        let journal = Journal::open(&folder).expect("free").journal;
        let takes = journal.takes().expect("read");
        assert_eq!(takes.len(), 2);
        let fingers = takes.iter().map(|id| journal.take(id).expect("read").notes[0].finger);
        assert_eq!(fingers.flatten().collect::<Vec<_>>(), [3]);
        drop(journal);
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }

    #[test]
    fn a_folder_that_cannot_be_is_told_and_nothing_falls_over() {
        let folder = folder("none");
        std::fs::write(&folder, "a file in its place").expect("written");
        let told = told(&folder, vec![begin(), Job::Sound(vec![0.1; 480]), Job::Finish]);
        let TakeState::Trouble(words) = &told[0] else {
            panic!("{told:?}");
        };
        assert!(words.contains(&folder.display().to_string()), "{words}");
        std::fs::remove_file(folder).expect("the test's own file");
    }
}
