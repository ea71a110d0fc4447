//! Looks at ended notes once more, on a thread of its own.

use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread;

use late_sound::Excerpt;
use vibrato::Note;

/// Takes notes as they were heard and gives them back settled, in the same order.
pub(super) struct SecondLook {
    /// `None` where there is no thread: then notes stay as they were heard.
    asked: Option<Sender<Excerpt>>,
    settled: Receiver<Note>,
}

impl SecondLook {
    /// Starts the thread, which ends with this.
    pub(super) fn start() -> Self {
        let (asked, waiting) = channel::<Excerpt>();
        let (done, settled) = channel();
        let work = move || {
            for excerpt in waiting {
                if done.send(excerpt.look_again().0).is_err() {
                    break;
                }
            }
        };
        let started = thread::Builder::new().name("second look".to_owned()).spawn(work);
        Self { asked: started.is_ok().then_some(asked), settled }
    }

    /// Whether this note comes back settled later on.
    pub(super) fn ask(&self, ended: Excerpt) -> bool {
        let open = ended.is_open();
        open && self.asked.as_ref().is_some_and(|asked| asked.send(ended).is_ok())
    }

    /// A note that is settled by now.
    pub(super) fn next(&self) -> Option<Note> {
        self.settled.try_recv().ok()
    }

    /// Waits for all that was asked for.
    pub(super) fn finish(&mut self) -> Vec<Note> {
        self.asked = None;
        self.settled.iter().collect()
    }
}
