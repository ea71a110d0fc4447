//! The listener thread: drains a microphone, a recording or a demo session, runs the chain and
//! hands on what is heard.

use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use sound::{Capture, CaptureStatus, DeviceChoice, Recording};
use vibrato::{Ear, Event, Note, Settings};

use crate::chain::Chain;
use crate::fault::Fault;
use crate::session::Session;

/// How long the listener rests between looks at its source: one frame of pitch.
const REST: Duration = Duration::from_millis(5);

/// What the channel holds: about 8 s of events, so that a busy reader loses nothing.
const ROOM: usize = 8_192;

/// Samples taken at a time from a recording or session.
const BLOCK_SECS: f64 = 0.01;

/// Time from one report of the level to the next.
const LEVEL_SECS: f64 = 0.05;

/// From here on a sample counts as full scale, whatever the converter's last step is.
const FULL_SCALE: f32 = 0.999;

/// Level told for silence.
const QUIETEST_DBFS: f64 = -120.0;

/// Where the sound comes from.
#[derive(Clone, Debug)]
pub enum Source {
    /// A microphone, live.
    Microphone {
        /// Its name as `evenwave devices` lists it; `None` for the system's own choice.
        device: Option<String>,
        /// The channel to hear, counted from 1; `None` for the mean of all.
        channel: Option<usize>,
    },
    /// A file, at the pace of real time.
    Recording {
        /// The file.
        path: PathBuf,
        /// The channel to hear, counted from 1; `None` for the mean of all.
        channel: Option<usize>,
    },
    /// A demo session, at the pace of real time.
    Session(Session),
}

/// What to listen to, and how.
#[derive(Clone, Debug)]
pub struct Listening {
    /// Where the sound comes from.
    pub source: Source,
    /// Tuning and range of the ear.
    pub settings: Settings,
}

/// What the listener hands on, in the order of time.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// Anything the ear reports but the end of a note.
    Event(Event),
    /// A note ended.
    Note(Box<Note>),
    /// The state of the source changed; the first of all that is handed on.
    Device(DeviceState),
    /// How loud the last 50 ms were.
    Level(Level),
    /// The recording or session is over, or the listener was told to end; nothing follows.
    Ended,
}

/// The state of the source; `Display` gives the words for the player.
#[derive(Clone, Debug, PartialEq)]
pub enum DeviceState {
    /// How it stands with the microphone.
    Microphone(CaptureStatus),
    /// The device gives what cannot be heard, for this reason.
    Unusable(String),
    /// A recording or session of this name is being played.
    Playing(String),
    /// It has come to its end.
    Over,
    /// It broke off, for this reason.
    BrokenOff(String),
}

impl DeviceState {
    /// Whether sound comes in.
    pub fn is_heard(&self) -> bool {
        match self {
            Self::Microphone(status) => status.is_listening(),
            Self::Playing(_) => true,
            Self::Unusable(_) | Self::Over | Self::BrokenOff(_) => false,
        }
    }
}

impl fmt::Display for DeviceState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Microphone(status) => status.fmt(f),
            Self::Unusable(why) | Self::BrokenOff(why) => f.write_str(why),
            Self::Playing(name) => write!(f, "playing {name}"),
            Self::Over => f.write_str("the sound has come to its end"),
        }
    }
}

/// How loud it was, sample by sample, before any resampling.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// The largest sample, in dB below full scale; at least −120.
    pub peak_dbfs: f64,
    /// Full scale was reached.
    pub clipped: bool,
}

