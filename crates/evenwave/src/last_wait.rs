//! Leaving: a thread that still writes is waited for as long as it comes on, and no longer.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

/// A thread that came no step further for so long waits for a disk that does not answer any more. That must not keep the
/// program; what of a take is on the disk by then is mended, and told, at the next start.
const STILL: Duration = Duration::from_secs(10);

/// The thread's end: it says that it comes on, and drops this when it is done.
pub(crate) struct Steps {
    made: Arc<AtomicUsize>,
    _until: Sender<()>,
}

impl Steps {
    /// One more thing is done.
    pub(crate) fn step(&self) {
        self.made.fetch_add(1, Relaxed);
    }
}

/// The end of who waits.
pub(crate) struct LastWait {
    made: Arc<AtomicUsize>,
    ended: Receiver<()>,
}

/// Both ends.
pub(crate) fn last_wait() -> (Steps, LastWait) {
    let (until, ended) = channel();
    let made = Arc::<AtomicUsize>::default();
    (Steps { made: Arc::clone(&made), _until: until }, LastWait { made, ended })
}

impl LastWait {
    /// Waits until the thread is done; `false` where it came no further.
    pub(crate) fn wait(&self) -> bool {
        self.wait_while_it_moves(STILL)
    }

    fn wait_while_it_moves(&self, still: Duration) -> bool {
        let mut made = self.made.load(Relaxed);
        while self.ended.recv_timeout(still) == Err(RecvTimeoutError::Timeout) {
            let now = self.made.load(Relaxed);
            if now == made {
                return false;
            }
            made = now;
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use std::thread;

    use super::*;

    const STILL: Duration = Duration::from_millis(400);

    #[test]
    fn who_is_slow_is_waited_for_longer_than_one_that_stands_still_is() {
        let (steps, slow) = last_wait();
        let thread = thread::spawn(move || {
            for _ in 0..8 {
                thread::sleep(STILL / 4);
                steps.step();
            }
        });
        assert!(slow.wait_while_it_moves(STILL), "it came on");
        thread.join().expect("done");
        let (steps, stands) = last_wait();
        assert!(!stands.wait_while_it_moves(STILL), "it does not come on");
        drop(steps);
        assert!(stands.wait_while_it_moves(STILL), "it is done");
    }
}
