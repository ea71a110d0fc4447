//! From samples to what is handed on.

use std::collections::VecDeque;
use std::sync::mpsc::SyncSender;
use std::time::{Duration, Instant};

use late_sound::Excerpt;
use vibrato::{Event, Note};

use super::heard::{FromListener, Level};
use super::second_look::SecondLook;
use super::sound_block::BlockFeed;
use crate::chain::Chain;
use crate::takes::Keeper;

/// Time from one report of the level to the next.
const LEVEL_SECS: f64 = 0.05;

/// From here on a sample counts as full scale, whatever the converter's last step is.
const FULL_SCALE: f32 = 0.999;

/// The clock of the samples is compared with the wall clock over so long: their rates differ a little.
const CLOCK_SECS: f64 = 5.0;

/// A change of the origin that is told.
const CLOCK_STEP: Duration = Duration::from_millis(1);

/// Once it has been quiet for longer than any trace shows, nothing more is handed on until it is not.
const QUIET_SECS: f64 = 17.0;

/// Frames that are kept meanwhile and lead up to what sounds then, 0.25 s: a bow is heard before its pitch.
const HELD: usize = 50;

/// A level below this is quiet, and so is a pitch this unsure.
const QUIET_DBFS: f64 = -50.0;
const QUIET_CONFIDENCE: f64 = 0.25;

/// Level told for silence.
const QUIETEST_DBFS: f64 = -120.0;

/// Passes on what the chain reports.
pub(super) struct Relay {
    sender: SyncSender<FromListener>,
    level: LevelMeter,
    clock: SampleClock,
    /// Keeps takes of what is heard.
    keeper: Option<Keeper>,
    /// Hands the samples to one who asks for them.
    feed: Option<BlockFeed>,
    second_look: SecondLook,
    /// For how long it has been quiet.
    quiet_secs: f64,
    /// The newest of what was held back: the origin of the clock, and frames.
    held_origin: Option<Instant>,
    held: VecDeque<FromListener>,
    /// Something was handed on since the last look.
    handed_on: bool,
    /// Nobody listens to the listener any more.
    pub gone: bool,
}

impl Relay {
    /// A relay into this channel; what it passes on is kept by `keeper`.
    pub(super) fn new(sender: SyncSender<FromListener>, keeper: Option<Keeper>) -> Self {
        Self {
            sender,
            level: LevelMeter::default(),
            clock: SampleClock::default(),
            keeper,
            feed: None,
            second_look: SecondLook::start(),
            quiet_secs: 0.0,
            held_origin: None,
            held: VecDeque::with_capacity(HELD),
            handed_on: false,
            gone: false,
        }
    }

    /// The same one, which also hands on blocks of sound to one who asks for them.
    pub(super) fn with_feed(mut self, feed: BlockFeed) -> Self {
        self.feed = Some(feed);
        self
    }

    /// Hands one thing on; waits while the channel is full. In a long quiet what says nothing new is
    /// held back, so that nobody is woken for it.
    pub(super) fn send(&mut self, heard: FromListener) {
        if is_quiet(&heard) {
            if self.quiet_secs > QUIET_SECS {
                match heard {
                    FromListener::Clock(origin) => self.held_origin = Some(origin),
                    FromListener::Event(_) => {
                        if self.held.len() == HELD {
                            self.held.pop_front();
                        }
                        self.held.push_back(heard);
                    }
                    _ => {}
                }
                return;
            }
        } else {
            self.quiet_secs = 0.0;
            if let Some(origin) = self.held_origin.take() {
                self.pass_on(FromListener::Clock(origin));
            }
            while let Some(held) = self.held.pop_front() {
                self.pass_on(held);
            }
        }
        self.pass_on(heard);
    }

    fn pass_on(&mut self, heard: FromListener) {
        self.gone |= self.sender.send(heard).is_err();
        self.handed_on = true;
    }

    /// Whether anything was handed on since this was asked last.
    pub(super) fn has_handed_on(&mut self) -> bool {
        std::mem::take(&mut self.handed_on)
    }

    /// Hands on what the ear reports.
    pub(super) fn report(&mut self, event: Event, ended: Option<Excerpt>) {
        if let Some(ended) = ended {
            let note = Box::new(ended.note().clone());
            let settled = !self.second_look.ask(ended);
            if let Some(keeper) = &mut self.keeper {
                keeper.note(&note, settled);
            }
            self.send(FromListener::Note { note, settled });
        } else {
            if let Some(keeper) = &mut self.keeper {
                keeper.hear(&event);
            }
            self.send(FromListener::Event(event));
        }
    }

