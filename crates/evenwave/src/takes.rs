//! Takes: what is played is kept, from a little before its first note to the silence after its last.
//!
//! The listener hands sound and notes to a thread of its own, which does nothing but write.

mod keeper;
mod queue;
mod recent;
mod writer;

use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;

use coach::{Answered, Judged, Played, TakeOptions};
use journal::{Context, Journal, LessonPart, PassOf, TakeId, Turn};
use tuning::Secs;
use vibrato::Note;

use crate::last_wait::{LastWait, last_wait};
use crate::words::aside;

pub use keeper::Keeper;
use queue::Jobs;
pub use recent::RecentTakes;

/// What the player wants of takes; may change at any time.
#[derive(Clone, Debug)]
pub struct Wish {
    options: Arc<Mutex<TakeOptions>>,
    /// What is played now was asked for by key: it is kept, whatever it is.
    asked: Arc<AtomicBool>,
}

impl Wish {
    fn new(options: TakeOptions) -> Self {
        Self { options: Arc::new(Mutex::new(options)), asked: Arc::default() }
    }

    fn options(&self) -> TakeOptions {
        *self.options.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn set(&self, options: TakeOptions) {
        *self.options.lock().unwrap_or_else(PoisonError::into_inner) = options;
    }
}

/// A finger's turn in a drill, on the ear's clock.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnOf {
    /// Its start.
    pub start: Secs,
    /// Its end.
    pub end: Secs,
    /// The finger.
    pub finger: u8,
    /// Oscillations made.
    pub made: u32,
    /// Oscillations asked for, where they were counted.
    pub asked: Option<u32>,
    /// What the regions of its round were shuffled by, where they were.
    pub shuffle: Option<u64>,
    /// Whether its round was secure.
    pub secure: bool,
}

impl TurnOf {
    /// The turns of a judged round; `shuffle` is what its regions were shuffled by.
    pub fn all(judged: &Judged, shuffle: Option<u64>) -> Vec<Self> {
        let turn = |turn: &Played| Self {
            start: turn.start,
            end: turn.end,
            finger: judged.asked[turn.asked].finger,
            made: turn.made,
            asked: judged.asked[turn.asked].count,
            shuffle,
            secure: judged.holds,
        };
        judged.turns.iter().map(turn).collect()
    }

    /// As a take keeps it that begins at `zero`.
    pub fn written(&self, zero: Secs) -> Turn {
        Turn {
            start_s: rounded(self.start, zero),
            end_s: rounded(self.end, zero),
            finger: self.finger,
            made: self.made,
            asked: self.asked,
            shuffle: self.shuffle,
            secure: Some(self.secure),
        }
    }
}

/// A time from the start of a take, to a millisecond: no turn is known better.
pub(crate) fn rounded(time: Secs, zero: Secs) -> f64 {
    ((time.0 - zero.0) * 1e3).round() / 1e3
}

/// What the writer is given, in the order of time.
#[derive(Clone, Debug, PartialEq)]
enum Job {
    /// A take begins.
    Begin {
        rate_hz: u32,
        device: String,
        /// Where it begins on the ear's clock.
        zero: Secs,
    },
    /// Its sound goes on.
    Sound(Vec<f32>),
    /// So many samples are missing here.
    Lost(u64),
    /// A note ended; its times count from the start of the take.
    Note(Box<Note>),
    /// The take is over and is kept.
    Finish,
    /// It was no take.
    Discard,
    /// It did not sound bowed: it is set aside, and goes unless it is brought back.
    SetAside,
    /// The take that begins here on the ear's clock was meant all the same, also while it is still written.
    BringBack(Secs),
    /// The player said what was heard of a note.
    Answer(Answered),
    /// Who played what, known after a round.
    Turns(Vec<TurnOf>),
    /// The take that holds what was played at this time on the ear's clock is this part of a lesson; `None` for none.
    Lesson(Secs, Option<LessonPart>),
    /// A pass through a passage is over, of which something sounded at this time on the ear's clock; its own times are on that
    /// clock, too.
    Pass(Secs, Box<PassOf>),
    /// The sound of takes that are not marked and older than so many days goes; `None` keeps it.
    Forget(Option<u32>),
    /// What is written with the next takes.
    Context(Box<Context>),
    /// The program ends.
    End,
}

