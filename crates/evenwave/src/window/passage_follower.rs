//! A pass through a passage is followed, and judged, on a thread of its own.

use std::sync::mpsc::{Sender, channel};
use std::thread;

use coach::follow::{Follower, Heard};
use coach::plan::Passage;
use panels::passage_room::PassageHeard;
use tuning::{Secs, Tuning};
use vibrato::{Event, Note};

/// What is told of a pass.
pub(super) enum OfPass {
    /// To the room.
    Room(PassageHeard),
    /// What was heard in all of it, by the number of the pass: the straight one is compared with later.
    Heard(u64, Box<Heard>),
}

enum Job {
    Hear(Event, Option<Box<Note>>),
    /// It is over; what is compared with is the straight pass.
    Judge(Option<Box<Heard>>),
}

/// Follows one pass, whose times count from its start on the ear's clock. Dropping it lets go of the pass.
pub(super) struct PassageFollower {
    /// The number of the pass.
    pub run: u64,
    from: Secs,
    jobs: Sender<Job>,
}

impl PassageFollower {
    /// Starts it; `None` where no thread can be had.
    pub(super) fn start(
        (run, from): (u64, Secs),
        passage: Passage,
        tuning: Tuning,
        tell: impl Fn(OfPass) + Send + 'static,
    ) -> Option<Self> {
        let (jobs, waiting) = channel();
        let follow = move || {
            let mut follower = Follower::new(&passage, &tuning);
            let mut told = None;
            for job in waiting {
                match job {
                    Job::Hear(event, note) => {
                        follower.push(&event, note.as_deref());
                        if let Some(now) = follower.now().filter(|now| Some(*now) != told.as_ref())
                        {
                            told = Some(now.clone());
                            tell(OfPass::Room(PassageHeard::Now(run, now.clone())));
                        }
                    }
                    Job::Judge(mut straight) => {
                        let mut heard = follower.into_heard();
                        let straight = straight.as_deref_mut();
                        let checked = coach::played::check(&passage, &mut heard, straight, &tuning);
                        tell(OfPass::Heard(run, Box::new(heard)));
                        let judged = Box::new(checked);
                        tell(OfPass::Room(PassageHeard::Judged(run, judged)));
                        return;
                    }
                }
            }
        };
        let thread = thread::Builder::new().name("follow a passage".to_owned()).spawn(follow);
        thread.ok().map(|_| Self { run, from, jobs })
    }

    /// Takes in what the ear reports.
    pub(super) fn hear(&self, event: &Event, note: Option<&Note>) {
        let moved = |time: Secs| Secs(time.0 - self.from.0);
        let event = match *event {
            Event::Frame(mut frame) => {
                frame.time = moved(frame.time);
                Event::Frame(frame)
            }
            Event::NoteBegan { start, midi, reference } => {
                Event::NoteBegan { start: moved(start), midi, reference }
            }
            Event::Rebowed { time } => Event::Rebowed { time: moved(time) },
            Event::NoteEnded => Event::NoteEnded,
            // It says nothing to who follows.
            _ => return,
        };
        let note = note.map(|note| Box::new(note.later(Secs(-self.from.0))));
        self.jobs.send(Job::Hear(event, note)).ok();
    }

    /// The pass is over and is to be judged.
    pub(super) fn judge(self, straight: Option<Box<Heard>>) {
        self.jobs.send(Job::Judge(straight)).ok();
    }
}
