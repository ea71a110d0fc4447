//! Keeps a loudspeaker open while there is something to play: notices when it is lost, opens it again,
//! and closes it when nothing has been played for a while.

use std::fmt;
use std::time::{Duration, Instant};

use crate::loudspeaker::{Loudspeaker, LoudspeakerError};

/// An open loudspeaker asks for samples a hundred times a second: if it asks for none for so long, it
/// stalls. The first time it may need longer.
const STALLED: Duration = Duration::from_millis(1_000);
/// A failure is one if it lasts so long: some systems fail for a moment on a busy machine and go on.
const FAILS_FOR: Duration = Duration::from_millis(100);
/// Time between two attempts to open.
const RETRY: Duration = Duration::from_millis(1_000);
/// Some systems end a stream, mostly a new one on a busy machine, that goes on well once it is opened
/// anew: that is tried at once so many times, without a word, and again when it has played for [`RETRY`].
const RETRY_SOON: Duration = Duration::from_millis(50);
const SOON: u32 = 3;
/// With nothing to play it is closed after so long, so that other programs may have it.
const IDLE: Duration = Duration::from_secs(3);

/// Where the sound goes. The second implementation is the one in tests.
pub trait Sink: Sized {
    /// Opens the loudspeaker of this name or id, or the system's choice.
    fn open(name: Option<&str>) -> Result<Self, LoudspeakerError>;
    /// Its name, as the system has it.
    fn name(&self) -> &str;
    /// Samples a second.
    fn sample_rate_hz(&self) -> u32;
    /// See [`Loudspeaker::play`].
    fn play(&mut self, samples: &[f32]) -> usize;
    /// See [`Loudspeaker::waiting`].
    fn waiting(&self) -> usize;
    /// See [`Loudspeaker::position`].
    fn position(&self) -> Option<(u64, Instant)>;
    /// See [`Loudspeaker::starved`].
    fn starved(&self) -> u64;
    /// See [`Loudspeaker::failure`].
    fn failure(&self) -> Option<LoudspeakerError>;
}

impl Sink for Loudspeaker {
    fn open(name: Option<&str>) -> Result<Self, LoudspeakerError> {
        Self::open(name)
    }
    fn name(&self) -> &str {
        self.name()
    }
    fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz()
    }
    fn play(&mut self, samples: &[f32]) -> usize {
        self.play(samples)
    }
    fn waiting(&self) -> usize {
        self.waiting()
    }
    fn position(&self) -> Option<(u64, Instant)> {
        self.position()
    }
    fn starved(&self) -> u64 {
        self.starved()
    }
    fn failure(&self) -> Option<LoudspeakerError> {
        self.failure()
    }
}

/// How it stands with the loudspeaker. `Display` gives the words for the player.
#[derive(Clone, Debug, PartialEq)]
pub enum PlaybackStatus {
    /// Not open, for there is nothing to play.
    Idle,
    /// Open; samples are being taken, or are about to be.
    Playing {
        /// Name of the device.
        device: String,
        /// Samples a second.
        sample_rate_hz: u32,
    },
    /// It cannot be opened, for this reason.
    Closed(LoudspeakerError),
    /// It was open and is lost, for this reason.
    Lost(LoudspeakerError),
    /// It is open and takes no samples.
    Stalled,
}

impl PlaybackStatus {
    /// Whether something is to be played and cannot be.
    pub fn is_trouble(&self) -> bool {
        matches!(self, Self::Closed(_) | Self::Lost(_) | Self::Stalled)
    }
}

impl fmt::Display for PlaybackStatus {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Idle => f.write_str("nothing is played"),
            Self::Playing { device, sample_rate_hz } => {
                write!(f, "playing through {device} at {sample_rate_hz} Hz")
            }
            Self::Closed(why) => why.fmt(f),
            Self::Lost(LoudspeakerError::Broken { .. }) => {
                f.write_str("the loudspeaker is gone; plug it in again, it will be found")
            }
            Self::Lost(why) => why.fmt(f),
            Self::Stalled => f.write_str(
                "the loudspeaker is open but takes no sound; check the sound settings \
                 or choose another",
            ),
        }
    }
}

/// What [`Playback::poll`] did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Kept {
    /// A loudspeaker was opened: its places count from 0 and its rate may be another.
    pub opened: bool,
    /// The status is another than at the last poll.
    pub changed: bool,
}