/// How it stands with the takes, for the window.
#[derive(Clone, Debug, PartialEq)]
pub enum TakeState {
    /// The next note starts one.
    Ready,
    /// One is being written.
    Running {
        /// Where it begins on the ear's clock.
        start: Secs,
    },
    /// The last one was kept.
    Kept {
        /// Its name.
        id: TakeId,
        /// Where it begins on the ear's clock.
        start: Secs,
        /// How long it is.
        length: Secs,
    },
    /// What was heard last did not sound bowed: it is not kept unless it is brought back.
    SetAside {
        /// Where it begins on the ear's clock.
        start: Secs,
    },
    /// What did not sound bowed and began here is gone: it waited too long to be brought back.
    Gone {
        /// Where it began on the ear's clock.
        start: Secs,
    },
    /// Takes cannot be written, for this reason.
    Trouble(String),
    /// Something the player should know, such as a take that was mended.
    Word(String),
}

/// Tells how it stands with the takes.
type Tell = Arc<dyn Fn(TakeState) + Send + Sync>;

/// The writer's thread; dropping it finishes what is being written.
pub struct Takes {
    wish: Wish,
    jobs: Jobs,
    journal: Arc<Mutex<Option<Journal>>>,
    tell: Tell,
    writing: LastWait,
}

impl Takes {
    /// Starts the thread, which opens the journal in `folder`. `tell` is called on it, and on the threads of keepers.
    pub fn start(
        folder: PathBuf,
        options: TakeOptions,
        context: Context,
        tell: impl Fn(TakeState) + Send + Sync + 'static,
    ) -> std::io::Result<Self> {
        let (jobs, waiting) = queue::queue();
        let journal = Arc::default();
        let opened = Arc::clone(&journal);
        let tell: Tell = Arc::new(tell);
        let writer_tell = Arc::clone(&tell);
        let (steps, writing) = last_wait();
        thread::Builder::new().name("write takes".to_owned()).spawn(move || {
            writer::write(&folder, context, &waiting, (&opened, &steps), &*writer_tell);
        })?;
        Ok(Self { wish: Wish::new(options), jobs, journal, tell, writing })
    }

    /// What follows one source for it.
    pub fn keeper(&self) -> Keeper {
        Keeper::new(self.wish.clone(), self.jobs.clone(), Arc::clone(&self.tell))
    }

    /// The player wants takes to be kept in this way.
    pub fn set(&self, options: TakeOptions) {
        self.wish.set(options);
    }

    /// What is played from now on was asked for by key, or is not any more: such a take is kept, whatever it is.
    pub fn asked_for(&self, asked: bool) {
        self.wish.asked.store(asked, Relaxed);
    }

    /// The take that begins at `start` on the ear's clock did not sound bowed, and was meant all the same.
    pub fn bring_back(&self, start: Secs) {
        self.jobs.send(Job::BringBack(start));
    }

    /// What is written with the next takes; the device is the one that is heard.
    pub fn surround(&self, context: Context) {
        self.jobs.send(Job::Context(Box::new(context)));
    }

    /// The sound of takes that are not marked and older than so many days goes, from now on and while nothing is
    /// played; `None` keeps it.
    pub fn forget_sound(&self, days: Option<u32>) {
        self.jobs.send(Job::Forget(days));
    }

    /// Who played what in the round that has just ended.
    pub fn turns(&self, turns: Vec<TurnOf>) {
        self.jobs.send(Job::Turns(turns));
    }

    /// The take that holds what was played at `time` on the ear's clock is this part of a lesson; `None` for none.
    pub fn lesson_part(&self, time: Secs, part: Option<LessonPart>) {
        self.jobs.send(Job::Lesson(time, part));
    }

    /// What was made of a pass through a passage, of which something sounded at `time`; its times are on the ear's clock.
    pub fn pass(&self, time: Secs, pass: PassOf) {
        self.jobs.send(Job::Pass(time, Box::new(pass)));
    }

