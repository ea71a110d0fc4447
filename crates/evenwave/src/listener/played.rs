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