/// A running listener; dropping it ends the thread.
pub struct Listener {
    /// What is heard. Bounded: a reader that stays away makes the listener wait, and what the
    /// microphone then cannot keep is told as lost.
    pub events: Receiver<Heard>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Listener {
    /// Starts the thread. `wake` is called on it whenever something new waits in `events`.
    ///
    /// A missing or lost microphone is no error: it is told in [`Heard::Device`] and tried again.
    pub fn start(listening: Listening, wake: impl Fn() + Send + 'static) -> Result<Self, Fault> {
        let (sender, events) = sync_channel(ROOM);
        let stop = Arc::new(AtomicBool::new(false));
        let relay = Relay {
            sender,
            level: LevelMeter::default(),
            gone: false,
        };
        let stopped = Arc::clone(&stop);
        let settings = listening.settings;
        let work: Box<dyn FnOnce() + Send> = match listening.source {
            Source::Microphone { device, channel } => {
                let choice = DeviceChoice {
                    name: device,
                    channel,
                };
                Box::new(move || {
                    from_microphone(Capture::new(choice), settings, relay, &stopped, &wake)
                })
            }
            Source::Recording { path, channel } => {
                let failed = |error: sound::RecordingError| Fault::Failed(error.to_string());
                let mut recording = Recording::open(&path).map_err(failed)?;
                if let Some(channel) = channel {
                    recording = recording.with_channel(channel).map_err(failed)?;
                }
                let chain = chain_for(recording.sample_rate_hz(), settings)?;
                let name = path.display().to_string();
                let feed = Feed::Recording(Box::new(recording));
                Box::new(move || at_real_pace(feed, name, chain, relay, &stopped, &wake))
            }
            Source::Session(session) => {
                let chain = chain_for(session.sample_rate_hz(), settings)?;
                let name = format!("the demo session {}", session.name());
                let feed = Feed::Session { session, place: 0 };
                Box::new(move || at_real_pace(feed, name, chain, relay, &stopped, &wake))
            }
        };
        let thread = thread::Builder::new()
            .name("listen".to_owned())
            .spawn(work)
            .map_err(|error| Fault::Failed(format!("the listener cannot be started ({error})")))?;
        Ok(Self {
            events,
            stop,
            thread: Some(thread),
        })
    }

    /// Asks the listener to end: a sounding note is still told, then [`Heard::Ended`].
    pub fn stop(&self) {
        self.stop.store(true, Relaxed);
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.stop();
        // The thread may be waiting for room in the channel: make some until it is done.
        if let Some(thread) = self.thread.take() {
            while !thread.is_finished() {
                while self.events.try_recv().is_ok() {}
                thread::sleep(Duration::from_millis(1));
            }
        }
    }
}

fn chain_for(rate_hz: u32, settings: Settings) -> Result<Chain, Fault> {
    Chain::new(rate_hz, settings).map_err(|error| Fault::Failed(error.to_string()))
}

/// Passes on what the chain reports.
struct Relay {
    sender: SyncSender<Heard>,
    level: LevelMeter,
    /// Nobody listens to the listener any more.
    gone: bool,
}

impl Relay {
    fn send(&mut self, heard: Heard) {
        self.gone |= self.sender.send(heard).is_err();
    }

    fn report(&mut self, event: Event, ear: &Ear) {
        match (event, ear.note()) {
            (Event::NoteEnded, Some(note)) => self.send(Heard::Note(Box::new(note.clone()))),
            (event, _) => self.send(Heard::Event(event)),
        }
    }

    /// Runs one block through the chain.
    fn take(&mut self, chain: &mut Chain, lost_before: u64, samples: &[f32], rate_hz: u32) {
        for level in self.level.measure(samples, rate_hz) {
            self.send(Heard::Level(level));
        }
        chain.push(lost_before, samples, &mut |event, ear: &Ear| {
            self.report(event, ear)
        });
    }

