//! Playing a demo session to the ear, or a sound that stands for a microphone.

use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::thread;
use std::time::{Duration, Instant};

use super::heard::{DeviceState, FromListener};
use super::relay::Relay;
use crate::chain::Chain;
use crate::session::Session;

/// So much of it is played at a time.
const BLOCK_SECS: f64 = 0.01;
/// Of a sound that stands for a microphone so much waits for a listener that is late, as in the ring of a microphone;
/// what does not fit is lost.
const WAITS_SECS: f64 = 2.0;

/// Plays a session to the ear at the pace of real time, or as many times as fast as it says.
pub(super) fn at_its_pace(
    session: &Session,
    mut chain: Chain,
    mut relay: Relay,
    stop: &AtomicBool,
    wake: &impl Fn(),
) {
    let name = format!("the demo session {}", session.name());
    if session.again().is_some() {
        relay.name_source(session.name());
    }
    relay.send(FromListener::Device(DeviceState::Playing(name)));
    let rate_hz = session.sample_rate_hz();
    let length = (BLOCK_SECS * f64::from(rate_hz)).max(1.0) as usize;
    let times = if session.again().is_some() { usize::MAX } else { 1 };
    let blocks = std::iter::repeat_n(session.samples(), times).flat_map(|all| all.chunks(length));
    let in_a_second = f64::from(rate_hz) * session.again().unwrap_or(1.0);
    let waits = (WAITS_SECS * f64::from(rate_hz)) as u64;
    let started = Instant::now();
    let (mut played, mut lost) = (0, 0);
    for block in blocks {
        if stop.load(Relaxed) || relay.gone {
            break;
        }
        played += block.len() as u64;
        let due = Duration::from_secs_f64(played as f64 / in_a_second);
        thread::sleep(due.saturating_sub(started.elapsed()));
        let late = started.elapsed().saturating_sub(due).as_secs_f64() * in_a_second;
        if session.again().is_some() && late > waits as f64 {
            lost += block.len() as u64;
            continue;
        }
        relay.take(&mut chain, std::mem::take(&mut lost), block, rate_hz);
        relay.settle_ready();
        if relay.has_handed_on() {
            wake();
        }
    }
    relay.send(FromListener::Device(DeviceState::Over));
    relay.end(Some(chain));
    wake();
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;
    use std::sync::mpsc::sync_channel;

    use vibrato::{Event, Settings};

    use super::*;

    const RATE_HZ: u32 = 48_000;

    /// All that is handed on while a second of silence is played, each time that something is by one who takes `rest` to look,
    /// and who stops after so many looks.
    fn heard(again: Option<f64>, rest: Duration, looks: usize) -> Vec<FromListener> {
        let session = Session::of_samples(&vec![0.0; RATE_HZ as usize], RATE_HZ, again);
        let (sender, events) = sync_channel(1 << 17);
        let chain = Chain::new(RATE_HZ, Settings::default()).expect("a usual rate");
        let (stop, looked) = (AtomicBool::new(false), AtomicUsize::new(0));
        let wake = || {
            thread::sleep(rest);
            stop.store(looked.fetch_add(1, Relaxed) + 1 >= looks, Relaxed);
        };
        at_its_pace(&session, chain, Relay::new(sender, None), &stop, &wake);
        events.try_iter().collect()
    }

    fn lost(heard: &[FromListener]) -> Vec<(f64, f64)> {
        let lost = heard.iter().filter_map(|heard| match heard {
            FromListener::Event(Event::Lost { time, length }) => Some((time.0, length.0)),
            _ => None,
        });
        lost.collect()
    }

    #[test]
    fn of_a_demo_session_nothing_is_lost_however_late_who_looks_at_it_is() {
        let heard = heard(None, Duration::from_millis(15), usize::MAX);
        assert_eq!(lost(&heard), []);
        let levels = heard.iter().filter(|heard| matches!(heard, FromListener::Level(_)));
        assert_eq!(levels.count(), 20, "one each 50 ms");
        let over = FromListener::Device(DeviceState::Over);
        assert!(heard.contains(&over));
        assert_eq!(heard.last(), Some(&FromListener::Ended));
    }

    #[test]
    fn what_does_not_wait_for_a_late_listener_is_told_as_lost_in_its_place() {
        // In 20 ms pass 8 s of its sound, of which 2 s wait.
        let heard = heard(Some(400.0), Duration::from_millis(20), 30);
        let lost = lost(&heard);
        assert!(lost.len() > 3, "{lost:?}");
        assert!(lost.iter().all(|(_, length)| *length > 0.0), "{lost:?}");
        let apart = lost.windows(2).all(|two| two[0].0 + two[0].1 <= two[1].0 + 1e-6);
        assert!(apart, "{lost:?}");
        // What is heard and what is lost is all the sound that passed while it was looked at 30 times: 240 s and more.
        let (at, length) = lost[lost.len() - 1];
        let missed: f64 = lost.iter().map(|(_, length)| length).sum();
        assert!(at + length > 100.0, "the time of the sound goes on: {lost:?}");
        assert!(missed > 0.5 * (at + length), "{missed} s of {} s", at + length);
    }
}