    /// What hands out the journal while it is open for writing; who gets it lets go of it soon.
    pub fn journal(&self) -> impl Fn() -> Option<Journal> + Send + 'static {
        let journal = Arc::clone(&self.journal);
        move || {
            let journal = journal.lock().unwrap_or_else(PoisonError::into_inner);
            journal.clone()
        }
    }

    /// The player said what was heard of a note.
    pub fn answer(&self, answered: Answered) {
        self.jobs.send(Job::Answer(answered));
    }
}

impl Drop for Takes {
    fn drop(&mut self) {
        self.jobs.send(Job::End);
        if !self.writing.wait() {
            aside("the disk does not answer: the end of the last take may be missing in it");
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;
    use std::time::Duration;

    use coach::{Answer, Question};
    use tuning::{Cents, Hz};
    use vibrato::{Event, Measure};

    use super::*;

    const RATE_HZ: u32 = 48_000;

    /// A note of a take.
    pub(super) fn played_note() -> vibrato::Note {
        vibrato::Note {
            start: Secs(0.1),
            end: Secs(0.9),
            heard_until: Secs(0.9),
            midi: 57,
            reference: Hz(220.0),
            f0: Measure { value: Hz(220.0), se: None },
            offset: Measure { value: Cents(0.0), se: None },
            level_dbfs: -20.0,
            confidence: 0.9,
            unsteadiness: Cents(1.0),
            vibrato: None,
            course: vibrato::PitchCourse::Straight,
            rebows: Vec::new(),
            remarks: vibrato::Remarks::default(),
        }
    }

    #[test]
    fn a_disk_that_stands_still_holds_nobody_up_and_what_was_small_is_not_lost() {
        let folder = std::env::temp_dir().join(format!("takes-{}-stalled", std::process::id()));
        std::fs::remove_dir_all(&folder).ok();
        let (go_on, stalled) = channel::<()>();
        let stalled = Mutex::new(stalled);
        let (tell, told) = channel();
        let options = TakeOptions { kept: true, ends_after: Secs(2.0), before: Secs(0.0) };
        let takes = Takes::start(folder.clone(), options, Context::default(), move |state| {
            if state == TakeState::Ready {
                // The writer comes no further, as with a disk that does not answer.
                stalled.lock().expect("one thread").recv().ok();
            }
            tell.send(state).ok();
        });
        let takes = takes.expect("a thread");
        let (done, waited) = channel();
        let window = thread::spawn(move || {
            let context = Context { player: "Noor".to_owned(), ..Context::default() };
            takes.surround(context);
            let mut keeper = takes.keeper();
            keeper.sound(0, &[0.1; 480], RATE_HZ);
            keeper.hear(&Event::NoteBegan { start: Secs(0.0), midi: 57, reference: Hz(220.0) });
            // More than there can be room for, which is the listener's to know.
            for _ in 0..10_000 {
                keeper.sound(0, &[0.1; 480], RATE_HZ);
            }
            keeper.note(&played_note(), true);
            takes.answer(Answered {
                question: Question::Centre,
                answer: Answer::High,
                truth: None,
                note_end: Secs(0.9),
                measured: coach::Numbers::default(),
            });
            let turn = TurnOf {
                start: Secs(0.0),
                end: Secs(1.0),
                finger: 2,
                made: 4,
                asked: None,
                shuffle: None,
                secure: true,
            };
            takes.turns(vec![turn]);
            takes.forget_sound(None);
            keeper.break_off();
            done.send(()).ok();
            (takes, keeper)
        });
        let held_up = waited.recv_timeout(Duration::from_secs(20)).is_err();
        drop(go_on);
        assert!(!held_up, "the disk held the window up");
        drop(window.join().expect("it is through"));
        let told: Vec<TakeState> = told.try_iter().collect();
        let journal = Journal::open(&folder).expect("the writer let go of it").journal;
        let takes = journal.takes().expect("read");
        let file = journal.take(&takes[0]).expect("read");
        let small = (file.notes.len(), file.answers.len(), file.turns.len());
        assert_eq!((file.player.as_str(), small), ("Noor", (1, 1, 1)), "{told:?}");
        let words = told.iter().filter(|state| matches!(state, TakeState::Word(_)));
        assert_eq!(words.count(), 1, "what is missing in the take is told once: {told:?}");
        drop(journal);
        std::fs::remove_dir_all(folder).expect("the test's own folder");
    }
}
