//! The player thread: drone and metronome through the loudspeaker.
//!
//! Time is counted in samples that leave the program; where there is no loudspeaker the beats go on by
//! the clock, to be seen. A missing loudspeaker is told and tried again, and harms nothing else.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use sound::Loudspeaker;
use tone::{Beat, BeatWish, Beaten, Drone, DroneWish};

/// So much sound waits for the device: enough for a busy machine, and soon changed.
const QUEUE_SECS: f64 = 0.06;
/// Samples made at a time.
const BLOCK: usize = 240;
/// Time between looks at the queue.
const REST: Duration = Duration::from_millis(5);
/// A loudspeaker that failed is tried again so often.
const RETRY: Duration = Duration::from_secs(1);
/// A loudspeaker that asks for nothing for so long is opened anew.
const STALLED: Duration = Duration::from_millis(1_000);
/// One with nothing to play is closed after so long.
const IDLE: Duration = Duration::from_secs(2);
/// The rate at which beats are counted where nothing plays.
const SILENT_RATE_HZ: u32 = 48_000;

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
    /// The loudspeaker does not play, for this reason; `None` once it does.
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
            .spawn(move || Work::new(&tell).run(&waiting))?;
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

struct Work<'a, T> {
    tell: &'a T,
    wish: Playing,
    output: Option<Output>,
    tried: Option<Instant>,
    trouble: Option<String>,
    drone: Drone,
    beat: Beat,
    rate_hz: u32,
    /// Samples made since the drone and the metronome were.
    made: u64,
    /// Beats made whose instant is not known yet.
    beats: VecDeque<Beaten>,
    /// Where nothing plays: when the first sample would have sounded.
    silent_since: Option<Instant>,
    quiet_since: Option<Instant>,
}

/// An open loudspeaker.
struct Output {
    loudspeaker: Loudspeaker,
    /// How many samples were made before the first that it played.
    offset: u64,
    /// Where it was when it moved last, and when that was.
    moved: (u64, Instant),
}

impl<'a, T: Fn(Told)> Work<'a, T> {
    fn new(tell: &'a T) -> Self {
        Self {
            tell,
            wish: Playing::default(),
            output: None,
            tried: None,
            trouble: None,
            drone: Drone::new(SILENT_RATE_HZ),
            beat: Beat::new(SILENT_RATE_HZ),
            rate_hz: SILENT_RATE_HZ,
            made: 0,
            beats: VecDeque::new(),
            silent_since: None,
            quiet_since: None,
        }
    }

    fn run(mut self, orders: &Receiver<Order>) {
        let mut ends = false;
        loop {
            let rest = if self.is_idle() {
                Duration::from_secs(3_600)
            } else {
                REST
            };
            match orders.recv_timeout(rest) {
                Ok(Order::Sound(wish)) => self.wish(wish),
                Ok(Order::End) | Err(RecvTimeoutError::Disconnected) => {
                    ends = true;
                    self.wish(Playing {
                        loudspeaker: self.wish.loudspeaker.clone(),
                        ..Playing::default()
                    });
                }
                Err(RecvTimeoutError::Timeout) => {}
            }
            if ends && (self.output.is_none() || self.is_silent()) {
                return;
            }
            self.look_after_output(Instant::now());
            self.play(Instant::now());
            self.tell_beats();
        }
    }

    fn wish(&mut self, wish: Playing) {
        if wish.loudspeaker != self.wish.loudspeaker {
            self.output = None;
            self.tried = None;
        }
        self.drone.set(wish.drone);
        self.beat.set(wish.beat);
        self.wish = wish;
    }

    /// Nothing sounds and nothing is to.
    fn is_silent(&self) -> bool {
        self.drone.is_silent() && self.beat.is_silent()
    }

    fn is_idle(&self) -> bool {
        self.is_silent() && self.output.is_none() && self.beats.is_empty()
    }

