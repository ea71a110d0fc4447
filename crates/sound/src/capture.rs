//! Keeps a microphone open: notices when it is lost or falls silent, and opens it again.

use std::fmt;
use std::time::{Duration, Instant};

use crate::microphone::{DeviceChoice, Microphone, MicrophoneError};
use crate::mono_ring_reader::RingRead;

/// An open microphone gives samples a hundred times a second: without any for so long, it stalls.
const SILENT: Duration = Duration::from_millis(500);

/// Time between two attempts to open.
const RETRY: Duration = Duration::from_millis(500);

/// Samples read at a time.
const BLOCK: usize = 4_096;

/// Where the sound comes from. The second implementation is the one in the tests.
pub trait Source: Sized {
    /// Opens the chosen device.
    fn open(choice: &DeviceChoice) -> Result<Self, MicrophoneError>;
    /// Its name, as the system has it.
    fn name(&self) -> &str;
    /// Samples a second.
    fn sample_rate_hz(&self) -> u32;
    /// See [`Microphone::read`].
    fn read(&mut self, out: &mut [f32]) -> RingRead;
    /// See [`Microphone::failure`].
    fn failure(&self) -> Option<MicrophoneError>;
    /// See [`Microphone::overruns`].
    fn overruns(&self) -> u64;
}

impl Source for Microphone {
    fn open(choice: &DeviceChoice) -> Result<Self, MicrophoneError> {
        Self::open(choice)
    }
    fn name(&self) -> &str {
        self.name()
    }
    fn sample_rate_hz(&self) -> u32 {
        self.sample_rate_hz()
    }
    fn read(&mut self, out: &mut [f32]) -> RingRead {
        self.read(out)
    }
    fn failure(&self) -> Option<MicrophoneError> {
        self.failure()
    }
    fn overruns(&self) -> u64 {
        self.overruns()
    }
}

/// How it stands with the microphone. `Display` gives the words for the player.
#[derive(Clone, Debug, PartialEq)]
pub enum CaptureStatus {
    /// Being opened; nothing has been heard yet.
    Opening,
    /// Samples come in.
    Listening {
        /// Name of the device.
        device: String,
        /// Samples a second.
        sample_rate_hz: u32,
    },
    /// It cannot be opened, for this reason.
    Closed(MicrophoneError),
    /// It was open and is lost, for this reason.
    Lost(MicrophoneError),
    /// It is open and gives no samples.
    Stalled,
}

impl CaptureStatus {
    /// Whether samples come in.
    pub fn is_listening(&self) -> bool {
        matches!(self, Self::Listening { .. })
    }
}

impl fmt::Display for CaptureStatus {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Opening => f.write_str("opening the microphone"),
            Self::Listening { device, sample_rate_hz } => {
                write!(f, "listening to {device} at {} kHz", f64::from(*sample_rate_hz) / 1000.0)
            }
            Self::Closed(why) => why.fmt(f),
            Self::Lost(MicrophoneError::Broken { .. }) => {
                f.write_str("the microphone is gone; plug it in again, it will be found")
            }
            Self::Lost(why) => why.fmt(f),
            Self::Stalled => f.write_str(
                "the microphone is open but silent: no samples come; \
                 check its switch and the sound settings",
            ),
        }
    }
}

/// What [`Capture::poll`] found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Caught {
    /// Samples appended to the buffer.
    pub count: usize,
    /// Samples missing just before them: lost in the ring (exact), lost by the system, or not
    /// given while the microphone was away (both by the clock, so right to some 20 ms).
    pub lost_before: u64,
    /// Whether the status is another than at the last poll.
    pub changed: bool,
}

/// A microphone that is kept open. Give it to one thread and poll it there some hundred times a
/// second; what it gives are samples, losses and a status, never an error.
pub struct Capture<S = Microphone> {
    choice: DeviceChoice,
    state: State<S>,
    status: CaptureStatus,
    sample_rate_hz: Option<u32>,
    /// When the last samples came, at any time before.
    heard_at: Option<Instant>,
    /// Overruns of the open source that are accounted for.
    overruns: u64,
    block: Vec<f32>,
}

enum State<S> {
    /// Not open; to be tried again at this time, or at once.
    Closed(Option<Instant>),
    /// Open; since when without a sample, from the first poll on.
    Open(S, Option<Instant>),
}

