//! What the window has to read and write itself, on a thread of its own and in the order in which it was asked for: a
//! disk that does not answer holds no picture up.

use std::io;
use std::sync::mpsc::{Sender, channel};
use std::thread;

use crate::last_wait::{LastWait, last_wait};
use crate::words::aside;

/// `Err` says in words what went wrong.
type Job = Box<dyn FnOnce() -> Result<(), String> + Send>;

/// The thread; dropping it waits until all is done, or the disk does not answer.
pub(super) struct DiskThread {
    jobs: Option<Sender<Job>>,
    working: LastWait,
}

impl DiskThread {
    /// Starts it. `tell` is called on it with what went wrong.
    pub(super) fn start(tell: impl Fn(String) + Send + 'static) -> io::Result<Self> {
        let (jobs, waiting) = channel::<Job>();
        let (steps, working) = last_wait();
        thread::Builder::new().name("settings and tasks".to_owned()).spawn(move || {
            for job in waiting {
                job().unwrap_or_else(&tell);
                steps.step();
            }
            // What waits for the end is let go of last.
            drop(tell);
            drop(steps);
        })?;
        Ok(Self { jobs: Some(jobs), working })
    }

    /// Has this done, after what was asked for before.
    pub(super) fn ask(&self, job: impl FnOnce() -> Result<(), String> + Send + 'static) {
        if let Some(jobs) = &self.jobs {
            jobs.send(Box::new(job)).ok();
        }
    }
}

impl Drop for DiskThread {
    fn drop(&mut self) {
        self.jobs = None;
        if !self.working.wait() {
            aside("the disk does not answer: what was set last may not be kept");
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_asks_goes_on_while_the_disk_stands_still_and_all_is_done_in_order() {
        let (tell, told) = channel();
        let disk = DiskThread::start({
            let tell = tell.clone();
            move |words| {
                tell.send(words).ok();
            }
        });
        let disk = disk.expect("a thread");
        let (go_on, stalled) = channel::<()>();
        disk.ask(move || stalled.recv().map_err(|_| "it stood still".to_owned()));
        disk.ask(move || {
            tell.send("written".to_owned()).ok();
            Ok(())
        });
        assert!(told.try_recv().is_err(), "nothing is done yet, and nobody waited");
        drop(go_on);
        drop(disk);
        assert_eq!(told.iter().collect::<Vec<_>>(), ["it stood still", "written"]);
    }
}