    fn end(mut self, chain: Option<Chain>) {
        if let Some(chain) = chain {
            chain.finish(&mut |event, ear: &Ear| self.report(event, ear));
        }
        self.send(Heard::Ended);
    }
}

fn from_microphone<S: sound::Source>(
    mut capture: Capture<S>,
    settings: Settings,
    mut relay: Relay,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    let mut chain: Option<Chain> = None;
    let mut samples = Vec::new();
    relay.send(Heard::Device(DeviceState::Microphone(
        capture.status().clone(),
    )));
    while !stop.load(Relaxed) && !relay.gone {
        samples.clear();
        let caught = capture.poll(Instant::now(), &mut samples);
        if caught.changed {
            let status = capture.status().clone();
            relay.send(Heard::Device(DeviceState::Microphone(status)));
        }
        if let Some(rate_hz) = capture.sample_rate_hz().filter(|_| caught.count > 0)
            && let Some(chain) = chain_at(&mut chain, rate_hz, settings, &mut relay)
        {
            relay.take(chain, caught.lost_before, &samples, rate_hz);
        }
        if caught.changed || caught.count > 0 {
            wake();
        }
        // Whatever came may not have been all that waits.
        if caught.count == 0 {
            thread::sleep(REST);
        }
    }
    relay.end(chain);
    wake();
}

/// The chain for this rate: the running one if there is one, so that time goes on.
fn chain_at<'a>(
    chain: &'a mut Option<Chain>,
    rate_hz: u32,
    settings: Settings,
    relay: &mut Relay,
) -> Option<&'a mut Chain> {
    let made = match chain {
        Some(running) => {
            running.change_rate(rate_hz, &mut |event, ear: &Ear| relay.report(event, ear))
        }
        None => Chain::new(rate_hz, settings).map(|new| *chain = Some(new)),
    };
    if let Err(error) = made {
        relay.send(Heard::Device(DeviceState::Unusable(error.to_string())));
        return None;
    }
    chain.as_mut()
}

/// Sound that is there already and is played out at its own pace.
enum Feed {
    Recording(Box<Recording>),
    Session { session: Session, place: usize },
}

impl Feed {
    fn rate_hz(&self) -> u32 {
        match self {
            Self::Recording(recording) => recording.sample_rate_hz(),
            Self::Session { session, .. } => session.sample_rate_hz(),
        }
    }

    /// Writes the next block and says how many samples are missing before it; `None` at the end.
    fn next(&mut self, block: &mut Vec<f32>) -> Result<Option<u64>, String> {
        block.clear();
        match self {
            Self::Recording(recording) => match recording.next_block() {
                Ok(Some(next)) => {
                    block.extend_from_slice(next.samples);
                    Ok(Some(next.lost_before))
                }
                Ok(None) => Ok(None),
                Err(error) => Err(error.to_string()),
            },
            Self::Session { session, place } => {
                let left = &session.samples()[*place..];
                let length = (BLOCK_SECS * f64::from(session.sample_rate_hz())) as usize;
                let next = &left[..length.min(left.len())];
                block.extend_from_slice(next);
                *place += next.len();
                Ok((!next.is_empty()).then_some(0))
            }
        }
    }
}

fn at_real_pace(
    mut feed: Feed,
    name: String,
    mut chain: Chain,
    mut relay: Relay,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    relay.send(Heard::Device(DeviceState::Playing(name)));
    let rate_hz = feed.rate_hz();
    let length = (BLOCK_SECS * f64::from(rate_hz)).max(1.0) as usize;
    let started = Instant::now();
    let mut block = Vec::new();
    let mut played: u64 = 0;
    let mut last = DeviceState::Over;
    'playing: loop {
        let mut lost_before = match feed.next(&mut block) {
            Ok(Some(lost_before)) => lost_before,
            Ok(None) => break,
            Err(words) => {
                last = DeviceState::BrokenOff(words);
                break;
            }
        };
        for part in block.chunks(length) {
            played += lost_before + part.len() as u64;
            let due = Duration::from_secs_f64(played as f64 / f64::from(rate_hz));
            while started.elapsed() < due {
                if stop.load(Relaxed) || relay.gone {
                    break 'playing;
                }
                thread::sleep(REST.min(due.saturating_sub(started.elapsed())));
            }
            relay.take(&mut chain, lost_before, part, rate_hz);
            lost_before = 0;
            wake();
        }
    }
    relay.send(Heard::Device(last));
    relay.end(Some(chain));
    wake();
}

/// Gathers peaks over [`LEVEL_SECS`].
#[derive(Default)]
struct LevelMeter {
    peak: f32,
    samples: usize,
}