    /// Hands on the notes that have been looked at again by now. The sound may have stopped meanwhile.
    pub(super) fn settle_ready(&mut self) {
        while let Some(note) = self.second_look.next() {
            self.settle(note);
        }
    }

    /// Hands on a note that was looked at again.
    fn settle(&mut self, note: Note) {
        if let Some(keeper) = &mut self.keeper {
            keeper.settled(&note);
        }
        self.send(FromListener::Settled(Box::new(note)));
    }

    /// The source has this name.
    pub(super) fn name_source(&mut self, name: &str) {
        if let Some(keeper) = &mut self.keeper {
            keeper.device(name);
        }
    }

    /// The source broke off: the sounding note ends here, and what was kept of it is safe.
    /// `missing` samples count as lost already.
    pub(super) fn break_off(&mut self, chain: &mut Chain, missing: u64, rate_hz: u32) {
        self.clock.passed_secs += missing as f64 / f64::from(rate_hz);
        if let Some(keeper) = &mut self.keeper {
            keeper.sound(missing, &[], rate_hz);
        }
        chain.push(missing, &[], &mut |event, ended| self.report(event, ended));
        if let Some(keeper) = &mut self.keeper {
            keeper.break_off();
        }
    }

    /// Runs one block through the chain.
    pub(super) fn take(
        &mut self,
        chain: &mut Chain,
        lost_before: u64,
        samples: &[f32],
        rate_hz: u32,
    ) {
        self.quiet_secs += samples.len() as f64 / f64::from(rate_hz);
        let now = Instant::now();
        if let Some(origin) = self.clock.pass(now, lost_before, samples.len() as u64, rate_hz) {
            self.send(FromListener::Clock(origin));
        }
        if let Some(feed) = &mut self.feed {
            feed.pass(samples, rate_hz, self.clock.passed_secs, now);
        }
        if let Some(keeper) = &mut self.keeper {
            keeper.sound(lost_before, samples, rate_hz);
        }
        for level in self.level.measure(samples, rate_hz) {
            self.send(FromListener::Level(level));
        }
        chain.push(lost_before, samples, &mut |event, ended| self.report(event, ended));
    }

    /// The sound is over: hands on what is still to be said.
    pub(super) fn end(mut self, chain: Option<Chain>) {
        if let Some(chain) = chain {
            chain.finish(&mut |event, ended| self.report(event, ended));
        }
        let settled = self.second_look.finish();
        settled.into_iter().for_each(|note| self.settle(note));
        self.send(FromListener::Ended);
    }
}

/// Whether this says no more than that nothing sounds.
fn is_quiet(heard: &FromListener) -> bool {
    match heard {
        FromListener::Event(Event::Frame(frame)) => {
            frame.f0.is_none() || frame.confidence < QUIET_CONFIDENCE
        }
        FromListener::Level(level) => level.peak_dbfs < QUIET_DBFS,
        FromListener::Clock(_) => true,
        _ => false,
    }
}

/// Sets the clock of the samples beside that of the wall: when the first sample would have sounded if
/// the newest of a block sounds as the block arrives. Blocks arrive late at times and never early, so
/// the earliest origin is nearest to the truth.
#[derive(Default)]
struct SampleClock {
    passed_secs: f64,
    told: Option<Instant>,
    /// The earliest origin of this stretch, and where on the samples' clock the stretch began.
    stretch: Option<(Instant, f64)>,
}