/// A loudspeaker that is kept open as long as it is wanted. Give it to one thread and poll it there some
/// hundred times a second; what it gives is a sink, or none and the reason.
pub struct Playback<S = Loudspeaker> {
    name: Option<String>,
    state: State<S>,
    status: PlaybackStatus,
    /// When there was something to play last.
    wanted_at: Option<Instant>,
    /// How often it may still be opened anew at once; why that is needed.
    soon: u32,
    ended: Option<LoudspeakerError>,
}

enum State<S> {
    /// Not open; to be tried again at this time, or at once.
    Closed(Option<Instant>),
    /// Open.
    Open {
        sink: S,
        opened_at: Instant,
        /// Its newest position, and when that was first seen, from the first poll on.
        place: Option<u64>,
        moved_at: Option<Instant>,
        fails_since: Option<Instant>,
    },
}

impl Playback {
    /// For the loudspeaker of this name or id, or the system's choice. Nothing is opened until a poll.
    pub fn new(name: Option<String>) -> Self {
        Self::of(name)
    }
}

impl<S: Sink> Playback<S> {
    /// The same for any sink.
    pub fn of(name: Option<String>) -> Self {
        Self {
            name,
            state: State::Closed(None),
            status: PlaybackStatus::Idle,
            wanted_at: None,
            soon: SOON,
            ended: None,
        }
    }

    /// How it stands, as of the last poll.
    pub fn status(&self) -> &PlaybackStatus {
        &self.status
    }

    /// Changes to another loudspeaker at the next poll; the same one stays as it is.
    pub fn choose(&mut self, name: Option<String>) {
        if name != self.name {
            self.name = name;
            self.state = State::Closed(None);
        }
    }

    /// The open loudspeaker.
    pub fn sink(&mut self) -> Option<&mut S> {
        match &mut self.state {
            State::Open { sink, .. } => Some(sink),
            State::Closed(_) => None,
        }
    }

    /// Looks after the loudspeaker; `wanted` says that there is something to play. Waits for nothing, but
    /// opening a device may take some tenths of a second.
    pub fn poll(&mut self, now: Instant, wanted: bool) -> Kept {
        let before = self.status.clone();
        let mut opened = false;
        if wanted {
            self.wanted_at = Some(now);
        }
        match &mut self.state {
            State::Closed(retry_at) => {
                let due = retry_at.is_none_or(|retry_at| now >= retry_at);
                if wanted && due {
                    opened = self.open(now);
                } else if !wanted {
                    self.ended = None;
                    // What was wrong is of no use to one who wants nothing.
                    self.status = PlaybackStatus::Idle;
                    self.state = State::Closed(None);
                }
            }
            State::Open { sink, opened_at, place, moved_at, fails_since } => {
                let position = sink.position().map(|(place, _)| place);
                if position != *place || moved_at.is_none() {
                    (*place, *moved_at) = (position, Some(now));
                }
                let still_for = moved_at.map_or(Duration::ZERO, |at| since(at, now));
                let unwanted_for = self.wanted_at.map_or(IDLE, |at| since(at, now));
                if place.is_some() && since(*opened_at, now) >= RETRY {
                    (self.soon, self.ended) = (SOON, None);
                }
                let failure = sink.failure();
                if failure.is_none() {
                    *fails_since = None;
                }
                if let Some(why) = failure {
                    if since(*fails_since.get_or_insert(now), now) < FAILS_FOR {
                        // It may go on yet.
                    } else if self.soon > 0 {
                        self.soon -= 1;
                        self.ended = Some(why);
                        self.state = State::Closed(Some(now + RETRY_SOON));
                    } else {
                        self.status = PlaybackStatus::Lost(why);
                        self.state = State::Closed(Some(now + RETRY));
                    }
                } else if unwanted_for >= IDLE {
                    self.status = PlaybackStatus::Idle;
                    self.state = State::Closed(None);
                } else if still_for >= STALLED {
                    self.status = PlaybackStatus::Stalled;
                    self.state = State::Closed(None);
                } else if place.is_some() {
                    self.status = playing(sink);
                }
            }
        }
        Kept { opened, changed: self.status != before }
    }

