//! Takes: what is played is kept, from a little before its first note to the silence after its last.
//!
//! The listener hands sound and notes to a thread of its own, which does nothing but write.

mod keeper;
mod writer;

use std::path::PathBuf;
use std::sync::mpsc::{SyncSender, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};

use coach::{Answered, TakeOptions};
use journal::{Context, Journal};
use tuning::Secs;
use vibrato::Note;

pub use keeper::Keeper;

/// What waits for the writer at most: some ten seconds of blocks.
const ROOM: usize = 2_048;

/// What the player wants of takes; may change at any time.
#[derive(Clone, Debug)]
pub struct Wish {
    options: Arc<Mutex<TakeOptions>>,
}

impl Wish {
    fn new(options: TakeOptions) -> Self {
        Self { options: Arc::new(Mutex::new(options)) }
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
    /// The ear answered about the last note.
    Answer(Answered),
    /// Who played what, known after a round.
    Turns(Vec<TurnOf>),
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
    Running,
    /// The last one was kept.
    Kept {
        /// Name of its folder.
        name: String,
        /// How long it is.
        length: Secs,
    },
    /// Takes cannot be written, for this reason.
    Trouble(String),
    /// Something the player should know, such as a take that was mended.
    Word(String),
}

/// The writer's thread; dropping it finishes what is being written.
pub struct Takes {
    wish: Wish,
    jobs: SyncSender<Job>,
    journal: Arc<Mutex<Option<Journal>>>,
    thread: Option<JoinHandle<()>>,
}

impl Takes {
    /// Starts the thread, which opens the journal in `folder`. `tell` is called on it.
    pub fn start(
        folder: PathBuf,
        options: TakeOptions,
        context: Context,
        tell: impl Fn(TakeState) + Send + 'static,
    ) -> std::io::Result<Self> {
        let (jobs, waiting) = sync_channel(ROOM);
        let journal = Arc::default();
        let opened = Arc::clone(&journal);
        let thread = thread::Builder::new()
            .name("write takes".to_owned())
            .spawn(move || writer::write(&folder, context, &waiting, &opened, &tell))?;
        Ok(Self { wish: Wish::new(options), jobs, journal, thread: Some(thread) })
    }

    /// What follows one source for it.
    pub fn keeper(&self) -> Keeper {
        Keeper::new(self.wish.clone(), self.jobs.clone())
    }

    /// The player wants takes to be kept in this way.
    pub fn set(&self, options: TakeOptions) {
        self.wish.set(options);
    }

    /// What is written with the next takes; the device is the one that is heard.
    pub fn surround(&self, context: Context) {
        self.jobs.send(Job::Context(Box::new(context))).ok();
    }

    /// The sound of takes that are not marked and older than so many days goes, from now on and while nothing is
    /// played; `None` keeps it.
    pub fn forget_sound(&self, days: Option<u32>) {
        self.jobs.send(Job::Forget(days)).ok();
    }

    /// Who played what in the round that has just ended.
    pub fn turns(&self, turns: Vec<TurnOf>) {
        self.jobs.send(Job::Turns(turns)).ok();
    }

    /// What hands out the journal while it is open for writing; who gets it lets go of it soon.
    pub fn journal(&self) -> impl Fn() -> Option<Journal> + Send + 'static {
        let journal = Arc::clone(&self.journal);
        move || {
            let journal = journal.lock().unwrap_or_else(PoisonError::into_inner);
            journal.clone()
        }
    }

    /// The ear answered about the note that ended last.
    pub fn answer(&self, answered: Answered) {
        self.jobs.send(Job::Answer(answered)).ok();
    }
}

impl Drop for Takes {
    fn drop(&mut self) {
        self.jobs.send(Job::End).ok();
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}
