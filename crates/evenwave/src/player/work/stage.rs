//! A loudspeaker of the tests, and the work of the player thread in front of it.

use std::cell::RefCell;
use std::collections::VecDeque;
use std::rc::Rc;
use std::time::{Duration, Instant};

use sound::{LoudspeakerError, Sink, secs_between};

use super::super::FromPlayer;
use super::Work;

pub(super) const DEVICE_BLOCK: usize = 512;

/// A fake device: what it was given, by place, and when that sounds.
pub(super) struct World {
    pub(super) rate_hz: u32,
    pub(super) begun: Instant,
    pub(super) refuses: bool,
    pub(super) failure: Option<LoudspeakerError>,
    pub(super) ring: VecDeque<f32>,
    /// All that sounded, from the first place; a gap of the device's own is in it too.
    pub(super) sounded: Vec<f32>,
    pub(super) places: u64,
    pub(super) starved: u64,
    /// When place 0 sounds, in seconds after `begun`, gaps added.
    pub(super) offset: f64,
    pub(super) opened: u32,
    pub(super) position: Option<(u64, Instant)>,
}

thread_local! {
    static WORLD: RefCell<World> = RefCell::new(World::new());
}

pub(super) fn world<R>(change: impl FnOnce(&mut World) -> R) -> R {
    WORLD.with_borrow_mut(change)
}

impl World {
    pub(super) fn new() -> Self {
        Self {
            rate_hz: 48_000,
            begun: Instant::now(),
            refuses: false,
            failure: None,
            ring: VecDeque::new(),
            sounded: Vec::new(),
            places: 0,
            starved: 0,
            offset: 0.0,
            opened: 0,
            position: None,
        }
    }

    /// The device takes a block at `now`.
    pub(super) fn take(&mut self, now: Instant) {
        if self.places == 0 && self.ring.is_empty() {
            return;
        }
        if self.places == 0 {
            self.offset = (now - self.begun).as_secs_f64() + 0.03;
        }
        let secs = self.offset + self.places as f64 / f64::from(self.rate_hz);
        self.position = Some((self.places, self.begun + Duration::from_secs_f64(secs)));
        for _ in 0..DEVICE_BLOCK {
            if self.ring.is_empty() {
                self.starved += 1;
            }
            self.sounded.push(self.ring.pop_front().unwrap_or(0.0));
        }
        self.places += DEVICE_BLOCK as u64;
    }

    /// The device makes a gap of its own.
    pub(super) fn gap(&mut self, samples: usize) {
        self.sounded.extend(std::iter::repeat_n(0.0, samples));
        self.offset += samples as f64 / f64::from(self.rate_hz);
    }
}

pub(super) struct Fake;

impl Sink for Fake {
    fn open(_: Option<&str>) -> Result<Self, LoudspeakerError> {
        world(|world| {
            if world.refuses {
                return Err(LoudspeakerError::Taken);
            }
            world.opened += 1;
            (world.places, world.starved, world.position) = (0, 0, None);
            world.sounded.clear();
            world.ring.clear();
            Ok(Self)
        })
    }
    fn name(&self) -> &str {
        "fake"
    }
    fn sample_rate_hz(&self) -> u32 {
        world(|world| world.rate_hz)
    }
    fn play(&mut self, samples: &[f32]) -> usize {
        world(|world| world.ring.extend(samples));
        samples.len()
    }
    fn waiting(&self) -> usize {
        world(|world| world.ring.len())
    }
    fn position(&self) -> Option<(u64, Instant)> {
        world(|world| world.position)
    }
    fn starved(&self) -> u64 {
        world(|world| world.starved)
    }
    fn failure(&self) -> Option<LoudspeakerError> {
        world(|world| world.failure.clone())
    }
}

pub(super) struct Session {
    pub(super) work: Work<Fake, Box<dyn Fn(FromPlayer)>>,
    pub(super) told: Rc<RefCell<Vec<FromPlayer>>>,
    pub(super) now: Instant,
    /// What the device is owed, in samples.
    pub(super) owed: f64,
}

impl Session {
    pub(super) fn new(rate_hz: u32) -> Self {
        world(|world| {
            *world = World::new();
            world.rate_hz = rate_hz;
        });
        let told: Rc<RefCell<Vec<FromPlayer>>> = Rc::default();
        let kept = Rc::clone(&told);
        Self {
            work: Work::new(Box::new(move |what| kept.borrow_mut().push(what))),
            told,
            now: world(|world| world.begun),
            owed: 0.0,
        }
    }

    /// Looks every 5 ms while the device takes what it plays.
    pub(super) fn run(&mut self, secs: f64) {
        for _ in 0..(secs / 0.005).round() as usize {
            self.work.step(self.now);
            self.pass(0.005);
        }
    }

    /// The device goes on and nobody looks.
    pub(super) fn pass(&mut self, secs: f64) {
        let open = self.work.playback.sink().is_some();
        self.owed += secs * world(|world| f64::from(world.rate_hz));
        while self.owed >= DEVICE_BLOCK as f64 {
            self.owed -= DEVICE_BLOCK as f64;
            if open {
                world(|world| world.take(self.now));
            }
        }
        self.now += Duration::from_secs_f64(secs);
    }

    pub(super) fn beats(&self) -> Vec<f64> {
        let begun = world(|world| world.begun);
        let told = self.told.borrow();
        let at = told.iter().filter_map(|told| match told {
            FromPlayer::Beat { at, .. } => Some((*at - begun).as_secs_f64()),
            _ => None,
        });
        at.collect()
    }

    pub(super) fn troubles(&self) -> Vec<Option<String>> {
        let told = self.told.borrow();
        let words = told.iter().filter_map(|told| match told {
            FromPlayer::Loudspeaker(words) => Some(words.clone()),
            _ => None,
        });
        words.collect()
    }
}

/// Instants at which clicks start to sound, in seconds after the beginning.
pub(super) fn clicks() -> Vec<f64> {
    world(|world| {
        let rate = f64::from(world.rate_hz);
        let gaps = world.sounded.len() as f64 - world.places as f64;
        let first = world.offset - gaps / rate;
        let mut found = Vec::new();
        let mut quiet_until = 0;
        for (index, sample) in world.sounded.iter().enumerate() {
            if *sample != 0.0 && index >= quiet_until {
                found.push(first + index as f64 / rate);
                quiet_until = index + (0.1 * rate) as usize;
            }
        }
        found
    })
}

/// The first sample of a click is 0 and the next ones are tiny.
pub(super) const NEAR_SECS: f64 = 0.001;

pub(super) fn secs_of(at: Instant) -> f64 {
    secs_between(world(|world| world.begun), at)
}

/// When the first and the last sample sounded that is not silent.
pub(super) fn sounding() -> (f64, f64) {
    world(|world| {
        let rate = f64::from(world.rate_hz);
        let is_sound = |sample: &f32| *sample != 0.0;
        let first = world.sounded.iter().position(is_sound).expect("it sounds");
        let last = world.sounded.iter().rposition(is_sound).expect("it sounds");
        let gaps = (world.sounded.len() - world.places as usize) as f64;
        let of = |index: usize| world.offset + (index as f64 - gaps) / rate;
        (of(first), of(last))
    })
}