impl Capture {
    /// Nothing is opened until the first poll.
    pub fn new(choice: DeviceChoice) -> Self {
        Self::of(choice)
    }
}

impl<S: Source> Capture<S> {
    /// The same for any source.
    pub fn of(choice: DeviceChoice) -> Self {
        Self {
            choice,
            state: State::Closed(None),
            status: CaptureStatus::Opening,
            sample_rate_hz: None,
            heard_at: None,
            overruns: 0,
            block: vec![0.0; BLOCK],
        }
    }

    /// How it stands, as of the last poll.
    pub fn status(&self) -> &CaptureStatus {
        &self.status
    }

    /// Rate of the samples given last, `None` before the first. It may change when another
    /// microphone takes over; then the samples before and after belong to different sounds.
    pub fn sample_rate_hz(&self) -> Option<u32> {
        self.sample_rate_hz
    }

    /// Which microphone is wanted.
    pub fn choice(&self) -> &DeviceChoice {
        &self.choice
    }

    /// Changes to another microphone or channel at the next poll.
    pub fn choose(&mut self, choice: DeviceChoice) {
        self.choice = choice;
        self.state = State::Closed(None);
    }

    /// Appends what was heard since the last poll to `out`, up to the next loss, and looks after
    /// the microphone: poll again until the count is 0, then let some 5 ms pass. Waits for nothing, but opening a device may take some tenths of a second.
    pub fn poll(&mut self, now: Instant, out: &mut Vec<f32>) -> Caught {
        let before = self.status.clone();
        let mut caught = Caught::default();
        match &mut self.state {
            State::Closed(retry_at) => {
                if retry_at.is_none_or(|retry_at| now >= retry_at) {
                    self.open(now);
                }
            }
            State::Open(source, since) => {
                let since = *since.get_or_insert(now);
                let heard = source.read(&mut self.block);
                if heard.count > 0 {
                    out.extend_from_slice(&self.block[..heard.count]);
                    caught.count = heard.count;
                    caught.lost_before = heard.lost_before;
                    self.catch(now, &mut caught);
                } else if let Some(why) = source.failure() {
                    self.status = CaptureStatus::Lost(why);
                    self.state = State::Closed(Some(now + RETRY));
                } else if now.saturating_duration_since(since) >= SILENT {
                    // The source may be deaf for good: open it anew.
                    self.status = CaptureStatus::Stalled;
                    self.state = State::Closed(None);
                }
            }
        }
        caught.changed = self.status != before;
        caught
    }

    fn open(&mut self, now: Instant) {
        match S::open(&self.choice) {
            Ok(source) => {
                // Whatever was wrong stays on show until there is a sample.
                if matches!(self.status, CaptureStatus::Closed(_)) {
                    self.status = CaptureStatus::Opening;
                }
                self.overruns = 0;
                self.state = State::Open(source, None);
            }
            Err(why) => {
                // That it cannot be found says less than how it was lost.
                let lost = matches!(self.status, CaptureStatus::Lost(_));
                if !(lost && why == MicrophoneError::None) {
                    self.status = CaptureStatus::Closed(why);
                }
                self.state = State::Closed(Some(now + RETRY));
            }
        }
    }

