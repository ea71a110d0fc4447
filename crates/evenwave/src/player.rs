//! The player thread: drone and metronome through the loudspeaker.
//!
//! Time is counted in samples that leave the program; where there is no loudspeaker the beats go on by
//! the clock, to be seen. A missing loudspeaker is told and tried again, and harms nothing else.

mod mixer;
mod work;

use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use sound::Loudspeaker;
use tone::{BeatWish, DroneWish};

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
    /// The loudspeaker, by name or id; `None` for the system's choice.
    pub loudspeaker: Option<String>,
}

/// What the player tells.
#[derive(Clone, Debug, PartialEq)]
pub enum Told {
    /// A beat sounds at this instant, which lies a little ahead.
    Beat {
        /// Its place in the bar, from 0.
        place: u32,
        /// When.
        at: Instant,
    },
    /// The loudspeaker does not play, for this reason; `None` once it does, or need not.
    Loudspeaker(Option<String>),
}

enum Order {
    Sound(Playing),
    End,
}

/// The running player; dropping it fades out and ends the thread.
pub struct Player {
    orders: Sender<Order>,
    thread: Option<JoinHandle<()>>,
}

impl Player {
    /// Starts the thread. `tell` is called on it.
    pub fn start(tell: impl Fn(Told) + Send + 'static) -> std::io::Result<Self> {
        let (orders, waiting) = channel();
        let thread = thread::Builder::new()
            .name("play".to_owned())
            .spawn(move || run(Work::<Loudspeaker, _>::new(tell), &waiting))?;
        Ok(Self {
            orders,
            thread: Some(thread),
        })
    }

    /// From now on this is to sound, and nothing else.
    pub fn sound(&self, sounding: Playing) {
        self.orders.send(Order::Sound(sounding)).ok();
    }
}

impl Drop for Player {
    fn drop(&mut self) {
        self.orders.send(Order::End).ok();
        if let Some(thread) = self.thread.take() {
            thread.join().ok();
        }
    }
}

fn run<T: Fn(Told)>(mut work: Work<Loudspeaker, T>, orders: &Receiver<Order>) {
    let mut ends = None;
    loop {
        let rest = if work.is_at_rest() { SLEEP } else { REST };
        match orders.recv_timeout(rest) {
            Ok(Order::Sound(wish)) => work.wish(wish),
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