    fn open(&mut self, now: Instant) -> bool {
        match S::open(self.name.as_deref()) {
            Ok(sink) => {
                // What was wrong stays on show until it takes a sample.
                if !self.status.is_trouble() {
                    self.status = playing(&sink);
                }
                self.state = State::Open {
                    sink,
                    opened_at: now,
                    place: None,
                    moved_at: None,
                    fails_since: None,
                };
                true
            }
            Err(why) => {
                // That it cannot be found says less than how it was lost.
                if let Some(ended) = self.ended.take() {
                    self.status = PlaybackStatus::Lost(ended);
                }
                let lost = matches!(self.status, PlaybackStatus::Lost(_));
                if !(lost && why == LoudspeakerError::None) {
                    self.status = PlaybackStatus::Closed(why);
                }
                self.state = State::Closed(Some(now + RETRY));
                false
            }
        }
    }
}

fn playing(sink: &impl Sink) -> PlaybackStatus {
    PlaybackStatus::Playing {
        device: sink.name().to_owned(),
        sample_rate_hz: sink.sample_rate_hz(),
    }
}

fn since(then: Instant, now: Instant) -> Duration {
    now.saturating_duration_since(then)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;
    use std::collections::VecDeque;

    /// What the fake device does, told by the test.
    #[derive(Default)]
    struct World {
        /// Answers to the next attempts to open; `Ok` when there is none.
        refusals: VecDeque<LoudspeakerError>,
        failure: Option<LoudspeakerError>,
        position: Option<u64>,
        asked_for: Vec<Option<String>>,
        open: i32,
    }

    thread_local! {
        static WORLD: RefCell<World> = RefCell::default();
    }

    fn world<T>(change: impl FnOnce(&mut World) -> T) -> T {
        WORLD.with_borrow_mut(change)
    }

    struct Fake(Instant);

    impl Sink for Fake {
        fn open(name: Option<&str>) -> Result<Self, LoudspeakerError> {
            world(|world| {
                world.asked_for.push(name.map(str::to_owned));
                if let Some(refusal) = world.refusals.pop_front() {
                    return Err(refusal);
                }
                world.open += 1;
                world.position = None;
                Ok(Self(Instant::now()))
            })
        }
        fn name(&self) -> &str {
            "fake"
        }
        fn sample_rate_hz(&self) -> u32 {
            44_100
        }
        fn play(&mut self, samples: &[f32]) -> usize {
            samples.len()
        }
        fn waiting(&self) -> usize {
            0
        }
        fn position(&self) -> Option<(u64, Instant)> {
            world(|world| world.position).map(|place| (place, self.0))
        }
        fn starved(&self) -> u64 {
            0
        }
        fn failure(&self) -> Option<LoudspeakerError> {
            world(|world| world.failure.clone())
        }
    }

    impl Drop for Fake {
        fn drop(&mut self) {
            world(|world| world.open -= 1);
        }
    }

    struct Session {
        playback: Playback<Fake>,
        now: Instant,
        told: Vec<String>,
    }

    impl Session {
        fn new() -> Self {
            world(|world| *world = World::default());
            Self { playback: Playback::of(None), now: Instant::now(), told: Vec::new() }
        }

        /// Polls every 10 ms for so long; the device takes samples if `taking`.
        fn run(&mut self, millis: u64, wanted: bool, taking: bool) -> Vec<String> {
            for _ in 0..millis / 10 {
                let kept = self.playback.poll(self.now, wanted);
                if kept.changed {
                    self.told.push(self.playback.status().to_string());
                }
                if taking && self.playback.sink().is_some() {
                    world(|world| *world.position.get_or_insert(0) += 441);
                }
                self.now += Duration::from_millis(10);
            }
            std::mem::take(&mut self.told)
        }
    }

    fn opened() -> usize {
        world(|world| world.asked_for.len())
    }

    fn broken() -> LoudspeakerError {
        LoudspeakerError::Broken { reason: "unknown errno".to_owned() }
    }

    const PLAYING: &str = "playing through fake at 44100 Hz";
    const NOTHING: &str = "nothing is played";

    #[test]
    fn it_is_opened_when_wanted_and_closed_some_seconds_after() {
        let mut session = Session::new();
        assert!(session.run(5_000, false, true).is_empty());
        assert_eq!(opened(), 0, "nothing to play");
        assert_eq!(session.run(2_000, true, true), [PLAYING]);
        assert!(session.run(2_900, false, true).is_empty(), "it may go on");
        assert_eq!(world(|world| world.open), 1);
        assert_eq!(session.run(500, false, true), [NOTHING]);
        assert_eq!(world(|world| world.open), 0);
        assert_eq!(session.run(500, true, true), [PLAYING]);
        assert_eq!(opened(), 2);
    }

    #[test]
    fn without_one_it_is_told_once_and_asked_for_each_second() {
        let mut session = Session::new();
        world(|world| world.refusals = vec![LoudspeakerError::None; 3].into());
        let told = session.run(2_500, true, true);
        assert_eq!(told, [LoudspeakerError::None.to_string()]);
        assert_eq!(opened(), 3);
        assert_eq!(session.run(1_000, true, true), [PLAYING]);
    }

    #[test]
    fn a_lost_one_is_dropped_told_and_found_again() {
        let mut session = Session::new();
        session.run(1_000, true, true);
        world(|world| {
            world.failure = Some(broken());
            world.refusals = vec![LoudspeakerError::None; 3].into();
        });
        let told = session.run(200, true, false);
        assert_eq!(told, ["the loudspeaker is gone; plug it in again, it will be found"]);
        assert_eq!(world(|world| world.open), 0);
        world(|world| world.failure = None);
        assert!(session.run(2_500, true, true).is_empty(), "gone still");
        assert_eq!(session.run(1_000, true, true), [PLAYING]);
        assert_eq!(opened(), 1 + 3 + 1);
    }

    #[test]
    fn one_that_fails_as_soon_as_it_is_opened_is_told_once_and_tried_each_second() {
        let mut session = Session::new();
        session.run(2_000, true, true);
        world(|world| world.failure = Some(broken()));
        assert_eq!(session.run(5_000, true, false).len(), 1);
        let seconds = opened() - 1 - SOON as usize;
        assert!((4..=5).contains(&seconds), "opened {} times", opened());
    }

    #[test]
    fn one_that_goes_on_when_opened_anew_is_not_told() {
        let mut session = Session::new();
        assert_eq!(session.run(100, true, true), [PLAYING]);
        for _ in 0..10 {
            world(|world| world.failure = Some(broken()));
            session.run(120, true, false);
            world(|world| world.failure = None);
            assert!(session.run(1_500, true, true).is_empty());
        }
        assert_eq!(opened(), 11);
    }

    #[test]
    fn one_that_fails_for_a_moment_is_left_open() {
        let mut session = Session::new();
        session.run(100, true, true);
        world(|world| world.failure = Some(broken()));
        assert!(session.run(80, true, false).is_empty());
        world(|world| world.failure = None);
        assert!(session.run(1_500, true, true).is_empty());
        assert_eq!(opened(), 1);
    }

    #[test]
    fn one_that_takes_nothing_stalls_and_is_opened_anew() {
        let mut session = Session::new();
        assert_eq!(session.run(990, true, false), [PLAYING], "opened just now");
        let told = session.run(3_000, true, false);
        assert_eq!(told.len(), 1, "told once: {told:?}");
        assert!(told[0].contains("takes no sound"), "{told:?}");
        assert!((3..=5).contains(&opened()), "opened {} times", opened());
        assert_eq!(session.run(1_500, true, true), [PLAYING]);
    }

    #[test]
    fn another_choice_is_opened_at_once_and_the_same_one_is_left_alone() {
        let mut session = Session::new();
        session.run(100, true, true);
        session.playback.choose(None);
        session.run(100, true, true);
        assert_eq!(opened(), 1);
        session.playback.choose(Some("other".to_owned()));
        session.run(20, true, true);
        let asked_for = world(|world| world.asked_for.clone());
        assert_eq!(asked_for, [None, Some("other".to_owned())]);
        assert_eq!(world(|world| world.open), 1);
    }

    #[test]
    fn trouble_is_forgotten_when_nothing_is_wanted_any_more() {
        let mut session = Session::new();
        world(|world| world.refusals = vec![LoudspeakerError::Taken; 9].into());
        let told = session.run(500, true, true);
        assert_eq!(told, [LoudspeakerError::Taken.to_string()]);
        assert!(session.playback.status().is_trouble());
        assert_eq!(session.run(500, false, true), [NOTHING]);
        assert!(!session.playback.status().is_trouble());
    }

    #[test]
    fn a_thread_that_was_kept_away_does_not_take_it_for_stalled() {
        let mut session = Session::new();
        session.run(1_000, true, true);
        session.now += Duration::from_secs(20);
        assert!(session.run(1_000, true, true).is_empty());
        assert_eq!(opened(), 1);
    }
}