    /// Notes that samples came, and after what gap.
    fn catch(&mut self, now: Instant, caught: &mut Caught) {
        let State::Open(source, since) = &mut self.state else {
            return;
        };
        *since = Some(now);
        let sample_rate_hz = source.sample_rate_hz();
        let overruns = source.overruns();
        let resumed = !self.status.is_listening();
        if let Some(heard_at) = self.heard_at
            && (resumed || overruns != self.overruns)
        {
            let passed_secs = now.saturating_duration_since(heard_at).as_secs_f64();
            let due = (passed_secs * f64::from(sample_rate_hz)).round() as u64;
            // Something is missing, even where the clock is too coarse to say how much.
            caught.lost_before += due.saturating_sub(caught.count as u64).max(1);
        }
        self.overruns = overruns;
        if resumed {
            self.status =
                CaptureStatus::Listening { device: source.name().to_owned(), sample_rate_hz };
        }
        self.sample_rate_hz = Some(sample_rate_hz);
        self.heard_at = Some(now);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::RefCell;
    use std::collections::VecDeque;

    /// What the fake device does, told by the test.
    #[derive(Default)]
    struct World {
        /// Answer to the next attempts to open; `Ok` when there is none.
        refusals: VecDeque<MicrophoneError>,
        /// Samples to be given, with losses before.
        sound: VecDeque<(u64, Vec<f32>)>,
        failure: Option<MicrophoneError>,
        overruns: u64,
        opened: u32,
        dropped: u32,
        rate_hz: u32,
    }

    thread_local! {
        static WORLD: RefCell<World> = RefCell::default();
    }

    fn world<T>(change: impl FnOnce(&mut World) -> T) -> T {
        WORLD.with_borrow_mut(change)
    }

    struct Fake;

    impl Source for Fake {
        fn open(_: &DeviceChoice) -> Result<Self, MicrophoneError> {
            world(|world| {
                world.opened += 1;
                match world.refusals.pop_front() {
                    Some(refusal) => Err(refusal),
                    None => Ok(Self),
                }
            })
        }
        fn name(&self) -> &str {
            "fake"
        }
        fn sample_rate_hz(&self) -> u32 {
            world(|world| world.rate_hz)
        }
        fn read(&mut self, out: &mut [f32]) -> RingRead {
            let Some((lost_before, samples)) = world(|world| world.sound.pop_front()) else {
                return RingRead::default();
            };
            out[..samples.len()].copy_from_slice(&samples);
            RingRead { count: samples.len(), lost_before }
        }
        fn failure(&self) -> Option<MicrophoneError> {
            world(|world| world.failure.clone())
        }
        fn overruns(&self) -> u64 {
            world(|world| world.overruns)
        }
    }

    impl Drop for Fake {
        fn drop(&mut self) {
            world(|world| world.dropped += 1);
        }
    }

    /// A capture, its clock, and all it gave.
    struct Session {
        capture: Capture<Fake>,
        now: Instant,
        heard: Vec<f32>,
        lost: u64,
        statuses: Vec<String>,
    }

    impl Session {
        fn new() -> Self {
            world(|world| *world = World { rate_hz: 48_000, ..World::default() });
            Self {
                capture: Capture::of(DeviceChoice::default()),
                now: Instant::now(),
                heard: Vec::new(),
                lost: 0,
                statuses: Vec::new(),
            }
        }

        /// Polls every 10 ms for so long; the device gives 480 samples each time if `sounding`.
        fn run(&mut self, millis: u64, sounding: bool) {
            for _ in 0..millis / 10 {
                if sounding {
                    world(|world| world.sound.push_back((0, vec![0.5; 480])));
                }
                let caught = self.capture.poll(self.now, &mut self.heard);
                self.lost += caught.lost_before;
                if caught.changed {
                    self.statuses.push(self.capture.status().to_string());
                }
                self.now += Duration::from_millis(10);
            }
        }

        fn told(&mut self) -> Vec<String> {
            std::mem::take(&mut self.statuses)
        }
    }

    fn broken() -> MicrophoneError {
        MicrophoneError::Broken { reason: "unknown errno".to_owned() }
    }

    const LISTENING: &str = "listening to fake at 48 kHz";
    const STALLED: &str = "the microphone is open but silent: no samples come; \
         check its switch and the sound settings";

    #[test]
    fn a_good_microphone_is_opened_once_and_heard() {
        let mut session = Session::new();
        session.run(2_000, true);
        assert_eq!(session.told(), [LISTENING]);
        assert_eq!((session.heard.len(), session.lost), (199 * 480, 0));
        assert_eq!(world(|world| (world.opened, world.dropped)), (1, 0));
        assert_eq!(session.capture.sample_rate_hz(), Some(48_000));
    }

    #[test]
    fn without_a_microphone_it_asks_twice_a_second_until_there_is_one() {
        let mut session = Session::new();
        world(|world| world.refusals = vec![MicrophoneError::None; 5].into());
        session.run(2_400, false);
        assert_eq!(session.told(), [MicrophoneError::None.to_string()]);
        assert_eq!(world(|world| world.opened), 5);
        session.run(1_000, true);
        assert_eq!(session.told(), ["opening the microphone", LISTENING]);
        assert_eq!(session.lost, 0, "nothing was heard before, so nothing is missing");
    }

    #[test]
    fn a_lost_microphone_is_dropped_told_and_found_again() {
        let mut session = Session::new();
        session.run(1_000, true);
        let heard = session.heard.len() as u64;
        world(|world| {
            world.failure = Some(broken());
            world.refusals = vec![MicrophoneError::None; 3].into();
        });
        session.run(500, false);
        world(|world| world.failure = None);
        let gone = "the microphone is gone; plug it in again, it will be found";
        assert_eq!(session.told(), [LISTENING, gone]);
        assert_eq!(world(|world| world.dropped), 1);
        session.run(1_500, false);
        assert!(session.told().is_empty(), "it is gone still, and was told so");
        session.run(1_000, true);
        assert_eq!(session.told(), [LISTENING]);
        assert_eq!(world(|world| world.opened), 1 + 3 + 1);
        // By the clock: all samples of 4 s, heard or missing, give or take a poll.
        let all = session.heard.len() as u64 + session.lost;
        assert!(all.abs_diff(4 * 48_000) <= 2 * 480, "{all} samples in 4 s");
        assert!(session.lost > 2 * 48_000 - 2 * 480 && heard == 99 * 480);
    }

    #[test]
    fn samples_heard_before_the_failure_are_given_first() {
        let mut session = Session::new();
        session.run(100, true);
        world(|world| {
            world.failure = Some(broken());
            world.sound.clear();
            world.sound.push_back((0, vec![0.25; 100]));
            world.sound.push_back((7, vec![0.75; 100]));
        });
        session.run(30, false);
        assert_eq!(session.heard[9 * 480..], [[0.25; 100], [0.75; 100]].concat());
        assert_eq!(session.lost, 7);
        assert_eq!(session.told().len(), 2, "listening, then lost");
    }

    #[test]
    fn silence_without_an_error_is_a_fault_after_half_a_second() {
        let mut session = Session::new();
        session.run(1_000, true);
        session.run(490, false);
        assert_eq!(session.told(), [LISTENING], "half a second is not over");
        session.run(30, false);
        assert_eq!(session.told(), [STALLED], "half a second is over");
        session.run(2_970, false);
        assert!(session.told().is_empty(), "told once, not at each attempt");
        let opened = world(|world| world.opened);
        assert!((5..=8).contains(&opened), "opened {opened} times in 3.5 s");
        assert_eq!(world(|world| world.dropped), opened - 1 + u32::from(is_closed(&session)));
        session.run(500, true);
        assert_eq!(session.told(), [LISTENING]);
        let all = session.heard.len() as u64 + session.lost;
        let passed = 1_000 + 490 + 3_000 + 500;
        assert!(all.abs_diff(passed * 48) <= 3 * 480, "{all} samples in {passed} ms");
    }

    fn is_closed(session: &Session) -> bool {
        matches!(session.capture.state, State::Closed(_))
    }

    #[test]
    fn losses_in_the_ring_are_no_fault_of_the_microphone() {
        let mut session = Session::new();
        session.run(100, true);
        world(|world| world.sound.push_back((1_234, vec![0.5; 10])));
        session.run(50, true);
        assert_eq!(session.lost, 1_234);
        assert_eq!(session.told(), [LISTENING]);
    }

    #[test]
    fn what_the_system_lost_is_told_by_the_clock() {
        let mut session = Session::new();
        session.run(1_000, true);
        world(|world| world.overruns = 1);
        session.run(100, true);
        assert_eq!(session.lost, 1, "too little to be measured, and yet told");
        world(|world| world.sound.clear());
        session.run(200, false);
        world(|world| world.overruns = 2);
        session.run(500, true);
        // 200 ms and the poll that reads at last, less what it reads.
        assert_eq!(session.lost, 1 + 9_600);
        assert_eq!(session.told(), [LISTENING]);
    }

    #[test]
    fn another_choice_is_opened_at_once_even_after_a_refusal() {
        let mut session = Session::new();
        world(|world| world.refusals = vec![MicrophoneError::Taken].into());
        session.run(50, false);
        session.capture.choose(DeviceChoice { name: Some("other".to_owned()), channel: Some(2) });
        session.run(50, true);
        assert_eq!(world(|world| world.opened), 2);
        assert!(session.capture.status().is_listening());
    }

    #[test]
    fn a_listener_that_was_kept_away_is_not_taken_for_a_silent_microphone() {
        let mut session = Session::new();
        session.run(1_000, true);
        session.now += Duration::from_secs(20);
        session.run(1_000, true);
        assert_eq!(session.told(), [LISTENING]);
        assert_eq!(world(|world| world.opened), 1);
    }
}
