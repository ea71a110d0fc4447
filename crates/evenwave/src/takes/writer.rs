//! TEMPORARY until the journal is there.

use std::path::Path;
use std::sync::mpsc::Receiver;

use super::{Job, Surroundings, TakeState};

pub fn write(
    _folder: &Path,
    _surroundings: Surroundings,
    jobs: &Receiver<Job>,
    tell: &impl Fn(TakeState),
) {
    tell(TakeState::Ready);
    while let Ok(job) = jobs.recv() {
        match job {
            Job::Begin { .. } => tell(TakeState::Running),
            Job::End => break,
            _ => {}
        }
    }
}