impl SampleClock {
    /// A block arrived at `now`; says the origin if it is another than the one told last.
    fn pass(
        &mut self,
        now: Instant,
        lost_before: u64,
        count: u64,
        rate_hz: u32,
    ) -> Option<Instant> {
        self.passed_secs += (lost_before + count) as f64 / f64::from(rate_hz);
        let origin = now.checked_sub(Duration::from_secs_f64(self.passed_secs))?;
        // What is lost by the wall clock is counted by it, not exactly.
        let anew = lost_before > 0
            || self.stretch.is_none_or(|(_, began)| self.passed_secs - began > CLOCK_SECS);
        let earliest = match self.stretch {
            Some((earliest, began)) if !anew => {
                let earliest = earliest.min(origin);
                self.stretch = Some((earliest, began));
                // Until this stretch is done, the last one is as good.
                self.told.map_or(earliest, |told| told.min(earliest))
            }
            Some((earliest, _)) if lost_before == 0 => {
                self.stretch = Some((origin, self.passed_secs));
                earliest
            }
            _ => {
                self.stretch = Some((origin, self.passed_secs));
                origin
            }
        };
        let differs = self.told.is_none_or(|told| {
            let ahead = told.saturating_duration_since(earliest);
            ahead.max(earliest.saturating_duration_since(told)) >= CLOCK_STEP
        });
        differs.then(|| {
            self.told = Some(earliest);
            earliest
        })
    }
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
    use super::*;
    use vibrato::FRAME;

    #[test]
    fn the_clock_takes_the_earliest_arrival_and_follows_a_rate_that_is_a_little_off() {
        let start = Instant::now() + Duration::from_secs(1);
        let mut clock = SampleClock::default();
        let mut told = None;
        // 10 ms of samples at a time; the card runs 200 ppm slow, blocks come up to 8 ms late.
        for block in 1..=6_000_u32 {
            let due = f64::from(block) * 0.01 * 1.000_2;
            let late = f64::from(block * 7 % 9) * 0.001;
            let now = start + Duration::from_secs_f64(due + late);
            told = clock.pass(now, 0, 480, 48_000).or(told);
        }
        let told = told.expect("the clock was told").duration_since(start);
        // After 60 s the card is 12 ms behind; the last whole stretch ended at most 10 s before.
        let off = told.as_secs_f64() - 0.012;
        assert!(off.abs() < 0.003, "{off} s");
    }

    #[test]
    fn a_long_quiet_wakes_nobody_and_its_end_is_told_in_order() {
        let (sender, events) = std::sync::mpsc::sync_channel(100_000);
        let mut relay = Relay::new(sender, None);
        let mut chain = Chain::new(48_000, vibrato::Settings::default()).expect("a usual rate");
        let silence = vec![0.0; 4_800];
        for _ in 0..300 {
            relay.take(&mut chain, 0, &silence, 48_000);
        }
        let told = events.try_iter().count();
        assert!(told > 3_000, "the trace flows out: {told}");
        assert!(relay.has_handed_on());
        for _ in 0..100 {
            relay.take(&mut chain, 0, &silence, 48_000);
        }
        assert_eq!(events.try_iter().count(), 0);
        assert!(!relay.has_handed_on());
        let tone: Vec<f32> = (0..24_000)
            .map(|i| 0.3 * (f64::from(i) * 220.0 / 48_000.0 * std::f64::consts::TAU).sin() as f32)
            .collect();
        relay.take(&mut chain, 0, &tone, 48_000);
        let told: Vec<FromListener> = events.try_iter().collect();
        let first = told.first();
        assert!(matches!(first, Some(FromListener::Clock(_))), "the clock has moved meanwhile");
        let times: Vec<f64> = told
            .into_iter()
            .filter_map(|heard| match heard {
                FromListener::Event(Event::Frame(frame)) => Some(frame.time.0),
                _ => None,
            })
            .collect();
        assert!(
            times.first().is_some_and(|time| (39.0..39.85).contains(time)),
            "{:?}: what leads up to it is told",
            times.first()
        );
        let follows = |pair: &[f64]| (pair[1] - pair[0] - FRAME.get()).abs() < 1e-6;
        assert!(times.windows(2).all(follows), "no frame is missing");
    }

    #[test]
    fn the_level_is_told_each_50_ms_and_full_scale_is_seen() {
        let mut meter = LevelMeter::default();
        let mut sound = vec![0.1_f32; 2_400];
        sound.extend([0.0; 2_400]);
        sound.extend([-1.0; 2_400]);
        let levels: Vec<Level> =
            sound.chunks(700).flat_map(|part| meter.measure(part, 48_000)).collect();
        assert_eq!(levels.len(), 3);
        assert!((levels[0].peak_dbfs + 20.0).abs() < 1e-5, "{levels:?}");
        assert_eq!(levels[1].peak_dbfs, QUIETEST_DBFS);
        assert_eq!(
            levels.iter().map(|level| level.clipped).collect::<Vec<_>>(),
            [false, false, true]
        );
    }
}