impl LevelMeter {
    /// The levels that are complete after `samples`.
    fn measure(&mut self, samples: &[f32], rate_hz: u32) -> Vec<Level> {
        let whole = ((LEVEL_SECS * f64::from(rate_hz)) as usize).max(1);
        let mut levels = Vec::new();
        for &sample in samples {
            self.peak = self.peak.max(sample.abs());
            self.samples += 1;
            if self.samples == whole {
                levels.push(Level {
                    peak_dbfs: (20.0 * f64::from(self.peak).log10()).max(QUIETEST_DBFS),
                    clipped: self.peak >= FULL_SCALE,
                });
                *self = Self::default();
            }
        }
        levels
    }
}

#[cfg(test)]
mod tests {
    use std::cell::RefCell;
    use std::collections::VecDeque;

    use sound::MicrophoneError;

    use super::*;

    thread_local! {
        /// What the fake microphone of this thread will give: losses and samples.
        static SOUND: RefCell<VecDeque<(u64, Vec<f32>)>> = RefCell::default();
        /// Stops the listener once that is given.
        static STOP: RefCell<Option<Arc<AtomicBool>>> = RefCell::default();
    }

    const RATE_HZ: u32 = 44_100;

    struct Fake;

    impl sound::Source for Fake {
        fn open(_: &DeviceChoice) -> Result<Self, MicrophoneError> {
            Ok(Self)
        }
        fn name(&self) -> &str {
            "fake"
        }
        fn sample_rate_hz(&self) -> u32 {
            RATE_HZ
        }
        fn read(&mut self, out: &mut [f32]) -> sound::Heard {
            let Some((lost_before, samples)) = SOUND.with_borrow_mut(VecDeque::pop_front) else {
                STOP.with_borrow(|stop| {
                    if let Some(stop) = stop {
                        stop.store(true, Relaxed);
                    }
                });
                return sound::Heard::default();
            };
            out[..samples.len()].copy_from_slice(&samples);
            sound::Heard {
                count: samples.len(),
                lost_before,
            }
        }
        fn failure(&self) -> Option<MicrophoneError> {
            None
        }
        fn overruns(&self) -> u64 {
            0
        }
    }

    /// All that the listener hands on when a microphone gives these blocks.
    fn heard_live(blocks: Vec<(u64, Vec<f32>)>) -> Vec<Heard> {
        let (sender, events) = sync_channel(1 << 17);
        let stop = Arc::new(AtomicBool::new(false));
        SOUND.set(blocks.into());
        STOP.set(Some(Arc::clone(&stop)));
        let relay = Relay {
            sender,
            level: LevelMeter::default(),
            gone: false,
        };
        let capture: Capture<Fake> = Capture::of(DeviceChoice::default());
        from_microphone(capture, Settings::default(), relay, &stop, &|| {});
        events.try_iter().collect()
    }

    /// The notes a whole sound has when it is pushed into the chain at once.
    fn notes_at_once(samples: &[f32]) -> Vec<Note> {
        let mut chain = Chain::new(RATE_HZ, Settings::default()).expect("a usual rate");
        let mut notes = Vec::new();
        let mut report = |event: Event, ear: &Ear| {
            if event == Event::NoteEnded {
                notes.extend(ear.note().cloned());
            }
        };
        chain.push(0, samples, &mut report);
        chain.finish(&mut report);
        notes
    }

    fn notes_of(heard: &[Heard]) -> Vec<Note> {
        let note = |heard: &Heard| match heard {
            Heard::Note(note) => Some((**note).clone()),
            _ => None,
        };
        heard.iter().filter_map(note).collect()
    }

    /// Two notes, the second with vibrato.
    fn sound_of_two_notes() -> Vec<f32> {
        use tone::{Line, NoteSpec, Spec, VibratoSpec};
        use tuning::{Cents, Hz, Secs};

        let vibrato = VibratoSpec::regular(Hz(5.5), Cents(40.0));
        let notes = vec![
            NoteSpec::straight(Secs(0.2), Secs(0.8), Hz(220.0)),
            NoteSpec::straight(Secs(1.3), Secs(1.4), Hz(246.94)).with(vibrato),
        ];
        let spec = Spec {
            sample_rate_hz: RATE_HZ,
            lines: vec![Line {
                notes,
                level_db: 0.0,
            }],
            ..Spec::default()
        };
        spec.render().expect("a plain specification").samples
    }

