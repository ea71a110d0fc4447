//! What waits for the writer: sound up to a bound, and all that is small without one. Nobody who hands something on
//! waits for the disk.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering::SeqCst};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::Duration;

use super::Job;

/// Sound that waits at most: 40 s at 48 kHz, in 8 MB.
const MOST_SAMPLES: usize = 40 * 48_000;

/// The end that hands on.
#[derive(Clone)]
pub(super) struct Jobs {
    jobs: Sender<Job>,
    waiting_samples: Arc<AtomicUsize>,
}

/// The writer's end.
pub(super) struct JobQueue {
    jobs: Receiver<Job>,
    waiting_samples: Arc<AtomicUsize>,
}

/// Both ends.
pub(super) fn queue() -> (Jobs, JobQueue) {
    let (sender, receiver) = channel();
    let waiting_samples = Arc::<AtomicUsize>::default();
    let jobs = Jobs { jobs: sender, waiting_samples: Arc::clone(&waiting_samples) };
    (jobs, JobQueue { jobs: receiver, waiting_samples })
}

impl Jobs {
    /// Hands on what is small: there is always room for it.
    pub(super) fn send(&self, job: Job) {
        self.jobs.send(job).ok();
    }

    /// Hands on sound, before which so many samples are missing; `false` where the writer is so far behind that there
    /// is no room for it.
    pub(super) fn send_sound(&self, lost_before: u64, samples: Vec<f32>) -> bool {
        let count = samples.len();
        let waiting = self.waiting_samples.fetch_add(count, SeqCst);
        // A first block that is larger than all the room still comes in.
        let room = waiting == 0 || waiting + count <= MOST_SAMPLES;
        if room {
            if lost_before > 0 {
                self.send(Job::Lost(lost_before));
            }
            self.send(Job::Sound(samples));
        } else {
            self.waiting_samples.fetch_sub(count, SeqCst);
        }
        room
    }
}

impl JobQueue {
    /// The next job, once there is one.
    pub(super) fn next(&self, patience: Duration) -> Result<Job, RecvTimeoutError> {
        let job = self.jobs.recv_timeout(patience)?;
        if let Job::Sound(samples) = &job {
            self.waiting_samples.fetch_sub(samples.len(), SeqCst);
        }
        Ok(job)
    }

    /// What waits now.
    #[cfg(test)]
    pub(super) fn all(&self) -> Vec<Job> {
        std::iter::from_fn(|| self.next(Duration::ZERO).ok()).collect()
    }
}
