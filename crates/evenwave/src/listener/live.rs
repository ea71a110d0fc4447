//! Listening to a microphone.

use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::Instant;

use sound::Capture;
use vibrato::Settings;

use super::REST;
use super::expected::Expected;
use super::heard::{DeviceState, FromListener};
use super::relay::Relay;
use crate::chain::Chain;

/// So much counts as lost at once when the microphone breaks off: enough to end a sounding note. It
/// is never back sooner, for it is tried again half a second later.
const BROKEN_SECS: f64 = 0.4;

/// Listens to a microphone until it is told to stop or nobody listens any more.
pub(super) fn from_microphone<S: sound::Source>(
    mut capture: Capture<S>,
    settings: Settings,
    mut relay: Relay,
    mut expected: Expected,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    let mut chain: Option<Chain> = None;
    // Samples told as lost when the microphone broke off, before it is known how many they are.
    let mut told_lost = 0;
    // A chain is made with the first samples; what was ordered before holds for it too.
    let mut chain_expects = false;
    let mut samples = Vec::new();
    relay.send(FromListener::Device(DeviceState::Microphone(capture.status().clone())));
    while !stop.load(Relaxed) && !relay.gone {
        samples.clear();
        let caught = capture.poll(Instant::now(), &mut samples);
        if caught.changed {
            let status = capture.status().clone();
            if let sound::CaptureStatus::Listening { device, .. } = &status {
                relay.name_source(device);
            } else if let (Some(chain), Some(rate_hz)) = (&mut chain, capture.sample_rate_hz())
                && told_lost == 0
            {
                told_lost = (BROKEN_SECS * f64::from(rate_hz)) as u64;
                relay.break_off(chain, told_lost, rate_hz);
            }
            relay.send(FromListener::Device(DeviceState::Microphone(status)));
        }
        if let Some(rate_hz) = capture.sample_rate_hz().filter(|_| caught.count > 0)
            && let Some(chain) = chain_at(&mut chain, rate_hz, settings, &mut relay)
        {
            if expected.poll(Instant::now()) || !chain_expects {
                chain.expect(&expected.partials());
                chain_expects = true;
            }
            let lost_before = caught.lost_before.saturating_sub(told_lost);
            told_lost = 0;
            relay.take(chain, lost_before, &samples, rate_hz);
        }
        relay.settle_ready();
        if relay.has_handed_on() {
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
            running.change_rate(rate_hz, &mut |event, ended| relay.report(event, ended))
        }
        None => Chain::new(rate_hz, settings).map(|new| *chain = Some(new)),
    };
    if let Err(error) = made {
        relay.send(FromListener::Device(DeviceState::Unusable(error.to_string())));
        return None;
    }
    chain.as_mut()
}

#[cfg(test)]
mod tests {
    use std::cell::RefCell;
    use std::collections::VecDeque;
    use std::sync::Arc;
    use std::sync::mpsc::{channel, sync_channel};

    use late_sound::Excerpt;
    use sound::{CaptureStatus, DeviceChoice, MicrophoneError};
    use vibrato::{Event, Note};

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
        fn read(&mut self, out: &mut [f32]) -> sound::RingRead {
            let Some((lost_before, samples)) = SOUND.with_borrow_mut(VecDeque::pop_front) else {
                STOP.with_borrow(|stop| {
                    if let Some(stop) = stop {
                        stop.store(true, Relaxed);
                    }
                });
                return sound::RingRead::default();
            };
            out[..samples.len()].copy_from_slice(&samples);
            sound::RingRead { count: samples.len(), lost_before }
        }
        fn failure(&self) -> Option<MicrophoneError> {
            None
        }
        fn overruns(&self) -> u64 {
            0
        }
    }

    /// All that the listener hands on when a microphone gives these blocks.
    fn heard_live(blocks: Vec<(u64, Vec<f32>)>) -> Vec<FromListener> {
        heard_expecting(Vec::new(), blocks)
    }

    /// The same while the program itself plays these partials.
    fn heard_expecting(
        partials: Vec<tuning::Hz>,
        blocks: Vec<(u64, Vec<f32>)>,
    ) -> Vec<FromListener> {
        let (sender, events) = sync_channel(1 << 17);
        let stop = Arc::new(AtomicBool::new(false));
        SOUND.set(blocks.into());
        STOP.set(Some(Arc::clone(&stop)));
        let relay = Relay::new(sender, None);
        let capture: Capture<Fake> = Capture::of(DeviceChoice::default());
        let (order, orders) = channel();
        order.send(partials).expect("it is waited for");
        let expected = Expected::new(orders);
        from_microphone(capture, Settings::default(), relay, expected, &stop, &|| {});
        events.try_iter().collect()
    }

    /// The notes a whole sound has when it is pushed into the chain at once.
    fn notes_at_once(samples: &[f32]) -> Vec<Note> {
        let mut chain = Chain::new(RATE_HZ, Settings::default()).expect("a usual rate");
        let mut notes = Vec::new();
        let mut report = |_, ended: Option<Excerpt>| {
            notes.extend(ended.map(|ended| ended.look_again().0));
        };
        chain.push(0, samples, &mut report);
        chain.finish(&mut report);
        notes
    }

    fn notes_of(heard: &[FromListener]) -> Vec<Note> {
        let note = |heard: &FromListener| match heard {
            FromListener::Note { note, settled: true } | FromListener::Settled(note) => {
                Some((**note).clone())
            }
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
            lines: vec![Line { notes, level_db: 0.0 }],
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
    fn a_drone_that_leaks_is_no_note_once_the_ear_was_told_of_it() {
        let wish = tone::DroneWish { root: tuning::Hz(110.0), fifth: true, level_db: -36.0 };
        let mut drone = tone::Drone::new(RATE_HZ);
        drone.set(Some(wish));
        let mut sound = vec![0.0; 4 * RATE_HZ as usize];
        drone.add(&mut sound);
        let blocks = || sound.chunks(512).map(|part| (0, part.to_vec())).collect();
        assert!(!notes_of(&heard_live(blocks())).is_empty(), "untold it is one");
        let told = heard_expecting(wish.partials().collect(), blocks());
        assert!(notes_of(&told).is_empty(), "{:?}", notes_of(&told));
    }

    #[test]
    fn what_is_heard_comes_in_order_from_opening_to_the_end() {
        let sound = sound_of_two_notes();
        let heard = heard_live(sound.chunks(512).map(|part| (0, part.to_vec())).collect());
        let opening = FromListener::Device(DeviceState::Microphone(CaptureStatus::Opening));
        assert_eq!(heard.first(), Some(&opening));
        let listening = heard
            .iter()
            .position(|heard| matches!(heard, FromListener::Device(state) if state.is_heard()));
        let frame =
            heard.iter().position(|heard| matches!(heard, FromListener::Event(Event::Frame(_))));
        assert!(listening < frame && listening.is_some(), "{listening:?} {frame:?}");
        assert_eq!(heard.last(), Some(&FromListener::Ended));
        assert!(!heard.contains(&FromListener::Event(Event::NoteEnded)));
        let levels = heard.iter().filter(|heard| matches!(heard, FromListener::Level(_)));
        let secs = sound.len() as f64 / f64::from(RATE_HZ);
        assert_eq!(levels.count(), (secs / 0.05) as usize);
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
                FromListener::Event(Event::Lost { time, length }) => Some((time.0, length.0)),
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
        assert!((end.0 - 2.7).abs() < 0.06, "time goes on past the gap: {end:?}");
    }
}
