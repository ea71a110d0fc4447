//! The listener thread: drains a microphone or a demo session, runs the chain and
//! hands on what is heard.

mod expected;
mod heard;
mod live;
mod played;
mod relay;
mod second_look;
mod sound_block;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use sound::{Capture, DeviceChoice};
use tuning::Hz;
use vibrato::Settings;

use crate::chain::Chain;
use crate::fault::Fault;
use crate::session::Session;
use crate::takes::Keeper;
use expected::Expected;
pub use heard::{DeviceState, FromListener, Level};
use live::from_microphone;
use played::at_its_pace;
use relay::Relay;
use sound_block::BlockFeed;
pub use sound_block::{MOST_BLOCKS, SoundBlock};

/// How long the listener rests between looks at its source: one frame of pitch.
const REST: Duration = Duration::from_millis(5);

/// What the channel holds: about 8 s of events, so that a busy reader loses nothing.
const MOST_EVENTS: usize = 8_192;

/// Where the sound comes from.
#[derive(Clone, Debug)]
pub enum SoundSource {
    /// A microphone, live.
    Microphone {
        /// Its name as `evenwave devices` lists it; `None` for the system's own choice.
        device: Option<String>,
        /// The channel to hear, counted from 1; `None` for the mean of all.
        channel: Option<usize>,
    },
    /// A demo session, or a sound that stands for a microphone.
    Session(Session),
}

/// What to listen to, and how.
#[derive(Clone, Debug)]
pub struct Listening {
    /// Where the sound comes from.
    pub source: SoundSource,
    /// Tuning and range of the ear.
    pub settings: Settings,
}

/// A running listener; dropping it ends the thread.
pub struct Listener {
    /// What is heard. Bounded: a reader that stays away makes the listener wait, and what the
    /// microphone then cannot keep is told as lost.
    pub events: Receiver<FromListener>,
    expected: Sender<Vec<Hz>>,
    follow: Sender<SyncSender<SoundBlock>>,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Listener {
    /// Starts the thread. `wake` is called on it whenever something new waits in `events`.
    ///
    /// A missing or lost microphone is no error: it is told in [`FromListener::Device`] and tried again.
    /// What is heard is kept by `keeper`, if there is one.
    pub fn start(
        listening: Listening,
        keeper: Option<Keeper>,
        wake: impl Fn() + Send + 'static,
    ) -> Result<Self, Fault> {
        let (sender, events) = sync_channel(MOST_EVENTS);
        let stop = Arc::new(AtomicBool::new(false));
        let (expect, orders) = channel();
        let (follow, asked) = channel();
        let relay = Relay::new(sender, keeper).with_feed(BlockFeed::new(asked));
        let stopped = Arc::clone(&stop);
        let settings = listening.settings;
        let work: Box<dyn FnOnce() + Send> = match listening.source {
            SoundSource::Microphone { device, channel } => {
                let choice = DeviceChoice { name: device, channel };
                Box::new(move || {
                    let (capture, expected) = (Capture::new(choice), Expected::new(orders));
                    from_microphone(capture, settings, relay, expected, &stopped, &wake);
                })
            }
            SoundSource::Session(session) => {
                let chain = Chain::new(session.sample_rate_hz(), settings)
                    .map_err(|error| Fault::Failed(error.to_string()))?;
                Box::new(move || at_its_pace(&session, chain, relay, &stopped, &wake))
            }
        };
        let thread = thread::Builder::new()
            .name("listen".to_owned())
            .spawn(work)
            .map_err(|error| Fault::Failed(format!("the listener cannot be started ({error})")))?;
        Ok(Self { events, expected: expect, follow, stop, thread: Some(thread) })
    }

    /// From now on the program itself plays these partials, and they may leak into the microphone; a
    /// session does not hear them.
    pub fn expect(&self, partials: Vec<Hz>) {
        self.expected.send(partials).ok();
    }

    /// From now on the samples themselves are handed to the receiver too, until it is dropped or another one
    /// asks. What it leaves lying is bounded by [`MOST_BLOCKS`] blocks; further ones are left out.
    pub fn follow_sound(&self) -> Receiver<SoundBlock> {
        let (sender, blocks) = sync_channel(MOST_BLOCKS);
        self.follow.send(sender).ok();
        blocks
    }

    /// Asks the listener to end: a sounding note is still told, then [`FromListener::Ended`].
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