    #[test]
    fn a_microphone_gives_the_very_numbers_of_a_file_whatever_its_blocks() {
        let sound = sound_of_two_notes();
        let at_once = notes_at_once(&sound);
        assert!(at_once.len() >= 2, "{at_once:?}");
        for block in [64, 441, 1_021, 4_096] {
            let blocks = sound.chunks(block).map(|part| (0, part.to_vec())).collect();
            assert_eq!(notes_of(&heard_live(blocks)), at_once, "blocks of {block}");
        }
    }

    #[test]
    fn what_is_heard_comes_in_order_from_opening_to_the_end() {
        let sound = sound_of_two_notes();
        let heard = heard_live(sound.chunks(512).map(|part| (0, part.to_vec())).collect());
        let opening = Heard::Device(DeviceState::Microphone(CaptureStatus::Opening));
        assert_eq!(heard.first(), Some(&opening));
        let listening = heard
            .iter()
            .position(|heard| matches!(heard, Heard::Device(state) if state.is_heard()));
        let frame = heard
            .iter()
            .position(|heard| matches!(heard, Heard::Event(Event::Frame(_))));
        assert!(
            listening < frame && listening.is_some(),
            "{listening:?} {frame:?}"
        );
        assert_eq!(heard.last(), Some(&Heard::Ended));
        assert!(!heard.contains(&Heard::Event(Event::NoteEnded)));
        let levels = heard
            .iter()
            .filter(|heard| matches!(heard, Heard::Level(_)));
        let secs = sound.len() as f64 / f64::from(RATE_HZ);
        assert_eq!(levels.count(), (secs / LEVEL_SECS) as usize);
    }

    #[test]
    fn samples_lost_on_the_way_are_told_where_they_are_missing() {
        let sound = sound_of_two_notes();
        let half = sound.len() / 2;
        let lost = 4_410;
        let mut blocks: Vec<(u64, Vec<f32>)> = sound[..half]
            .chunks(512)
            .chain(sound[half + lost..].chunks(512))
            .map(|part| (0, part.to_vec()))
            .collect();
        blocks[half.div_ceil(512)].0 = lost as u64;
        let heard = heard_live(blocks);
        let gaps: Vec<(f64, f64)> = heard
            .iter()
            .filter_map(|heard| match heard {
                Heard::Event(Event::Lost { time, length }) => Some((time.0, length.0)),
                _ => None,
            })
            .collect();
        let at = half as f64 / f64::from(RATE_HZ);
        assert_eq!(gaps.len(), 1, "{gaps:?}");
        assert!(
            (gaps[0].0 - at).abs() < 0.001 && (gaps[0].1 - 0.1).abs() < 0.001,
            "{gaps:?} at {at}"
        );
        let end = notes_of(&heard).last().expect("the second note").end;
        assert!(
            (end.0 - 2.7).abs() < 0.06,
            "time goes on past the gap: {end:?}"
        );
    }

    #[test]
    fn the_level_is_told_each_50_ms_and_full_scale_is_seen() {
        let mut meter = LevelMeter::default();
        let mut sound = vec![0.1_f32; 2_400];
        sound.extend([0.0; 2_400]);
        sound.extend([-1.0; 2_400]);
        let levels: Vec<Level> = sound
            .chunks(700)
            .flat_map(|part| meter.measure(part, 48_000))
            .collect();
        assert_eq!(levels.len(), 3);
        assert!((levels[0].peak_dbfs + 20.0).abs() < 1e-5, "{levels:?}");
        assert_eq!(levels[1].peak_dbfs, QUIETEST_DBFS);
        assert_eq!(
            levels.iter().map(|level| level.clipped).collect::<Vec<_>>(),
            [false, false, true]
        );
    }
}