    fn look_after_output(&mut self, now: Instant) {
        if self.is_silent() {
            let quiet_since = *self.quiet_since.get_or_insert(now);
            if now.saturating_duration_since(quiet_since) >= IDLE {
                self.output = None;
                self.silent_since = None;
            }
            return;
        }
        self.quiet_since = None;
        if let Some(output) = &mut self.output {
            let failure = output.loudspeaker.failure();
            if let Some((sample, _)) = output.loudspeaker.position()
                && sample != output.moved.0
            {
                output.moved = (sample, now);
            }
            let stalled = now.saturating_duration_since(output.moved.1) >= STALLED;
            if let Some(why) = failure {
                self.give_up(&why.to_string());
            } else if stalled {
                self.give_up(
                    "the loudspeaker is open but takes no sound; check the sound settings",
                );
            }
        }
        let due = self
            .tried
            .is_none_or(|tried| now.saturating_duration_since(tried) >= RETRY);
        if self.output.is_none() && due {
            self.tried = Some(now);
            match Loudspeaker::open(self.wish.loudspeaker.as_deref()) {
                Ok(loudspeaker) => self.take_up(loudspeaker),
                Err(why) => self.say(Some(why.to_string())),
            }
        }
    }

    fn take_up(&mut self, loudspeaker: Loudspeaker) {
        let rate_hz = loudspeaker.sample_rate_hz();
        if rate_hz != self.rate_hz {
            self.rate_hz = rate_hz;
            self.drone = Drone::new(rate_hz);
            self.beat = Beat::new(rate_hz);
            self.made = 0;
            self.beats.clear();
            self.drone.set(self.wish.drone);
            self.beat.set(self.wish.beat);
        }
        self.output = Some(Output {
            loudspeaker,
            offset: self.made,
            moved: (0, Instant::now()),
        });
        self.silent_since = None;
        self.say(None);
    }

    fn give_up(&mut self, why: &str) {
        self.output = None;
        self.say(Some(why.to_owned()));
    }

    fn say(&mut self, trouble: Option<String>) {
        if trouble != self.trouble {
            self.trouble.clone_from(&trouble);
            (self.tell)(Told::Loudspeaker(trouble));
        }
    }

    /// Makes as much sound as is wanted now.
    fn play(&mut self, now: Instant) {
        let rate = f64::from(self.rate_hz);
        let queue = (QUEUE_SECS * rate) as usize;
        let beats = &mut self.beats;
        let Some(output) = &mut self.output else {
            // Nobody hears it: only the beats go on, by the clock.
            if self.wish.beat.is_none() {
                self.silent_since = None;
                beats.clear();
                self.drone = Drone::new(self.rate_hz);
                self.drone.set(self.wish.drone);
                return;
            }
            let since = *self
                .silent_since
                .get_or_insert_with(|| at_earlier(now, self.made as f64 / rate));
            let passed = now.saturating_duration_since(since).as_secs_f64() + QUEUE_SECS;
            let due = ((passed * rate) as u64).saturating_sub(self.made);
            self.beat.pass(due, |beaten| beats.push_back(beaten));
            self.made += due;
            return;
        };
        while output.loudspeaker.waiting() < queue {
            let mut block = [0.0; BLOCK];
            self.drone.add(&mut block);
            self.beat.add(&mut block, |beaten| beats.push_back(beaten));
            self.made += BLOCK as u64;
            if output.loudspeaker.play(&block) < BLOCK {
                break;
            }
        }
    }

    /// Tells the beats whose instant is known.
    fn tell_beats(&mut self) {
        let rate = f64::from(self.rate_hz);
        // A sample and the instant at which it sounds.
        let known = match (&self.output, self.silent_since) {
            (Some(output), _) => {
                let position = output.loudspeaker.position();
                position.map(|(sample, at)| (output.offset + sample, at))
            }
            (None, since) => since.map(|since| (0, since)),
        };
        let Some((sample, at)) = known else { return };
        while let Some(beaten) = self.beats.pop_front() {
            let ahead = (beaten.sample as f64 - sample as f64) / rate;
            let at = if ahead >= 0.0 {
                at + Duration::from_secs_f64(ahead)
            } else {
                at_earlier(at, -ahead)
            };
            (self.tell)(Told::Beat {
                place: beaten.place,
                at,
            });
        }
    }
}

/// So many seconds before `at`, or `at` itself on a machine that has not run for so long.
fn at_earlier(at: Instant, secs: f64) -> Instant {
    at.checked_sub(Duration::from_secs_f64(secs)).unwrap_or(at)
}
