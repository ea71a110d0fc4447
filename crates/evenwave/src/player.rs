//! The player thread: drone, metronome, runs with a guide, chirps and clips through the loudspeaker.
//!
//! Time is counted in samples that leave the program; where there is no loudspeaker the beats go on by
//! the clock, to be seen. A missing loudspeaker is told and tried again, and harms nothing else.

mod clip;
mod mixer;
mod work;

use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use sound::Loudspeaker;
use tone::{BeatWish, DroneWish, RunWish};
use tuning::Secs;

pub use clip::Clip;
use mixer::Falls;
use work::Work;

/// Time between looks at the queue.
const REST: Duration = Duration::from_millis(5);
/// With nothing to do the thread sleeps until it is told something.
const SLEEP: Duration = Duration::from_secs(3_600);
/// After so long it ends, faded out or not.
const LAST: Duration = Duration::from_secs(2);

/// All that is to sound.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Playing {
    /// The drone.
    pub drone: Option<DroneWish>,
    /// The metronome.
    pub beat: Option<BeatWish>,
    /// A run of beats, with its guide; it starts at once when its number is another than before.
    pub run: Option<RunWish>,
    /// The loudspeaker, by name or id; `None` for the system's choice.
    pub loudspeaker: Option<String>,
}

/// What the player tells.
#[derive(Clone, Debug, PartialEq)]
pub enum FromPlayer {
    /// A beat sounds at this instant, which lies a little ahead.
    Beat {
        /// Its place in the bar, from 0.
        place: u32,
        /// When.
        at: Instant,
    },
    /// A beat of a run sounds at this instant, which lies a little ahead.
    RunBeat {
        /// The run's number.
        run: u64,
        /// Which beat, from 0: that is the first of the count-in.
        beat: u32,
        /// When.
        at: Instant,
    },
    /// A chirp starts to sound at this instant.
    Chirp {
        /// When.
        at: Instant,
    },
    /// A clip is at this place of its sound at this instant; from there it goes on at its speed. FromPlayer forty
    /// times a second, and where it goes back to the start of its part.
    At {
        /// The clip's number.
        clip: u64,
        /// The place, in seconds of the sound.
        place: Secs,
        /// When.
        at: Instant,
    },
    /// A clip came to its end. One that was stopped or replaced tells nothing.
    ClipOver {
        /// The clip's number.
        clip: u64,
        /// When.
        at: Instant,
        /// Why, if it cannot be played at all.
        why: Option<String>,
    },
    /// The loudspeaker does not play, for this reason; `None` once it does, or need not.
    Loudspeaker(Option<String>),
}

impl FromPlayer {
    fn of(what: Falls, at: Instant) -> Self {
        match what {
            Falls::Beat(place) => Self::Beat { place, at },
            Falls::RunBeat(run, beat) => Self::RunBeat { run, beat, at },
            Falls::Chirp => Self::Chirp { at },
            Falls::Clip(clip, place) => Self::At { clip, place, at },
            Falls::ClipOver(clip) => Self::ClipOver { clip, at, why: None },
        }
    }
}

enum Order {
    Sound(Playing),
    Chirps(u32),
    Play(Box<Clip>),
    Stop,
    End,
}

/// The running player; dropping it fades out and ends the thread.
pub struct Player {
    orders: Sender<Order>,
    thread: Option<JoinHandle<()>>,
}

impl Player {
    /// Starts the thread. `tell` is called on it.
    pub fn start(tell: impl Fn(FromPlayer) + Send + 'static) -> std::io::Result<Self> {
        let (orders, waiting) = channel();
        let thread = thread::Builder::new()
            .name("play".to_owned())
            .spawn(move || run(Work::<Loudspeaker, _>::new(tell), &waiting))?;
        Ok(Self { orders, thread: Some(thread) })
    }

    /// From now on this is to sound, and nothing else but chirps and clips.
    pub fn sound(&self, sounding: Playing) {
        self.order(Order::Sound(sounding));
    }

    /// Plays so many chirps from now on, one each [`tone::Chirp::SPACING_SECS`]; 0 ends them.
    pub fn chirp(&self, count: u32) {
        self.order(Order::Chirps(count));
    }

    /// Plays this clip from now on, instead of the one that plays; another place, speed or part is another
    /// clip. It goes through the loudspeaker that was named in [`Playing`].
    pub fn play(&self, clip: Clip) {
        self.order(Order::Play(Box::new(clip)));
    }

    /// The clip that plays fades out.
    pub fn stop(&self) {
        self.order(Order::Stop);
    }

    fn order(&self, order: Order) {
        self.orders.send(order).ok();
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        self.order(Order::End);
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

fn run<T: Fn(FromPlayer)>(mut work: Work<Loudspeaker, T>, orders: &Receiver<Order>) {
    let mut ends = None;
    loop {
        let rest = if work.is_at_rest() { SLEEP } else { REST };
        match orders.recv_timeout(rest) {
            Ok(Order::Sound(wish)) => work.wish(wish),
            Ok(Order::Chirps(count)) => work.chirp(count),
            Ok(Order::Play(clip)) => work.play(*clip),
            Ok(Order::Stop) => work.stop_clip(),
            Ok(Order::End) | Err(RecvTimeoutError::Disconnected) => {
                work.hush();
                ends.get_or_insert(Instant::now() + LAST);
            }
            Err(RecvTimeoutError::Timeout) => {}
        }
        if ends.is_some_and(|latest| work.is_played_out() || Instant::now() >= latest) {
            return;
        }
        work.step(Instant::now());
    }
}
